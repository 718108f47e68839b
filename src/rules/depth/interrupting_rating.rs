//! A device that cannot break the current of a short beside it.

use super::super::telling::{listed, rating, with_positions};
use super::{about, also_on, certainty_words, form};
use crate::analysis::Facts;
use crate::analysis::fault_current::{BatteryFault, Certainty, Prospective, Side};
use crate::analysis::states::set_to;
use crate::diag::{Diagnostic, Figure, Severity};
use crate::rules::Rule;
use crate::source::Span;
use crate::standards::{
    self, BankInterrupting, Basis, BreakerPosition, Chemistry, FuseForm, citations,
};
use crate::system::{
    BankId, ComponentId, Device, DeviceId, DeviceKind, Given, NodeId, SourceId, System,
};
use crate::units::{AmpHours, Amps, Rounding, Volts, amp_hours};
use std::collections::BTreeMap;

/// The rule.
pub(in crate::rules) static RULE: Rule = Rule {
    id: "DP801",
    name: "interrupting-rating-too-low",
    title: "Device cannot interrupt the current of a short",
    severity: Severity::Error,
    basis: &[
        citations::ABYC_INTERRUPTING,
        citations::ABYC_INTERRUPTING_BANKS,
    ],
    checks: "The first device on every way from a battery can interrupt the largest current that a short on either side of it draws, over all combinations of positions of the parts between batteries. Where the file gives no interrupting rating, the usual limit of the form stands in for it. The current is that of the battery's stated short-circuit current or resistance; else it is estimated, and then the older table by cranking current and the later rule for large banks weigh as well. Devices behind another device rely on that one, and are told as notes. A device that cannot break the current can burst and burn.",
    fails: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 100 Ah, short-circuit: 3500 A, zone: cabin}
fuses:
  main-fuse: {rating: 40 A, form: bolt-down strip small, interrupting: 2000 A, zone: cabin}
loads:
  heater: {draw: 20 A, kind: heater, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: main-fuse.in, gauge: 8 AWG, colour: red, length: 6 in}
  W2: {from: main-fuse.out, to: heater.+, gauge: 8 AWG, colour: red, length: 6 ft}
  W3: {from: heater.-, to: house.-, gauge: 8 AWG, colour: black, length: 6 ft}
",
    passes: "loomwright: 1
boat: {name: Example, practice: us, system: 12 V}
zones:
  cabin: {ambient: 30 °C, wet: dry}
batteries:
  house: {chemistry: agm, capacity: 100 Ah, short-circuit: 3500 A, zone: cabin}
fuses:
  main-fuse: {rating: 40 A, form: bolted-tab limiter, interrupting: 6000 A, zone: cabin}
loads:
  heater: {draw: 20 A, kind: heater, drop: 10 %, zone: cabin}
runs:
  W1: {from: house.+, to: main-fuse.in, gauge: 8 AWG, colour: red, length: 6 in}
  W2: {from: main-fuse.out, to: heater.+, gauge: 8 AWG, colour: red, length: 6 ft}
  W3: {from: heater.-, to: house.-, gauge: 8 AWG, colour: black, length: 6 ft}
",
    fix: "Fit a device of a form whose interrupting rating is above the fault current.",
    check,
};

fn check(rule: &Rule, facts: &Facts<'_>, findings: &mut Vec<Diagnostic>) {
    let system = facts.system;
    let mut relying: BTreeMap<ComponentId, Vec<Relying>> = BTreeMap::new();
    // For each bank: whether all devices that come first after its batteries are of the high class.
    let mut high_class: BTreeMap<BankId, bool> = BTreeMap::new();
    for (index, device) in system.devices.iter().enumerate() {
        let id = DeviceId::at(index);
        let Some(worst) = facts.faults.through(id) else {
            continue;
        };
        let lasting = facts.faults.lasting_through(id).unwrap_or(worst);
        let case = Case::new(facts, id, device, lasting);
        if let Some(upstream) = case.upstream {
            let limit = case.capability.map(|(limit, _)| limit);
            if limit.is_some_and(|limit| limit < worst.0.current) {
                relying.entry(device.component).or_default().push(Relying {
                    device: id,
                    current: worst.0.current,
                    certainty: worst.0.certainty,
                    upstream,
                });
            }
            continue;
        }
        for &bank in &case.own_banks {
            *high_class.entry(bank).or_insert(true) &= case.is_high_class();
        }
        let told = case.judge(rule).or_else(|| {
            let emergency = Case::new(facts, id, device, worst);
            let mut told = emergency.judge(rule)?;
            told.severity = Severity::Note;
            Some(told)
        });
        findings.extend(told);
    }
    for (component, devices) in relying {
        findings.extend(rely(rule, system, component, &devices));
    }
    findings.extend(large_banks(rule, system, &high_class));
    if facts.faults.is_bounded()
        && let Some(source) = system.sources.first()
    {
        let mut note = rule.finding(
            "",
            "the parts between the batteries have so many positions or ways that the fault currents told are bounds, and the true ones may be smaller",
        );
        note.severity = Severity::Note;
        findings.push(
            note.label(source.span, "one of the sources")
                .repair("declare combinations that cannot occur as interlocks"),
        );
    }
}

