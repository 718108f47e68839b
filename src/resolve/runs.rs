//! Runs: what circuits imply and what is written, put together into conductors with their places.

use super::faults::{
    ASSUMED_INSULATION, ASSUMED_LENGTH, BAD_DESIGNATION, GROUP_OF_ONE, MISSING_END, NO_WAY,
    ROUTES_TOO_LONG, RUN_TO_ITSELF, UNKNOWN_COLOUR, UNKNOWN_CONDUCTOR, UNKNOWN_WAY,
};
use super::fields::{At, Field, quoted};
use super::names::{Bare, Landing, guess};
use super::quantities::{INSULATION, asked};
use super::routes::{NoRoute, Router};
use super::{Resolver, finding};
use crate::diag::Severity;
use crate::netlist::Entry;
use crate::netlist::records::RunRecord;
use crate::netlist::text::{OneOrMany, Text};
use crate::source::Span;
use crate::standards::{InsulationColour, insulation_types};
use crate::system::{
    BundleId, CircuitId, Colour, Conductor, ConductorId, Given, Known, LengthUnits, LinkKind,
    Origin, PointId, SizeField, Stretch, TerminalId, WayId, Wetness, ZoneId,
};
use crate::units::{Celsius, Gauge, LengthStyle, Metres, format_length};
use std::collections::HashMap;

/// Stretches that all conductors together may have; a boat has a few thousand.
const MAX_STRETCHES: usize = 1_000_000;

/// Points and ways that a run must not take.
#[derive(Clone, Debug, Default)]
pub(super) struct Avoid {
    pub(super) points: Vec<PointId>,
    pub(super) ways: Vec<WayId>,
}

impl Avoid {
    pub(super) fn is_empty(&self) -> bool {
        self.points.is_empty() && self.ways.is_empty()
    }

    pub(super) fn point(&self, point: PointId) -> bool {
        self.points.contains(&point)
    }

    pub(super) fn way(&self, way: WayId) -> bool {
        self.ways.contains(&way)
    }
}

/// What a run wants of its route.
#[derive(Clone, Debug, Default)]
pub(super) struct Wanted {
    pub(super) via: Vec<Via>,
    pub(super) avoid: Avoid,
    /// A circuit asks for it: a leg between parts at one point does not go round by the points and ways to pass.
    pub(super) of_circuit: bool,
}

/// What a run has to pass.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Via {
    /// A point.
    Point(PointId),
    /// A way, in the direction that makes the run shorter.
    Way(WayId),
}

/// What stands in for a length that is not given.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Instead {
    /// Nothing but measured ways: the length stays unknown.
    Nothing,
    /// The panel leg of the policy, where no ways lead there: the circuit gives the length of another leg only.
    PanelLeg,
}

/// A run before its ends are settled on studs.
#[derive(Clone)]
pub(super) struct Draft<'n> {
    pub(super) number: String,
    /// Place that stands for it in messages.
    pub(super) at: At<'n>,
    pub(super) from: Option<Landing>,
    pub(super) to: Option<Landing>,
    pub(super) circuit: Option<CircuitId>,
    pub(super) function: String,
    pub(super) gauge: Known<Gauge>,
    pub(super) size_field: SizeField,
    pub(super) size_asked: Option<Span>,
    pub(super) colour: Known<Colour>,
    pub(super) insulation: Known<Celsius>,
    pub(super) wire_type: Known<String>,
    pub(super) length: Known<Metres>,
    /// What stands in where the length is not given.
    pub(super) instead: Instead,
    pub(super) bundles: Vec<BundleId>,
    pub(super) passes: Vec<ZoneId>,
    pub(super) sheathed: Known<bool>,
    pub(super) cranking: Known<bool>,
    pub(super) pigtail: bool,
    pub(super) sense: bool,
    pub(super) spare: bool,
    pub(super) cable: Known<String>,
    pub(super) wanted: Wanted,
}

impl<'n> Draft<'n> {
    /// A run of which nothing is known.
    pub(super) fn new(number: String, at: At<'n>) -> Self {
        Self {
            number,
            at,
            from: None,
            to: None,
            circuit: None,
            function: String::new(),
            gauge: None,
            size_field: SizeField::Own,
            size_asked: None,
            colour: None,
            insulation: None,
            wire_type: None,
            length: None,
            instead: Instead::Nothing,
            bundles: Vec::new(),
            passes: Vec::new(),
            sheathed: None,
            cranking: None,
            pigtail: false,
            sense: false,
            spare: false,
            cable: None,
            wanted: Wanted::default(),
        }
    }
}

