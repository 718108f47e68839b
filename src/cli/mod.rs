//! The command line: arguments, files, streams, colour, exit status. The only room with input and output.
//!
//! Exit status: 0 clean, 1 findings, 2 input that is no netlist, or a fault of reading or writing.

// The one room where these are allowed.
#![allow(clippy::disallowed_methods)]

mod explain;
mod files;
mod progress;
mod readings;
mod report;
mod settle;
mod simulator;
mod states;
mod view;

use crate::drawing::SheetSize;
use crate::export::{self, Order, json};
use crate::rules;
use crate::{Choices, Compiled, Want, compile, compile_with};
use clap::{Args, CommandFactory, Parser, Subcommand, ValueEnum};
use files::{Foreign, Others, Trouble};
use progress::Progress;
use report::Colour;
use std::fmt::Write as _;
use std::io::{self, IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// Findings, or nothing to complain of.
const CLEAN: u8 = 0;
/// Something is to be repaired or could not be proved.
const FINDINGS: u8 = 1;
/// No netlist, or a fault outside of it.
const UNUSABLE: u8 = 2;

/// The netlist that `new` writes.
const STARTER: &str = include_str!("starter.yaml");

#[derive(Debug, Parser)]
#[command(
    name = "loomwright",
    version,
    max_term_width = 100,
    about = "Compiles a netlist of a small craft's DC wiring into proofs, drawings and bench papers",
    after_help = "Exit status: 0 clean (notes allowed), 1 findings, 2 unusable input or a fault of reading or writing.\n\
        Results are compared with published rules. Local rules and a licensed marine electrician come first."
)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Check a netlist and write every paper of the boat into a folder
    Build(Build),
    /// Check a netlist and write nothing
    Check(Check),
    /// Write a small commented netlist to start from
    New {
        /// File to write; the standard output when left out
        file: Option<PathBuf>,
    },
    /// Tell what a rule checks, why, and on whose authority, with a netlist that fails and one that passes
    Explain {
        /// Rule id or name, or `list` for all of them
        rule: String,
    },
    /// Compare meter readings with the pre-power-up sheet and tell where to look first; without readings, print the form
    Readings(Readings),
    /// Write what was chosen behind each `auto` into a copy of a netlist, so that later runs keep it
    Settle(Settle),
    /// Print one state of the boat as a netlist for a circuit simulator, in SPICE syntax, for a second opinion
    Simulator(Simulator),
    /// Draw the schematic with the switches in chosen positions, or one zone, circuit or part of it on sheets of its own
    View(View),
    /// Print the JSON Schema of the netlist, for completion in an editor
    Schema,
    /// Print completions for a shell
    Completions {
        /// Shell to complete for
        shell: clap_complete::Shell,
    },
}

#[derive(Debug, Args)]
struct Check {
    /// Netlist, or `-` for the standard input
    file: PathBuf,
    /// How to print the findings
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
    /// Leave out the summary
    #[arg(long, short)]
    quiet: bool,
}

#[derive(Debug, Args)]
struct Build {
    #[command(flatten)]
    check: Check,
    /// Folder for the papers; by default the name of the netlist with `-papers` behind it
    #[arg(long, short)]
    out: Option<PathBuf>,
    /// Forms of the papers, after commas; by default pdf, svg, html, csv and json
    #[arg(
        long = "as",
        value_name = "FORMS",
        value_enum,
        ignore_case = true,
        value_delimiter = ','
    )]
    forms: Vec<PaperForm>,
    /// Papers to write, after commas, named as their files are: `schematic`, `cut-list`; by default all of them
    #[arg(long, value_name = "PAPERS", value_delimiter = ',')]
    only: Vec<String>,
    /// The papers of one use alone, by default as one PDF of its own
    #[arg(long = "for", value_name = "USE", value_enum, conflicts_with = "only")]
    purpose: Option<Purpose>,
    #[command(flatten)]
    written: Written,
}

