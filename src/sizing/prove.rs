//! Branch and bound over what no sum says: shorts that are cleared too late, loads under their voltage, shared returns
//! thinner than their feeds, holes too small.
//!
//! A node is a least and a most option for every slot. Its sums are solved exactly, which gives a lower bound for all
//! choices within it. Where a rule still finds fault with that solution, every choice without the fault differs from it
//! in one of a few slots, in a direction that is known: the node is parted along these. Of all nodes the cheapest is
//! looked at first, so the first one without fault has the least copper of all. The work is limited; where it does not
//! suffice, the cheapest node that is left is the lower bound, and what was chosen before stands.

use super::choose::{Bound, Choosing, Growing};
use crate::analysis::{Facts, flows};
use crate::diag::{Diagnostic, Severity};
use crate::rules;
use crate::system::{Behaviour, BundleId, ConductorId, LoadId, WayId};
use std::cmp::Ordering;
use std::collections::{BTreeSet, BinaryHeap};

/// Conductors times nodes whose rules are asked.
const MAX_WORK: usize = 12_000;

/// Nodes whose rules are asked, however small the boat.
const MAX_ASKED: usize = 400;

/// Two sums of copper that differ by this share are one.
const SAME: f64 = 1e-9;

/// Rules that are looked at here; all others are kept by the sums and by what each conductor asks by itself.
const BRANCHED: &[&str] = &[
    "AM206", "DP802", "DP803", "VD306", "VD307", "VD310", "WY101",
];

/// Rules that sums and bounds keep; a node that breaks one of them is given up.
const KEPT: &[&str] = &[
    "AM201", "AM204", "AM209", "OC103", "VD301", "VD303", "VD304", "DP804",
];

/// A fault with the slots that a choice without it differs in.
struct Trouble {
    rule: &'static str,
    words: String,
    /// One of these is thicker.
    up: BTreeSet<usize>,
    /// Or one of these is thinner.
    down: BTreeSet<usize>,
    /// Currents on the way depend on sizes elsewhere, so that other choices might do.
    rough: bool,
}

/// A part of all choices.
struct Node {
    /// No choice within it has less copper.
    bound: f64,
    /// Of two with the same bound the later one is looked at first: it is nearer to an end.
    number: usize,
    least: Vec<usize>,
    most: Vec<usize>,
    /// The least copper that keeps all sums, once it is solved.
    options: Option<Vec<usize>>,
    /// What was raised on the way here.
    raised: Vec<(usize, Bound)>,
}

/// What came of a search.
enum Outcome {
    /// These options have the least copper.
    Found(Vec<usize>, Vec<(usize, Bound)>),
    /// Nothing passes that is cheaper than what is known.
    NothingCheaper,
    /// The work did not suffice; nothing that passes has less copper than this.
    Open(f64),
}

impl Choosing {
    /// Looks for the least copper that passes all rules, or for a bound below it.
    pub(super) fn prove(&mut self) {
        let clean = self.left.is_empty();
        if self.exact && clean {
            return;
        }
        if !self.is_tree() || self.returns_given_up {
            return;
        }
        let kept = self.clone();
        let known = if clean {
            self.copper(&self.at)
        } else {
            f64::INFINITY
        };
        let mut rough = false;
        let outcome = self.search(known, &mut rough);
        let rows = std::mem::take(&mut self.rows);
        let returns = std::mem::take(&mut self.returns);
        *self = kept;
        // Rows found on the way are true of every choice.
        self.rows = rows;
        self.returns = returns;
        match outcome {
            Outcome::Found(options, raised) => {
                self.take(options, raised);
                self.exact = !rough;
            }
            Outcome::NothingCheaper if clean => self.exact = !rough,
            Outcome::Open(bound) if !rough => {
                let most = self.copper(&self.at);
                self.least = Some(self.least_copper().max(bound).min(most));
            }
            Outcome::NothingCheaper | Outcome::Open(_) => {}
        }
    }

    /// No current depends on a size that is open.
    fn is_tree(&self) -> bool {
        let off_loops = (0..self.boat.conductors.len()).all(|index| {
            let link = self.boat.conductors[index].link;
            self.slot_of[index].is_none() || !self.on_loop[link.index()]
        });
        off_loops && self.growing == Growing::Nothing && self.rows.iter().all(|row| row.certain)
    }

