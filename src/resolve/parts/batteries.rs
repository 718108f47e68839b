//! Batteries and the banks they form.

use crate::diag::Severity;
use crate::resolve::faults::{
    ASSUMED_VOLTAGE, BATTERY_NOT_IN_STRINGS, BATTERY_TWICE, EMPTY_BANK, TWO_BANKS, UNKNOWN_BATTERY,
};
use crate::resolve::fields::{At, Field, quoted};
use crate::resolve::names::guess;
use crate::resolve::quantities::PEUKERT;
use crate::resolve::{Resolver, finding};
use crate::source::Span;
use crate::system::{
    Bank, BankId, Chemistry, ComponentKind, Given, LinkKind, Origin, Purpose, Source, SourceId,
    SourceKind, TerminalRole,
};
use crate::units::Volts;

/// The words for chemistries.
pub(in crate::resolve) const CHEMISTRIES: &[(&str, Chemistry)] = &[
    ("flooded", Chemistry::Flooded),
    ("agm", Chemistry::Agm),
    ("gel", Chemistry::Gel),
    ("lithium-iron-phosphate", Chemistry::LithiumIronPhosphate),
];

/// What the banks need to know about a battery.
pub(in crate::resolve) struct BatteryNote<'n> {
    name: &'n str,
    name_span: Span,
    source: SourceId,
    /// Its `bank` field.
    bank: Option<Field<'n>>,
    /// Its voltage is written.
    voltage_given: bool,
    /// Where a string names it, and the bank of that string.
    in_string: Option<(Span, BankId)>,
}

impl<'n> Resolver<'n> {
    pub(super) fn batteries(&mut self) {
        for entry in &self.net.batteries {
            let at = At::entry(self.document, entry);
            let record = &entry.value;
            let component = self.declare(
                ComponentKind::Battery,
                entry,
                record.at.as_ref(),
                record.zone.as_ref(),
            );
            let covered = Self::flag(at, "covered", record.covered);
            let stud = self.stud(at.field("stud", record.stud.as_ref()));
            let part = self.part(component);
            part.covered = covered;
            part.stud = stud;
            let positive = self.terminal(component, "+", TerminalRole::Positive);
            let negative = self.terminal(component, "-", TerminalRole::Negative);
            let id = SourceId::at(self.system.sources.len());
            let link = self.link(
                LinkKind::Source(id),
                (positive, negative),
                entry.name_span,
                None,
            );
            let voltage = self.read::<Volts>(at.field("voltage", record.voltage.as_ref()));
            let source = Source {
                name: entry.name.clone(),
                span: entry.name_span,
                link,
                component,
                kind: SourceKind::Battery,
                nominal: voltage.unwrap_or(self.nominal_here()),
                max_voltage: self
                    .read(at.field("max-charge-voltage", record.max_charge_voltage.as_ref())),
                bank: None,
                chemistry: self.word(
                    at.field("chemistry", record.chemistry.as_ref()),
                    CHEMISTRIES,
                ),
                capacity: self.read(at.field("capacity", record.capacity.as_ref())),
                hour_rate: self.read(at.field("hour-rate", record.hour_rate.as_ref())),
                peukert: self.number(at.field("peukert", record.peukert.as_ref()), PEUKERT),
                cranking: self.read(at.field("cranking", record.cranking.as_ref())),
                short_circuit: self.read(at.field("short-circuit", record.short_circuit.as_ref())),
                resistance: self.read(at.field("resistance", record.resistance.as_ref())),
                current: self.read(at.field("management-limit", record.management_limit.as_ref())),
                self_limiting: None,
                built_in_fuse: None,
                alarm_contact: Self::flag(at, "alarm-contact", record.alarm_contact),
                field_switches: Vec::new(),
                surge_protected: None,
                input: None,
            };
            self.system.sources.push(source);
            self.batteries.push(BatteryNote {
                name: &entry.name,
                name_span: entry.name_span,
                source: id,
                bank: at
                    .field("bank", record.bank.as_ref())
                    .filter(|field| !field.text.trim().is_empty()),
                voltage_given: voltage.is_some(),
                in_string: None,
            });
        }
    }

    /// The voltage of a part that states none.
    pub(in crate::resolve) fn nominal_here(&self) -> Given<Volts> {
        Given {
            value: self.nominal.value,
            span: self.nominal.span,
            origin: match self.nominal.origin {
                Origin::Assumed => Origin::Assumed,
                _ => Origin::Derived,
            },
        }
    }