/// All runs in order, found by wire number.
#[derive(Default)]
pub(super) struct Drafts<'n> {
    list: Vec<Draft<'n>>,
    by_number: HashMap<String, usize>,
    /// Wire numbers that came twice: number, second place, first place.
    twice: Vec<(String, Span, Span)>,
}

impl<'n> Drafts<'n> {
    pub(super) fn push(&mut self, draft: Draft<'n>) {
        match self.by_number.get(&draft.number) {
            Some(&first) => self.twice.push((
                draft.number.clone(),
                draft.at.name_span(),
                self.list[first].at.name_span(),
            )),
            None => {
                self.by_number.insert(draft.number.clone(), self.list.len());
            }
        }
        self.list.push(draft);
    }
}

/// A panel leg that the program took to be as long as the policy says.
struct AssumedLeg {
    number: String,
    circuit: Option<CircuitId>,
    span: Span,
}

impl<'n> Resolver<'n> {
    /// Reads the runs; one whose number a circuit implies adds to or overrides it.
    pub(super) fn runs(&mut self, drafts: &mut Drafts<'n>) {
        let twice = std::mem::take(&mut drafts.twice);
        for (number, second, first) in twice {
            self.duplicate_number(&number, second, first);
        }
        for entry in &self.net.runs {
            let at = At::entry(self.document, entry);
            let number = entry.name.trim();
            if number.is_empty() {
                let told = finding(
                    BAD_DESIGNATION,
                    Severity::Error,
                    "",
                    "a run has no wire number",
                )
                .label(at.name_span(), "empty")
                .repair("give the run a wire number");
                self.tell(told);
            }
            if let Some(&index) = drafts.by_number.get(number) {
                let draft = &mut drafts.list[index];
                draft.at = at;
                self.run(entry, at, draft);
            } else {
                let mut draft = Draft::new(number.to_owned(), at);
                self.run(entry, at, &mut draft);
                self.missing_ends(entry, at);
                drafts.push(draft);
            }
        }
        for draft in &drafts.list {
            for landing in [draft.from, draft.to].into_iter().flatten() {
                self.reserve(landing);
            }
        }
    }

    /// Takes the fields that a run's record has.
    fn run(&mut self, entry: &'n Entry<RunRecord>, at: At<'n>, draft: &mut Draft<'n>) {
        let record = &entry.value;
        if let Some(field) = at.field("from", record.from.as_ref()) {
            draft.from = self.landing(field, Bare::OnePoint);
        }
        if let Some(field) = at.field("to", record.to.as_ref()) {
            draft.to = self.landing(field, Bare::OnePoint);
        }
        if let Some(name) = &record.name {
            draft.function.clone_from(&name.0);
        }
        if record.gauge.is_some() {
            let field = at.field("gauge", record.gauge.as_ref());
            draft.size_asked = asked(field);
            draft.size_field = SizeField::Own;
            draft.gauge = self.size(field);
        }
        if record.colour.is_some() {
            draft.colour = self.colour(at.field("colour", record.colour.as_ref()));
        }
        if record.insulation.is_some() {
            draft.insulation =
                self.insulation_rating(at.field("insulation", record.insulation.as_ref()));
        }
        if record.wire_type.is_some() {
            draft.wire_type = Self::free_text(at.field("wire-type", record.wire_type.as_ref()));
        }
        if record.length.is_some() {
            draft.length = self.read(at.field("length", record.length.as_ref()));
            draft.instead = Instead::Nothing;
        }
        if record.bundle.is_some() {
            draft.bundles = self.bundle_list(at, record.bundle.as_ref());
        }
        if record.passes.is_some() {
            draft.passes = self.zone_list(at, record.passes.as_ref());
        }
        if record.via.is_some() {
            draft.wanted.of_circuit = false;
            draft.wanted.via = self.via(at, record.via.as_ref());
        }
        if record.avoid.is_some() {
            draft.wanted.avoid = self.avoid(at, record.avoid.as_ref());
        }
        draft.sheathed = Self::flag(at, "sheathed", record.sheathed).or(draft.sheathed);
        draft.cranking = Self::flag(at, "cranking", record.cranking).or(draft.cranking);
        draft.pigtail = record.pigtail.map_or(draft.pigtail, |flag| flag.0);
        draft.sense = record.sense.map_or(draft.sense, |flag| flag.0);
        draft.spare = record.spare.map_or(draft.spare, |flag| flag.0);
        draft.cable =
            Self::free_text(at.field("cable", record.cable.as_ref())).or(draft.cable.take());
    }

