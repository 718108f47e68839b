//! The highest voltage that a point sees: its nominal voltage, raised by what its batteries are charged with.
//!
//! A battery that states no highest charging voltage takes that of its chemistry, and one without a chemistry the
//! highest of all chemistries. A string is taken as the file declares it even where its links are wired wrongly, because
//! a part that is chosen for the string must bear it once it is put right.

use super::isolation::{Nets, same_nominal};
use super::poles::Poles;
use super::returns::Grounds;
use super::states::ends;
use crate::standards::{Chemistry, max_charge_voltage};
use crate::system::{NodeId, SourceId, SourceKind, System};
use crate::units::Volts;
use std::collections::BTreeMap;

/// The highest voltage at a point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Highest {
    /// Against the negative of its batteries.
    pub volts: Volts,
    /// The source whose charging voltage decides.
    pub from: SourceId,
    /// That source states its charging voltage; else it is that of its chemistry.
    pub stated: bool,
}

/// Highest voltages of all points.
#[derive(Clone, Debug)]
pub struct ChargeVoltages {
    highest: Vec<Option<Highest>>,
}

/// Charging over nominal voltage of one source.
#[derive(Clone, Copy, Debug)]
struct Ratio {
    over_nominal: f64,
    /// The nominal voltage that it counts at; none for batteries in series, which count at every tap of their string.
    class: Option<Volts>,
    from: SourceId,
    stated: bool,
}

/// Chemistries that a battery may be of.
const ALL: [Chemistry; 4] = [
    Chemistry::Flooded,
    Chemistry::Agm,
    Chemistry::Gel,
    Chemistry::LithiumIronPhosphate,
];

impl ChargeVoltages {
    /// Finds the highest voltages.
    #[must_use]
    pub fn new(system: &System, poles: &Poles, nets: &Nets, grounds: &Grounds) -> Self {
        let ratios = ratios(system, poles, nets, grounds);
        let declared = declared(system, nets);
        let highest = (0..system.nodes.len())
            .map(NodeId::at)
            .map(|node| {
                let known = ratios.get(&grounds.island(node));
                let scaled = poles
                    .voltage(node)
                    .zip(known)
                    .and_then(|((_, high), known)| {
                        let ratio = greatest(known, high)?;
                        Some(Highest {
                            volts: high * ratio.over_nominal.max(1.0),
                            from: ratio.from,
                            stated: ratio.stated,
                        })
                    });
                let declared = declared.get(&nets.net(node)).copied();
                scaled
                    .into_iter()
                    .chain(declared)
                    .max_by(|a, b| a.volts.total_cmp(&b.volts))
            })
            .collect();
        Self { highest }
    }

    /// The highest voltage at a point; none where no source is wired to it.
    #[must_use]
    pub fn at(&self, node: NodeId) -> Option<Highest> {
        self.highest[node.index()]
    }
}

/// By island: the ratios of charging to nominal voltage of its sources.
fn ratios(
    system: &System,
    poles: &Poles,
    nets: &Nets,
    grounds: &Grounds,
) -> BTreeMap<u32, Vec<Ratio>> {
    let mut ratios: BTreeMap<u32, Vec<Ratio>> = BTreeMap::new();
    let in_series = in_series(system, nets);
    for (index, source) in system.sources.iter().enumerate() {
        let id = SourceId::at(index);
        let (a, b) = ends(system, source.link);
        let ((volts, stated), nominal) = if source.kind == SourceKind::Battery {
            (battery(system, id), source.nominal.value)
        } else {
            let Some(given) = source.max_voltage else {
                continue;
            };
            // A charging source works on the batteries between its poles, whatever its own nominal voltage.
            let across = poles
                .voltage(a)
                .zip(poles.voltage(b))
                .map(|((_, high), (low, _))| high - low)
                .filter(|volts| volts.0 > 0.0);
            let nominal = across.unwrap_or(source.nominal.value);
            ((given.value, true), nominal)
        };
        ratios.entry(grounds.island(a)).or_default().push(Ratio {
            over_nominal: volts.0 / nominal.0,
            class: (!in_series[index]).then_some(nominal),
            from: id,
            stated,
        });
    }
    ratios
}

/// The greatest ratio that counts at a nominal voltage: of sources of that voltage and of batteries in series, else of all.
fn greatest(ratios: &[Ratio], volts: Volts) -> Option<Ratio> {
    let counts = |ratio: &&Ratio| ratio.class.is_none_or(|class| same_nominal(class, volts));
    let best = |one: Ratio, other: Ratio| {
        if other.over_nominal > one.over_nominal {
            other
        } else {
            one
        }
    };
    let own = ratios.iter().filter(counts).copied().reduce(best);
    own.or_else(|| ratios.iter().copied().reduce(best))
}

