//! Scenarios, interlocks and accepted findings.

use super::exclusive::Needs;
use super::faults::{MISSING_FIELD, NO_REASON, UNKNOWN_TERMINAL, WRONG_PART};
use super::fields::{At, Field, listed, quoted};
use super::names::Reference;
use super::{Resolver, finding};
use crate::diag::Severity;
use crate::netlist::Entry;
use crate::netlist::records::{
    AcceptanceRecord, AlternatorRecord, InterlockRecord, ScenarioRecord,
};
use crate::netlist::text::Text;
use crate::system::{
    Acceptance, ComponentId, Duty, ENERGISED, Engine, GearId, GearKind, Interlock, LinkKind,
    LoadId, LoadKind, Scenario, SourceId, SourceKind, TerminalId,
};
use indexmap::IndexMap;

/// Relays that one another's contacts feed, at most.
const MAX_RELAYS_IN_LINE: usize = 8;

/// What stands behind each component, for looking up.
struct Behind {
    gear: Vec<Option<GearId>>,
    loads: Vec<Vec<LoadId>>,
    sources: Vec<Vec<SourceId>>,
}

impl<'n> Resolver<'n> {
    /// Resolves scenarios, interlocks and acceptances.
    pub(super) fn scenarios(&mut self, coils: &[(GearId, Needs)]) {
        let behind = self.behind();
        for entry in &self.net.alternators {
            self.field_switches(entry, &behind);
        }
        for entry in &self.net.scenarios {
            self.scenario(entry, &behind, coils);
        }
        for entry in &self.net.interlocks {
            self.interlock(entry, &behind);
        }
        for entry in &self.net.accept {
            self.acceptance(entry);
        }
    }

    fn behind(&self) -> Behind {
        let count = self.system.components.len();
        let mut behind = Behind {
            gear: vec![None; count],
            loads: vec![Vec::new(); count],
            sources: vec![Vec::new(); count],
        };
        for (index, gear) in self.system.gears.iter().enumerate() {
            behind.gear[gear.component.index()] = Some(GearId::at(index));
        }
        for (index, load) in self.system.loads.iter().enumerate() {
            behind.loads[load.component.index()].push(LoadId::at(index));
        }
        for (index, source) in self.system.sources.iter().enumerate() {
            behind.sources[source.component.index()].push(SourceId::at(index));
        }
        behind
    }

    /// The battery switches that open the field of an alternator.
    fn field_switches(&mut self, entry: &'n Entry<AlternatorRecord>, behind: &Behind) {
        let at = At::entry(self.document, entry);
        let mut switches: Vec<GearId> = Vec::new();
        for field in at.list("field-switches", entry.value.field_switches.as_ref()) {
            let Some(reference) = self.reference(field) else {
                continue;
            };
            let gear = behind.gear[reference.component.index()];
            let is_switch = |gear: GearId| {
                let gear = &self.system.gears[gear.index()];
                gear.kind == GearKind::BatterySwitch && gear.off.is_some()
            };
            match gear.filter(|&gear| is_switch(gear)) {
                Some(gear) => switches.push(gear),
                None => self.wrong_part(
                    field,
                    "is no battery switch with a position that is off",
                    "name the battery switch whose own contact opens the field",
                ),
            }
        }
        switches.sort_unstable();
        switches.dedup();
        let source =
            self.system.sources.iter_mut().find(|source| {
                source.kind == SourceKind::Alternator && source.span == entry.name_span
            });
        if let Some(source) = source {
            source.field_switches = switches;
        }
    }

    fn scenario(
        &mut self,
        entry: &'n Entry<ScenarioRecord>,
        behind: &Behind,
        coils: &[(GearId, Needs)],
    ) {
        let at = At::entry(self.document, entry);
        let record = &entry.value;
        let engine = self.word(
            at.field("engine", record.engine.as_ref()),
            &[("running", Engine::Running), ("stopped", Engine::Stopped)],
        );
        let engine = engine.map_or(Engine::Stopped, |given| given.value);
        let mut positions = self.positions(at, "positions", record.positions.as_ref(), behind);
        let charging = self.charging(at, record, engine, behind);
        let mut on = self.loads_on(at, record, behind);
        self.fed_coils(coils, &positions, &mut on);
        self.energise(&on, &mut positions);
        // A closed relay puts its coil on, whose circuit passes a switch of its own, and so on.
        for _ in 0..MAX_RELAYS_IN_LINE {
            self.close_for(&on, &mut positions, behind);
            let before = on.len();
            self.energised_coils(&positions, &mut on);
            if on.len() == before {
                break;
            }
        }
        for &source in &charging {
            on.extend(self.system.sources[source.index()].input);
        }
        on.sort_unstable();
        on.dedup();
        let title = record
            .name
            .as_ref()
            .map(|name| name.0.trim())
            .filter(|name| !name.is_empty());
        let scenario = Scenario {
            name: entry.name.clone(),
            span: entry.name_span,
            title: title.unwrap_or(&entry.name).to_owned(),
            positions,
            on,
            engine,
            charging,
            hours: self.read(at.field("hours", record.hours.as_ref())),
            state_of_charge: self
                .percent(at.field("state-of-charge", record.state_of_charge.as_ref())),
        };
        self.system.scenarios.push(scenario);
    }

