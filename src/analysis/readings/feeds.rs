//! Which bank feeds every load, over which links, in which positions of switches.
//!
//! From rest (battery switches off, hand switches off, floats and relays as they hang) the way to a load that moves the
//! fewest parts is taken, never through a position that joins banks or is for emergencies. A relay on the way needs its
//! coil, so the way to the coil belongs to the load's. Contacts that no load's way passes are then tried one by one:
//! a pump that runs by hand and by its float has two ways, and each is told.

use crate::analysis::states::{Constraints, Reach, conducts, ends};
use crate::system::{BankId, GearId, GearKind, LinkId, LinkKind, LoadId, NodeId, Purpose, System};
use std::cmp::Reverse;
use std::collections::BinaryHeap;

/// Banks whose ways are looked for; a boat with more is told about the first ones.
const MAX_BANKS: usize = 32;
/// Contacts that are tried for a second way, over the whole boat.
const MAX_SECOND_WAYS: usize = 512;
/// Moves that a start inside a string costs: a load on a tap of a string is found there, but only if nowhere else.
const TAP: u32 = 1 << 20;

/// One way to feed a load.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Feed {
    /// The load.
    pub load: LoadId,
    /// The bank.
    pub bank: BankId,
    /// Positive post that it starts from.
    pub from: NodeId,
    /// Negative post that it returns to.
    pub to: NodeId,
    /// Links from the post to the load's positive.
    pub positive: Vec<LinkId>,
    /// Links from the load's negative to the post.
    pub negative: Vec<LinkId>,
    /// Parts that must leave their rest, with their positions, in file order.
    pub moved: Vec<(GearId, u16)>,
    /// Coils that must be energised, in file order.
    pub coils: Vec<LoadId>,
    /// Links of the ways to and from those coils.
    pub control: Vec<LinkId>,
}

/// The ways to feed every load.
#[derive(Clone, Debug)]
pub struct Feeds {
    rest: Vec<u16>,
    of_load: Vec<Vec<Feed>>,
    /// More banks than are looked at.
    pub too_many_banks: bool,
}

impl Feeds {
    /// Finds the ways to all loads.
    #[must_use]
    pub fn new(system: &System) -> Self {
        let search = Search::new(system);
        let mut of_load: Vec<Vec<Feed>> = (0..system.loads.len())
            .map(|index| search.way(LoadId::at(index)).into_iter().collect())
            .collect();
        search.second_ways(&mut of_load);
        let plain = of_load.clone();
        for feeds in &mut of_load {
            for feed in feeds.iter_mut() {
                energise(system, feed, &plain);
            }
        }
        Self {
            rest: search.rest,
            of_load,
            too_many_banks: system.banks.len() > MAX_BANKS,
        }
    }

    /// The ways to a load, the one with the fewest moves first; empty where no bank feeds it.
    #[must_use]
    pub fn of(&self, load: LoadId) -> &[Feed] {
        &self.of_load[load.index()]
    }

    /// The bank that feeds a load in its first way.
    #[must_use]
    pub fn bank(&self, load: LoadId) -> Option<BankId> {
        self.of(load).first().map(|feed| feed.bank)
    }

    /// Position of every part at rest.
    #[must_use]
    pub fn rest(&self) -> &[u16] {
        &self.rest
    }
}

/// The position of a part that nobody has moved: off where it has an off, hanging as it does where it works by itself.
#[must_use]
pub fn rest(system: &System) -> Vec<u16> {
    system
        .gears
        .iter()
        .map(|gear| match gear.kind {
            GearKind::Relay | GearKind::Combiner => gear.normal,
            _ if gear.automatic => gear.normal,
            _ => gear.off.unwrap_or(gear.normal),
        })
        .collect()
}

/// What a search has reached from the posts of one bank, and how.
struct Tree {
    bank: BankId,
    /// Moves and links to each node.
    cost: Vec<Option<(u32, u32)>>,
    came: Vec<Option<(LinkId, NodeId)>>,
}