    fn missing_ends(&mut self, entry: &'n Entry<RunRecord>, at: At<'n>) {
        let record = &entry.value;
        let spare = record.spare.is_some_and(|flag| flag.0);
        let missing = match (&record.from, &record.to) {
            (Some(_), Some(_)) => return,
            (Some(_), None) if spare => return,
            (None, Some(_)) => "where it begins",
            (Some(_), None) => "where it ends",
            (None, None) => "where it begins and ends",
        };
        let mut told = finding(
            MISSING_END,
            Severity::Error,
            &entry.name,
            format!("run {} does not say {missing}", quoted(&entry.name)),
        )
        .label(at.name_span(), "this run")
        .repair("write `from` and `to` with the terminals it joins");
        if record.from.is_none() && record.to.is_none() && entry.name.contains('-') {
            told = told.repair(
                "write `from` and `to`, or correct the number if a circuit implies this run",
            );
        }
        self.tell(told);
    }

    pub(super) fn insulation_rating(&mut self, field: Option<Field<'n>>) -> Known<Celsius> {
        self.read_within(field, INSULATION)
    }

    pub(super) fn colour(&mut self, field: Option<Field<'n>>) -> Known<Colour> {
        let field = field?;
        match field.text.parse::<InsulationColour>() {
            Ok(colour) => Some(Given::written(
                Colour {
                    base: colour.base.name.to_owned(),
                    stripe: colour.stripe.map(|stripe| stripe.name.to_owned()),
                },
                field.span(),
            )),
            Err(error) => {
                let start = field
                    .text
                    .find(&error.part)
                    .filter(|_| !error.part.is_empty());
                let span = start.map_or(field.span(), |start| {
                    field.part(start..start + error.part.len())
                });
                let mut told = Self::error(
                    UNKNOWN_COLOUR,
                    field,
                    format!("{}: {} is not a colour", field.title(), quoted(&error.part)),
                )
                .label(span, "not in the colour table");
                told.help = match error.nearest {
                    Some(near) => format!("did you mean `{near}`?"),
                    None => "write for example `red`, `RD`, `yellow/red` or `YE/RD`".to_owned(),
                };
                self.tell(told);
                None
            }
        }
    }

    pub(super) fn bundle_list(
        &mut self,
        at: At<'n>,
        names: Option<&'n OneOrMany<Text>>,
    ) -> Vec<BundleId> {
        let mut bundles = Vec::new();
        for field in at.list("bundle", names) {
            if let Some(bundle) = self.bundle(Some(field))
                && !bundles.contains(&bundle)
            {
                bundles.push(bundle);
            }
        }
        bundles
    }

    pub(super) fn zone_list(
        &mut self,
        at: At<'n>,
        names: Option<&'n OneOrMany<Text>>,
    ) -> Vec<ZoneId> {
        let fields = at.list("passes", names);
        fields
            .into_iter()
            .filter_map(|field| self.zone(Some(field)))
            .collect()
    }

    pub(super) fn via(&mut self, at: At<'n>, names: Option<&'n OneOrMany<Text>>) -> Vec<Via> {
        let fields = at.list("via", names);
        fields
            .into_iter()
            .filter_map(|field| self.one_via(field))
            .collect()
    }

    /// The point or way that a field names.
    pub(super) fn one_via(&mut self, field: Field<'n>) -> Option<Via> {
        let name = field.text.trim();
        if let Some(point) = self.names.points.get(name) {
            return Some(Via::Point(PointId(point)));
        }
        if let Some(way) = self.names.ways.get(name) {
            return Some(Via::Way(WayId(way)));
        }
        if !self.names.broken_ways.contains(name) {
            self.neither_point_nor_way(field);
        }
        None
    }

