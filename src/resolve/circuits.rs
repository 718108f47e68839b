//! Expansion of circuits: one entry becomes the runs from its feed to its load and back.
//!
//! Lengths are shared out here; what a leg lacks then is filled in where runs are built, from ways or the panel leg.

use super::faults::{
    DUPLICATE_NUMBER, LENGTH_COUNT, NO_FEED, NO_LOAD, NO_RETURN, NOT_A_LOAD, SWITCH_AND_THROUGH,
    UNKNOWN_TERMINAL, VIA_COUNT, WHICH_TERMINALS,
};
use super::fields::{At, Field, quoted};
use super::names::{Bare, Landing, Reference, place_number};
use super::quantities::asked;
use super::runs::{Draft, Drafts, Instead, Via, Wanted};
use super::{Resolver, finding};
use crate::diag::{Diagnostic, Severity};
use crate::netlist::Entry;
use crate::netlist::records::{CircuitRecord, ThroughItem, ViaItem};
use crate::netlist::text::OneOrMany;
use crate::source::{Fault, Span};
use crate::system::{
    Circuit, CircuitId, ComponentId, ComponentKind, Given, Known, LoadId, Origin, SizeField,
    TerminalId,
};
use crate::units::Metres;

/// Parts that one circuit passes at most; more than any real one.
const MAX_PASSED: usize = 100;

/// A contact that a circuit passes.
#[derive(Clone, Copy, Debug)]
pub(super) struct Passed {
    pub(super) load: LoadId,
    pub(super) component: ComponentId,
    pub(super) enter: TerminalId,
    pub(super) leave: TerminalId,
}

/// Which way a circuit passes a part.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Direction {
    /// With the positive, from the supply to the load.
    Out,
    /// With the negative, from the load back.
    Back,
}

/// Where a circuit enters a part and where it leaves it.
#[derive(Clone, Copy, Debug)]
struct Pass {
    enter: Landing,
    leave: Landing,
}

/// Both ends of what a circuit serves.
#[derive(Clone, Copy, Debug, Default)]
struct Served {
    positive: Option<Landing>,
    negative: Option<Landing>,
    load: Option<LoadId>,
}

/// A length that a circuit gives to one of its legs.
#[derive(Clone, Copy, Debug)]
struct LegLength {
    length: Known<Metres>,
    /// What stands in where nothing is written for this leg.
    instead: Instead,
}

impl LegLength {
    const NONE: Self = Self {
        length: None,
        instead: Instead::Nothing,
    };
}

/// What the legs of one pole have to pass.
enum LegVias {
    /// The same for all; a leg between parts at one point stays there.
    All(Vec<Via>),
    /// Each its own, in order.
    Each(Vec<Vec<Via>>),
}

impl LegVias {
    /// The same places the other way round, matched from the load; the last leg back takes what is left over.
    fn mirrored(&self, legs: usize) -> Self {
        match self {
            Self::All(vias) => Self::All(vias.iter().rev().copied().collect()),
            Self::Each(out) => Self::Each(
                (0..legs)
                    .map(|leg| {
                        let end = out.len().saturating_sub(leg);
                        let start = if leg + 1 == legs {
                            0
                        } else {
                            end.saturating_sub(1)
                        };
                        out[start..end].iter().flatten().rev().copied().collect()
                    })
                    .collect(),
            ),
        }
    }

    /// What a leg wants, with what all legs avoid.
    fn wanted(&self, leg: usize, common: &Wanted) -> Wanted {
        let (via, of_circuit) = match self {
            Self::All(vias) => (vias.clone(), true),
            Self::Each(legs) => {
                let via = legs.get(leg).cloned().unwrap_or_default();
                let free = via.is_empty();
                (via, free)
            }
        };
        Wanted {
            via,
            avoid: common.avoid.clone(),
            of_circuit,
        }
    }
}

