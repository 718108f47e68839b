//! Text to tree, with every fault of structure reported and the reading resumed after a syntax error.
//!
//! The first reader hands over events; the stack of open collections lives in a vector here, so no input can overflow the
//! program's own stack. An alias becomes the node it names. What would make the tree larger or deeper than a file without
//! aliases may be is refused where it stands and replaced by nothing.

use super::Span;
use super::faults::{
    ALIAS_IN_OWN_ANCHOR, DUPLICATE_KEY, EMPTY_FILE, EXPANDS_TOO_FAR, Findings, KEY_NOT_A_NAME,
    MERGE_KEY, NESTED_TOO_DEEPLY, ROOT_NOT_A_MAP, SECOND_DOCUMENT, TAG, TOO_MANY_VALUES,
    UNKNOWN_ALIAS, shortened,
};
use super::lines::LineIndex;
use super::scalar::{self, Meaning, Style};
use super::tree::{Document, Kind, NodeId, SMALL_MAP, Scalar, Stored};
use super::words::{Blame, NESTING_HELP, Words, closing, never_closed, words};
use granit_parser::{Event, Parser, ScalarStyle, ScanError, StructureStyle};
use std::collections::BTreeMap;

/// Deepest nesting of maps and lists, aliases followed. A netlist needs six.
pub const MAX_NESTING: usize = 100;

/// Most values in one file. A netlist of 10,000 runs has about 150,000.
pub const MAX_NODES: usize = 1_000_000;

/// Largest size of the file with every alias written out: bytes of text plus [`NODE_WEIGHT`] for each value.
pub const MAX_EXPANDED: u64 = 32 * 1024 * 1024;

/// Most syntax errors after which reading is resumed.
pub const MAX_RESUMES: usize = 20;

/// What a value counts towards [`MAX_EXPANDED`] besides its text.
const NODE_WEIGHT: u64 = 16;

/// Most bytes read again after syntax errors; keeps a large broken file from being read twenty times.
const RESUME_BUDGET: usize = 32 * 1024 * 1024;

/// Most anchor names looked through for the one that was meant.
const MAX_SUGGESTED: usize = 1000;

/// The tree, and where the first syntax error stands.
pub(super) struct Parsed {
    pub(super) document: Option<Document>,
    pub(super) broken_at: Option<usize>,
}

/// Reads the text from `start` on.
pub(super) fn parse(text: &str, start: usize, findings: &mut Findings) -> Parsed {
    let mut builder = Builder::new(text, findings);
    let mut broken_at = None;
    let mut start = start;
    let mut budget = RESUME_BUDGET;
    for attempt in 0..=MAX_RESUMES {
        let Some(Broken { at, resume_from }) = builder.section_run(start) else {
            break;
        };
        broken_at.get_or_insert(at);
        let resumed = next_section(text, resume_from.max(start + 1));
        let next = resumed.filter(|&next| attempt < MAX_RESUMES && text.len() - next <= budget);
        builder.say_how_far(at, next);
        let Some(next) = next else { break };
        budget -= text.len() - next;
        start = next;
    }
    Parsed {
        document: builder.finish(broken_at.is_some()),
        broken_at,
    }
}

/// Where reading stopped.
struct Broken {
    /// The character that cannot be read.
    at: usize,
    /// The next section is looked for from here on.
    resume_from: usize,
}

/// A collection whose end is not read yet.
struct Frame {
    node: NodeId,
    span: Span,
    flow: bool,
    shape: Shape,
    /// An alias may name it.
    anchored: bool,
    /// Expanded size of the document before this collection.
    weight_before: u64,
    /// Nesting below this collection so far.
    height: usize,
}

enum Shape {
    Map {
        entries: Vec<(NodeId, NodeId)>,
        key: Key,
    },
    List(Vec<NodeId>),
}

/// The key whose value is read next.
enum Key {
    Awaited,
    Read(NodeId),
    /// Reported; its value is read and dropped.
    Refused,
}

/// Size of a finished node with its aliases written out.
#[derive(Clone, Copy, Default)]
struct Extent {
    weight: u64,
    height: usize,
}

