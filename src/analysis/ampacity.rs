//! What every conductor may carry where it lies: table value times the factors of its surroundings, unrounded.
//!
//! The factors depend on the conductor's insulation and places, not on its size, so sizing asks for another size
//! with the same function. Nothing here compares the result with a current.

use super::poles::{Pole, Poles};
use crate::standards::{self, Basis, citations};
use crate::system::{BundleId, BundlingPolicy, Conductor, ConductorId, CountPoles, System, ZoneId};
use crate::units::{Amps, Celsius, Gauge};

/// A factor with its authority and the element it comes from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Term<T> {
    /// The factor, at most 1.
    pub factor: f64,
    /// Authority.
    pub basis: Basis,
    /// Where it comes from.
    pub from: T,
}

/// The bundle whose factor governs a conductor.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Bundled {
    /// The bundle.
    pub bundle: BundleId,
    /// Current-carrying conductors counted in it, the conductor itself and unlisted ones included.
    pub count: usize,
    /// The law does not ask for it at this voltage: project policy.
    pub policy: bool,
}

/// What reduces a conductor's table value where it lies.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Derating {
    /// The hottest place it passes: engine space, or a zone above the ambient of the table.
    pub heat: Option<Term<ZoneId>>,
    /// The heat is the law's engine-space factor; false where it follows from an ambient.
    pub heat_is_engine_space: bool,
    /// The fullest bundle it lies in.
    pub bundle: Option<Term<Bundled>>,
}

impl Derating {
    /// All factors together.
    #[must_use]
    pub fn factor(&self) -> f64 {
        self.heat.map_or(1.0, |term| term.factor) * self.bundle.map_or(1.0, |term| term.factor)
    }

    /// The term that reduces most; the table itself where nothing reduces.
    #[must_use]
    pub fn governing(&self) -> Governing {
        let heat = self.heat.map_or(1.0, |term| term.factor);
        let bundle = self.bundle.map_or(1.0, |term| term.factor);
        if heat >= 1.0 && bundle >= 1.0 {
            Governing::Table
        } else if bundle < heat {
            Governing::Bundle
        } else if self.heat_is_engine_space {
            Governing::EngineSpace
        } else {
            Governing::Ambient
        }
    }
}

/// Which term decides what a conductor may carry.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Governing {
    /// The table value alone.
    Table,
    /// The law's engine-space factor.
    EngineSpace,
    /// The ambient of a zone.
    Ambient,
    /// The bundle.
    Bundle,
}

/// What a conductor may carry, with everything it follows from.
#[derive(Clone, Debug, PartialEq)]
pub struct Ampacity {
    /// The table value for its size and insulation.
    pub table: Amps,
    /// Authority of the table value.
    pub basis: Basis,
    /// The factors.
    pub derating: Derating,
    /// Table value times factors, unrounded.
    pub derated: Amps,
}

/// Why nothing can be said of what a conductor may carry.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Unrated {
    /// Its size is not given.
    NoGauge,
    /// No table lists its size or its insulation rating.
    NotListed(Gauge, Celsius),
}

/// The surroundings of all conductors.
#[derive(Clone, Debug)]
pub struct Ampacities {
    deratings: Vec<Derating>,
    counts: Vec<usize>,
}

impl Ampacities {
    /// Counts the bundles and finds the factors of every conductor.
    #[must_use]
    pub fn new(system: &System, poles: &Poles) -> Self {
        let count = Counting { system, poles };
        let policy_counts = count.bundles(|_| true);
        let law_counts = count.bundles(|conductor| count.is_lawful(conductor));
        let apply = system.boat.policy.bundling == BundlingPolicy::Apply;
        let deratings = system
            .conductors
            .iter()
            .map(|conductor| {
                let lawful = count.is_lawful(conductor);
                let (heat, heat_is_engine_space) = heat(system, conductor).unzip();
                let bundle = if apply {
                    bundle(conductor, &policy_counts, !lawful)
                } else if lawful {
                    bundle(conductor, &law_counts, false)
                } else {
                    None
                };
                Derating {
                    heat,
                    heat_is_engine_space: heat_is_engine_space.unwrap_or(false),
                    bundle,
                }
            })
            .collect();
        Self {
            deratings,
            counts: policy_counts,
        }
    }

