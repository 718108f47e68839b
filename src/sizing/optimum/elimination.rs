//! Elimination of one choice after the other, with tables of what is left.
//!
//! What it guarantees and why stands at the head of the room.

use super::{Pair, Problem, Row, SAME};
use std::collections::BTreeMap;
use std::rc::Rc;

/// Entries that a table may hold before it is thinned.
const MAX_ENTRIES: usize = 1500;

/// The same once a table was thinned, or where a choice near the best is enough.
const ROUGH_ENTRIES: usize = 300;

/// Comparisons that thinning one table may take.
const MAX_WORK: usize = 2_000_000;

/// Combinations of several choices that are tried one by one.
const MAX_COMBINATIONS: usize = 60_000;

/// Different sums of the open choices that the room is rounded to.
const MAX_LEVELS: usize = 3000;

/// What a row still asks of the choices that are open, scaled so that its first weight is one.
type Form = Rc<Vec<(usize, f64)>>;

/// A table of what choices made so far cost and the room that they leave.
#[derive(Clone, Debug)]
struct Table {
    forms: Vec<Form>,
    entries: Vec<Entry>,
}

#[derive(Clone, Debug)]
struct Entry {
    cost: f64,
    /// Room on each form.
    room: Vec<f64>,
    /// How it was reached.
    by: usize,
}

/// How an entry was reached.
#[derive(Clone, Copy, Debug)]
enum Step {
    Start,
    Both(usize, usize),
    Chosen {
        before: usize,
        group: usize,
        option: usize,
    },
}

/// Choices that are eliminated together, because pairs tie them.
struct Group {
    picks: Vec<usize>,
    /// Options of each of them, and their copper, cheapest first.
    options: Vec<(f64, Vec<usize>)>,
}

pub(super) struct Elimination<'p> {
    problem: &'p Problem,
    groups: Vec<Group>,
    group_of: Vec<usize>,
    open: Vec<bool>,
    tables: Vec<Option<Table>>,
    /// Tables that each choice stands in.
    standing: Vec<Vec<usize>>,
    steps: Vec<Step>,
    /// Copper of a known solution.
    known: f64,
    /// Copper that is certain: the cheapest entry of every table and the cheapest option of every open group.
    floor: f64,
    pub(super) exact: bool,
    failed: bool,
}

impl<'p> Elimination<'p> {
    pub(super) fn new(problem: &'p Problem, known: Option<&[usize]>) -> Self {
        let count = problem.picks.len();
        let mut elimination = Self {
            problem,
            groups: Vec::new(),
            group_of: vec![0; count],
            open: Vec::new(),
            tables: Vec::new(),
            standing: vec![Vec::new(); count],
            steps: vec![Step::Start],
            known: known.map_or(f64::INFINITY, |options| problem.cost(options)),
            floor: 0.0,
            exact: true,
            failed: false,
        };
        elimination.make_groups();
        for row in tightest(&problem.rows) {
            elimination.add_row(&row);
        }
        elimination
    }

    /// Joins choices that pairs tie, and lists their options.
    fn make_groups(&mut self) {
        let problem = self.problem;
        let count = problem.picks.len();
        let mut root: Vec<usize> = (0..count).collect();
        for pair in &problem.pairs {
            for &feed in &pair.feeds {
                let (a, b) = (find(&mut root, pair.back), find(&mut root, feed));
                root[a.max(b)] = a.min(b);
            }
        }
        let mut members: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for pick in 0..count {
            members.entry(find(&mut root, pick)).or_default().push(pick);
        }
        for picks in members.into_values() {
            let number = self.groups.len();
            for &pick in &picks {
                self.group_of[pick] = number;
            }
            let options = self.options_of(&picks);
            match options.first() {
                Some((cheapest, _)) => self.floor += cheapest,
                None => self.failed = true,
            }
            self.groups.push(Group { picks, options });
            self.open.push(true);
        }
    }

