//! Where no choice of sizes passes: the rules that collide are named with their figures, and the change that is told
//! frees the boat, while a little less of it does not.
//!
//! Each boat has one fault that only all rules together see. What is told is read off the finding and done to the file.

use loomwright::diag::Diagnostic;
use loomwright::{Want, compile};

fn findings(text: &str) -> Vec<Diagnostic> {
    compile(text.as_bytes(), Want::Findings).findings
}

/// Rules of the findings that count.
fn faults(text: &str) -> Vec<&'static str> {
    let all = findings(text).into_iter();
    all.filter(|it| it.severity.counts())
        .map(|it| it.rule)
        .collect()
}

/// The one conflict of a boat.
fn conflict(text: &str) -> Diagnostic {
    let mut told = findings(text).into_iter().filter(|it| it.rule == "SZ101");
    let first = told.next().expect("a conflict");
    assert!(told.next().is_none(), "one conflict");
    first
}

fn says(finding: &Diagnostic, words: &str) {
    assert!(finding.message.contains(words), "{}", finding.message);
}

/// The number that stands between two texts.
fn number_between(text: &str, before: &str, after: &str) -> f64 {
    let rest = text
        .split(before)
        .nth(1)
        .unwrap_or_else(|| panic!("{before} in {text}"));
    let word = rest.split(after).next().expect("a first part");
    word.parse().unwrap_or_else(|_| panic!("{word} in {text}"))
}

/// A length as printed, `5 ft 1 1/2 in`, in feet.
fn feet(text: &str) -> f64 {
    let mut feet = 0.0;
    let mut number = 0.0;
    for word in text.split(' ') {
        match word {
            "ft" => feet += std::mem::take(&mut number),
            "in" => feet += std::mem::take(&mut number) / 12.0,
            _ => {
                let parts: Vec<f64> = word
                    .split('/')
                    .map(|it| it.parse().expect("a number"))
                    .collect();
                number += parts[0] / parts.get(1).unwrap_or(&1.0);
            }
        }
    }
    feet
}

const HEAD: &str = "loomwright: 1\nboat: {name: Example, practice: us, system: 12 V}\n\
    zones:\n  cabin: {ambient: 30 °C, wet: dry}\n";

/// A load whose two conductors pass a hole.
fn through_a_hole(millimetres: f64) -> String {
    format!(
        "{HEAD}points:\n  stern: {{zone: cabin}}\n  bow: {{zone: cabin}}\n\
         ways:\n  trunk: {{between: [stern, bow], length: 20 ft, hole: {millimetres} mm}}\n\
         batteries:\n  house: {{chemistry: agm, capacity: 60 Ah, cranking: 400 A, at: stern}}\n\
         fuses:\n  fuse: {{rating: auto, form: blade regular, at: stern}}\n\
         loads:\n  fan: {{draw: 14 A, kind: heater, drop: 3 %, at: bow}}\n\
         runs:\n  B: {{from: house.+, to: fuse.in, gauge: 6 AWG, colour: red, length: 4 in}}\n  \
         F: {{from: fuse.out, to: fan.+, gauge: auto, colour: red}}\n  \
         N: {{from: fan.-, to: house.-, gauge: auto, colour: black}}\n"
    )
}

#[test]
fn a_hole_too_small_for_what_the_drop_asks_is_told_with_the_hole_that_does() {
    let told = conflict(&through_a_hole(8.0));
    says(&told, "WY101 and VD301 collide");
    says(&told, "no choice of sizes frees it");
    let bore = number_between(&told.help, "bore at least ", " mm");
    assert_eq!(faults(&through_a_hole(bore)), Vec::<&str>::new());
    assert_ne!(faults(&through_a_hole(bore - 1.0)), Vec::<&str>::new());
}

/// A load that works from some voltage, whose plug takes thin wire only; its ways are so long.
fn through_a_plug(least: f64, feet: f64) -> String {
    let inches = feet * 12.0;
    let near = inches / 20.0;
    format!(
        "{HEAD}batteries:\n  house: {{chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}}\n\
         fuses:\n  fuse: {{rating: auto, form: blade regular, zone: cabin}}\n\
         connectors:\n  plug: {{cavities: 2, contact-rating: 20 A, accepts: [18 AWG, 14 AWG], \
         a: {{contacts: sockets}}, b: {{contacts: pins}}, zone: cabin}}\n\
         loads:\n  fan: {{draw: 8 A, kind: electronics, drop: 10 %, min-voltage: {least:.2} V, zone: cabin}}\n\
         runs:\n  B: {{from: house.+, to: fuse.in, gauge: 6 AWG, colour: red, length: 4 in}}\n  \
         F: {{from: fuse.out, to: plug.1a, gauge: auto, colour: red, length: {inches:.3} in}}\n  \
         P: {{from: plug.1b, to: fan.+, gauge: auto, colour: red, length: {near:.3} in}}\n  \
         N: {{from: fan.-, to: house.-, gauge: auto, colour: black, length: {inches:.3} in}}\n"
    )
}

