//! A network whose fixed part is eliminated once, so that many settings of its few changing branches are cheap.
//!
//! The nodes that changing branches touch are kept; all else is reduced to resistors between them.
//! One setting then costs a small solve and one pass over the fixed part.

use super::groups::Groups;
use super::ideal::Ideal;
use super::ldlt::{Factor, GROUND, Pattern};
use super::network::{self, Branch, Element, Fault};

/// The fixed part, reduced to the kept nodes.
#[derive(Clone, Debug)]
pub(super) struct Frame {
    nodes: usize,
    fixed: Vec<Branch>,
    /// Group of each node and the node's potential against it.
    group: Vec<usize>,
    offset: Vec<f64>,
    /// Group to unknown; grounded groups have none.
    unknown: Vec<usize>,
    pattern: Pattern,
    factor: Factor,
    /// Injection that electromotive forces of the fixed part cause, by unknown.
    fixed_side: Vec<f64>,
    /// Unknowns that are kept, and for each group its number among them.
    kept: Vec<usize>,
    kept_number: Vec<usize>,
    /// Resistors between kept unknowns that stand for what was eliminated.
    reduced: Vec<Branch>,
    ideal: Ideal,
    ideal_branches: Vec<usize>,
    ground: Vec<usize>,
}

/// Potentials and currents of one setting.
#[derive(Clone, Debug)]
pub(super) struct Setting {
    /// Volts a node, against the grounded node of its island.
    pub(super) potentials: Vec<f64>,
    /// Amperes a fixed branch; changing branches are in `changing`.
    pub(super) fixed: Vec<f64>,
    /// Amperes a changing branch, in the order given.
    pub(super) changing: Vec<f64>,
}

impl Frame {
    /// Reduces resistors and ideal branches to the nodes of `touched`.
    pub(super) fn new(
        nodes: usize,
        fixed: Vec<Branch>,
        touched: &[usize],
        ground: &[usize],
    ) -> Result<Self, Fault> {
        let (group, offset, groups) = network::contract(nodes, &fixed)?;
        let mut joined = Groups::new(groups);
        for branch in &fixed {
            if matches!(branch.element, Element::Resistor { .. }) {
                joined.join(group[branch.a], group[branch.b], 0.0);
            }
        }
        let (part_of_group, part_count) = joined.number();
        let mut keep = vec![false; groups];
        let mut part_is_kept = vec![false; part_count];
        for &node in touched {
            keep[group[node]] = true;
            part_is_kept[part_of_group[group[node]]] = true;
        }
        // A part that nothing changing touches is grounded here; the others when they are solved.
        let mut grounded = vec![GROUND; part_count];
        for candidate in ground.iter().map(|&node| group[node]).chain(0..groups) {
            let part = part_of_group[candidate];
            if !part_is_kept[part] && grounded[part] == GROUND {
                grounded[part] = candidate;
            }
        }
        let mut unknowns = 0;
        let mut kept = Vec::new();
        let mut kept_number = vec![GROUND; groups];
        let mut unknown = vec![GROUND; groups];
        for at in 0..groups {
            if grounded[part_of_group[at]] == at {
                continue;
            }
            unknown[at] = unknowns;
            if keep[at] {
                kept_number[at] = kept.len();
                kept.push(unknowns);
            }
            unknowns += 1;
        }
        let mut keep_unknown = vec![false; unknowns];
        for &at in &kept {
            keep_unknown[at] = true;
        }

        let mut edges = Vec::new();
        let mut conductances = Vec::new();
        let mut fixed_side = vec![0.0; unknowns];
        let mut ideal_branches = Vec::new();
        let mut ideal_links = Vec::new();
        for (index, branch) in fixed.iter().enumerate() {
            match branch.element {
                Element::Resistor { conductance, emf } => {
                    let (a, b) = (unknown[group[branch.a]], unknown[group[branch.b]]);
                    edges.push((a, b));
                    conductances.push(conductance);
                    let constant = conductance * (offset[branch.a] - offset[branch.b] - emf);
                    inject(&mut fixed_side, a, -constant);
                    inject(&mut fixed_side, b, constant);
                }
                Element::Ideal { .. } => {
                    ideal_branches.push(index);
                    ideal_links.push((branch.a, branch.b));
                }
                _ => {}
            }
        }
        let pattern = Pattern::new(unknowns, &edges, &keep_unknown)?;
        let factor = pattern
            .factor(&conductances)
            .map_err(|_| Fault::NotSettled)?;
        let mut number_of_unknown = vec![0; unknowns];
        for (number, &at) in kept.iter().enumerate() {
            number_of_unknown[at] = number;
        }
        let reduced = factor
            .left
            .iter()
            .filter(|&&(_, _, entry)| entry < 0.0)
            .map(|&(a, b, entry)| Branch {
                a: number_of_unknown[a],
                b: number_of_unknown[b],
                element: Element::Resistor {
                    conductance: -entry,
                    emf: 0.0,
                },
            })
            .collect();
        Ok(Self {
            nodes,
            ideal: Ideal::new(nodes, ideal_links)?,
            ideal_branches,
            fixed,
            group,
            offset,
            unknown,
            pattern,
            factor,
            fixed_side,
            kept,
            kept_number,
            reduced,
            ground: ground.to_vec(),
        })
    }

    /// Entries that one setting goes through; those between kept unknowns are factorised each time.
    pub(super) fn entries(&self) -> usize {
        let kept = self.kept.len();
        self.pattern.entries() + self.reduced.len().saturating_mul(kept) / 4
    }