impl<'n> Resolver<'n> {
    /// Expands every circuit into drafts of its runs.
    pub(super) fn circuits(&mut self) -> Drafts<'n> {
        let mut drafts = Drafts::default();
        let loads_at = self.loads_at();
        for entry in &self.net.circuits {
            self.circuit(entry, &loads_at, &mut drafts);
        }
        drafts
    }

    /// The load behind each positive terminal.
    fn loads_at(&self) -> Vec<Option<LoadId>> {
        let mut at = vec![None; self.system.terminals.len()];
        for (index, load) in self.system.loads.iter().enumerate() {
            let positive = self.system.links[load.link.index()].a;
            at[positive.index()] = Some(LoadId::at(index));
        }
        at
    }

    fn circuit(
        &mut self,
        entry: &'n Entry<CircuitRecord>,
        loads_at: &[Option<LoadId>],
        drafts: &mut Drafts<'n>,
    ) {
        let at = At::entry(self.document, entry);
        let record = &entry.value;
        let id = CircuitId::at(self.system.circuits.len());
        self.names.circuits.add(&entry.name, id.0);
        let written = record.number.as_ref().map(|number| number.0.trim());
        let number = match written {
            Some(number) if !number.is_empty() => number.to_owned(),
            _ => entry.name.to_uppercase(),
        };

        let feed = match at.field("feed", record.feed.as_ref()) {
            Some(field) => self.landing(field, Bare::Feed),
            None => self.lacks(
                NO_FEED,
                at,
                "does not say what feeds it",
                "write `feed:` with the terminal it is fed from",
            ),
        };
        let served = if let Some(field) = at.field("load", record.load.as_ref()) {
            self.served(field, loads_at)
        } else {
            let repair = "write `load:` with the load it serves";
            self.lacks(NO_LOAD, at, "does not say what it serves", repair);
            Served::default()
        };
        let back = match at.field("return", record.r#return.as_ref()) {
            Some(field) if !matches!(field.text.trim(), "" | "none" | "~") => {
                self.landing(field, Bare::Return)
            }
            _ => self.lacks(
                NO_RETURN,
                at,
                "does not say where its return goes",
                "write `return:` with the bus or terminal its negative goes to",
            ),
        };
        let out_items = passed_items(self, at, record);
        let out = self.passes(&out_items, Direction::Out);
        let home_items = list_items(at, "return-through", record.return_through.as_ref());
        let home = self.passes(&home_items, Direction::Back);

        let load_name = served.load.map(|load| {
            let load = &self.system.loads[load.index()];
            self.system.components[load.component.index()].label.clone()
        });
        let function = match record.name.as_ref().map(|name| name.0.trim()) {
            Some(name) if !name.is_empty() => name.to_owned(),
            _ => load_name.unwrap_or_else(|| entry.name.clone()),
        };
        self.note_passed(served.load, out.iter().chain(&home));

        let out_legs = out.len() + 1;
        let home_legs = home.len() + 1;
        let (out_lengths, home_lengths) = self.leg_lengths(at, record, out_legs, home_legs);
        let out_vias = self.leg_vias(at, "via", record.via.as_ref(), out_legs);
        let home_vias = match &record.return_via {
            Some(_) => self.leg_vias(at, "return-via", record.return_via.as_ref(), home_legs),
            None => out_vias.mirrored(home_legs),
        };
        let common = self.common_draft(at, entry, id, &function);
        let field = at.field("gauge", record.gauge.as_ref());
        let return_field = at.field("return-gauge", record.return_gauge.as_ref());
        let (gauge, return_gauge) = (self.size(field), self.size(return_field));
        let (size_asked, return_asked) = (asked(field), asked(return_field));
        let colour = self.colour(at.field("colour", record.colour.as_ref()));
        let return_colour = self.colour(at.field("return-colour", record.return_colour.as_ref()));

        for (leg, (from, to)) in stops(feed, &out, served.positive).into_iter().enumerate() {
            drafts.push(Draft {
                number: format!("{number}-{}", leg_letter(leg)),
                from,
                to,
                gauge,
                size_field: SizeField::Circuit(id),
                size_asked,
                colour: colour.clone(),
                length: out_lengths[leg].length,
                instead: out_lengths[leg].instead,
                wanted: out_vias.wanted(leg, &common.wanted),
                ..common.clone()
            });
        }
        let return_given = record.return_gauge.is_some();
        for (leg, (from, to)) in stops(served.negative, &home, back).into_iter().enumerate() {
            drafts.push(Draft {
                number: match home_legs {
                    1 => format!("{number}-N"),
                    _ => format!("{number}-N{}", leg + 1),
                },
                from,
                to,
                gauge: if return_given { return_gauge } else { gauge },
                size_field: if return_given {
                    SizeField::CircuitReturn(id)
                } else {
                    SizeField::Circuit(id)
                },
                size_asked: if return_given {
                    return_asked
                } else {
                    size_asked
                },
                colour: return_colour.clone(),
                length: home_lengths[leg].length,
                instead: home_lengths[leg].instead,
                wanted: home_vias.wanted(leg, &common.wanted),
                ..common.clone()
            });
        }
        self.system.circuits.push(Circuit {
            name: entry.name.clone(),
            span: entry.name_span,
            number,
            function,
            load: served.load,
            conductors: Vec::new(),
        });
    }

    /// Everything that all legs of a circuit have in common.
    fn common_draft(
        &mut self,
        at: At<'n>,
        entry: &'n Entry<CircuitRecord>,
        id: CircuitId,
        function: &str,
    ) -> Draft<'n> {
        let record = &entry.value;
        Draft {
            circuit: Some(id),
            function: function.to_owned(),
            insulation: self.insulation_rating(at.field("insulation", record.insulation.as_ref())),
            wire_type: Self::free_text(at.field("wire-type", record.wire_type.as_ref())),
            bundles: self.bundle_list(at, record.bundle.as_ref()),
            passes: self.zone_list(at, record.passes.as_ref()),
            sheathed: Self::flag(at, "sheathed", record.sheathed),
            wanted: Wanted {
                via: Vec::new(),
                avoid: self.avoid(at, record.avoid.as_ref()),
                of_circuit: true,
            },
            ..Draft::new(String::new(), at)
        }
    }

    /// Tells what a circuit lacks.
    fn lacks(&mut self, fault: Fault, at: At<'n>, what: &str, repair: &str) -> Option<Landing> {
        let span = match fault {
            NO_RETURN => at.key_span("return").map(|_| at.key("return").span()),
            _ => None,
        };
        let told = finding(
            fault,
            Severity::Error,
            at.element,
            format!("circuit {} {what}", quoted(at.element)),
        )
        .label(span.unwrap_or(at.name_span()), "this circuit")
        .repair(repair);
        self.tell(told);
        None
    }

    /// The ends of what a circuit serves.
    fn served(&mut self, field: Field<'n>, loads_at: &[Option<LoadId>]) -> Served {
        use ComponentKind as K;
        let Some(Reference {
            component,
            part,
            part_start,
        }) = self.reference(field)
        else {
            return Served::default();
        };
        let kind = self.system.components[component.index()].kind;
        let (positive, negative) = match kind {
            K::Load | K::Instrument => (self.only_input(component), "-"),
            K::Converter => (Some("in+".to_owned()), "in-"),
            K::Relay => (Some("coil+".to_owned()), "coil-"),
            K::FuseBlock => (Some("feed".to_owned()), "negative"),
            _ => {
                self.not_a_load(field, "it takes no current");
                return Served::default();
            }
        };
        let positive = match (part, positive) {
            (Some(part), _) => self.named_terminal(field, component, part, part_start),
            (None, Some(name)) => self.known_terminal(component, &name),
            (None, None) => self.bare(field, component, Bare::OnePoint),
        };
        let negative = self.known_terminal(component, negative);
        if negative.is_none() {
            self.not_a_load(field, "it has no negative of its own");
        }
        if positive.is_some() && positive == negative {
            self.not_a_load(field, "this is its negative");
            return Served {
                positive: None,
                negative,
                load: None,
            };
        }
        let load = match positive {
            Some(Landing::At(terminal)) => loads_at.get(terminal.index()).copied().flatten(),
            _ => None,
        };
        Served {
            positive,
            negative,
            load,
        }
    }

    /// The name of a load's positive, where it has one only.
    fn only_input(&self, component: ComponentId) -> Option<String> {
        let part = &self.system.components[component.index()];
        let mut positives = part
            .terminals
            .iter()
            .map(|terminal| &self.system.terminals[terminal.index()])
            .filter(|terminal| terminal.role == crate::system::TerminalRole::Positive);
        let first = positives.next()?;
        positives.next().is_none().then(|| first.name.clone())
    }

    fn not_a_load(&mut self, field: Field<'n>, why: &str) {
        let told = Self::error(
            NOT_A_LOAD,
            field,
            format!(
                "circuit {} cannot serve {}: {why}",
                quoted(field.element()),
                quoted(field.text)
            ),
        )
        .label(field.span(), why)
        .repair("name a load here, or write these conductors under `runs`");
        self.tell(told);
    }

    /// Where a circuit passes each of its parts; none for a part whose fault is told.
    fn passes(
        &mut self,
        items: &[(At<'n>, &'n ThroughItem)],
        direction: Direction,
    ) -> Vec<Option<Pass>> {
        items
            .iter()
            .map(|&(at, item)| self.pass(at, item, direction))
            .collect()
    }

    fn pass(&mut self, at: At<'n>, item: &'n ThroughItem, direction: Direction) -> Option<Pass> {
        let named = if item.terminals.is_some() {
            at.first_key()
        } else {
            at
        };
        let field = named.text("through", &item.part);
        let Reference {
            component,
            part,
            part_start,
        } = self.reference(field)?;
        if let Some(terminals) = &item.terminals {
            let place = at.first_value();
            let [enter, leave] = &terminals[..] else {
                let told = self.which_terminals(field, component, place.span());
                self.tell(told);
                return None;
            };
            let enter = place.item(0).text("through", enter);
            let leave = place.item(1).text("through", leave);
            let enter = self.named_terminal(enter, component, enter.text.trim(), 0);
            let leave = self.named_terminal(leave, component, leave.text.trim(), 0);
            return Some(Pass {
                enter: enter?,
                leave: leave?,
            });
        }
        let (enter, leave) = match part {
            Some(part) => self.by_cavity(field, component, part, part_start)?,
            None => self.in_line(field, component)?,
        };
        Some(match direction {
            Direction::Out => Pass { enter, leave },
            Direction::Back => Pass {
                enter: leave,
                leave: enter,
            },
        })
    }

    /// Both sides of a connector's cavity.
    fn by_cavity(
        &mut self,
        field: Field<'n>,
        component: ComponentId,
        part: &'n str,
        part_start: usize,
    ) -> Option<(Landing, Landing)> {
        let kind = self.system.components[component.index()].kind;
        if kind != ComponentKind::Connector {
            let told = self.which_terminals(field, component, field.span());
            self.tell(told);
            return None;
        }
        let number = place_number(part);
        let sides = number.and_then(|number| {
            let a = self.known_terminal(component, &format!("{number}a"))?;
            let b = self.known_terminal(component, &format!("{number}b"))?;
            Some((a, b))
        });
        if sides.is_none() {
            let connector = &self.system.components[component.index()];
            let name = connector.name.clone();
            let cavities = connector
                .connector
                .as_ref()
                .map_or(0, |connector| connector.cavities);
            let told = Self::error(
                UNKNOWN_TERMINAL,
                field,
                format!("{} has no cavity {}", quoted(&name), quoted(part)),
            )
            .label(
                field.part(part_start..part_start + part.len()),
                format!("its cavities are 1 to {cavities}"),
            )
            .repair(format!("write for example `{name}.1`"));
            self.tell(told);
        }
        sides
    }

    /// Both ends of a part that can be passed in one way only.
    fn in_line(&mut self, field: Field<'n>, component: ComponentId) -> Option<(Landing, Landing)> {
        use ComponentKind as K;
        let part = &self.system.components[component.index()];
        let terminals = &part.terminals;
        let ends = match part.kind {
            K::Fuse | K::Breaker | K::Shunt => Some((terminals[0], terminals[1])),
            K::Switch if terminals.len() == 2 => Some((terminals[0], terminals[1])),
            // `coil+`, `coil-`, `com` and one contact.
            K::Relay if terminals.len() == 4 => Some((terminals[2], terminals[3])),
            _ => None,
        };
        if let Some((enter, leave)) = ends {
            return Some((Landing::At(enter), Landing::At(leave)));
        }
        if matches!(part.kind, K::Bus | K::Splice | K::Ground) {
            let point = self.bare(field, component, Bare::OnePoint)?;
            return Some((point, point));
        }
        let told = self.which_terminals(field, component, field.span());
        self.tell(told);
        None
    }

    fn which_terminals(&self, field: Field<'n>, component: ComponentId, span: Span) -> Diagnostic {
        let part = &self.system.components[component.index()];
        let names: Vec<&str> = part
            .terminals
            .iter()
            .map(|terminal| self.system.terminals[terminal.index()].name.as_str())
            .collect();
        let (help, name) = match (part.kind, &names[..]) {
            (ComponentKind::Connector, _) => (
                format!("name a cavity, such as `{}.1`", part.name),
                &part.name,
            ),
            (ComponentKind::Relay, [_, _, common, contact, ..]) => (
                format!(
                    "write `{}: [{common}, {contact}]` with the contact meant",
                    part.name
                ),
                &part.name,
            ),
            (_, [first, second, ..]) => (
                format!(
                    "write `{}: [{first}, {second}]` with the terminals meant",
                    part.name
                ),
                &part.name,
            ),
            _ => ("name a part with two terminals".to_owned(), &part.name),
        };
        Self::error(
            WHICH_TERMINALS,
            field,
            format!(
                "circuit {} passes {} without saying where it enters and where it leaves",
                quoted(field.element()),
                quoted(name)
            ),
        )
        .label(
            span,
            format!(
                "its terminals are {}",
                super::fields::listed(names.iter().copied())
            ),
        )
        .repair(help)
    }

    /// Notes the contacts that a load's current passes, so that a scenario can close them.
    fn note_passed<'a>(
        &mut self,
        load: Option<LoadId>,
        passes: impl Iterator<Item = &'a Option<Pass>>,
    ) {
        let Some(load) = load else {
            return;
        };
        for pass in passes.flatten() {
            if let (Landing::At(enter), Landing::At(leave)) = (pass.enter, pass.leave)
                && enter != leave
            {
                let component = self.system.terminals[enter.index()].component;
                self.passed.push(Passed {
                    load,
                    component,
                    enter,
                    leave,
                });
            }
        }
    }

    /// The lengths of the legs out and of the legs back.
    fn leg_lengths(
        &mut self,
        at: At<'n>,
        record: &'n CircuitRecord,
        out: usize,
        home: usize,
    ) -> (Vec<LegLength>, Vec<LegLength>) {
        let written = self.lengths(at, "length", record.length.as_ref(), out, "positive");
        let written_home = self.lengths(
            at,
            "return-length",
            record.return_length.as_ref(),
            home,
            "negative",
        );
        let out_lengths = match &written[..] {
            [] => vec![LegLength::NONE; out],
            [one] if out > 1 => single(*one, out, out - 1),
            many => many.iter().map(|&length| plain(length)).collect(),
        };
        let home_lengths = match &written_home[..] {
            [] if record.return_length.is_some() => vec![LegLength::NONE; home],
            [] => mirrored(&written, home),
            [one] if home > 1 => single(*one, home, 0),
            many => many.iter().map(|&length| plain(length)).collect(),
        };
        (out_lengths, home_lengths)
    }

    /// The lengths written; none of them where their number fits no reading.
    fn lengths(
        &mut self,
        at: At<'n>,
        key: &'static str,
        values: Option<&'n crate::netlist::text::OneOrMany<crate::netlist::text::LengthText>>,
        legs: usize,
        pole: &str,
    ) -> Vec<Known<Metres>> {
        let fields = at.list(key, values);
        let read: Vec<Known<Metres>> = fields.iter().map(|&field| self.read(Some(field))).collect();
        if read.len() <= 1 || read.len() == legs {
            return read;
        }
        let told = finding(
            LENGTH_COUNT,
            Severity::Error,
            at.element,
            format!(
                "circuit {} gives {} lengths for the {} of its {pole}",
                quoted(at.element),
                read.len(),
                if legs == 1 {
                    "one leg".to_owned()
                } else {
                    format!("{legs} legs")
                }
            ),
        )
        .label(at.key(key).span(), format!("{} lengths", read.len()))
        .repair(match legs {
            1 => "write one length".to_owned(),
            _ => format!("write {legs} lengths, one for each leg, or one for the leg at the load"),
        });
        self.tell(told);
        Vec::new()
    }

    /// What a pole of a circuit has to pass; nothing where the number of lists is not that of its legs.
    fn leg_vias(
        &mut self,
        at: At<'n>,
        key: &'static str,
        items: Option<&'n OneOrMany<ViaItem>>,
        legs: usize,
    ) -> LegVias {
        let items = items.map_or(&[][..], |items| &items.0);
        let list = at.key(key);
        let by_leg = items.iter().any(|item| item.is_leg);
        let mut read: Vec<Vec<Via>> = Vec::with_capacity(items.len());
        for (index, item) in items.iter().enumerate() {
            let place = list.item(index);
            let mut vias = Vec::new();
            for (inner, name) in item.names.iter().enumerate() {
                let place = if item.is_leg {
                    place.item(inner)
                } else {
                    place
                };
                vias.extend(self.one_via(place.text(key, name)));
            }
            read.push(vias);
        }
        if !by_leg {
            return LegVias::All(read.concat());
        }
        if read.len() == legs {
            return LegVias::Each(read);
        }
        let told = finding(
            VIA_COUNT,
            Severity::Error,
            at.element,
            format!(
                "circuit {} gives {} lists of ways for {}",
                quoted(at.element),
                read.len(),
                if legs == 1 {
                    "one leg".to_owned()
                } else {
                    format!("{legs} legs")
                }
            ),
        )
        .label(list.span(), format!("{} lists", read.len()))
        .repair(match legs {
            1 => "write one list".to_owned(),
            _ => format!("write {legs} lists, `[]` for a leg that may go as it likes"),
        });
        self.tell(told);
        LegVias::All(Vec::new())
    }

    /// Tells a wire number that two conductors have.
    pub(super) fn duplicate_number(&mut self, number: &str, second: Span, first: Span) {
        let told = finding(
            DUPLICATE_NUMBER,
            Severity::Error,
            number,
            format!("two conductors have the wire number {}", quoted(number)),
        )
        .label(second, "the second one comes from here")
        .label(first, "the first one comes from here")
        .repair("give one of the circuits a `number` of its own");
        self.tell(told);
    }
}

