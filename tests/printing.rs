//! What comes off the printer: page sizes and places in the PDF, the same bytes again, and names from anybody that
//! stay names in every form of paper.
//!
//! Where pdftotext, pdfinfo, pdftocairo or unzip are installed, they read the files; elsewhere those tests look at less.

// A test reads and writes files; the library does not.
#![allow(clippy::disallowed_methods)]

use loomwright::export::{Form, Order, PaperFile};
use loomwright::{Choices, Compiled, Want, compile_with};
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::Command;

mod programs;

use programs::is_installed;

const SMALLEST: &str = include_str!("../examples/smallest.yaml");

fn every_form() -> Choices {
    Choices {
        order: Order {
            forms: Form::ALL
                .iter()
                .map(|(form, _)| *form)
                .filter(|form| form.is_built_in())
                .collect(),
            dpi: 50,
            ..Order::default()
        },
        ..Choices::default()
    }
}

fn only(paper: &str, form: Form) -> Choices {
    Choices {
        order: Order {
            forms: vec![form],
            only: vec![paper.to_owned()],
            ..Order::default()
        },
        ..Choices::default()
    }
}

fn all(netlist: &str) -> Compiled {
    let compiled = compile_with(netlist.as_bytes(), Want::Papers, &every_form());
    assert!(compiled.usable, "{:#?}", compiled.findings.first());
    assert_eq!(compiled.unmade, []);
    compiled
}

fn named<'c>(compiled: &'c Compiled, name: &str) -> &'c PaperFile {
    compiled
        .papers
        .iter()
        .find(|paper| paper.name == name)
        .unwrap_or_else(|| panic!("{name} is made"))
}

/// What a program prints about a file; none where it is not installed.
fn told_by(program: &str, arguments: &[&str], content: &[u8]) -> Option<String> {
    if !is_installed(program) {
        return None;
    }
    let folder = tempfile::tempdir().expect("a folder can be made");
    let file: PathBuf = folder.path().join("file");
    std::fs::write(&file, content).expect("a file can be written");
    let done = Command::new(program)
        .args(arguments.iter().map(|word| match *word {
            "FILE" => file.as_os_str().to_owned(),
            word => word.into(),
        }))
        .output()
        .expect("the program runs");
    assert!(done.status.success(), "{program}: {done:?}");
    Some(String::from_utf8_lossy(&done.stdout).into_owned())
}

/// Names as somebody might write them who means no good, or a long way from here.
const HOSTILE: [&str; 9] = [
    "\"quoted\" & 'apostrophe' </svg><script>alert(1)</script>",
    "=cmd|' /C calc'!A0",
    "+1;=2+3",
    "@SUM(A1)",
    "a|b|c `code` *bold* [link](https://example.org) <img src=x>",
    "right to left \u{202E}gnorw\u{202C} \u{200F} and hidden\u{200B}",
    "bell \u{7} tab \t escape \u{1b}[31m null-like \u{80}",
    "🚤 漢字 עברית",
    "",
];

/// A YAML text in double quotes.
fn yaml(text: &str) -> String {
    let mut out = String::from("\"");
    for letter in text.chars() {
        match letter {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            plain @ ' '..='~' => out.push(plain),
            other => {
                let _ = write!(out, "\\U{:08X}", u32::from(other));
            }
        }
    }
    out + "\""
}

/// The smallest boat with a name wherever the file has free words.
fn boat_of(words: &str) -> String {
    let quoted = yaml(words);
    let netlist = SMALLEST
        .replace(
            "{name: Dab,",
            &format!("{{name: {quoted}, subtitle: {quoted}, owner: {quoted}, creator: {quoted}, number: {quoted}, revision: {quoted}, date: {quoted},"),
        )
        .replace("{name: cabin light,", &format!("{{name: {quoted},"));
    assert_ne!(netlist, SMALLEST);
    netlist
}

