//! The same questions put to a Boolean solver, where the search over sets of positions has run out of room.
//!
//! A path is chosen edge by edge: a start has an edge leaving it, a vertex entered must be left again, no vertex is
//! entered twice, and an edge holds only in the positions that close it. A cut is chosen cluster by cluster: the side
//! of the start is closed under every edge that conducts. Every part has exactly one position; interlocks are clauses.
//! The fewest parts off normal are found by counting them and tightening the bound.

use super::reach::Reach;
use super::{Constraints, State, bit, blocks};
use crate::system::GearId;
use batsat::{Callbacks, ClauseKind, Lit, Solver, SolverInterface, SolverOpts, lbool};
use std::cell::Cell;
use std::collections::BTreeMap;

/// Work after which a question is given up as undecided, in conflicts times the size of the problem.
///
/// All pairs among 24 four-way switches take a hundredth of it each.
const WORK_PER_QUESTION: u64 = 10_000_000;

/// Work and questions after which all further ones about one prepared circuit are undecided.
const WORK: u64 = 40_000_000;
const QUESTIONS: u32 = 1000;

/// Counting clauses for the fewest parts off normal; beyond it the first state found is given.
const COUNTER_BUDGET: usize = 200_000;

/// What the solver found.
pub(super) enum Decision {
    Yes(State),
    No,
    Undecided,
}

/// A state that joins a start to the target through edges at least so wide.
pub(super) fn joining_state(
    reach: &Reach<'_>,
    starts: &[u32],
    target: u32,
    width: f64,
) -> Decision {
    let Some(base) = reach.base() else {
        return Decision::No;
    };
    if starts.contains(&target) {
        return Decision::Yes(base.clone());
    }
    if !reach.effort.take() {
        return Decision::Undecided;
    }
    let candidates = blocks::between(reach, starts, &[target], width);
    let mut problem = Problem::new(reach, &candidates);
    let mut into: BTreeMap<u32, Vec<Lit>> = BTreeMap::new();
    let mut out: BTreeMap<u32, Vec<Lit>> = BTreeMap::new();
    for (edge, _) in reach
        .edges
        .iter()
        .zip(&candidates)
        .filter(|&(_, &candidate)| candidate)
    {
        let ways = [
            Some((edge.a, edge.b)),
            (!edge.one_way).then_some((edge.b, edge.a)),
        ];
        for (tail, head) in ways.into_iter().flatten() {
            if tail == target || starts.contains(&head) {
                continue;
            }
            let used = problem.fresh(lbool::FALSE);
            problem.only_when(used, edge.contact);
            out.entry(tail).or_default().push(used);
            into.entry(head).or_default().push(used);
        }
    }
    let leaving: Vec<Lit> = starts
        .iter()
        .filter_map(|start| out.get(start))
        .flatten()
        .copied()
        .collect();
    problem.clause(leaving);
    for (vertex, entering) in &into {
        problem.at_most_one(entering);
        if *vertex == target {
            continue;
        }
        let onward = out.get(vertex).map_or(&[][..], Vec::as_slice);
        for &edge in entering {
            problem.clause(onward.iter().copied().chain([!edge]).collect());
        }
    }
    problem.solve()
}

/// A state that leaves every start cut off from every target.
pub(super) fn parting_state(reach: &Reach<'_>, starts: &[u32], targets: &[u32]) -> Decision {
    if !reach.effort.take() {
        return Decision::Undecided;
    }
    let candidates = blocks::between(reach, starts, targets, 0.0);
    let mut problem = Problem::new(reach, &candidates);
    let mut inside: BTreeMap<u32, Lit> = BTreeMap::new();
    for &start in starts {
        let held = problem.fresh(lbool::TRUE);
        inside.insert(start, held);
        problem.clause(vec![held]);
    }
    for &target in targets {
        let held = problem.fresh(lbool::FALSE);
        inside.insert(target, held);
        problem.clause(vec![!held]);
    }
    for (edge, _) in reach
        .edges
        .iter()
        .zip(&candidates)
        .filter(|&(_, &candidate)| candidate)
    {
        for end in [edge.a, edge.b] {
            inside
                .entry(end)
                .or_insert_with(|| problem.fresh(lbool::FALSE));
        }
        let (a, b) = (inside[&edge.a], inside[&edge.b]);
        for closed in problem.when_closed(edge.contact) {
            problem.clause([!a, b].into_iter().chain(closed).collect());
            if !edge.one_way {
                problem.clause([!b, a].into_iter().chain(closed).collect());
            }
        }
    }
    problem.solve()
}

