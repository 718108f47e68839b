//! Syntax errors in plain words.

use super::faults::{Fault, NESTED_TOO_DEEPLY, SYNTAX_ERROR, TAB_INDENTATION};
use super::parse::MAX_NESTING;
use granit_parser::ErrorKind;

/// What a syntax error is called, what it says and what repairs it.
pub(super) struct Words {
    pub(super) fault: Fault,
    pub(super) message: String,
    pub(super) help: &'static str,
    /// What is to blame may stand before the place where reading stopped.
    pub(super) blame: Blame,
}

/// Where the cause of a syntax error is looked for.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Blame {
    /// At the place where reading stopped.
    Here,
    /// Perhaps at a bracket that is still open.
    OpenBracket,
    /// At the nearest tab.
    Tab,
}

/// What stands for each nesting fault, wherever it is found.
pub(super) const NESTING_HELP: &str = "a netlist needs no more than a few levels";

/// The words for an error of the reader.
pub(super) fn words(kind: &ErrorKind) -> Words {
    use ErrorKind as E;
    let (message, help) = match kind {
        E::RecursionLimitExceeded => {
            let message = format!("values are nested more than {MAX_NESTING} deep here");
            return Words {
                fault: NESTED_TOO_DEEPLY,
                message,
                help: NESTING_HELP,
                blame: Blame::Here,
            };
        }
        E::TabNotAllowed
        | E::TabInBlockIndentation
        | E::TabInIndentation
        | E::TabAtBlockScalarStart
        | E::TabInPlainScalar => {
            let message = "a tab stands here, where only spaces may".to_owned();
            return Words {
                fault: TAB_INDENTATION,
                message,
                help: "replace the tab by spaces",
                blame: Blame::Tab,
            };
        }
        E::UnexpectedEofFlowSequence | E::ExpectedFlowSequenceSeparator => {
            let message = "`,` or `]` is expected in this list".to_owned();
            let help = "separate the items with `,` and close the list with `]`";
            return Words {
                fault: SYNTAX_ERROR,
                message,
                help,
                blame: Blame::OpenBracket,
            };
        }
        E::UnexpectedEofFlowMapping
        | E::UnexpectedEofImplicitFlowMapping
        | E::ExpectedFlowMappingSeparator
        | E::InvalidColonPlacement
        | E::FlowMappingValueAdjacentCollection => {
            let message = "`,` or `}` is expected in this map".to_owned();
            let help = "separate the entries with `,` and close the map with `}`";
            return Words {
                fault: SYNTAX_ERROR,
                message,
                help,
                blame: Blame::OpenBracket,
            };
        }
        E::UnclosedFlowCollection { open } => {
            let message = never_closed(*open);
            return Words {
                fault: SYNTAX_ERROR,
                message,
                help: closing(*open),
                blame: Blame::Here,
            };
        }
        E::MismatchedFlowCollectionEnd { open, close } => {
            let message = format!("this `{open}` is open when `{close}` comes");
            return Words {
                fault: SYNTAX_ERROR,
                message,
                help: closing(*open),
                blame: Blame::Here,
            };
        }
        E::UnexpectedCharacter { character } => {
            let message = format!("a value cannot begin with `{}`", character.escape_debug());
            return Words {
                fault: SYNTAX_ERROR,
                message,
                help: "quote the value",
                blame: Blame::Here,
            };
        }
        E::UnclosedQuotedScalar | E::DocumentIndicatorInQuotedScalar => (
            "the quote that opens here is never closed",
            "close it with the same quote mark",
        ),
        E::MisplacedFlowCollectionEnd => (
            "this bracket closes nothing",
            "delete it, or open it further up",
        ),
        E::ExpectedBlockMappingKey
        | E::SimpleKeyExpected
        | E::InvalidSimpleKey
        | E::UnexpectedEofBlockMapping => (
            "a key and `:` are expected here",
            "write `key: value`, each key of a map at the same indentation",
        ),
        E::MappingValueNotAllowed | E::MappingKeyNotAllowed => (
            "a second `:` stands in one line, or the line above is no key",
            "quote a value that contains `: `, put `:` behind each key, and indent all keys of a map alike",
        ),
        E::BlockSequenceEntryNotAllowed => (
            "a list with `- ` cannot begin here",
            "begin it on a line of its own below the key, or write it as `[a, b]`",
        ),
        E::ExpectedBlockSequenceEntry | E::UnexpectedEofBlockSequence => (
            "this line does not fit the list around it",
            "begin each item with `- ` at the same indentation",
        ),
        E::BlockEntryInFlowCollection => (
            "`- ` cannot stand between brackets",
            "separate the items with `,`",
        ),
        E::InvalidIndentation | E::InvalidFlowScalarIndent | E::InvalidQuotedScalarIndent => (
            "this line is indented wrongly",
            "give all keys of a map the same indentation",
        ),
        E::ZeroBlockScalarIndent | E::InvalidBlockScalarHeader | E::InvalidBlockScalarIndent => (
            "this block of text is indented wrongly",
            "indent all its lines alike, below the key",
        ),
        E::CommentNotSeparated => (
            "a comment needs a space before its `#`",
            "put a space before the `#`, or quote the value",
        ),
        E::CommentInterceptedScalar => (
            "a comment stands inside a value of several lines",
            "move the comment to a line above",
        ),
        E::InvalidTrailingSingleQuotedScalar | E::InvalidTrailingDoubleQuotedScalar => (
            "something follows the closing quote",
            "put the whole value between the quotes",
        ),
        E::UnknownQuotedScalarEscape => (
            "a `\\` in these quotes begins no known escape",
            "write `\\\\` for a backslash, or use single quotes",
        ),
        E::InvalidQuotedScalarHexEscape
        | E::InvalidLowSurrogateHexEscape
        | E::InvalidLowSurrogate
        | E::MissingLowSurrogate
        | E::UnpairedLowSurrogate
        | E::InvalidUnicodeEscape => (
            "an escape in these quotes stands for no character",
            "write the character itself",
        ),
        E::MissingAnchorOrAliasName => (
            "`&` or `*` needs a name behind it",
            "quote the value if it begins with `&` or `*`",
        ),
        E::ExpectedWhitespace
        | E::InvalidMappingValueWhitespace
        | E::InvalidBlockEntryWhitespace
        | E::InvalidTagTerminator => (
            "a space is expected here",
            "put a space behind `:`, `-` and `,`",
        ),
        E::PlainScalarStartsWithDashFlowIndicator | E::UnexpectedEndOfPlainScalar => {
            ("a value cannot be read here", "quote the value")
        }
        E::ExpectedDocumentStart | E::InvalidDocumentEnd | E::MissingDocumentEndBeforeDirective => {
            (
                "something follows the end of the map",
                "give all sections of the file the same indentation",
            )
        }
        E::DirectiveDisallowed => (
            "a line that begins with `%` speaks to the reader and is not used here",
            "delete the line, or quote the value",
        ),
        E::ExpectedTagBang
        | E::UndeclaredTagHandle
        | E::InvalidGlobalTagCharacter
        | E::MissingTagUri
        | E::UnclosedVerbatimTag
        | E::InvalidTagEscape
        | E::InvalidTagUtf8LeadingByte
        | E::InvalidTagUtf8TrailingByte
        | E::InvalidTagUtf8 => (
            "`!` begins a tag, and tags are not used here",
            "quote the value if it begins with `!`",
        ),
        E::ExpectedNodeContent | E::UnexpectedEof => {
            ("a value is expected here", "write a value, or quote it")
        }
        _ => (
            "this cannot be read as YAML",
            "compare the line with the lines around it",
        ),
    };
    Words {
        fault: SYNTAX_ERROR,
        message: message.to_owned(),
        help,
        blame: Blame::Here,
    }
}

/// What an open bracket is told.
pub(super) fn never_closed(open: char) -> String {
    format!("the `{open}` that opens here is never closed")
}

/// How an open bracket is closed.
pub(super) fn closing(open: char) -> &'static str {
    if open == '{' {
        "close it with `}`"
    } else {
        "close it with `]`"
    }
}