    /// All combinations of options that keep the pairs, cheapest first.
    fn options_of(&mut self, picks: &[usize]) -> Vec<(f64, Vec<usize>)> {
        let problem = self.problem;
        let sizes: Vec<usize> = picks
            .iter()
            .map(|&pick| problem.picks[pick].costs.len())
            .collect();
        let count = sizes
            .iter()
            .try_fold(1usize, |count, &size| count.checked_mul(size))
            .unwrap_or(usize::MAX);
        let pairs: Vec<&Pair> = problem
            .pairs
            .iter()
            .filter(|pair| picks.contains(&pair.back))
            .collect();
        let mut found = Vec::new();
        let mut whole = vec![0usize; problem.picks.len()];
        let mut take = |options: &[usize], found: &mut Vec<(f64, Vec<usize>)>| {
            for (&pick, &option) in picks.iter().zip(options) {
                whole[pick] = option;
            }
            if pairs.iter().all(|pair| problem.keeps_pair(pair, &whole)) {
                let cost = picks
                    .iter()
                    .zip(options)
                    .map(|(&pick, &option)| problem.picks[pick].costs[option])
                    .sum();
                found.push((cost, options.to_vec()));
            }
        };
        if count > MAX_COMBINATIONS {
            // So many conductors in one pair take one size together, which is near the best.
            self.exact = false;
            let longest = sizes.iter().copied().max().unwrap_or(0);
            for at in 0..longest {
                let options: Vec<usize> = sizes.iter().map(|&size| at.min(size - 1)).collect();
                take(&options, &mut found);
            }
        } else {
            let mut options = vec![0usize; picks.len()];
            loop {
                take(&options, &mut found);
                let Some(at) = (0..options.len()).find(|&at| options[at] + 1 < sizes[at]) else {
                    break;
                };
                options[at] += 1;
                options[..at].fill(0);
            }
        }
        found.sort_by(|(a, options_a), (b, options_b)| {
            a.total_cmp(b).then_with(|| options_a.cmp(options_b))
        });
        found
    }

    fn add_row(&mut self, row: &Row) {
        let mut terms: Vec<(usize, f64)> = row
            .terms
            .iter()
            .copied()
            .filter(|&(_, weight)| weight > 0.0)
            .collect();
        terms.sort_unstable_by_key(|&(pick, _)| pick);
        let Some(&(_, first)) = terms.first() else {
            return;
        };
        for (_, weight) in &mut terms {
            *weight /= first;
        }
        let form = Rc::new(terms);
        let mut room = row.limit / first * (1.0 + SAME);
        if !self.fits(&form, &mut room) {
            self.failed = true;
        }
        let table = Table {
            forms: vec![form],
            entries: vec![Entry {
                cost: 0.0,
                room: vec![room],
                by: 0,
            }],
        };
        self.put(table);
    }

    /// Whether the open choices can keep within a room; caps it at the most they can ask for.
    fn fits(&self, form: &Form, room: &mut f64) -> bool {
        let (least, most) = self.asks(form);
        *room = room.min(most);
        *room >= least * (1.0 - SAME)
    }

    fn asks(&self, form: &Form) -> (f64, f64) {
        form.iter()
            .fold((0.0, 0.0), |(least, most), &(pick, weight)| {
                (
                    least + weight * self.problem.thickest(pick),
                    most + weight * self.problem.thinnest(pick),
                )
            })
    }

    fn put(&mut self, table: Table) {
        let number = self.tables.len();
        let mut picks: Vec<usize> = table
            .forms
            .iter()
            .flat_map(|form| form.iter().map(|&(pick, _)| pick))
            .collect();
        picks.sort_unstable();
        picks.dedup();
        for pick in picks {
            self.standing[pick].push(number);
        }
        self.tables.push(Some(table));
    }

    /// Tables that the choices of a group stand in.
    fn touching(&self, group: usize) -> Vec<usize> {
        let mut tables: Vec<usize> = self.groups[group]
            .picks
            .iter()
            .flat_map(|&pick| self.standing[pick].iter().copied())
            .filter(|&table| self.tables[table].is_some())
            .collect();
        tables.sort_unstable();
        tables.dedup();
        tables
    }

    /// Open groups that share a table with a group, and its tables.
    fn weight(&self, group: usize) -> (usize, usize) {
        let tables = self.touching(group);
        let mut others: Vec<usize> = tables
            .iter()
            .filter_map(|&table| self.tables[table].as_ref())
            .flat_map(|table| &table.forms)
            .flat_map(|form| form.iter().map(|&(pick, _)| self.group_of[pick]))
            .filter(|&other| other != group)
            .collect();
        others.sort_unstable();
        others.dedup();
        (others.len(), tables.len())
    }

    pub(super) fn run(&mut self) {
        let mut weights: Vec<(usize, usize)> = (0..self.groups.len())
            .map(|group| self.weight(group))
            .collect();
        for _ in 0..self.groups.len() {
            if self.failed {
                return;
            }
            let next = (0..self.groups.len())
                .filter(|&group| self.open[group])
                .min_by_key(|&group| (weights[group], group));
            let Some(group) = next else { return };
            let near = self.neighbours(group);
            self.eliminate(group);
            for other in near {
                if self.open[other] {
                    weights[other] = self.weight(other);
                }
            }
        }
    }

