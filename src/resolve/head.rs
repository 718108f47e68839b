//! The boat, the policies and the allowances, with their defaults.

use super::faults::ASSUMED_VOLTAGE;
use super::fields::{At, Field};
use super::quantities::{FROM_ZERO_METRES, INSULATION};
use super::{Resolver, finding};
use crate::diag::Severity;
use crate::standards::{DropCircuit, constants, drop_limit};
use crate::system::{
    Allowances, Blanks, Boat, BundlingPolicy, CountPoles, Given, Graph, LengthUnits, Origin,
    OvercurrentLimit, Paper, Policy, Practice, Spools, System,
};
use crate::units::{Metres, Volts, parse_quantity};

/// Nominal voltage where neither the boat nor any component states one.
pub(super) const ASSUMED_NOMINAL: Volts = Volts(12.0);
/// Length of a leg between panel parts, 12 in and 300 mm. Project policy.
const PANEL_LEG_US: Metres = Metres(0.3048);
const PANEL_LEG_METRIC: Metres = Metres(0.3);

/// A boat without anything in it.
pub(super) fn empty_system() -> System {
    System {
        boat: Boat {
            name: "unnamed boat".to_owned(),
            practice: Practice::Us,
            nominal: ASSUMED_NOMINAL,
            units: LengthUnits::Feet,
            paper: Paper::Letter,
            revision: String::new(),
            date: String::new(),
            owner: String::new(),
            creator: String::new(),
            approved_by: String::new(),
            number: String::new(),
            subtitle: String::new(),
            policy: Policy {
                overcurrent: OvercurrentLimit::Lawful,
                bundling: BundlingPolicy::Apply,
                count_poles: CountPoles::Both,
                conductor_temperature: constants::loaded_conductor().0,
                critical_drop_percent: drop_limit(Practice::Us, DropCircuit::Vital).0,
                ordinary_drop_percent: drop_limit(Practice::Us, DropCircuit::Other).0,
                panel_leg: PANEL_LEG_US,
                blanks: Blanks::Unknown,
                spools: Spools::LeastCopper,
                allowances: Allowances::default(),
            },
        },
        zones: Vec::new(),
        points: Vec::new(),
        ways: Vec::new(),
        bundles: Vec::new(),
        components: Vec::new(),
        terminals: Vec::new(),
        nodes: Vec::new(),
        links: Vec::new(),
        conductors: Vec::new(),
        devices: Vec::new(),
        gears: Vec::new(),
        sources: Vec::new(),
        loads: Vec::new(),
        banks: Vec::new(),
        circuits: Vec::new(),
        scenarios: Vec::new(),
        interlocks: Vec::new(),
        acceptances: Vec::new(),
        cables: Vec::new(),
        spools: Vec::new(),
        label_stock: Vec::new(),
        chosen: crate::system::Chosen::default(),
        graph: Graph::default(),
    }
}

impl<'n> Resolver<'n> {
    /// Resolves the head of the file.
    pub(super) fn head(&mut self) {
        self.boat();
        self.policy();
        self.allowances();
    }

    fn boat(&mut self) {
        if let Some(entry) = &self.net.boat {
            let at = At::entry(self.document, entry).of("boat");
            let record = &entry.value;
            let field = |key, value| at.field(key, value);
            let practice = self.word(
                field("practice", record.practice.as_ref()),
                &[("us", Practice::Us), ("metric", Practice::Metric)],
            );
            let practice = practice.map_or(Practice::Us, |given| given.value);
            self.set_practice(practice);
            if let Some(units) = self.word(
                field("units", record.units.as_ref()),
                &[("feet", LengthUnits::Feet), ("metres", LengthUnits::Metres)],
            ) {
                self.system.boat.units = units.value;
            }
            if let Some(paper) = self.word(
                field("paper", record.paper.as_ref()),
                &[("A4", Paper::A4), ("Letter", Paper::Letter)],
            ) {
                self.system.boat.paper = paper.value;
            }
            let text = |value: &Option<crate::netlist::text::Text>| {
                value
                    .as_ref()
                    .map_or_else(String::new, |text| text.0.clone())
            };
            let boat = &mut self.system.boat;
            if let Some(name) = record
                .name
                .as_ref()
                .filter(|name| !name.0.trim().is_empty())
            {
                boat.name.clone_from(&name.0);
            }
            boat.revision = text(&record.revision);
            boat.date = text(&record.date);
            boat.owner = text(&record.owner);
            boat.creator = text(&record.creator);
            boat.approved_by = text(&record.approved_by);
            boat.number = text(&record.number);
            boat.subtitle = text(&record.subtitle);
        }
        self.set_nominal();
    }

