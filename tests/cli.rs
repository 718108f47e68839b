//! The program as it is run: streams, exit status, files.

// A test reads and writes files; the library does not.
// The snapshot writer puts the hashes there.
#![allow(clippy::needless_raw_string_hashes)]
#![allow(clippy::disallowed_methods)]
// The names of the papers are our own and always in small letters.
#![allow(clippy::case_sensitive_file_extension_comparisons)]

use serde_json::Value;
use snapbox::cmd::{Command, OutputAssert, cargo_bin};
use snapbox::{assert_data_eq, str};
use std::fs;
use std::path::{Path, PathBuf};

const CLEAN: i32 = 0;
const FINDINGS: i32 = 1;
const UNUSABLE: i32 = 2;

/// The program, in an empty folder of its own.
struct Bench {
    folder: tempfile::TempDir,
}

impl Bench {
    fn new() -> Self {
        Self {
            folder: tempfile::tempdir().expect("a folder can be made"),
        }
    }

    fn at(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn write(&self, name: &str, content: impl AsRef<[u8]>) {
        fs::write(self.at(name), content).expect("a file can be written");
    }

    fn read(&self, name: &str) -> String {
        fs::read_to_string(self.at(name)).expect("the file is there")
    }

    fn bytes(&self, name: &str) -> Vec<u8> {
        fs::read(self.at(name)).expect("the file is there")
    }

    fn names(&self, folder: &str) -> Vec<String> {
        let mut names: Vec<String> = fs::read_dir(self.at(folder))
            .expect("the folder is there")
            .map(|entry| {
                let name = entry.expect("an entry can be read").file_name();
                name.to_string_lossy().into_owned()
            })
            .collect();
        names.sort();
        names
    }

    fn command(&self, arguments: &[&str]) -> Command {
        Command::new(cargo_bin!("loomwright"))
            .current_dir(self.folder.path())
            .env_remove("NO_COLOR")
            .env("TERM", "xterm-256color")
            .args(arguments)
    }

    fn run(&self, arguments: &[&str]) -> OutputAssert {
        self.command(arguments).assert()
    }

    /// Runs with a text on the standard input.
    fn fed(&self, text: impl Into<String>, arguments: &[&str]) -> OutputAssert {
        self.command(arguments).stdin(text.into()).assert()
    }

    fn with_starter() -> Self {
        let bench = Self::new();
        bench.run(&["new", "boat.yaml"]).code(CLEAN);
        bench
    }
}

fn out(done: &OutputAssert) -> String {
    String::from_utf8(done.get_output().stdout.clone()).expect("the output is UTF-8")
}

fn err(done: &OutputAssert) -> String {
    String::from_utf8(done.get_output().stderr.clone()).expect("the output is UTF-8")
}

fn json(done: &OutputAssert) -> Value {
    serde_json::from_str(&out(done)).expect("the output is JSON")
}

fn starter() -> String {
    out(&Bench::new().run(&["new"]).code(CLEAN))
}

/// A netlist that cannot be one boat: a run ends at a part that is not there.
fn with_unknown_part() -> String {
    starter().replace("to: main-fuse.in", "to: main-fuze.in")
}

#[test]
fn the_starter_is_clean() {
    let bench = Bench::with_starter();
    let done = bench.run(&["check", "boat.yaml"]).code(CLEAN);
    assert!(err(&done).starts_with("boat.yaml: clean"), "{}", err(&done));
}

#[test]
fn a_new_netlist_never_replaces_a_file() {
    let bench = Bench::new();
    bench.write("boat.yaml", "mine");
    bench
        .run(&["new", "boat.yaml"])
        .code(UNUSABLE)
        .stdout_eq(str![""])
        .stderr_eq(str![[r#"
loomwright: `boat.yaml` is there already and stays as it is; name another file

"#]]);
    assert_eq!(bench.read("boat.yaml"), "mine");
}

#[test]
fn build_writes_every_paper_and_says_so() {
    let bench = Bench::with_starter();
    let done = bench.run(&["build", "boat.yaml"]).code(CLEAN);
    let names = bench.names("boat-papers");
    for name in [
        "schematic-01.svg",
        "cut-list.html",
        "cut-list.csv",
        "label-schedule.csv",
        "findings.html",
    ] {
        assert!(names.contains(&name.to_owned()), "{names:?}");
    }
    let papers = names.len() - 1;
    assert!(
        err(&done).contains(&format!("{papers} papers written to boat-papers")),
        "{}",
        err(&done)
    );
    let list = bench.read("boat-papers/loomwright-papers.txt");
    for name in names.iter().filter(|name| *name != "loomwright-papers.txt") {
        assert!(
            list.contains(&format!(" {name}\n")),
            "{name} is not in the list"
        );
    }
}

#[test]
fn the_same_input_gives_the_same_bytes() {
    let bench = Bench::with_starter();
    bench.run(&["build", "boat.yaml", "--out", "one"]);
    bench.run(&["build", "boat.yaml", "--out", "two"]);
    assert_eq!(bench.names("one"), bench.names("two"));
    for name in bench.names("one") {
        assert!(
            bench.bytes(&format!("one/{name}")) == bench.bytes(&format!("two/{name}")),
            "{name}"
        );
    }
    let again = bench
        .run(&["build", "boat.yaml", "--out", "one"])
        .code(CLEAN);
    assert!(!err(&again).contains("taken away"));
}

#[test]
fn build_leaves_alone_what_it_did_not_write() {
    let bench = Bench::with_starter();
    fs::create_dir(bench.at("out")).expect("a folder can be made");
    bench.write("out/cut-list.csv", "mine");
    bench
        .run(&["build", "boat.yaml", "-o", "out", "-q"])
        .code(UNUSABLE)
        .stderr_eq(str![[r#"
loomwright: nothing was written: loomwright did not write cut-list.csv in `out`, or somebody changed it since; move it away, name another folder with --out, or replace it with --force

"#]]);
    assert_eq!(bench.names("out"), ["cut-list.csv"]);
    assert_eq!(bench.read("out/cut-list.csv"), "mine");
    bench
        .run(&["build", "boat.yaml", "-o", "out", "--force"])
        .code(CLEAN);
    assert_ne!(bench.read("out/cut-list.csv"), "mine");
}

#[test]
fn build_leaves_alone_what_was_changed_since() {
    let bench = Bench::with_starter();
    bench.run(&["build", "boat.yaml", "-o", "out"]).code(CLEAN);
    bench.write("out/label-schedule.csv", "filled in by hand");
    bench.write("boat.yaml", starter().replace("revision: A", "revision: B"));
    let before = bench.read("out/cut-list.html");
    let done = bench
        .run(&["build", "boat.yaml", "-o", "out"])
        .code(UNUSABLE);
    assert!(err(&done).contains("label-schedule.csv"), "{}", err(&done));
    assert_eq!(bench.read("out/label-schedule.csv"), "filled in by hand");
    assert_eq!(bench.read("out/cut-list.html"), before);
}

#[test]
fn a_new_revision_replaces_the_old_papers() {
    let bench = Bench::with_starter();
    bench.run(&["build", "boat.yaml", "-o", "out"]).code(CLEAN);
    bench.write("boat.yaml", starter().replace("revision: A", "revision: B"));
    bench.run(&["build", "boat.yaml", "-o", "out"]).code(CLEAN);
    assert!(bench.read("out/cut-list.html").contains("Revision B"));
}

#[test]
fn papers_of_an_earlier_run_that_are_made_no_more_are_taken_away() {
    let bench = Bench::with_starter();
    bench.run(&["build", "boat.yaml", "-o", "out"]).code(CLEAN);
    // As if an earlier version had written another paper, and somebody had put a file of his own beside it.
    bench.write("out/old-sheet.csv", "a");
    bench.write("out/mine.txt", "a");
    let list = bench.read("out/loomwright-papers.txt");
    bench.write(
        "out/loomwright-papers.txt",
        format!("{list}af63dc4c8601ec8c old-sheet.csv\n"),
    );
    let done = bench.run(&["build", "boat.yaml", "-o", "out"]).code(CLEAN);
    assert!(err(&done).contains("old-sheet.csv"), "{}", err(&done));
    let names = bench.names("out");
    assert!(!names.contains(&"old-sheet.csv".to_owned()));
    assert!(names.contains(&"mine.txt".to_owned()));
}

#[test]
fn a_part_of_the_papers_leaves_the_rest_alone() {
    let bench = Bench::with_starter();
    bench.run(&["build", "boat.yaml", "-o", "out"]).code(CLEAN);
    let before = bench.names("out");
    let arguments = [
        "build",
        "boat.yaml",
        "-o",
        "out",
        "--as",
        "csv,markdown",
        "--only",
        "cut-list",
    ];
    let done = bench.run(&arguments).code(CLEAN);
    assert!(
        err(&done).contains("2 papers written to out"),
        "{}",
        err(&done)
    );
    let mut wanted = before;
    wanted.push("schedules.md".to_owned());
    wanted.sort();
    assert_eq!(bench.names("out"), wanted);
    assert!(bench.read("out/schedules.md").contains("## Cut list"));
    assert!(!bench.read("out/schedules.md").contains("## Findings"));
    // The others are still known as our own, and a full run takes away what only the part had.
    let done = bench.run(&["build", "boat.yaml", "-o", "out"]).code(CLEAN);
    assert!(err(&done).contains("schedules.md"), "{}", err(&done));
}

#[test]
fn a_paper_that_there_is_not_is_named_with_those_that_are() {
    let bench = Bench::with_starter();
    let done = bench
        .run(&["build", "boat.yaml", "--only", "cut-lists"])
        .code(UNUSABLE);
    let told = err(&done);
    assert!(told.contains("there is no paper `cut-lists`"), "{told}");
    assert!(told.contains("cut-list, "), "{told}");
    assert!(!bench.at("boat-papers").exists());
    let done = bench
        .run(&["build", "boat.yaml", "--only", "schematic", "--as", "csv"])
        .code(UNUSABLE);
    assert!(
        err(&done).contains("schematic does not come as csv"),
        "{}",
        err(&done)
    );
}

#[test]
fn a_list_that_leads_out_of_the_folder_does_no_harm() {
    let bench = Bench::with_starter();
    bench.run(&["build", "boat.yaml", "-o", "out"]).code(CLEAN);
    bench.write("precious", "a");
    let list = bench.read("out/loomwright-papers.txt");
    bench.write(
        "out/loomwright-papers.txt",
        format!("{list}af63dc4c8601ec8c ../precious\n"),
    );
    bench.run(&["build", "boat.yaml", "-o", "out"]).code(CLEAN);
    assert_eq!(bench.read("precious"), "a");
}

#[test]
fn a_broken_netlist_writes_nothing() {
    let bench = Bench::new();
    bench.write("boat.yaml", with_unknown_part());
    let done = bench.run(&["build", "boat.yaml"]).code(UNUSABLE);
    assert!(
        out(&done).contains("error NF030 unknown-component"),
        "{}",
        out(&done)
    );
    assert!(
        err(&done).contains("no paper was written"),
        "{}",
        err(&done)
    );
    assert!(!bench.at("boat-papers").exists());
}

#[test]
fn findings_are_drawn_under_their_characters() {
    let bench = Bench::new();
    bench
        .fed(
            "loomwright: 1\nboat: {name: Tern, system: 12 V}\nlooms: {}\n",
            &["check", "-", "-q"],
        )
        .code(UNUSABLE)
        .stderr_eq(str![""])
        .stdout_eq(str![[r#"
error NF022 unknown-section

  × `looms` is not a section of a netlist
   ╭─[standard input:3:1]
 2 │ boat: {name: Tern, system: 12 V}
 3 │ looms: {}
   · ──┬──
   ·   ╰── this key
   ╰────
  help: the sections are [..]
...


"#]]);
}

#[test]
fn json_says_what_the_text_says() {
    let bench = Bench::new();
    let text = with_unknown_part();
    let shown = out(&bench.fed(&text, &["check", "-"]).code(UNUSABLE));
    let report = json(
        &bench
            .fed(&text, &["check", "-", "--format", "json"])
            .code(UNUSABLE),
    );
    assert_eq!(report["status"], "unusable");
    assert_eq!(report["file"], "standard input");
    let findings = report["findings"].as_array().expect("a list of findings");
    assert!(!findings.is_empty());
    for finding in findings {
        let rule = finding["rule"].as_str().expect("a rule id");
        assert!(shown.contains(rule), "{rule} is not in the text");
        for place in finding["places"].as_array().expect("a list of places") {
            let (start, end) = (&place["start_byte"], &place["end_byte"]);
            let number = |value: &Value| {
                usize::try_from(value.as_u64().expect("a byte offset")).expect("it fits")
            };
            assert!(text.is_char_boundary(number(start)) && number(end) <= text.len());
        }
    }
    let unknown = findings
        .iter()
        .find(|finding| finding["rule"] == "NF030")
        .expect("the unknown part is found");
    let line = unknown["places"][0]["line"].as_u64().expect("a line");
    let written = text.lines().position(|line| line.contains("main-fuze"));
    assert_eq!(written.map(|line| line as u64 + 1), Some(line));
}

#[test]
fn json_of_a_clean_boat_counts_nothing() {
    let bench = Bench::with_starter();
    let report = json(
        &bench
            .run(&["check", "boat.yaml", "--format", "json"])
            .code(CLEAN),
    );
    assert_eq!(report["status"], "clean");
    assert_eq!(report["counts"]["errors"], 0);
    assert_eq!(report["format"], 1);
    let built = json(
        &bench
            .run(&["build", "boat.yaml", "--format", "json"])
            .code(CLEAN),
    );
    let papers = built["papers"].as_array().expect("a list of papers");
    assert!(papers.contains(&Value::from("cut-list.html")));
}

#[test]
fn schedules_as_json_hold_the_rows_of_the_csv() {
    let bench = Bench::with_starter();
    bench.run(&["build", "boat.yaml", "-o", "out"]).code(CLEAN);
    let schedules: Value =
        serde_json::from_str(&bench.read("out/schedules.json")).expect("it is JSON");
    for stem in ["cut-list", "label-schedule", "fuse-chart", "load-list"] {
        let text = bench.read(&format!("out/{stem}.csv"));
        let mut reader = csv::Reader::from_reader(text.as_bytes());
        let names = reader.headers().expect("a heading").clone();
        let rows: Vec<csv::StringRecord> =
            reader.records().collect::<Result<_, _>>().expect("rows");
        let records = schedules[stem].as_array().expect("a list of records");
        assert_eq!(rows.len(), records.len(), "{stem}");
        for (row, record) in rows.iter().zip(records) {
            for (name, cell) in names.iter().zip(row) {
                let value = &record[name];
                let same = match value {
                    Value::Null => cell.is_empty(),
                    Value::String(text) => text == cell.trim_start_matches('\''),
                    Value::Number(number) => cell.parse::<f64>().ok() == number.as_f64(),
                    _ => false,
                };
                assert!(same, "{stem} {name}: {cell} and {value}");
            }
        }
    }
}

#[test]
fn an_accepted_finding_becomes_a_note_with_its_reason() {
    let bench = Bench::new();
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/marsh-pipit-rev-0.yaml");
    let unprotected = fs::read_to_string(path).expect("the boat as found");
    let check = |text: String| json(&bench.fed(text, &["check", "-", "--format", "json"]));
    let before = check(unprotected.clone());
    let findings = before["findings"].as_array().expect("a list of findings");
    let accepted = findings
        .iter()
        .find(|finding| finding["severity"] == "error")
        .expect("the boat as found has errors");
    let (name, element) = (&accepted["name"], &accepted["element"]);
    let after = check(format!(
        "{unprotected}\naccept: [{{rule: {name}, element: {element}, reason: \"seen by the surveyor\"}}]\n"
    ));
    assert_eq!(after["counts"]["accepted"], 1);
    let errors = |report: &Value| report["counts"]["errors"].as_u64().expect("a count");
    assert_eq!(errors(&after) + 1, errors(&before));
    let note = after["findings"]
        .as_array()
        .expect("a list of findings")
        .iter()
        .find(|finding| finding["element"] == *element && finding["name"] == *name)
        .expect("it stays in the list");
    assert_eq!(note["severity"], "note");
    let message = note["message"].as_str().expect("a message");
    assert!(
        message.starts_with("accepted: seen by the surveyor (error: "),
        "{message}"
    );
}

#[test]
fn faults_of_the_file_cannot_be_accepted() {
    let bench = Bench::new();
    let text = format!(
        "{}\naccept: [{{rule: NF030, element: B1, reason: never mind}}]\n",
        with_unknown_part()
    );
    let done = bench.fed(text, &["check", "-"]).code(UNUSABLE);
    assert!(out(&done).contains("error NF030"), "{}", out(&done));
    assert!(out(&done).contains("warning NF100"), "{}", out(&done));
}

#[test]
fn an_accepted_finding_that_is_not_there_is_told() {
    let bench = Bench::new();
    let text = format!(
        "{}\naccept: [{{rule: OC101, element: B9, reason: seen on the boat}}]\n",
        starter()
    );
    let done = bench.fed(text, &["check", "-"]).code(FINDINGS);
    assert!(
        out(&done).contains("warning NF100 accepts-nothing"),
        "{}",
        out(&done)
    );
}

#[test]
fn inputs_that_are_no_netlist_are_refused_in_clear_words() {
    let bench = Bench::new();
    fs::create_dir(bench.at("folder")).expect("a folder can be made");
    for (name, words) in [
        ("folder", "`folder` is a folder; name a netlist file"),
        ("missing.yaml", "there is no file `missing.yaml`"),
    ] {
        let done = bench.run(&["build", name]).code(UNUSABLE);
        assert_data_eq!(err(&done), format!("loomwright: {words}\n"));
        assert_eq!(out(&done), "");
    }
    for (content, rule) in [
        (&b"boat: \xff\xfe"[..], "NF002"),
        (b"", "NF016"),
        (b"- a\n- b\n", "NF017"),
        (b"boat: [\n", "NF007"),
        (b"a: 1\n---\nb: 2\n", "NF011"),
    ] {
        bench.write("broken.yaml", content);
        let done = bench.run(&["check", "broken.yaml"]).code(UNUSABLE);
        assert!(out(&done).contains(rule), "{rule}: {}", out(&done));
    }
}

#[test]
fn a_folder_that_is_a_file_is_refused() {
    let bench = Bench::with_starter();
    bench.write("papers", "a file");
    let done = bench
        .run(&["build", "boat.yaml", "--out", "papers", "-q"])
        .code(UNUSABLE);
    assert!(
        err(&done).contains("`papers` is not a folder"),
        "{}",
        err(&done)
    );
    assert_eq!(bench.read("papers"), "a file");
}

#[test]
fn a_folder_in_the_place_of_a_paper_is_refused() {
    let bench = Bench::with_starter();
    fs::create_dir_all(bench.at("out/cut-list.csv")).expect("a folder can be made");
    let done = bench
        .run(&["build", "boat.yaml", "-o", "out", "--force"])
        .code(UNUSABLE);
    assert!(err(&done).contains("is not a plain file"), "{}", err(&done));
    assert_eq!(bench.names("out"), ["cut-list.csv"]);
}

#[test]
fn quiet_leaves_the_summary_out_and_nothing_else() {
    let bench = Bench::with_starter();
    let loud = bench.run(&["check", "boat.yaml"]);
    let quiet = bench.run(&["check", "boat.yaml", "--quiet"]);
    assert_eq!(out(&loud), out(&quiet));
    assert_eq!(err(&quiet), "");
    assert_ne!(err(&loud), "");
}

#[test]
fn text_that_goes_to_a_file_has_no_colour() {
    let bench = Bench::new();
    let done = bench.fed("looms: {}\n", &["check", "-"]);
    assert!(!out(&done).contains('\u{1b}'));
    assert!(!err(&done).contains('\u{1b}'));
}

#[test]
fn wrong_arguments_end_with_two() {
    let bench = Bench::new();
    bench.run(&[]).code(UNUSABLE);
    bench.run(&["weave"]).code(UNUSABLE);
    bench.run(&["check"]).code(UNUSABLE);
    bench.run(&["--help"]).code(CLEAN);
    bench.run(&["--version"]).code(CLEAN);
}

#[test]
fn papers_and_forms_are_known_in_capitals_too() {
    let bench = Bench::new();
    bench.write("boat.yaml", starter());
    let arguments = [
        "build",
        "boat.yaml",
        "--out",
        "papers",
        "--as",
        "CSV",
        "--sheet",
        "A4",
    ];
    bench.command(&arguments).assert().code(CLEAN);
    assert!(bench.names("papers").contains(&"cut-list.csv".to_owned()));
}

#[test]
fn explain_knows_ids_and_names_and_guesses_near_ones() {
    let bench = Bench::new();
    let by_id = out(&bench.run(&["explain", "NF004"]).code(CLEAN));
    let by_name = out(&bench.run(&["explain", "duplicate-key"]).code(CLEAN));
    assert_eq!(by_id, by_name);
    let list = out(&bench.run(&["explain", "list"]).code(CLEAN));
    assert!(list.contains("NF004  duplicate-key"));
    let done = bench.run(&["explain", "duplicat-key"]).code(UNUSABLE);
    assert!(
        err(&done).contains("did you mean `duplicate-key`?"),
        "{}",
        err(&done)
    );
}

#[test]
fn the_schema_and_the_completions_are_printed() {
    let bench = Bench::new();
    let schema = json(&bench.run(&["schema"]).code(CLEAN));
    assert!(schema["properties"]["circuits"].is_object());
    for shell in ["bash", "zsh", "fish"] {
        let script = out(&bench.run(&["completions", shell]).code(CLEAN));
        assert!(script.contains("loomwright"), "{shell}");
    }
}

/// A reader that has read enough, such as `head`, is no fault.
#[cfg(unix)]
#[test]
fn a_closed_pipe_ends_quietly() {
    use std::io::Read;
    use std::process::{Command, Stdio};
    let mut child = Command::new(cargo_bin!("loomwright"))
        .arg("schema")
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts");
    drop(child.stdout.take());
    let mut complaint = String::new();
    child
        .stderr
        .take()
        .expect("it is piped")
        .read_to_string(&mut complaint)
        .expect("it can be read");
    let status = child.wait().expect("the program ends");
    assert_eq!(complaint, "");
    assert_eq!(status.code(), Some(CLEAN));
}

#[test]
fn every_example_has_papers() {
    let bench = Bench::new();
    let examples = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples");
    let mut seen = 0;
    for entry in fs::read_dir(examples).expect("there are examples") {
        let path = entry.expect("an entry can be read").path();
        let name = path.to_string_lossy().into_owned();
        let done = bench.run(&["build", &name, "-o", &format!("out-{seen}"), "-q"]);
        let code = done.get_output().status.code();
        assert!(
            code == Some(CLEAN) || code == Some(FINDINGS),
            "{name}: {}",
            out(&done)
        );
        assert!(bench.names(&format!("out-{seen}")).len() > 10);
        seen += 1;
    }
    assert!(seen >= 7);
}

#[test]
fn a_settled_copy_is_written_and_never_over_a_file() {
    let bench = Bench::with_starter();
    let text = bench.read("boat.yaml");
    let open = text.replacen("gauge: 16 AWG", "gauge: auto", 1);
    assert_ne!(open, text, "the starter has a size to open");
    bench.write("boat.yaml", &open);
    let done = bench.run(&["settle", "boat.yaml"]).code(CLEAN);
    assert!(out(&done).contains("gauge: auto 1"), "{}", out(&done));
    bench
        .run(&["settle", "boat.yaml", "--out", "settled.yaml"])
        .code(CLEAN);
    let done = bench
        .run(&["settle", "boat.yaml", "--out", "boat.yaml"])
        .code(UNUSABLE);
    assert!(err(&done).contains("boat.yaml"), "{}", err(&done));
    bench.run(&["check", "settled.yaml"]).code(CLEAN);
}

#[test]
fn a_state_is_printed_for_a_circuit_simulator() {
    let bench = Bench::with_starter();
    let done = bench.run(&["simulator", "boat.yaml"]).code(CLEAN);
    let text = out(&done);
    assert!(text.starts_with("* "), "{text}");
    assert!(text.ends_with(".op\n.end\n"), "{text}");
    assert!(text.contains("licensed marine electrician"), "{text}");
    let done = bench
        .run(&["simulator", "boat.yaml", "--scenario", "nowhere"])
        .code(UNUSABLE);
    assert!(
        err(&done).contains("no scenario `nowhere`"),
        "{}",
        err(&done)
    );
    bench.write("broken.yaml", with_unknown_part());
    let done = bench.run(&["simulator", "broken.yaml"]).code(UNUSABLE);
    assert!(err(&done).contains("loomwright check"), "{}", err(&done));
    assert!(out(&done).is_empty());
}

#[test]
fn readings_are_compared_and_suspects_told() {
    let bench = Bench::with_starter();
    let done = bench.run(&["readings", "boat.yaml"]).code(CLEAN);
    let form = out(&done);
    assert!(form.contains("loomwright-readings: 1"), "{form}");
    bench.write("blank.yaml", &form);
    let done = bench
        .run(&["readings", "boat.yaml", "blank.yaml"])
        .code(CLEAN);
    assert!(err(&done).contains("0 readings"), "{}", err(&done));

    // The first circuit of stage 4: the battery holds, nothing arrives at the load.
    let filled =
        form.replacen("  4-01: ", "  4-01: 12.60 V ", 1)
            .replacen("  4-02: ", "  4-02: 0.00 V ", 1);
    bench.write("filled.yaml", &filled);
    let done = bench
        .run(&["readings", "boat.yaml", "filled.yaml"])
        .code(FINDINGS);
    assert!(out(&done).contains("4-02 OFF"), "{}", out(&done));
    assert!(out(&done).contains("Look here first"), "{}", out(&done));

    // Readings of another netlist are not compared: its steps may be others.
    bench.write(
        "other.yaml",
        starter().replace("Wren", "Other") + "\n# changed\n",
    );
    let done = bench
        .run(&["readings", "other.yaml", "filled.yaml"])
        .code(UNUSABLE);
    assert!(err(&done).contains("belong to netlist"), "{}", err(&done));

    bench.write(
        "wrong.yaml",
        "loomwright-readings: 1\nreadings: {4-99: 1 V}\n",
    );
    let done = bench
        .run(&["readings", "boat.yaml", "wrong.yaml"])
        .code(UNUSABLE);
    assert!(out(&done).contains("no step 4-99"), "{}", out(&done));
}

/// Runs that were killed leave drafts under names of their own; they are no paper, and the next run takes them away.
#[test]
fn drafts_of_a_run_that_was_killed_are_taken_away() {
    let bench = Bench::with_starter();
    bench.run(&["build", "boat.yaml", "-o", "out"]).code(CLEAN);
    let before = bench.names("out");
    // No process has a number as large as this.
    let left = ".cut-list.csv.4294967290.draft";
    bench.write(&format!("out/{left}"), "half a pap");
    bench.write("out/.mine.txt.4294967290.draft", "mine");
    bench.write("out/.cut-list.csv.draft", "mine");
    bench.run(&["build", "boat.yaml", "-o", "out"]).code(CLEAN);
    let mut wanted = before;
    wanted.extend([
        ".cut-list.csv.draft".to_owned(),
        ".mine.txt.4294967290.draft".to_owned(),
    ]);
    wanted.sort();
    assert_eq!(bench.names("out"), wanted);
}

/// Killed at any moment: every paper is whole, old or new, nothing is left that blocks the next run.
#[cfg(unix)]
#[test]
fn a_run_that_is_killed_leaves_whole_papers_and_can_be_repeated() {
    use std::collections::BTreeMap;
    use std::process::Stdio;
    let bench = Bench::with_starter();
    let read_all = || -> BTreeMap<String, Vec<u8>> {
        let names = bench.names("out").into_iter();
        let papers = names.filter(|name| !name.ends_with(".draft") && !name.ends_with(".txt"));
        papers
            .map(|name| {
                let content = bench.bytes(&format!("out/{name}"));
                (name, content)
            })
            .collect()
    };
    bench.run(&["build", "boat.yaml", "-o", "out"]).code(CLEAN);
    let old = read_all();
    bench.write("boat.yaml", starter().replace("revision: A", "revision: B"));
    bench.run(&["build", "boat.yaml", "-o", "new"]).code(CLEAN);
    let mut new = BTreeMap::new();
    for name in bench.names("new") {
        new.insert(name.clone(), bench.bytes(&format!("new/{name}")));
    }
    for wait in [1, 5, 10, 20, 40, 80, 160, 320] {
        let mut child = std::process::Command::new(env!("CARGO_BIN_EXE_loomwright"))
            .args(["build", "boat.yaml", "-o", "out"])
            .current_dir(bench.at("."))
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .expect("it starts");
        std::thread::sleep(std::time::Duration::from_millis(wait));
        let _ = child.kill();
        child.wait().expect("it ends");
        for (name, content) in read_all() {
            let is_old = old.get(&name) == Some(&content);
            let is_new = new.get(&name) == Some(&content);
            assert!(is_old || is_new, "{name} after {wait} ms is neither");
        }
    }
    bench.run(&["build", "boat.yaml", "-o", "out"]).code(CLEAN);
    assert!(bench.names("out") == bench.names("new"));
    assert!(
        read_all()
            .iter()
            .all(|(name, content)| new[name] == *content)
    );
}

/// A link in the place of a paper is somebody's: what it leads to is not written to, even when told to replace.
#[cfg(unix)]
#[test]
fn a_link_in_the_place_of_a_paper_is_refused() {
    let bench = Bench::with_starter();
    fs::create_dir(bench.at("out")).expect("a folder can be made");
    bench.write("mine.txt", "mine");
    std::os::unix::fs::symlink(bench.at("mine.txt"), bench.at("out/cut-list.csv"))
        .expect("a link can be made");
    for force in [&[][..], &["--force"][..]] {
        let mut arguments = vec!["build", "boat.yaml", "-o", "out", "-q"];
        arguments.extend(force);
        let done = bench.run(&arguments).code(UNUSABLE);
        assert!(
            err(&done).contains("cut-list.csv` is not a plain file"),
            "{}",
            err(&done)
        );
        assert_eq!(bench.names("out"), ["cut-list.csv"]);
        assert_eq!(bench.read("mine.txt"), "mine");
    }
    // A folder that is a link is where the user wants it to lead.
    fs::create_dir(bench.at("elsewhere")).expect("a folder can be made");
    std::os::unix::fs::symlink(bench.at("elsewhere"), bench.at("link"))
        .expect("a link can be made");
    bench
        .run(&["build", "boat.yaml", "-o", "link", "-q"])
        .code(CLEAN);
    assert!(
        bench
            .names("elsewhere")
            .contains(&"cut-list.csv".to_owned())
    );
}

/// A folder that nobody may write to, and a stream that takes nothing, are told in words and end with 2.
#[cfg(target_os = "linux")]
#[test]
fn what_cannot_be_written_is_told() {
    use std::os::unix::fs::PermissionsExt;
    let bench = Bench::with_starter();
    fs::create_dir(bench.at("out")).expect("a folder can be made");
    fs::set_permissions(bench.at("out"), fs::Permissions::from_mode(0o555))
        .expect("rights can be set");
    // The user who may do everything is not stopped by rights.
    let is_stopped = fs::write(bench.at("out/try"), "").is_err();
    if is_stopped {
        let done = bench
            .run(&["build", "boat.yaml", "-o", "out", "-q"])
            .code(UNUSABLE);
        assert!(
            err(&done).contains("nothing was written: cannot write"),
            "{}",
            err(&done)
        );
        assert_eq!(bench.names("out"), [""; 0]);
    }
    let full = fs::OpenOptions::new()
        .write(true)
        .open("/dev/full")
        .expect("the device is there");
    let done = std::process::Command::new(env!("CARGO_BIN_EXE_loomwright"))
        .args(["schema"])
        .stdout(full)
        .output()
        .expect("it runs");
    assert_eq!(done.status.code(), Some(UNUSABLE));
    let said = String::from_utf8_lossy(&done.stderr).into_owned();
    assert!(said.starts_with("loomwright: cannot print: "), "{said}");
}

#[cfg(feature = "pdf")]
#[test]
fn papers_for_one_use_come_as_one_document_beside_the_others() {
    let bench = Bench::with_starter();
    bench.run(&["build", "boat.yaml", "-o", "out"]).code(CLEAN);
    let mut wanted = bench.names("out");
    for purpose in ["bench", "aboard", "archive"] {
        let done = bench
            .run(&["build", "boat.yaml", "-o", "out", "--for", purpose])
            .code(CLEAN);
        let name = format!("papers-{purpose}.pdf");
        assert!(err(&done).contains(&name), "{}", err(&done));
        wanted.push(name);
    }
    wanted.sort();
    assert_eq!(bench.names("out"), wanted);
    bench
        .run(&["build", "boat.yaml", "--for", "bench", "--only", "cut-list"])
        .code(UNUSABLE);
}