/// How drawings are written, of the whole boat or of a view.
#[derive(Debug, Args)]
struct Written {
    /// Pixels to the inch of PNG pictures
    #[arg(long, default_value_t = export::DEFAULT_DPI, value_parser = clap::value_parser!(u16).range(20..=1200))]
    dpi: u16,
    /// Replace files of the same names that loomwright did not write
    #[arg(long)]
    force: bool,
    /// Paper of the schematic; by default A3 or Tabloid, whichever folds to the paper of the lists
    #[arg(long, value_enum, ignore_case = true)]
    sheet: Option<Sheet>,
}

/// A form that papers come in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum PaperForm {
    /// All papers in one file to print: papers.pdf
    Pdf,
    /// Drawings, a file a sheet
    Svg,
    /// Drawings as pictures, a file a sheet
    Png,
    /// Lists as pages for a browser
    Html,
    /// Tables for a spreadsheet or a label printer
    Csv,
    /// Findings and tables for programs
    Json,
    /// All lists in one text: schedules.md
    Markdown,
    /// All tables in one workbook: schedules.xlsx
    Xlsx,
}

impl PaperForm {
    fn form(self) -> export::Form {
        match self {
            Self::Pdf => export::Form::Pdf,
            Self::Svg => export::Form::Svg,
            Self::Png => export::Form::Png,
            Self::Html => export::Form::Html,
            Self::Csv => export::Form::Csv,
            Self::Json => export::Form::Json,
            Self::Markdown => export::Form::Markdown,
            Self::Xlsx => export::Form::Xlsx,
        }
    }
}

/// What papers are wanted for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Purpose {
    /// Cut list and plan, labels, connector charts, harness boards, tests, bill of materials: papers-bench.pdf
    Bench,
    /// Schematic, wallet card, fuse chart, switch table, pre-power-up sheet, faults, record: papers-aboard.pdf
    Aboard,
    /// What documents the boat, without tiles, labels and cards that are used up: papers-archive.pdf
    Archive,
}

impl Purpose {
    fn purpose(self) -> export::Purpose {
        match self {
            Self::Bench => export::Purpose::Bench,
            Self::Aboard => export::Purpose::Aboard,
            Self::Archive => export::Purpose::Archive,
        }
    }
}

/// Paper of the schematic, laid across.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Sheet {
    /// 297 × 210 mm
    A4,
    /// 420 × 297 mm
    A3,
    /// 11 × 8½ in
    Letter,
    /// 17 × 11 in
    Tabloid,
}

impl Sheet {
    fn size(self) -> SheetSize {
        match self {
            Self::A4 => SheetSize::A4,
            Self::A3 => SheetSize::A3,
            Self::Letter => SheetSize::Letter,
            Self::Tabloid => SheetSize::Tabloid,
        }
    }
}

#[derive(Debug, Args)]
struct Readings {
    /// Netlist, or `-` for the standard input
    file: PathBuf,
    /// Form with the readings filled in; without it an empty form is printed
    measured: Option<PathBuf>,
}

#[derive(Debug, Args)]
struct Settle {
    /// Netlist, or `-` for the standard input
    file: PathBuf,
    /// File to write, which must not be there yet; the standard output when left out
    #[arg(long, short)]
    out: Option<PathBuf>,
}

#[derive(Debug, Args)]
struct Simulator {
    /// Netlist, or `-` for the standard input
    file: PathBuf,
    /// Scenario of the netlist; without it every switch stands in its normal position and all loads run but starters
    #[arg(long, short)]
    scenario: Option<String>,
    /// State of charge of the batteries in per cent; that of the scenario, or 100, when left out
    #[arg(long, value_parser = clap::value_parser!(u8).range(0..=100))]
    charge: Option<u8>,
}

