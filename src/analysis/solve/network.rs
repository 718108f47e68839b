//! A network of numbered nodes and two-ended branches, solved once.
//!
//! Branches without resistance are contracted, not approximated: their nodes share an unknown, and their
//! currents come from the balance of what the nodes must pass on. Every island is grounded at one node.
//! This file knows no boat: which branch is a conductor and which a lamp is told by the caller.

use super::groups::Groups;
use super::ideal::Ideal;
use super::ldlt::{Factor, GROUND, Pattern, TooMeshed};

/// What joins the two nodes of a branch. Currents count from `a` to `b` inside the branch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Element {
    /// Nothing.
    Open,
    /// V(a) − V(b) = `emf` + I / `conductance`, in volts and siemens.
    Resistor { conductance: f64, emf: f64 },
    /// V(a) − V(b) = `emf`, whatever the current.
    Ideal { emf: f64 },
    /// I = the amperes given, whatever the voltage.
    Current(f64),
    /// I = the watts given / (V(a) − V(b)).
    Power(f64),
    /// V(a) − V(b) = `forward` while current flows from a to b; else none flows.
    Diode { forward: f64 },
}

/// A branch between two nodes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Branch {
    pub(super) a: usize,
    pub(super) b: usize,
    pub(super) element: Element,
}

/// Potentials and currents that meet every branch and balance at every node.
#[derive(Clone, Debug)]
pub(super) struct Flow {
    /// Volts a node, against the grounded node of its island.
    pub(super) potentials: Vec<f64>,
    /// Amperes a branch, from `a` to `b`.
    pub(super) currents: Vec<f64>,
    /// Number of each node's island; islands are numbered in node order.
    pub(super) islands: Vec<usize>,
    /// Branches of given current or power whose ends lie on different islands: they carry nothing.
    pub(super) cut: Vec<usize>,
}

/// Why a network has no answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Fault {
    /// This ideal branch contradicts the others: an ideal source is shorted, or two unlike ones are paralleled.
    Shorted(usize),
    /// This constant-power or constant-current branch asks for more than the network can deliver.
    Collapsed(usize),
    /// The iteration did not settle.
    NotSettled,
    /// Too meshed to be factorised.
    TooMeshed,
}

impl From<TooMeshed> for Fault {
    fn from(_: TooMeshed) -> Self {
        Self::TooMeshed
    }
}

/// Voltage by which ideal sources may disagree and still count as equal: rounding of their sums.
pub(super) const SAME_VOLTS: f64 = 1e-9;
/// Resistance of a conducting diode in ohms, so that two in parallel share; far below any lug.
pub(super) const DIODE_OHMS: f64 = 1e-6;
/// Reverse current of a conducting diode in amperes that is still rounding.
const DIODE_AMPS: f64 = 1e-6;
/// Newton steps before the network counts as unsettled; a solvable one takes under ten.
const MAX_STEPS: usize = 60;
/// Rounds in which all diodes may change at once, before they change one at a time.
const MAX_ROUNDS: usize = 8;

/// Solves a network.
///
/// `injection` is further current in amperes into each node, or empty. Nodes of `ground` are preferred, in
/// their order, as the zero of their island; else it is the island's first node.
pub(super) fn solve(
    nodes: usize,
    branches: &[Branch],
    injection: &[f64],
    ground: &[usize],
) -> Result<Flow, Fault> {
    let shape = Shape::new(nodes, branches)?;
    let mut on = vec![true; branches.len()];
    let diodes: Vec<usize> = (0..branches.len())
        .filter(|&index| matches!(branches[index].element, Element::Diode { .. }))
        .collect();
    for round in 0..=(MAX_ROUNDS + 4 * diodes.len()) {
        let flow = shape.solve(branches, injection, ground, &on)?;
        let mut changed = false;
        for &index in &diodes {
            let Branch { a, b, element } = branches[index];
            let Element::Diode { forward } = element else {
                continue;
            };
            let should = if on[index] {
                flow.currents[index] >= -DIODE_AMPS
            } else {
                flow.islands[a] == flow.islands[b]
                    && flow.potentials[a] - flow.potentials[b] > forward + SAME_VOLTS
            };
            if should != on[index] {
                on[index] = should;
                changed = true;
                if round >= MAX_ROUNDS {
                    break;
                }
            }
        }
        if !changed {
            return Ok(flow);
        }
    }
    Err(Fault::NotSettled)
}