/// A device whose interrupting rating only another one before it makes good.
struct Relying {
    device: DeviceId,
    current: Amps,
    certainty: Certainty,
    upstream: DeviceId,
}

/// Where the interrupting rating of a device comes from.
#[derive(Clone, Copy)]
enum From {
    Given(Option<Span>),
    Form(FuseForm, Basis),
}

/// One device with the largest current that it has to break.
struct Case<'f> {
    facts: &'f Facts<'f>,
    device: &'f Device,
    fault: Prospective<'f>,
    volts: Volts,
    capability: Option<(Amps, From)>,
    /// The device before this one on every way that feeds the short; none where it is the first on one of them.
    upstream: Option<DeviceId>,
    /// Banks from which a way leads here past no other device.
    own_banks: Vec<BankId>,
    asked: Asked,
}

impl<'f> Case<'f> {
    fn new(
        facts: &'f Facts<'f>,
        id: DeviceId,
        device: &'f Device,
        (fault, side): (Prospective<'f>, Side),
    ) -> Self {
        let system = facts.system;
        let link = &system.links[device.link.index()];
        let near = system.node_of(match side {
            Side::Load => link.a,
            Side::Supply => link.b,
        });
        let volts = facts
            .poles
            .system_voltage(near)
            .unwrap_or(system.boat.nominal);
        let capability = match (device.interrupting, form(device)) {
            (Some(given), _) => Some((given.value, From::Given(given.span))),
            (None, Some(form)) => standards::form_interrupting(form, volts)
                .map(|(limit, basis)| (limit, From::Form(form, basis))),
            (None, None) => None,
        };
        let (upstream, own_banks) = before(facts, id, fault.sources, near);
        Self {
            asked: Asked::of(system, fault.sources, &own_banks, volts),
            facts,
            device,
            fault,
            volts,
            capability,
            upstream,
            own_banks,
        }
    }

    /// Whether its given rating meets whatever the later rule for banks may ask.
    fn is_high_class(&self) -> bool {
        let most = standards::bank_interrupting(Some(Amps(f64::MAX)), None, Some(Amps(f64::MAX))).0;
        match (most, self.device.interrupting) {
            (BankInterrupting::AtLeast(asked, _), Some(given)) => given.value >= asked,
            _ => false,
        }
    }

    /// Whether a lithium battery sends current here past no other device.
    fn is_lithium(&self) -> bool {
        self.fault.sources.iter().any(|source| {
            let source = &self.facts.system.sources[source.index()];
            let lithium = source
                .chemistry
                .is_some_and(|given| given.value == Chemistry::LithiumIronPhosphate);
            lithium
                && source
                    .bank
                    .is_some_and(|bank| self.own_banks.contains(&bank))
        })
    }

    fn judge(&self, rule: &Rule) -> Option<Diagnostic> {
        let current = self.fault.current;
        match self.capability {
            Some((limit, from @ From::Given(_))) => {
                let severity = self.weigh_given(limit)?;
                Some(self.told(rule, severity, Some((limit, from))))
            }
            Some((limit, from @ From::Form(..))) => {
                if limit >= current {
                    return None;
                }
                let sure = self.fault.certainty == Certainty::Stated || self.is_lithium();
                let severity = if sure {
                    Severity::Warning
                } else {
                    Severity::Note
                };
                Some(self.told(rule, severity, Some((limit, from))))
            }
            None => {
                let severity = self.weigh_unknown()?;
                Some(self.told(rule, severity, None))
            }
        }
    }

    /// How much a given rating below what is asked weighs; none where it is enough.
    fn weigh_given(&self, limit: Amps) -> Option<Severity> {
        let below = limit < self.fault.current;
        let breaker = self.device.kind != DeviceKind::Fuse;
        let table = self.asked.table.map(|(asked, _)| limit < asked);
        let bank = self.asked.bank.is_some_and(|(asked, _, _)| limit < asked);
        match (below, self.fault.certainty, table) {
            (true, Certainty::Stated, _) | (true, Certainty::Estimated(_), Some(true)) => {
                Some(Severity::Error)
            }
            (true, Certainty::Estimated(_), None) => Some(Severity::Warning),
            (_, _, _) if bank || (breaker && table == Some(true)) => Some(Severity::Warning),
            (true, _, _) => Some(Severity::Note),
            (false, _, _) => None,
        }
    }

    /// How much it weighs that neither rating nor form is given; none where any form would do.
    fn weigh_unknown(&self) -> Option<Severity> {
        let any_form = FuseForm::ALL
            .into_iter()
            .filter_map(|form| standards::form_interrupting(form, self.volts))
            .map(|(limit, _)| limit)
            .min_by(Amps::total_cmp);
        if any_form.is_some_and(|limit| self.fault.current <= limit) {
            return None;
        }
        let smallest =
            standards::breaker_interrupting(self.volts, Amps(0.0), BreakerPosition::Main);
        let above_smallest = self
            .asked
            .table
            .zip(smallest)
            .is_some_and(|((asked, _), (smallest, _))| asked > smallest);
        let sure = self.fault.certainty == Certainty::Stated || self.is_lithium() || above_smallest;
        Some(if sure {
            Severity::NotProved
        } else {
            Severity::Note
        })
    }

    fn told(
        &self,
        rule: &Rule,
        severity: Severity,
        capability: Option<(Amps, From)>,
    ) -> Diagnostic {
        let system = self.facts.system;
        let name = &self.device.name;
        let current = about(self.fault.current);
        let has = match capability {
            Some((limit, From::Given(_))) => {
                format!("its interrupting rating is {}", rating(limit))
            }
            Some((limit, From::Form(form, _))) => format!(
                "its interrupting rating is not given, and a {} usually has {}",
                form.name(),
                rating(limit)
            ),
            None => "neither its interrupting rating nor its form is given".to_owned(),
        };
        let message = format!(
            "{name} may have to interrupt {current}{}{}; {has}{}",
            certainty_words(self.fault.certainty),
            with_positions(system, self.fault.positions),
            self.asked.words()
        );
        let mut finding = rule.finding(name, message);
        finding.severity = severity;
        let (rated, basis) = match capability {
            Some((_, From::Given(span))) => (span, None),
            Some((_, From::Form(_, basis))) => (
                self.device.form.as_ref().and_then(|form| form.span),
                Some(basis),
            ),
            None => (None, None),
        };
        let source = self.strongest();
        let finding = finding
            .label(rated.unwrap_or(self.device.span), "must break the short")
            .label(source_span(system, source), "feeds the short")
            .in_positions(set_to(system, self.fault.positions))
            .repair(format!(
                "fit a form in {name} that interrupts at least {}, or give its interrupting rating",
                rating(self.least())
            ));
        let finding = match capability {
            Some((limit, _)) => finding.compared(
                Figure::new("prospective current", self.fault.current.0, "A"),
                Figure::new("interrupting rating", limit.0, "A"),
            ),
            None => finding,
        };
        let estimate = match self.fault.certainty {
            Certainty::Estimated(basis) | Certainty::Supposed(basis) => Some(basis),
            Certainty::Stated => None,
        };
        also_on(finding, basis.into_iter().chain(estimate))
    }

    /// The battery that alone sends most.
    fn strongest(&self) -> Option<SourceId> {
        self.fault.sources.iter().copied().max_by(|&a, &b| {
            let posts = |id| {
                self.facts
                    .faults
                    .battery(id)
                    .map_or(Amps(0.0), BatteryFault::at_posts)
            };
            posts(a).total_cmp(&posts(b)).then_with(|| b.cmp(&a))
        })
    }

    /// The least rating that meets everything asked, told in hundreds of amperes.
    fn least(&self) -> Amps {
        let mut least = self.fault.current;
        if let Some((asked, _, _)) = self.asked.bank {
            least = least.max(asked);
        }
        if let (Some((asked, _)), true) = (self.asked.table, self.device.kind != DeviceKind::Fuse) {
            least = least.max(asked);
        }
        Amps((least.0 / 100.0).ceil() * 100.0)
    }
}

/// The device that comes last before a place on the ways to it, none where one way has none, and the banks whose
/// ways have none.
fn before(
    facts: &Facts<'_>,
    id: DeviceId,
    sources: &[SourceId],
    near: NodeId,
) -> (Option<DeviceId>, Vec<BankId>) {
    let faults = &facts.faults;
    let (mut upstream, mut own) = (None, Vec::new());
    let mut first = false;
    for (index, feed) in faults.feeds().iter().enumerate() {
        let feeds = feed
            .batteries
            .iter()
            .any(|battery| sources.contains(battery));
        if !feeds || !faults.reaches(index, near) {
            continue;
        }
        let devices = faults.devices_above(index, near);
        if devices.contains(&id) {
            continue;
        }
        if let Some(&last) = devices.last() {
            upstream = Some(last);
            continue;
        }
        first = true;
        for battery in &feed.batteries {
            own.extend(facts.system.sources[battery.index()].bank);
        }
    }
    own.sort_unstable();
    own.dedup();
    (upstream.filter(|_| !first), own)
}

/// What published rules ask of the main device of the batteries that feed a short.
struct Asked {
    /// By the older table, at this cranking current of all batteries joined.
    table: Option<(Amps, Amps)>,
    /// By the later rule for banks, where that is more than the table; with the voltage that it names, and the bank.
    bank: Option<(Amps, Option<Volts>, BankId)>,
}

impl Asked {
    fn of(system: &System, sources: &[SourceId], own: &[BankId], volts: Volts) -> Self {
        let banks = banks(system, sources);
        let cranking: Option<Amps> = banks.iter().map(|bank| bank.cranking).sum();
        let table = cranking
            .filter(|current| current.0 > 0.0)
            .and_then(|current| {
                standards::breaker_interrupting(volts, current, BreakerPosition::Main)
                    .map(|(asked, _)| (asked, current))
            });
        let bank = banks
            .iter()
            .filter(|bank| own.contains(&bank.id) && bank.is_large())
            .filter_map(|bank| {
                match standards::bank_interrupting(bank.cranking, bank.capacity, bank.stated).0 {
                    BankInterrupting::AtLeast(asked, volts) => Some((asked, volts, bank.id)),
                    BankInterrupting::ByTable | BankInterrupting::NotGiven => None,
                }
            })
            .max_by(|a, b| a.0.total_cmp(&b.0));
        Self { table, bank }
    }

