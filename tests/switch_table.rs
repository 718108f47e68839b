//! The switch table and its promises, read off the papers of the demonstration boats.
//!
//! What the designed boats are to promise is worked out from their drawings by hand.

// A test reads files; the library does not.
#![allow(clippy::disallowed_methods)]

use loomwright::{Want, compile};
use std::path::Path;

fn paper(example: &str, name: &str) -> String {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read(root.join(format!("examples/{example}.yaml"))).expect("an example");
    compile(&text, Want::Papers)
        .papers
        .into_iter()
        .find(|paper| paper.name == name)
        .and_then(|paper| paper.text().map(str::to_owned))
        .expect("the paper is made")
}

/// Whether some line of a paper begins so.
fn has(paper: &str, beginning: &str) -> bool {
    paper.lines().any(|line| line.starts_with(beginning))
}

#[test]
fn the_launch_keeps_house_loads_off_the_start_bank() {
    let promises = paper("marsh-pipit-rev-a", "switch-promises.csv");
    for line in [
        "\"In no position are banks start and house joined, unless battery-switch stands at combine or bank-combiner is joined.\",yes",
        "\"In no position does a house load draw on bank start, unless battery-switch stands at combine or bank-combiner is joined.\",yes",
        "\"Wherever the battery switches stand, a bank can feed stereo.memory, bilge-pump, high-water-alarm.\",yes",
        "In no position of any switch or relay is a source shorted.,yes",
        // Its alternator lies behind the switch, so off strands it: the warning that the boat is known for.
        "In no position of the battery switches is alternator without a battery.,no,,battery-switch at off",
    ] {
        assert!(has(&promises, line), "{line}\n{promises}");
    }
    // Beside the switch it also says which wires are live when it is off; the sheet is what hangs on board.
    let sheet = paper("marsh-pipit-rev-a", "switch-table.html");
    for words in [
        "With every battery switch off only bank-combiner.standby, stereo.memory, bilge-pump, high-water-alarm can be live.",
        "Wires that stay live with every battery switch off",
        "the same 16 as start",
    ] {
        assert!(sheet.contains(words), "{words}");
    }
    let table = paper("marsh-pipit-rev-a", "switch-table.csv");
    assert_eq!(
        table.lines().count(),
        1 + 3 * 2,
        "three positions, two banks"
    );
    assert!(has(
        &table,
        "battery-switch at off,no,yes,house,\"stereo.memory, bilge-pump, high-water-alarm\","
    ));
}

#[test]
fn the_cruiser_joins_its_banks_in_an_emergency_only() {
    let promises = paper("teal-skerry-rev-a", "switch-promises.csv");
    assert!(has(
        &promises,
        "\"In no position are banks start and house joined, unless emergency-switch stands at parallel.\",yes"
    ));
    let table = paper("teal-skerry-rev-a", "switch-table.csv");
    assert_eq!(
        table.lines().count(),
        1 + 8 * 2,
        "three switches, two banks"
    );
}

#[test]
fn the_skiff_keeps_its_bow_bank_apart() {
    let promises = paper("mud-plover-rev-a", "switch-promises.csv");
    assert!(has(
        &promises,
        "In no position are banks start and bow joined.,yes"
    ));
    assert!(has(
        &promises,
        "In no position are banks house and bow joined.,yes"
    ));
    let table = paper("mud-plover-rev-a", "switch-table.csv");
    let bow = table
        .lines()
        .find(|line| line.contains("bow-switch at on") && line.contains(",bow,"))
        .expect("a row for the bow bank");
    assert!(
        bow.contains(",bow-motor,") && bow.contains("bow-charger.1"),
        "{bow}"
    );
}

#[test]
fn a_boat_as_found_breaks_its_promises_and_shows_how() {
    let promises = paper("marsh-pipit-rev-0", "switch-promises.csv");
    let broken = promises
        .lines()
        .find(|line| line.contains("a house load draw on bank start"))
        .expect("the promise is told");
    assert!(
        broken.contains("(horn, canopy-lights)") && broken.contains(",no,"),
        "{broken}"
    );
    let sheet = paper("marsh-pipit-rev-0", "switch-table.html");
    assert!(sheet.contains("NOT KEPT, as horn-button at on shows"));
}