    /// Tells a name that is neither a point nor a way.
    fn neither_point_nor_way(&mut self, field: Field<'n>) {
        let name = field.text.trim();
        let names = [self.names.points.names(), self.names.ways.names()].concat();
        let near = guess(&mut self.guesses, name, &names);
        let mut told = Self::error(
            UNKNOWN_WAY,
            field,
            format!(
                "{} names {}, which is no point and no way",
                field.title(),
                quoted(name)
            ),
        )
        .label(field.span(), "no such point or way");
        told.help = match near {
            Some(near) => format!("did you mean {}?", quoted(near)),
            None => "name a point or a way of this file".to_owned(),
        };
        self.tell(told);
    }

    pub(super) fn avoid(&mut self, at: At<'n>, names: Option<&'n OneOrMany<Text>>) -> Avoid {
        let mut avoid = Avoid::default();
        for field in at.list("avoid", names) {
            let name = field.text.trim();
            let point = self.names.points.get(name);
            let way = self.names.ways.get(name);
            avoid.points.extend(point.map(PointId));
            avoid.ways.extend(way.map(WayId));
            if point.is_none() && way.is_none() && !self.names.broken_ways.contains(name) {
                self.neither_point_nor_way(field);
            }
        }
        avoid
    }

    /// Makes the conductors, with their lengths and places.
    pub(super) fn build_conductors(&mut self, drafts: Drafts<'n>) {
        let mut router = Router::new(self.system.points.len(), &self.system.ways);
        let mut assumed: Vec<AssumedLeg> = Vec::new();
        let mut untyped: Option<(String, Span, usize)> = None;
        let mut stretches_left = MAX_STRETCHES;
        let mut too_long = false;
        for draft in drafts.list {
            let Some((from, to)) = self.ends(&draft) else {
                self.names.broken_numbers.insert(draft.number);
                continue;
            };
            let points = (self.point_at(from), self.point_at(to));
            let route = self.route(&draft, points, &mut router, &mut too_long);
            let (length, is_assumed) = self.length(&draft, points, route.as_deref());
            if is_assumed {
                assumed.push(AssumedLeg {
                    number: draft.number.clone(),
                    circuit: draft.circuit,
                    span: draft.at.name_span(),
                });
            }
            let ends = (self.system.zone_of(from), self.system.zone_of(to));
            let route = route.unwrap_or_default();
            let (stretches, zones) = self.stretches(&draft, &route, ends, length);
            let stretches = if stretches.len() > stretches_left {
                too_long = true;
                vec![Stretch {
                    length: length.map(|length| length.value),
                    zone: zones.first().copied(),
                    bundle: None,
                    way: None,
                }]
            } else {
                stretches
            };
            stretches_left = stretches_left.saturating_sub(stretches.len());
            let wire_type = draft.wire_type.clone().or(self.default_wire_type.clone());
            let insulation = self.insulation_of(draft.insulation, wire_type.as_ref(), &zones);
            if insulation.origin == Origin::Assumed {
                match &mut untyped {
                    Some((_, _, count)) => *count += 1,
                    None => untyped = Some((draft.number.clone(), draft.at.name_span(), 1)),
                }
            }
            let sheathed = draft
                .sheathed
                .or(self.derived_sheath(&draft.bundles, &route));
            let cable = self.cable_of(draft.cable.as_ref());
            let id = ConductorId::at(self.system.conductors.len());
            let span = draft.at.name_span();
            let link = self.link(LinkKind::Conductor(id), (from, to), span, None);
            self.names.numbers.entry(draft.number.clone()).or_insert(id);
            if let Some(circuit) = draft.circuit {
                self.system.circuits[circuit.index()].conductors.push(id);
            }
            for terminal in [from, to] {
                self.system.terminals[terminal.index()].conductors.push(id);
            }
            self.system.conductors.push(Conductor {
                number: draft.number,
                span,
                link,
                from,
                to,
                circuit: draft.circuit,
                function: draft.function,
                gauge: draft.gauge,
                size_field: draft.size_field,
                size_asked: draft.size_asked,
                colour: draft.colour,
                insulation,
                wire_type,
                length,
                stretches,
                zones,
                sheathed,
                cranking: draft.cranking,
                pigtail: draft.pigtail,
                sense: draft.sense,
                spare: draft.spare,
                cable,
            });
        }
        self.tell_assumed_legs(&assumed);
        if let Some((number, span, count)) = untyped {
            self.tell_insulation(&number, span, count);
        }
        if too_long {
            let told = finding(
                ROUTES_TOO_LONG,
                Severity::Error,
                "",
                "the ways of all runs together are longer than any boat's; not all are followed",
            )
            .label(self.net.ways.first().map(|way| way.name_span), "the ways")
            .repair("divide the netlist into several files");
            self.tell(told);
        }
    }

