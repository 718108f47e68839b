//! The demonstration boats: what each seeded fault of an as-found boat shows, and what the designed ones may say.
//!
//! The boats and their faults are invented. The numbers behind the faults stand in the comments of the files.

// A test reads files; the library does not.
#![allow(clippy::disallowed_methods)]

use loomwright::diag::{Diagnostic, Severity};
use loomwright::{Want, compile};
use std::path::Path;

fn findings(name: &str) -> Vec<Diagnostic> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("examples")
        .join(name);
    let bytes = std::fs::read(path).expect("the example is part of the project");
    compile(&bytes, Want::Findings).findings
}

fn shows(all: &[Diagnostic], rule: &str, element: &str, position: &str) -> bool {
    all.iter().any(|finding| {
        let named = finding.element == element
            || finding
                .message
                .split(|c: char| !(c.is_alphanumeric() || "-.".contains(c)))
                .any(|word| word == element);
        let in_position = position.is_empty()
            || finding
                .positions
                .iter()
                .any(|set| format!("{}={}", set.switch, set.position) == position);
        finding.rule == rule && finding.severity.counts() && named && in_position
    })
}

/// Every seeded fault: what it is, the rule, the element, and one position that shows it.
fn assert_seeds(file: &str, seeds: &[(&str, &str, &str, &str)]) {
    let all = findings(file);
    let missing: Vec<_> = seeds
        .iter()
        .filter(|(_, rule, element, position)| !shows(&all, rule, element, position))
        .collect();
    assert!(
        missing.is_empty(),
        "{file} hides {missing:#?}\nit says {:#?}",
        all.iter()
            .map(|f| format!("{} {} {}", f.rule, f.element, f.message))
            .collect::<Vec<_>>()
    );
}

/// Findings that count, as rule and element.
fn counted(file: &str) -> Vec<(String, String)> {
    findings(file)
        .into_iter()
        .filter(|finding| finding.severity.counts())
        .map(|finding| (finding.rule.to_owned(), finding.element))
        .collect()
}

fn pair(rule: &str, element: &str) -> (String, String) {
    (rule.to_owned(), element.to_owned())
}

#[test]
fn marsh_pipit_as_found_shows_its_seeded_faults() {
    assert_seeds(
        "marsh-pipit-rev-0.yaml",
        &[
            (
                "horn fed from the starter stud without a fuse",
                "OC101",
                "T1",
                "",
            ),
            (
                "canopy lights fed from the starter stud without a fuse",
                "OC101",
                "T4",
                "",
            ),
            (
                "horn and canopy lights drain the start battery",
                "BI410",
                "horn",
                "",
            ),
            (
                "manual and float feed of the pump joined: the helm comes alive",
                "LV504",
                "float-joint",
                "",
            ),
            ("lamp cord in the bilge", "AM208", "S1", ""),
            (
                "pump lead too thin for its length",
                "VD301",
                "bilge-pump",
                "",
            ),
            (
                "30 A fuse on 16 AWG in a bundle",
                "OC103",
                "helm-block.5",
                "",
            ),
            (
                "helm feeder bare against the start bank on combine",
                "OC101",
                "F3",
                "battery-switch=combine",
            ),
            (
                "thin helm negative: too much drop",
                "VD301",
                "sidelights",
                "",
            ),
            (
                "winch socket unfused and ahead of the switch",
                "OC101",
                "P8",
                "",
            ),
            (
                "winch socket live with the switch off",
                "LV501",
                "winch-socket",
                "battery-switch=off",
            ),
            (
                "draw of the winch socket not known",
                "AM203",
                "winch-socket",
                "",
            ),
            ("seven lugs on one post", "PL710", "house-battery.+", ""),
            ("red cable on the negative post", "PL702", "B5", ""),
            (
                "float splice below the bilge-water level",
                "PL704",
                "float-joint",
                "",
            ),
            (
                "stern deck light returned through the engine block",
                "RP608",
                "stern-deck-light",
                "",
            ),
            ("gauges share the blower's negative", "RP612", "G7", ""),
        ],
    );
}

#[test]
fn teal_skerry_as_found_shows_its_seeded_faults() {
    assert_seeds(
        "teal-skerry-rev-0.yaml",
        &[
            (
                "lead and lithium joined",
                "BI403",
                "start",
                "main-switch=both",
            ),
            (
                "the start bank feeds the house on one",
                "BI410",
                "sidelights",
                "main-switch=one",
            ),
            (
                "windlass breaker above its conductor",
                "OC103",
                "windlass-breaker",
                "",
            ),
            ("windlass loses too much", "VD301", "windlass", ""),
            (
                "solar lead without a fuse at the battery",
                "OC101",
                "K4",
                "",
            ),
            (
                "blower without ignition protection in the fuel locker",
                "PL701",
                "fuel-locker-blower",
                "",
            ),
            (
                "house main cannot break the bank's fault current",
                "DP801",
                "house-fuse",
                "",
            ),
            (
                "charging only a bank whose management can cut out",
                "DP812",
                "outboard-alternator",
                "",
            ),
            ("alarm on the pump's fuse", "PL717", "bilge-alarm", ""),
        ],
    );
}

