//! The list of all shipped tables, for the paper that names sources.

use super::{
    Source, ampacity, batteries, bench, colours, conductors, constants, fuses, heating,
    interrupting, overcurrent, part_resistance, plausible, resistance, switches, terminals,
    voltage_drop,
};

/// Every shipped table, by subject.
#[must_use]
pub fn sources() -> [&'static Source; 40] {
    [
        &ampacity::AMPACITY_US,
        &ampacity::AMPACITY_METRIC,
        &ampacity::ENGINE_SPACE,
        &ampacity::BUNDLING,
        &resistance::RESISTANCE_AWG,
        &resistance::RESISTANCE_METRIC,
        &part_resistance::PARTS,
        &voltage_drop::DROP_LIMITS,
        &overcurrent::PLACEMENT,
        &overcurrent::RATING,
        &interrupting::BY_CRANKING,
        &interrupting::BANKS,
        &fuses::FORMS,
        &fuses::BLADES,
        &fuses::SERIES,
        &fuses::TIMES,
        &fuses::RESISTANCE,
        &heating::FACTORS,
        &conductors::SOLD_SIZES,
        &conductors::MINIMUM_SIZES,
        &conductors::WIRE_OD,
        &conductors::SAE_AREA,
        &conductors::INSULATION,
        &colours::COLOURS,
        &colours::FUNCTIONS,
        &terminals::STUD_SIZES,
        &terminals::RINGS,
        &terminals::BARRELS,
        &terminals::STRIP,
        &terminals::PULL,
        &batteries::BATTERY,
        &batteries::REST,
        &bench::ALLOWANCES,
        &bench::ROUNDING,
        &bench::SPARES,
        &bench::SLEEVES,
        &bench::TOLERANCE,
        &switches::FACTORS,
        &plausible::DRAWS,
        &constants::CONSTANTS,
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::standards::Confidence;

    #[test]
    fn every_head_is_complete_and_agrees_with_its_citation() {
        for source in sources() {
            let head = |key: &str| source.head(key);
            for key in [
                "title",
                "publication",
                "publisher",
                "units",
                "conditions",
                "obtained",
            ] {
                assert!(
                    head(key).is_some_and(|text| !text.is_empty()),
                    "{}: {key}",
                    source.file
                );
            }
            let basis = source.basis;
            assert_eq!(
                head("publication"),
                Some(basis.publication),
                "{}",
                source.file
            );
            assert_eq!(head("edition"), Some(basis.edition), "{}", source.file);
            assert_eq!(head("clause"), Some(basis.clause), "{}", source.file);
            let obtained = head("obtained").and_then(Confidence::from_table);
            assert_eq!(obtained, Some(basis.confidence), "{}", source.file);
        }
    }

    #[test]
    fn no_row_is_weaker_than_its_table_says_and_every_mark_is_known() {
        for source in sources() {
            let rows = source.rows();
            assert!(!rows.is_empty(), "{}", source.file);
            for row in rows {
                assert!(
                    row.basis().confidence <= source.basis.confidence,
                    "{}",
                    source.file
                );
                assert!(row.is_whole(), "{}", source.file);
                let mark = row.text("obtained");
                assert!(
                    mark.is_empty() || Confidence::from_table(mark).is_some(),
                    "{mark}"
                );
            }
        }
    }

    #[test]
    #[allow(clippy::disallowed_methods)] // a test reads a folder; the library does not
    fn every_file_in_the_folder_is_listed() {
        let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("src/standards/data");
        let mut files: Vec<String> = std::fs::read_dir(folder)
            .expect("the folder is there")
            .map(|entry| {
                entry
                    .expect("it can be read")
                    .file_name()
                    .to_string_lossy()
                    .into_owned()
            })
            .collect();
        files.sort();
        let mut listed: Vec<&str> = sources().iter().map(|source| source.file).collect();
        listed.sort_unstable();
        assert_eq!(files, listed);
    }
}