    /// What reduces a conductor's table value.
    #[must_use]
    pub fn derating(&self, conductor: ConductorId) -> &Derating {
        &self.deratings[conductor.index()]
    }

    /// Current-carrying conductors that share a bundle, unlisted ones included.
    #[must_use]
    pub fn bundle_count(&self, bundle: BundleId) -> usize {
        self.counts[bundle.index()]
    }

    /// What a conductor may carry where it lies.
    ///
    /// # Errors
    /// See [`Unrated`].
    pub fn allowed(&self, system: &System, conductor: ConductorId) -> Result<Ampacity, Unrated> {
        let gauge = system.conductors[conductor.index()]
            .gauge
            .ok_or(Unrated::NoGauge)?
            .value;
        self.allowed_as(system, conductor, gauge)
    }

    /// What a conductor could carry if it had another size.
    ///
    /// # Errors
    /// See [`Unrated`].
    pub fn allowed_as(
        &self,
        system: &System,
        conductor: ConductorId,
        gauge: Gauge,
    ) -> Result<Ampacity, Unrated> {
        let insulation = system.conductors[conductor.index()].insulation.value;
        let (table, basis) =
            standards::ampacity(gauge, insulation).ok_or(Unrated::NotListed(gauge, insulation))?;
        let derating = self.derating(conductor).clone();
        Ok(Ampacity {
            table,
            basis,
            derated: table * derating.factor(),
            derating,
        })
    }
}

/// The hottest place a conductor passes, and whether the law's engine-space factor says so.
///
/// The law's factor supposes an engine space of some ambient; where the file declares a hotter one, the ambient
/// formula decides if it is smaller. Two hot places do not add up: the worse one counts.
fn heat(system: &System, conductor: &Conductor) -> Option<(Term<ZoneId>, bool)> {
    let insulation = conductor.insulation.value;
    let (table_ambient, _) = standards::constants::table_ambient();
    let (engine_ambient, _) = standards::constants::engine_space_ambient();
    let mut worst: Option<(Term<ZoneId>, bool)> = None;
    let mut take = |term: Term<ZoneId>, lawful: bool| {
        if worst.is_none_or(|(before, _)| term.factor < before.factor) {
            worst = Some((term, lawful));
        }
    };
    for zone in passed(system, conductor) {
        let record = &system.zones[zone.index()];
        let ambient = record.ambient.map(|given| given.value);
        if record.engine_space
            && let Some((factor, basis)) = standards::engine_space_factor(insulation)
        {
            take(
                Term {
                    factor,
                    basis,
                    from: zone,
                },
                true,
            );
        }
        let least = if record.engine_space {
            engine_ambient
        } else {
            table_ambient
        };
        if let Some(ambient) = ambient.filter(|&ambient| ambient > least)
            && let Some((factor, basis)) = standards::ambient_factor(insulation, ambient)
        {
            take(
                Term {
                    factor,
                    basis,
                    from: zone,
                },
                false,
            );
        }
    }
    worst
}

/// Every zone a conductor touches: its ends, its ways and bundles, each once.
#[must_use]
pub fn passed(system: &System, conductor: &Conductor) -> Vec<ZoneId> {
    let mut zones = conductor.zones.clone();
    let further = conductor.stretches.iter().flat_map(|stretch| {
        let of_bundle = stretch
            .bundle
            .and_then(|bundle| system.bundles[bundle.index()].zone);
        [stretch.zone, of_bundle]
    });
    for zone in further.flatten() {
        if !zones.contains(&zone) {
            zones.push(zone);
        }
    }
    zones
}

