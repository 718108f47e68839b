//! Banks joined, isolated banks touched, dead shorts and opposed poles.

use super::{Isolation, Nets, Undecided, bottoms, chemistry, off_negative, post, tops};
use crate::analysis::states::{Answer, Constraints, Reach, Reached, Spread, Witness, ends};
use crate::system::{Bank, BankId, NodeId, Origin, SourceId, SourceKind, System};
use crate::units::Volts;
use std::collections::BTreeMap;

/// Banks told for each one that it is joined to; a boat with more has one fault and not many.
pub const JOINS_TOLD: usize = 16;

/// Length of strings up to which every pair of posts is asked about; longer ones are asked about as a whole.
const POSTS_ASKED: usize = 32;

/// What a charging source gives over the nominal voltage of what it charges: 14.6 V for 12 V, with some room.
const CHARGE_SHARE: std::ops::RangeInclusive<f64> = 0.9..=1.35;

/// Two banks whose positives some state joins.
#[derive(Clone, Debug, PartialEq)]
pub struct Join {
    /// The two banks, in file order.
    pub banks: [BankId; 2],
    /// Some state joins them without a position declared to join banks.
    pub undeclared: bool,
    /// Only positions declared for an emergency join them. Asked of banks of unlike chemistry alone.
    pub emergency_only: bool,
    /// The state with the fewest positions off normal, and the path; undeclared where there is one.
    pub witness: Witness,
}

/// An isolated bank that some state joins to a post of another bank.
#[derive(Clone, Debug, PartialEq)]
pub struct Contact {
    /// The isolated bank.
    pub bank: BankId,
    /// The bank it touches.
    pub other: BankId,
    /// The post of it that is reached.
    pub post: NodeId,
    /// The state and the path.
    pub witness: Witness,
}

/// Sources whose positive some state joins to their own negative, or to that of their string.
#[derive(Clone, Debug, PartialEq)]
pub struct Short {
    /// The sources shorted in the same positions, in file order.
    pub sources: Vec<SourceId>,
    /// The state and the path of the first.
    pub witness: Witness,
}

/// A source wired against its polarity or to another voltage.
#[derive(Clone, Debug, PartialEq)]
pub struct Opposed {
    /// The source.
    pub source: SourceId,
    /// The voltage the others put across it, negative where it is reversed; none where it is only the pole that is wrong.
    pub across: Option<Volts>,
    /// The state that joins its positive to a negative; none where it is so in every position.
    pub witness: Option<Witness>,
}

impl Isolation {
    pub(super) fn look_for_joins(&mut self, system: &System, live: &Reach<'_>, apart: &Reach<'_>) {
        let banks: Vec<Vec<NodeId>> = system.banks.iter().map(|bank| tops(system, bank)).collect();
        // Both directions of a pair are asked, for a diode joins one way only.
        let mut pairs: BTreeMap<[BankId; 2], (bool, Answer)> = BTreeMap::new();
        let mut told = vec![0_usize; banks.len()];
        for (index, tops) in banks.iter().enumerate().take(self.afford(banks.len())) {
            let (from_all, from_apart) = (live.spread(tops), apart.spread(tops));
            for (other, others) in banks.iter().enumerate() {
                let low = index.min(other);
                if other == index {
                    continue;
                }
                let pair = [BankId::at(low), BankId::at(index.max(other))];
                if told[low] >= JOINS_TOLD {
                    let is_new = !pairs.contains_key(&pair) && !self.crowded.contains(&pair[0]);
                    let joins = |node: &NodeId| from_all.reached(*node) != Reached::Never;
                    if is_new && others.iter().any(joins) {
                        self.crowded.insert(pair[0]);
                    }
                    continue;
                }
                let found = match first(&from_apart, others) {
                    Answer::No => (false, first(&from_all, others)),
                    answer => (true, answer),
                };
                if found.1 == Answer::No {
                    continue;
                }
                told[low] += usize::from(!pairs.contains_key(&pair));
                let better = match pairs.remove(&pair) {
                    None => found,
                    Some(before) if before.0 == found.0 => (before.0, either(before.1, found.1)),
                    Some(before) => {
                        if before.0 {
                            before
                        } else {
                            found
                        }
                    }
                };
                pairs.insert(pair, better);
            }
        }
        for (banks, (undeclared, answer)) in pairs {
            match answer {
                Answer::Yes(witness) => self.joins.push(Join {
                    banks,
                    undeclared,
                    emergency_only: false,
                    witness,
                }),
                Answer::No => {}
                Answer::Undecided => self.undecided.push(Undecided {
                    elements: banks
                        .iter()
                        .map(|bank| system.banks[bank.index()].name.clone())
                        .collect(),
                }),
            }
        }
    }

