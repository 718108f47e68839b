//! Loads and instruments.

use super::switches::kind_word;
use crate::netlist::records::{InputRecord, LoadRecord};
use crate::resolve::Resolver;
use crate::resolve::fields::{At, Field};
use crate::resolve::names::MAX_TERMINALS;
use crate::source::Span;
use crate::standards::{DropCircuit, drop_limit};
use crate::system::{
    Behaviour, ComponentId, ComponentKind, Draw, DropClass, Duty, Given, Known, LinkId, LinkKind,
    Load, LoadId, LoadKind, Origin, Practice, Service, TerminalRole,
};
use crate::units::Volts;

const KINDS: &[(&str, LoadKind)] = &[
    ("lamp", LoadKind::Lamp),
    ("motor", LoadKind::Motor),
    ("electronics", LoadKind::Electronics),
    ("heater", LoadKind::Heater),
    ("horn", LoadKind::Horn),
    ("outlet", LoadKind::Outlet),
    ("starter", LoadKind::Starter),
    ("coil", LoadKind::Coil),
    ("other", LoadKind::Other),
];

const SERVICES: &[(&str, Service)] = &[
    ("navigation-light", Service::NavigationLight),
    ("bilge-pump", Service::BilgePump),
    ("bilge-blower", Service::BilgeBlower),
    ("electronics", Service::Electronics),
    ("alarm", Service::Alarm),
    ("panel", Service::Panel),
    ("engine", Service::Engine),
    ("other", Service::Other),
];

impl<'n> Resolver<'n> {
    pub(super) fn loads(&mut self) {
        for entry in &self.net.loads {
            let at = At::entry(self.document, entry);
            let record = &entry.value;
            let component = self.declare(
                ComponentKind::Load,
                entry,
                record.at.as_ref(),
                record.zone.as_ref(),
            );
            let voltage = self.read::<Volts>(at.field("voltage", record.voltage.as_ref()));
            let stud = self.stud(at.field("stud", record.stud.as_ref()));
            let part = self.part(component);
            if let Some(name) = record
                .name
                .as_ref()
                .filter(|name| !name.0.trim().is_empty())
            {
                part.label.clone_from(&name.0);
            }
            part.stud = stud;
            part.ignition_protected =
                Self::flag(at, "ignition-protected", record.ignition_protected);
            part.subkind = kind_word(record.kind.as_ref());
            let common = self.common_load(component, at, record, voltage);
            let inputs = record.inputs.as_ref().filter(|inputs| !inputs.is_empty());
            let mut positives = Vec::new();
            match inputs {
                Some(inputs) => {
                    if inputs.len() > MAX_TERMINALS {
                        self.too_many(at, "inputs", MAX_TERMINALS);
                    }
                    for (name, input) in inputs.iter().take(MAX_TERMINALS) {
                        let terminal =
                            self.terminal(component, name.trim(), TerminalRole::Positive);
                        positives.push((terminal, Some((name, input))));
                    }
                }
                None => {
                    positives.push((self.terminal(component, "+", TerminalRole::Positive), None));
                }
            }
            let negative = self.terminal(component, "-", TerminalRole::Negative);
            for (positive, input) in positives {
                let id = LoadId::at(self.system.loads.len());
                let link = self.link(
                    LinkKind::Load(id),
                    (positive, negative),
                    entry.name_span,
                    None,
                );
                let mut load = Load {
                    link,
                    ..common.clone()
                };
                if let Some((name, input)) = input {
                    self.input(&mut load, at.key("inputs"), name, input);
                }
                load.behaviour = self.behaviour(at, record, &load);
                self.system.loads.push(load);
            }
        }
    }