/// The parts of the positive, in order.
fn passed_items<'n>(
    resolver: &mut Resolver<'n>,
    at: At<'n>,
    record: &'n CircuitRecord,
) -> Vec<(At<'n>, &'n ThroughItem)> {
    let mut items = Vec::new();
    if let Some(switch) = &record.switch {
        items.push((at.key("switch"), switch));
        if record.through.is_some() {
            let told = finding(
                SWITCH_AND_THROUGH,
                Severity::Error,
                at.element,
                format!(
                    "circuit {} gives both `switch` and `through`, and so no order of its parts",
                    quoted(at.element)
                ),
            )
            .label(at.key_span("switch"), "the switch")
            .label(at.key_span("through"), "the other parts")
            .repair("list the switch in `through`, at its place in the order");
            resolver.tell(told);
        }
    }
    items.extend(list_items(at, "through", record.through.as_ref()));
    if items.len() > MAX_PASSED {
        resolver.too_many(at, "through", MAX_PASSED);
        items.truncate(MAX_PASSED);
    }
    items
}

fn list_items<'n>(
    at: At<'n>,
    key: &str,
    items: Option<&'n crate::netlist::text::OneOrMany<ThroughItem>>,
) -> Vec<(At<'n>, &'n ThroughItem)> {
    let list = at.key(key);
    let items = items.map_or(&[][..], |items| &items.0);
    items
        .iter()
        .enumerate()
        .take(MAX_PASSED + 1)
        .map(|(index, item)| (list.item(index), item))
        .collect()
}

