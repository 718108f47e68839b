//! Branch and bound over what no sum says: shorts that are cleared too late, loads under their voltage, shared returns
//! thinner than their feeds, holes too small, and everything on loops, where currents are shared by resistance.
//!
//! A node is a least and a most option for every slot. Its sums are solved exactly, which gives a lower bound for all
//! choices within it. Where a rule still finds fault with that solution, every choice without the fault differs from it
//! in one of a few slots, in a direction that is known: the node is parted along these. Where no direction is known it is
//! parted along all slots, which leaves out nothing but the solution itself. Of all nodes the cheapest is looked at first,
//! so the first one without fault has the least copper of all. The work is limited; where it does not suffice, the
//! cheapest node that is left is the lower bound, and what was chosen before is mended and thinned step by step.

use super::choose::{Bound, Choosing, Growing};
use crate::analysis::{Facts, flows};
use crate::diag::{Diagnostic, Severity};
use crate::rules;
use crate::system::{Behaviour, BundleId, ConductorId, LoadId, SourceKind, WayId};
use std::cmp::Ordering;
use std::collections::{BTreeSet, BinaryHeap};

/// The square of the number of conductors times the choices whose rules are asked in one search.
const MAX_WORK: usize = 80_000;

/// Nodes whose rules are asked, however small the boat.
const MAX_ASKED: usize = 800;

/// From so many on, sums are solved more freely.
const MANY: usize = 200;

/// Two sums of copper that differ by this share are one.
const SAME: f64 = 1e-9;

/// Rules that are looked at here; all others are kept by the sums and by what each conductor asks by itself.
pub(super) const BRANCHED: &[&str] = &[
    "AM206", "DP802", "DP803", "VD306", "VD307", "VD310", "WY101",
];

/// Rules that sums and bounds keep, but for what depends on sizes elsewhere, as on loops.
pub(super) const KEPT: &[&str] = &[
    "AM201", "AM204", "AM209", "OC103", "VD301", "VD303", "VD304", "DP804", "DP805",
];