    /// Switches and the positions they are set to.
    fn positions(
        &mut self,
        at: At<'n>,
        key: &'static str,
        written: Option<&'n IndexMap<String, Text>>,
        behind: &Behind,
    ) -> Vec<(GearId, u16)> {
        let map = at.key(key);
        let mut set: Vec<(GearId, u16)> = Vec::new();
        for (name, position) in written.into_iter().flatten() {
            let place = map.key_at(name);
            let switch = Field {
                key,
                text: name,
                at: place,
            };
            let Some(component) = self.component_named(switch, name.trim(), place.span()) else {
                continue;
            };
            let Some(gear) = behind.gear[component.index()] else {
                self.wrong_part(
                    switch,
                    "has no positions",
                    "name a switch, a relay or a combiner",
                );
                continue;
            };
            let positions = self.system.gears[gear.index()].positions.clone();
            let field = map.key(name).text(key, position);
            if let Some(position) = self.named_position(Some(field), name.trim(), &positions) {
                set.push((gear, position));
            }
        }
        set.sort_unstable();
        set.dedup_by_key(|(gear, _)| *gear);
        set
    }

    /// The loads that run: those named, or all that do not only surge.
    fn loads_on(&mut self, at: At<'n>, record: &'n ScenarioRecord, behind: &Behind) -> Vec<LoadId> {
        let mut on = Vec::new();
        for field in at.list("on", record.on.as_ref()) {
            if field.text.trim() == "all" {
                let loads = self.system.loads.iter().enumerate();
                let running = loads.filter(|(_, load)| {
                    load.duty != Duty::Surge
                        && !matches!(load.kind, LoadKind::Starter | LoadKind::Coil)
                });
                on.extend(running.map(|(index, _)| LoadId::at(index)));
                continue;
            }
            let Some(reference) = self.reference(field) else {
                continue;
            };
            let loads = &behind.loads[reference.component.index()];
            if loads.is_empty() {
                self.wrong_part(field, "is no load", "name loads, or write `on: all`");
                continue;
            }
            match reference.part {
                None => on.extend(loads),
                Some(part) => {
                    let full = format!(
                        "{}.{part}",
                        self.system.components[reference.component.index()].name
                    );
                    let found = loads
                        .iter()
                        .find(|load| self.system.loads[load.index()].name == full);
                    match found {
                        Some(&load) => on.push(load),
                        None => self.unknown_part(field, &reference, &loads_names(self, loads)),
                    }
                }
            }
        }
        on.sort_unstable();
        on.dedup();
        on
    }

    /// The charging sources that work, alternators of a running engine included.
    fn charging(
        &mut self,
        at: At<'n>,
        record: &'n ScenarioRecord,
        engine: Engine,
        behind: &Behind,
    ) -> Vec<SourceId> {
        let mut charging: Vec<SourceId> = Vec::new();
        for field in at.list("charging", record.charging.as_ref()) {
            let Some(reference) = self.reference(field) else {
                continue;
            };
            let sources: Vec<SourceId> = behind.sources[reference.component.index()]
                .iter()
                .copied()
                .filter(|source| self.system.sources[source.index()].kind != SourceKind::Battery)
                .collect();
            if sources.is_empty() {
                self.wrong_part(
                    field,
                    "charges nothing",
                    "name chargers, converters or solar arrays",
                );
                continue;
            }
            match reference.part {
                None => charging.extend(sources),
                Some(part) => {
                    let full = format!(
                        "{}.{part}",
                        self.system.components[reference.component.index()].name
                    );
                    let found = sources
                        .iter()
                        .find(|source| self.system.sources[source.index()].name == full);
                    if let Some(&source) = found {
                        charging.push(source);
                    } else {
                        let names: Vec<String> = sources
                            .iter()
                            .map(|source| self.system.sources[source.index()].name.clone())
                            .collect();
                        self.unknown_part(field, &reference, &names);
                    }
                }
            }
        }
        if engine == Engine::Running {
            let sources = self.system.sources.iter().enumerate();
            let alternators = sources.filter(|(_, source)| source.kind == SourceKind::Alternator);
            charging.extend(alternators.map(|(index, _)| SourceId::at(index)));
        }
        charging.sort_unstable();
        charging.dedup();
        charging
    }