#[test]
fn a_hostile_name_is_only_a_name_in_every_form() {
    let long = "very long ".repeat(300);
    for words in HOSTILE.into_iter().chain([long.as_str()]) {
        let mut choices = every_form();
        // Pictures are slow to draw and hold no text to be obeyed.
        choices.order.forms.retain(|form| *form != Form::Png);
        let compiled = compile_with(boat_of(words).as_bytes(), Want::Papers, &choices);
        if !compiled.usable {
            // A name may be refused, but never without a word.
            assert!(!compiled.findings.is_empty() && compiled.papers.is_empty());
            continue;
        }
        assert_eq!(compiled.unmade, [], "{words}");
        for paper in &compiled.papers {
            harmless(paper, words);
        }
    }
}

fn harmless(paper: &PaperFile, words: &str) {
    let name = &paper.name;
    let ending = Path::new(name)
        .extension()
        .and_then(|ending| ending.to_str())
        .unwrap_or_default();
    let obeyed = |letter: char| {
        (letter.is_control() && !"\r\n".contains(letter))
            || matches!(letter, '\u{202A}'..='\u{202E}' | '\u{200B}'..='\u{200F}')
    };
    match ending {
        "svg" | "html" => {
            let text = paper.text().expect("it is a text");
            assert!(
                !text.contains("<script") && !text.contains("<img"),
                "{name}"
            );
            assert!(!text.chars().any(obeyed), "{name}: {words:?}");
            if ending == "svg" {
                roxmltree::Document::parse(text)
                    .unwrap_or_else(|fault| panic!("{name}, {words:?}: {fault}"));
            }
        }
        "csv" => {
            let text = paper.text().expect("it is a text");
            assert!(!text.chars().any(obeyed), "{name}: {words:?}");
            let mut rows = csv::ReaderBuilder::new().from_reader(text.as_bytes());
            for row in rows.records() {
                // The reader refuses rows of another length by itself.
                let row = row.unwrap_or_else(|fault| panic!("{name}: {fault}"));
                for cell in &row {
                    let number = cell.parse::<f64>().is_ok();
                    let formula = cell.starts_with(['=', '+', '-', '@', '\t', '\r']);
                    assert!(number || !formula, "{name}: {cell}");
                    for rest in cell.split(';').skip(1) {
                        assert!(!rest.starts_with(['=', '+', '-', '@']), "{name}: {cell}");
                    }
                }
            }
        }
        "json" => {
            let text = paper.text().expect("it is a text");
            let read: Result<serde_json::Value, _> = serde_json::from_str(text);
            assert!(read.is_ok(), "{name}");
        }
        "md" => {
            let text = paper.text().expect("it is a text");
            let bare = text.replace("\\]", "");
            assert!(!bare.contains("<script") && !bare.contains("]("), "{name}");
            assert!(!text.contains("https://"), "{name}");
            assert!(!text.chars().any(obeyed), "{name}: {words:?}");
            // Every row of a table has as many cells as its heading.
            let mut cells = 0;
            for line in text.lines() {
                let bars = line.replace("\\|", "").matches('|').count();
                if bars > 0 {
                    assert!(cells == 0 || bars == cells, "{name}: {line}");
                    cells = bars;
                } else {
                    cells = 0;
                }
            }
        }
        "pdf" => {
            assert!(paper.content.starts_with(b"%PDF-"));
            if let Some(text) = told_by("pdftotext", &["FILE", "-"], &paper.content) {
                assert!(text.contains("Cut list"), "{words:?}");
                assert!(!text.contains('\u{202E}'), "{words:?}");
            }
        }
        "xlsx" => {
            assert!(paper.content.starts_with(b"PK\x03\x04"));
            if let Some(listed) = told_by("unzip", &["-t", "FILE"], &paper.content) {
                assert!(listed.contains("No errors"), "{listed}");
            }
            let pages = ["-p", "FILE", "xl/worksheets/*.xml"];
            if let Some(text) = told_by("unzip", &pages, &paper.content) {
                assert!(!text.contains("<f>"), "a cell is a formula: {words:?}");
                assert!(text.contains("state=\"frozen\""));
                for page in text.split("<?xml").skip(1) {
                    let page = format!("<?xml{page}");
                    roxmltree::Document::parse(&page).expect("the page is XML");
                }
            }
            let shared = ["-p", "FILE", "xl/sharedStrings.xml"];
            if let Some(text) = told_by("unzip", &shared, &paper.content) {
                roxmltree::Document::parse(&text).expect("the texts are XML");
            }
        }
        "png" => assert!(paper.content.starts_with(b"\x89PNG")),
        other => panic!("a new form of paper, {other}, needs a look"),
    }
}

