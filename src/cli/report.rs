//! Findings as text for people: the place in the file drawn, the authority named, one repair.
//!
//! The width never depends on the terminal, so the same file gives the same text everywhere; only colour does.

use crate::diag::{Diagnostic, Severity};
use crate::source::LineIndex;
use miette::{
    GraphicalReportHandler, GraphicalTheme, LabeledSpan, MietteError, MietteSpanContents,
    SourceCode, SourceSpan, SpanContents,
};
use std::borrow::Cow;
use std::fmt::{self, Write as _};

/// Columns of the text.
const WIDTH: usize = 80;

/// A stretch of the file longer than this is shown around its labels only.
const LONGEST_EXCERPT: usize = 800;

/// What is shown on either side of a label in a very long line, in bytes.
const AROUND: usize = 60;

/// Longest stretch underlined.
const LONGEST_LABEL: usize = 200;

/// Names that a message tells one by one; where a finding is about more, they stand on a line of their own.
const NAMES_IN_A_SENTENCE: usize = 5;

/// Names on that line before the rest is counted.
const NAMES_LISTED: usize = 60;

/// Whether the text carries colour.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Colour {
    /// With colour, for a terminal.
    On,
    /// Without.
    Off,
}

/// Draws all findings, each after the other.
pub(super) fn findings(file: &str, text: &str, findings: &[Diagnostic], colour: Colour) -> String {
    let theme = match colour {
        Colour::On => GraphicalTheme::unicode(),
        Colour::Off => GraphicalTheme::unicode_nocolor(),
    };
    let handler = GraphicalReportHandler::new_themed(theme)
        .with_width(WIDTH)
        .with_links(false);
    let name = printable(file);
    let excerpt = Excerpt::new(&name, text);
    let mut out = String::new();
    for finding in findings {
        draw(&mut out, &handler, &excerpt, finding);
    }
    out
}

/// Text without anything that a terminal would obey.
pub(super) fn printable(text: &str) -> Cow<'_, str> {
    if text.chars().any(obeyed) {
        Cow::Owned(
            text.chars()
                .map(|letter| match letter {
                    '\n' | '\t' => ' ',
                    letter if obeyed(letter) => '\u{FFFD}',
                    letter => letter,
                })
                .collect(),
        )
    } else {
        Cow::Borrowed(text)
    }
}

/// Words broken into lines that fit, each line but the first behind an indent.
pub(super) fn wrapped(start: &str, words: &str, indent: usize) -> String {
    let mut out = start.to_owned();
    let mut column = start.chars().count();
    let mut first = true;
    for word in words.split_whitespace() {
        let width = word.chars().count();
        if !first && column + 1 + width > WIDTH {
            out.push('\n');
            out.extend(std::iter::repeat_n(' ', indent));
            column = indent;
        } else if !first {
            out.push(' ');
            column += 1;
        }
        out.push_str(word);
        column += width;
        first = false;
    }
    out.push('\n');
    out
}

fn draw(
    out: &mut String,
    handler: &GraphicalReportHandler,
    excerpt: &Excerpt<'_>,
    finding: &Diagnostic,
) {
    let shown = Shown { finding, excerpt };
    handler
        .render_report(out, &shown)
        .expect("writing to a text in memory never fails");
    if !finding.positions.is_empty() {
        let positions: Vec<String> = finding
            .positions
            .iter()
            .map(|set| format!("{} = {}", set.switch, set.position))
            .collect();
        out.push_str(&wrapped("  with: ", &printable(&positions.join(", ")), 8));
    }
    if finding.also.len() > NAMES_IN_A_SENTENCE {
        let shown = &finding.also[..finding.also.len().min(NAMES_LISTED)];
        let mut names = shown.join(", ");
        if finding.also.len() > shown.len() {
            let more = finding.also.len() - shown.len();
            let _ = write!(names, " and {more} more, all of them in `--format json`");
        }
        out.push_str(&wrapped("  also: ", &printable(&names), 8));
    }
    if !finding.path.is_empty() {
        out.push_str(&wrapped(
            "  path: ",
            &printable(&finding.path.join(" → ")),
            8,
        ));
    }
    for basis in &finding.basis {
        out.push_str(&wrapped("  from: ", &basis.to_string(), 8));
    }
    out.push('\n');
}

/// Whether a terminal does something on this character other than print it.
fn obeyed(letter: char) -> bool {
    letter.is_control()
        || matches!(
            letter,
            '\u{061C}'
                | '\u{200E}'
                | '\u{200F}'
                | '\u{2028}'
                | '\u{2029}'
                | '\u{202A}'..='\u{202E}'
                | '\u{2066}'..='\u{2069}'
        )
}