    /// Sets the switches that circuits pass to a position that lets their running loads run.
    ///
    /// A scenario names the loads that run; it need not name every panel switch as well. Switches it does name stand
    /// as it says, and battery switches stand in their normal position.
    fn close_for(&self, on: &[LoadId], positions: &mut Vec<(GearId, u16)>, behind: &Behind) {
        use crate::system::GearKind as K;
        let mut running = vec![false; self.system.loads.len()];
        for load in on {
            running[load.index()] = true;
        }
        let mut wanted: IndexMap<GearId, Vec<(TerminalId, TerminalId)>> = IndexMap::new();
        for passed in self
            .passed
            .iter()
            .filter(|passed| running[passed.load.index()])
        {
            let Some(gear) = behind.gear[passed.component.index()] else {
                continue;
            };
            let kind = self.system.gears[gear.index()].kind;
            let named = positions.binary_search_by_key(&gear, |&(set, _)| set);
            if named.is_err() && !matches!(kind, K::BatterySwitch | K::Combiner) {
                wanted
                    .entry(gear)
                    .or_default()
                    .push((passed.enter, passed.leave));
            }
        }
        for (gear, contacts) in wanted {
            if let Some(position) = self.closing_position(gear, &contacts) {
                positions.push((gear, position));
            }
        }
        positions.sort_unstable();
    }

    /// The first position that closes all contacts, else the first that closes the first of them.
    fn closing_position(&self, gear: GearId, contacts: &[(TerminalId, TerminalId)]) -> Option<u16> {
        let component = self.system.gears[gear.index()].component;
        let count = u16::try_from(self.system.gears[gear.index()].positions.len()).ok()?;
        let normal = self.system.gears[gear.index()].normal;
        let closes = |position: u16, &(enter, leave): &(TerminalId, TerminalId)| {
            self.joined_in(component, gear, position, enter, leave)
        };
        let ranked =
            || std::iter::once(normal).chain((0..count).filter(|&position| position != normal));
        ranked()
            .find(|&position| contacts.iter().all(|contact| closes(position, contact)))
            .or_else(|| {
                ranked().find(|&position| {
                    contacts
                        .first()
                        .is_some_and(|first| closes(position, first))
                })
            })
    }

    /// Whether a position joins two terminals of a part, through as many of its contacts as it takes.
    fn joined_in(
        &self,
        component: ComponentId,
        gear: GearId,
        position: u16,
        enter: TerminalId,
        leave: TerminalId,
    ) -> bool {
        let contacts = &self.names.contacts[gear.index()];
        let mut reached = vec![enter];
        let mut next = 0;
        while next < reached.len() {
            let here = reached[next];
            next += 1;
            for link in contacts {
                let link = &self.system.links[link.index()];
                let LinkKind::Contact { closed_in, .. } = &link.kind else {
                    continue;
                };
                let other = if link.a == here {
                    link.b
                } else if link.b == here {
                    link.a
                } else {
                    continue;
                };
                if closed_in.contains(&position) && !reached.contains(&other) {
                    reached.push(other);
                }
            }
        }
        let inside = self.system.terminals[enter.index()].component == component;
        inside && reached.contains(&leave)
    }

    /// The coils that a switch which the scenario names feeds in the position it names.
    fn fed_coils(
        &self,
        coils: &[(GearId, Needs)],
        positions: &[(GearId, u16)],
        on: &mut Vec<LoadId>,
    ) {
        let named = |gear: GearId| {
            let at = positions
                .binary_search_by_key(&gear, |&(set, _)| set)
                .ok()?;
            Some(positions[at].1)
        };
        for (relay, needs) in coils {
            let stands = |(&gear, closing): (&GearId, &Vec<u16>)| {
                let normal = self.system.gears[gear.index()].normal;
                closing.contains(&named(gear).unwrap_or(normal))
            };
            let is_meant = needs.keys().any(|&gear| named(gear).is_some());
            if is_meant && named(*relay).is_none() && needs.iter().all(stands) {
                on.extend(self.system.gears[relay.index()].coil);
            }
        }
        on.sort_unstable();
        on.dedup();
    }

