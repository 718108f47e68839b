//! How thick the conductors that travel together are, whether they pass the hole that the file states, and how many
//! supports carry them.
//!
//! The diameter is an estimate of the trade: 1.2 times the root of the sum of the squared outside diameters, and
//! never less than two conductors side by side. A cable counts once where its diameter is measured; else its cores
//! count one by one and its sheath not at all, because no table lists sheaths.
//! Nothing here judges a hole.

use crate::standards::{self, Basis, constants, is_battery_cable, outside_diameter};
use crate::system::{BundleId, CableId, ConductorId, Practice, StockIndex, System, WayId};
use crate::units::Metres;
use std::collections::{BTreeMap, BTreeSet};

/// Conductors that lie side by side in one place.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Fill {
    /// The conductors, in file order.
    pub members: Vec<ConductorId>,
    /// Those whose diameter is not known, because their size is not given or not listed.
    pub unknown: Vec<ConductorId>,
    /// Further conductors that the file only counts.
    pub unlisted: u32,
    /// Diameter of those that are known; none where none is.
    pub diameter: Option<Metres>,
}

impl Fill {
    /// Whether the diameter leaves conductors out: it is then more than is told.
    #[must_use]
    pub fn is_partial(&self) -> bool {
        !self.unknown.is_empty() || self.unlisted > 0
    }
}

/// A bundle where it is thickest.
#[derive(Clone, Debug, PartialEq)]
pub struct BundleFill {
    /// What lies there.
    pub fill: Fill,
    /// The way on which it is so thick; none where the file lays the bundle on no way.
    pub way: Option<WayId>,
}

/// Supports along a stretch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Supports {
    /// How many, the one at its far end included.
    pub count: usize,
    /// Greatest distance between two of them.
    pub spacing: Metres,
    /// Where the distance comes from.
    pub basis: Basis,
}

/// What lies in every way and every bundle.
#[derive(Clone, Debug)]
pub struct Fills {
    ways: Vec<Fill>,
    bundles: Vec<BundleFill>,
}

impl Fills {
    /// Gathers the conductors of every way and every bundle.
    #[must_use]
    pub fn new(system: &System) -> Self {
        let mut on_way: Vec<Vec<ConductorId>> = vec![Vec::new(); system.ways.len()];
        let mut in_bundle: Vec<BTreeMap<Option<WayId>, Vec<ConductorId>>> =
            vec![BTreeMap::new(); system.bundles.len()];
        for (index, conductor) in system.conductors.iter().enumerate() {
            let id = ConductorId::at(index);
            for stretch in &conductor.stretches {
                if let Some(way) = stretch.way {
                    add(&mut on_way[way.index()], id);
                }
                if let Some(bundle) = stretch.bundle {
                    add(
                        in_bundle[bundle.index()].entry(stretch.way).or_default(),
                        id,
                    );
                }
            }
        }
        let outsides = outsides(system);
        let ways = on_way
            .iter()
            .zip(&system.ways)
            .map(|(members, way)| {
                let unlisted = way
                    .bundle
                    .map_or(0, |bundle| system.bundles[bundle.index()].others);
                fill(system, &outsides, members, unlisted)
            })
            .collect();
        let bundles = in_bundle
            .iter()
            .zip(&system.bundles)
            .map(|(parts, bundle)| thickest(system, &outsides, parts, bundle.others))
            .collect();
        Self { ways, bundles }
    }

    /// What lies in a way.
    #[must_use]
    pub fn way(&self, way: WayId) -> &Fill {
        &self.ways[way.index()]
    }

    /// What lies in a bundle, where it is thickest.
    #[must_use]
    pub fn bundle(&self, bundle: BundleId) -> &BundleFill {
        &self.bundles[bundle.index()]
    }
}

/// Supports of some conductors along a length; the shortest spacing of any of them holds.
#[must_use]
pub fn supports(system: &System, members: &[ConductorId], length: Metres) -> Option<Supports> {
    let (spacing, basis) = members
        .iter()
        .map(|&id| spacing(system, id))
        .min_by(|(a, _), (b, _)| a.total_cmp(b))?;
    // A length that ends at a support needs no further one for its last rounding.
    let steps = (length / spacing - 1e-6).ceil().max(1.0);
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // lengths of a boat
    let count = steps as usize;
    Some(Supports {
        count,
        spacing,
        basis,
    })
}

fn spacing(system: &System, conductor: ConductorId) -> (Metres, Basis) {
    let gauge = system.conductors[conductor.index()].gauge;
    let cable = gauge.is_some_and(|gauge| is_battery_cable(gauge.value));
    match (system.boat.practice, cable) {
        (Practice::Us, false) => constants::support_spacing(),
        (Practice::Us, true) => constants::battery_cable_support(),
        (Practice::Metric, false) => constants::support_spacing_metric(),
        (Practice::Metric, true) => constants::battery_cable_support_metric(),
    }
}

/// The length that a conductor's ways have together; none where it takes none, or one is not measured.
#[must_use]
pub fn length_of_ways(system: &System, conductor: ConductorId) -> Option<Metres> {
    let mut sum = None;
    for way in ways_of(system, conductor) {
        let length = system.ways[way.index()].length?.value;
        sum = Some(sum.unwrap_or(Metres(0.0)) + length);
    }
    sum
}