    /// The terminals of a run; none where an end is missing or both are one point.
    fn ends(&mut self, draft: &Draft<'n>) -> Option<(TerminalId, TerminalId)> {
        let from = self.settle(draft.from?);
        let to = match draft.to {
            Some(to) => self.settle(to),
            None if draft.spare && draft.at.key_span("to").is_none() => {
                let component = self.system.terminals[from.index()].component;
                self.inner_point(component, format!("capped end of {}", draft.number))
            }
            None => return None,
        };
        if self.system.node_of(from) != self.system.node_of(to) {
            return Some((from, to));
        }
        let (from, to) = (
            self.system.terminal_name(from),
            self.system.terminal_name(to),
        );
        let what = if from == to {
            format!("from {} to itself", quoted(&from))
        } else {
            format!(
                "between {} and {}, which are one electrical point",
                quoted(&from),
                quoted(&to)
            )
        };
        let span = draft.at.key_span("to").map(|_| draft.at.key("to").span());
        let told = finding(
            RUN_TO_ITSELF,
            Severity::Error,
            &draft.number,
            format!("run {} lies {what}", quoted(&draft.number)),
        )
        .label(
            span.unwrap_or(draft.at.name_span()),
            "the same electrical point",
        )
        .repair("name the terminal at the other end");
        self.tell(told);
        None
    }

    fn route(
        &mut self,
        draft: &Draft<'n>,
        points: (Option<PointId>, Option<PointId>),
        router: &mut Router,
        too_long: &mut bool,
    ) -> Option<Vec<WayId>> {
        let (from, to) = points.0.zip(points.1)?;
        let stays = draft.wanted.via.is_empty() || draft.wanted.of_circuit;
        if router.is_empty() || (from == to && stays) {
            return None;
        }
        match router.route(from, to, &draft.wanted) {
            Ok(route) => Some(route),
            Err(NoRoute::TooMuch) => {
                *too_long = true;
                None
            }
            Err(NoRoute::NotJoined) => {
                let wanted = !draft.wanted.via.is_empty() || !draft.wanted.avoid.is_empty();
                if draft.length.is_none() || wanted {
                    self.no_way(draft, from, to, wanted);
                }
                None
            }
        }
    }

    fn no_way(&mut self, draft: &Draft<'n>, from: PointId, to: PointId, wanted: bool) {
        let name = |point: PointId| quoted(&self.system.points[point.index()].name);
        let (severity, how) = if wanted {
            (Severity::Error, " as `via` and `avoid` ask")
        } else {
            (Severity::NotProved, "")
        };
        let so = if draft.length.is_some() {
            "its places are not known"
        } else {
            "it has no length"
        };
        let told = finding(
            NO_WAY,
            severity,
            &draft.number,
            format!(
                "no way leads from {} to {}{how} for run {}: {so}",
                name(from),
                name(to),
                quoted(&draft.number)
            ),
        )
        .label(draft.at.name_span(), "this run")
        .repair("add the way that is missing, or write the `length` of the run");
        self.tell(told);
    }

    /// The length of a run, and whether the program assumed it.
    fn length(
        &self,
        draft: &Draft<'n>,
        points: (Option<PointId>, Option<PointId>),
        route: Option<&[WayId]>,
    ) -> (Known<Metres>, bool) {
        if draft.length.is_some() {
            return (draft.length, false);
        }
        // A length that is written but cannot be read is told already; nothing stands in for it.
        if draft.at.key_span("length").is_some() && draft.instead == Instead::Nothing {
            return (None, false);
        }
        if let Some(length) = route.and_then(|route| Router::length(route, &self.system.ways)) {
            let derived = Given {
                value: length,
                span: None,
                origin: Origin::Derived,
            };
            return (Some(derived), false);
        }
        let same_place = points.0.is_some() && points.0 == points.1 && route.is_none();
        if draft.instead == Instead::PanelLeg || same_place {
            return (
                Some(Given::assumed(self.system.boat.policy.panel_leg)),
                true,
            );
        }
        (None, false)
    }