/// Any state that breaks no interlock.
pub(super) fn any_state(reach: &Reach<'_>) -> Decision {
    if !reach.effort.take() {
        return Decision::Undecided;
    }
    Problem::new(reach, &[]).solve()
}

/// What the solver may still spend on one prepared circuit.
#[derive(Debug)]
pub(super) struct Effort {
    work: Cell<u64>,
    questions: Cell<u32>,
}

impl Default for Effort {
    fn default() -> Self {
        Self {
            work: Cell::new(WORK),
            questions: Cell::new(QUESTIONS),
        }
    }
}

impl Effort {
    /// Whether another question may be asked.
    fn take(&self) -> bool {
        let left = self.questions.get();
        self.questions.set(left.saturating_sub(1));
        left > 0 && self.work.get() > 0
    }
}

/// Gives up after a fixed number of conflicts, so that the same file always gets the same answer.
struct Patience {
    conflicts: u64,
    most: u64,
}

impl Callbacks for Patience {
    fn on_new_clause(&mut self, _clause: &[Lit], _source: ClauseKind) {
        self.conflicts += 1;
    }

    fn stop(&self) -> bool {
        self.conflicts > self.most
    }
}

/// One question in the solver, with the positions of every part that can matter to it.
struct Problem<'r> {
    reach: &'r Reach<'r>,
    solver: Solver<Patience>,
    /// The literal of each position a part may stand in.
    positions: BTreeMap<GearId, Vec<(u16, Lit)>>,
}

impl<'r> Problem<'r> {
    fn new(reach: &'r Reach<'_>, candidates: &[bool]) -> Self {
        let patience = Patience {
            conflicts: 0,
            most: 0,
        };
        let mut problem = Self {
            reach,
            solver: Solver::new(SolverOpts::default(), patience),
            positions: BTreeMap::new(),
        };
        let on_edges = reach
            .edges
            .iter()
            .zip(candidates)
            .filter(|&(_, &candidate)| candidate)
            .filter_map(|(edge, _)| edge.contact.map(|(gear, _)| gear));
        let interlocked = reach.never.iter().flatten().map(|&(gear, _)| gear);
        let mut gears: Vec<GearId> = on_edges.chain(interlocked).collect();
        gears.sort_unstable();
        gears.dedup();
        for gear in gears {
            problem.add_positions(gear);
        }
        for never in &reach.never {
            problem.add_interlock(never);
        }
        problem
    }

    fn fresh(&mut self, first_try: lbool) -> Lit {
        Lit::new(self.solver.new_var(first_try, true), true)
    }

    fn clause(&mut self, mut literals: Vec<Lit>) {
        // A clause that contradicts the others is remembered by the solver, which then answers no.
        self.solver.add_clause_reuse(&mut literals);
    }

    fn at_most_one(&mut self, literals: &[Lit]) {
        if literals.len() <= 6 {
            for (index, &a) in literals.iter().enumerate() {
                for &b in &literals[index + 1..] {
                    self.clause(vec![!a, !b]);
                }
            }
            return;
        }
        // One carry variable a literal keeps the clauses in proportion to the literals.
        let mut before: Option<Lit> = None;
        for &literal in literals {
            let carry = self.fresh(lbool::FALSE);
            self.clause(vec![!literal, carry]);
            if let Some(before) = before {
                self.clause(vec![!before, carry]);
                self.clause(vec![!before, !literal]);
            }
            before = Some(carry);
        }
    }

    fn add_positions(&mut self, gear: GearId) {
        let allowed = self.reach.allowed[gear.index()];
        let preferred = Constraints::preferred(self.reach.system, gear.index(), allowed);
        let literals: Vec<(u16, Lit)> = (0..super::MAX_POSITIONS)
            .filter(|&position| allowed & bit(position) != 0)
            .map(|position| {
                let first_try = lbool::new(position == preferred);
                (position, self.fresh(first_try))
            })
            .collect();
        let all: Vec<Lit> = literals.iter().map(|&(_, literal)| literal).collect();
        self.at_most_one(&all);
        self.clause(all);
        self.positions.insert(gear, literals);
    }