#[test]
fn mud_plover_as_found_shows_its_seeded_faults() {
    assert_seeds(
        "mud-plover-rev-0.yaml",
        &[
            ("middle link of the string reversed", "BI407", "bow", ""),
            ("radio tapped from the lowest battery", "BI408", "radio", ""),
            ("bow bank tied to the hull", "BI404", "bow", ""),
            ("charger across the string unfused", "OC101", "M9", ""),
            (
                "hoist breaker above its conductor",
                "OC103",
                "hoist-breaker",
                "",
            ),
            ("hoist overloads its conductor", "AM201", "W1", ""),
            ("hoist loses too much", "VD301", "hoist-winch", ""),
            (
                "100 A ahead of 8 AWG under the strict policy",
                "OC103",
                "console-fuse",
                "",
            ),
            (
                "both bilge pumps behind one device above their makers' limit",
                "OC107",
                "hold-bilge-pump",
                "",
            ),
            (
                "radio case on the hull bridges two systems",
                "RP610",
                "radio",
                "",
            ),
            ("32 V fuse on 36 V", "PL706", "bow-fuse", ""),
            (
                "both pumps on one fuse and one float",
                "PL718",
                "hold-bilge-pump",
                "",
            ),
            ("one plug shape for 12 V and 36 V", "PL708", "bow-plug", ""),
            (
                "floodlights returned through the hull",
                "RP608",
                "floodlights",
                "",
            ),
            (
                "memory current empties the bank in lay-up",
                "EN904",
                "stereo-memory",
                "",
            ),
            (
                "relay without ignition protection in the tank space",
                "PL701",
                "sample-relay",
                "",
            ),
        ],
    );
}

#[test]
fn the_smallest_boat_and_mud_plover_as_designed_are_clean() {
    assert_eq!(counted("smallest.yaml"), []);
    assert_eq!(counted("mud-plover-rev-a.yaml"), []);
}

#[test]
fn marsh_pipit_as_designed_leaves_its_alternator_without_a_battery_on_off() {
    assert_eq!(
        counted("marsh-pipit-rev-a.yaml"),
        [pair("BI412", "alternator")]
    );
}

#[test]
fn teal_skerry_as_designed_joins_lead_and_lithium_on_the_guarded_switch_only() {
    assert_eq!(counted("teal-skerry-rev-a.yaml"), []);
    let all = findings("teal-skerry-rev-a.yaml");
    let told: Vec<_> = all
        .iter()
        .filter(|finding| finding.rule == "BI403")
        .collect();
    // Its only joining position is declared for an emergency.
    assert_eq!(told[0].severity, Severity::Note);
    assert_eq!(told[0].positions.len(), 1);
    assert_eq!(told[0].positions[0].position, "parallel");
}

#[test]
fn the_drawing_in_the_readme_is_what_build_draws() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let bytes = std::fs::read(root.join("examples/smallest.yaml")).expect("the smallest example");
    let compiled = compile(&bytes, Want::Papers);
    let drawn = compiled
        .papers
        .iter()
        .find(|paper| paper.name == "schematic-02.svg")
        .expect("a schematic is drawn");
    let path = root.join("tests/golden/smallest.svg");
    if std::env::var_os("LOOMWRIGHT_BLESS").is_some() {
        std::fs::write(&path, &drawn.content).expect("the drawing can be written");
    }
    let shown = std::fs::read_to_string(&path).unwrap_or_default();
    assert!(
        shown.as_bytes() == drawn.content,
        "tests/golden/smallest.svg is out of date: run LOOMWRIGHT_BLESS=1 cargo test --test examples"
    );
}

#[test]
fn milder_seeds_are_told_as_notes() {
    for (file, rule, element) in [
        ("teal-skerry-rev-0.yaml", "PL705", "headliner-joint"),
        ("teal-skerry-rev-0.yaml", "RP613", "refrigerator"),
        ("teal-skerry-rev-0.yaml", "EN903", "anchor-light"),
    ] {
        let told = findings(file);
        let told = told.iter().any(|finding| {
            finding.rule == rule && finding.element == element && !finding.severity.counts()
        });
        assert!(told, "{file} does not tell {rule} of {element}");
    }
}