    fn set_practice(&mut self, practice: Practice) {
        let boat = &mut self.system.boat;
        boat.practice = practice;
        boat.policy.critical_drop_percent = drop_limit(practice, DropCircuit::Vital).0;
        boat.policy.ordinary_drop_percent = drop_limit(practice, DropCircuit::Other).0;
        if practice == Practice::Metric {
            boat.units = LengthUnits::Metres;
            boat.paper = Paper::A4;
            boat.policy.overcurrent = OvercurrentLimit::Strict;
            boat.policy.panel_leg = PANEL_LEG_METRIC;
        }
    }

    /// The nominal voltage: as written, else as the batteries or loads state, else assumed.
    fn set_nominal(&mut self) {
        let written = self.net.boat.as_ref().and_then(|entry| {
            At::entry(self.document, entry)
                .of("boat")
                .field("system", entry.value.system.as_ref())
        });
        if let Some(field) = written {
            if let Some(given) = self.read::<Volts>(Some(field)) {
                self.nominal = given;
            }
            // A faulty voltage is told already; what follows takes the assumed one.
            self.system.boat.nominal = self.nominal.value;
            return;
        }
        let stated = self.stated_voltages();
        let message = if let Some(&first) = stated.first() {
            self.nominal = Given {
                value: first,
                span: None,
                origin: Origin::Derived,
            };
            let other = stated.iter().find(|&&other| other != first);
            other.map(|other| {
                format!(
                    "the boat states no system voltage and its parts state several; {} V is assumed where none is stated, not {} V",
                    first.0, other.0
                )
            })
        } else {
            Some(format!(
                "nothing states the system voltage; {} V is assumed",
                ASSUMED_NOMINAL.0
            ))
        };
        if let Some(message) = message {
            let at = self.net.boat.as_ref().map(|entry| entry.name_span);
            let told = finding(ASSUMED_VOLTAGE, Severity::Note, "boat", message)
                .label(at, "no system voltage here")
                .repair(format!(
                    "write `system: {} V` under `boat`",
                    self.nominal.value.0
                ));
            self.tell(told);
        }
        self.system.boat.nominal = self.nominal.value;
    }

    /// Voltages that strings of batteries, single batteries and, failing those, loads state.
    fn stated_voltages(&self) -> Vec<Volts> {
        let plausible = |text: &str| {
            let volts = parse_quantity::<Volts>(text).ok()?;
            (volts.0 > 0.0 && volts.0 <= 1000.0).then_some(volts)
        };
        let mut batteries = std::collections::HashMap::new();
        for entry in &self.net.batteries {
            let volts = entry
                .value
                .voltage
                .as_ref()
                .and_then(|text| plausible(text.as_str()));
            batteries
                .entry(entry.name.as_str())
                .or_insert((volts, false));
        }
        let mut stated = Vec::new();
        let strings = self
            .net
            .banks
            .iter()
            .flat_map(|bank| bank.value.strings.iter().flatten());
        for string in strings {
            let mut sum = Some(Volts(0.0));
            for name in &string.0 {
                let volts = batteries
                    .get_mut(name.as_str())
                    .and_then(|(volts, in_string)| {
                        *in_string = true;
                        *volts
                    });
                sum = sum.zip(volts).map(|(sum, volts)| sum + volts);
            }
            stated.extend(sum.filter(|sum| sum.0 > 0.0));
        }
        for entry in &self.net.batteries {
            if let Some(&(Some(volts), false)) = batteries.get(entry.name.as_str()) {
                stated.push(volts);
            }
        }
        if stated.is_empty() {
            let loads = self.net.loads.iter();
            stated
                .extend(loads.filter_map(|load| plausible(load.value.voltage.as_ref()?.as_str())));
        }
        stated
    }