    /// Resolves the banks: those with a record, then those that batteries name.
    pub(in crate::resolve) fn banks(&mut self) {
        let mut notes = std::mem::take(&mut self.batteries);
        let by_name: std::collections::HashMap<&str, usize> = notes
            .iter()
            .enumerate()
            .rev()
            .map(|(index, note)| (note.name, index))
            .collect();
        for entry in &self.net.banks {
            let at = At::entry(self.document, entry);
            let record = &entry.value;
            let id = BankId::at(self.system.banks.len());
            self.names.banks.add(&entry.name, id.0);
            self.names.bank_implied.push(false);
            let mut strings = Vec::new();
            for (index, string) in record.strings.iter().flatten().enumerate() {
                let place = at.key("strings").item(index);
                let mut sources = Vec::new();
                for (step, name) in string.0.iter().enumerate() {
                    let field = place.item(step).text("strings", name);
                    let Some(battery) = self.battery_named(&by_name, field) else {
                        continue;
                    };
                    let note = &mut notes[battery];
                    if let Some((first, _)) = note.in_string {
                        let told = finding(
                            BATTERY_TWICE,
                            Severity::Error,
                            &entry.name,
                            format!(
                                "battery {} stands twice in the strings of the banks",
                                quoted(note.name)
                            ),
                        )
                        .label(field.span(), "the second time")
                        .label(first, "the first time")
                        .repair("name every battery once");
                        self.tell(told);
                        continue;
                    }
                    note.in_string = Some((field.span(), id));
                    sources.push(note.source);
                }
                if !sources.is_empty() {
                    strings.push(sources);
                }
            }
            let strings_given = !strings.is_empty();
            let mut mid_taps = Vec::new();
            for field in at.list("mid-taps", record.mid_taps.as_ref()) {
                if let Some(battery) = self.battery_named(&by_name, field) {
                    mid_taps.push(notes[battery].source);
                }
            }
            let purpose = match record.purpose.as_ref().map(|text| text.0.trim()) {
                Some(word) if !word.is_empty() => purpose_word(word),
                _ => purpose_of(&entry.name),
            };
            self.system.banks.push(Bank {
                name: entry.name.clone(),
                span: entry.name_span,
                purpose,
                strings,
                strings_given,
                isolated: Self::flag(at, "isolated", record.isolated),
                mid_taps,
            });
        }
        for note in &notes {
            let id = self.bank_of(note);
            self.system.sources[note.source.index()].bank = Some(id);
        }
        self.series_voltages(&notes);
        self.empty_banks();
    }

    fn battery_named(
        &mut self,
        by_name: &std::collections::HashMap<&str, usize>,
        field: Field<'n>,
    ) -> Option<usize> {
        if let Some(&index) = by_name.get(field.text.trim()) {
            return Some(index);
        }
        let names: Vec<&str> = self
            .net
            .batteries
            .iter()
            .map(|entry| entry.name.as_str())
            .collect();
        let near = guess(&mut self.guesses, field.text, &names).map(quoted);
        let what = match self.names.components.get(field.text.trim()) {
            Some(_) => "no battery",
            None => "no component",
        };
        let mut told = Self::error(
            UNKNOWN_BATTERY,
            field,
            format!(
                "{} names {}, which is {what}",
                field.title(),
                quoted(field.text)
            ),
        )
        .label(field.span(), "expected a battery");
        told.help = match near {
            Some(near) => format!("did you mean {near}?"),
            None => format!(
                "add {} under `batteries`, or correct the name",
                quoted(field.text)
            ),
        };
        self.tell(told);
        None
    }

    /// The bank of a battery, made where no record makes it.
    fn bank_of(&mut self, note: &BatteryNote<'n>) -> BankId {
        let named = note.bank.map(|field| field.text.trim());
        if let Some((span, bank)) = note.in_string {
            let name = &self.system.banks[bank.index()].name;
            if let Some((field, named)) = note.bank.zip(named)
                && named != name
            {
                let told = Self::error(
                    TWO_BANKS,
                    field,
                    format!(
                        "battery {} names bank {} but stands in a string of bank {}",
                        quoted(note.name),
                        quoted(named),
                        quoted(name)
                    ),
                )
                .label(field.span(), "names this bank")
                .label(span, "stands in this string")
                .repair(format!(
                    "write `bank: {name}`, or take the battery out of the string"
                ));
                self.tell(told);
            }
            return bank;
        }
        let name = named.unwrap_or(note.name);
        let id = match self.names.banks.get(name) {
            Some(id) => BankId(id),
            None => self.implied_bank(name, note),
        };
        let bank = &mut self.system.banks[id.index()];
        if bank.strings_given {
            let told = finding(
                BATTERY_NOT_IN_STRINGS,
                Severity::Error,
                note.name,
                format!(
                    "battery {} belongs to bank {} but is in none of its strings",
                    quoted(note.name),
                    quoted(name)
                ),
            )
            .label(
                note.bank.map_or(note.name_span, Field::span),
                "names this bank",
            )
            .label(bank.span, "whose strings are listed here")
            .repair(format!(
                "add {} to `strings` of the bank",
                quoted(note.name)
            ));
            bank.strings.push(vec![note.source]);
            self.tell(told);
        } else {
            bank.strings.push(vec![note.source]);
        }
        id
    }