#[test]
fn a_load_under_its_voltage_with_the_thickest_sizes_is_told_with_both_ways_out() {
    let told = conflict(&through_a_plug(11.9, 20.0));
    says(&told, "VD306 and PL713 collide");
    says(&told, "plug.1a takes at most 14 AWG");
    let works = number_between(&told.help, "what works from ", " V");
    assert_eq!(faults(&through_a_plug(works, 20.0)), Vec::<&str>::new());
    assert_ne!(
        faults(&through_a_plug(works + 0.01, 20.0)),
        Vec::<&str>::new()
    );
    // All three conductors have 41 ft together.
    let less = told
        .help
        .strip_prefix("shorten F, P and N by ")
        .and_then(|rest| rest.split(" in all").next())
        .map_or(0.0, feet);
    let of = |less: f64| 20.0 * (41.0 - less) / 41.0;
    assert_eq!(faults(&through_a_plug(11.9, of(less))), Vec::<&str>::new());
    assert_ne!(
        faults(&through_a_plug(11.9, of(less - 0.25))),
        Vec::<&str>::new()
    );
}

#[test]
fn a_given_return_that_is_too_thin_is_told_with_the_size_that_does() {
    let boat = |gauge: &str| {
        format!(
            "{HEAD}batteries:\n  house: {{chemistry: agm, capacity: 60 Ah, cranking: 400 A, zone: cabin}}\n\
             fuses:\n  fuse: {{rating: 20 A, form: blade regular, zone: cabin}}\n\
             loads:\n  fan: {{draw: 8 A, kind: heater, drop: 10 %, zone: cabin}}\n\
             runs:\n  B: {{from: house.+, to: fuse.in, gauge: 6 AWG, colour: red, length: 4 in}}\n  \
             F: {{from: fuse.out, to: fan.+, gauge: auto, colour: red, length: 30 ft}}\n  \
             N: {{from: fan.-, to: house.-, gauge: {gauge}, colour: black, length: 10 ft}}\n"
        )
    };
    let told = conflict(&boat("16 AWG"));
    says(&told, "AM206 and VD301 collide");
    let gauge = told
        .help
        .strip_prefix("use at least ")
        .and_then(|rest| rest.strip_suffix(" for N"))
        .unwrap_or_else(|| panic!("a size in {}", told.help));
    assert_eq!(faults(&boat(gauge)), Vec::<&str>::new());
}

#[test]
fn a_short_that_no_size_clears_is_told_with_the_rating_that_would_serve() {
    let boat = |draw: f64, rating: &str| {
        format!(
            "{HEAD}batteries:\n  house: {{chemistry: agm, capacity: 60 Ah, cranking: 20 A, zone: cabin}}\n\
             fuses:\n  fuse: {{rating: {rating}, form: blade regular, zone: cabin}}\n\
             loads:\n  fan: {{draw: {draw} A, kind: heater, drop: 20 %, zone: cabin}}\n\
             runs:\n  B: {{from: house.+, to: fuse.in, gauge: 6 AWG, colour: red, length: 4 in}}\n  \
             F: {{from: fuse.out, to: fan.+, gauge: auto, colour: red, length: 20 ft}}\n  \
             N: {{from: fan.-, to: house.-, gauge: auto, colour: black, length: 20 ft}}\n"
        )
    };
    let told = conflict(&boat(22.0, "auto"));
    says(&told, "a short at the far end of F");
    let rating = number_between(&told.help, "down so far that ", " A serves");
    assert!(rating < 30.0, "{}", told.help);
    // A continuous current takes at most four fifths of a rating (common practice, no source).
    assert_eq!(
        faults(&boat((rating * 0.8).floor(), "auto")),
        Vec::<&str>::new()
    );
    // A rating that the file gives is to be changed there.
    let given = conflict(&boat(22.0, "30 A"));
    assert_eq!(given.help, format!("fit at most {rating} A in fuse"));
}
