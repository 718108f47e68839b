//! Switches, relays, combiners and isolators.

use crate::diag::Severity;
use crate::netlist::Entry;
use crate::netlist::records::{PositionRecord, SwitchRecord};
use crate::netlist::text::Text;
use crate::resolve::faults::{
    ASSUMED_CONTACTS, GROUP_OF_ONE, NO_POSITIONS, TOO_MANY_PARTS, UNKNOWN_POSITION,
    UNKNOWN_TERMINAL,
};
use crate::resolve::fields::{At, Field, listed, quoted};
use crate::resolve::names::{Growth, MAX_PLACES, MAX_TERMINALS, guess};
use crate::resolve::quantities::FORWARD_VOLTS;
use crate::resolve::{Resolver, finding};
use crate::standards::constants;
use crate::system::{
    Behaviour, ComponentId, ComponentKind, Draw, Gear, GearId, GearKind, Known, LinkKind, LoadId,
    LoadKind, Position, TerminalId, TerminalRole,
};
use crate::units::{Ohms, Volts};
use indexmap::IndexMap;

/// Positions that one switch may have; a rotary switch of the trade has a dozen at most.
const MAX_POSITIONS: usize = 64;

/// The words for kinds of switches.
const KINDS: &[(&str, GearKind)] = &[
    ("battery", GearKind::BatterySwitch),
    ("panel", GearKind::PanelSwitch),
    ("key", GearKind::Key),
    ("float", GearKind::Float),
    ("push", GearKind::Push),
    ("timer", GearKind::Timer),
    ("pressure", GearKind::Pressure),
];

/// Contacts of a relay.
#[derive(Clone, Copy)]
enum Contacts {
    Make,
    Break,
    Changeover,
}

/// Which pairs of terminals are joined in which positions.
#[derive(Default)]
struct Pairs(IndexMap<(usize, usize), Vec<u16>>);

impl Pairs {
    /// Joins the terminals of a group one after the other, in their order on the part.
    fn chain(&mut self, group: &[usize], position: u16) {
        for pair in group.windows(2) {
            let closed = self.0.entry((pair[0], pair[1])).or_default();
            if closed.last() != Some(&position) {
                closed.push(position);
            }
        }
    }
}

impl<'n> Resolver<'n> {
    pub(super) fn switches(&mut self) {
        for entry in &self.net.switches {
            let at = At::entry(self.document, entry);
            let record = &entry.value;
            let component = self.declare(
                ComponentKind::Switch,
                entry,
                record.at.as_ref(),
                record.zone.as_ref(),
            );
            let kind = self.word(at.field("kind", record.kind.as_ref()), KINDS);
            let rating = self.read(at.field("rating", record.rating.as_ref()));
            let intermittent =
                self.read(at.field("intermittent-rating", record.intermittent_rating.as_ref()));
            let voltage = self.read(at.field("voltage", record.voltage.as_ref()));
            let resistance = self.read(at.field("resistance", record.resistance.as_ref()));
            let stud = self.stud(at.field("stud", record.stud.as_ref()));
            let part = self.part(component);
            part.rating = rating;
            part.intermittent_rating = intermittent;
            part.voltage_rating = voltage;
            part.stud = stud;
            part.ignition_protected =
                Self::flag(at, "ignition-protected", record.ignition_protected);
            part.subkind = kind_word(record.kind.as_ref());
            let terminals = self.switch_terminals(component, entry, at);
            let gear = GearId::at(self.system.gears.len());
            let (positions, pairs) = self.switch_positions(entry, at, &terminals);
            self.contacts(gear, &terminals, &pairs, at, resistance);
            let automatic = record.automatic.map_or(
                kind.is_some_and(|kind| {
                    matches!(
                        kind.value,
                        GearKind::Float | GearKind::Timer | GearKind::Pressure
                    )
                }),
                |flag| flag.0,
            );
            let off = off_position(&positions, &pairs);
            let normal = self.named_position(
                at.field("normal", record.normal.as_ref()),
                at.element,
                &positions,
            );
            self.names.normal_given.push(normal.is_some());
            self.system.gears.push(Gear {
                name: entry.name.clone(),
                component,
                kind: kind.map_or(GearKind::PanelSwitch, |kind| kind.value),
                kind_given: kind.is_some(),
                positions,
                normal: normal.unwrap_or(0),
                off,
                automatic,
                coil: None,
                suppressed: None,
            });
        }
    }