    fn words(&self) -> String {
        match (self.bank, self.table) {
            (Some((asked, volts, _)), _) => {
                let at = volts.map_or_else(String::new, |volts| format!(" at {:.0} V", volts.0));
                format!(
                    "; the later rule for banks asks {}{at} of its main device",
                    rating(asked)
                )
            }
            (None, Some((asked, cranking))) => format!(
                "; at {} of cranking current the older table asks {} of a main breaker, and the later rule for banks keeps to it",
                rating(cranking),
                rating(asked)
            ),
            (None, None) => String::new(),
        }
    }
}

/// One bank as the published rules count it: strings in parallel add up, batteries in series do not.
struct BankSize {
    id: BankId,
    cranking: Option<Amps>,
    capacity: Option<AmpHours>,
    stated: Option<Amps>,
}

impl BankSize {
    /// Whether the later rule for banks binds, and not the table.
    fn is_large(&self) -> bool {
        // Without a cranking current the rule tells nothing of a small bank, so it is asked as if it had none.
        let cranking = self.cranking.unwrap_or(Amps(0.0));
        standards::bank_interrupting(Some(cranking), self.capacity, None).0
            != BankInterrupting::ByTable
    }
}

/// The banks that some batteries belong to, in file order.
fn banks(system: &System, sources: &[SourceId]) -> Vec<BankSize> {
    let mut ids: Vec<BankId> = sources
        .iter()
        .filter_map(|source| system.sources[source.index()].bank)
        .collect();
    ids.sort_unstable();
    ids.dedup();
    ids.into_iter().map(|id| size(system, id)).collect()
}

fn size(system: &System, id: BankId) -> BankSize {
    let mut size = BankSize {
        id,
        cranking: Some(Amps(0.0)),
        capacity: Some(AmpHours(0.0)),
        stated: Some(Amps(0.0)),
    };
    for string in &system.banks[id.index()].strings {
        let batteries = || string.iter().map(|source| &system.sources[source.index()]);
        // The weakest battery of a string is the string; one that says nothing leaves it open.
        let least = |values: Vec<Option<f64>>| -> Option<f64> {
            let values: Option<Vec<f64>> = values.into_iter().collect();
            values?.into_iter().min_by(f64::total_cmp)
        };
        let value = |given: Option<Given<Amps>>| given.map(|given| given.value.0);
        let cranking = least(batteries().map(|battery| value(battery.cranking)).collect());
        let stated = least(
            batteries()
                .map(|battery| value(battery.short_circuit))
                .collect(),
        );
        let capacity = least(
            batteries()
                .map(|battery| battery.capacity.map(|given| given.value.0))
                .collect(),
        );
        size.cranking = size
            .cranking
            .zip(cranking)
            .map(|(sum, more)| sum + Amps(more));
        size.stated = size.stated.zip(stated).map(|(sum, more)| sum + Amps(more));
        size.capacity = size
            .capacity
            .zip(capacity)
            .map(|(sum, more)| sum + AmpHours(more));
    }
    size
}

/// Banks that the later rule binds, but whose short-circuit current is not given.
fn large_banks(
    rule: &Rule,
    system: &System,
    high_class: &BTreeMap<BankId, bool>,
) -> Vec<Diagnostic> {
    high_class
        .iter()
        .filter(|&(_, high_class)| !high_class)
        .map(|(&bank, _)| size(system, bank))
        .filter(|bank| bank.stated.is_none() && bank.is_large())
        .map(|bank| {
            let record = &system.banks[bank.id.index()];
            let mut sizes = Vec::new();
            if let Some(capacity) = bank.capacity {
                sizes.push(amp_hours(capacity, Rounding::Nearest).to_string());
            }
            if let Some(cranking) = bank.cranking {
                sizes.push(format!("{} of cranking current", rating(cranking)));
            }
            rule.not_proved(
                    &record.name,
                    format!(
                        "bank {} has {}; for banks of that size the interrupting rating of the main device follows from the short-circuit current that the battery maker states, and that is not given",
                        record.name,
                        listed(&sizes)
                    ),
                )
                .label(record.span, "short-circuit current not given")
                .repair("give `short-circuit` of its batteries from their data sheet")
        })
        .collect()
}

/// The note about devices that rely on another one before them.
fn rely(
    rule: &Rule,
    system: &System,
    component: ComponentId,
    devices: &[Relying],
) -> Option<Diagnostic> {
    let worst = devices.iter().max_by(|a, b| {
        a.current
            .total_cmp(&b.current)
            .then_with(|| b.device.cmp(&a.device))
    })?;
    let part = &system.components[component.index()];
    let mut upstream: Vec<&str> = Vec::new();
    for device in devices {
        let name = system.devices[device.upstream.index()].name.as_str();
        if !upstream.contains(&name) {
            upstream.push(name);
        }
    }
    let subject = if devices.len() == 1 {
        part.name.clone()
    } else {
        format!("{} devices of {}", devices.len(), part.name)
    };
    let mut finding = rule.finding(
        &part.name,
        format!(
            "{subject} would have to interrupt up to {}{}, more than they are rated for; they rely on {} before them",
            about(worst.current),
            certainty_words(worst.certainty),
            listed(&upstream)
        ),
    );
    finding.severity = Severity::Note;
    Some(
        finding
            .label(part.span, "relies on a device before it")
            .repair("leave the device before them as it is, or fit devices of a higher interrupting rating"),
    )
}

fn source_span(system: &System, source: Option<SourceId>) -> Option<Span> {
    let source = &system.sources[source?.index()];
    source
        .short_circuit
        .or(source.cranking)
        .and_then(|given| given.span)
        .or(Some(source.span))
}
