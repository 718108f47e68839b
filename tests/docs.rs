//! The commands that README.md shows are run, and what it shows of their output is compared.
//!
//! A fenced block marked `console` holds commands behind `$ `, each with the output that follows it. `cargo run ... -- `
//! stands for the program; `cat FILE` shows a file and `echo "status $?"` the exit status. The commands of one page run in one
//! folder, with `examples` beside them. `...` on a line of its own stands for output left out.
//! Of a block marked `sh` the lines that run the program are run, and have to end with a netlist read.
//! A fenced block marked `yaml` has to be a netlist without faults of its own.

// A test reads and writes files; the library does not.
#![allow(clippy::disallowed_methods)]

use loomwright::{Want, compile};
use snapbox::cmd::{Command, cargo_bin};
use std::fs;
use std::path::{Path, PathBuf};

/// Arguments for the program, where a command runs it.
fn program(command: &str) -> Option<&str> {
    let rest = command.strip_prefix("cargo run ")?;
    Some(rest.strip_prefix("-- ").unwrap_or_else(|| {
        rest.split_once(" -- ")
            .map_or("", |(_, arguments)| arguments)
    }))
}

/// A fenced block: its language, its text, and the line it begins on.
struct Fenced<'t> {
    language: &'t str,
    text: String,
    line: usize,
}

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn fenced(page: &str) -> Vec<Fenced<'_>> {
    let mut blocks = Vec::new();
    let mut open: Option<Fenced<'_>> = None;
    for (index, line) in page.lines().enumerate() {
        match (&mut open, line.strip_prefix("```")) {
            (None, Some(language)) => {
                open = Some(Fenced {
                    language: language.trim(),
                    text: String::new(),
                    line: index + 1,
                });
            }
            (Some(_), Some(_)) => blocks.extend(open.take()),
            (Some(block), None) => {
                block.text.push_str(line);
                block.text.push('\n');
            }
            (None, None) => {}
        }
    }
    assert!(open.is_none(), "a fenced block is not closed");
    blocks
}

/// Commands of a console block, each with the output shown for it.
fn commands(text: &str) -> Vec<(String, String)> {
    let mut commands: Vec<(String, String)> = Vec::new();
    for line in text.lines() {
        if let Some(command) = line.strip_prefix("$ ") {
            commands.push((command.to_owned(), String::new()));
        } else if let Some((_, output)) = commands.last_mut() {
            output.push_str(line);
            output.push('\n');
        }
    }
    commands
}

/// A folder with the examples beside it.
fn folder() -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a folder can be made");
    let examples = folder.path().join("examples");
    fs::create_dir(&examples).expect("a folder can be made");
    for entry in fs::read_dir(root().join("examples")).expect("there are examples") {
        let path = entry.expect("an entry can be read").path();
        let name = path.file_name().expect("it has a name");
        fs::copy(&path, examples.join(name)).expect("it can be copied");
    }
    folder
}

/// Output and exit status of one command of a page; the summary stands behind the findings, as people see them.
fn run(folder: &Path, command: &str, status: i32) -> (String, i32) {
    if let Some(arguments) = program(command) {
        let done = Command::new(cargo_bin!("loomwright"))
            .current_dir(folder)
            .args(arguments.split_whitespace())
            .assert();
        let output = done.get_output();
        let text = [&output.stdout[..], &output.stderr[..]].concat();
        let text = String::from_utf8_lossy(&text).into_owned();
        return (text, output.status.code().unwrap_or(-1));
    }
    if let Some(name) = command.strip_prefix("cat ") {
        let text = fs::read_to_string(folder.join(name)).expect("the file is there");
        return (text, 0);
    }
    assert_eq!(
        command, "echo \"status $?\"",
        "the test does not know this command"
    );
    (format!("status {status}\n"), 0)
}

fn pages() -> Vec<PathBuf> {
    ["README.md", "DEVELOPERS.md"]
        .into_iter()
        .map(|name| root().join(name))
        .filter(|path| path.exists())
        .collect()
}

