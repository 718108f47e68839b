//! Charging sources: shore chargers, alternators, converters, solar arrays.

use super::batteries::CHEMISTRIES;
use crate::diag::Severity;
use crate::resolve::faults::ASSUMED_COMMON_NEGATIVE;
use crate::resolve::fields::{At, quoted};
use crate::resolve::names::{Growth, MAX_PLACES};
use crate::resolve::{Resolver, finding};
use crate::source::Span;
use crate::system::{
    ComponentId, ComponentKind, Draw, Given, LinkId, LinkKind, LoadKind, Source, SourceId,
    SourceKind, TerminalId, TerminalRole,
};
use crate::units::{Amps, Volts};

impl<'n> Resolver<'n> {
    pub(super) fn chargers(&mut self) {
        for entry in &self.net.chargers {
            let at = At::entry(self.document, entry);
            let record = &entry.value;
            let component = self.declare(
                ComponentKind::Charger,
                entry,
                record.at.as_ref(),
                record.zone.as_ref(),
            );
            self.part(component).ignition_protected =
                Self::flag(at, "ignition-protected", record.ignition_protected);
            let common = Source {
                self_limiting: Self::flag(at, "self-limiting", record.self_limiting),
                built_in_fuse: self.read(at.field("built-in-fuse", record.built_in_fuse.as_ref())),
                ..self.plain_source(at, component, SourceKind::Charger)
            };
            let isolated = record.isolated_outputs.is_some_and(|flag| flag.0);
            let common_negative =
                (!isolated).then(|| self.terminal(component, "-", TerminalRole::Negative));
            let outputs = record
                .outputs
                .as_ref()
                .filter(|outputs| !outputs.is_empty());
            let Some(outputs) = outputs else {
                // Without outputs listed, those that conductors name are made as they are named.
                self.names.charger_common.insert(component, common);
                self.names.growth[component.index()] = Growth::ChargerOutputs;
                continue;
            };
            if outputs.len() > MAX_PLACES as usize {
                self.too_many(at, "outputs", MAX_PLACES as usize);
            }
            for (name, output) in outputs.iter().take(MAX_PLACES as usize) {
                let place = at.key("outputs").key(name);
                let source = Source {
                    span: at.key("outputs").key_span(name).unwrap_or(entry.name_span),
                    max_voltage: self.read(place.field("voltage", output.voltage.as_ref())),
                    chemistry: self.word(
                        place.field("chemistry", output.chemistry.as_ref()),
                        CHEMISTRIES,
                    ),
                    current: self.read(place.field("current", output.current.as_ref())),
                    ..common.clone()
                };
                self.charger_source(source, name.trim(), common_negative);
            }
        }
    }

    /// An output of a charger that lists none.
    pub(super) fn charger_output(&mut self, component: ComponentId, number: u32) -> TerminalId {
        let part = &self.system.components[component.index()];
        let common_negative = part
            .terminals
            .iter()
            .copied()
            .find(|&terminal| self.system.terminals[terminal.index()].name == "-");
        let (span, nominal) = (part.span, self.nominal_here());
        let source = self.names.charger_common.get(&component).cloned();
        let source = source.unwrap_or_else(|| {
            plain_source(String::new(), span, component, SourceKind::Charger, nominal)
        });
        self.charger_source(source, &number.to_string(), common_negative)
    }

    fn charger_source(
        &mut self,
        mut source: Source,
        name: &str,
        common_negative: Option<TerminalId>,
    ) -> TerminalId {
        let component = source.component;
        let positive = self.terminal(component, format!("{name}+"), TerminalRole::Positive);
        let negative = match common_negative {
            Some(negative) => negative,
            None => self.terminal(component, format!("{name}-"), TerminalRole::Negative),
        };
        let part = &self.system.components[component.index()];
        source.name = format!("{}.{name}", part.name);
        self.source(source, (positive, negative));
        positive
    }

    pub(super) fn alternators(&mut self) {
        for entry in &self.net.alternators {
            let at = At::entry(self.document, entry);
            let record = &entry.value;
            let component = self.declare(
                ComponentKind::Alternator,
                entry,
                record.at.as_ref(),
                record.zone.as_ref(),
            );
            let stud = self.stud(at.field("stud", record.stud.as_ref()));
            let part = self.part(component);
            part.stud = stud;
            part.ignition_protected =
                Self::flag(at, "ignition-protected", record.ignition_protected);
            let positive = self.terminal(component, "+", TerminalRole::Positive);
            let negative = self.terminal(component, "-", TerminalRole::Negative);
            let source = Source {
                max_voltage: self.read(at.field("voltage", record.voltage.as_ref())),
                current: self.read(at.field("current", record.current.as_ref())),
                self_limiting: Self::flag(at, "self-limiting", record.self_limiting),
                surge_protected: Self::flag(at, "surge-protected", record.surge_protected),
                ..self.plain_source(at, component, SourceKind::Alternator)
            };
            self.source(source, (positive, negative));
        }
    }