    /// Solves for the changing branches, which end at touched nodes only, and for further given currents.
    ///
    /// A given current flows from the first node to the second, in amperes; both must lie on one island.
    pub(super) fn solve(
        &self,
        changing: &[Branch],
        given: &[(usize, usize, f64)],
    ) -> Result<Setting, Fault> {
        let mut side = self.fixed_side.clone();
        for &(a, b, amps) in given {
            inject(&mut side, self.unknown[self.group[a]], -amps);
            inject(&mut side, self.unknown[self.group[b]], amps);
        }
        let mut placed = vec![0.0; side.len()];
        self.pattern.forward(&self.factor, &side, &mut placed);
        let injection: Vec<f64> = self
            .kept
            .iter()
            .map(|&at| placed[self.pattern.place(at)])
            .collect();
        let mut branches = self.reduced.clone();
        for branch in changing {
            branches.push(self.on_kept(branch));
        }
        let ground: Vec<usize> = self
            .ground
            .iter()
            .map(|&node| self.kept_number[self.group[node]])
            .filter(|&number| number != GROUND)
            .collect();
        let flow = network::solve(self.kept.len(), &branches, &injection, &ground)?;
        for (&at, &potential) in self.kept.iter().zip(&flow.potentials) {
            placed[self.pattern.place(at)] = potential;
        }
        let mut solution = vec![0.0; side.len()];
        self.pattern
            .backward(&self.factor, &mut placed, &mut solution);
        let potentials: Vec<f64> = (0..self.nodes)
            .map(|node| {
                let unknown = self.unknown[self.group[node]];
                let base = if unknown == GROUND {
                    0.0
                } else {
                    solution[unknown]
                };
                base + self.offset[node]
            })
            .collect();
        let changing_currents = flow.currents[self.reduced.len()..].to_vec();
        let mut currents: Vec<f64> = self
            .fixed
            .iter()
            .map(|branch| match branch.element {
                Element::Resistor { conductance, emf } => {
                    conductance * (potentials[branch.a] - potentials[branch.b] - emf)
                }
                _ => 0.0,
            })
            .collect();
        if !self.ideal_branches.is_empty() {
            let mut balance = vec![0.0; self.nodes];
            for &(a, b, amps) in given {
                balance[a] -= amps;
                balance[b] += amps;
            }
            for (branch, &amps) in self
                .fixed
                .iter()
                .zip(&currents)
                .chain(changing.iter().zip(&changing_currents))
            {
                balance[branch.a] -= amps;
                balance[branch.b] += amps;
            }
            let ideal = self.ideal.currents(&mut balance);
            for (&index, amps) in self.ideal_branches.iter().zip(ideal) {
                currents[index] = amps;
            }
        }
        Ok(Setting {
            potentials,
            fixed: currents,
            changing: changing_currents,
        })
    }

    /// A changing branch between kept numbers, its voltage told against the groups of its nodes.
    fn on_kept(&self, branch: &Branch) -> Branch {
        let shift = self.offset[branch.b] - self.offset[branch.a];
        let element = match branch.element {
            Element::Resistor { conductance, emf } => Element::Resistor {
                conductance,
                emf: emf + shift,
            },
            Element::Ideal { emf } => Element::Ideal { emf: emf + shift },
            Element::Diode { forward } => Element::Diode {
                forward: forward + shift,
            },
            other => other,
        };
        Branch {
            a: self.kept_number[self.group[branch.a]],
            b: self.kept_number[self.group[branch.b]],
            element,
        }
    }
}

fn inject(side: &mut [f64], unknown: usize, amps: f64) {
    if unknown != GROUND {
        side[unknown] += amps;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn resistor(a: usize, b: usize, ohms: f64) -> Branch {
        Branch {
            a,
            b,
            element: Element::Resistor {
                conductance: 1.0 / ohms,
                emf: 0.0,
            },
        }
    }

    fn ideal(a: usize, b: usize, emf: f64) -> Branch {
        Branch {
            a,
            b,
            element: Element::Ideal { emf },
        }
    }

    #[test]
    fn every_setting_equals_the_whole_network_solved_at_once() {
        // Two batteries (1-0 and 2-0), a switch 3 joined to either or both, a feeder with two loads, ideal fuses between.
        let fixed = vec![
            ideal(1, 0, 12.6),
            ideal(2, 9, 12.6),
            resistor(9, 0, 0.002),
            resistor(1, 4, 0.001),
            resistor(2, 5, 0.003),
            resistor(3, 6, 0.010),
            ideal(6, 7, 0.0),
            resistor(7, 8, 0.050),
            resistor(6, 8, 0.070),
        ];
        let frame = Frame::new(10, fixed.clone(), &[3, 4, 5], &[0]).expect("solvable");
        let first = ideal(4, 3, 0.0);
        let second = ideal(5, 3, 0.0);
        let given = [(8, 0, 7.0), (6, 0, 3.0)];
        for changing in [vec![first], vec![second], vec![first, second]] {
            let setting = frame.solve(&changing, &given).expect("solvable");
            let mut whole = fixed.clone();
            whole.extend(&changing);
            whole.extend(given.iter().map(|&(a, b, amps)| Branch {
                a,
                b,
                element: Element::Current(amps),
            }));
            let flow = network::solve(10, &whole, &[], &[0]).expect("solvable");
            // Islands are grounded at different nodes, so differences are compared.
            let against = |values: &[f64], node: usize| values[node] - values[0];
            for node in 0..10 {
                let got = against(&setting.potentials, node);
                let wanted = against(&flow.potentials, node);
                assert!(
                    (got - wanted).abs() < 1e-9,
                    "node {node}: {got} against {wanted}"
                );
            }
            let all = setting.fixed.iter().chain(&setting.changing);
            for (got, wanted) in all.zip(&flow.currents) {
                assert!((got - wanted).abs() < 1e-9, "{got} against {wanted}");
            }
        }
        assert!(frame.solve(&[], &[]).is_ok());
    }
}
