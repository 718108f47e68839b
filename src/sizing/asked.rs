//! All rules are asked of what is chosen; what they still find thickens what helps most for its copper.

use super::choose::{Bound, Choosing, NO_LENGTH};
use super::prove::{KEPT, told, troubles};
use super::ratings::needs;
use crate::analysis::Facts;
use crate::analysis::fault_current::FarEnd;
use crate::diag::{Diagnostic, Severity};
use crate::rules;
use crate::system::{ConductorId, DeviceId, LinkKind, LoadId};
use std::collections::{BTreeMap, BTreeSet};

/// Rounds in which all rules are asked.
const MAX_ROUNDS: usize = 60;

impl Choosing {
    /// Asks every rule and thickens what helps where one still finds fault.
    pub(super) fn ask_all_rules(&mut self) {
        let devices: Vec<DeviceId> = self.slots.ratings.iter().map(|it| it.device).collect();
        self.accepted.clear();
        for round in 0..MAX_ROUNDS {
            let facts = Facts::new(&self.boat);
            let findings = rules::run(&facts);
            if round == 0 && findings.iter().any(helped_by_copper) {
                self.accepted = self.beyond_help();
            }
            let raise = self.raises(&facts, &findings);
            let found = needs(&facts, &devices);
            let Facts {
                ampacities,
                nets,
                currents,
                drops,
                protection,
                ..
            } = facts;
            let rerated = self.rate_again(found);
            if raise.is_empty() && !rerated || round + 1 == MAX_ROUNDS {
                self.end = Some((currents, drops, protection));
                self.left = troubles(&findings);
                self.left.retain(|trouble| !self.accepted.contains(trouble));
                return;
            }
            self.exact = false;
            for (slot, bound) in raise {
                self.bind(slot, bound);
            }
            self.solve();
            self.apply();
            self.protect(&nets, &ampacities);
            self.settle_drops(&ampacities, &currents, &drops);
        }
    }

    /// What the thickest of everything on offer does not help; to thicken anything for it would be waste.
    fn beyond_help(&self) -> BTreeSet<(&'static str, String)> {
        let findings = rules::run(&Facts::new(&self.with_thickest().boat));
        let left = findings.iter().filter(|finding| helped_by_copper(finding));
        left.map(told).collect()
    }

    /// What to thicken for findings that depend on sizes.
    pub(super) fn raises(&self, facts: &Facts<'_>, findings: &[Diagnostic]) -> Vec<(usize, Bound)> {
        let mut raises: BTreeMap<usize, Bound> = BTreeMap::new();
        for finding in findings {
            if finding.severity < Severity::Warning || self.accepted.contains(&told(finding)) {
                continue;
            }
            if finding.rule == "AM206" {
                self.shared_returns(finding, &mut raises);
                continue;
            }
            let helps: Vec<(ConductorId, f64)> = match finding.rule {
                "VD306" | "VD307" | "VD310" => self.on_the_way(facts, &finding.element),
                "DP802" => self.to_the_far_end(facts, &finding.element),
                "DP803" => self
                    .boat
                    .conductors
                    .iter()
                    .position(|conductor| conductor.number == finding.element)
                    .map(|index| vec![(ConductorId::at(index), 1.0)])
                    .unwrap_or_default(),
                _ => continue,
            };
            let mut weights: BTreeMap<usize, f64> = BTreeMap::new();
            for (id, current) in helps {
                if let Some(slot) = self.slot_of[id.index()] {
                    let length = self.boat.conductors[id.index()].length;
                    let metres = length.map_or(0.0, |length| length.value.0) + NO_LENGTH;
                    *weights.entry(slot).or_insert(0.0) += current * metres;
                }
            }
            let best = weights
                .into_iter()
                .filter(|&(slot, _)| self.at[slot] + 1 < self.offers[slot].sizes.len())
                .map(|(slot, weight)| {
                    let at = self.at[slot];
                    let less = self.per_metre(slot, at) - self.per_metre(slot, at + 1);
                    let more = self.cost(slot, at + 1) - self.cost(slot, at);
                    (slot, weight * less / more)
                })
                .max_by(|(a, gain_a), (b, gain_b)| gain_a.total_cmp(gain_b).then(b.cmp(a)));
            if let Some((slot, _)) = best {
                raises.entry(slot).or_insert(Bound {
                    least: self.at[slot] + 1,
                    rule: finding.rule,
                    words: finding.message.clone(),
                    certain: false,
                });
            }
        }
        raises.into_iter().collect()
    }