/// The ends of each leg, from the first stop through every part to the last.
fn stops(
    first: Option<Landing>,
    passes: &[Option<Pass>],
    last: Option<Landing>,
) -> Vec<(Option<Landing>, Option<Landing>)> {
    let mut from = first;
    let mut legs = Vec::with_capacity(passes.len() + 1);
    for pass in passes {
        legs.push((from, pass.map(|pass| pass.enter)));
        from = pass.map(|pass| pass.leave);
    }
    legs.push((from, last));
    legs
}

/// A length that is written for its leg, or could not be read.
fn plain(length: Known<Metres>) -> LegLength {
    LegLength {
        length,
        instead: Instead::Nothing,
    }
}

/// One length for several legs: it is that of the leg at the load.
fn single(length: Known<Metres>, legs: usize, at_load: usize) -> Vec<LegLength> {
    (0..legs)
        .map(|leg| {
            if leg == at_load {
                plain(length)
            } else {
                LegLength {
                    length: None,
                    instead: Instead::PanelLeg,
                }
            }
        })
        .collect()
}

/// The legs back as long as the legs out, matched from the load; the last one back takes what is left over.
fn mirrored(out: &[Known<Metres>], legs: usize) -> Vec<LegLength> {
    let derived = |lengths: &[Known<Metres>]| -> Known<Metres> {
        let mut sum = Metres(0.0);
        for length in lengths {
            sum = sum + (*length)?.value;
        }
        Some(Given {
            value: sum,
            span: lengths
                .first()
                .copied()
                .flatten()
                .and_then(|length| length.span),
            origin: Origin::Derived,
        })
    };
    if out.is_empty() {
        return vec![LegLength::NONE; legs];
    }
    (0..legs)
        .map(|leg| {
            let Some(end) = out.len().checked_sub(leg).filter(|&end| end > 0) else {
                return LegLength {
                    length: None,
                    instead: Instead::PanelLeg,
                };
            };
            let start = if leg + 1 == legs { 0 } else { end - 1 };
            plain(derived(&out[start..end]))
        })
        .collect()
}