    /// Takes what a search found.
    fn take(&mut self, options: Vec<usize>, raised: Vec<(usize, Bound)>) {
        for bounds in &mut self.bounds {
            bounds.retain(|bound| bound.certain);
        }
        self.floors = self.certain_floors();
        for (slot, bound) in raised {
            self.bind(slot, bound);
        }
        self.at = options;
        self.apply();
        let Facts {
            currents,
            drops,
            protection,
            ..
        } = Facts::new(&self.boat);
        self.end = Some((currents, drops, protection));
        self.left.clear();
    }

    /// The least option of every slot by what is true of every choice.
    pub(super) fn certain_floors(&self) -> Vec<usize> {
        let sure = |bounds: &Vec<Bound>| {
            let sure = bounds.iter().filter(|bound| bound.certain);
            sure.map(|bound| bound.least).max().unwrap_or(0)
        };
        self.bounds.iter().map(sure).collect()
    }

    fn search(&mut self, known: f64, rough: &mut bool) -> Outcome {
        let conductors = self.boat.conductors.len().max(1);
        let mut asked = (MAX_WORK / conductors).clamp(6, MAX_ASKED);
        let mut solved = asked * 8;
        let mut heap = BinaryHeap::new();
        let mut number = 0;
        heap.push(Node {
            bound: 0.0,
            number,
            least: self.certain_floors(),
            most: self
                .offers
                .iter()
                .map(|offer| offer.sizes.len().saturating_sub(1))
                .collect(),
            options: None,
            raised: Vec::new(),
        });
        while let Some(mut node) = heap.pop() {
            if node.bound >= known * (1.0 - SAME) {
                return Outcome::NothingCheaper;
            }
            let Some(options) = node.options.take() else {
                if solved == 0 {
                    return Outcome::Open(node.bound);
                }
                solved -= 1;
                if let Some((options, exact)) = self.within(&node.least, &node.most) {
                    *rough |= !exact;
                    node.bound = node.bound.max(self.copper(&options));
                    node.options = Some(options);
                    heap.push(node);
                }
                continue;
            };
            self.at = options;
            self.apply();
            let (currents, drops) = flows(&self.boat);
            if self.take_rows(&currents, &drops, false) {
                // The sums have become more, so the node is solved anew.
                heap.push(node);
                continue;
            }
            if asked == 0 {
                return Outcome::Open(node.bound);
            }
            asked -= 1;
            let (broken, trouble) = {
                let facts = Facts::new(&self.boat);
                let findings = rules::run(&facts);
                let broken = findings.iter().any(|finding| {
                    counts(finding)
                        && KEPT.contains(&finding.rule)
                        && !self.accepted.contains(&told(finding))
                });
                (broken, self.worst_trouble(&facts, &findings))
            };
            if broken {
                *rough = true;
                continue;
            }
            let Some(trouble) = trouble else {
                return Outcome::Found(self.at.clone(), node.raised);
            };
            *rough |= trouble.rough;
            for child in self.parted(&node, &trouble) {
                number += 1;
                heap.push(Node { number, ..child });
            }
        }
        Outcome::NothingCheaper
    }

    /// The parts of a node in which a fault may be gone; no choice lies in two of them.
    fn parted(&self, node: &Node, trouble: &Trouble) -> Vec<Node> {
        let mut children = Vec::new();
        let (mut least, mut most) = (node.least.clone(), node.most.clone());
        for &slot in &trouble.up {
            let at = self.at[slot];
            if at < most[slot] {
                let mut from = least.clone();
                from[slot] = at + 1;
                let mut raised = node.raised.clone();
                raised.push((
                    slot,
                    Bound {
                        least: at + 1,
                        rule: trouble.rule,
                        words: trouble.words.clone(),
                        certain: false,
                    },
                ));
                children.push(Node {
                    bound: node.bound,
                    number: 0,
                    least: from,
                    most: most.clone(),
                    options: None,
                    raised,
                });
                most[slot] = at;
            }
        }
        for &slot in &trouble.down {
            let at = self.at[slot];
            if at > least[slot] {
                let mut upto = most.clone();
                upto[slot] = at - 1;
                children.push(Node {
                    bound: node.bound,
                    number: 0,
                    least: least.clone(),
                    most: upto,
                    options: None,
                    raised: node.raised.clone(),
                });
                least[slot] = at;
            }
        }
        children
    }

    /// The fault that parts a node into fewest.
    fn worst_trouble(&self, facts: &Facts<'_>, findings: &[Diagnostic]) -> Option<Trouble> {
        findings
            .iter()
            .filter(|finding| counts(finding) && !self.accepted.contains(&told(finding)))
            .filter_map(|finding| self.trouble(facts, finding))
            .min_by_key(|trouble| trouble.up.len() + trouble.down.len())
    }