/// The ways that a conductor takes, in order.
#[must_use]
pub fn ways_of(system: &System, conductor: ConductorId) -> Vec<WayId> {
    let stretches = &system.conductors[conductor.index()].stretches;
    stretches.iter().filter_map(|stretch| stretch.way).collect()
}

fn add(members: &mut Vec<ConductorId>, id: ConductorId) {
    if members.last() != Some(&id) {
        members.push(id);
    }
}

/// Of the parts of a bundle the thickest: what it carries on one way, with what lies in it on no way that is known.
fn thickest(
    system: &System,
    outsides: &[Option<Metres>],
    parts: &BTreeMap<Option<WayId>, Vec<ConductorId>>,
    unlisted: u32,
) -> BundleFill {
    let everywhere = parts.get(&None).map_or(&[][..], Vec::as_slice);
    let mut found = BundleFill {
        fill: fill(system, outsides, everywhere, unlisted),
        way: None,
    };
    for (way, members) in parts {
        let Some(way) = *way else { continue };
        let mut all = [members, everywhere].concat();
        all.sort_unstable();
        all.dedup();
        let here = fill(system, outsides, &all, unlisted);
        let size = |fill: &Fill| fill.diameter.map_or(0.0, |diameter| diameter.0);
        let thicker = size(&here)
            .total_cmp(&size(&found.fill))
            .then(here.members.len().cmp(&found.fill.members.len()));
        if found.way.is_none() || thicker.is_gt() {
            found = BundleFill {
                fill: here,
                way: Some(way),
            };
        }
    }
    found
}

/// Some conductors side by side, with further ones that the file only counts; `outsides` are those of [`outsides`].
#[must_use]
pub fn fill(
    system: &System,
    outsides: &[Option<Metres>],
    members: &[ConductorId],
    unlisted: u32,
) -> Fill {
    let mut unknown = Vec::new();
    let mut diameters = Vec::new();
    let mut cables: BTreeSet<CableId> = BTreeSet::new();
    for &id in members {
        let cable = system.conductors[id.index()].cable;
        let sheath = cable.and_then(|cable| Some((cable, cable_outside(system, cable)?)));
        if let Some((cable, sheath)) = sheath {
            if cables.insert(cable) {
                diameters.push(sheath);
            }
            continue;
        }
        match outsides[id.index()] {
            Some(diameter) => diameters.push(diameter),
            None => unknown.push(id),
        }
    }
    Fill {
        members: members.to_vec(),
        unknown,
        unlisted,
        diameter: bundle_diameter(&diameters),
    }
}

/// Outside diameter of every conductor: as measured on its spool, else the estimate of the table.
#[must_use]
pub fn outsides(system: &System) -> Vec<Option<Metres>> {
    let stock = StockIndex::new(system);
    let of = |conductor: &crate::system::Conductor| {
        let spools = stock.spools(conductor).iter();
        let measured = spools
            .filter(|_| conductor.cable.is_none())
            .filter_map(|spool| system.spools[spool.index()].outside)
            .map(|given| given.value)
            .max_by(Metres::total_cmp);
        measured.or_else(|| Some(outside_diameter(conductor.gauge?.value)?.0))
    };
    system.conductors.iter().map(of).collect()
}

/// Diameter over the sheath of a cable: its own, else that of its spool; none where it is not measured.
#[must_use]
pub fn cable_outside(system: &System, cable: CableId) -> Option<Metres> {
    let cable = &system.cables[cable.index()];
    let spool = || system.spools[cable.spool?.index()].outside;
    cable.outside.or_else(spool).map(|given| given.value)
}