    fn add_interlock(&mut self, never: &[(GearId, u16)]) {
        let mut literals = Vec::with_capacity(never.len());
        for &(gear, position) in never {
            let literal = self.positions.get(&gear).and_then(|positions| {
                positions
                    .iter()
                    .find(|&&(index, _)| index == position)
                    .map(|&(_, literal)| !literal)
            });
            match literal {
                Some(literal) => literals.push(literal),
                // The position is not allowed, so the combination cannot occur.
                None => return,
            }
        }
        self.clause(literals);
    }

    /// The edge is used only in positions that close its contact.
    fn only_when(&mut self, used: Lit, contact: Option<(GearId, u64)>) {
        let Some((gear, set)) = contact else { return };
        let closing = self.closing(gear, set);
        self.clause(closing.into_iter().chain([!used]).collect());
    }

    /// For each way an edge can conduct, the literal that must be false for it not to; none where it always does.
    fn when_closed(&self, contact: Option<(GearId, u64)>) -> Vec<Option<Lit>> {
        match contact {
            None => vec![None],
            Some((gear, set)) => self
                .closing(gear, set)
                .into_iter()
                .map(|literal| Some(!literal))
                .collect(),
        }
    }

    fn closing(&self, gear: GearId, set: u64) -> Vec<Lit> {
        self.positions
            .get(&gear)
            .map_or_else(Vec::new, |positions| {
                positions
                    .iter()
                    .filter(|&&(position, _)| set & bit(position) != 0)
                    .map(|&(_, literal)| literal)
                    .collect()
            })
    }

    /// Solves, then tightens the number of parts off normal until no state has fewer.
    fn solve(mut self) -> Decision {
        let size = 1 + u64::from(self.solver.num_vars()) + self.solver.num_clauses();
        let left = self.reach.effort.work.get();
        self.solver.cb_mut().most = left.min(WORK_PER_QUESTION) / size;
        let decision = self.decide();
        let spent = self.solver.cb().conflicts.saturating_mul(size);
        self.reach.effort.work.set(left.saturating_sub(spent));
        decision
    }

    fn decide(&mut self) -> Decision {
        match self.solver.solve_limited(&[]) {
            result if result == lbool::TRUE => {}
            result if result == lbool::FALSE => return Decision::No,
            _ => return Decision::Undecided,
        }
        let mut state = self.state();
        let off = self.off_literals();
        let mut count = self.count(&state);
        if count == 0 || count * off.len() > COUNTER_BUDGET {
            return Decision::Yes(state);
        }
        let at_least = self.counter(&off, count);
        while count > 0 && self.solver.solve_limited(&[!at_least[count - 1]]) == lbool::TRUE {
            state = self.state();
            count = self.count(&state);
        }
        Decision::Yes(state)
    }

    /// The positions of the model; parts not in the question stand as in the base state.
    fn state(&self) -> State {
        let mut state = self
            .reach
            .base()
            .cloned()
            .unwrap_or_else(|| State::normal(self.reach.system));
        for (&gear, positions) in &self.positions {
            for &(position, literal) in positions {
                if self.solver.value_lit(literal) == lbool::TRUE {
                    state.set(gear, position);
                }
            }
        }
        state
    }

    /// For each part that may stand in its normal position, the literal that it does not.
    fn off_literals(&self) -> Vec<Lit> {
        self.positions
            .iter()
            .filter_map(|(gear, positions)| {
                let normal = self.reach.system.gears[gear.index()].normal;
                positions
                    .iter()
                    .find(|&&(position, _)| position == normal)
                    .map(|&(_, literal)| !literal)
            })
            .collect()
    }

    fn count(&self, state: &State) -> usize {
        self.positions
            .iter()
            .filter(|(gear, positions)| {
                let normal = self.reach.system.gears[gear.index()].normal;
                positions.iter().any(|&(position, _)| position == normal)
                    && state.position(**gear) != normal
            })
            .count()
    }

    /// A sequential counter: literal `j` of the result is forced when more than `j` of the literals hold.
    fn counter(&mut self, literals: &[Lit], up_to: usize) -> Vec<Lit> {
        let mut before: Vec<Lit> = Vec::new();
        for &literal in literals {
            let row: Vec<Lit> = (0..up_to).map(|_| self.fresh(lbool::FALSE)).collect();
            for (index, &sum) in row.iter().enumerate() {
                if let Some(&held) = before.get(index) {
                    self.clause(vec![!held, sum]);
                }
                if index == 0 {
                    self.clause(vec![!literal, sum]);
                } else if let Some(&held) = before.get(index - 1) {
                    self.clause(vec![!literal, !held, sum]);
                }
            }
            before = row;
        }
        before
    }
}
