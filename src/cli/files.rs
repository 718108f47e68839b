//! Reading the netlist and writing the papers, with clear words for all that can go wrong.
//!
//! A folder of papers holds a list of the files that loomwright wrote there, with the fingerprint of each.
//! A file that is not in the list, or that was changed since, belongs to somebody and is left alone.
//! Each file is written under another name first and then renamed, so that it is there whole or not at all.

use crate::export::PaperFile;
use crate::schedule::Fingerprint;
use crate::side_by_side;
use crate::source::MAX_BYTES;
use std::collections::{BTreeMap, BTreeSet};
use std::fs::{self, File, OpenOptions};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};
use thiserror::Error;

/// File that lists what loomwright wrote into a folder.
pub(super) const LIST: &str = "loomwright-papers.txt";

/// First line of that file.
const LIST_HEAD: &str = "loomwright papers 1: files written here, each with the FNV-1a 64 fingerprint of its content. Do not edit.";

/// A list larger than this is none of ours.
const LONGEST_LIST: u64 = 1024 * 1024;

/// A file larger than this is no paper of ours.
const LONGEST_PAPER: u64 = 256 * 1024 * 1024;

/// What to do with files that somebody else wrote.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Foreign {
    /// Leave them alone and write nothing.
    Keep,
    /// Replace them: the user asked for it.
    Replace,
}

/// What to do with our own papers of an earlier run that this run does not make.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Others {
    /// They stay: only a part was asked for.
    Keep,
    /// They go: the boat has them no more.
    TakeAway,
}

/// What went wrong outside the netlist.
#[derive(Debug, Error)]
pub(super) enum Trouble {
    #[error("there is no file `{0}`")]
    NoFile(String),
    #[error("`{0}` is a folder; name a netlist file")]
    FolderAsInput(String),
    #[error("cannot read `{0}`: {1}")]
    Unreadable(String, io::Error),
    #[error("cannot read the standard input: {0}")]
    UnreadableInput(io::Error),
    #[error(
        "this loomwright was built without the writer of {0}; build it with `cargo build --release --features {0}`, or ask for other forms with --as"
    )]
    NotBuiltIn(&'static str),
    #[error("there is no paper `{name}`; this boat has {known}")]
    NoSuchPaper { name: String, known: String },
    #[error(
        "nothing was written: {names} does not come as {forms}; ask for another form with --as"
    )]
    NothingOfIt { names: String, forms: String },
    #[error("`{0}` is not a folder; name a folder for the papers with --out")]
    NotAFolder(String),
    #[error("cannot make the folder `{0}`: {1}")]
    NoFolder(String, io::Error),
    #[error(
        "nothing was written: loomwright did not write {} in `{folder}`, or somebody changed {them} since; move {them} away, name another folder with --out, or replace {them} with --force",
        .names.join(", "),
        them = if .names.len() == 1 { "it" } else { "them" }
    )]
    NotOurs { folder: String, names: Vec<String> },
    #[error("nothing was written: `{0}` is not a plain file")]
    NotPlain(String),
    #[error("nothing was written: cannot write `{0}`: {1}")]
    Unwritable(String, io::Error),
    #[error(
        "cannot put `{0}` in its place: {1}; the files before it are new, the others are as they were"
    )]
    Unplaced(String, io::Error),
    #[error("`{0}` is there already and stays as it is; name another file")]
    InTheWay(String),
    #[error("cannot print: {0}")]
    Unprintable(io::Error),
}

/// Reads a netlist, from the standard input where its name is `-`; one byte more than the limit at most.
pub(super) fn read(name: &Path) -> Result<Vec<u8>, Trouble> {
    let limit = MAX_BYTES as u64 + 1;
    let mut bytes = Vec::new();
    if name == Path::new("-") {
        io::stdin()
            .lock()
            .take(limit)
            .read_to_end(&mut bytes)
            .map_err(Trouble::UnreadableInput)?;
        return Ok(bytes);
    }
    let shown = name.display().to_string();
    match fs::metadata(name) {
        Ok(about) if about.is_dir() => return Err(Trouble::FolderAsInput(shown)),
        Ok(_) => {}
        Err(error) if error.kind() == io::ErrorKind::NotFound => {
            return Err(Trouble::NoFile(shown));
        }
        Err(error) => return Err(Trouble::Unreadable(shown, error)),
    }
    File::open(name)
        .and_then(|file| file.take(limit).read_to_end(&mut bytes))
        .map_err(|error| Trouble::Unreadable(shown, error))?;
    Ok(bytes)
}