/// The nodes contracted over ideal branches.
struct Shape {
    nodes: usize,
    /// Group of each node.
    group: Vec<usize>,
    /// Potential of each node against its group.
    offset: Vec<f64>,
    groups: usize,
    ideal: Ideal,
    ideal_branches: Vec<usize>,
}

impl Shape {
    fn new(nodes: usize, branches: &[Branch]) -> Result<Self, Fault> {
        let (group, offset, groups) = contract(nodes, branches)?;
        let ideal_branches: Vec<usize> = (0..branches.len())
            .filter(|&index| matches!(branches[index].element, Element::Ideal { .. }))
            .collect();
        let links = ideal_branches
            .iter()
            .map(|&index| (branches[index].a, branches[index].b))
            .collect();
        Ok(Self {
            nodes,
            group,
            offset,
            groups,
            ideal: Ideal::new(nodes, links)?,
            ideal_branches,
        })
    }

    /// Solves with the diodes conducting that `on` names.
    fn solve(
        &self,
        branches: &[Branch],
        injection: &[f64],
        ground: &[usize],
        on: &[bool],
    ) -> Result<Flow, Fault> {
        let mut joined = Groups::new(self.groups);
        for (index, branch) in branches.iter().enumerate() {
            let conducts = match branch.element {
                Element::Resistor { .. } => true,
                Element::Diode { .. } => on[index],
                _ => false,
            };
            if conducts {
                joined.join(self.group[branch.a], self.group[branch.b], 0.0);
            }
        }
        let (island_of_group, islands) = joined.number();
        let unknown = self.ground_islands(&island_of_group, islands, ground);
        let unknowns = unknown.iter().filter(|&&number| number != GROUND).count();

        let mut cut = Vec::new();
        let mut edges = Vec::new();
        let mut edge_branch = Vec::new();
        let mut powers = Vec::new();
        for (index, branch) in branches.iter().enumerate() {
            let (a, b) = (self.group[branch.a], self.group[branch.b]);
            match branch.element {
                Element::Current(_) | Element::Power(_)
                    if island_of_group[a] != island_of_group[b] =>
                {
                    cut.push(index);
                    continue;
                }
                Element::Open | Element::Ideal { .. } | Element::Current(_) => continue,
                Element::Diode { .. } if !on[index] => continue,
                Element::Power(_) => powers.push(edges.len()),
                Element::Resistor { .. } | Element::Diode { .. } => {}
            }
            edges.push((unknown[a], unknown[b]));
            edge_branch.push(index);
        }
        let pattern = Pattern::new(unknowns, &edges, &[])?;

        let mut is_cut = vec![false; branches.len()];
        for &index in &cut {
            is_cut[index] = true;
        }
        // What does not depend on the operating point.
        let mut conductances = vec![0.0; edges.len()];
        let mut fixed_side = vec![0.0; unknowns];
        let add = |side: &mut [f64], group: usize, amps: f64| {
            if unknown[group] != GROUND {
                side[unknown[group]] += amps;
            }
        };
        for (node, &amps) in injection.iter().enumerate() {
            add(&mut fixed_side, self.group[node], amps);
        }
        for (index, branch) in branches.iter().enumerate() {
            if let (Element::Current(amps), false) = (branch.element, is_cut[index]) {
                add(&mut fixed_side, self.group[branch.a], -amps);
                add(&mut fixed_side, self.group[branch.b], amps);
            }
        }
        for (edge, &index) in edge_branch.iter().enumerate() {
            let branch = &branches[index];
            if let Some((conductance, emf)) = linear(branch.element) {
                conductances[edge] = conductance;
                let constant = conductance * (self.offset[branch.a] - self.offset[branch.b] - emf);
                add(&mut fixed_side, self.group[branch.a], -constant);
                add(&mut fixed_side, self.group[branch.b], constant);
            }
        }

        let mut factor = Factor::default();
        let mut side = Vec::new();
        let mut potentials = vec![0.0; self.nodes];
        let mut no_load = Vec::new();
        let mut power_currents = vec![0.0; branches.len()];
        for step in 0..MAX_STEPS {
            side.clone_from(&fixed_side);
            if step > 0 {
                for &edge in &powers {
                    let index = edge_branch[edge];
                    let branch = &branches[index];
                    let Element::Power(watts) = branch.element else {
                        continue;
                    };
                    let volts = potentials[branch.a] - potentials[branch.b];
                    // Tangent of I = P / V at the last voltage.
                    conductances[edge] = -watts / (volts * volts);
                    let constant = 2.0 * watts / volts
                        + conductances[edge] * (self.offset[branch.a] - self.offset[branch.b]);
                    add(&mut side, self.group[branch.a], -constant);
                    add(&mut side, self.group[branch.b], constant);
                }
            }
            if pattern.factor_into(&conductances, &mut factor).is_err() {
                // Without constant-power branches the matrix is definite by construction.
                return Err(weakest(branches, &edge_branch, &powers, &potentials));
            }
            pattern.solve(&factor, &mut side);
            let mut change: f64 = 0.0;
            for node in 0..self.nodes {
                let number = unknown[self.group[node]];
                let base = if number == GROUND { 0.0 } else { side[number] };
                let value = base + self.offset[node];
                change = change.max((value - potentials[node]).abs());
                potentials[node] = value;
            }
            if powers.is_empty() {
                break;
            }
            if step == 0 {
                no_load.clone_from(&potentials);
                continue;
            }
            for &edge in &powers {
                let branch = &branches[edge_branch[edge]];
                let volts = potentials[branch.a] - potentials[branch.b];
                let before = no_load[branch.a] - no_load[branch.b];
                if volts * before <= 0.0 || !volts.is_finite() {
                    return Err(Fault::Collapsed(edge_branch[edge]));
                }
            }
            let scale = potentials
                .iter()
                .fold(1.0f64, |most, value| most.max(value.abs()));
            if change <= 1e-11 * scale {
                break;
            }
            if step + 1 == MAX_STEPS {
                return Err(Fault::NotSettled);
            }
        }
        for &edge in &powers {
            let index = edge_branch[edge];
            let branch = &branches[index];
            if let Element::Power(watts) = branch.element {
                power_currents[index] = watts / (potentials[branch.a] - potentials[branch.b]);
            }
        }

        let mut currents = power_currents;
        for (index, branch) in branches.iter().enumerate() {
            match branch.element {
                Element::Current(amps) if !is_cut[index] => currents[index] = amps,
                Element::Diode { .. } if !on[index] => {}
                _ => {
                    if let Some((conductance, emf)) = linear(branch.element) {
                        currents[index] =
                            conductance * (potentials[branch.a] - potentials[branch.b] - emf);
                    }
                }
            }
        }
        self.add_ideal_currents(branches, injection, &mut currents);
        let islands = self
            .group
            .iter()
            .map(|&group| island_of_group[group])
            .collect();
        Ok(Flow {
            potentials,
            currents,
            islands,
            cut,
        })
    }