    fn neighbours(&self, group: usize) -> Vec<usize> {
        let mut others: Vec<usize> = self
            .touching(group)
            .into_iter()
            .filter_map(|table| self.tables[table].as_ref())
            .flat_map(|table| &table.forms)
            .flat_map(|form| form.iter().map(|&(pick, _)| self.group_of[pick]))
            .collect();
        others.sort_unstable();
        others.dedup();
        others
    }

    /// Makes one table of all that a group stands in, with its options decided.
    fn eliminate(&mut self, group: usize) {
        let mut touched: Vec<Table> = Vec::new();
        for table in self.touching(group) {
            touched.extend(self.tables[table].take());
        }
        self.open[group] = false;
        let before: f64 = touched.iter().map(cheapest).sum::<f64>()
            + self.groups[group].options.first().map_or(0.0, |it| it.0);
        let joined = self.join_all(touched);
        let table = self.decide(group, &joined);
        if table.entries.is_empty() {
            self.failed = true;
            return;
        }
        self.floor += cheapest(&table) - before;
        self.put(table);
    }

    /// Joins tables: those with the same forms first, which is quick.
    fn join_all(&mut self, tables: Vec<Table>) -> Table {
        let mut by_forms: BTreeMap<Vec<Vec<(usize, u64)>>, Table> = BTreeMap::new();
        for table in tables {
            let key: Vec<Vec<(usize, u64)>> = table.forms.iter().map(|form| key(form)).collect();
            match by_forms.remove(&key) {
                Some(other) => {
                    let joined = self.join(&other, &table);
                    by_forms.insert(key, joined);
                }
                None => {
                    by_forms.insert(key, table);
                }
            }
        }
        let mut joined = Table {
            forms: Vec::new(),
            entries: vec![Entry {
                cost: 0.0,
                room: Vec::new(),
                by: 0,
            }],
        };
        for table in by_forms.into_values() {
            joined = self.join(&joined, &table);
        }
        joined
    }

    fn join(&mut self, a: &Table, b: &Table) -> Table {
        let mut forms = a.forms.clone();
        let place: Vec<usize> = b
            .forms
            .iter()
            .map(|form| {
                let wanted = key(form);
                forms
                    .iter()
                    .position(|known| key(known) == wanted)
                    .unwrap_or_else(|| {
                        forms.push(form.clone());
                        forms.len() - 1
                    })
            })
            .collect();
        if forms.len() == 1 && a.forms.len() == 1 && b.forms.len() == 1 {
            let entries = self.merge(&a.entries, &b.entries);
            return Table { forms, entries };
        }
        let mut entries = Vec::with_capacity(a.entries.len() * b.entries.len());
        for one in &a.entries {
            for other in &b.entries {
                let mut room = one.room.clone();
                room.resize(forms.len(), f64::INFINITY);
                for (&at, &left) in place.iter().zip(&other.room) {
                    room[at] = room[at].min(left);
                }
                self.steps.push(Step::Both(one.by, other.by));
                entries.push(Entry {
                    cost: one.cost + other.cost,
                    room,
                    by: self.steps.len() - 1,
                });
            }
        }
        let entries = self.pruned(entries, forms.len());
        Table { forms, entries }
    }

    /// Joins two tables of one and the same form: for each room the cheapest of each that leaves as much.
    fn merge(&mut self, a: &[Entry], b: &[Entry]) -> Vec<Entry> {
        let mut rooms: Vec<f64> = a.iter().chain(b).map(|entry| entry.room[0]).collect();
        rooms.sort_by(f64::total_cmp);
        rooms.dedup();
        let (mut at_a, mut at_b) = (0, 0);
        let mut entries = Vec::with_capacity(rooms.len());
        for room in rooms {
            // Both are sorted by cost and room alike, so the first with enough room is the cheapest.
            while at_a < a.len() && a[at_a].room[0] < room {
                at_a += 1;
            }
            while at_b < b.len() && b[at_b].room[0] < room {
                at_b += 1;
            }
            let (Some(one), Some(other)) = (a.get(at_a), b.get(at_b)) else {
                break;
            };
            self.steps.push(Step::Both(one.by, other.by));
            entries.push(Entry {
                cost: one.cost + other.cost,
                room: vec![room],
                by: self.steps.len() - 1,
            });
        }
        self.pruned(entries, 1)
    }