    /// Where a run lies, part by part, and the zones it touches.
    ///
    /// What is not known is taken at its worst: a bundle whose zone is not given lies in every zone of the run.
    fn stretches(
        &self,
        draft: &Draft<'n>,
        route: &[WayId],
        ends: (Option<ZoneId>, Option<ZoneId>),
        length: Known<Metres>,
    ) -> (Vec<Stretch>, Vec<ZoneId>) {
        let system = &self.system;
        let bundle_zone = |bundle: Option<BundleId>| system.bundles[bundle?.index()].zone;
        let mut zones: Vec<ZoneId> = Vec::new();
        let mut add = |zone: Option<ZoneId>| {
            if let Some(zone) = zone
                && !zones.contains(&zone)
            {
                zones.push(zone);
            }
        };
        add(ends.0);
        let mut stretches: Vec<Stretch> = Vec::new();
        let follows_ways = draft.length.is_none();
        for &id in route {
            let way = &system.ways[id.index()];
            let zone = way.zone.or(bundle_zone(way.bundle));
            add(zone);
            stretches.push(Stretch {
                length: way
                    .length
                    .map(|length| length.value)
                    .filter(|_| follows_ways),
                zone,
                bundle: way.bundle,
                way: Some(id),
            });
        }
        for &bundle in &draft.bundles {
            add(bundle_zone(Some(bundle)));
        }
        for &zone in &draft.passes {
            add(Some(zone));
        }
        add(ends.1);
        for &bundle in &draft.bundles {
            if stretches
                .iter()
                .any(|stretch| stretch.bundle == Some(bundle))
            {
                continue;
            }
            let own = bundle_zone(Some(bundle));
            let lies_in: Vec<Option<ZoneId>> = match own {
                Some(zone) => vec![Some(zone)],
                None if zones.is_empty() => vec![None],
                None => zones.iter().copied().map(Some).collect(),
            };
            for zone in lies_in {
                stretches.push(Stretch {
                    length: None,
                    zone,
                    bundle: Some(bundle),
                    way: None,
                });
            }
        }
        for &zone in &zones {
            if !stretches.iter().any(|stretch| stretch.zone == Some(zone)) {
                stretches.push(Stretch {
                    length: None,
                    zone: Some(zone),
                    bundle: None,
                    way: None,
                });
            }
        }
        if stretches.is_empty() {
            stretches.push(Stretch {
                length: None,
                zone: None,
                bundle: None,
                way: None,
            });
        }
        if let [whole] = &mut stretches[..] {
            whole.length = length.map(|length| length.value);
        }
        (stretches, zones)
    }

    /// Sheathed all along because every way or every bundle it lies in is.
    fn derived_sheath(&self, bundles: &[BundleId], route: &[WayId]) -> Known<bool> {
        let sheathed = |bundle: BundleId| self.system.bundles[bundle.index()].sheathed;
        let all = if route.is_empty() {
            !bundles.is_empty() && bundles.iter().all(|&bundle| sheathed(bundle))
        } else {
            route.iter().all(|way| {
                let way = &self.system.ways[way.index()];
                way.sheathed || way.bundle.is_some_and(sheathed)
            })
        };
        all.then_some(Given {
            value: true,
            span: None,
            origin: Origin::Derived,
        })
    }

    /// The rating written, else that of the wire type, else that of the policy, else the assumed one.
    fn insulation_of(
        &self,
        written: Known<Celsius>,
        wire_type: Option<&Given<String>>,
        zones: &[ZoneId],
    ) -> Given<Celsius> {
        if let Some(written) = written {
            return written;
        }
        let wet = zones.iter().any(|zone| {
            let wet = self.system.zones[zone.index()].wet;
            wet.is_some_and(|wet| wet.value >= Wetness::Spray)
        });
        let by_type = wire_type.and_then(|wire_type| {
            Some(Given {
                value: rating_of_type(&wire_type.value, wet)?,
                span: wire_type.span,
                origin: Origin::Derived,
            })
        });
        by_type.unwrap_or(self.insulation)
    }