    /// What holds for every input of a load.
    fn common_load(
        &mut self,
        component: ComponentId,
        at: At<'n>,
        record: &'n LoadRecord,
        voltage: Known<Volts>,
    ) -> Load {
        let kind = self.word(at.field("kind", record.kind.as_ref()), KINDS);
        let kind = kind.map_or(LoadKind::Other, |given| given.value);
        let service = self.word(at.field("service", record.service.as_ref()), SERVICES);
        let service = service.map_or(
            match kind {
                LoadKind::Electronics if record.service.is_none() => Service::Electronics,
                _ => Service::Other,
            },
            |given| given.value,
        );
        let duty = self.word(
            at.field("duty", record.duty.as_ref()),
            &[
                ("continuous", Duty::Continuous),
                ("intermittent", Duty::Intermittent),
                ("surge", Duty::Surge),
            ],
        );
        let drop = self.drop_class(at.field("drop", record.drop.as_ref()));
        let nominal = self.nominal_here();
        let vital = record.vital.is_some_and(|flag| flag.0);
        Load {
            kind,
            service,
            duty: duty.map_or(default_duty(kind), |given| given.value),
            draw: self.draw(at.field("draw", record.draw.as_ref())),
            peak: self.read(at.field("peak", record.peak.as_ref())),
            stall: self.read(at.field("stall", record.stall.as_ref())),
            drop: drop.unwrap_or(default_drop(self.system.boat.practice, service, vital)),
            vital,
            always_on: Self::flag(at, "always-on", record.always_on),
            bank: None,
            largest_fuse: self.read(at.field("largest-fuse", record.largest_fuse.as_ref())),
            nominal: voltage.unwrap_or(nominal),
            min_voltage: self.read(at.field("min-voltage", record.min_voltage.as_ref())),
            standby: self.draw(at.field("standby", record.standby.as_ref())),
            hours: self.read(at.field("hours", record.hours.as_ref())),
            case_grounded: record.case_grounded.is_some_and(|flag| flag.0),
            thermally_protected: Self::flag(at, "thermally-protected", record.thermally_protected),
            ..plain_load(
                at.element.to_owned(),
                at.name_span(),
                LinkId(0),
                component,
                nominal,
            )
        }
    }

    /// What one of several inputs says of its own.
    fn input(&mut self, load: &mut Load, inputs: At<'n>, name: &'n str, record: &'n InputRecord) {
        let place = inputs.key(name);
        load.name = format!("{}.{}", inputs.element, name.trim());
        load.span = inputs.key_span(name).unwrap_or(load.span);
        load.draw = self.draw(place.field("draw", record.draw.as_ref()));
        load.standby = self
            .draw(place.field("standby", record.standby.as_ref()))
            .or(load.standby);
        load.always_on = Self::flag(place, "always-on", record.always_on).or(load.always_on);
        load.hours = self
            .read(place.field("hours", record.hours.as_ref()))
            .or(load.hours);
    }

    fn behaviour(&mut self, at: At<'n>, record: &'n LoadRecord, load: &Load) -> Behaviour {
        // A load with several inputs would tell the same fault once for each of them.
        let field = at.field("behaves", record.behaves.as_ref());
        let first = load.name == at.element || !self.last_load_is_of(load.component);
        let words = &[
            ("current", Behaviour::Current),
            ("power", Behaviour::Power),
            ("resistance", Behaviour::Resistance),
        ];
        let written = match field {
            Some(field) if first => self.word(Some(field), words).map(|given| given.value),
            Some(field) => words
                .iter()
                .find(|(word, _)| *word == field.text.trim())
                .map(|&(_, behaviour)| behaviour),
            None => None,
        };
        written.unwrap_or(default_behaviour(load))
    }

    fn last_load_is_of(&self, component: ComponentId) -> bool {
        self.system
            .loads
            .last()
            .is_some_and(|load| load.component == component)
    }

    pub(super) fn instruments(&mut self) {
        for entry in &self.net.instruments {
            let at = At::entry(self.document, entry);
            let record = &entry.value;
            let component = self.declare(
                ComponentKind::Instrument,
                entry,
                record.at.as_ref(),
                record.zone.as_ref(),
            );
            let part = self.part(component);
            part.ignition_protected =
                Self::flag(at, "ignition-protected", record.ignition_protected);
            part.subkind = kind_word(record.kind.as_ref());
            let positive = self.terminal(component, "+", TerminalRole::Positive);
            let negative = self.terminal(component, "-", TerminalRole::Negative);
            let senses = record.senses.as_ref().map_or(&[][..], |senses| &senses.0);
            if senses.len() > MAX_TERMINALS {
                self.too_many(at, "senses", MAX_TERMINALS);
            }
            for sense in senses.iter().take(MAX_TERMINALS) {
                self.terminal(component, sense.0.trim(), TerminalRole::Sense);
            }
            let drop = self.drop_class(at.field("drop", record.drop.as_ref()));
            let draw = self.draw(at.field("draw", record.draw.as_ref()));
            let voltage = self.read::<Volts>(at.field("voltage", record.voltage.as_ref()));
            if draw.is_none() {
                continue;
            }
            let id = self.simple_load(
                component,
                entry.name.clone(),
                (positive, negative),
                at,
                draw,
                LoadKind::Electronics,
            );
            let practice = self.system.boat.practice;
            let load = &mut self.system.loads[id.index()];
            load.nominal = voltage.unwrap_or(load.nominal);
            load.service = Service::Electronics;
            load.drop = drop.unwrap_or(default_drop(practice, Service::Electronics, false));
            load.always_on = Self::flag(at, "always-on", record.always_on);
        }
    }