/// Writes a new file and never over another.
pub(super) fn create(name: &Path, text: &str) -> Result<(), Trouble> {
    let shown = name.display().to_string();
    let mut file = match OpenOptions::new().write(true).create_new(true).open(name) {
        Ok(file) => file,
        Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {
            return Err(Trouble::InTheWay(shown));
        }
        Err(error) => return Err(Trouble::Unwritable(shown, error)),
    };
    file.write_all(text.as_bytes()).map_err(|error| {
        let _ = fs::remove_file(name);
        Trouble::Unwritable(shown, error)
    })
}

/// Writes all papers into a folder, and takes away those of an earlier run that are no longer made.
///
/// Returns the names of the files taken away. On any fault before the first renaming nothing has changed.
pub(super) fn write_papers(
    folder: &Path,
    papers: &[PaperFile],
    (foreign, others): (Foreign, Others),
) -> Result<Vec<String>, Trouble> {
    match fs::metadata(folder) {
        Ok(about) if !about.is_dir() => {
            return Err(Trouble::NotAFolder(folder.display().to_string()));
        }
        Ok(_) => {}
        Err(_) => fs::create_dir_all(folder)
            .map_err(|error| Trouble::NoFolder(folder.display().to_string(), error))?,
    }
    let known = look_for_foreign(folder, papers, foreign)?;
    let stale = match others {
        Others::Keep => Vec::new(),
        Others::TakeAway => stale(folder, papers, &known),
    };

    // Before our own drafts, or these would go as well.
    let names: BTreeSet<&str> = papers.iter().map(|paper| paper.name.as_str()).collect();
    clear_drafts(folder, |name| {
        name == LIST || known.contains_key(name) || names.contains(name)
    });
    let fingerprints = || -> Known {
        papers
            .iter()
            .map(|paper| {
                let fingerprint = Fingerprint::of(&paper.content).to_string();
                (paper.name.clone(), BTreeSet::from([fingerprint]))
            })
            .collect()
    };
    let (mut made, drafts) = side_by_side(fingerprints, || Drafts::write(folder, papers.iter()));
    let drafts = drafts?;
    if others == Others::Keep {
        for (name, fingerprints) in &known {
            if name != LIST {
                made.entry(name.clone())
                    .or_insert_with(|| fingerprints.clone());
            }
        }
    }
    // The list names old and new content until all is in place: a run cut short can then be repeated.
    let mut both = known;
    for (name, fingerprints) in &made {
        both.entry(name.clone())
            .or_default()
            .extend(fingerprints.iter().cloned());
    }
    let list = |files| PaperFile::new(LIST, list_text(files));
    let (list_while, list_after) = (list(&both), list(&made));
    Drafts::write(folder, std::iter::once(&list_while))?.place()?;
    drafts.place()?;
    for name in &stale {
        // A paper that cannot be removed is still in no list and does no harm but lie there.
        let _ = fs::remove_file(folder.join(name));
    }
    Drafts::write(folder, std::iter::once(&list_after))?.place()?;
    Ok(stale)
}

type Known = BTreeMap<String, BTreeSet<String>>;

/// Reads the list of our files and refuses where a paper would replace anything else.
fn look_for_foreign(
    folder: &Path,
    papers: &[PaperFile],
    foreign: Foreign,
) -> Result<Known, Trouble> {
    let mut names = Vec::new();
    let known = match plain_content(&folder.join(LIST), LONGEST_LIST)? {
        None => Known::new(),
        Some(content) => read_list(&content).unwrap_or_else(|| {
            names.push(LIST.to_owned());
            Known::new()
        }),
    };
    for paper in papers {
        let path = folder.join(&paper.name);
        let Some(content) = plain_content(&path, LONGEST_PAPER)? else {
            continue;
        };
        let ours = content == paper.content
            || known
                .get(&paper.name)
                .is_some_and(|listed| listed.contains(&Fingerprint::of(&content).to_string()));
        if !ours {
            names.push(paper.name.clone());
        }
    }
    if names.is_empty() || foreign == Foreign::Replace {
        Ok(known)
    } else {
        Err(Trouble::NotOurs {
            folder: folder.display().to_string(),
            names,
        })
    }
}

/// Content of a plain file up to a limit; none where there is no file. Anything else in its place is refused unread.
fn plain_content(path: &Path, limit: u64) -> Result<Option<Vec<u8>>, Trouble> {
    let shown = || path.display().to_string();
    match fs::symlink_metadata(path) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
        Err(error) => return Err(Trouble::Unwritable(shown(), error)),
        Ok(about) if !about.is_file() => return Err(Trouble::NotPlain(shown())),
        Ok(_) => {}
    }
    let mut content = Vec::new();
    File::open(path)
        .and_then(|file| file.take(limit).read_to_end(&mut content))
        .map_err(|error| Trouble::Unwritable(shown(), error))?;
    Ok(Some(content))
}