    fn policy(&mut self) {
        let Some(entry) = &self.net.policy else {
            return;
        };
        let at = At::entry(self.document, entry).of("policy");
        let record = &entry.value;
        if let Some(limit) = self.word(
            at.field("overcurrent", record.overcurrent.as_ref()),
            &[
                ("lawful", OvercurrentLimit::Lawful),
                ("strict", OvercurrentLimit::Strict),
            ],
        ) {
            self.system.boat.policy.overcurrent = limit.value;
        }
        if let Some(bundling) = self.word(
            at.field("bundling", record.bundling.as_ref()),
            &[
                ("apply", BundlingPolicy::Apply),
                ("law-only", BundlingPolicy::LawOnly),
            ],
        ) {
            self.system.boat.policy.bundling = bundling.value;
        }
        if let Some(poles) = self.word(
            at.field("count-poles", record.count_poles.as_ref()),
            &[
                ("both", CountPoles::Both),
                ("positive", CountPoles::Positive),
            ],
        ) {
            self.system.boat.policy.count_poles = poles.value;
        }
        if let Some(insulation) = self.read_within(
            at.field("insulation", record.insulation.as_ref()),
            INSULATION,
        ) {
            self.insulation = insulation;
        }
        if let Some(blanks) = self.word(
            at.field("blanks", record.blanks.as_ref()),
            &[("unknown", Blanks::Unknown), ("choose", Blanks::Choose)],
        ) {
            self.system.boat.policy.blanks = blanks.value;
        }
        if let Some(spools) = self.word(
            at.field("spools", record.spools.as_ref()),
            &[("least-copper", Spools::LeastCopper), ("few", Spools::Few)],
        ) {
            self.system.boat.policy.spools = spools.value;
        }
        self.default_ambient = self.read(at.field("ambient", record.ambient.as_ref()));
        self.default_wire_type = Self::free_text(at.field("wire-type", record.wire_type.as_ref()));
        let temperature = self.read(at.field(
            "conductor-temperature",
            record.conductor_temperature.as_ref(),
        ));
        let critical = self.share(at.field("critical-drop", record.critical_drop.as_ref()));
        let ordinary = self.share(at.field("ordinary-drop", record.ordinary_drop.as_ref()));
        let panel_leg = self.read(at.field("panel-leg", record.panel_leg.as_ref()));
        let policy = &mut self.system.boat.policy;
        policy.conductor_temperature =
            temperature.map_or(policy.conductor_temperature, |given| given.value);
        policy.critical_drop_percent = critical.unwrap_or(policy.critical_drop_percent);
        policy.ordinary_drop_percent = ordinary.unwrap_or(policy.ordinary_drop_percent);
        policy.panel_leg = panel_leg.map_or(policy.panel_leg, |given| given.value);
    }

    fn share(&mut self, field: Option<Field<'n>>) -> Option<f64> {
        self.percent(field).map(|given| given.value)
    }

    fn allowances(&mut self) {
        let Some(entry) = &self.net.allowances else {
            return;
        };
        let at = At::entry(self.document, entry).of("allowances");
        let record = &entry.value;
        self.system.boat.policy.allowances = Allowances {
            termination: self.read_within(
                at.field("termination", record.termination.as_ref()),
                FROM_ZERO_METRES,
            ),
            cable_termination: self.read_within(
                at.field("cable-termination", record.cable_termination.as_ref()),
                FROM_ZERO_METRES,
            ),
            bundle_percent: self.percent(at.field("bundle", record.bundle.as_ref())),
            measured_percent: self.percent(at.field("measured", record.measured.as_ref())),
            drip_loop: self.read_within(
                at.field("drip-loop", record.drip_loop.as_ref()),
                FROM_ZERO_METRES,
            ),
            service_loop: self.read_within(
                at.field("service-loop", record.service_loop.as_ref()),
                FROM_ZERO_METRES,
            ),
        };
    }
}