    /// The banks that loads may drain, once all banks are known.
    pub(in crate::resolve) fn load_banks(&mut self) {
        let fields: Vec<(ComponentId, Option<Field<'n>>)> = {
            let net = self.net;
            let loads = net.loads.iter().map(|entry| {
                let at = At::entry(self.document, entry);
                (
                    entry.name.as_str(),
                    at.field("bank", entry.value.bank.as_ref()),
                )
            });
            let instruments = net.instruments.iter().map(|entry| {
                let at = At::entry(self.document, entry);
                (
                    entry.name.as_str(),
                    at.field("bank", entry.value.bank.as_ref()),
                )
            });
            loads
                .chain(instruments)
                .filter_map(|(name, field)| {
                    let component = self.names.components.get(name)?;
                    Some((ComponentId(component), field))
                })
                .collect()
        };
        let mut banks = vec![None; self.system.components.len()];
        for (component, field) in fields {
            if let Some(field) = field
                && let Some(bank) = self.bank(Some(field))
            {
                banks[component.index()] = Some(Given::written(bank, field.span()));
            }
        }
        for load in &mut self.system.loads {
            load.bank = banks[load.component.index()];
        }
    }
}

/// A load of which nothing is known but where it is.
pub(super) fn plain_load(
    name: String,
    span: Span,
    link: LinkId,
    component: ComponentId,
    nominal: Given<Volts>,
) -> Load {
    Load {
        name,
        span,
        link,
        component,
        kind: LoadKind::Other,
        service: Service::Other,
        duty: Duty::Continuous,
        behaviour: Behaviour::Current,
        draw: None,
        peak: None,
        stall: None,
        drop: Given {
            value: DropClass::Ordinary,
            span: None,
            origin: Origin::Derived,
        },
        vital: false,
        always_on: None,
        bank: None,
        largest_fuse: None,
        nominal,
        min_voltage: None,
        standby: None,
        hours: None,
        case_grounded: false,
        thermally_protected: None,
    }
}

/// The class that a service falls into by the published limits; what safety depends on is critical.
///
/// The rule sets disagree on bilge pumps; the table's stricter reading holds.
fn default_drop(practice: Practice, service: Service, vital: bool) -> Given<DropClass> {
    let circuit = match service {
        _ if vital => DropCircuit::Vital,
        Service::NavigationLight => DropCircuit::NavigationLights,
        Service::BilgeBlower => DropCircuit::BilgeBlower,
        Service::BilgePump => DropCircuit::BilgePump,
        Service::Electronics => DropCircuit::Electronics,
        Service::Alarm => DropCircuit::Vital,
        Service::Panel => DropCircuit::PanelFeeder,
        Service::Engine | Service::Other => DropCircuit::Other,
    };
    let strictest = drop_limit(practice, DropCircuit::Vital).0;
    let value = if drop_limit(practice, circuit).0 <= strictest {
        DropClass::Critical
    } else {
        DropClass::Ordinary
    };
    Given {
        value,
        span: None,
        origin: Origin::Derived,
    }
}

fn default_duty(kind: LoadKind) -> Duty {
    match kind {
        LoadKind::Starter => Duty::Surge,
        _ => Duty::Continuous,
    }
}

/// How the current follows the voltage where the file does not say.
///
/// Electronics and loads given in watts draw more at less voltage, the unfavourable case; a heater is a resistance.
fn default_behaviour(load: &Load) -> Behaviour {
    match (load.kind, load.draw.map(|draw| draw.value)) {
        (LoadKind::Heater | LoadKind::Coil, _) => Behaviour::Resistance,
        (LoadKind::Electronics, _) | (_, Some(Draw::Power(_))) => Behaviour::Power,
        _ => Behaviour::Current,
    }
}