/// The file, cut to what is worth showing.
#[derive(Debug)]
struct Excerpt<'t> {
    name: &'t str,
    /// As the file, byte for byte, but harmless to print.
    text: Cow<'t, str>,
    /// First byte of each line.
    starts: Vec<usize>,
    lines: LineIndex<'t>,
}

impl<'t> Excerpt<'t> {
    fn new(name: &'t str, text: &'t str) -> Self {
        let harmless = harmless(text);
        let starts = std::iter::once(0)
            .chain(
                harmless
                    .bytes()
                    .enumerate()
                    .filter(|&(_, byte)| byte == b'\n')
                    .map(|(offset, _)| offset + 1),
            )
            .collect();
        Self {
            name,
            text: harmless,
            starts,
            lines: LineIndex::new(text),
        }
    }

    /// Index of the line that a byte stands in.
    fn line_of(&self, offset: usize) -> usize {
        self.starts.partition_point(|&start| start <= offset).max(1) - 1
    }

    /// One past the last byte of a line, its end included.
    fn line_end(&self, line: usize) -> usize {
        self.starts
            .get(line + 1)
            .copied()
            .unwrap_or(self.text.len())
    }

    /// A label's span within one line of the file, on whole characters.
    fn within_line(&self, start: usize, end: usize) -> (usize, usize) {
        let start = self.text.floor_char_boundary(start.min(self.text.len()));
        let line = self.line_of(start);
        let line_end = self.starts[line]
            + self.text[self.starts[line]..self.line_end(line)]
                .trim_end_matches(['\n', '\r'])
                .len();
        let end = end.min(line_end).min(start + LONGEST_LABEL).max(start);
        (start, self.text.floor_char_boundary(end).max(start))
    }
}

/// The text with every byte in its place, but nothing that a terminal obeys. A lone CR ends a line, as LF does.
fn harmless(text: &str) -> Cow<'_, str> {
    let lone_return = |at: usize| !text[at + 1..].starts_with('\n');
    let harmful = |(at, letter): (usize, char)| match letter {
        '\n' | '\t' => false,
        '\r' => lone_return(at),
        letter => obeyed(letter),
    };
    if !text.char_indices().any(harmful) {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len());
    for (at, letter) in text.char_indices() {
        if !harmful((at, letter)) {
            out.push(letter);
            continue;
        }
        match (letter, letter.len_utf8()) {
            ('\r', _) => out.push('\n'),
            (_, 1) => out.push('?'),
            (_, 2) => out.push('·'),
            _ => out.push('\u{FFFD}'),
        }
    }
    Cow::Owned(out)
}

impl SourceCode for Excerpt<'_> {
    fn read_span<'a>(
        &'a self,
        span: &SourceSpan,
        lines_before: usize,
        lines_after: usize,
    ) -> Result<Box<dyn SpanContents<'a> + 'a>, MietteError> {
        let (start, end) = (span.offset(), span.offset() + span.len());
        if end > self.text.len() {
            return Err(MietteError::OutOfBounds);
        }
        let (first, last) = (
            self.line_of(start),
            self.line_of(end.saturating_sub(1).max(start)),
        );
        let mut from = self.starts[first.saturating_sub(lines_before)];
        let mut to = self.line_end((last + lines_after).min(self.starts.len() - 1));
        if to - from > LONGEST_EXCERPT {
            if end - start > LONGEST_EXCERPT {
                return Err(MietteError::OutOfBounds);
            }
            let line_start = self.starts[first];
            from = self
                .text
                .floor_char_boundary(line_start.max(start.saturating_sub(AROUND)));
            to = self
                .text
                .ceil_char_boundary(self.line_end(last).min(end + AROUND));
        }
        if lines_before == 0 {
            from = start;
        }
        let column = self.lines.position(from).column - 1;
        Ok(Box::new(MietteSpanContents::new_named(
            self.name.to_owned(),
            &self.text.as_bytes()[from..to],
            (from, to - from).into(),
            self.line_of(from),
            column,
            self.line_of(to.saturating_sub(1).max(from)) + 1 - self.line_of(from),
        )))
    }
}

/// A finding as the drawing wants it.
#[derive(Debug)]
struct Shown<'f> {
    finding: &'f Diagnostic,
    excerpt: &'f Excerpt<'f>,
}

impl fmt::Display for Shown<'_> {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(&printable(&self.finding.message))
    }
}

impl std::error::Error for Shown<'_> {}