    /// Tries every option of a group in every entry.
    fn decide(&mut self, group: usize, table: &Table) -> Table {
        let problem = self.problem;
        // Forms with the group's own choices taken out; those that become alike are one.
        let mut forms: Vec<Form> = Vec::new();
        let mut plan: Vec<(Option<usize>, f64)> = Vec::with_capacity(table.forms.len());
        for form in &table.forms {
            let rest: Vec<(usize, f64)> = form
                .iter()
                .copied()
                .filter(|&(pick, _)| self.group_of[pick] != group)
                .collect();
            let Some(&(_, first)) = rest.first() else {
                plan.push((None, 1.0));
                continue;
            };
            let scaled: Form = Rc::new(
                rest.iter()
                    .map(|&(pick, weight)| (pick, weight / first))
                    .collect(),
            );
            let wanted = key(&scaled);
            let place = forms
                .iter()
                .position(|known| key(known) == wanted)
                .unwrap_or_else(|| {
                    forms.push(scaled);
                    forms.len() - 1
                });
            plan.push((Some(place), first));
        }
        let levels: Vec<Option<Vec<f64>>> = forms.iter().map(|form| self.levels(form)).collect();
        let own_floor = cheapest(table) + self.groups[group].options.first().map_or(0.0, |it| it.0);
        let mut entries: Vec<Entry> = Vec::new();
        let options = std::mem::take(&mut self.groups[group].options);
        let picks = &self.groups[group].picks;
        let used: Vec<Vec<f64>> = options
            .iter()
            .map(|(_, chosen)| {
                table
                    .forms
                    .iter()
                    .map(|form| {
                        form.iter()
                            .filter(|&&(pick, _)| self.group_of[pick] == group)
                            .map(|&(pick, weight)| {
                                let at = picks.iter().position(|&own| own == pick).unwrap_or(0);
                                weight * problem.picks[pick].ohms[chosen[at]]
                            })
                            .sum()
                    })
                    .collect()
            })
            .collect();
        for entry in &table.entries {
            'options: for (number, (cost, _)) in options.iter().enumerate() {
                let cost = entry.cost + cost;
                if self.floor - own_floor + cost > self.known * (1.0 + SAME) + SAME {
                    // Options come cheapest first.
                    break;
                }
                let mut room = vec![f64::INFINITY; forms.len()];
                for ((&(place, scale), &left), &taken) in
                    plan.iter().zip(&entry.room).zip(&used[number])
                {
                    let left = left - taken;
                    match place {
                        None if left < -SAME * taken => continue 'options,
                        None => {}
                        Some(place) => room[place] = room[place].min(left / scale),
                    }
                }
                for ((form, left), levels) in forms.iter().zip(&mut room).zip(&levels) {
                    if !self.fits(form, left) {
                        continue 'options;
                    }
                    if let Some(levels) = levels {
                        let at = levels.partition_point(|&level| level <= *left * (1.0 + SAME));
                        match at.checked_sub(1) {
                            Some(at) => *left = levels[at],
                            None => continue 'options,
                        }
                    }
                }
                self.steps.push(Step::Chosen {
                    before: entry.by,
                    group,
                    option: number,
                });
                entries.push(Entry {
                    cost,
                    room,
                    by: self.steps.len() - 1,
                });
            }
            if entries.len() > 16 * self.most_entries() {
                entries = self.pruned(entries, forms.len());
            }
        }
        self.groups[group].options = options;
        let entries = self.pruned(entries, forms.len());
        Table { forms, entries }
    }

    /// The sums that the open choices of a form can come to, where they are few.
    fn levels(&self, form: &Form) -> Option<Vec<f64>> {
        let count = form.iter().try_fold(1usize, |count, &(pick, _)| {
            count
                .checked_mul(self.problem.picks[pick].ohms.len())
                .filter(|&count| count <= MAX_LEVELS)
        })?;
        let mut sums = Vec::with_capacity(count);
        sums.push(0.0);
        for &(pick, weight) in form.iter() {
            sums = sums
                .iter()
                .flat_map(|sum| {
                    self.problem.picks[pick]
                        .ohms
                        .iter()
                        .map(move |ohms| sum + weight * ohms)
                })
                .collect();
        }
        sums.sort_by(f64::total_cmp);
        sums.dedup();
        Some(sums)
    }

    fn most_entries(&self) -> usize {
        if self.exact && !self.problem.rough {
            MAX_ENTRIES
        } else {
            ROUGH_ENTRIES
        }
    }

    /// Drops entries that another one beats, and thins what is left where it is too much.
    fn pruned(&mut self, mut entries: Vec<Entry>, forms: usize) -> Vec<Entry> {
        entries.sort_by(|a, b| {
            a.cost
                .total_cmp(&b.cost)
                .then_with(|| {
                    let sum = |entry: &Entry| entry.room.iter().sum::<f64>();
                    sum(b).total_cmp(&sum(a))
                })
                .then(a.by.cmp(&b.by))
        });
        if forms == 0 {
            entries.truncate(1);
            return entries;
        }
        let mut kept: Vec<Entry> = Vec::new();
        let mut work = 0;
        for entry in entries {
            let beaten = if forms == 1 {
                kept.last()
                    .is_some_and(|last| last.room[0] >= entry.room[0])
            } else {
                work += kept.len();
                kept.iter().rev().any(|other| {
                    other
                        .room
                        .iter()
                        .zip(&entry.room)
                        .all(|(other, own)| other >= own)
                })
            };
            if beaten {
                continue;
            }
            if kept.len() >= self.most_entries() || work > MAX_WORK {
                self.exact = false;
                // The roomiest are still wanted, or nothing may be left that keeps every row.
                let last = kept.len() - 1;
                let sum = |entry: &Entry| entry.room.iter().sum::<f64>();
                if sum(&entry) > sum(&kept[last]) {
                    kept[last] = entry;
                }
                continue;
            }
            kept.push(entry);
        }
        if forms == 1 {
            // Ascending in cost and in room, as merging supposes.
            debug_assert!(kept.windows(2).all(|two| two[0].room[0] < two[1].room[0]));
        }
        kept
    }

    /// The options of the cheapest entry of what is left, and of choices that stand in no row.
    pub(super) fn result(&self) -> Option<Vec<usize>> {
        if self.failed {
            return None;
        }
        let mut options = vec![0usize; self.problem.picks.len()];
        let mut decided = vec![false; self.groups.len()];
        for table in self.tables.iter().flatten() {
            let cheapest = table
                .entries
                .iter()
                .min_by(|a, b| a.cost.total_cmp(&b.cost))?;
            let mut stack = vec![cheapest.by];
            while let Some(at) = stack.pop() {
                match self.steps[at] {
                    Step::Start => {}
                    Step::Both(one, other) => stack.extend([one, other]),
                    Step::Chosen {
                        before,
                        group,
                        option,
                    } => {
                        decided[group] = true;
                        let group = &self.groups[group];
                        for (&pick, &chosen) in group.picks.iter().zip(&group.options[option].1) {
                            options[pick] = chosen;
                        }
                        stack.push(before);
                    }
                }
            }
        }
        for (group, _) in self.groups.iter().zip(decided).filter(|(_, done)| !done) {
            let (_, cheapest) = group.options.first()?;
            for (&pick, &chosen) in group.picks.iter().zip(cheapest) {
                options[pick] = chosen;
            }
        }
        Some(options)
    }
}