struct Builder<'t, 'f> {
    text: &'t str,
    findings: &'f mut Findings,
    nodes: Vec<Stored>,
    texts: String,
    frames: Vec<Frame>,
    /// Outermost value of the part being read.
    top: Option<NodeId>,
    /// Sections of all parts read so far.
    sections: Vec<(NodeId, NodeId)>,
    /// First root that is no map.
    stray_root: Option<NodeId>,
    weight: u64,
    /// Anchor names seen, for aliases behind a syntax error.
    named: BTreeMap<String, NodeId>,
    /// Nodes that an alias may name, by the reader's number within the part being read.
    anchored: BTreeMap<usize, NodeId>,
    /// Extents of anchored nodes.
    extents: BTreeMap<NodeId, Extent>,
    resumed: bool,
    /// The expanded size has been reported; each further alias would say the same.
    too_long_told: bool,
}

impl<'t, 'f> Builder<'t, 'f> {
    fn new(text: &'t str, findings: &'f mut Findings) -> Self {
        Self {
            text,
            findings,
            nodes: Vec::new(),
            texts: String::with_capacity(text.len() / 2),
            frames: Vec::new(),
            top: None,
            sections: Vec::new(),
            stray_root: None,
            weight: 0,
            named: BTreeMap::new(),
            anchored: BTreeMap::new(),
            extents: BTreeMap::new(),
            resumed: false,
            too_long_told: false,
        }
    }

    /// Reads from `start` to the end of the document or to the first error.
    fn section_run(&mut self, start: usize) -> Option<Broken> {
        let options = granit_parser::options! {
            emit_comments: false,
            disallow_directives: true,
            emit_unresolved_aliases: true,
            emit_anchor_events: true,
            block_scalar_eof_without_line_feed: true,
            flow_nesting_limit: MAX_NESTING,
            block_nesting_limit: MAX_NESTING,
        };
        self.top = None;
        self.anchored.clear();
        let mut documents = 0;
        let mut broken = None;
        for next in Parser::new_from_str_with_options(&self.text[start..], options) {
            let (event, marks) = match next {
                Ok(event) => event,
                Err(error) => {
                    broken = Some(self.syntax_error(&error, start));
                    break;
                }
            };
            let range = marks.byte_range().unwrap_or_default();
            let span = self.within(start + range.start, start + range.end);
            if self.nodes.len() >= MAX_NODES {
                self.findings.add(|| {
                    TOO_MANY_VALUES
                        .says(format!(
                            "the file holds more than {MAX_NODES} values; what follows is not read"
                        ))
                        .label(span, "value number one too many")
                        .repair("leave out what is not part of the boat's wiring")
                });
                break;
            }
            if matches!(event, Event::DocumentStart(..)) {
                documents += 1;
                if documents > 1 {
                    self.second_document(span);
                    break;
                }
            }
            if let Some(tag) = marks.tag_span().and_then(|tag| tag.byte_range()) {
                let span = self.within(start + tag.start, start + tag.end);
                self.refuse_tag(span);
            }
            self.take(event, span);
        }
        // After an error some collections are still open; what they hold is kept.
        while !self.frames.is_empty() {
            self.close(None);
        }
        if let Some(top) = self.top {
            match &mut self.nodes[top.index()].kind {
                Kind::Map { entries, .. } => self.sections.append(entries),
                _ if !self.resumed => self.stray_root = Some(top),
                _ => {}
            }
        }
        self.resumed = true;
        broken
    }

    fn take(&mut self, event: Event<'_>, span: Span) {
        match event {
            Event::Scalar(value, style, anchor, _) => {
                let node = self.scalar(&value, style_of(style), span);
                let extent = Extent {
                    weight: NODE_WEIGHT + value.len() as u64,
                    height: 0,
                };
                self.weight += extent.weight;
                self.anchor(anchor, node, extent);
                self.place(node, span, 0);
            }
            Event::SequenceStart(style, anchor, _) => {
                self.open(span, style, anchor, Shape::List(Vec::new()));
            }
            Event::MappingStart(style, anchor, _) => {
                self.open(
                    span,
                    style,
                    anchor,
                    Shape::Map {
                        entries: Vec::new(),
                        key: Key::Awaited,
                    },
                );
            }
            Event::SequenceEnd | Event::MappingEnd => self.close(Some(span)),
            Event::Anchor(number, name) => {
                if let Some(&node) = self.anchored.get(&number) {
                    self.named.insert(name.into_owned(), node);
                }
            }
            Event::Alias(number) => {
                let target = self.anchored.get(&number).copied();
                self.alias(target, span);
            }
            Event::UnresolvedAlias(name) => {
                let target = if self.resumed {
                    self.named.get(name.as_ref()).copied()
                } else {
                    None
                };
                if target.is_none() {
                    self.unknown_alias(&name, span);
                }
                self.alias(target, span);
            }
            _ => {}
        }
    }