    /// The terminals written, or those that the positions name, or `in` and `out`.
    fn switch_terminals(
        &mut self,
        component: ComponentId,
        entry: &'n Entry<SwitchRecord>,
        at: At<'n>,
    ) -> Vec<(&'n str, TerminalId)> {
        let mut names: Vec<&'n str> = Vec::new();
        let record = &entry.value;
        let written = record.terminals.iter().flat_map(|list| &list.0);
        let in_positions = record
            .positions
            .iter()
            .flatten()
            .filter_map(|(_, position)| position.closes.as_ref())
            .flat_map(|closes| closes.0.iter().flatten());
        let has_written = record
            .terminals
            .as_ref()
            .is_some_and(|list| !list.0.is_empty());
        let all: Box<dyn Iterator<Item = &'n Text>> = if has_written {
            Box::new(written)
        } else {
            Box::new(in_positions)
        };
        let mut seen = std::collections::HashSet::new();
        for name in all {
            let name = name.0.trim();
            // A name written twice is told as such when its terminal is made.
            if seen.insert(name) || has_written {
                names.push(name);
            }
        }
        if names.is_empty() {
            names = vec!["in", "out"];
        }
        if names.len() > MAX_TERMINALS {
            self.too_many(at, "terminals", MAX_TERMINALS);
            names.truncate(MAX_TERMINALS);
        }
        names
            .into_iter()
            .map(|name| {
                let role = match name {
                    "in" => TerminalRole::In,
                    _ => TerminalRole::Out,
                };
                (name, self.terminal(component, name, role))
            })
            .collect()
    }

    /// Positions, and what each closes.
    fn switch_positions(
        &mut self,
        entry: &'n Entry<SwitchRecord>,
        at: At<'n>,
        terminals: &[(&'n str, TerminalId)],
    ) -> (Vec<Position>, Pairs) {
        let mut pairs = Pairs::default();
        let written = entry.value.positions.as_ref();
        let Some(written) = written.filter(|written| !written.is_empty()) else {
            if terminals.len() < 2 {
                let told = finding(
                    GROUP_OF_ONE,
                    Severity::Error,
                    &entry.name,
                    format!(
                        "switch {} has one terminal only, so it joins nothing",
                        quoted(&entry.name)
                    ),
                )
                .label(at.key("terminals").span(), "one terminal alone")
                .repair("name all its terminals, or leave `terminals` out where they are `in` and `out`");
                self.tell(told);
            }
            if terminals.len() > 2 {
                let told = finding(
                    NO_POSITIONS,
                    Severity::NotProved,
                    &entry.name,
                    format!(
                        "switch {} has {} terminals and does not say what its positions close; all are taken to be joined when it is on",
                        quoted(&entry.name),
                        terminals.len()
                    ),
                )
                .label(entry.name_span, "no positions")
                .repair("list its `positions` with the terminals that each one joins");
                self.tell(told);
            }
            let all: Vec<usize> = (0..terminals.len()).collect();
            pairs.chain(&all, 1);
            return (vec![plain_position("off"), plain_position("on")], pairs);
        };
        if written.len() > MAX_POSITIONS {
            self.too_many(at, "positions", MAX_POSITIONS);
        }
        let mut positions = Vec::new();
        for (index, (name, record)) in written.iter().take(MAX_POSITIONS).enumerate() {
            let number = u16::try_from(index).unwrap_or(u16::MAX);
            let place = at.key("positions").key(name);
            self.closes(record, place, terminals, &mut pairs, number);
            positions.push(Position {
                name: name.clone(),
                span: at.key("positions").key_span(name),
                joins_banks: record.joins_banks.is_some_and(|flag| flag.0),
                emergency: record.emergency.is_some_and(|flag| flag.0),
            });
        }
        (positions, pairs)
    }

    fn closes(
        &mut self,
        record: &'n PositionRecord,
        place: At<'n>,
        terminals: &[(&'n str, TerminalId)],
        pairs: &mut Pairs,
        position: u16,
    ) {
        let Some(closes) = &record.closes else {
            return;
        };
        let list = place.key("closes");
        for (index, group) in closes.0.iter().enumerate() {
            let item = list.item(index);
            // One flat list is one group; then the items of the list are the names themselves.
            let names = if item.is_list() { item } else { list };
            let mut joined: Vec<usize> = Vec::new();
            let mut faulty = false;
            for (step, name) in group.iter().enumerate() {
                let field = names.item(step).text("closes", name);
                let found = terminals
                    .iter()
                    .position(|(known, _)| *known == name.0.trim());
                if let Some(terminal) = found {
                    joined.push(terminal);
                } else {
                    faulty = true;
                    self.unknown_contact(field, terminals);
                }
            }
            joined.sort_unstable();
            joined.dedup();
            if joined.len() == 1 && !faulty {
                let told = finding(
                    GROUP_OF_ONE,
                    Severity::Error,
                    place.element,
                    format!(
                        "a position of {} joins {} to nothing",
                        quoted(place.element),
                        quoted(terminals[joined[0]].0)
                    ),
                )
                .label(names.span(), "one terminal alone")
                .repair("name every terminal that is joined here, or leave the group out");
                self.tell(told);
            }
            pairs.chain(&joined, position);
        }
    }

    fn unknown_contact(&mut self, field: Field<'n>, terminals: &[(&'n str, TerminalId)]) {
        let names: Vec<&str> = terminals.iter().map(|(name, _)| *name).collect();
        let near = guess(&mut self.guesses, field.text, &names);
        let mut told = Self::error(
            UNKNOWN_TERMINAL,
            field,
            format!(
                "{} has no terminal {}",
                quoted(field.element()),
                quoted(field.text)
            ),
        )
        .label(
            field.span(),
            format!("its terminals are {}", listed(names.iter().copied())),
        );
        told.help = match near {
            Some(near) => format!("did you mean {}?", quoted(near)),
            None => format!("add {} to its `terminals`", quoted(field.text)),
        };
        self.tell(told);
    }

    /// The contact links of a part with positions.
    fn contacts(
        &mut self,
        gear: GearId,
        terminals: &[(&'n str, TerminalId)],
        pairs: &Pairs,
        at: At<'n>,
        resistance: Known<Ohms>,
    ) {
        for (&(a, b), closed_in) in &pairs.0 {
            self.link(
                LinkKind::Contact {
                    gear,
                    closed_in: closed_in.clone(),
                },
                (terminals[a].1, terminals[b].1),
                at.name_span(),
                resistance,
            );
        }
    }

    /// The index of the position a field names.
    pub(in crate::resolve) fn named_position(
        &mut self,
        field: Option<Field<'n>>,
        part: &str,
        positions: &[Position],
    ) -> Option<u16> {
        let field = field?;
        if let Some(index) = positions
            .iter()
            .position(|position| position.name == field.text.trim())
        {
            return u16::try_from(index).ok();
        }
        let names: Vec<&str> = positions
            .iter()
            .map(|position| position.name.as_str())
            .collect();
        let near = guess(&mut self.guesses, field.text, &names);
        let mut told = Self::error(
            UNKNOWN_POSITION,
            field,
            format!("{} has no position {}", quoted(part), quoted(field.text)),
        )
        .label(
            field.span(),
            format!("its positions are {}", listed(names.iter().copied())),
        );
        told.help = match near {
            Some(near) => format!("did you mean {}?", quoted(near)),
            None => format!("write one of {}", listed(names.iter().copied())),
        };
        self.tell(told);
        None
    }

    pub(in crate::resolve) fn too_many(&mut self, at: At<'n>, what: &'static str, most: usize) {
        let told = finding(
            TOO_MANY_PARTS,
            Severity::Error,
            at.element,
            format!(
                "{} has more than {most} {what}; only the first {most} are read",
                quoted(at.element)
            ),
        )
        .label(at.key(what).span(), format!("more than {most}"))
        .repair("divide it into several parts");
        self.tell(told);
    }

    pub(super) fn relays(&mut self) {
        for entry in &self.net.relays {
            let at = At::entry(self.document, entry);
            let record = &entry.value;
            let component = self.declare(
                ComponentKind::Relay,
                entry,
                record.at.as_ref(),
                record.zone.as_ref(),
            );
            let contacts = self.word(
                at.field("contacts", record.contacts.as_ref()),
                &[
                    ("make", Contacts::Make),
                    ("break", Contacts::Break),
                    ("changeover", Contacts::Changeover),
                ],
            );
            if record.contacts.is_none() {
                let told = finding(
                    ASSUMED_CONTACTS,
                    Severity::Note,
                    &entry.name,
                    format!(
                        "relay {} does not say what its contacts do; one that closes when the coil is energised is assumed",
                        quoted(&entry.name)
                    ),
                )
                .label(entry.name_span, "no contacts given")
                .repair("write `contacts: make`, `break` or `changeover`");
                self.tell(told);
            }
            let contacts = contacts.map_or(Contacts::Make, |given| given.value);
            let rating = self.read(at.field("rating", record.rating.as_ref()));
            let intermittent =
                self.read(at.field("intermittent-rating", record.intermittent_rating.as_ref()));
            let resistance = self.read(at.field("resistance", record.resistance.as_ref()));
            let stud = self.stud(at.field("stud", record.stud.as_ref()));
            let part = self.part(component);
            part.rating = rating;
            part.intermittent_rating = intermittent;
            part.stud = stud;
            part.ignition_protected =
                Self::flag(at, "ignition-protected", record.ignition_protected);
            part.subkind = kind_word(record.contacts.as_ref());
            let coil_plus = self.terminal(component, "coil+", TerminalRole::Positive);
            let coil_minus = self.terminal(component, "coil-", TerminalRole::Negative);
            let mut terminals = vec![("com", self.terminal(component, "com", TerminalRole::In))];
            let mut pairs = Pairs::default();
            if matches!(contacts, Contacts::Make | Contacts::Changeover) {
                terminals.push(("no", self.terminal(component, "no", TerminalRole::Out)));
                pairs.chain(&[0, terminals.len() - 1], 1);
            }
            if matches!(contacts, Contacts::Break | Contacts::Changeover) {
                terminals.push(("nc", self.terminal(component, "nc", TerminalRole::Out)));
                pairs.chain(&[0, terminals.len() - 1], 0);
            }
            let coil_draw = self.draw(at.field("coil-draw", record.coil_draw.as_ref()));
            let coil = self.simple_load(
                component,
                format!("{}.coil", entry.name),
                (coil_plus, coil_minus),
                at,
                coil_draw,
                LoadKind::Coil,
            );
            if let Some(voltage) = self.read(at.field("coil-voltage", record.coil_voltage.as_ref()))
            {
                self.system.loads[coil.index()].nominal = voltage;
            }
            let gear = GearId::at(self.system.gears.len());
            self.contacts(gear, &terminals, &pairs, at, resistance);
            let positions = vec![plain_position("rest"), plain_position("energised")];
            let off = off_position(&positions, &pairs);
            self.names.normal_given.push(true);
            self.system.gears.push(Gear {
                name: entry.name.clone(),
                component,
                kind: GearKind::Relay,
                kind_given: true,
                positions,
                normal: 0,
                off,
                automatic: false,
                coil: Some(coil),
                suppressed: Self::flag(at, "suppressed", record.suppressed),
            });
        }
    }

    pub(super) fn combiners(&mut self) {
        for entry in &self.net.combiners {
            let at = At::entry(self.document, entry);
            let record = &entry.value;
            let component = self.declare(
                ComponentKind::Combiner,
                entry,
                record.at.as_ref(),
                record.zone.as_ref(),
            );
            let rating = self.read(at.field("rating", record.rating.as_ref()));
            let resistance = self.read(at.field("resistance", record.resistance.as_ref()));
            let stud = self.stud(at.field("stud", record.stud.as_ref()));
            let part = self.part(component);
            part.rating = rating;
            part.stud = stud;
            part.ignition_protected =
                Self::flag(at, "ignition-protected", record.ignition_protected);
            let a = self.terminal(component, "a", TerminalRole::In);
            let b = self.terminal(component, "b", TerminalRole::Out);
            let gear = GearId::at(self.system.gears.len());
            let mut pairs = Pairs::default();
            pairs.chain(&[0, 1], 1);
            self.contacts(gear, &[("a", a), ("b", b)], &pairs, at, resistance);
            let draw = self.draw(at.field("draw", record.draw.as_ref()));
            if !record.self_referenced.is_some_and(|flag| flag.0) {
                let minus = self.terminal(component, "-", TerminalRole::Negative);
                if draw.is_some() {
                    self.simple_load(
                        component,
                        format!("{}.standby", entry.name),
                        (a, minus),
                        at,
                        draw,
                        LoadKind::Electronics,
                    );
                }
            }
            let mut joined = plain_position("joined");
            joined.joins_banks = true;
            self.names.normal_given.push(true);
            self.system.gears.push(Gear {
                name: entry.name.clone(),
                component,
                kind: GearKind::Combiner,
                kind_given: true,
                positions: vec![plain_position("open"), joined],
                normal: 0,
                off: Some(0),
                automatic: true,
                coil: None,
                suppressed: None,
            });
        }
    }

    pub(super) fn isolators(&mut self) {
        for entry in &self.net.isolators {
            let at = At::entry(self.document, entry);
            let record = &entry.value;
            let component = self.declare(
                ComponentKind::Isolator,
                entry,
                record.at.as_ref(),
                record.zone.as_ref(),
            );
            let rating = self.read(at.field("rating", record.rating.as_ref()));
            let part = self.part(component);
            part.rating = rating;
            part.compensated = Self::flag(at, "compensated", record.compensated);
            let forward = self.read_within::<Volts>(
                at.field("forward-voltage", record.forward_voltage.as_ref()),
                FORWARD_VOLTS,
            );
            self.terminal(component, "in", TerminalRole::In);
            if let Some(forward) = forward {
                self.names.forward.insert(component, forward.value);
            }
            let outputs = self.count(at.field("outputs", record.outputs.as_ref()), 1, MAX_PLACES);
            match outputs {
                Some(outputs) => {
                    for number in 1..=outputs.value {
                        self.isolator_output(component, number);
                    }
                }
                None => self.names.growth[component.index()] = Growth::Outputs,
            }
        }
    }

    /// An output of a diode isolator, with its diode.
    pub(super) fn isolator_output(&mut self, component: ComponentId, number: u32) -> TerminalId {
        let forward = self.names.forward.get(&component).copied();
        let forward = forward.unwrap_or_else(|| constants::diode_forward().0);
        let part = &self.system.components[component.index()];
        let (input, span) = (part.terminals[0], part.span);
        let output = self.terminal(component, number.to_string(), TerminalRole::Out);
        self.link(LinkKind::Diode { forward }, (input, output), span, None);
        output
    }

    /// A load inside a part that is no load itself: a coil, a standby current, the input of a converter.
    pub(super) fn simple_load(
        &mut self,
        component: ComponentId,
        name: String,
        ends: (TerminalId, TerminalId),
        at: At<'n>,
        draw: Known<Draw>,
        kind: LoadKind,
    ) -> LoadId {
        let id = LoadId::at(self.system.loads.len());
        let link = self.link(LinkKind::Load(id), ends, at.name_span(), None);
        let mut load =
            super::loads::plain_load(name, at.name_span(), link, component, self.nominal_here());
        load.kind = kind;
        load.draw = draw;
        load.behaviour = match kind {
            LoadKind::Coil => Behaviour::Resistance,
            LoadKind::ConverterInput => Behaviour::Power,
            _ => Behaviour::Current,
        };
        self.system.loads.push(load);
        id
    }
}

fn plain_position(name: &str) -> Position {
    Position {
        name: name.to_owned(),
        span: None,
        joins_banks: false,
        emergency: false,
    }
}

/// The position that closes nothing; of several, the one that is called off.
fn off_position(positions: &[Position], pairs: &Pairs) -> Option<u16> {
    let open = |index: &u16| !pairs.0.values().any(|closed| closed.contains(index));
    let count = u16::try_from(positions.len()).unwrap_or(u16::MAX);
    let named = |index: &u16| {
        positions[usize::from(*index)]
            .name
            .eq_ignore_ascii_case("off")
    };
    (0..count)
        .filter(open)
        .find(named)
        .or_else(|| (0..count).find(open))
}

pub(super) fn kind_word(text: Option<&Text>) -> String {
    text.map_or_else(String::new, |text| text.0.trim().to_owned())
}

/// A breaker that is used as a switch too.
pub(super) fn breaker_positions() -> Vec<Position> {
    vec![plain_position("off"), plain_position("on")]
}