impl Tree {
    /// The post a node is reached from, and the links from there on.
    fn path(&self, node: NodeId) -> (NodeId, Vec<LinkId>) {
        let mut path = Vec::new();
        let mut at = node;
        while let Some((link, before)) = self.came[at.index()] {
            path.push(link);
            at = before;
        }
        path.reverse();
        (at, path)
    }
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Pole {
    Positive,
    Negative,
}

struct Search<'s> {
    system: &'s System,
    rest: Vec<u16>,
    /// By gear and position: whether a way may use it.
    usable: Vec<Vec<bool>>,
    /// Trees from the positive and from the negative posts of each bank, banks in order of preference.
    trees: Vec<(Tree, Tree)>,
}

/// Positions that a way asks for: by gear, those in which all its contacts on the way are closed.
type Wanted = Vec<(GearId, Vec<u16>)>;

impl<'s> Search<'s> {
    fn new(system: &'s System) -> Self {
        let usable = system
            .gears
            .iter()
            .map(|gear| {
                gear.positions
                    .iter()
                    .map(|position| !position.joins_banks && !position.emergency)
                    .collect()
            })
            .collect();
        let mut search = Self {
            system,
            rest: rest(system),
            usable,
            trees: Vec::new(),
        };
        let mut banks: Vec<BankId> = (0..system.banks.len().min(MAX_BANKS))
            .map(BankId::at)
            .collect();
        banks.sort_by_key(|bank| match system.banks[bank.index()].purpose {
            Purpose::House => 0,
            Purpose::Other(_) => 1,
            Purpose::Start => 2,
        });
        search.trees = banks
            .into_iter()
            .map(|bank| {
                (
                    search.tree(bank, Pole::Positive, None),
                    search.tree(bank, Pole::Negative, None),
                )
            })
            .collect();
        search
    }

    /// Fewest moves, then fewest links, from the posts of a bank to all nodes, with one part held in a position.
    fn tree(&self, bank: BankId, pole: Pole, held: Option<(GearId, u16)>) -> Tree {
        let system = self.system;
        let nodes = system.nodes.len();
        let mut tree = Tree {
            bank,
            cost: vec![None; nodes],
            came: vec![None; nodes],
        };
        let mut heap = BinaryHeap::new();
        let mut start = |node: NodeId, moves: u32, tree: &mut Tree| {
            let better = tree.cost[node.index()].is_none_or(|known| (moves, 0) < known);
            if better {
                tree.cost[node.index()] = Some((moves, 0));
                heap.push(Reverse((moves, 0, node)));
            }
        };
        for string in &system.banks[bank.index()].strings {
            for (place, source) in string.iter().enumerate() {
                let link = &system.links[system.sources[source.index()].link.index()];
                let (post, outermost) = match pole {
                    Pole::Positive => (link.a, place + 1 == string.len()),
                    Pole::Negative => (link.b, place == 0),
                };
                let moves = if outermost { 0 } else { TAP };
                start(system.node_of(post), moves, &mut tree);
            }
        }
        while let Some(Reverse((moves, length, node))) = heap.pop() {
            if tree.cost[node.index()] != Some((moves, length)) {
                continue;
            }
            for &link in &system.nodes[node.index()].links {
                let Some(more) = self.moves(link, held) else {
                    continue;
                };
                let (a, b) = ends(system, link);
                if matches!(system.links[link.index()].kind, LinkKind::Diode { .. }) {
                    // Away from a positive post a diode passes from a to b, back to a negative one as well.
                    let along = (pole == Pole::Positive) == (a == node);
                    if !along {
                        continue;
                    }
                }
                let next = if a == node { b } else { a };
                let cost = (moves + more, length + 1);
                if tree.cost[next.index()].is_none_or(|known| cost < known) {
                    tree.cost[next.index()] = Some(cost);
                    tree.came[next.index()] = Some((link, node));
                    heap.push(Reverse((cost.0, cost.1, next)));
                }
            }
        }
        tree
    }