#[derive(Debug, Args)]
struct View {
    /// Netlist, or `-` for the standard input
    file: PathBuf,
    /// Position of a switch, as `battery-switch=combine`; may be given several times
    #[arg(long, value_name = "SWITCH=POSITION")]
    set: Vec<String>,
    /// Scenario of the netlist to start from; without it every switch stands in its normal position and all loads run
    /// but starters
    #[arg(long, short)]
    scenario: Option<String>,
    /// Only this zone: its parts, and every wire that begins or ends there. As built unless a state is chosen too
    #[arg(long, value_name = "NAME", group = "what")]
    zone: Option<String>,
    /// Only this circuit, by its name, its number, or the load that it serves
    #[arg(long, value_name = "NAME", group = "what")]
    circuit: Option<String>,
    /// Only this part, and everything that is wired to it
    #[arg(long, value_name = "NAME", group = "what")]
    part: Option<String>,
    /// Folder for the view; by default the name of the netlist with `-view` behind it
    #[arg(long, short)]
    out: Option<PathBuf>,
    /// Forms, after commas: svg, png, pdf; by default svg
    #[arg(
        long = "as",
        value_name = "FORMS",
        value_enum,
        ignore_case = true,
        value_delimiter = ','
    )]
    forms: Vec<PaperForm>,
    #[command(flatten)]
    written: Written,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Format {
    /// For people
    Text,
    /// For programs
    Json,
}

/// Runs the program with the arguments of the process.
#[must_use]
pub fn run() -> ExitCode {
    let arguments = match Arguments::try_parse() {
        Ok(arguments) => arguments,
        Err(error) => {
            // Help and version go to the standard output with status 0, all else to the error stream with 2.
            let _ = error.print();
            return ExitCode::from(u8::try_from(error.exit_code()).unwrap_or(UNUSABLE));
        }
    };
    let status = match arguments.command {
        Command::Build(arguments) => build(&arguments),
        Command::Check(arguments) => check(&arguments),
        Command::New { file } => new(file.as_deref()),
        Command::Explain { rule } => explain(&rule),
        Command::Readings(arguments) => readings::run(&arguments),
        Command::Settle(arguments) => settle::run(&arguments),
        Command::Simulator(arguments) => simulator::run(&arguments),
        Command::View(arguments) => view::run(&arguments),
        Command::Schema => say(&schema()).map(|()| CLEAN),
        Command::Completions { shell } => completions(shell),
    };
    match status {
        Ok(status) => ExitCode::from(status),
        Err(trouble) => {
            complain(&format!("loomwright: {trouble}\n"));
            ExitCode::from(UNUSABLE)
        }
    }
}

fn check(arguments: &Check) -> Result<u8, Trouble> {
    let netlist = files::read(&arguments.file)?;
    let progress = Progress::start(&shown_name(&arguments.file), arguments.quiet);
    let compiled = compile(&netlist, Want::Findings);
    progress.stop();
    tell(arguments, &compiled, &[])?;
    if !arguments.quiet {
        complain(&format!(
            "{}{}",
            counts(&compiled, &shown_name(&arguments.file)),
            next_step(&compiled)
        ));
    }
    Ok(status(&compiled))
}

fn build(arguments: &Build) -> Result<u8, Trouble> {
    let Build {
        check,
        out,
        written,
        ..
    } = arguments;
    let choices = Choices {
        sheet: written.sheet.map(Sheet::size),
        order: order(arguments)?,
    };
    let netlist = files::read(&check.file)?;
    let progress = Progress::start(&shown_name(&check.file), check.quiet);
    let compiled = compile_with(&netlist, Want::Papers, &choices);
    progress.stop();
    let folder = out
        .clone()
        .unwrap_or_else(|| folder_for(&check.file, "papers"));
    let foreign = if written.force {
        Foreign::Replace
    } else {
        Foreign::Keep
    };
    // Who asks for a part of the papers wants the rest left as it is.
    let others = if choices.order.is_part() {
        Others::Keep
    } else {
        Others::TakeAway
    };
    let written: Vec<String> = compiled
        .papers
        .iter()
        .map(|paper| paper.name.clone())
        .collect();
    // The findings are told even where the papers cannot be written.
    let outcome = if compiled.usable {
        known_names(&compiled, &choices.order)
            .and_then(|()| files::write_papers(&folder, &compiled.papers, (foreign, others)))
    } else {
        Ok(Vec::new())
    };
    let made = if outcome.is_ok() { &written[..] } else { &[] };
    tell(check, &compiled, made)?;
    let removed = outcome?;
    if !check.quiet {
        complain(
            &[
                counts(&compiled, &shown_name(&check.file)),
                outcome_words(&compiled, &folder, &removed),
                next_step(&compiled),
            ]
            .concat(),
        );
    }
    for unmade in &compiled.unmade {
        complain(&format!("loomwright: {unmade}\n"));
    }
    Ok(if compiled.unmade.is_empty() {
        status(&compiled)
    } else {
        UNUSABLE
    })
}