/// A fault with the slots that a choice without it differs in.
pub(super) struct Trouble {
    rule: &'static str,
    words: String,
    /// One of these is thicker.
    pub(super) up: BTreeSet<usize>,
    /// Or one of these is thinner.
    pub(super) down: BTreeSet<usize>,
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
        if self.free_on_loops() {
            return;
        }
        let clean = self.left.is_empty();
        if self.exact && clean {
            return;
        }
        let outcome = if self.returns_given_up {
            Outcome::Open(0.0)
        } else {
            self.searched(clean)
        };
        match outcome {
            Outcome::Found(options, raised) => {
                self.take(options, raised);
                self.exact = true;
            }
            Outcome::NothingCheaper => {
                self.exact = clean;
                self.tried_all = !clean;
            }
            Outcome::Open(bound) => {
                self.mend();
                self.thin();
                let most = self.copper(&self.at);
                self.exact = false;
                self.least = Some(self.least_copper().max(bound).min(most));
            }
        }
    }

    /// Looks for a choice without the faults on loops that the thickest of everything has: there a thinner conductor
    /// may be what helps. Tells whether there is one.
    fn free_on_loops(&mut self) -> bool {
        if self.accepted.is_empty() || self.returns_given_up || self.open_on_loops().is_empty() {
            return false;
        }
        let rows = self.hopeless.iter().filter(|row| row.certain);
        let mut certain: BTreeSet<_> = rows.map(|row| (row.rule, row.element.clone())).collect();
        let beyond = self.beyond.iter().filter(|beyond| beyond.certain);
        certain.extend(beyond.map(|beyond| {
            let conductor = &self.boat.conductors[beyond.conductor.index()];
            (beyond.rule, conductor.number.clone())
        }));
        certain.retain(|fault| self.accepted.contains(fault));
        if certain.len() == self.accepted.len() {
            return false;
        }
        let accepted = std::mem::replace(&mut self.accepted, certain);
        if let Outcome::Found(options, raised) = self.searched(false) {
            self.hopeless.retain(|row| row.certain);
            self.beyond.retain(|beyond| beyond.certain);
            self.take(options, raised);
            self.exact = true;
            return true;
        }
        self.accepted = accepted;
        false
    }

    /// Drops limits on loops that what is chosen keeps after all.
    pub(super) fn recall_kept(&mut self) {
        let doubtful = self.beyond.iter().any(|beyond| !beyond.certain)
            || self.hopeless.iter().any(|row| !row.certain);
        if !doubtful {
            return;
        }
        let findings = rules::run(&Facts::new(&self.boat));
        let is_told = |rule: &str, element: &String| {
            let about = |it: &Diagnostic| it.element == *element || it.also.contains(element);
            findings
                .iter()
                .any(|it| it.rule == rule && counts(it) && about(it))
        };
        let conductors = &self.boat.conductors;
        self.beyond
            .retain(|it| it.certain || is_told(it.rule, &conductors[it.conductor.index()].number));
        let drops = self.end.as_ref().map(|(_, drops, _)| self.drop_rows(drops));
        let broken: BTreeSet<(&str, String)> = drops
            .into_iter()
            .flatten()
            .filter(|row| !self.keeps(row, &self.at))
            .map(|row| (row.rule, row.element))
            .collect();
        self.hopeless
            .retain(|row| row.certain || broken.contains(&(row.rule, row.element.clone())));
    }

    /// Searches with what is true of every choice alone; all else stays as it was.
    fn searched(&mut self, clean: bool) -> Outcome {
        let kept = self.clone();
        let known = if clean {
            self.copper(&self.at)
        } else {
            f64::INFINITY
        };
        self.rows.retain(|row| row.certain);
        self.returns.retain(|row| row.certain);
        self.growing = Growing::Nothing;
        let outcome = self.search(known);
        let rows = std::mem::take(&mut self.rows);
        let returns = std::mem::take(&mut self.returns);
        *self = kept;
        // Rows found on the way are true of every choice.
        self.rows = rows;
        self.returns = returns;
        outcome
    }

    /// How often all rules may be asked.
    pub(super) fn questions(&self) -> usize {
        let conductors = self.boat.conductors.len().max(1);
        (MAX_WORK / (conductors * conductors)).clamp(6, MAX_ASKED)
    }

    /// Takes what a search found.
    pub(super) fn take(&mut self, options: Vec<usize>, raised: Vec<(usize, Bound)>) {
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

    fn search(&mut self, known: f64) -> Outcome {
        let mut asked = self.questions();
        // In a large boat the sums themselves are most of the work.
        let mut solved = if asked < MANY { asked * 2 } else { asked * 8 };
        let loops = self.open_on_loops();
        let mut heap = BinaryHeap::new();
        let mut number = 0;
        heap.push(Node {
            bound: 0.0,
            number,
            least: self.certain_floors(),
            most: self.thickest(),
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
                    if !exact {
                        // What is found from here on need not be the least.
                        return Outcome::Open(node.bound);
                    }
                    node.bound = node.bound.max(self.copper(&options));
                    node.options = Some(options);
                    heap.push(node);
                }
                continue;
            };
            self.at = options;
            self.apply();
            let (currents, drops) = flows(&self.boat);
            if self.take_rows(&currents, &drops, true) {
                // The sums have become more, so the node is solved anew.
                heap.push(node);
                continue;
            }
            if asked == 0 {
                return Outcome::Open(node.bound);
            }
            asked -= 1;
            let trouble = {
                let facts = Facts::new(&self.boat);
                let findings = rules::run(&facts);
                self.worst_trouble(&facts, &findings, &loops)
            };
            let Some(trouble) = trouble else {
                return Outcome::Found(self.at.clone(), node.raised);
            };
            for child in self.parted(&node, &trouble) {
                number += 1;
                heap.push(Node { number, ..child });
            }
        }
        Outcome::NothingCheaper
    }

    /// Slots whose sizes decide how currents part.
    pub(super) fn open_on_loops(&self) -> BTreeSet<usize> {
        let conductors = self.boat.conductors.iter().enumerate();
        conductors
            .filter(|(_, conductor)| self.on_loop[conductor.link.index()])
            .filter_map(|(index, _)| self.slot_of[index])
            .collect()
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
    pub(super) fn worst_trouble(
        &self,
        facts: &Facts<'_>,
        findings: &[Diagnostic],
        loops: &BTreeSet<usize>,
    ) -> Option<Trouble> {
        findings
            .iter()
            .filter(|finding| counts(finding) && !self.accepted.contains(&told(finding)))
            .filter_map(|finding| {
                let mut trouble = self.trouble(facts, finding)?;
                trouble.up.extend(loops);
                trouble.down.extend(loops);
                Some(trouble)
            })
            .min_by_key(|trouble| trouble.up.len() + trouble.down.len())
    }

    fn trouble(&self, facts: &Facts<'_>, finding: &Diagnostic) -> Option<Trouble> {
        let mut rules = BRANCHED.iter().chain(KEPT);
        let rule = *rules.find(|&&rule| rule == finding.rule)?;
        // Where several batteries feed a short, each by ways of its own, all of them count.
        let batteries = self.boat.sources.iter();
        let many = batteries
            .filter(|it| it.kind == SourceKind::Battery)
            .count()
            > 1;
        let steady = |load: &crate::system::Load| load.behaviour == Behaviour::Current;
        let everything_counts = match rule {
            "VD301" | "AM206" | "WY101" => false,
            // What one load draws depends on the sizes to another, unless all draw the same at any voltage.
            "VD306" | "VD307" | "VD310" => !self.boat.loads.iter().all(steady),
            "DP802" | "DP803" => many,
            _ => true,
        };
        let reached = self.reach(facts, finding);
        if reached.is_none() && !everything_counts {
            return None;
        }
        let (mut up, mut down) = reached.unwrap_or_default();
        if everything_counts {
            let slots = 0..self.slots.sizes.len();
            let open: Vec<usize> = slots
                .filter(|&slot| !self.offers[slot].sizes.is_empty())
                .collect();
            up.extend(&open);
            down.extend(&open);
        }
        Some(Trouble {
            rule,
            words: finding.message.clone(),
            up,
            down,
        })
    }

    /// Slots on the way of what a finding is about: those that help it thicker, and those that help it thinner.
    pub(super) fn reach(
        &self,
        facts: &Facts<'_>,
        finding: &Diagnostic,
    ) -> Option<(BTreeSet<usize>, BTreeSet<usize>)> {
        let slots = |ids: &[ConductorId]| -> BTreeSet<usize> {
            ids.iter()
                .filter_map(|id| self.slot_of[id.index()])
                .collect()
        };
        let (mut up, mut down) = (BTreeSet::new(), BTreeSet::new());
        match finding.rule {
            "VD301" | "VD306" | "VD307" | "VD310" => {
                let way = self.on_the_way(facts, &finding.element);
                let ids: Vec<ConductorId> = way.into_iter().map(|(id, _)| id).collect();
                up = slots(&ids);
            }
            "DP802" => {
                let (out, end, back) = self.short_behind(facts, &finding.element)?;
                up = slots(&out);
                up.extend(slots(&[end]));
                up.extend(slots(&back));
            }
            "DP803" => {
                let end = self.numbered(&finding.element)?;
                let (out, back) = self.short_at(facts, end);
                down = slots(&out);
                down.extend(slots(&back));
                up.clone_from(&down);
                up.extend(slots(&[end]));
            }
            "AM206" => {
                let backs: Vec<ConductorId> = std::iter::once(&finding.element)
                    .chain(&finding.also)
                    .filter_map(|number| self.numbered(number))
                    .collect();
                let feeds = self.feeds_beside(facts, &backs);
                down = slots(&feeds);
                up.clone_from(&down);
                up.extend(slots(&backs));
            }
            "WY101" => down = slots(&self.in_the_hole(facts, &finding.element)),
            _ => {}
        }
        Some((up, down))
    }

    pub(super) fn numbered(&self, number: &str) -> Option<ConductorId> {
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

pub(super) fn counts(finding: &Diagnostic) -> bool {
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
        .filter(|finding| counts(finding))
        .filter(|finding| BRANCHED.contains(&finding.rule) || KEPT.contains(&finding.rule))
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