    pub(super) fn converters(&mut self) {
        for entry in &self.net.converters {
            let at = At::entry(self.document, entry);
            let record = &entry.value;
            let component = self.declare(
                ComponentKind::Converter,
                entry,
                record.at.as_ref(),
                record.zone.as_ref(),
            );
            self.part(component).ignition_protected =
                Self::flag(at, "ignition-protected", record.ignition_protected);
            let in_plus = self.terminal(component, "in+", TerminalRole::Positive);
            let in_minus = self.terminal(component, "in-", TerminalRole::Negative);
            let out_plus = self.terminal(component, "out+", TerminalRole::Positive);
            let out_minus = self.terminal(component, "out-", TerminalRole::Negative);
            let input_voltage =
                self.read::<Volts>(at.field("input-voltage", record.input_voltage.as_ref()));
            let input_current =
                self.read::<Amps>(at.field("input-current", record.input_current.as_ref()));
            let draw = input_current.map(|current| Given {
                value: Draw::Current(current.value),
                span: current.span,
                origin: current.origin,
            });
            let input = self.simple_load(
                component,
                format!("{}.in", entry.name),
                (in_plus, in_minus),
                at,
                draw,
                LoadKind::ConverterInput,
            );
            if let Some(voltage) = input_voltage {
                self.system.loads[input.index()].nominal = voltage;
            }
            let output_voltage =
                self.read::<Volts>(at.field("output-voltage", record.output_voltage.as_ref()));
            let plain = self.plain_source(at, component, SourceKind::Converter);
            let source = Source {
                nominal: output_voltage.unwrap_or(plain.nominal),
                max_voltage: output_voltage,
                chemistry: self.word(
                    at.field("chemistry", record.chemistry.as_ref()),
                    CHEMISTRIES,
                ),
                current: self.read(at.field("output-current", record.output_current.as_ref())),
                input: Some(input),
                ..plain
            };
            self.source(source, (out_plus, out_minus));
            match record.isolated {
                Some(isolated) if isolated.0 => {}
                written => {
                    if written.is_none() {
                        self.tell_common_negative(at);
                    }
                    self.link(
                        LinkKind::Joint,
                        (in_minus, out_minus),
                        entry.name_span,
                        None,
                    );
                }
            }
        }
    }

    fn tell_common_negative(&mut self, at: At<'n>) {
        let told = finding(
            ASSUMED_COMMON_NEGATIVE,
            Severity::Note,
            at.element,
            format!(
                "converter {} does not say whether its input and output share a negative; they are taken to",
                quoted(at.element)
            ),
        )
        .label(at.name_span(), "isolated or not?")
        .repair("write `isolated: false` or `isolated: true`");
        self.tell(told);
    }

    pub(super) fn solar(&mut self) {
        for entry in &self.net.solar {
            let at = At::entry(self.document, entry);
            let record = &entry.value;
            let component = self.declare(
                ComponentKind::Solar,
                entry,
                record.at.as_ref(),
                record.zone.as_ref(),
            );
            self.part(component).ignition_protected =
                Self::flag(at, "ignition-protected", record.ignition_protected);
            // The power of the array is read for its faults; nothing behind the controller depends on it.
            self.watts(at.field("power", record.power.as_ref()));
            let positive = self.terminal(component, "+", TerminalRole::Positive);
            let negative = self.terminal(component, "-", TerminalRole::Negative);
            let source = Source {
                max_voltage: self.read(at.field("voltage", record.voltage.as_ref())),
                chemistry: self.word(
                    at.field("chemistry", record.chemistry.as_ref()),
                    CHEMISTRIES,
                ),
                current: self.read(at.field("current", record.current.as_ref())),
                ..self.plain_source(at, component, SourceKind::Solar)
            };
            self.source(source, (positive, negative));
        }
    }

    fn source(&mut self, mut source: Source, ends: (TerminalId, TerminalId)) {
        let id = SourceId::at(self.system.sources.len());
        source.link = self.link(LinkKind::Source(id), ends, source.span, None);
        self.system.sources.push(source);
    }

    fn plain_source(&self, at: At<'n>, component: ComponentId, kind: SourceKind) -> Source {
        plain_source(
            at.element.to_owned(),
            at.name_span(),
            component,
            kind,
            self.nominal_here(),
        )
    }
}

/// A charging source of which nothing is known but where it is.
fn plain_source(
    name: String,
    span: Span,
    component: ComponentId,
    kind: SourceKind,
    nominal: Given<Volts>,
) -> Source {
    Source {
        name,
        span,
        link: LinkId(0),
        component,
        kind,
        nominal,
        max_voltage: None,
        bank: None,
        chemistry: None,
        capacity: None,
        hour_rate: None,
        peukert: None,
        cranking: None,
        short_circuit: None,
        resistance: None,
        current: None,
        self_limiting: None,
        built_in_fuse: None,
        alarm_contact: None,
        field_switches: Vec::new(),
        surge_protected: None,
        input: None,
    }
}