    /// How many parts have to be moved to pass a link; none where it cannot be passed.
    fn moves(&self, link: LinkId, held: Option<(GearId, u16)>) -> Option<u32> {
        if !conducts(self.system, link) {
            return None;
        }
        let LinkKind::Contact { gear, closed_in } = &self.system.links[link.index()].kind else {
            return Some(0);
        };
        if let Some((held, position)) = held
            && held == *gear
        {
            return closed_in.contains(&position).then_some(0);
        }
        let rest = self.rest[gear.index()];
        if closed_in.contains(&rest) {
            return Some(0);
        }
        closed_in
            .iter()
            .any(|&position| self.usable[gear.index()][usize::from(position)])
            .then_some(1)
    }

    /// The way to a load with the fewest moves; from the bank that the load names, where it names one.
    fn way(&self, load: LoadId) -> Option<Feed> {
        let system = self.system;
        let record = &system.loads[load.index()];
        let (plus, minus) = ends(system, record.link);
        let mut best: Option<(bool, u32, usize)> = None;
        for (index, (positive, negative)) in self.trees.iter().enumerate() {
            let (Some(out), Some(back)) =
                (positive.cost[plus.index()], negative.cost[minus.index()])
            else {
                continue;
            };
            let other = record.bank.is_some_and(|bank| bank.value != positive.bank);
            let key = (other, out.0.saturating_add(back.0), index);
            if best.is_none_or(|known| key < known) {
                best = Some(key);
            }
        }
        let (positive, negative) = &self.trees[best?.2];
        self.feed(load, positive, negative, None)
    }

    /// The way that two trees show.
    fn feed(
        &self,
        load: LoadId,
        positive: &Tree,
        negative: &Tree,
        held: Option<(GearId, u16)>,
    ) -> Option<Feed> {
        let system = self.system;
        let (plus, minus) = ends(system, system.loads[load.index()].link);
        let (from, out) = positive.path(plus);
        let (to, mut back) = negative.path(minus);
        back.reverse();
        let Some(moved) = self.positions(out.iter().chain(&back), held) else {
            return self.exact(load, (positive.bank, from, to), (plus, minus), held);
        };
        Some(Feed {
            load,
            bank: positive.bank,
            from,
            to,
            positive: out,
            negative: back,
            moved,
            coils: Vec::new(),
            control: Vec::new(),
        })
    }