#[test]
fn all_forms_have_the_same_bytes_again() {
    let (one, two) = (all(SMALLEST), all(SMALLEST));
    assert_eq!(one.papers.len(), two.papers.len());
    for (one, two) in one.papers.iter().zip(&two.papers) {
        assert_eq!(one.name, two.name);
        assert!(one.content == two.content, "{} differs", one.name);
    }
}

/// Sizes of paper: ISO 216 and ASME Y14.1, in points of 1/72 inch.
#[cfg(feature = "pdf")]
#[test]
fn the_document_has_its_pages_sizes_titles_and_words() {
    let compiled = all(SMALLEST);
    let document = named(&compiled, "papers.pdf");
    let arguments = ["-f", "1", "-l", "9999", "FILE"];
    if let Some(about) = told_by("pdfinfo", &arguments, &document.content) {
        assert!(about.contains("Papers of Dab"), "{about}");
        assert!(!about.contains("CreationDate"), "{about}");
        let sizes: Vec<&str> = about
            .lines()
            .filter(|line| line.starts_with("Page ") && line.contains(" size:"))
            .collect();
        let letter = sizes
            .iter()
            .filter(|line| line.contains("612 x 792") || line.contains("792 x 612"))
            .count();
        let tabloid = sizes
            .iter()
            .filter(|line| line.contains("1224 x 792"))
            .count();
        assert!(letter > 10 && tabloid >= 1, "{sizes:?}");
        assert_eq!(letter + tabloid, sizes.len(), "{sizes:?}");
    }
    if let Some(text) = told_by("pdftotext", &["-layout", "FILE", "-"], &document.content) {
        for word in [
            "Cautions: read them before any work",
            "Contents",
            "Schematic",
            "Cut list",
            "page 1 of 1",
            "cabin-light",
            "16 AWG",
        ] {
            assert!(text.contains(word), "{word} is not found");
        }
        // Every page carries its number, the last one too.
        let pages = text.matches('\u{c}').count();
        assert!(
            text.contains(&format!("{pages} / {pages}")),
            "{pages} pages"
        );
    }
}

#[cfg(feature = "pdf")]
#[test]
fn the_contents_lead_to_where_the_papers_are() {
    let compiled = all(include_str!("../examples/marsh-pipit-rev-a.yaml"));
    let document = named(&compiled, "papers.pdf");
    let Some(text) = told_by("pdftotext", &["-layout", "FILE", "-"], &document.content) else {
        return;
    };
    let pages: Vec<&str> = text.split('\u{c}').collect();
    let mut found = 0;
    for line in pages[..3].iter().flat_map(|page| page.lines()) {
        let words: Vec<&str> = line.split_whitespace().collect();
        let [title @ .., _, "page" | "pages", number] = words.as_slice() else {
            continue;
        };
        let (title, Ok(number)) = (title.join(" "), number.parse::<usize>()) else {
            continue;
        };
        // Drawings have titles of their own on every sheet.
        let drawn = [
            "Schematic",
            "Cutting bars",
            "Label sheets",
            "Fuse block lids",
            "Connector charts",
            "Harness boards as tiles",
            "Continuity tests",
            "Harness boards in one piece",
            "Wallet card",
        ];
        if drawn.contains(&title.as_str()) || title.is_empty() {
            continue;
        }
        assert!(
            pages[number - 1].contains(&title),
            "{title} is not on page {number}: {}",
            pages[number - 1]
        );
        found += 1;
    }
    // Lists, and each connector, block and harness by its name.
    assert!(found > 30, "{found} papers found by the contents");
}