    /// The point a terminal sits at; each half of a connector may have its own.
    fn point_at(&self, terminal: TerminalId) -> Option<PointId> {
        let component = self.system.component_of(terminal);
        match &component.connector {
            Some(connector) => connector.half_points[self.system.half_of(terminal)],
            None => component.point,
        }
    }

    /// One note for each circuit, and for each run of no circuit, whose panel legs are assumed.
    ///
    /// A file that states its panel leg has chosen the length, and needs no telling.
    fn tell_assumed_legs(&mut self, legs: &[AssumedLeg]) {
        let policy = self.net.policy.as_ref();
        if policy.is_some_and(|policy| policy.value.panel_leg.is_some()) {
            return;
        }
        let leg_length = self.shown(self.system.boat.policy.panel_leg);
        let mut rest = legs;
        while let Some(first) = rest.first() {
            let of_circuit =
                |leg: &AssumedLeg| leg.circuit.is_some() && leg.circuit == first.circuit;
            let count = rest.iter().take_while(|leg| of_circuit(leg)).count().max(1);
            let (group, later) = rest.split_at(count);
            rest = later;
            let numbers: Vec<&str> = group.iter().map(|leg| leg.number.as_str()).collect();
            let (legs, have) = if group.len() == 1 {
                ("leg", "has no length of its own")
            } else {
                ("legs", "have no length of their own")
            };
            let circuit = first.circuit.map(|id| &self.system.circuits[id.index()]);
            let (element, span) = match circuit {
                Some(circuit) => (circuit.name.clone(), circuit.span),
                None => (first.number.clone(), first.span),
            };
            let longest = circuit.and_then(|circuit| {
                let lengths = circuit.conductors.iter();
                lengths
                    .filter_map(|id| self.system.conductors[id.index()].length)
                    .map(|length| length.value)
                    .max_by(Metres::total_cmp)
            });
            let back = numbers.iter().any(|number| number.contains("-N"));
            let help = match longest {
                Some(longest) => format!(
                    "write one length for each leg, such as `{}: [{}]`",
                    if back { "return-length" } else { "length" },
                    if back {
                        format!("{}, {leg_length}", self.shown(longest))
                    } else {
                        format!("{leg_length}, {}", self.shown(longest))
                    }
                ),
                None => format!("write `length: {leg_length}`"),
            };
            let told = finding(
                ASSUMED_LENGTH,
                Severity::Note,
                &element,
                format!(
                    "{legs} {} {have}; {leg_length} is assumed",
                    super::fields::listed(numbers.into_iter())
                ),
            )
            .label(span, "of this entry")
            .repair(help);
            self.tell(told);
        }
    }

    /// A length in the file's units.
    fn shown(&self, length: Metres) -> String {
        let style = match self.system.boat.units {
            LengthUnits::Feet => LengthStyle::FeetInches,
            LengthUnits::Metres => LengthStyle::MetresMillimetres,
        };
        format_length(length, style)
    }

    fn tell_insulation(&mut self, number: &str, span: Span, count: usize) {
        let assumed = self.insulation.value.0;
        let which = match count {
            1 => format!("conductor {} states", quoted(number)),
            _ => format!("{count} conductors, {} first, state", quoted(number)),
        };
        let told = finding(
            ASSUMED_INSULATION,
            Severity::Note,
            number,
            format!("{which} no insulation rating; boat cable of {assumed} °C is assumed"),
        )
        .label(span, "no `insulation` and no `wire-type` with a known rating")
        .repair(format!("read the rating on the cable and write `insulation: {assumed} °C` under `policy`, or in the runs that differ"));
        self.tell(told);
    }