    /// One position for every part on a way; none where two contacts of a part exclude each other.
    fn positions<'l>(
        &self,
        path: impl Iterator<Item = &'l LinkId>,
        held: Option<(GearId, u16)>,
    ) -> Option<Vec<(GearId, u16)>> {
        let mut wanted: Wanted = Vec::new();
        if let Some((gear, position)) = held {
            wanted.push((gear, vec![position]));
        }
        for link in path {
            let LinkKind::Contact { gear, closed_in } = &self.system.links[link.index()].kind
            else {
                continue;
            };
            let closes = |position: u16| closed_in.contains(&position);
            if let Some((_, positions)) = wanted.iter_mut().find(|(known, _)| known == gear) {
                positions.retain(|&position| closes(position));
            } else {
                let rest = self.rest[gear.index()];
                let usable = &self.usable[gear.index()];
                let positions = closed_in
                    .iter()
                    .copied()
                    .filter(|&at| at == rest || usable[usize::from(at)])
                    .collect();
                wanted.push((*gear, positions));
            }
        }
        let mut moved = Vec::new();
        for (gear, positions) in wanted {
            let rest = self.rest[gear.index()];
            if positions.contains(&rest) {
                continue;
            }
            moved.push((gear, *positions.first()?));
        }
        moved.sort_unstable();
        let forbidden = self
            .system
            .interlocks
            .iter()
            .any(|interlock| self.occurs(&interlock.never, &moved));
        (!forbidden).then_some(moved)
    }

    /// Whether all of these positions occur when only `moved` has left its rest.
    fn occurs(&self, never: &[(GearId, u16)], moved: &[(GearId, u16)]) -> bool {
        !never.is_empty()
            && never.iter().all(|&(gear, position)| {
                let now = moved
                    .iter()
                    .find(|(of, _)| *of == gear)
                    .map_or(self.rest[gear.index()], |&(_, at)| at);
                now == position
            })
    }

    /// The way by the exact search over all states, for loads whose shortest way contradicts itself.
    fn exact(
        &self,
        load: LoadId,
        (bank, from, to): (BankId, NodeId, NodeId),
        (plus, minus): (NodeId, NodeId),
        held: Option<(GearId, u16)>,
    ) -> Option<Feed> {
        let system = self.system;
        let mut constraints = Constraints::none(system).forbid(system, |_, position| {
            position.joins_banks || position.emergency
        });
        if let Some((gear, position)) = held {
            constraints = constraints.fix(gear, position);
        }
        let joined = |constraints: &Constraints, start: NodeId, end: NodeId| {
            Reach::new(system, constraints, |_| Some(f64::INFINITY))
                .joined(&[start], end)
                .witness()
        };
        let out = joined(&constraints, from, plus)?;
        for &link in &out.path {
            if let LinkKind::Contact { gear, .. } = &system.links[link.index()].kind {
                constraints = constraints.fix(*gear, out.state.position(*gear));
            }
        }
        let back = joined(&constraints, minus, to)?;
        let mut moved = Vec::new();
        for &link in out.path.iter().chain(&back.path) {
            if let LinkKind::Contact { gear, .. } = &system.links[link.index()].kind {
                let position = back.state.position(*gear);
                if position != self.rest[gear.index()] {
                    moved.push((*gear, position));
                }
            }
        }
        moved.sort_unstable();
        moved.dedup();
        Some(Feed {
            load,
            bank,
            from,
            to,
            positive: out.path,
            negative: back.path,
            moved,
            coils: Vec::new(),
            control: Vec::new(),
        })
    }

    /// Adds the ways over contacts that no way passes so far, each to the first load that it feeds.
    fn second_ways(&self, of_load: &mut [Vec<Feed>]) {
        let system = self.system;
        let mut covered: Vec<Vec<u16>> = vec![Vec::new(); system.links.len()];
        for feed in of_load.iter().flatten() {
            self.cover(feed, &mut covered);
        }
        let mut tries = 0;
        for (index, link) in system.links.iter().enumerate() {
            let LinkKind::Contact { gear, closed_in } = &link.kind else {
                continue;
            };
            // Battery switches and combiners are looked at position by position in a table of their own.
            let kind = system.gears[gear.index()].kind;
            if matches!(kind, GearKind::BatterySwitch | GearKind::Combiner) {
                continue;
            }
            for &position in closed_in {
                let usable = self.usable[gear.index()][usize::from(position)]
                    || position == self.rest[gear.index()];
                if !usable || covered[index].contains(&position) || tries == MAX_SECOND_WAYS {
                    continue;
                }
                tries += 1;
                if let Some(feed) = self.way_over(LinkId::at(index), (*gear, position)) {
                    self.cover(&feed, &mut covered);
                    let feeds = &mut of_load[feed.load.index()];
                    if !feeds.contains(&feed) {
                        feeds.push(feed);
                    }
                }
            }
        }
    }

    /// Marks the contacts of a way as tried in the positions that it asks for.
    fn cover(&self, feed: &Feed, covered: &mut [Vec<u16>]) {
        for link in feed.positive.iter().chain(&feed.negative) {
            if let LinkKind::Contact { gear, .. } = &self.system.links[link.index()].kind {
                let position = feed
                    .moved
                    .iter()
                    .find(|(moved, _)| moved == gear)
                    .map_or(self.rest[gear.index()], |&(_, position)| position);
                covered[link.index()].push(position);
            }
        }
    }

    /// The way over one contact in one position to the first load that it feeds.
    fn way_over(&self, contact: LinkId, held: (GearId, u16)) -> Option<Feed> {
        let system = self.system;
        for (plain, negative) in &self.trees {
            let (a, b) = ends(system, contact);
            if plain.cost[a.index()].is_none() && plain.cost[b.index()].is_none() {
                continue;
            }
            let tree = self.tree(plain.bank, Pole::Positive, Some(held));
            for (index, load) in system.loads.iter().enumerate() {
                let (plus, minus) = ends(system, load.link);
                if tree.cost[plus.index()].is_none() || negative.cost[minus.index()].is_none() {
                    continue;
                }
                if tree.path(plus).1.contains(&contact) {
                    let feed = self.feed(LoadId::at(index), &tree, negative, Some(held));
                    if feed.is_some() {
                        return feed;
                    }
                }
            }
        }
        None
    }
}