    /// Returns that several loads share, and that are thinner than what feeds them.
    pub(super) fn shared_returns(&self, finding: &Diagnostic, raises: &mut BTreeMap<usize, Bound>) {
        let Some(asked) = finding.limit.as_ref().map(|figure| figure.value) else {
            return;
        };
        for (index, conductor) in self.boat.conductors.iter().enumerate() {
            let named =
                finding.element == conductor.number || finding.also.contains(&conductor.number);
            let Some(slot) = self.slot_of[index].filter(|_| named) else {
                continue;
            };
            let sizes = &self.offers[slot].sizes;
            let least = sizes.iter().position(|size| size.area().0 >= asked);
            if let Some(least) = least.filter(|&least| least > self.at[slot]) {
                raises.entry(slot).or_insert(Bound {
                    least,
                    rule: "AM206",
                    words: "no thinner than the feed of the same loads".to_owned(),
                    certain: false,
                });
            }
        }
    }

    /// Conductors on the way of a load with their currents.
    pub(super) fn on_the_way(&self, facts: &Facts<'_>, name: &str) -> Vec<(ConductorId, f64)> {
        let loads = self.boat.loads.iter().enumerate();
        loads
            .filter(|(_, load)| load.name == name)
            .filter_map(|(index, _)| facts.drops.of(LoadId::at(index)))
            .flat_map(|drop| &drop.legs)
            .filter_map(|leg| match self.boat.links[leg.link.index()].kind {
                LinkKind::Conductor(id) => Some((id, leg.amps.0)),
                _ => None,
            })
            .collect()
    }

    /// Conductors that a short at the far end behind a device flows through, where it fares worst.
    fn to_the_far_end(&self, facts: &Facts<'_>, name: &str) -> Vec<(ConductorId, f64)> {
        let Some((out, end, back)) = self.short_behind(facts, name) else {
            return Vec::new();
        };
        let all = out.into_iter().chain([end]).chain(back);
        all.map(|id| (id, 1.0)).collect()
    }

    /// The way out to the conductor behind a device at whose far end least flows, that conductor, and the ways back.
    pub(super) fn short_behind(
        &self,
        facts: &Facts<'_>,
        name: &str,
    ) -> Option<(Vec<ConductorId>, ConductorId, Vec<ConductorId>)> {
        let mut worst: Option<(ConductorId, FarEnd)> = None;
        for index in 0..self.boat.conductors.len() {
            let id = ConductorId::at(index);
            if !rules::depth::is_judged(facts, id) {
                continue;
            }
            for far in facts.faults.far_ends(id) {
                let behind = far
                    .device
                    .is_some_and(|device| self.boat.devices[device.index()].name == name);
                let worse = worst
                    .as_ref()
                    .is_none_or(|(_, known)| far.current < known.current);
                if behind && worse {
                    worst = Some((id, *far));
                }
            }
        }
        let (id, far) = worst?;
        Some((
            self.conductors_to(facts, &far),
            id,
            self.ways_back(facts, id),
        ))
    }

    /// The ways out to a conductor from each source that a short in it draws from, and the ways back.
    pub(super) fn short_at(
        &self,
        facts: &Facts<'_>,
        id: ConductorId,
    ) -> (Vec<ConductorId>, Vec<ConductorId>) {
        let ends = facts.faults.far_ends(id).iter();
        let out: BTreeSet<ConductorId> = ends
            .flat_map(|far| self.conductors_to(facts, far))
            .collect();
        (out.into_iter().collect(), self.ways_back(facts, id))
    }

    fn conductors_to(&self, facts: &Facts<'_>, far: &FarEnd) -> Vec<ConductorId> {
        let path = facts.faults.path(far.feed, far.near).into_iter();
        path.filter_map(|link| match self.boat.links[link.index()].kind {
            LinkKind::Conductor(id) => Some(id),
            _ => None,
        })
        .collect()
    }

    /// Returns of all loads that a conductor feeds: a short in it comes back over one of them.
    fn ways_back(&self, facts: &Facts<'_>, id: ConductorId) -> Vec<ConductorId> {
        let mut all = BTreeSet::new();
        let mut back = BTreeSet::new();
        for index in 0..self.boat.loads.len() {
            let Some(drop) = facts.drops.of(LoadId::at(index)) else {
                continue;
            };
            let negative = |at| facts.nets.is_negative(self.boat.node_of(at));
            let returns = drop.path.iter().copied().filter(|id| {
                let conductor = &self.boat.conductors[id.index()];
                negative(conductor.from) || negative(conductor.to)
            });
            if drop.path.contains(&id) {
                back.extend(returns);
            } else {
                all.extend(returns);
            }
        }
        // What feeds no load, such as the lead of a charger, may come back over any.
        let ways = if back.is_empty() { all } else { back };
        ways.into_iter().collect()
    }
}

/// Findings that thicker conductors alone can help.
fn helped_by_copper(finding: &Diagnostic) -> bool {
    finding.severity >= Severity::Warning
        && (matches!(finding.rule, "DP802" | "VD306" | "VD307" | "VD310")
            || KEPT.contains(&finding.rule))
}