    fn open(&mut self, span: Span, style: StructureStyle, anchor: usize, shape: Shape) {
        let node = self.push(span, Kind::List(Vec::new()));
        if anchor > 0 {
            self.anchored.insert(anchor, node);
        }
        let weight_before = self.weight;
        self.weight += NODE_WEIGHT;
        let flow = style == StructureStyle::Flow;
        self.frames.push(Frame {
            node,
            span,
            flow,
            shape,
            anchored: anchor > 0,
            weight_before,
            height: 0,
        });
        // The reader bounds blocks and brackets apart; together they may still be too deep.
        if self.frames.len() == MAX_NESTING + 1 {
            self.too_deep(span);
        }
    }

    /// Closes the innermost collection; without an end event it ends with what was read of it.
    fn close(&mut self, end: Option<Span>) {
        let Some(frame) = self.frames.pop() else {
            return;
        };
        let mut span = frame.span;
        if let Some(end) = end
            && frame.flow
        {
            span.end = span.end.max(end.end);
        }
        let (kind, too_deep) = match frame.shape {
            Shape::List(items) => (Kind::List(items), self.frames.len() >= MAX_NESTING),
            Shape::Map { entries, .. } => (self.map(entries), self.frames.len() >= MAX_NESTING),
        };
        let height = frame.height + 1;
        let stored = &mut self.nodes[frame.node.index()];
        stored.span = span;
        // What is nested too deeply has been reported and is left out, so that nothing walks it.
        stored.kind = if too_deep {
            Kind::List(Vec::new())
        } else {
            kind
        };
        if frame.anchored {
            self.extents.insert(
                frame.node,
                Extent {
                    weight: self.weight - frame.weight_before,
                    height,
                },
            );
        }
        self.place(frame.node, span, height);
    }

    /// Hands a finished node to the collection around it.
    fn place(&mut self, node: NodeId, span: Span, height: usize) {
        let Some(mut frame) = self.frames.pop() else {
            self.top.get_or_insert(node);
            return;
        };
        frame.height = frame.height.max(height);
        frame.span.end = frame.span.end.max(span.end);
        match &mut frame.shape {
            Shape::List(items) => items.push(node),
            Shape::Map { entries, key } => match key {
                Key::Awaited => {
                    *key = if self.is_name(node, span) {
                        Key::Read(node)
                    } else {
                        Key::Refused
                    }
                }
                Key::Read(name) => {
                    entries.push((*name, node));
                    *key = Key::Awaited;
                }
                Key::Refused => *key = Key::Awaited,
            },
        }
        self.frames.push(frame);
    }

    fn alias(&mut self, target: Option<NodeId>, span: Span) {
        let Some(target) = target else {
            return self.nothing(span);
        };
        if self.frames.iter().any(|frame| frame.node == target) {
            self.findings.add(|| {
                ALIAS_IN_OWN_ANCHOR
                    .says("this alias stands inside the value that it names, so the value would never end")
                    .label(span, "alias")
                    .repair("write the value out")
            });
            return self.nothing(span);
        }
        let extent = self.extents.get(&target).copied().unwrap_or_default();
        if self.weight.saturating_add(extent.weight) > MAX_EXPANDED {
            if !self.too_long_told {
                self.too_long_told = true;
                let anchor = self.nodes[target.index()].span;
                self.findings.add(|| {
                    EXPANDS_TOO_FAR
                        .says(format!("with its aliases written out the file is longer than {MAX_EXPANDED} bytes"))
                        .label(span, "this alias goes over the limit")
                        .label(anchor, "for this value")
                        .repair("use fewer aliases")
                });
            }
            return self.nothing(span);
        }
        if self.frames.len() + extent.height > MAX_NESTING {
            self.too_deep(span);
            return self.nothing(span);
        }
        self.weight += extent.weight;
        self.place(target, span, extent.height);
    }

    /// Stands for what was refused.
    fn nothing(&mut self, span: Span) {
        let node = self.scalar("~", Style::Plain, Span::new(span.start, span.start));
        self.weight += NODE_WEIGHT;
        self.place(node, span, 0);
    }

    fn anchor(&mut self, number: usize, node: NodeId, extent: Extent) {
        if number > 0 {
            self.anchored.insert(number, node);
            self.extents.insert(node, extent);
        }
    }

