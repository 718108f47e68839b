//! Characters as they may stand on a paper: nothing that a viewer would obey, nothing that is not seen.
//!
//! Names come from the netlist, and so from anybody. The rule is one for all formats: a control character becomes a
//! space, and a mark that turns the direction of writing or hides in a text becomes U+FFFD, which shows that
//! something stood there.

use std::borrow::Cow;

/// The character as it is written, whatever the format.
#[must_use]
pub fn shown(character: char) -> char {
    match character {
        '\u{2028}' | '\u{2029}' | '\u{FFFE}' | '\u{FFFF}' => ' ',
        control if control.is_control() => ' ',
        // Direction marks, embeddings, overrides and isolates; what is invisible.
        '\u{061C}'
        | '\u{200B}'..='\u{200F}'
        | '\u{202A}'..='\u{202E}'
        | '\u{2060}'..='\u{206F}'
        | '\u{FEFF}'
        | '\u{FFF9}'..='\u{FFFB}'
        | '\u{E0000}'..='\u{E007F}' => '\u{FFFD}',
        other => other,
    }
}

/// A text of which every character may be written.
#[must_use]
pub fn shown_text(text: &str) -> Cow<'_, str> {
    if text.bytes().all(|byte| (b' '..=b'~').contains(&byte)) {
        return Cow::Borrowed(text);
    }
    Cow::Owned(text.chars().map(shown).collect())
}

/// Adds a text for a form of markup: `entity` gives what stands for a character that the form keeps for itself.
pub(super) fn push_marked_up(
    out: &mut String,
    text: &str,
    entity: impl Fn(char) -> Option<&'static str>,
) {
    let mut rest = text;
    // Letters and figures are most of every text and go through as they are, in one piece.
    while let Some(at) = rest.bytes().position(|byte| !is_plain(byte)) {
        let (plain, behind) = rest.split_at(at);
        out.push_str(plain);
        let mut letters = behind.chars();
        if let Some(letter) = letters.next().map(shown) {
            match entity(letter) {
                Some(entity) => out.push_str(entity),
                None => out.push(letter),
            }
        }
        rest = letters.as_str();
    }
    out.push_str(rest);
}

/// Whether a byte is a character that no form of markup keeps for itself and that is shown as it is.
fn is_plain(byte: u8) -> bool {
    matches!(byte, b' '..=b'~') && !matches!(byte, b'&' | b'<' | b'>' | b'"' | b'\'')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_viewer_would_obey_is_replaced() {
        assert_eq!(shown_text("FUEL PUMP"), "FUEL PUMP");
        assert_eq!(shown_text("a\u{202E}b\u{7}c\nd"), "a\u{FFFD}b c d");
        assert_eq!(shown_text("mm² Ω → é 漢"), "mm² Ω → é 漢");
        assert_eq!(
            shown_text("\u{FEFF}x\u{200B}y\u{85}"),
            "\u{FFFD}x\u{FFFD}y "
        );
    }
}