/// The papers asked for; forms that this program cannot write are refused.
fn order(arguments: &Build) -> Result<Order, Trouble> {
    let mut forms: Vec<export::Form> = arguments.forms.iter().map(|form| form.form()).collect();
    if forms.is_empty() && arguments.purpose.is_some() {
        forms.push(export::Form::Pdf);
    }
    forms.dedup();
    if let Some(form) = forms.iter().find(|form| !form.is_built_in()) {
        return Err(Trouble::NotBuiltIn(form.name()));
    }
    let mut order = Order::default();
    if forms.is_empty() {
        let document = export::Form::Pdf;
        order
            .forms
            .extend(document.is_built_in().then_some(document));
        order.most_rows = export::ROWS_UNASKED;
    } else {
        order.forms = forms;
    }
    order.only = arguments
        .only
        .iter()
        .map(|name| name.trim().to_owned())
        .collect();
    order.purpose = arguments.purpose.map(Purpose::purpose);
    order.dpi = arguments.written.dpi;
    Ok(order)
}

/// Refuses names of papers that there are none of.
fn known_names(compiled: &Compiled, order: &Order) -> Result<(), Trouble> {
    let unknown = order
        .only
        .iter()
        .find(|name| !compiled.stems.contains(&name.as_str()));
    match unknown {
        Some(name) => Err(Trouble::NoSuchPaper {
            name: report::printable(name).into_owned(),
            known: compiled.stems.join(", "),
        }),
        None if compiled.papers.is_empty() && compiled.unmade.is_empty() => {
            Err(Trouble::NothingOfIt {
                names: order.only.join(", "),
                forms: order
                    .forms
                    .iter()
                    .map(|form| form.name())
                    .collect::<Vec<_>>()
                    .join(", "),
            })
        }
        None => Ok(()),
    }
}

/// What was written, and what was taken away.
fn outcome_words(compiled: &Compiled, folder: &Path, removed: &[String]) -> String {
    if !compiled.usable {
        return "no paper was written: a netlist with faults of its own would give wrong ones\n"
            .to_owned();
    }
    let shown = folder.display().to_string();
    let mut words = match compiled.papers.len() {
        1 => format!("1 paper written to {}\n", report::printable(&shown)),
        more => format!("{more} papers written to {}\n", report::printable(&shown)),
    };
    if let Some(document) = compiled
        .papers
        .iter()
        .find(|paper| Path::new(&paper.name).extension() == Some("pdf".as_ref()))
    {
        let path = folder.join(&document.name).display().to_string();
        let _ = writeln!(words, "to read and print: {}", report::printable(&path));
    }
    for spared in &compiled.spared {
        let _ = writeln!(words, "{spared}");
    }
    if !removed.is_empty() {
        let _ = writeln!(
            words,
            "taken away, because this boat no longer makes them: {}",
            removed.join(", ")
        );
    }
    words
}

fn new(file: Option<&Path>) -> Result<u8, Trouble> {
    match file {
        None => say(STARTER)?,
        Some(file) => {
            files::create(file, STARTER)?;
            let name = shown_name(file);
            complain(&format!(
                "{name} written; change it to your boat, then run: loomwright build {name}\n"
            ));
        }
    }
    Ok(CLEAN)
}

fn explain(rule: &str) -> Result<u8, Trouble> {
    if rule == "list" {
        say(&explain::list())?;
        return Ok(CLEAN);
    }
    match explain::explain(rule) {
        Ok(text) => {
            say(&text)?;
            Ok(CLEAN)
        }
        Err(help) => {
            complain(&format!("loomwright: {help}\n"));
            Ok(UNUSABLE)
        }
    }
}

fn schema() -> String {
    let mut text =
        serde_json::to_string_pretty(&crate::netlist::schema()).expect("a schema is plain JSON");
    text.push('\n');
    text
}