/// Places of the printed rule on a label sheet: its ends are 100 mm apart, within 0.1 mm.
#[cfg(feature = "pdf")]
#[test]
fn words_stand_where_layout_put_them() {
    use loomwright::drawing::scene::{Anchor, Form, Group, Mark, Rgb, Role, Shape};
    use loomwright::drawing::{Sheet, SheetKind};
    let word = |text: &str, at: (f64, f64), anchor: Anchor| Shape {
        form: Form::Text {
            at,
            text: text.to_owned(),
            size: 5.0,
            anchor,
            bold: false,
        },
        stroke: None,
        fill: Some(Rgb::BLACK),
        mark: Mark::Plain,
    };
    let sheet = Sheet {
        kind: SheetKind::Bench,
        number: 1,
        count: 1,
        width: 210.0,
        height: 297.0,
        title: "places".to_owned(),
        groups: vec![Group {
            id: "g".to_owned(),
            role: Role::Note,
            title: String::new(),
            shapes: vec![
                word("LEFT", (20.0, 50.0), Anchor::Start),
                word("RIGHT", (190.0, 60.0), Anchor::End),
                word("MIDDLE", (105.0, 280.0), Anchor::Middle),
            ],
        }],
        filled: 1.0,
    };
    let bytes = loomwright::export::pdf::write("places", &[sheet]).expect("the sheet is sound");
    let Some(boxes) = told_by("pdftotext", &["-bbox", "FILE", "-"], &bytes) else {
        return;
    };
    let side = |word: &str, side: &str| -> f64 {
        boxes
            .lines()
            .find(|line| line.contains(&format!(">{word}<")))
            .and_then(|line| line.split(&format!("{side}=\"")).nth(1))
            .and_then(|rest| rest.split('"').next())
            .and_then(|points| points.parse::<f64>().ok())
            .unwrap_or_else(|| panic!("{word} {side}: {boxes}"))
            * 25.4
            / 72.0
    };
    let close = |found: f64, wanted: f64| {
        assert!((found - wanted).abs() < 0.1, "{found} mm, not {wanted} mm");
    };
    close(side("LEFT", "xMin"), 20.0);
    close(side("RIGHT", "xMax"), 190.0);
    close(
        f64::midpoint(side("MIDDLE", "xMin"), side("MIDDLE", "xMax")),
        105.0,
    );
    // Words of one size have their boxes as far apart as their baselines.
    close(side("RIGHT", "yMin") - side("LEFT", "yMin"), 10.0);
    close(side("MIDDLE", "yMin") - side("LEFT", "yMin"), 230.0);
}

#[test]
fn a_very_long_document_is_made_only_when_asked_for() {
    let mut choices = only("cut-list", Form::Pdf);
    choices.order.most_rows = 2;
    let compiled = compile_with(SMALLEST.as_bytes(), Want::Papers, &choices);
    assert_eq!((compiled.papers.len(), compiled.unmade.len()), (0, 0));
    let told = compiled.spared.first().map(ToString::to_string);
    assert!(told.is_some_and(|told| told.starts_with("papers.pdf was not made: it would have ")));
}

#[test]
fn a_part_of_the_papers_can_be_asked_for() {
    let choices = only("cut-list", Form::Csv);
    let compiled = compile_with(SMALLEST.as_bytes(), Want::Papers, &choices);
    let names: Vec<&str> = compiled
        .papers
        .iter()
        .map(|paper| paper.name.as_str())
        .collect();
    assert_eq!(names, ["cut-list.csv"]);
    assert!(compiled.stems.contains(&"schematic") && compiled.stems.contains(&"power-up"));
}

#[test]
fn whole_boards_are_made_only_when_named() {
    let netlist = include_bytes!("../examples/marsh-pipit-rev-a.yaml");
    let compiled = compile_with(netlist, Want::Papers, &only("harnesses-whole", Form::Svg));
    let names: Vec<&str> = compiled
        .papers
        .iter()
        .map(|paper| paper.name.as_str())
        .collect();
    assert!(names.len() > 1, "{names:?}");
    assert!(
        names
            .iter()
            .all(|name| name.starts_with("harnesses-whole-")),
        "{names:?}"
    );
    let unasked = compile_with(netlist, Want::Papers, &Choices::default());
    assert!(unasked.stems.contains(&"harnesses-whole"));
    let made = unasked.papers.iter();
    assert!(
        made.filter(|paper| paper.name.contains("whole")).count() == 0,
        "whole boards come unasked"
    );
}