    fn scalar(&mut self, value: &str, style: Style, span: Span) -> NodeId {
        let start = self.texts.len();
        self.texts.push_str(value);
        let source = &self.text.as_bytes()[span.start..span.end];
        let lead = match style {
            Style::Plain if source == value.as_bytes() => Some(0),
            Style::SingleQuoted | Style::DoubleQuoted
                if source.len() == value.len() + 2
                    && &source[1..=value.len()] == value.as_bytes() =>
            {
                Some(1)
            }
            _ => None,
        };
        let text = position(start)..position(self.texts.len());
        let meaning = scalar::meaning(style, value);
        self.push(
            span,
            Kind::Scalar(Scalar {
                text,
                style,
                meaning,
                lead,
            }),
        )
    }

    fn push(&mut self, span: Span, kind: Kind) -> NodeId {
        let node = NodeId(position(self.nodes.len()));
        self.nodes.push(Stored { span, kind });
        node
    }

    /// A map of the entries, the later ones of equal keys reported and left out.
    fn map(&mut self, entries: Vec<(NodeId, NodeId)>) -> Kind {
        let mut by_key: Vec<u32> = Vec::new();
        let mut repeated: Vec<(usize, usize)> = Vec::new();
        if entries.len() <= SMALL_MAP {
            for later in 1..entries.len() {
                let key = self.key_text(entries[later].0);
                if let Some(first) =
                    (0..later).find(|&first| self.key_text(entries[first].0) == key)
                {
                    repeated.push((later, first));
                }
            }
        } else {
            by_key = (0..position(entries.len())).collect();
            by_key.sort_by(|&a, &b| {
                self.key_text(entries[a as usize].0)
                    .cmp(self.key_text(entries[b as usize].0))
                    .then(a.cmp(&b))
            });
            let mut first = 0;
            for place in 1..by_key.len() {
                let (one, other) = (by_key[first] as usize, by_key[place] as usize);
                if self.key_text(entries[one].0) == self.key_text(entries[other].0) {
                    repeated.push((other, one));
                } else {
                    first = place;
                }
            }
            repeated.sort_unstable();
        }
        if repeated.is_empty() {
            return Kind::Map { entries, by_key };
        }
        for &(later, first) in &repeated {
            let (key, span) = (
                self.key_text(entries[later].0),
                self.nodes[entries[later].0.index()].span,
            );
            let other = self.nodes[entries[first].0.index()].span;
            let message = format!("the key `{}` stands in this map twice", shortened(key));
            self.findings.add(|| {
                DUPLICATE_KEY
                    .says(message)
                    .label(span, "second time")
                    .label(other, "first time")
                    .repair("rename one of them or delete it; neither is preferred")
            });
        }
        let mut skipped = repeated.iter().map(|&(later, _)| later).peekable();
        let unique: Vec<_> = entries
            .into_iter()
            .enumerate()
            .filter(|(place, _)| skipped.next_if_eq(place).is_none())
            .map(|(_, entry)| entry)
            .collect();
        // Nothing is repeated any more, so this goes one level deep.
        self.map(unique)
    }

    /// Whether a node can be a key; says why where it cannot.
    fn is_name(&mut self, node: NodeId, span: Span) -> bool {
        let (message, fault, help) = match &self.nodes[node.index()].kind {
            Kind::Scalar(Scalar {
                style: Style::Plain,
                text,
                ..
            }) if &self.texts[text.start as usize..text.end as usize] == "<<" => (
                "`<<` would merge another map into this one, and maps are not merged here",
                MERGE_KEY,
                "write the keys out",
            ),
            Kind::Scalar(Scalar {
                meaning: Meaning::Nothing,
                ..
            }) => (
                "a key is expected here, and nothing stands here",
                KEY_NOT_A_NAME,
                "write a name, or quote it",
            ),
            Kind::Scalar(Scalar { text, .. }) if text.is_empty() => (
                "a key is expected here, not an empty text",
                KEY_NOT_A_NAME,
                "write a name",
            ),
            Kind::Scalar(_) => return true,
            _ => (
                "a key is a name, not a map or a list",
                KEY_NOT_A_NAME,
                "quote a key that begins with `{` or `[`",
            ),
        };
        self.findings
            .add(|| fault.says(message).label(span, "this key").repair(help));
        false
    }