/// Letters of the positive legs: A, B, C ... without those that look like digits, and without N for the negative.
fn leg_letter(leg: usize) -> String {
    const LETTERS: &[u8] = b"ABCDEFGHJKLMPRSTUVWXYZ";
    let mut rest = leg;
    let mut letters = String::new();
    loop {
        letters.insert(0, char::from(LETTERS[rest % LETTERS.len()]));
        if rest < LETTERS.len() {
            return letters;
        }
        rest = rest / LETTERS.len() - 1;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::source::Span;

    fn metres(values: &[f64]) -> Vec<Known<Metres>> {
        values
            .iter()
            .map(|&value| Some(Given::written(Metres(value), Span::new(0, 0))))
            .collect()
    }

    fn back(out: &[f64], legs: usize) -> Vec<Option<f64>> {
        mirrored(&metres(out), legs)
            .iter()
            .map(|leg| leg.length.map(|length| length.value.0))
            .collect()
    }

    #[test]
    fn letters_skip_those_that_are_misread() {
        let letters: Vec<String> = (0..24).map(leg_letter).collect();
        assert_eq!(letters[..3], ["A", "B", "C"]);
        assert_eq!(letters[7..9], ["H", "J"]);
        assert_eq!(letters[11..14], ["M", "P", "R"]);
        assert_eq!(letters[21..24], ["Z", "AA", "AB"]);
    }

    #[test]
    fn the_way_back_mirrors_the_way_out() {
        assert_eq!(back(&[4.0], 1), [Some(4.0)]);
        assert_eq!(back(&[0.5, 4.0], 1), [Some(4.5)]);
        assert_eq!(back(&[0.5, 1.0, 4.0], 2), [Some(4.0), Some(1.5)]);
        assert_eq!(back(&[4.0], 2), [Some(4.0), None]);
        assert_eq!(back(&[], 2), [None, None]);
    }
}