    fn implied_bank(&mut self, name: &'n str, note: &BatteryNote<'n>) -> BankId {
        let id = BankId::at(self.system.banks.len());
        self.names.banks.add(name, id.0);
        self.names.bank_implied.push(note.bank.is_some());
        self.system.banks.push(Bank {
            name: name.to_owned(),
            span: note.bank.map_or(note.name_span, Field::span),
            purpose: purpose_of(name),
            strings: Vec::new(),
            strings_given: false,
            isolated: None,
            mid_taps: Vec::new(),
        });
        id
    }

    /// A battery in a series string that states no voltage has its share of the nominal one, told as a note; one that
    /// is charged as a battery of the full nominal voltage has that.
    fn series_voltages(&mut self, notes: &[BatteryNote<'n>]) {
        let mut silent = vec![None; self.system.sources.len()];
        for note in notes.iter().filter(|note| !note.voltage_given) {
            silent[note.source.index()] = Some(note.name_span);
        }
        let nominal = self.nominal_here();
        let mut told = Vec::new();
        for bank in &self.system.banks {
            for string in bank.strings.iter().filter(|string| string.len() > 1) {
                let share = nominal.value / string.len() as f64;
                let mut assumed: Option<(Span, Volts)> = None;
                for source in string {
                    let Some(span) = silent[source.index()] else {
                        continue;
                    };
                    let source = &mut self.system.sources[source.index()];
                    let charged_whole = source
                        .max_voltage
                        .is_some_and(|most| most.value.0 > nominal.value.0);
                    let value = if charged_whole { nominal.value } else { share };
                    source.nominal.value = value;
                    source.nominal.origin = Origin::Assumed;
                    source.nominal.span = None;
                    assumed.get_or_insert((span, value));
                }
                if let Some((span, value)) = assumed {
                    told.push((bank.name.clone(), span, value));
                }
            }
        }
        for (bank, span, value) in told {
            let message = format!(
                "batteries in a string of bank {bank} state no voltage; {} V each is assumed",
                value.0
            );
            let note = finding(ASSUMED_VOLTAGE, Severity::Note, &bank, message)
                .label(Some(span), "no voltage here")
                .repair("write the `voltage` of every battery of the string");
            self.tell(note);
        }
    }

    fn empty_banks(&mut self) {
        let empty: Vec<(String, Span)> = self
            .system
            .banks
            .iter()
            .filter(|bank| bank.strings.is_empty())
            .map(|bank| (bank.name.clone(), bank.span))
            .collect();
        for (name, span) in empty {
            let told = finding(
                EMPTY_BANK,
                Severity::Error,
                &name,
                format!("bank {} has no battery", quoted(&name)),
            )
            .label(span, "no battery names this bank")
            .repair(format!(
                "write `bank: {name}` in its batteries, or list them under `strings`"
            ));
            self.tell(told);
        }
    }
}

/// The purpose that a word of the file states.
fn purpose_word(word: &str) -> Purpose {
    match word {
        "start" => Purpose::Start,
        "house" => Purpose::House,
        other => Purpose::Other(other.to_owned()),
    }
}

/// The purpose that a bank's name tells.
fn purpose_of(name: &str) -> Purpose {
    for word in name.split(|letter: char| !letter.is_alphanumeric()) {
        match word.trim_end_matches(|letter: char| letter.is_ascii_digit()) {
            "start" | "starting" | "starter" | "crank" | "cranking" | "engine" => {
                return Purpose::Start;
            }
            "house" | "domestic" | "service" => return Purpose::House,
            _ => {}
        }
    }
    Purpose::Other(name.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn purposes_follow_from_names() {
        assert_eq!(purpose_of("start"), Purpose::Start);
        assert_eq!(purpose_of("start-port"), Purpose::Start);
        assert_eq!(purpose_of("house2"), Purpose::House);
        assert_eq!(purpose_of("bow"), Purpose::Other("bow".to_owned()));
        assert_eq!(purpose_of("restart"), Purpose::Other("restart".to_owned()));
    }
}