    fn syntax_error(&mut self, error: &ScanError, start: usize) -> Broken {
        let offset = error.marker().byte_offset().unwrap_or(0);
        let mut at = self.within(start + offset, usize::MAX).start;
        let mut brackets = self
            .frames
            .iter()
            .filter_map(|frame| self.bracket(frame.span.start));
        let outermost = brackets.clone().next();
        let innermost = brackets.next_back().filter(|&(open, _)| open < at);
        let Words {
            fault,
            message,
            help,
            blame,
        } = words(error.kind());
        let finding = match (blame, innermost) {
            // The next section begins while the bracket is open: the bracket is what has to be repaired.
            (Blame::OpenBracket, Some((open, bracket)))
                if next_section(self.text, open + 1).is_some_and(|section| section <= at) =>
            {
                fault
                    .says(never_closed(bracket))
                    .label(Span::new(open, open + 1), "opens here")
                    .label(self.character(at), "read on to here")
                    .repair(closing(bracket))
            }
            (Blame::OpenBracket, Some((open, _))) => fault
                .says(message)
                .label(self.character(at), "here")
                .label(Span::new(open, open + 1), "this bracket is open")
                .repair(help),
            (Blame::Tab, _) => {
                let tab = self.tab_near(at);
                at = at.max(tab);
                fault
                    .says(message)
                    .label(self.character(tab), "here")
                    .repair(help)
            }
            _ => fault
                .says(message)
                .label(self.character(at), "here")
                .repair(help),
        };
        self.findings.add(|| finding);
        // An error behind an open bracket may come from the bracket: it must not swallow the sections between.
        Broken {
            at,
            resume_from: outermost.map_or(at, |(open, _)| open.min(at)),
        }
    }

    /// The bracket that stands at an offset.
    fn bracket(&self, offset: usize) -> Option<(usize, char)> {
        match self.text.as_bytes().get(offset) {
            Some(b'{') => Some((offset, '{')),
            Some(b'[') => Some((offset, '[')),
            _ => None,
        }
    }

    /// The tab that an error at this place is about: on the same line before it, or the next one behind it.
    fn tab_near(&self, at: usize) -> usize {
        let line = self.text[..at].rfind('\n').map_or(0, |end| end + 1);
        let before = self.text[line..at].rfind('\t').map(|tab| line + tab);
        before
            .or_else(|| self.text[at..].find('\t').map(|tab| at + tab))
            .unwrap_or(at)
    }

    /// The span of the character at an offset; empty at a line end.
    fn character(&self, at: usize) -> Span {
        let character = self.text[at..]
            .chars()
            .next()
            .filter(|&character| character != '\n' && character != '\r');
        Span::new(at, at + character.map_or(0, char::len_utf8))
    }

    /// Adds to the last syntax error what is not read because of it.
    fn say_how_far(&mut self, at: usize, next: Option<usize>) {
        let lines = LineIndex::new(self.text);
        let line = |offset: usize| lines.position(offset).line;
        let first = line(at) + 1;
        let rest = match next.map(line) {
            Some(next) if next == first + 1 => {
                format!("; line {first} is not read until this is repaired")
            }
            Some(next) if next > first => {
                format!(
                    "; lines {first} to {} are not read until this is repaired",
                    next - 1
                )
            }
            None if line(self.text.trim_end().len()) >= first => {
                format!(
                    "; nothing after line {} is read until this is repaired",
                    first - 1
                )
            }
            _ => return,
        };
        self.findings.extend_last_help(&rest);
    }

    fn second_document(&mut self, span: Span) {
        self.findings.add(|| {
            SECOND_DOCUMENT
                .says("a second document begins here; a file holds one boat")
                .label(span, "begins here")
                .repair("delete the `---` line or keep the rest in a file of its own")
        });
    }

    fn refuse_tag(&mut self, span: Span) {
        let tag = shortened(&self.text[span.start..span.end]).into_owned();
        self.findings.add(|| {
            TAG.says(format!("`{tag}` is a tag, and tags are not used here"))
                .label(span, "this tag")
                .repair("delete the tag, or quote the value if it begins with `!`")
        });
    }

    fn unknown_alias(&mut self, name: &str, span: Span) {
        let named = &self.named;
        self.findings.add(|| {
            let near =
                crate::diag::nearest(name, named.keys().map(String::as_str).take(MAX_SUGGESTED));
            UNKNOWN_ALIAS
                .says(format!(
                    "no anchor `&{}` stands above this alias",
                    shortened(name)
                ))
                .label(span, "this alias")
                .repair(match near {
                    Some(near) => format!("did you mean `*{near}`?"),
                    None => "quote the value if it begins with `*`".to_owned(),
                })
        });
    }

