//! Text broken into lines by its width in the shipped font.
//!
//! A line breaks at a space; a word too long for a line breaks behind a hyphen, a point or a stroke, and one without
//! any of these wherever the line is full. Nothing is ever wider than asked, and no character is lost.

use crate::font;

/// Breaks a text into lines of at most a width in mm. An empty text has one empty line.
pub(in crate::drawing) fn wrapped(text: &str, size: f64, width: f64) -> Vec<String> {
    let limit = width / size;
    let mut lines = Vec::new();
    let mut line = String::new();
    let mut filled = 0.0;
    for word in words(text) {
        let long: f64 = word.chars().map(font::advance_em).sum();
        let space = if line.is_empty() {
            0.0
        } else {
            font::advance_em(' ')
        };
        if filled + space + long <= limit {
            if !line.is_empty() {
                line.push(' ');
            }
            line.push_str(word);
            filled += space + long;
            continue;
        }
        if !line.is_empty() {
            lines.push(std::mem::take(&mut line));
        }
        (line, filled) = (word.to_owned(), long);
        while filled > limit {
            let rest = line.split_off(cut(&line, limit));
            lines.push(std::mem::replace(&mut line, rest));
            filled = line.chars().map(font::advance_em).sum();
        }
    }
    if !line.is_empty() || lines.is_empty() {
        lines.push(line);
    }
    lines
}

/// What a figure is not parted from.
const UNITS: [&str; 17] = [
    "A", "V", "W", "Ω", "Ah", "Wh", "mA", "kA", "mm", "mm²", "m", "ft", "in", "AWG", "%", "°C", "h",
];

/// The words of a text, a figure and its unit being one.
fn words(text: &str) -> impl Iterator<Item = &str> {
    let mut rest = text.trim_start();
    std::iter::from_fn(move || {
        if rest.is_empty() {
            return None;
        }
        let long = |text: &str| text.find(char::is_whitespace).unwrap_or(text.len());
        let mut end = long(rest);
        if rest[..end].ends_with(|letter: char| letter.is_ascii_digit())
            && let Some(next) = rest[end..].strip_prefix(' ')
        {
            let next = &next[..long(next)];
            if UNITS.contains(&next.trim_end_matches([',', ';', '.', ')', ':'])) {
                end += 1 + next.len();
            }
        }
        let word = &rest[..end];
        rest = rest[end..].trim_start();
        Some(word)
    })
}

/// Where a word too long for a line is cut, in bytes: at least one character is kept, and some other way on.
fn cut(word: &str, limit: f64) -> usize {
    let mut filled = 0.0;
    let (mut soft, mut hard) = (None, word.len());
    for (at, letter) in word.char_indices() {
        filled += font::advance_em(letter);
        if filled > limit && at > 0 {
            hard = at;
            break;
        }
        let end = at + letter.len_utf8();
        if matches!(letter, '-' | '.' | '/' | ',' | ':' | '_' | ';' | '+' | '=') && end < word.len()
        {
            soft = Some((end, filled));
        }
    }
    match soft {
        // A break that leaves most of the line empty is worse than one within a word.
        Some((end, filled)) if filled >= 0.4 * limit => end,
        _ => hard,
    }
}

/// Width in mm of the longest word of a text.
pub(super) fn longest_word(text: &str, size: f64) -> f64 {
    words(text)
        .map(|word| font::set_width(word, size))
        .fold(0.0, f64::max)
}

/// A text that keeps to one line: what is too long is cut at its end and closed with `…`.
pub(in crate::drawing) fn shortened(text: &str, size: f64, width: f64) -> String {
    let plain: Vec<&str> = text.split_whitespace().collect();
    let plain = plain.join(" ");
    let limit = width / size;
    let room = limit - font::advance_em('…');
    let (mut filled, mut kept) = (0.0, 0);
    for (at, letter) in plain.char_indices() {
        if filled <= room {
            kept = at;
        }
        filled += font::advance_em(letter);
    }
    if filled <= limit {
        return plain;
    }
    format!("{}…", plain[..kept].trim_end())
}

/// Keeps the first lines of many; the last one kept then ends with `…`.
pub(super) fn at_most(mut lines: Vec<String>, most: usize, size: f64, width: f64) -> Vec<String> {
    if lines.len() > most {
        lines.truncate(most);
        if let Some(last) = lines.last_mut() {
            // A sign that cannot fit makes the line be cut for it.
            *last = format!("{last} …");
            if font::set_width(last, size) > width {
                *last = shortened(&format!("{last}……"), size, width);
            }
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn lines_break_at_spaces_and_long_words_behind_their_hyphens() {
        let lines = wrapped("to battery-switch.house-out of the boat", 3.5, 24.0);
        assert_eq!(
            lines,
            ["to", "battery-", "switch.house-", "out of the", "boat"]
        );
        assert_eq!(
            wrapped("strict 160 A, of 3", 3.5, 17.0),
            ["strict", "160 A, of", "3"]
        );
        assert_eq!(wrapped("", 3.5, 20.0), [""]);
        assert_eq!(wrapped("  a \n b ", 3.5, 20.0), ["a b"]);
    }

    #[test]
    fn one_line_is_cut_at_its_end() {
        assert_eq!(shortened("Marsh Pipit", 3.5, 60.0), "Marsh Pipit");
        let short = shortened("A very long name for a very small boat", 3.5, 30.0);
        assert!(
            short.ends_with('…') && short.starts_with("A very"),
            "{short}"
        );
    }

    proptest! {
        #[test]
        fn nothing_is_wider_than_asked_and_nothing_is_lost(
            text in "[ -~é漢\u{202E}\n]{0,200}",
            width in 6.0..60.0f64,
        ) {
            let lines = wrapped(&text, 3.0, width);
            for line in &lines {
                prop_assert!(font::set_width(line, 3.0) <= width + 1e-9, "{line}");
            }
            let bare = |text: &str| text.split_whitespace().collect::<String>();
            prop_assert_eq!(bare(&lines.concat()), bare(&text));
            prop_assert!(font::set_width(&shortened(&text, 3.0, width), 3.0) <= width + 1e-9);
            for line in at_most(lines, 2, 3.0, width) {
                prop_assert!(font::set_width(&line, 3.0) <= width + 1e-9, "{line}");
            }
        }
    }
}