/// Points of every stroked line of a page of a PDF, in mm from the upper left corner, as another reader draws it.
#[cfg(feature = "pdf")]
fn lines_of(document: &PaperFile, page: &str) -> Option<Vec<Vec<(f64, f64)>>> {
    // Without these the reader fits the page to a paper of whole points.
    let as_it_is = ["-svg", "-noshrink", "-nocenter"];
    let arguments = [&as_it_is[..], &["-f", page, "-l", page, "FILE", "-"]].concat();
    let text = told_by("pdftocairo", &arguments, &document.content)?;
    let drawn = roxmltree::Document::parse(&text).expect("it is XML");
    let numbers = |text: &str| -> Vec<f64> {
        text.split([',', '(', ')', ' '])
            .filter_map(|part| part.parse().ok())
            .collect()
    };
    let stroked = drawn.descendants().filter(|it| {
        let style = it.attribute("style").unwrap_or_default();
        let is_line = style.contains("fill:none") || it.attribute("fill") == Some("none");
        it.has_tag_name("path") && is_line
    });
    let lines = stroked.map(|it| {
        let turned = numbers(it.attribute("transform").unwrap_or_default());
        let [xx, yx, xy, yy, right, down] = turned[..] else {
            return Vec::new();
        };
        let found = numbers(it.attribute("d").unwrap_or_default());
        let points = found.chunks_exact(2).map(|at| {
            let (x, y) = (at[0], at[1]);
            let mm = 25.4 / 72.0;
            (
                (xx * x + xy * y + right) * mm,
                (yx * x + yy * y + down) * mm,
            )
        });
        points.collect()
    });
    Some(lines.collect())
}

#[cfg(feature = "pdf")]
fn within(found: f64, wanted: f64) {
    assert!((found - wanted).abs() < 0.1, "{found} mm, not {wanted} mm");
}

/// 6 by 7 labels of 1 in by 1.25 in on Letter, as the example states its stock; the rule is 100 mm across.
#[cfg(feature = "pdf")]
#[test]
fn labels_lie_where_their_stock_says() {
    let netlist = include_bytes!("../examples/marsh-pipit-rev-a.yaml");
    let compiled = compile_with(netlist, Want::Papers, &only("label-sheets", Form::Pdf));
    let Some(lines) = lines_of(named(&compiled, "papers.pdf"), "2") else {
        return;
    };
    let first = lines.first().expect("the rule is drawn first");
    within(first[1].0 - first[0].0, 100.0);
    within(first[1].1, first[0].1);
    let outlines: Vec<&Vec<(f64, f64)>> = lines.iter().filter(|line| line.len() == 5).collect();
    assert_eq!(outlines.len(), 6 * 7);
    for (index, outline) in outlines.into_iter().enumerate() {
        let (row, column) = ((index / 6) as f64, (index % 6) as f64);
        within(outline[0].0, (0.5 + 1.1 * column) * 25.4);
        within(outline[0].1, (0.75 + 1.35 * row) * 25.4);
        within(outline[2].0 - outline[0].0, 25.4);
        within(outline[2].1 - outline[0].1, 1.25 * 25.4);
    }
}

/// Stock that is narrower than the rule has it downward, beside the labels and clear of them.
#[cfg(feature = "pdf")]
#[test]
fn narrow_stock_has_its_rule_downward() {
    let stock = "\nlabel-stock:\n  narrow: {kind: wrap, page: [70 mm, 200 mm], margins: [8 mm, 2 mm], size: [25 mm, 30 mm], \
                 pitch: [28 mm, 32 mm], columns: 2, rows: 6, printed: 12 mm}\n";
    let netlist = format!("{SMALLEST}{stock}");
    let choices = only("label-sheets", Form::Pdf);
    let compiled = compile_with(netlist.as_bytes(), Want::Papers, &choices);
    assert!(compiled.usable, "{:#?}", compiled.findings);
    let Some(lines) = lines_of(named(&compiled, "papers.pdf"), "2") else {
        return;
    };
    let first = lines.first().expect("the rule is drawn first");
    within(first[1].1 - first[0].1, 100.0);
    within(first[1].0, first[0].0);
    assert!(first[0].0 > 2.0 && first[0].0 < 8.0, "{first:?}");
    let longest = lines.iter().take(12).flatten().map(|at| at.0);
    assert!(
        longest.fold(0.0, f64::max) < 8.0,
        "the rule touches a label"
    );
}