    /// Whether the banks of unlike chemistry that are joined are so in an emergency only.
    pub(super) fn look_for_emergencies(&mut self, system: &System, nets: &Nets) {
        let unlike = |join: &Join| {
            let [one, other] = join.banks.map(|id| &system.banks[id.index()]);
            let (one, other) = (chemistry(system, one), chemistry(system, other));
            one.zip(other).is_some_and(|(one, other)| one != other)
        };
        let declared = system
            .gears
            .iter()
            .flat_map(|gear| &gear.positions)
            .any(|position| position.emergency);
        let asked: Vec<usize> = (0..self.joins.len())
            .filter(|&index| !self.joins[index].undeclared && unlike(&self.joins[index]))
            .collect();
        if !declared || asked.is_empty() {
            return;
        }
        let lasting = Constraints::none(system).forbid(system, |_, position| position.emergency);
        let lasting = Reach::new(system, &lasting, |link| off_negative(system, nets, link));
        // A pair that is not asked keeps the graver answer.
        let granted = self.afford(asked.len());
        for index in asked.into_iter().take(granted) {
            let [one, other] = self.joins[index]
                .banks
                .map(|id| tops(system, &system.banks[id.index()]));
            // Both ways, for a diode joins one way only.
            self.joins[index].emergency_only = first(&lasting.spread(&one), &other) == Answer::No
                && first(&lasting.spread(&other), &one) == Answer::No;
        }
    }

    pub(super) fn look_for_contacts(&mut self, system: &System, whole: &Reach<'_>) {
        let isolated = |bank: &Bank| bank.isolated.is_some_and(|given| given.value);
        let wanted = system.banks.iter().filter(|bank| isolated(bank)).count();
        let mut left = self.afford(wanted);
        for (index, bank) in system.banks.iter().enumerate() {
            if !isolated(bank) || left == 0 {
                continue;
            }
            left -= 1;
            let spread = whole.spread(&posts(system, index));
            for (other, record) in system.banks.iter().enumerate() {
                // Two isolated banks are told once.
                if other == index || (isolated(record) && other < index) {
                    continue;
                }
                let found = posts(system, other)
                    .into_iter()
                    .find_map(|post| spread.answer(post).witness().map(|it| (post, it)));
                if let Some((post, witness)) = found {
                    self.contacts.push(Contact {
                        bank: BankId::at(index),
                        other: BankId::at(other),
                        post,
                        witness,
                    });
                }
            }
        }
    }

    pub(super) fn look_for_shorts(&mut self, system: &System, nets: &Nets, whole: &Reach<'_>) {
        let strings = negatives(system);
        let commons = commons(system, nets);
        let count = self.afford(system.sources.len());
        for (index, source) in system.sources.iter().enumerate().take(count) {
            let id = SourceId::at(index);
            let (positive, _) = ends(system, source.link);
            let spread = whole.spread(&[positive]);
            let short = strings[index]
                .iter()
                .find_map(|&negative| match spread.answer(negative) {
                    Answer::No => None,
                    answer => Some(answer),
                });
            match short {
                Some(Answer::Yes(witness)) => self.note_short(id, witness),
                Some(_) => self.undecided.push(Undecided {
                    elements: vec![source.name.clone()],
                }),
                None => self.look_for_opposed(system, nets, id, &spread, &commons),
            }
        }
    }

    fn note_short(&mut self, source: SourceId, witness: Witness) {
        let same = self
            .shorts
            .iter_mut()
            .find(|short| short.witness.off_normal == witness.off_normal);
        match same {
            Some(short) => short.sources.push(source),
            None => self.shorts.push(Short {
                sources: vec![source],
                witness,
            }),
        }
    }

    /// A positive on a negative that loads return to, or a voltage that does not fit.
    fn look_for_opposed(
        &mut self,
        system: &System,
        nets: &Nets,
        id: SourceId,
        spread: &Spread<'_>,
        commons: &[(u32, NodeId)],
    ) {
        let source = &system.sources[id.index()];
        let (positive, _) = ends(system, source.link);
        if nets.reversed().binary_search(&id).is_ok() {
            self.opposed.push(Opposed {
                source: id,
                across: None,
                witness: None,
            });
            return;
        }
        let own = nets.system(positive);
        let elsewhere = commons
            .iter()
            .filter(|(system, _)| Some(*system) != own)
            .find_map(|&(_, node)| spread.answer(node).witness());
        if let Some(witness) = elsewhere {
            self.opposed.push(Opposed {
                source: id,
                across: None,
                witness: Some(witness),
            });
            return;
        }
        let Ok(at) = nets.across().binary_search_by_key(&id, |it| it.source) else {
            return;
        };
        let across = nets.across()[at];
        let fits = match source.kind {
            // Batteries in parallel of another voltage are told with their banks.
            SourceKind::Battery => across.volts.0 > 0.0,
            _ if !across.imposed => true,
            _ => {
                across.volts.0 > 0.0
                    && stated_voltage(source)
                        .is_none_or(|volts| CHARGE_SHARE.contains(&(volts / across.volts)))
            }
        };
        if !fits {
            self.opposed.push(Opposed {
                source: id,
                across: Some(across.volts),
                witness: None,
            });
        }
    }
}