/// The fullest bundle of a conductor, where it reduces anything.
fn bundle(conductor: &Conductor, counts: &[usize], policy: bool) -> Option<Term<Bundled>> {
    let (bundle, count) = conductor
        .stretches
        .iter()
        .filter_map(|stretch| stretch.bundle)
        .map(|bundle| (bundle, counts[bundle.index()]))
        .max_by(|(a, count_a), (b, count_b)| count_a.cmp(count_b).then(b.cmp(a)))?;
    let (factor, basis) = standards::bundling_factor(count);
    (factor < 1.0).then_some(Term {
        factor,
        basis: if policy {
            citations::BUNDLING_POLICY
        } else {
            basis
        },
        from: Bundled {
            bundle,
            count,
            policy,
        },
    })
}

/// Which conductors count in a bundle.
struct Counting<'a> {
    system: &'a System,
    poles: &'a Poles,
}

impl Counting<'_> {
    /// Whether the law itself asks for bundling factors: circuits of 50 V or more.
    fn is_lawful(&self, conductor: &Conductor) -> bool {
        let (limit, _) = standards::constants::low_voltage_limit();
        self.poles
            .system_voltage(self.system.node_of(conductor.from))
            .is_some_and(|voltage| voltage >= limit)
    }

    /// Whether a conductor can carry load current and is to be counted.
    fn counts(&self, conductor: &Conductor) -> bool {
        let negative = self.poles.of(self.system.node_of(conductor.from)) == Pole::Negative;
        let skipped = self.system.boat.policy.count_poles == CountPoles::Positive && negative;
        !conductor.sense && !conductor.spare && !skipped
    }

    /// Conductors in each bundle that count and pass the filter.
    ///
    /// Of a group that never carries current together only the circuit with the most conductors counts.
    /// The legs of one circuit on one pole follow one another from feed to load, so in a bundle that the circuit
    /// names without measured ways they count once; along measured ways every leg counts where it lies.
    fn bundles(&self, passes: impl Fn(&Conductor) -> bool) -> Vec<usize> {
        let mut members: Vec<Vec<ConductorId>> = vec![Vec::new(); self.system.bundles.len()];
        let mut followed = std::collections::BTreeSet::new();
        for (index, conductor) in self.system.conductors.iter().enumerate() {
            if !self.counts(conductor) || !passes(conductor) {
                continue;
            }
            let id = ConductorId::at(index);
            let negative = self.poles.of(self.system.node_of(conductor.from)) == Pole::Negative;
            for stretch in &conductor.stretches {
                let Some(bundle) = stretch.bundle else {
                    continue;
                };
                let follows_another_leg = stretch.way.is_none()
                    && conductor
                        .circuit
                        .is_some_and(|circuit| !followed.insert((bundle, circuit, negative)));
                let list = &mut members[bundle.index()];
                if list.last() != Some(&id) && !follows_another_leg {
                    list.push(id);
                }
            }
        }
        self.system
            .bundles
            .iter()
            .zip(&members)
            .map(|(bundle, members)| {
                let others = usize::try_from(bundle.others).unwrap_or(usize::MAX);
                self.together(&bundle.never_together, members)
                    .saturating_add(others)
            })
            .collect()
    }

    fn together(&self, groups: &[Vec<ConductorId>], members: &[ConductorId]) -> usize {
        let mut left: std::collections::BTreeSet<ConductorId> = members.iter().copied().collect();
        let mut count = 0;
        for group in groups {
            let mut by_circuit = std::collections::BTreeMap::new();
            for &id in group {
                if left.remove(&id) {
                    // A conductor of no circuit is a circuit of its own here.
                    let circuit = self.system.conductors[id.index()].circuit;
                    let key = circuit.map_or((true, id.0), |circuit| (false, circuit.0));
                    *by_circuit.entry(key).or_insert(0usize) += 1;
                }
            }
            count += by_circuit.values().copied().max().unwrap_or(0);
        }
        count + left.len()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::testing::Build;
    use crate::source::Span;
    use crate::system::{Bundle, Given, SourceKind, Stretch, Zone};
    use crate::units::Volts;

    fn zone(name: &str, ambient: f64, engine_space: bool) -> Zone {
        Zone {
            name: name.to_owned(),
            span: Span::default(),
            ambient: Some(Given::assumed(Celsius(ambient))),
            engine_space,
            engine_space_span: None,
            gasoline_vapour: false,
            gasoline_vapour_span: None,
            wet: None,
            access: String::new(),
        }
    }

    /// Some pairs of conductors of one size in one bundle, all of them passing the zones.
    fn boat(gauge: &str, pairs: usize, zones: Vec<Zone>) -> System {
        let mut build = Build::new();
        build.source("house", SourceKind::Battery, None);
        for pair in 0..pairs {
            let lamp = format!("lamp{pair}");
            build.load(&lamp, Some(1.0));
            for (suffix, ends) in [
                ("A", ("house.+".to_owned(), format!("{lamp}.+"))),
                ("N", (format!("{lamp}.-"), "house.-".to_owned())),
            ] {
                build.wire(&format!("{pair}{suffix}"), (&ends.0, &ends.1), gauge, 1.0);
            }
        }
        let mut system = build.finish();
        system.bundles.push(Bundle {
            name: "loom".to_owned(),
            span: Span::default(),
            zone: None,
            sheathed: false,
            never_together: Vec::new(),
            others: 0,
            hole: None,
        });
        for conductor in &mut system.conductors {
            conductor.zones = (0..zones.len()).map(ZoneId::at).collect();
            conductor.stretches = vec![Stretch {
                length: None,
                zone: None,
                bundle: Some(BundleId::at(0)),
                way: None,
            }];
        }
        system.zones = zones;
        system
    }

    fn allowed(system: &System) -> Ampacity {
        let ampacities = Ampacities::new(system, &Poles::new(system));
        ampacities
            .allowed(system, ConductorId::at(0))
            .expect("a listed size")
    }

    #[test]
    fn published_products_come_back() {
        // Cable maker's and retailers' tables of 105 °C ampacities inside engine spaces and bundles (secondary).
        let engine = || vec![zone("engine", 50.0, true)];
        let mut three = boat("16 AWG", 2, engine());
        three.boat.policy.count_poles = CountPoles::Both;
        three.conductors[3].spare = true;
        let got = allowed(&three);
        assert!((got.derated.0 - 14.875).abs() < 1e-9, "{got:?}");
        assert_eq!(got.derating.governing(), Governing::Bundle);
        let many = boat("4/0 AWG", 4, engine());
        assert!((allowed(&many).derated.0 - 189.125).abs() < 1e-9);
        // 33 CFR 183.425 Table 5 and its note 1: 12 AWG at 90 °C in an engine space, 40 A × 0.82.
        let mut one = boat("12 AWG", 1, engine());
        for conductor in &mut one.conductors {
            conductor.insulation = Given::assumed(Celsius(90.0));
        }
        let got = allowed(&one);
        assert!((got.derated.0 - 32.8).abs() < 1e-9);
        assert_eq!(got.derating.governing(), Governing::EngineSpace);
        assert!(got.derating.heat_is_engine_space);
    }

    #[test]
    fn the_hotter_place_decides_and_not_the_product() {
        let warm = boat(
            "14 AWG",
            1,
            vec![zone("console", 40.0, false), zone("engine", 50.0, true)],
        );
        // 33 CFR 183.425 Table 5: 14 AWG, 105 °C, 35 A; note 1: 0.85.
        assert!((allowed(&warm).derated.0 - 35.0 * 0.85).abs() < 1e-9);
        let hot = boat("14 AWG", 1, vec![zone("engine", 70.0, true)]);
        let got = allowed(&hot);
        assert!((got.derated.0 - 35.0 * (35.0f64 / 75.0).sqrt()).abs() < 1e-9);
        assert_eq!(got.derating.governing(), Governing::Ambient);
        let console = boat("14 AWG", 1, vec![zone("console", 40.0, false)]);
        let got = allowed(&console);
        assert!((got.derated.0 - 35.0 * (65.0f64 / 75.0).sqrt()).abs() < 1e-9);
        let cool = boat("14 AWG", 1, vec![zone("bow", 20.0, false)]);
        assert_eq!(allowed(&cool).derating.governing(), Governing::Table);
    }

    #[test]
    fn policy_decides_about_bundles_below_50_volts() {
        let mut system = boat("14 AWG", 2, Vec::new());
        let got = allowed(&system).derating.bundle.expect("four conductors");
        assert_eq!((got.from.count, got.from.policy), (4, true));
        assert_eq!(got.basis, citations::BUNDLING_POLICY);
        system.boat.policy.count_poles = CountPoles::Positive;
        assert!(allowed(&system).derating.bundle.is_none());
        system.bundles[0].others = 1;
        assert!((allowed(&system).derating.factor() - 0.7).abs() < 1e-12);
        system.boat.policy.bundling = BundlingPolicy::LawOnly;
        assert!(allowed(&system).derating.bundle.is_none());
        system.sources[0].nominal = Given::assumed(Volts(72.0));
        let lawful = allowed(&system).derating.bundle.expect("72 V");
        assert!(!lawful.from.policy);
    }

    #[test]
    fn legs_of_one_circuit_follow_one_another_and_count_once_a_pole() {
        let text = "batteries: {b: {capacity: 10 Ah}}\nfuses: {f: {rating: 5 A}}\nswitches: {s: {}}\n\
            buses: {n: {polarity: negative}}\nloads: {l: {draw: 1 A}}\n\
            runs: {B: {from: b.+, to: f.in}, R: {from: n, to: b.-, bundle: loom}}\n\
            circuits: {c: {feed: f.out, switch: s, load: l, return: n, length: [1 ft, 9 ft], bundle: loom}}\n";
        let reading = crate::source::read(text.as_bytes());
        let document = reading.document.as_ref().expect("the text is YAML");
        let (netlist, _) = crate::netlist::read(&reading);
        let (system, _) = crate::resolve::resolve(&netlist.expect("a netlist"), document);
        // Positive legs c-A and c-B count once, the negative once, the run R by itself.
        let counts = Ampacities::new(&system, &Poles::new(&system));
        assert_eq!(counts.bundle_count(BundleId(0)), 3);
    }

    #[test]
    fn conductors_that_never_run_together_count_once() {
        let mut system = boat("14 AWG", 4, Vec::new());
        // Pairs 0 and 1 never run together, wire by wire: of their four conductors one counts.
        system.bundles[0].never_together = vec![(0..4).map(ConductorId::at).collect()];
        let ampacities = Ampacities::new(&system, &Poles::new(&system));
        assert_eq!(ampacities.bundle_count(BundleId::at(0)), 5);
        for (index, conductor) in system.conductors.iter_mut().enumerate() {
            conductor.circuit = Some(crate::system::CircuitId::at(index / 2));
        }
        // As circuits both conductors of the one that runs count.
        let ampacities = Ampacities::new(&system, &Poles::new(&system));
        assert_eq!(ampacities.bundle_count(BundleId::at(0)), 6);
        system.conductors[7].sense = true;
        let ampacities = Ampacities::new(&system, &Poles::new(&system));
        assert_eq!(ampacities.bundle_count(BundleId::at(0)), 5);
    }

    #[test]
    fn what_no_table_lists_is_told() {
        let mut system = boat("22 AWG", 1, Vec::new());
        let ampacities = Ampacities::new(&system, &Poles::new(&system));
        let got = ampacities.allowed(&system, ConductorId::at(0));
        assert!(matches!(got, Err(Unrated::NotListed(_, _))));
        system.conductors[0].gauge = None;
        let got = ampacities.allowed(&system, ConductorId::at(0));
        assert_eq!(got, Err(Unrated::NoGauge));
    }
}