    fn trouble(&self, facts: &Facts<'_>, finding: &Diagnostic) -> Option<Trouble> {
        let mut trouble = Trouble {
            rule: BRANCHED.iter().find(|&&rule| rule == finding.rule)?,
            words: finding.message.clone(),
            up: BTreeSet::new(),
            down: BTreeSet::new(),
            rough: false,
        };
        let slots = |ids: &[ConductorId]| -> BTreeSet<usize> {
            ids.iter()
                .filter_map(|id| self.slot_of[id.index()])
                .collect()
        };
        match trouble.rule {
            "VD306" | "VD307" | "VD310" => {
                let way = self.on_the_way(facts, &finding.element);
                let ids: Vec<ConductorId> = way.into_iter().map(|(id, _)| id).collect();
                trouble.up = slots(&ids);
                trouble.rough = self
                    .boat
                    .loads
                    .iter()
                    .any(|load| load.behaviour != Behaviour::Current);
            }
            "DP802" => {
                let (out, end, back) = self.short_behind(facts, &finding.element)?;
                trouble.up = slots(&out);
                trouble.up.extend(slots(&[end]));
                trouble.up.extend(slots(&back));
            }
            "DP803" => {
                let end = self.numbered(&finding.element)?;
                let (out, back) = self.short_at(facts, end);
                trouble.down = slots(&out);
                trouble.down.extend(slots(&back));
                trouble.up.clone_from(&trouble.down);
                trouble.up.extend(slots(&[end]));
            }
            "AM206" => {
                let backs: Vec<ConductorId> = std::iter::once(&finding.element)
                    .chain(&finding.also)
                    .filter_map(|number| self.numbered(number))
                    .collect();
                let feeds = self.feeds_beside(facts, &backs);
                trouble.down = slots(&feeds);
                trouble.up.clone_from(&trouble.down);
                trouble.up.extend(slots(&backs));
            }
            _ => trouble.down = slots(&self.in_the_hole(facts, &finding.element)),
        }
        Some(trouble)
    }

    fn numbered(&self, number: &str) -> Option<ConductorId> {
        let conductors = &self.boat.conductors;
        let at = conductors.iter().position(|it| it.number == number)?;
        Some(ConductorId::at(at))
    }

    /// The positives of all loads that return through some conductors.
    fn feeds_beside(&self, facts: &Facts<'_>, backs: &[ConductorId]) -> Vec<ConductorId> {
        let system = &self.boat;
        let mut feeds = BTreeSet::new();
        for index in 0..system.loads.len() {
            let Some(drop) = facts.drops.of(LoadId::at(index)) else {
                continue;
            };
            if !drop.path.iter().any(|id| backs.contains(id)) {
                continue;
            }
            feeds.extend(drop.path.iter().copied().filter(|id| {
                let conductor = &system.conductors[id.index()];
                let negative = |at| facts.nets.is_negative(system.node_of(at));
                !negative(conductor.from) && !negative(conductor.to)
            }));
        }
        feeds.into_iter().collect()
    }

    /// What lies in a way or a bundle of a name.
    fn in_the_hole(&self, facts: &Facts<'_>, name: &str) -> Vec<ConductorId> {
        let system = &self.boat;
        let ways = system.ways.iter().enumerate();
        let mut members: Vec<ConductorId> = ways
            .filter(|(_, way)| way.name == name)
            .flat_map(|(index, _)| &facts.fills.way(WayId::at(index)).members)
            .copied()
            .collect();
        let bundles = system.bundles.iter().enumerate();
        for (index, _) in bundles.filter(|(_, bundle)| bundle.name == name) {
            members.extend(&facts.fills.bundle(BundleId::at(index)).fill.members);
        }
        members
    }
}

fn counts(finding: &Diagnostic) -> bool {
    matches!(finding.severity, Severity::Warning | Severity::Error)
}

/// What tells one finding from another.
pub(super) fn told(finding: &Diagnostic) -> (&'static str, String) {
    (finding.rule, finding.element.clone())
}

/// The findings of a boat that are looked at here.
pub(super) fn troubles(findings: &[Diagnostic]) -> Vec<(&'static str, String)> {
    findings
        .iter()
        .filter(|finding| counts(finding) && BRANCHED.contains(&finding.rule))
        .map(told)
        .collect()
}

impl Ord for Node {
    /// The cheapest comes first, and of those what is solved, and the latest.
    fn cmp(&self, other: &Self) -> Ordering {
        other
            .bound
            .total_cmp(&self.bound)
            .then_with(|| self.number.cmp(&other.number))
    }
}

impl PartialOrd for Node {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl PartialEq for Node {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Node {}