/// Adds to a way what energises the relays on it: coils, their ways, and the relays on those in turn.
fn energise(system: &System, feed: &mut Feed, plain: &[Vec<Feed>]) {
    let mut next = 0;
    let mut waiting: Vec<GearId> = feed.moved.iter().map(|&(gear, _)| gear).collect();
    while next < waiting.len() {
        let gear = &system.gears[waiting[next].index()];
        next += 1;
        let (GearKind::Relay, Some(coil)) = (gear.kind, gear.coil) else {
            continue;
        };
        if coil == feed.load || feed.coils.contains(&coil) {
            continue;
        }
        feed.coils.push(coil);
        let Some(way) = plain[coil.index()].first() else {
            continue;
        };
        for &link in way.positive.iter().chain(&way.negative) {
            let own = feed.positive.contains(&link) || feed.negative.contains(&link);
            if !own && !feed.control.contains(&link) {
                feed.control.push(link);
            }
        }
        for &(gear, position) in &way.moved {
            if feed.moved.iter().all(|&(moved, _)| moved != gear) {
                feed.moved.push((gear, position));
                waiting.push(gear);
            }
        }
    }
    feed.moved.sort_unstable();
    feed.coils.sort_unstable();
}

/// What every bank keeps alive in one state of positions: by node, the first bank that reaches it.
#[must_use]
pub fn alive(system: &System, positions: &[u16], opened: &[bool]) -> Vec<Option<BankId>> {
    reached_by_banks(system, |link| passes(system, positions, opened, link))
}

/// By node: whether it is joined to the lowest negative post of a bank in one state of positions.
#[must_use]
pub fn returned(system: &System, positions: &[u16], opened: &[bool]) -> Vec<bool> {
    let strings = system.banks.iter().flat_map(|bank| &bank.strings);
    let posts: Vec<NodeId> = strings
        .filter_map(|string| string.first())
        .map(|lowest| system.sources[lowest.index()].link)
        .map(|link| system.node_of(system.links[link.index()].b))
        .collect();
    reached_from(system, &posts, |link| {
        passes(system, positions, opened, link)
    })
}

/// By node: whether a meter finds the voltage of a bank there though none reaches it, because a load that is switched on
/// has lost its way to the negative. What banks reach and what is returned are those of the same state.
#[must_use]
pub fn raised(
    system: &System,
    (positions, opened): (&[u16], &[bool]),
    on: &[bool],
    alive: &[Option<BankId>],
    returned: &[bool],
) -> Vec<bool> {
    let mut raised = vec![false; system.nodes.len()];
    let mut waiting: Vec<NodeId> = (0..alive.len())
        .filter(|&node| alive[node].is_some() && !returned[node])
        .map(NodeId::at)
        .collect();
    while let Some(node) = waiting.pop() {
        for &link in &system.nodes[node.index()].links {
            let (a, b) = ends(system, link);
            let next = if a == node { b } else { a };
            let leads = match &system.links[link.index()].kind {
                LinkKind::Load(load) => on[load.index()],
                LinkKind::Diode { .. } => a == node,
                _ => conducts(system, link) && passes(system, positions, opened, link),
            };
            let known = alive[next.index()].is_some() || returned[next.index()];
            if leads && !known && !raised[next.index()] {
                raised[next.index()] = true;
                waiting.push(next);
            }
        }
    }
    raised
}