    /// Numbers the groups that are unknowns: all but one of each island.
    fn ground_islands(
        &self,
        island_of_group: &[usize],
        islands: usize,
        ground: &[usize],
    ) -> Vec<usize> {
        let mut grounded = vec![GROUND; islands];
        for group in ground
            .iter()
            .map(|&node| self.group[node])
            .chain(0..self.groups)
        {
            let island = island_of_group[group];
            if grounded[island] == GROUND {
                grounded[island] = group;
            }
        }
        let mut count = 0;
        (0..self.groups)
            .map(|group| {
                if grounded[island_of_group[group]] == group {
                    GROUND
                } else {
                    count += 1;
                    count - 1
                }
            })
            .collect()
    }

    /// Fills in the currents of ideal branches from the balance of their nodes.
    fn add_ideal_currents(&self, branches: &[Branch], injection: &[f64], currents: &mut [f64]) {
        if self.ideal_branches.is_empty() {
            return;
        }
        let mut balance = vec![0.0; self.nodes];
        for (node, &amps) in injection.iter().enumerate() {
            balance[node] = amps;
        }
        for (branch, &amps) in branches.iter().zip(currents.iter()) {
            balance[branch.a] -= amps;
            balance[branch.b] += amps;
        }
        let ideal = self.ideal.currents(&mut balance);
        for (&index, amps) in self.ideal_branches.iter().zip(ideal) {
            currents[index] = amps;
        }
    }
}