    fn too_deep(&mut self, span: Span) {
        self.findings.add(|| {
            NESTED_TOO_DEEPLY
                .says(format!(
                    "values are nested more than {MAX_NESTING} deep here"
                ))
                .label(span, "here")
                .repair(NESTING_HELP)
        });
    }

    fn key_text(&self, key: NodeId) -> &str {
        match &self.nodes[key.index()].kind {
            Kind::Scalar(Scalar { text, .. }) => {
                &self.texts[text.start as usize..text.end as usize]
            }
            _ => "",
        }
    }

    /// A span that lies inside the text and on character borders, whatever the reader counted.
    fn within(&self, start: usize, end: usize) -> Span {
        let start = self.text.floor_char_boundary(start.min(self.text.len()));
        let end = self.text.floor_char_boundary(end.min(self.text.len()));
        Span::new(start, end.max(start))
    }

    fn finish(mut self, broken: bool) -> Option<Document> {
        if let Some(stray) = self.stray_root
            && !broken
        {
            self.stray_root_fault(stray);
            return None;
        }
        if self.sections.is_empty() {
            if !broken && self.findings.is_empty() {
                self.findings.add(|| {
                    EMPTY_FILE
                        .says("the file holds no value")
                        .repair("begin with `boat:` and `batteries:`")
                });
            }
            return None;
        }
        let sections = std::mem::take(&mut self.sections);
        let span = sections
            .iter()
            .fold(None, |span: Option<Span>, &(key, value)| {
                let (key, value) = (self.nodes[key.index()].span, self.nodes[value.index()].span);
                let end = key.end.max(value.end);
                Some(span.map_or(Span::new(key.start, end), |span| {
                    Span::new(span.start, span.end.max(end))
                }))
            });
        let kind = self.map(sections);
        let root = self.push(span.unwrap_or_default(), kind);
        Some(Document {
            nodes: self.nodes,
            texts: self.texts,
            root,
        })
    }

    fn stray_root_fault(&mut self, stray: NodeId) {
        let Stored { span, kind } = &self.nodes[stray.index()];
        let span = *span;
        if matches!(
            kind,
            Kind::Scalar(Scalar {
                meaning: Meaning::Nothing,
                ..
            })
        ) {
            self.findings.add(|| {
                EMPTY_FILE
                    .says("the file holds no value")
                    .repair("begin with `boat:` and `batteries:`")
            });
            return;
        }
        let what = if matches!(kind, Kind::List(_)) {
            "a list"
        } else {
            "a text"
        };
        self.findings.add(|| {
            ROOT_NOT_A_MAP
                .says(format!("the file is {what}; a map of sections is expected"))
                .label(span, "here")
                .repair("begin with a section, such as `batteries:`")
        });
    }
}

/// The first line from `from` on that begins a section: a key in the first column.
fn next_section(text: &str, from: usize) -> Option<usize> {
    let mut start = from;
    if !text.is_char_boundary(from) || !text[..from].ends_with('\n') {
        start = from
            + text
                .as_bytes()
                .get(from..)?
                .iter()
                .position(|&byte| byte == b'\n')?
            + 1;
    }
    for line in text[start..].split_inclusive('\n') {
        if begins_section(line) {
            return Some(start);
        }
        start += line.len();
    }
    None
}

fn begins_section(line: &str) -> bool {
    let bytes = line.as_bytes();
    let key = match bytes.first() {
        Some(&quote @ (b'"' | b'\'')) => match bytes[1..].iter().position(|&byte| byte == quote) {
            Some(length) => length + 2,
            None => return false,
        },
        Some(byte) if byte.is_ascii_alphanumeric() => {
            let name = |byte: &u8| byte.is_ascii_alphanumeric() || matches!(byte, b'-' | b'_');
            bytes.iter().take_while(|byte| name(byte)).count()
        }
        _ => return false,
    };
    let rest = line[key..].trim_start_matches(' ');
    rest.strip_prefix(':')
        .is_some_and(|value| value.is_empty() || value.starts_with([' ', '\t', '\r', '\n']))
}

fn style_of(style: ScalarStyle) -> Style {
    match style {
        ScalarStyle::Plain => Style::Plain,
        ScalarStyle::SingleQuoted => Style::SingleQuoted,
        ScalarStyle::DoubleQuoted => Style::DoubleQuoted,
        ScalarStyle::Literal | ScalarStyle::Folded => Style::Block,
    }
}

fn position(value: usize) -> u32 {
    u32::try_from(value).expect("a file has at most 16 MiB, so every count of it fits in 32 bits")
}