/// Diameter of conductors that lie together; none for none.
///
/// 1.2·√ΣOD², common practice, which supposes many; two lie side by side, and one is as thick as itself.
#[must_use]
pub fn bundle_diameter(outside: &[Metres]) -> Option<Metres> {
    let mut thick: Vec<f64> = outside.iter().map(|diameter| diameter.0).collect();
    thick.sort_by(|a, b| b.total_cmp(a));
    let (packing, _) = standards::constants::bundle_packing();
    match thick[..] {
        [] => None,
        [one] => Some(Metres(one)),
        [one, other, ..] => {
            let squares: f64 = thick.iter().map(|diameter| diameter * diameter).sum();
            Some(Metres((packing * squares.sqrt()).max(one + other)))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::testing::Build;
    use crate::source::Span;
    use crate::system::{Bundle, Given, PointId, SourceKind, Stretch, Way};

    fn mm(outside: &[f64]) -> f64 {
        let outside: Vec<Metres> = outside.iter().map(|mm| Metres(mm / 1000.0)).collect();
        bundle_diameter(&outside).map_or(0.0, |diameter| diameter.0 * 1000.0)
    }

    #[test]
    fn diameters_hold_against_geometry() {
        // Circles in the smallest circle, exact (plane geometry): one 1, two 2, three 1 + 2/√3, four 1 + √2, seven 3
        // diameters. The estimate of the trade is meant for many conductors and stays within 4 % of three.
        assert!((mm(&[3.0]) - 3.0).abs() < 1e-9);
        assert!((mm(&[3.0, 2.0]) - 5.0).abs() < 1e-9);
        for (count, exact) in [
            (3, 1.0 + 2.0 / 3f64.sqrt()),
            (4, 1.0 + 2f64.sqrt()),
            (7, 3.0),
        ] {
            let got = mm(&vec![1.0; count]);
            assert!(
                got > exact * 0.96 && got < exact * 1.1,
                "{count}: {got} {exact}"
            );
        }
        assert!(mm(&[]).abs() < 1e-12);
    }

    fn way(bundle: Option<BundleId>) -> Way {
        Way {
            name: "trunk".to_owned(),
            span: Span::default(),
            from: PointId::at(0),
            to: PointId::at(1),
            length: Some(Given::assumed(Metres(2.0))),
            zone: None,
            bundle,
            sheathed: false,
            hole: None,
            slack: None,
        }
    }

    fn boat() -> System {
        let mut build = Build::new();
        build.source("house", SourceKind::Battery, None);
        build.load("lamp", Some(1.0));
        build.wire("1", ("house.+", "lamp.+"), "14 AWG", 4.0);
        build.wire("2", ("lamp.-", "house.-"), "14 AWG", 4.0);
        build.wire("3", ("lamp.-", "house.-"), "2 AWG", 4.0);
        let mut system = build.finish();
        let bundle = Some(BundleId::at(0));
        system.bundles.push(Bundle {
            name: "loom".to_owned(),
            span: Span::default(),
            zone: None,
            sheathed: false,
            never_together: Vec::new(),
            others: 0,
            hole: None,
        });
        system.ways = vec![way(bundle), way(bundle), way(None)];
        let stretch = |way: Option<usize>, bundle| Stretch {
            length: None,
            zone: None,
            bundle,
            way: way.map(WayId::at),
        };
        system.conductors[0].stretches = vec![stretch(Some(0), bundle), stretch(Some(1), bundle)];
        system.conductors[1].stretches = vec![stretch(Some(1), bundle), stretch(Some(2), None)];
        system.conductors[2].stretches = vec![stretch(Some(2), None)];
        system
    }

    #[test]
    fn every_way_and_bundle_knows_what_lies_in_it() {
        let mut system = boat();
        let fills = Fills::new(&system);
        let members = |way: usize| fills.way(WayId::at(way)).members.len();
        assert_eq!([members(0), members(1), members(2)], [1, 2, 2]);
        let bundle = fills.bundle(BundleId::at(0));
        assert_eq!(bundle.way, Some(WayId::at(1)));
        assert_eq!(bundle.fill.members.len(), 2);
        // Two conductors of 0.133 in (outside diameters of the 2008 NEC, chapter 9 table 5) side by side.
        let inches = bundle
            .fill
            .diameter
            .map_or(0.0, |diameter| diameter.0 / 0.0254);
        assert!((inches - 0.266).abs() < 1e-9, "{inches}");
        assert!(!bundle.fill.is_partial());

        system.conductors[1].gauge = None;
        system.bundles[0].others = 3;
        let fills = Fills::new(&system);
        let bundle = &fills.bundle(BundleId::at(0)).fill;
        assert_eq!((bundle.unknown.len(), bundle.unlisted), (1, 3));
        assert!(bundle.is_partial());
    }

    #[test]
    fn supports_are_as_near_as_the_practice_asks() {
        let mut system = boat();
        let ids = |indices: &[usize]| {
            indices
                .iter()
                .map(|&i| ConductorId::at(i))
                .collect::<Vec<_>>()
        };
        let count = |system: &System, indices: &[usize], metres: f64| {
            supports(system, &ids(indices), Metres(metres)).map(|found| found.count)
        };
        // ABYC E-11 as reproduced by retailers: wires every 18 in, battery cable every 36 in (secondary).
        assert_eq!(count(&system, &[0], 0.4572 * 4.0), Some(4));
        assert_eq!(count(&system, &[0], 0.4572 * 4.0 + 0.01), Some(5));
        assert_eq!(count(&system, &[2], 0.9144 * 2.0), Some(2));
        assert_eq!(count(&system, &[0, 2], 0.9144 * 2.0), Some(4));
        assert_eq!(count(&system, &[], 1.0), None);
        assert_eq!(count(&system, &[0], 0.1), Some(1));
        // ISO 10133:2012 7.3 and 7.4 (web excerpt): 450 mm, battery conductors 300 mm.
        system.boat.practice = Practice::Metric;
        assert_eq!(count(&system, &[0], 0.9), Some(2));
        assert_eq!(count(&system, &[2], 0.9), Some(3));
    }

    #[test]
    fn ways_add_up() {
        let mut system = boat();
        let sum = |system: &System, index| length_of_ways(system, ConductorId::at(index));
        assert_eq!(sum(&system, 0), Some(Metres(4.0)));
        system.ways[1].length = None;
        assert_eq!(sum(&system, 0), None);
        system.conductors[0].stretches.clear();
        assert_eq!(sum(&system, 0), None);
    }
}