#[test]
fn shown_output_is_what_the_commands_print() {
    for path in pages() {
        let page = fs::read_to_string(&path).expect("the page is there");
        let folder = folder();
        let mut status = 0;
        for block in fenced(&page) {
            if block.language == "sh" {
                for command in block.text.lines().filter(|line| program(line).is_some()) {
                    let (printed, ended) = run(folder.path(), command, 0);
                    assert!(
                        ended < 2,
                        "{}:{}: {command}\n{printed}",
                        path.display(),
                        block.line
                    );
                }
            }
            if block.language != "console" {
                continue;
            }
            for (command, shown) in commands(&block.text) {
                let (printed, ended) = run(folder.path(), &command, status);
                status = ended;
                if shown.trim().is_empty() {
                    continue;
                }
                let place = format!("{}:{}: {command}", path.display(), block.line);
                assert!(
                    matches(&printed, &shown),
                    "{place}\nprints\n{printed}\nand the page shows\n{shown}"
                );
            }
        }
    }
}

#[test]
fn shown_netlists_read_without_faults() {
    for path in pages() {
        let page = fs::read_to_string(&path).expect("the page is there");
        for block in fenced(&page) {
            if block.language != "yaml" {
                continue;
            }
            let compiled = compile(block.text.as_bytes(), Want::Findings);
            assert!(
                compiled.usable,
                "{}:{}: {:?}",
                path.display(),
                block.line,
                compiled.findings
            );
        }
    }
}

/// Whether a text is what a page shows, where `...` on a line of its own stands for any lines.
fn matches(printed: &str, shown: &str) -> bool {
    let printed: Vec<&str> = printed.trim_end().lines().map(str::trim_end).collect();
    let shown: Vec<&str> = shown.trim_end().lines().map(str::trim_end).collect();
    let mut parts = shown.split(|line| *line == "...");
    let first = parts.next().unwrap_or_default();
    let Some(mut rest) = printed.strip_prefix(first) else {
        return false;
    };
    let parts: Vec<&[&str]> = parts.collect();
    let Some((last, middle)) = parts.split_last() else {
        return rest.is_empty();
    };
    for part in middle {
        let found =
            (0..=rest.len().saturating_sub(part.len())).find(|&at| rest[at..].starts_with(part));
        match found {
            Some(at) => rest = &rest[at + part.len()..],
            None => return false,
        }
    }
    rest.ends_with(last)
}

#[test]
fn a_page_that_shows_something_else_is_noticed() {
    assert!(matches("a\nb\nc\n", "a\nb\nc\n"));
    assert!(matches("a\nb\nc\n", "a\n...\nc\n"));
    assert!(matches("a\nb\nc\n", "...\nb\n...\n"));
    assert!(matches("a\nb\nc\n", "a\n...\n"));
    assert!(!matches("a\nb\nc\n", "a\nc\n"));
    assert!(!matches("a\nb\nc\n", "a\nb\n"));
    assert!(!matches("a\nb\nc\n", "...\nd\n...\n"));
    let page =
        "text\n```console\n$ cargo run -- check x\nout\n$ echo \"status $?\"\nstatus 2\n```\n";
    let blocks = fenced(page);
    assert_eq!(
        (blocks.len(), blocks[0].language, blocks[0].line),
        (1, "console", 2)
    );
    let found = commands(&blocks[0].text);
    assert_eq!(
        found[0],
        ("cargo run -- check x".to_owned(), "out\n".to_owned())
    );
    assert_eq!(found[1].1, "status 2\n");
    let folder = folder();
    let (printed, status) = run(folder.path(), "cargo run -- check x", 0);
    assert_eq!(
        (printed.as_str(), status),
        ("loomwright: there is no file `x`\n", 2)
    );
    assert_eq!(run(folder.path(), "echo \"status $?\"", 2).0, "status 2\n");
}