/// Our files of an earlier run, unchanged since, that this run does not make.
fn stale(folder: &Path, papers: &[PaperFile], known: &Known) -> Vec<String> {
    let made: BTreeSet<&str> = papers.iter().map(|paper| paper.name.as_str()).collect();
    known
        .iter()
        .filter(|(name, _)| !made.contains(name.as_str()) && name.as_str() != LIST)
        .filter(|(name, listed)| {
            plain_content(&folder.join(name), LONGEST_PAPER)
                .ok()
                .flatten()
                .is_some_and(|content| listed.contains(&Fingerprint::of(&content).to_string()))
        })
        .map(|(name, _)| name.clone())
        .collect()
}

fn list_text(files: &Known) -> String {
    let mut text = format!("{LIST_HEAD}\n");
    for (name, fingerprints) in files {
        for fingerprint in fingerprints {
            text.push_str(fingerprint);
            text.push(' ');
            text.push_str(name);
            text.push('\n');
        }
    }
    text
}

/// Reads a list; none where the file is not one. Names that would lead out of the folder are passed over.
fn read_list(content: &[u8]) -> Option<Known> {
    let text = std::str::from_utf8(content).ok()?;
    let mut lines = text.lines();
    if lines.next()? != LIST_HEAD {
        return None;
    }
    let mut known = Known::new();
    for line in lines {
        let (fingerprint, name) = line.split_once(' ')?;
        let bare = Path::new(name).file_name().is_some_and(|bare| bare == name);
        if bare && !name.starts_with('.') {
            known
                .entry(name.to_owned())
                .or_default()
                .insert(fingerprint.to_owned());
        }
    }
    Some(known)
}

/// Takes away what a run that was killed has left: drafts of papers whose writer is no more.
fn clear_drafts(folder: &Path, is_ours: impl Fn(&str) -> bool) {
    let Ok(entries) = fs::read_dir(folder) else {
        return;
    };
    for entry in entries.flatten() {
        let name = entry.file_name();
        let Some((paper, writer)) = name.to_str().and_then(of_draft) else {
            continue;
        };
        let is_file = entry.file_type().is_ok_and(|kind| kind.is_file());
        if is_file && is_ours(paper) && is_gone(writer, &entry) {
            // One that stays does no harm but lie there.
            let _ = fs::remove_file(entry.path());
        }
    }
}

/// The paper that a draft is of, and the number of the process that wrote it.
fn of_draft(name: &str) -> Option<(&str, u32)> {
    let (paper, writer) = name
        .strip_prefix('.')?
        .strip_suffix(".draft")?
        .rsplit_once('.')?;
    Some((paper, writer.parse().ok()?))
}

/// Whether a process that wrote a draft has ended. Where processes cannot be looked up, a draft of an hour is left over.
fn is_gone(writer: u32, draft: &fs::DirEntry) -> bool {
    if writer == std::process::id() {
        return true;
    }
    if Path::new("/proc/self").exists() {
        return !Path::new(&format!("/proc/{writer}")).exists();
    }
    let age = draft.metadata().and_then(|about| about.modified());
    age.is_ok_and(|then| then.elapsed().is_ok_and(|age| age.as_secs() > 3600))
}

/// Files written under another name, to be put in their place together.
struct Drafts {
    waiting: Vec<(PathBuf, PathBuf)>,
}

impl Drafts {
    fn write<'p>(
        folder: &Path,
        papers: impl Iterator<Item = &'p PaperFile>,
    ) -> Result<Self, Trouble> {
        let mut drafts = Self {
            waiting: Vec::new(),
        };
        for paper in papers {
            let target = folder.join(&paper.name);
            let draft = folder.join(format!(".{}.{}.draft", paper.name, std::process::id()));
            let refused = |error| Trouble::Unwritable(target.display().to_string(), error);
            let mut file = OpenOptions::new()
                .write(true)
                .create_new(true)
                .open(&draft)
                .map_err(refused)?;
            drafts.waiting.push((draft, target.clone()));
            file.write_all(&paper.content).map_err(refused)?;
        }
        Ok(drafts)
    }

    fn place(mut self) -> Result<(), Trouble> {
        self.waiting.reverse();
        while let Some((draft, target)) = self.waiting.pop() {
            if let Err(error) = fs::rename(&draft, &target) {
                self.waiting.push((draft, target.clone()));
                return Err(Trouble::Unplaced(target.display().to_string(), error));
            }
        }
        Ok(())
    }
}

impl Drop for Drafts {
    /// Drafts that never came to their place are taken away.
    fn drop(&mut self) {
        for (draft, _) in &self.waiting {
            let _ = fs::remove_file(draft);
        }
    }
}
