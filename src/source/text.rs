//! Bytes to text: size, encoding, and characters that would be read in two ways.

use super::Span;
use super::faults::{
    CONTROL_CHARACTER, FILE_TOO_LARGE, FOREIGN_LINE_BREAK, Fault, Findings, HIDDEN_CHARACTER,
    NOT_UTF8,
};
use std::borrow::Cow;

/// Largest file read, in bytes. A netlist of 10,000 runs has about one million.
pub const MAX_BYTES: usize = 16 * 1024 * 1024;

/// A text that can be given to the readers.
pub(super) struct Decoded<'b> {
    /// The text as it is shown to the user.
    pub(super) shown: String,
    /// The same with a space for every byte of a refused character, so that one of them hides no other fault.
    pub(super) clean: Cow<'b, str>,
    /// Where the content begins: behind a byte order mark.
    pub(super) start: usize,
}

const BYTE_ORDER_MARK: &str = "\u{FEFF}";

/// Decodes the bytes. `None` if the file is too large to be looked at.
pub(super) fn decode<'b>(bytes: &'b [u8], findings: &mut Findings) -> Option<Decoded<'b>> {
    if bytes.len() > MAX_BYTES {
        findings.add(|| {
            FILE_TOO_LARGE
                .says(format!(
                    "the file has {} bytes; at most {MAX_BYTES} are read",
                    bytes.len()
                ))
                .repair("leave out what is not part of the boat's wiring")
        });
        return None;
    }
    let text = utf8(bytes, findings);
    let start = if text.starts_with(BYTE_ORDER_MARK) {
        BYTE_ORDER_MARK.len()
    } else {
        0
    };
    let shown = text.clone().into_owned();
    let clean = blank_refused(text, start, findings);
    Some(Decoded {
        shown,
        clean,
        start,
    })
}

/// The text, with `?` for every byte that is none; offsets stay those of the file.
fn utf8<'b>(bytes: &'b [u8], findings: &mut Findings) -> Cow<'b, str> {
    if let Ok(text) = std::str::from_utf8(bytes) {
        return Cow::Borrowed(text);
    }
    let looks_like_utf16 = matches!(bytes, [0xFF, 0xFE, ..] | [0xFE, 0xFF, ..]);
    let help = if looks_like_utf16 {
        "the file looks like UTF-16; save it as UTF-8"
    } else {
        "save the file as UTF-8; `°`, `²`, `µ` and `Ω` are the usual culprits"
    };
    let mut text = String::with_capacity(bytes.len());
    for chunk in bytes.utf8_chunks() {
        text.push_str(chunk.valid());
        let bad = chunk.invalid();
        if bad.is_empty() {
            continue;
        }
        let span = Span::new(text.len(), text.len() + bad.len());
        // One finding says it for a whole UTF-16 file.
        if !looks_like_utf16 || span.start == 0 {
            findings.add(|| {
                let hex: Vec<String> = bad.iter().map(|byte| format!("{byte:02X}")).collect();
                NOT_UTF8
                    .says(format!("the bytes {} are no UTF-8 text", hex.join(" ")))
                    .label(span, "not UTF-8")
                    .repair(help)
            });
        }
        text.extend(std::iter::repeat_n('?', bad.len()));
    }
    Cow::Owned(text)
}

fn blank_refused<'b>(text: Cow<'b, str>, start: usize, findings: &mut Findings) -> Cow<'b, str> {
    // Below U+007F only these bytes are refused; all others begin with a byte from 0x7F up.
    let suspect =
        |byte: u8| byte >= 0x7F || (byte < 0x20 && !matches!(byte, b'\t' | b'\n' | b'\r'));
    if !text.as_bytes()[start..].iter().copied().any(suspect) {
        return text;
    }
    let mut clean = String::new();
    let mut done = 0;
    for (offset, character) in text[start..].char_indices() {
        let Some(fault) = fault_of(character) else {
            continue;
        };
        let span = Span::new(start + offset, start + offset + character.len_utf8());
        clean.push_str(&text[done..span.start]);
        clean.extend(std::iter::repeat_n(' ', span.end - span.start));
        done = span.end;
        findings.add(|| {
            let (what, help) = if fault == FOREIGN_LINE_BREAK {
                (
                    "is a line break to some readers and none to others",
                    "replace it by a line feed or by a space",
                )
            } else if fault == HIDDEN_CHARACTER {
                (
                    "cannot be seen and can make two different names look alike",
                    "delete it",
                )
            } else {
                ("is a control character", "delete it")
            };
            fault
                .says(format!(
                    "the character U+{:04X} {what}",
                    u32::from(character)
                ))
                .label(span, "this character")
                .repair(help)
        });
    }
    if done == 0 {
        return text;
    }
    clean.push_str(&text[done..]);
    Cow::Owned(clean)
}

/// What is wrong with a character, if anything.
///
/// The printable set is YAML 1.2.2, section 5.1; line breaks are section 5.4, where U+0085, U+2028 and U+2029 stopped
/// being line breaks. That invisible characters are refused is our own choice.
fn fault_of(character: char) -> Option<Fault> {
    match character {
        '\t' | '\n' | '\r' => None,
        '\u{85}' | '\u{2028}' | '\u{2029}' => Some(FOREIGN_LINE_BREAK),
        '\u{0}'..='\u{1F}' | '\u{7F}'..='\u{9F}' | '\u{FFFE}' | '\u{FFFF}' => {
            Some(CONTROL_CHARACTER)
        }
        '\u{AD}'
        | '\u{200B}'
        | '\u{200E}'
        | '\u{200F}'
        | '\u{202A}'..='\u{202E}'
        | '\u{2060}'..='\u{2069}'
        | '\u{FEFF}' => Some(HIDDEN_CHARACTER),
        _ => None,
    }
}