/// A file name that every file system takes as it is: plain letters, and no device of any system.
fn has_a_plain_name(paper: &PaperFile) {
    let name = &paper.name;
    let plain = |letter: char| letter.is_ascii_alphanumeric() || "-._".contains(letter);
    assert!(name.chars().all(plain), "{name}");
    assert!(
        !name.contains("..") && !name.starts_with(['.', '-']),
        "{name}"
    );
    assert!(name.len() <= 128, "{name}");
    // Devices that a common file system keeps for itself, with any ending; from memory.
    let stem = name.split('.').next().unwrap_or_default();
    for device in ["con", "prn", "aux", "nul", "com1", "lpt1"] {
        assert!(!stem.eq_ignore_ascii_case(device), "{name}");
    }
}

/// No two files are one on a file system that does not tell capitals from small letters.
fn have_their_own_names(papers: &[PaperFile]) {
    let mut seen = std::collections::BTreeSet::new();
    for paper in papers {
        has_a_plain_name(paper);
        let first = seen.insert(paper.name.to_ascii_lowercase());
        assert!(first, "{} stands twice", paper.name);
    }
}

fn renamed(netlist: &str, words: &str) -> String {
    let mut out = String::new();
    let mut count = 0;
    for line in netlist.lines() {
        match line.split_once("{name: ") {
            Some((before, rest)) => {
                let (_, after) = rest.split_once(',').expect("a name has fields behind it");
                let _ = writeln!(out, "{before}{{name: {},{after}", yaml(words));
                count += 1;
            }
            None => {
                let _ = writeln!(out, "{line}");
            }
        }
    }
    assert!(count > 20, "{count} names");
    out
}

const MARSH_PIPIT: &str = include_str!("../examples/marsh-pipit-rev-a.yaml");

/// Every name of a boat with connectors, harnesses and fuse blocks is hostile at once: boards, charts, lids and cards.
#[test]
fn hostile_names_stay_names_on_the_papers_of_the_bench() {
    let slash = "../../etc/over \\ : there";
    let long = "very long ".repeat(300);
    for words in [HOSTILE[0], HOSTILE[5], HOSTILE[7], slash, long.as_str()] {
        let compiled = compile_with(
            renamed(MARSH_PIPIT, words).as_bytes(),
            Want::Papers,
            &Choices::default(),
        );
        assert!(compiled.usable, "{words}: {:#?}", compiled.findings.first());
        assert_eq!(compiled.unmade, [], "{words}");
        for stem in [
            "harness-boards",
            "connectors",
            "block-lids",
            "label-sheets",
            "wallet-card",
            "continuity",
        ] {
            let mut names = compiled.papers.iter().map(|paper| &paper.name);
            assert!(names.any(|name| name.starts_with(stem)), "{stem}");
        }
        for paper in &compiled.papers {
            harmless(paper, words);
        }
        have_their_own_names(&compiled.papers);
    }
}