/// By gear: whether it is a relay whose coil lies between a bank and a negative in one state of positions.
#[must_use]
pub fn energised(system: &System, positions: &[u16], opened: &[bool]) -> Vec<bool> {
    let alive = alive(system, positions, opened);
    let returned = returned(system, positions, opened);
    let is_fed = |coil: LoadId| {
        let (a, b) = ends(system, system.loads[coil.index()].link);
        let between = |high: NodeId, low: NodeId| {
            alive[high.index()].is_some() && alive[low.index()].is_none() && returned[low.index()]
        };
        between(a, b) || between(b, a)
    };
    system
        .gears
        .iter()
        .map(|gear| gear.kind == GearKind::Relay && gear.coil.is_some_and(is_fed))
        .collect()
}

/// Whether a switch in its position, or a device that has not opened, lets current through; all other links do.
fn passes(system: &System, positions: &[u16], opened: &[bool], link: LinkId) -> bool {
    match &system.links[link.index()].kind {
        LinkKind::Device(device) => !opened[device.index()],
        LinkKind::Contact { gear, closed_in } => closed_in.contains(&positions[gear.index()]),
        _ => true,
    }
}

/// By node, the first bank whose positive posts reach it over links that let current through.
pub(in crate::analysis) fn reached_by_banks(
    system: &System,
    passes: impl Fn(LinkId) -> bool,
) -> Vec<Option<BankId>> {
    let mut alive = vec![None; system.nodes.len()];
    let mut waiting = Vec::new();
    for (index, bank) in system.banks.iter().enumerate() {
        let posts = bank.strings.iter().flatten().map(|source| {
            let link = &system.links[system.sources[source.index()].link.index()];
            system.node_of(link.a)
        });
        for post in posts {
            if alive[post.index()].is_none() {
                alive[post.index()] = Some(BankId::at(index));
                waiting.push(post);
            }
        }
        while let Some(node) = waiting.pop() {
            for &link in &system.nodes[node.index()].links {
                let (a, b) = ends(system, link);
                let next = if a == node { b } else { a };
                let backwards =
                    matches!(system.links[link.index()].kind, LinkKind::Diode { .. }) && a != node;
                if alive[next.index()].is_none()
                    && !backwards
                    && conducts(system, link)
                    && passes(link)
                {
                    alive[next.index()] = Some(BankId::at(index));
                    waiting.push(next);
                }
            }
        }
    }
    alive
}

/// Nodes that closed links join to a node, diodes one way only.
pub(in crate::analysis) fn reached(
    system: &System,
    from: NodeId,
    passes: impl Fn(LinkId) -> bool,
) -> Vec<bool> {
    reached_from(system, &[from], passes)
}

/// Nodes that closed links join to the positive posts of a bank, diodes one way only.
pub(super) fn reached_by_bank(
    system: &System,
    bank: BankId,
    passes: impl Fn(LinkId) -> bool,
) -> Vec<bool> {
    let strings = &system.banks[bank.index()].strings;
    let posts: Vec<NodeId> = strings
        .iter()
        .flatten()
        .map(|source| ends(system, system.sources[source.index()].link).0)
        .collect();
    reached_from(system, &posts, passes)
}

fn reached_from(system: &System, from: &[NodeId], passes: impl Fn(LinkId) -> bool) -> Vec<bool> {
    let mut reached = vec![false; system.nodes.len()];
    let mut waiting = from.to_vec();
    for node in from {
        reached[node.index()] = true;
    }
    while let Some(node) = waiting.pop() {
        for &link in &system.nodes[node.index()].links {
            let (a, b) = ends(system, link);
            let backwards =
                matches!(system.links[link.index()].kind, LinkKind::Diode { .. }) && a != node;
            let next = if a == node { b } else { a };
            if !reached[next.index()] && !backwards && conducts(system, link) && passes(link) {
                reached[next.index()] = true;
                waiting.push(next);
            }
        }
    }
    reached
}