    /// Resolves the groups of conductors that never carry current together.
    pub(super) fn exclusive_groups(&mut self) {
        let mut by_number: HashMap<&str, CircuitId> = HashMap::new();
        let circuits = std::mem::take(&mut self.system.circuits);
        for (index, circuit) in circuits.iter().enumerate() {
            by_number
                .entry(&circuit.number)
                .or_insert(CircuitId::at(index));
        }
        for entry in &self.net.bundles {
            let at = At::entry(self.document, entry).key("never-together");
            let written = entry.value.never_together.as_deref().unwrap_or_default();
            let mut groups: Vec<Vec<Field<'n>>> = Vec::new();
            for (index, names) in written.iter().enumerate() {
                let place = at.item(index);
                let names = names.0.iter().enumerate();
                let fields =
                    names.map(|(step, name)| place.item(step).text("never-together", name));
                groups.push(fields.collect());
            }
            // One flat list is one group.
            if groups.iter().all(|group| group.len() == 1) {
                groups = vec![groups.concat()];
            }
            groups.retain(|group| !group.is_empty());
            let mut exclusive = Vec::new();
            for group in groups {
                if let [alone] = group[..] {
                    self.alone(alone);
                }
                let mut members: Vec<ConductorId> = Vec::new();
                for field in group {
                    let name = field.text.trim();
                    let circuit = self.names.circuits.get(name).map(CircuitId);
                    if let Some(&id) = self.names.numbers.get(name) {
                        members.push(id);
                    } else if let Some(circuit) = circuit.or(by_number.get(name).copied()) {
                        members.extend(&circuits[circuit.index()].conductors);
                    } else if !self.names.broken_numbers.contains(name) {
                        self.unknown_conductor(field);
                    }
                }
                members.sort_unstable();
                members.dedup();
                if members.len() > 1 {
                    exclusive.push(members);
                }
            }
            if let Some(id) = self.names.bundles.get(&entry.name) {
                self.system.bundles[id as usize].never_together = exclusive;
            }
        }
        self.system.circuits = circuits;
    }

    fn alone(&mut self, field: Field<'n>) {
        let told = Self::error(
            GROUP_OF_ONE,
            field,
            format!(
                "bundle {} says that {} is never together with nothing",
                quoted(field.element()),
                quoted(field.text)
            ),
        )
        .label(field.span(), "one name alone")
        .repair("name in one list all wire numbers or circuits of which only one carries current at a time");
        self.tell(told);
    }

    fn unknown_conductor(&mut self, field: Field<'n>) {
        let near = guess(&mut self.guesses, field.text, self.names.circuits.names());
        let mut told = Self::error(
            UNKNOWN_CONDUCTOR,
            field,
            format!(
                "{} names {}, which is no wire number and no circuit",
                field.title(),
                quoted(field.text)
            ),
        )
        .label(field.span(), "no such wire number or circuit");
        told.help = match near {
            Some(near) => format!("did you mean {}?", quoted(near)),
            None => "name a wire number or a circuit of this file".to_owned(),
        };
        self.tell(told);
    }
}

/// The rating of a conductor type that the law names, where the type alone tells one.
fn rating_of_type(wire_type: &str, wet: bool) -> Option<Celsius> {
    let mark = |word: &&str| word.len() > 1 && word.bytes().all(|byte| byte.is_ascii_uppercase());
    let written: Vec<&str> = wire_type
        .split(|letter: char| !letter.is_ascii_alphanumeric())
        .filter(mark)
        .collect();
    insulation_types().iter().find_map(|known| {
        let named = known
            .name
            .split(|letter: char| !letter.is_ascii_alphanumeric())
            .filter(mark)
            .filter(|word| !matches!(*word, "SAE" | "UL" | "IEEE"))
            .any(|word| written.contains(&word));
        if !named {
            return None;
        }
        if wet {
            known.wet.or(known.dry)
        } else {
            known.dry
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_type_tells_its_rating() {
        // 33 CFR 183.430 and 183.435 name the types; the ratings are those of the shipped table.
        assert_eq!(rating_of_type("SAE J1128 GPT", false), Some(Celsius(80.0)));
        assert_eq!(rating_of_type("GXL", false), Some(Celsius(125.0)));
        assert_eq!(rating_of_type("MTW", false), Some(Celsius(90.0)));
        assert_eq!(rating_of_type("MTW", true), Some(Celsius(60.0)));
        assert_eq!(rating_of_type("UL 1426 boat cable", false), None);
        assert_eq!(rating_of_type("tinned", false), None);
    }
}