/// Designations and bundles make file names, headings and bookmarks: none leads out of the folder or hides another.
#[test]
fn hostile_designations_stay_designations() {
    let pairs = [
        ("/etc/helm", "/loom/"),
        ("../helm", "../../loom"),
        ("CON", "nul"),
        ("=helm", "+loom"),
        ("-helm", "=loom"),
        ("he<b>lm&'x", "<script>loom"),
        ("\u{6F22}\u{5B57}", "\u{5B57}"),
        ("helm", "loom\u{202E}x\u{200B}"),
        // The other connector and loom of the boat, in capitals.
        ("PUMP-PLUG", "ALARM-LOOM"),
        // Alike at a glance.
        ("helm-I1lO0", "helm-l1IO0"),
    ];
    let mut drawn = 0;
    for (plug, loom) in pairs {
        let netlist = MARSH_PIPIT
            .replace("helm-plug", plug)
            .replace("helm-loom", loom);
        let compiled = compile_with(netlist.as_bytes(), Want::Papers, &Choices::default());
        if !compiled.usable {
            // A point parts a component from its terminal, and a hidden character is none that anybody means.
            assert!(
                plug.contains('.') || loom.contains('\u{200B}'),
                "{plug}, {loom}"
            );
            assert!(compiled.tally.errors > 0 && compiled.papers.is_empty());
            continue;
        }
        drawn += 1;
        assert_eq!(compiled.unmade, [], "{plug}");
        for paper in &compiled.papers {
            harmless(paper, plug);
        }
        have_their_own_names(&compiled.papers);
        let mut names = compiled.papers.iter().map(|paper| paper.name.as_str());
        assert!(names.any(|name| name == "harness-boards-aft-loom_and_stern-loom.svg"));
    }
    assert_eq!(drawn, pairs.len() - 2);
}

/// A bench worker finds his sheet by its name, and finds it again when the boat has grown.
#[test]
fn papers_of_harnesses_and_connectors_keep_their_names() {
    let names = |netlist: &str| -> Vec<String> {
        let compiled = compile_with(netlist.as_bytes(), Want::Papers, &Choices::default());
        assert!(compiled.usable, "{:#?}", compiled.findings.first());
        let names = compiled.papers.into_iter().map(|paper| paper.name);
        names
            .filter(|name| name.starts_with("harness-boards") || name.starts_with("connectors"))
            .collect()
    };
    let before = names(MARSH_PIPIT);
    for name in [
        "harness-boards-helm-loom.svg",
        "connectors-helm-plug-01.svg",
    ] {
        assert!(
            before.iter().any(|known| known == name),
            "{name}: {before:?}"
        );
    }
    // A loom of two wires that stands before all others.
    let more = MARSH_PIPIT.replace(
        "\nruns:\n",
        "\nruns:\n  A1: {from: main-negative, to: house-battery.-, gauge: 14 AWG, colour: yellow, length: 3 ft, bundle: aaa-loom}\n  \
         A2: {from: main-negative, to: house-battery.-, gauge: 14 AWG, colour: yellow, length: 3 ft, bundle: aaa-loom}\n",
    );
    assert_ne!(more, MARSH_PIPIT);
    let after = names(&more);
    assert!(
        after
            .iter()
            .any(|name| name == "harness-boards-aaa-loom.svg"),
        "{after:?}"
    );
    for name in &before {
        assert!(after.contains(name), "{name}: {after:?}");
    }
}

/// Papers for one use are a part of all papers, in a document of their own.
#[test]
fn papers_for_a_use_are_a_part_of_all_papers() {
    use loomwright::export::Purpose;
    let stems = |purpose: Option<Purpose>| {
        let mut choices = every_form();
        choices.order.forms = vec![Form::Html, Form::Csv, Form::Pdf];
        choices.order.purpose = purpose;
        let compiled = compile_with(MARSH_PIPIT.as_bytes(), Want::Papers, &choices);
        assert_eq!(compiled.unmade, []);
        compiled
    };
    let all = stems(None);
    let size = |compiled: &Compiled, name: &str| named(compiled, name).content.len();
    for (purpose, with, without) in [
        (Purpose::Bench, "cut-list.html", "switch-table.html"),
        (Purpose::Aboard, "fuse-chart.html", "cut-list.html"),
        (Purpose::Archive, "cut-list.html", "spool-plan.html"),
    ] {
        let some = stems(Some(purpose));
        let has = |name: &str| some.papers.iter().any(|paper| paper.name == name);
        assert!(has(with) && !has(without), "{purpose:?}");
        let document = format!("papers-{}.pdf", purpose.name());
        assert!(has(&document) && !has("papers.pdf"), "{purpose:?}");
        if cfg!(feature = "pdf") {
            assert!(size(&some, &document) < size(&all, "papers.pdf"));
        }
        for paper in &some.papers {
            if paper.name != document {
                assert_eq!(paper, named(&all, &paper.name));
            }
        }
    }
}