/// The voltage that a charging source states, highest first.
fn stated_voltage(source: &crate::system::Source) -> Option<Volts> {
    let nominal = Some(source.nominal).filter(|given| given.origin == Origin::Written);
    source.max_voltage.or(nominal).map(|given| given.value)
}

/// The first node that some state joins.
fn first(spread: &Spread<'_>, nodes: &[NodeId]) -> Answer {
    let mut undecided = false;
    for &node in nodes {
        match spread.answer(node) {
            Answer::Yes(witness) => return Answer::Yes(witness),
            Answer::No => {}
            Answer::Undecided => undecided = true,
        }
    }
    if undecided {
        Answer::Undecided
    } else {
        Answer::No
    }
}

/// Yes if either says so, with the witness that has fewer positions off normal.
fn either(one: Answer, other: Answer) -> Answer {
    match (one, other) {
        (Answer::Yes(a), Answer::Yes(b)) => {
            Answer::Yes(if b.off_normal.len() < a.off_normal.len() {
                b
            } else {
                a
            })
        }
        (Answer::Yes(witness), _) | (_, Answer::Yes(witness)) => Answer::Yes(witness),
        (Answer::Undecided, _) | (_, Answer::Undecided) => Answer::Undecided,
        (Answer::No, Answer::No) => Answer::No,
    }
}

/// All posts of a bank, strings in order, each battery's negative before its positive.
fn posts(system: &System, bank: usize) -> Vec<NodeId> {
    system.banks[bank]
        .strings
        .iter()
        .flatten()
        .flat_map(|&source| [post(system, source, false), post(system, source, true)])
        .collect()
}

/// For each source the negatives that its positive must never meet: its own, and those below it in its string.
fn negatives(system: &System) -> Vec<Vec<NodeId>> {
    let mut negatives: Vec<Vec<NodeId>> = system
        .sources
        .iter()
        .map(|source| vec![ends(system, source.link).1])
        .collect();
    for bank in &system.banks {
        for string in &bank.strings {
            for (index, source) in string.iter().enumerate().skip(1) {
                let asked = if string.len() > POSTS_ASKED { 1 } else { index };
                negatives[source.index()].extend(
                    string[..asked]
                        .iter()
                        .map(|&below| post(system, below, false)),
                );
            }
        }
    }
    negatives
}

/// One node of each negative that loads return to, with the number of its system.
fn commons(system: &System, nets: &Nets) -> Vec<(u32, NodeId)> {
    let mut commons: BTreeMap<u32, NodeId> = BTreeMap::new();
    for index in 0..system.nodes.len() {
        let node = NodeId::at(index);
        if let Some(number) = nets.system(node)
            && nets.is_common(node)
        {
            commons.entry(number).or_insert(node);
        }
    }
    commons.into_iter().collect()
}

impl Isolation {
    /// Banks that feed some load, and whose negative reaches the negative of none.
    pub(super) fn look_for_floating(&mut self, system: &System, whole: &Reach<'_>) {
        let count = self.afford(system.banks.len());
        for (index, bank) in system.banks.iter().enumerate().take(count) {
            let from_top = whole.spread(&tops(system, bank));
            let from_bottom = whole.spread(&bottoms(system, bank));
            let reaches =
                |spread: &Spread<'_>, node: NodeId| spread.reached(node) != Reached::Never;
            let mut feeds = false;
            let mut returns = false;
            for load in &system.loads {
                let (positive, negative) = ends(system, load.link);
                feeds |= reaches(&from_top, positive);
                returns |= reaches(&from_bottom, negative);
            }
            if feeds && !returns {
                self.floating.push(BankId::at(index));
            }
        }
    }

    /// Banks whose positives are joined and whose negatives never are, so that nothing flows between them.
    ///
    /// A bank that is told already, as floating or as isolated and touched, is left out.
    pub(super) fn look_for_unreturned(&mut self, system: &System, whole: &Reach<'_>) {
        let known = |bank: BankId| {
            self.floating.contains(&bank)
                || self
                    .contacts
                    .iter()
                    .any(|contact| contact.bank == bank || contact.other == bank)
        };
        let pairs: Vec<[BankId; 2]> = self
            .joins
            .iter()
            .map(|join| join.banks)
            .filter(|banks| !banks.iter().any(|&bank| known(bank)))
            .collect();
        let granted = self.afford(pairs.len());
        for banks in pairs.into_iter().take(granted) {
            let [one, other] = banks.map(|id| bottoms(system, &system.banks[id.index()]));
            let (from, back) = (whole.spread(&one), whole.spread(&other));
            let meets = |spread: &Spread<'_>, posts: &[NodeId]| {
                posts
                    .iter()
                    .any(|&post| spread.reached(post) != Reached::Never)
            };
            if !meets(&from, &other) && !meets(&back, &one) {
                self.unreturned.push(banks);
            }
        }
    }
}
