//! The faults a text can have before any wiring is looked at, each with its permanent id.
//!
//! Ids `NF001` to `NF020` belong to the text, `NF021` and up to the records read from it.

use crate::diag::{Diagnostic, Severity};
use std::borrow::Cow;

/// A fault of a netlist file: its id, its name and a title for the list of all findings.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Fault {
    /// Permanent id.
    pub id: &'static str,
    /// The defect's name.
    pub name: &'static str,
    /// One sentence for the list of findings.
    pub title: &'static str,
}

impl Fault {
    /// A finding of this fault; a faulty file is always an error.
    pub(crate) fn says(self, message: impl Into<String>) -> Diagnostic {
        Diagnostic::new(self.id, self.name, Severity::Error, "", message)
    }
}

macro_rules! faults {
    ($($constant:ident $id:literal $name:literal $title:literal;)*) => {
        $(pub(crate) const $constant: Fault = Fault { id: $id, name: $name, title: $title };)*
        /// Every fault of a file, by id.
        pub const FAULTS: &[Fault] = &[$($constant),*];
    };
}

faults! {
    FILE_TOO_LARGE "NF001" "file-too-large" "The file is larger than any boat needs";
    NOT_UTF8 "NF002" "not-utf-8" "The file holds bytes that are no UTF-8 text";
    CONTROL_CHARACTER "NF003" "control-character" "The text holds a control character";
    DUPLICATE_KEY "NF004" "duplicate-key" "A map has the same key twice";
    FOREIGN_LINE_BREAK "NF005" "foreign-line-break" "The text holds a line break that some readers do not see";
    HIDDEN_CHARACTER "NF006" "hidden-character" "The text holds a character that cannot be seen";
    SYNTAX_ERROR "NF007" "syntax-error" "The text is not YAML";
    TAB_INDENTATION "NF008" "tab-indentation" "A tab stands where only spaces may";
    UNKNOWN_ALIAS "NF009" "unknown-alias" "An alias names no anchor above it";
    ALIAS_IN_OWN_ANCHOR "NF010" "alias-in-own-anchor" "An alias stands inside the value it names";
    SECOND_DOCUMENT "NF011" "second-document" "The file holds a second document";
    MERGE_KEY "NF012" "merge-key" "A map asks for another map to be merged into it";
    NESTED_TOO_DEEPLY "NF013" "nested-too-deeply" "Values are nested too deeply";
    EXPANDS_TOO_FAR "NF014" "expands-too-far" "Aliases make the file far longer than it looks";
    TOO_MANY_VALUES "NF015" "too-many-values" "The file holds more values than any boat needs";
    EMPTY_FILE "NF016" "empty-file" "The file holds no value";
    ROOT_NOT_A_MAP "NF017" "root-not-a-map" "The file is not a map of sections";
    KEY_NOT_A_NAME "NF018" "key-not-a-name" "A key is not a name";
    TAG "NF019" "tag" "A value carries a tag";
    AMBIGUOUS_TEXT "NF020" "ambiguous-text" "The text can be read in two ways";
    TOO_MANY_FAULTS "NF021" "too-many-faults" "The file has more faults than are listed";
    UNKNOWN_SECTION "NF022" "unknown-section" "The file has a section that the language does not know";
    UNKNOWN_KEY "NF023" "unknown-key" "A record has a key that the language does not know";
    WRONG_SHAPE "NF024" "wrong-shape" "A value has the wrong shape";
    UNKNOWN_LANGUAGE "NF025" "unknown-language" "The file is written in a version of the language that is not read here";
}

/// Most findings told for one file; a text that is no netlist at all must not fill the memory with them.
pub const MAX_FINDINGS: usize = 1000;

/// Findings of one file, up to [`MAX_FINDINGS`].
#[derive(Debug, Default)]
pub(crate) struct Findings {
    told: Vec<Diagnostic>,
    untold: usize,
}

impl Findings {
    /// Adds one; past the limit it is only counted, and not even made.
    pub(crate) fn add(&mut self, finding: impl FnOnce() -> Diagnostic) {
        if self.is_full() {
            self.untold += 1;
        } else {
            self.told.push(finding());
        }
    }

    /// Adds to the repair of the last one told.
    pub(crate) fn extend_last_help(&mut self, more: &str) {
        if self.untold == 0
            && let Some(last) = self.told.last_mut()
        {
            last.help.push_str(more);
        }
    }

    /// Whether nothing was found.
    pub(crate) fn is_empty(&self) -> bool {
        self.told.is_empty()
    }

    /// Whether the limit is reached.
    pub(crate) fn is_full(&self) -> bool {
        self.told.len() >= MAX_FINDINGS
    }

    /// All of them, with a last one for those that were only counted.
    pub(crate) fn finish(mut self) -> Vec<Diagnostic> {
        if self.untold > 0 {
            self.told.push(
                TOO_MANY_FAULTS
                    .says(format!("the file has more than {MAX_FINDINGS} faults; only the first ones found are listed"))
                    .repair("repair the listed faults and read the file again"),
            );
        }
        self.told
    }
}

/// Longest piece of the file repeated in a message, in characters.
const MAX_QUOTED: usize = 40;

/// A piece of the file fit for one line of a message.
pub(crate) fn shortened(text: &str) -> Cow<'_, str> {
    let long = text.chars().nth(MAX_QUOTED).is_some();
    if !long && !text.contains(char::is_control) {
        return Cow::Borrowed(text);
    }
    let mut short: String = text
        .chars()
        .take(MAX_QUOTED)
        .map(|character| {
            if character.is_control() {
                ' '
            } else {
                character
            }
        })
        .collect();
    if long {
        short.push('…');
    }
    Cow::Owned(short)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ids_and_names_are_unique() {
        for (index, fault) in FAULTS.iter().enumerate() {
            assert!(
                !FAULTS[..index]
                    .iter()
                    .any(|other| other.id == fault.id || other.name == fault.name),
                "{fault:?}"
            );
            assert!(!fault.title.ends_with('.'), "{fault:?}");
        }
    }

    #[test]
    fn findings_past_the_limit_are_counted_once() {
        let mut findings = Findings::default();
        for _ in 0..MAX_FINDINGS + 5 {
            findings.add(|| TAG.says("x"));
        }
        let all = findings.finish();
        assert_eq!(all.len(), MAX_FINDINGS + 1);
        assert_eq!(
            all.last().map(|finding| finding.rule),
            Some(TOO_MANY_FAULTS.id)
        );
    }
}