/// The choice that stands for all that pairs tie to one.
fn find(root: &mut [usize], mut at: usize) -> usize {
    while root[at] != at {
        root[at] = root[root[at]];
        at = root[at];
    }
    at
}

fn cheapest(table: &Table) -> f64 {
    table
        .entries
        .iter()
        .map(|entry| entry.cost)
        .fold(f64::INFINITY, f64::min)
}

/// Forms that are alike up to rounding have one key.
fn key(form: &[(usize, f64)]) -> Vec<(usize, u64)> {
    form.iter()
        .map(|&(pick, weight)| {
            // Twelve significant binary digits fewer than there are: equal sums of currents differ in the last ones.
            let bits = weight.to_bits();
            (pick, bits.wrapping_add(1 << 11) >> 12)
        })
        .collect()
}

/// Of rows over the same choices only those that no other row implies.
fn tightest(rows: &[Row]) -> Vec<Row> {
    let mut by_picks: BTreeMap<Vec<usize>, Vec<Row>> = BTreeMap::new();
    for row in rows {
        let mut terms: Vec<(usize, f64)> = row
            .terms
            .iter()
            .copied()
            .filter(|&(_, weight)| weight > 0.0)
            .collect();
        terms.sort_unstable_by_key(|&(pick, _)| pick);
        let picks: Vec<usize> = terms.iter().map(|&(pick, _)| pick).collect();
        if picks.is_empty() {
            continue;
        }
        let row = Row {
            terms,
            limit: row.limit,
        };
        let same = by_picks.entry(picks).or_default();
        let implies = |a: &Row, b: &Row| {
            a.terms
                .iter()
                .zip(&b.terms)
                .all(|(&(_, one), &(_, other))| one * b.limit >= other * a.limit)
        };
        if same.iter().any(|known| implies(known, &row)) {
            continue;
        }
        same.retain(|known| !implies(&row, known));
        same.push(row);
    }
    by_picks.into_values().flatten().collect()
}