fn completions(shell: clap_complete::Shell) -> Result<u8, Trouble> {
    let mut script = Vec::new();
    clap_complete::generate(shell, &mut Arguments::command(), "loomwright", &mut script);
    say(&String::from_utf8_lossy(&script))?;
    Ok(CLEAN)
}

/// Prints the findings in the form asked for.
fn tell(arguments: &Check, compiled: &Compiled, papers: &[String]) -> Result<(), Trouble> {
    let file = shown_name(&arguments.file);
    match arguments.format {
        Format::Text => say(&report::findings(
            &file,
            &compiled.text,
            &compiled.findings,
            colour(),
        )),
        Format::Json => say(&json::report(&json::Report {
            file: &file,
            text: &compiled.text,
            fingerprint: compiled.fingerprint,
            findings: &compiled.findings,
            tally: compiled.tally,
            usable: compiled.usable,
            papers,
        })),
    }
}

fn status(compiled: &Compiled) -> u8 {
    match (compiled.usable, compiled.tally.is_clean()) {
        (false, _) => UNUSABLE,
        (true, false) => FINDINGS,
        (true, true) => CLEAN,
    }
}

fn counts(compiled: &Compiled, file: &str) -> String {
    let tally = compiled.tally;
    let mut parts = vec![if tally.is_clean() {
        "clean".to_owned()
    } else {
        tally.words()
    }];
    let accepted = match tally.accepted {
        0 => String::new(),
        accepted => format!(", {accepted} of them accepted"),
    };
    match tally.notes {
        0 => {}
        1 => parts.push(format!("1 note{accepted}")),
        notes => parts.push(format!("{notes} notes{accepted}")),
    }
    format!("{file}: {}\n", parts.join("; "))
}

/// What to do now, in one line.
fn next_step(compiled: &Compiled) -> String {
    let tally = compiled.tally;
    let heaviest = compiled
        .findings
        .iter()
        .filter(|finding| finding.severity.counts())
        .max_by(|a, b| a.severity.cmp(&b.severity).then_with(|| b.rule.cmp(a.rule)));
    match heaviest {
        Some(_) if !compiled.usable => {
            "next: repair the faults of the file; only then can the wiring be judged\n".to_owned()
        }
        Some(finding) if rules::all().iter().any(|rule| rule.id == finding.rule) => {
            let first = if tally.errors > 0 {
                "repair the errors first"
            } else if tally.warnings > 0 {
                "look at the warnings"
            } else {
                "give the values that are missing"
            };
            format!(
                "next: {first}; `loomwright explain {}` tells more\n",
                finding.rule
            )
        }
        Some(_) => "next: look at what is reported above\n".to_owned(),
        None => "compared with published rules, as far as the file tells; \
            local rules and a licensed marine electrician come first\n"
            .to_owned(),
    }
}

/// The name of the input as it stands in the report.
fn shown_name(file: &Path) -> String {
    if file == Path::new("-") {
        "standard input".to_owned()
    } else {
        report::printable(&file.display().to_string()).into_owned()
    }
}

/// `boat.yaml` has its papers in `boat-papers` where the program is run.
fn folder_for(file: &Path, what: &str) -> PathBuf {
    match file.file_stem() {
        Some(stem) if file != Path::new("-") => {
            let mut name = stem.to_owned();
            name.push("-");
            name.push(what);
            PathBuf::from(name)
        }
        _ => PathBuf::from(what),
    }
}

/// Colour belongs on a terminal whose user has not asked to be spared it.
fn colour() -> Colour {
    let spared = std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty())
        || std::env::var_os("TERM").is_some_and(|value| value == "dumb");
    if io::stdout().is_terminal() && !spared {
        Colour::On
    } else {
        Colour::Off
    }
}

/// Prints to the standard output. A reader that has gone away is no fault.
fn say(text: &str) -> Result<(), Trouble> {
    let mut out = io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => Err(Trouble::Unprintable(error)),
        _ => Ok(()),
    }
}

/// Prints to the error stream; nobody can be told if that fails.
fn complain(text: &str) {
    let _ = io::stderr().lock().write_all(text.as_bytes());
}