    /// A relay whose coil is named among the running loads is energised.
    fn energise(&self, on: &[LoadId], positions: &mut Vec<(GearId, u16)>) {
        for (index, gear) in self.system.gears.iter().enumerate() {
            let id = GearId::at(index);
            let running = gear
                .coil
                .is_some_and(|coil| on.binary_search(&coil).is_ok());
            if running
                && positions
                    .binary_search_by_key(&id, |&(set, _)| set)
                    .is_err()
            {
                positions.push((id, ENERGISED));
            }
        }
        positions.sort_unstable();
    }

    /// The coil of every relay that is energised takes its current.
    fn energised_coils(&self, positions: &[(GearId, u16)], on: &mut Vec<LoadId>) {
        for &(gear, position) in positions {
            if position == ENERGISED {
                on.extend(self.system.gears[gear.index()].coil);
            }
        }
        on.sort_unstable();
        on.dedup();
    }

    fn interlock(&mut self, entry: &'n Entry<InterlockRecord>, behind: &Behind) {
        let at = At::entry(self.document, entry).of("interlock");
        let never = self.positions(at, "never", entry.value.never.as_ref(), behind);
        let written = entry.value.never.as_ref().map_or(0, IndexMap::len);
        if written == 0 {
            let told = finding(
                MISSING_FIELD,
                Severity::Error,
                "interlock",
                "an interlock names no positions",
            )
            .label(entry.span, "this interlock")
            .repair("write `never:` with the switches and positions that cannot occur together");
            self.tell(told);
        }
        // With one position unknown, the rest would forbid more than the file means.
        if written > 0 && never.len() == written {
            self.system.interlocks.push(Interlock {
                never,
                span: entry.span,
            });
        }
    }

    fn acceptance(&mut self, entry: &'n Entry<AcceptanceRecord>) {
        let record = &entry.value;
        let text = |value: &Option<Text>| {
            value
                .as_ref()
                .map_or_else(String::new, |text| text.0.trim().to_owned())
        };
        let acceptance = Acceptance {
            rule: text(&record.rule),
            element: text(&record.element),
            reason: text(&record.reason),
            span: entry.span,
        };
        let missing = if acceptance.rule.is_empty() {
            Some((
                MISSING_FIELD,
                "names no rule",
                "write `rule:` with the id of the finding",
            ))
        } else if acceptance.reason.is_empty() {
            Some((
                NO_REASON,
                "gives no reason",
                "write `reason:` with why it is accepted",
            ))
        } else {
            None
        };
        if let Some((fault, what, repair)) = missing {
            let told = finding(
                fault,
                Severity::Error,
                &acceptance.element,
                format!("an accepted finding {what}"),
            )
            .label(entry.span, "this entry")
            .repair(repair);
            self.tell(told);
            return;
        }
        self.system.acceptances.push(acceptance);
    }

    fn wrong_part(&mut self, field: Field<'n>, what: &str, repair: &str) {
        let told = Self::error(
            WRONG_PART,
            field,
            format!(
                "{} names {}, which {what}",
                field.title(),
                quoted(field.text)
            ),
        )
        .label(field.span(), format!("this {what}"))
        .repair(repair);
        self.tell(told);
    }

    fn unknown_part(&mut self, field: Field<'n>, reference: &Reference<'n>, names: &[String]) {
        let part = reference.part.unwrap_or_default();
        let told = Self::error(
            UNKNOWN_TERMINAL,
            field,
            format!(
                "{} names {}, which the component does not have",
                field.title(),
                quoted(field.text)
            ),
        )
        .label(
            field.part(reference.part_start..reference.part_start + part.len()),
            format!("it has {}", listed(names.iter().map(String::as_str))),
        )
        .repair("name one of these");
        self.tell(told);
    }
}

fn loads_names(resolver: &Resolver<'_>, loads: &[LoadId]) -> Vec<String> {
    loads
        .iter()
        .map(|load| resolver.system.loads[load.index()].name.clone())
        .collect()
}