/// Batteries with another one on a post of theirs of the other pole, whatever the file says of strings.
fn in_series(system: &System, nets: &Nets) -> Vec<bool> {
    let batteries = || {
        let sources = system.sources.iter().enumerate();
        sources.filter(|(_, source)| source.kind == SourceKind::Battery)
    };
    let mut uppers: BTreeMap<u32, Vec<usize>> = BTreeMap::new();
    for (index, source) in batteries() {
        let (a, _) = ends(system, source.link);
        uppers.entry(nets.net(a)).or_default().push(index);
    }
    let mut in_series = vec![false; system.sources.len()];
    for (index, source) in batteries() {
        let (_, b) = ends(system, source.link);
        for &below in uppers.get(&nets.net(b)).into_iter().flatten() {
            (in_series[index], in_series[below]) = (true, true);
        }
    }
    in_series
}

/// By net: the charging voltage that the strings of the file put there.
fn declared(system: &System, nets: &Nets) -> BTreeMap<u32, Highest> {
    let mut declared: BTreeMap<u32, Highest> = BTreeMap::new();
    for string in system.banks.iter().flat_map(|bank| &bank.strings) {
        let mut total = Volts(0.0);
        let mut all_stated = true;
        for &source in string {
            let (volts, stated) = battery(system, source);
            total = total + volts;
            all_stated &= stated;
            let (post, _) = ends(system, system.sources[source.index()].link);
            let found = Highest {
                volts: total,
                from: source,
                stated: all_stated,
            };
            let held = declared.entry(nets.net(post)).or_insert(found);
            if found.volts > held.volts {
                *held = found;
            }
        }
    }
    declared
}

/// Highest charging voltage of a battery, and whether it states it.
fn battery(system: &System, source: SourceId) -> (Volts, bool) {
    let source = &system.sources[source.index()];
    let nominal = source.nominal.value;
    if let Some(given) = source.max_voltage {
        return (given.value, true);
    }
    let volts = match source.chemistry {
        Some(chemistry) => max_charge_voltage(chemistry.value, nominal).0,
        None => ALL
            .iter()
            .map(|&chemistry| max_charge_voltage(chemistry, nominal).0)
            .fold(nominal, Volts::max),
    };
    (volts, false)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::returns::Returns;
    use crate::analysis::testing::Build;
    use crate::source::Span;
    use crate::system::{Bank, Given, Purpose};

    fn at(system: &System, post: usize) -> Option<Highest> {
        let (poles, nets) = (Poles::new(system), Nets::new(system));
        let returns = Returns::new(system, &nets);
        let (a, _) = ends(system, system.sources[post].link);
        ChargeVoltages::new(system, &poles, &nets, &returns.grounds).at(a)
    }

    #[test]
    fn a_string_on_charge_adds_up() {
        let mut build = Build::new();
        for name in ["low", "middle", "top"] {
            let id = build.source(name, SourceKind::Battery, None);
            build.system.sources[id.index()].max_voltage = Some(Given::assumed(Volts(14.6)));
        }
        build.wire("A", ("low.+", "middle.-"), "6 AWG", 0.2);
        build.wire("B", ("middle.+", "top.-"), "6 AWG", 0.2);
        let system = build.finish();
        for (post, volts) in [(0, 14.6), (1, 29.2), (2, 43.8)] {
            let found = at(&system, post).expect("a battery is there");
            assert!((found.volts.0 - volts).abs() < 1e-9, "{found:?}");
            assert!(found.stated);
        }
    }

    #[test]
    fn a_bank_of_another_voltage_does_not_count() {
        let mut build = Build::new();
        for (name, nominal, charged) in [("start", 12.0, 14.8), ("house", 24.0, 28.8)] {
            let id = build.source(name, SourceKind::Battery, None);
            let source = &mut build.system.sources[id.index()];
            source.nominal = Given::assumed(Volts(nominal));
            source.max_voltage = Some(Given::assumed(Volts(charged)));
        }
        build.wire("N", ("start.-", "house.-"), "6 AWG", 0.2);
        let system = build.finish();
        for (post, volts) in [(0, 14.8), (1, 28.8)] {
            let found = at(&system, post).expect("a battery is there");
            assert!((found.volts.0 - volts).abs() < 1e-9, "{found:?}");
        }
    }

    #[test]
    fn a_miswired_string_counts_as_declared() {
        let mut build = Build::new();
        let strings: Vec<SourceId> = ["low", "top"]
            .into_iter()
            .map(|name| build.source(name, SourceKind::Battery, None))
            .collect();
        for &id in &strings {
            build.system.sources[id.index()].max_voltage = Some(Given::assumed(Volts(14.6)));
        }
        build.system.banks.push(Bank {
            name: "bow".to_owned(),
            span: Span::default(),
            purpose: Purpose::Other("bow".to_owned()),
            strings: vec![strings],
            strings_given: true,
            isolated: None,
            mid_taps: Vec::new(),
        });
        build.wire("A", ("low.-", "top.-"), "6 AWG", 0.2);
        let found = at(&build.finish(), 1).expect("a battery is there");
        assert!((found.volts.0 - 29.2).abs() < 1e-9, "{found:?}");
    }

    #[test]
    fn a_battery_that_says_nothing_takes_the_highest_of_all_chemistries() {
        let mut build = Build::new();
        build.source("house", SourceKind::Battery, None);
        let found = at(&build.finish(), 0).expect("a battery is there");
        assert!(!found.stated);
        assert!(found.volts.0 > 14.0 && found.volts.0 < 17.0, "{found:?}");
    }
}
