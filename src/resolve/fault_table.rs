//! The faults that show when names and quantities are resolved, each with its permanent id.
//!
//! Ids below `NF030` belong to the text and the shape of the records; these begin at `NF030`.

use crate::source::Fault;

macro_rules! faults {
    ($($constant:ident $id:literal $name:literal $title:literal;)*) => {
        $(pub(super) const $constant: Fault = Fault { id: $id, name: $name, title: $title };)*
        /// Every fault of names and quantities, by id.
        pub const FAULTS: &[Fault] = &[$($constant),*];
    };
}

faults! {
    UNKNOWN_COMPONENT "NF030" "unknown-component" "A component is named that the file does not have";
    UNKNOWN_TERMINAL "NF031" "unknown-terminal" "A terminal is named that the component does not have";
    TERMINAL_NOT_NAMED "NF032" "terminal-not-named" "A component with several terminals is named without one of them";
    DUPLICATE_DESIGNATION "NF033" "duplicate-designation" "Two components have the same designation";
    BAD_DESIGNATION "NF034" "bad-designation" "A designation cannot be used in a reference";
    TWO_SPELLINGS "NF035" "two-spellings" "One terminal is named in two ways";
    WRONG_QUANTITY "NF036" "wrong-quantity" "A value cannot be read as the quantity wanted there";
    OUT_OF_RANGE "NF037" "out-of-range" "A value is outside what can be meant";
    UNKNOWN_WORD "NF038" "unknown-word" "A word is not one of those the language has there";
    WRONG_GAUGE "NF039" "wrong-gauge" "A text is no conductor size";
    UNKNOWN_COLOUR "NF040" "unknown-colour" "A colour is not one of the colour table";
    UNKNOWN_ZONE "NF041" "unknown-zone" "A zone is named that the file does not have";
    UNKNOWN_POINT "NF042" "unknown-point" "A point is named that the file does not have";
    UNKNOWN_WAY "NF043" "unknown-way" "A point or way is named that the file does not have";
    UNKNOWN_BANK "NF044" "unknown-bank" "A bank is named that the file does not have";
    UNKNOWN_BATTERY "NF045" "unknown-battery" "A battery is named that the file does not have";
    UNKNOWN_POSITION "NF046" "unknown-position" "A position is named that the switch does not have";
    UNKNOWN_CONDUCTOR "NF047" "unknown-conductor" "A wire number or circuit is named that the file does not have";
    WRONG_PART "NF048" "wrong-part" "A component of the wrong kind is named";
    WAY_WITHOUT_ENDS "NF049" "way-without-ends" "A way does not join two different points";
    NO_WAY "NF050" "no-way" "No way leads from one end of a run to the other";
    RUN_TO_ITSELF "NF051" "run-to-itself" "Both ends of a run are one electrical point";
    MISSING_END "NF052" "missing-end" "A run does not say where it begins or ends";
    NO_FEED "NF053" "no-feed" "A circuit does not say what feeds it";
    NO_LOAD "NF054" "no-load" "A circuit does not say what it serves";
    NO_RETURN "NF055" "no-return" "A circuit does not say where its return goes";
    NOT_A_LOAD "NF056" "not-a-load" "A circuit serves a component that a circuit cannot serve";
    WHICH_TERMINALS "NF057" "which-terminals" "A circuit passes a part without saying by which terminals";
    LENGTH_COUNT "NF058" "length-count" "The number of lengths is not the number of legs";
    DUPLICATE_NUMBER "NF059" "duplicate-number" "Two conductors have the same wire number";
    SWITCH_AND_THROUGH "NF060" "switch-and-through" "A circuit gives both a switch and a list of parts";
    BATTERY_TWICE "NF061" "battery-twice" "A battery stands twice in the strings of the banks";
    BATTERY_NOT_IN_STRINGS "NF062" "battery-not-in-strings" "A battery of a bank is in none of its strings";
    TWO_BANKS "NF063" "two-banks" "A battery names one bank and stands in the strings of another";
    EMPTY_BANK "NF064" "empty-bank" "A bank has no battery";
    NO_POSITIONS "NF065" "no-positions" "A switch with several terminals does not say what its positions close";
    GROUP_OF_ONE "NF066" "group-of-one" "A group that needs several names has one";
    TOO_MANY_PARTS "NF067" "too-many-parts" "A component has more terminals or positions than any real part";
    LOOK_ALIKE "NF068" "look-alike" "A name used once differs by one letter from another";
    NO_REASON "NF069" "no-reason" "An accepted finding gives no reason";
    MISSING_FIELD "NF070" "missing-field" "A record lacks a field it means nothing without";
    SITS_ON_ITSELF "NF071" "sits-on-itself" "A part sits on a stud of itself";
    ROUTES_TOO_LONG "NF072" "routes-too-long" "The ways of all runs together are longer than any boat's";
    UNKNOWN_STUD "NF073" "unknown-stud" "A stud size is not one of the table";
    DUPLICATE_TERMINAL "NF074" "duplicate-terminal" "A component has two terminals of one name";
    UNKNOWN_CORE "NF075" "unknown-core" "A cable names a core that is no wire number";
    CORE_TWICE "NF076" "core-twice" "A wire is a core of two cables";
    UNKNOWN_SPOOL "NF077" "unknown-spool" "A cable names a spool that the file does not have";
    LABELS_OFF_PAGE "NF078" "labels-off-page" "The labels of a stock do not lie on their sheet";
    LABEL_TOO_SMALL "NF079" "label-too-small" "The measures of a label do not go together";
    ASSUMED_VOLTAGE "NF080" "assumed-voltage" "The nominal voltage is assumed";
    ASSUMED_INSULATION "NF081" "assumed-insulation" "The insulation rating of conductors is assumed";
    ASSUMED_LENGTH "NF082" "assumed-length" "The length of a panel leg is assumed";
    ASSUMED_CONTACTS "NF083" "assumed-contacts" "The contacts of a relay are assumed";
    ASSUMED_COMMON_NEGATIVE "NF084" "assumed-common-negative" "A converter is taken to join its negatives";
    WRONG_SPOOL "NF086" "wrong-spool" "A cable is cut from a spool that is not such a cable";
    WRONG_FACE "NF087" "wrong-face" "The face of a connector does not show each of its cavities once";
    VIA_COUNT "NF088" "via-count" "The number of ways is not the number of legs";
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ids_and_names_are_unique_and_rise() {
        for (index, fault) in FAULTS.iter().enumerate() {
            let before = &FAULTS[..index];
            assert!(
                !before.iter().any(|other| other.name == fault.name),
                "{fault:?}"
            );
            assert!(before.iter().all(|other| other.id < fault.id), "{fault:?}");
            assert!(!fault.title.ends_with('.'), "{fault:?}");
        }
    }
}