impl miette::Diagnostic for Shown<'_> {
    fn code<'a>(&'a self) -> Option<Box<dyn fmt::Display + 'a>> {
        let Diagnostic {
            severity,
            rule,
            name,
            ..
        } = self.finding;
        Some(Box::new(format!("{} {rule} {name}", severity.word())))
    }

    fn severity(&self) -> Option<miette::Severity> {
        Some(match self.finding.severity {
            Severity::Error => miette::Severity::Error,
            Severity::Warning | Severity::NotProved => miette::Severity::Warning,
            Severity::Note => miette::Severity::Advice,
        })
    }

    fn help<'a>(&'a self) -> Option<Box<dyn fmt::Display + 'a>> {
        let help = &self.finding.help;
        (!help.is_empty()).then(|| Box::new(printable(help)) as Box<dyn fmt::Display>)
    }

    fn source_code(&self) -> Option<&dyn SourceCode> {
        (!self.excerpt.text.is_empty()).then_some(self.excerpt as &dyn SourceCode)
    }

    fn labels(&self) -> Option<Box<dyn Iterator<Item = LabeledSpan> + '_>> {
        if self.finding.labels.is_empty() {
            return None;
        }
        let labels = self.finding.labels.iter().enumerate();
        Some(Box::new(labels.map(|(index, label)| {
            let (start, end) = self.excerpt.within_line(label.span.start, label.span.end);
            let text = (!label.text.is_empty()).then(|| printable(&label.text).into_owned());
            if index == 0 {
                LabeledSpan::new_primary_with_span(text, (start, end - start))
            } else {
                LabeledSpan::new(text, start, end - start)
            }
        })))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::source::Span;
    use proptest::prelude::*;

    fn finding(labels: &[(usize, usize)]) -> Diagnostic {
        labels.iter().fold(
            Diagnostic::new("XX001", "sample", Severity::Error, "W1", "a fault"),
            |finding, &(start, end)| finding.label(Span::new(start, end), "here"),
        )
    }

    fn drawn(text: &str, labels: &[(usize, usize)]) -> String {
        findings("boat.yaml", text, &[finding(labels)], Colour::Off)
    }

    #[test]
    fn a_place_is_named_and_underlined() {
        let text = "boat: {name: Tern}\nruns:\n  W1: {length: 3 mm²}\n";
        let start = text.find("3 mm²").expect("it is there");
        let shown = drawn(text, &[(start, start + "3 mm²".len())]);
        assert!(shown.contains("error XX001 sample"), "{shown}");
        assert!(shown.contains("[boat.yaml:3:16]"), "{shown}");
        assert!(shown.contains("──┬──"), "{shown}");
    }

    #[test]
    fn a_long_line_is_cut_around_the_label() {
        let text = format!("{}X{}", "é".repeat(100_000), "é".repeat(100_000));
        let shown = drawn(&text, &[(200_000, 200_001)]);
        assert!(shown.contains("[boat.yaml:1:100001]"), "{shown}");
        assert!(shown.len() < 2_000, "{}", shown.len());
    }

    #[test]
    fn nothing_reaches_the_terminal_that_it_would_obey() {
        let shown = drawn("a: \u{1b}[31m\u{9b}1m\u{202E}\rb: 1\n", &[(3, 8)]);
        assert!(
            !shown.chars().any(|letter| letter != '\n' && obeyed(letter)),
            "{shown:?}"
        );
    }

    #[test]
    fn long_words_wrap_behind_the_indent() {
        let words = "some words to fill a line with and some more of them so that it has to break";
        let text = wrapped("  from: ", words, 8);
        assert!(text.lines().all(|line| line.chars().count() <= WIDTH));
        assert!(
            text.lines()
                .skip(1)
                .all(|line| line.starts_with("        "))
        );
    }

    proptest! {
        /// Drawing never panics, whatever the text and wherever the labels point.
        #[test]
        fn any_text_and_labels_can_be_drawn(
            text in "[ -~\u{A0}-\u{2FF}\u{202E}\r\n\t\u{FEFF}𝄞]{0,200}",
            labels in prop::collection::vec((0usize..260, 0usize..260), 0..4),
        ) {
            let labels: Vec<_> = labels.iter().map(|&(a, b)| (a.min(b), a.max(b))).collect();
            drawn(&text, &labels);
        }

        #[test]
        fn long_lines_can_be_drawn(
            lines in prop::collection::vec(0usize..2000, 1..5),
            labels in prop::collection::vec((0usize..8000, 0usize..300), 1..4),
        ) {
            let text = lines.iter().map(|&n| "xé".repeat(n)).collect::<Vec<_>>().join("\n");
            let labels: Vec<_> = labels.iter().map(|&(at, long)| (at, at + long)).collect();
            drawn(&text, &labels);
        }
    }
}