/// Groups the nodes over ideal branches: group and offset of each node, and the number of groups.
pub(super) fn contract(
    nodes: usize,
    branches: &[Branch],
) -> Result<(Vec<usize>, Vec<f64>, usize), Fault> {
    let mut groups = Groups::new(nodes);
    for (index, branch) in branches.iter().enumerate() {
        if let Element::Ideal { emf } = branch.element
            && groups.join(branch.a, branch.b, emf).abs() > SAME_VOLTS
        {
            return Err(Fault::Shorted(index));
        }
    }
    let (group, count) = groups.number();
    let offset = (0..nodes).map(|node| groups.find(node).1).collect();
    Ok((group, offset, count))
}

/// The constant-power branch with the least voltage left.
fn weakest(
    branches: &[Branch],
    edge_branch: &[usize],
    powers: &[usize],
    potentials: &[f64],
) -> Fault {
    let volts = |index: usize| {
        let branch = &branches[index];
        (potentials[branch.a] - potentials[branch.b]).abs()
    };
    powers
        .iter()
        .map(|&edge| edge_branch[edge])
        .min_by(|&a, &b| volts(a).total_cmp(&volts(b)))
        .map_or(Fault::NotSettled, Fault::Collapsed)
}

/// Conductance and electromotive force of a branch that has both.
pub(super) fn linear(element: Element) -> Option<(f64, f64)> {
    match element {
        Element::Resistor { conductance, emf } => Some((conductance, emf)),
        Element::Diode { forward } => Some((1.0 / DIODE_OHMS, forward)),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn resistor(a: usize, b: usize, ohms: f64) -> Branch {
        source(a, b, 0.0, ohms)
    }

    fn source(a: usize, b: usize, emf: f64, ohms: f64) -> Branch {
        let element = if ohms == 0.0 {
            Element::Ideal { emf }
        } else {
            Element::Resistor {
                conductance: 1.0 / ohms,
                emf,
            }
        };
        Branch { a, b, element }
    }

    fn load(a: usize, b: usize, amps: f64) -> Branch {
        Branch {
            a,
            b,
            element: Element::Current(amps),
        }
    }

    fn near(got: f64, wanted: f64) {
        assert!(
            (got - wanted).abs() <= 1e-9 * wanted.abs().max(1.0),
            "{got} against {wanted}"
        );
    }

    /// Current out of every node must be none.
    fn balanced(nodes: usize, branches: &[Branch], flow: &Flow) {
        let mut sums = vec![0.0; nodes];
        for (branch, &amps) in branches.iter().zip(&flow.currents) {
            sums[branch.a] += amps;
            sums[branch.b] -= amps;
        }
        for sum in sums {
            assert!(sum.abs() < 1e-7, "{sum}");
        }
    }

    #[test]
    fn one_battery_charges_the_other() {
        // Millman's theorem in an open textbook on DC circuits, chapter 10: 28 V behind 4 Ω, 2 Ω load,
        // 7 V behind 1 Ω, all in parallel. 8 V; 5 A from the first, 4 A in the load, 1 A into the second.
        let branches = [
            source(1, 0, 28.0, 4.0),
            resistor(1, 0, 2.0),
            source(1, 0, 7.0, 1.0),
        ];
        let flow = solve(2, &branches, &[], &[0]).expect("solvable");
        near(flow.potentials[1], 8.0);
        near(flow.currents[0], -5.0);
        near(flow.currents[1], 4.0);
        near(flow.currents[2], 1.0);
        balanced(2, &branches, &flow);
    }

    #[test]
    fn unbalanced_bridge() {
        // The same textbook's bridge, recomputed: V_A = 90/17, V_B = 80/17, source 0.68627 A.
        let branches = [
            source(3, 0, 10.0, 0.0),
            resistor(3, 1, 12.0),
            resistor(3, 2, 18.0),
            resistor(1, 2, 6.0),
            resistor(1, 0, 18.0),
            resistor(2, 0, 12.0),
        ];
        let flow = solve(4, &branches, &[], &[0]).expect("solvable");
        near(flow.potentials[1], 90.0 / 17.0);
        near(flow.potentials[2], 80.0 / 17.0);
        near(flow.potentials[1] - flow.potentials[2], 10.0 / 17.0);
        assert!((flow.currents[0] + 0.686_27).abs() < 5e-6);
        assert!((10.0 / -flow.currents[0] - 14.5714).abs() < 5e-5);
        balanced(4, &branches, &flow);
    }

    #[test]
    fn resistances_in_parallel() {
        // US Navy electricity training series, module 1: 5, 10 and 30 Ω make 3 Ω (from memory, recomputed).
        // 20, 30 and 40 Ω make 120/13 Ω (computed).
        for (ohms, wanted) in [([5.0, 10.0, 30.0], 3.0), ([20.0, 30.0, 40.0], 120.0 / 13.0)] {
            let mut branches = vec![load(0, 1, 1.0)];
            branches.extend(ohms.map(|ohms| resistor(1, 0, ohms)));
            let flow = solve(2, &branches, &[], &[0]).expect("solvable");
            near(flow.potentials[1], wanted);
        }
    }

    #[test]
    fn a_ring_feeds_from_both_sides() {
        // Computed: 12 V into a loop of six 10 mΩ segments, 10 A three segments away: 15 mΩ, 0.150 V, 5 A each way.
        let mut branches = vec![source(1, 0, 12.0, 0.0), load(4, 0, 10.0)];
        branches.extend((1..=6).map(|at| resistor(at, at % 6 + 1, 0.010)));
        let flow = solve(7, &branches, &[], &[0]).expect("solvable");
        near(flow.potentials[4], 11.85);
        near(flow.currents[2], 5.0);
        near(flow.currents[7], -5.0);
        near(flow.currents[0], -10.0);
        balanced(7, &branches, &flow);
    }

    #[test]
    fn contracted_branches_carry_what_their_nodes_pass_on() {
        // Battery, ideal switch, ideal fuse, 1 mΩ, then two loads off one ideal bus.
        let branches = [
            source(1, 0, 12.0, 0.0),
            source(1, 2, 0.0, 0.0),
            source(2, 3, 0.0, 0.0),
            resistor(3, 4, 0.001),
            source(4, 5, 0.0, 0.0),
            load(5, 0, 30.0),
            load(4, 0, 20.0),
        ];
        let flow = solve(6, &branches, &[], &[0]).expect("solvable");
        for (index, amps) in [(0, -50.0), (1, 50.0), (2, 50.0), (3, 50.0), (4, 30.0)] {
            near(flow.currents[index], amps);
        }
        near(flow.potentials[5], 11.95);
        balanced(6, &branches, &flow);
    }

    #[test]
    fn equal_ideal_sources_in_parallel_share_and_unlike_ones_are_refused() {
        let twin = [
            source(1, 0, 12.0, 0.0),
            source(1, 0, 12.0, 0.0),
            load(1, 0, 8.0),
        ];
        let flow = solve(2, &twin, &[], &[0]).expect("solvable");
        near(flow.currents[0], -4.0);
        near(flow.currents[1], -4.0);
        let unlike = [source(1, 0, 12.0, 0.0), source(1, 0, 24.0, 0.0)];
        assert_eq!(solve(2, &unlike, &[], &[]).err(), Some(Fault::Shorted(1)));
        let short = [source(1, 0, 12.0, 0.0), source(1, 0, 0.0, 0.0)];
        assert_eq!(solve(2, &short, &[], &[]).err(), Some(Fault::Shorted(1)));
    }

    #[test]
    fn constant_power_has_its_upper_root_and_its_limit() {
        // E = 12 V behind 0.1 Ω: V = 6 + sqrt(36 − 0.1·P); the limit is E²/4R = 360 W.
        let with = |watts: f64| {
            let branches = [
                source(1, 0, 12.0, 0.1),
                Branch {
                    a: 1,
                    b: 0,
                    element: Element::Power(watts),
                },
            ];
            solve(2, &branches, &[], &[0])
        };
        for watts in [1.0, 60.0, 200.0, 355.0] {
            let flow = with(watts).expect("below the limit");
            near(flow.potentials[1], 6.0 + (36.0f64 - 0.1 * watts).sqrt());
            near(flow.currents[1] * flow.potentials[1], watts);
        }
        for watts in [361.0, 1000.0, 1e6] {
            assert_eq!(with(watts).err(), Some(Fault::Collapsed(1)));
        }
    }

    #[test]
    fn a_diode_passes_one_way() {
        let circuit = |emf: f64| {
            [
                source(1, 0, emf, 0.0),
                Branch {
                    a: 1,
                    b: 2,
                    element: Element::Diode { forward: 0.6 },
                },
                resistor(2, 3, 1.0),
                source(3, 0, 12.0, 0.0),
            ]
        };
        let flow = solve(4, &circuit(14.6), &[], &[0]).expect("solvable");
        assert!((flow.currents[1] - 2.0).abs() < 1e-5);
        for emf in [12.5, 11.0] {
            let flow = solve(4, &circuit(emf), &[], &[0]).expect("solvable");
            near(flow.currents[1], 0.0);
            near(flow.currents[3], 0.0);
        }
    }

    #[test]
    fn two_diodes_of_which_one_blocks() {
        // A 40 A source through an isolator onto two batteries half a volt apart: the lower one takes it all.
        let diode = |b: usize| Branch {
            a: 1,
            b,
            element: Element::Diode { forward: 0.7 },
        };
        let branches = [
            load(0, 1, 40.0),
            diode(2),
            diode(3),
            source(2, 0, 12.6, 0.005),
            source(3, 0, 12.1, 0.005),
        ];
        let flow = solve(4, &branches, &[], &[0]).expect("solvable");
        near(flow.currents[1], 0.0);
        near(flow.currents[2], 40.0);
        near(flow.potentials[3], 12.3);
        balanced(4, &branches, &flow);
    }

    #[test]
    fn islands_float_and_cut_branches_carry_nothing() {
        let branches = [
            source(1, 0, 12.0, 0.01),
            resistor(2, 3, 1.0),
            load(1, 3, 5.0),
        ];
        let flow = solve(4, &branches, &[], &[0]).expect("solvable");
        assert_eq!(flow.cut, [2]);
        assert_eq!(flow.islands, [0, 0, 1, 1]);
        assert!(flow.currents.iter().all(|amps| amps.abs() < 1e-12));
    }
}
