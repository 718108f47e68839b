//! Designations and terminals: declaring them, finding them, and saying what was probably meant.

use super::faults::{
    BAD_DESIGNATION, DUPLICATE_DESIGNATION, DUPLICATE_TERMINAL, SITS_ON_ITSELF, TERMINAL_NOT_NAMED,
    TWO_SPELLINGS, UNKNOWN_COMPONENT, UNKNOWN_TERMINAL,
};
use super::fields::{At, Field, listed, quoted};
use super::{Resolver, finding};
use crate::diag::{Severity, nearest};
use crate::netlist::Entry;
use crate::netlist::text::Text;
use crate::source::Span;
use crate::system::{
    CableId, Component, ComponentId, ComponentKind, ConductorId, Given, Known, Link, LinkId,
    LinkKind, Node, NodeId, Source, Terminal, TerminalId, TerminalRole,
};
use crate::units::{Ohms, Volts};
use std::collections::{HashMap, HashSet};

/// Comparisons of names that one file may cost.
pub(super) const MAX_GUESSES: usize = 200_000;

/// Terminals that one component may have.
pub(super) const MAX_TERMINALS: usize = 400;

/// Studs, ways, cavities or outputs that one component may have.
pub(super) const MAX_PLACES: u32 = 200;

/// Names of one kind, for looking up and for guessing.
#[derive(Debug, Default)]
pub(super) struct Index<'n> {
    by_name: HashMap<&'n str, u32>,
    order: Vec<&'n str>,
}

impl<'n> Index<'n> {
    /// Adds a name; the id it already has if it is not new.
    pub(super) fn add(&mut self, name: &'n str, id: u32) -> Option<u32> {
        if let Some(&known) = self.by_name.get(name) {
            return Some(known);
        }
        self.by_name.insert(name, id);
        self.order.push(name);
        None
    }

    pub(super) fn get(&self, name: &str) -> Option<u32> {
        self.by_name.get(name).copied()
    }

    pub(super) fn names(&self) -> &[&'n str] {
        &self.order
    }
}

/// All names of the file.
#[derive(Debug, Default)]
pub(super) struct Names<'n> {
    pub(super) components: Index<'n>,
    /// Designations that two components share; what is said of one may hold for the other.
    pub(super) shared: HashSet<&'n str>,
    pub(super) zones: Index<'n>,
    pub(super) points: Index<'n>,
    pub(super) ways: Index<'n>,
    pub(super) bundles: Index<'n>,
    /// Uses of each bundle without a record; none for those with one.
    pub(super) bundle_uses: Vec<Option<u32>>,
    /// Wire numbers of runs that are left out because an end is missing.
    pub(super) broken_numbers: HashSet<String>,
    /// Ways that are left out because they join nothing.
    pub(super) broken_ways: HashSet<&'n str>,
    /// Whether each bank has no record.
    pub(super) bank_implied: Vec<bool>,
    pub(super) banks: Index<'n>,
    pub(super) circuits: Index<'n>,
    pub(super) spools: Index<'n>,
    /// Cables by designation.
    pub(super) cables: HashMap<String, CableId>,
    /// Conductors by wire number.
    pub(super) numbers: HashMap<String, ConductorId>,
    /// Forward voltage of the diode isolators that give one.
    pub(super) forward: HashMap<ComponentId, Volts>,
    /// Contact resistance of the connectors that give one.
    pub(super) contact_resistance: HashMap<ComponentId, Given<Ohms>>,
    /// What the outputs of a charger that lists none have in common.
    pub(super) charger_common: HashMap<ComponentId, Source>,
    /// Contact links of each gear.
    pub(super) contacts: Vec<Vec<LinkId>>,
    /// Whether the file names the normal position, by gear.
    pub(super) normal_given: Vec<bool>,
    /// What each component can grow on demand, by component.
    pub(super) growth: Vec<Growth>,
}

/// Terminals that a component gets when they are named, because the file does not say how many it has.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Growth {
    /// None: all its terminals are known.
    Fixed,
    /// Outputs of a diode isolator.
    Outputs,
    /// Cavities of a connector.
    Cavities,
    /// Outputs of a charger.
    ChargerOutputs,
}

/// The studs of one electrical point, any of which a bare name may take.
#[derive(Debug)]
pub(super) struct Pool {
    pub(super) component: ComponentId,
    node: NodeId,
    /// What stands before the stud number: nothing, or `negative.`
    prefix: &'static str,
    /// Whether the number of studs is known.
    fixed: bool,
    /// Terminals by stud number.
    studs: Vec<TerminalId>,
    /// Landings on each stud.
    taken: Vec<u32>,
    /// The stud that was given out last.
    cursor: usize,
}

/// Where a reference leads.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Landing {
    /// A certain terminal.
    At(TerminalId),
    /// Any free stud of a pool.
    Free(usize),
}

/// What a component's bare name stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Bare {
    /// Its one electrical point.
    OnePoint,
    /// Its supply: the positive of a battery, the load side of a device.
    Feed,
    /// Its negative.
    Return,
    /// Nothing: a point is written and no terminal behind it.
    Nothing,
}

/// How a terminal was written first.
#[derive(Clone, Copy, Debug)]
pub(super) struct Spelling<'n> {
    text: &'n str,
    span: Span,
    told: bool,
}

/// A part that sits on a stud of another.
#[derive(Clone, Copy)]
pub(super) struct Sitting<'n> {
    component: ComponentId,
    /// Terminal of the part that touches the stud.
    inner: TerminalId,
    on: Field<'n>,
}

/// The name most like a word, as long as the file has comparisons left.
pub(super) fn guess<'a>(budget: &mut usize, word: &str, names: &[&'a str]) -> Option<&'a str> {
    if names.len() > *budget {
        return None;
    }
    *budget -= names.len();
    nearest(word, names.iter().copied())
}

/// The one name a terminal has, whichever of its usual names is written.
fn canonical(part: &str) -> &str {
    match part {
        "positive" | "pos" | "plus" => "+",
        "negative" | "neg" | "minus" => "-",
        other => other,
    }
}

impl<'n> Resolver<'n> {
    /// Declares a component; its terminals and links follow.
    pub(super) fn declare<T>(
        &mut self,
        kind: ComponentKind,
        entry: &'n Entry<T>,
        at: Option<&'n Text>,
        zone: Option<&'n Text>,
    ) -> ComponentId {
        let place = At::entry(self.document, entry);
        let id = ComponentId::at(self.system.components.len());
        let name: &'n str = &entry.name;
        if name.trim().is_empty() || name.contains('.') {
            let told = finding(
                BAD_DESIGNATION,
                Severity::Error,
                name,
                format!("the designation {} cannot be used in a reference", quoted(name)),
            )
            .label(entry.name_span, "empty, or with a point in it")
            .repair("give it a name without a point; the point stands between a component and its terminal");
            self.tell(told);
        }
        if let Some(first) = self.names.components.add(name, id.0) {
            self.names.shared.insert(name);
            let told = finding(
                DUPLICATE_DESIGNATION,
                Severity::Error,
                name,
                format!("two components are called {}", quoted(name)),
            )
            .label(entry.name_span, "the second one")
            .label(
                self.system.components[first as usize].span,
                "the first one, in another section",
            )
            .repair("rename one of them and the references to it");
            self.tell(told);
        }
        let point = self.point(place.field("at", at));
        let zone = self.zone(place.field("zone", zone));
        let zone = zone.or_else(|| self.zone_of(point));
        self.system.components.push(Component {
            name: name.to_owned(),
            span: entry.name_span,
            kind,
            label: name.to_owned(),
            zone,
            point,
            terminals: Vec::new(),
            rating: None,
            intermittent_rating: None,
            design_current: None,
            voltage_rating: None,
            stud: None,
            way_stud: None,
            size: None,
            columns: None,
            studs: None,
            negative_rating: None,
            ignition_protected: None,
            covered: None,
            sealed: None,
            compensated: None,
            polarity: None,
            ground: None,
            connector: None,
            subkind: String::new(),
        });
        self.names.growth.push(Growth::Fixed);
        id
    }

    /// The component being declared, for the facts of its kind.
    pub(super) fn part(&mut self, id: ComponentId) -> &mut Component {
        &mut self.system.components[id.index()]
    }

    /// A terminal that is an electrical point of its own.
    pub(super) fn terminal(
        &mut self,
        component: ComponentId,
        name: impl Into<String>,
        role: TerminalRole,
    ) -> TerminalId {
        let node = self.new_node();
        self.terminal_on(component, name, role, node)
    }

    /// A terminal on an electrical point that others share.
    pub(super) fn terminal_on(
        &mut self,
        component: ComponentId,
        name: impl Into<String>,
        role: TerminalRole,
        node: NodeId,
    ) -> TerminalId {
        let name = name.into();
        self.check_terminal(component, &name, role);
        let id = self.hidden_terminal(component, name, role, node);
        self.system.components[component.index()].terminals.push(id);
        id
    }

    /// Tells a terminal that no reference could name.
    fn check_terminal(&mut self, component: ComponentId, name: &str, role: TerminalRole) {
        let part = &self.system.components[component.index()];
        let twice = part
            .terminals
            .iter()
            .any(|terminal| self.system.terminals[terminal.index()].name == name);
        let one_point = matches!(part.kind, ComponentKind::Splice | ComponentKind::Ground)
            && role == TerminalRole::Stud;
        let nameless = name.is_empty() && !one_point;
        if !twice && !nameless {
            return;
        }
        let (designation, span) = (part.name.clone(), part.span);
        let message = if nameless {
            format!("a terminal of {} has no name", quoted(&designation))
        } else {
            format!(
                "{} has two terminals called {}",
                quoted(&designation),
                quoted(name)
            )
        };
        let told = finding(DUPLICATE_TERMINAL, Severity::Error, &designation, message)
            .label(span, "of this component")
            .repair("give every terminal a name of its own");
        self.tell(told);
    }

    /// A point inside a part, on which no conductor can land.
    pub(super) fn inner_point(
        &mut self,
        component: ComponentId,
        name: impl Into<String>,
    ) -> TerminalId {
        let node = self.new_node();
        self.hidden_terminal(component, name, TerminalRole::Out, node)
    }

    fn hidden_terminal(
        &mut self,
        component: ComponentId,
        name: impl Into<String>,
        role: TerminalRole,
        node: NodeId,
    ) -> TerminalId {
        let id = TerminalId::at(self.system.terminals.len());
        self.system.terminals.push(Terminal {
            component,
            name: name.into(),
            role,
            node,
            conductors: Vec::new(),
        });
        self.spellings.push(None);
        self.system.nodes[node.index()].terminals.push(id);
        id
    }

    pub(super) fn new_node(&mut self) -> NodeId {
        let node = NodeId::at(self.system.nodes.len());
        self.system.nodes.push(Node::default());
        node
    }

    /// A link between two terminals.
    pub(super) fn link(
        &mut self,
        kind: LinkKind,
        (a, b): (TerminalId, TerminalId),
        span: Span,
        resistance: Known<Ohms>,
    ) -> LinkId {
        let component = self.system.terminals[a.index()].component;
        self.link_inside(component, kind, (a, b), span, resistance)
    }

    /// A link that belongs to a component other than that of its first terminal.
    fn link_inside(
        &mut self,
        component: ComponentId,
        kind: LinkKind,
        (a, b): (TerminalId, TerminalId),
        span: Span,
        resistance: Known<Ohms>,
    ) -> LinkId {
        let id = LinkId::at(self.system.links.len());
        self.system.links.push(Link {
            kind,
            a,
            b,
            component,
            span,
            resistance,
        });
        id
    }

    /// The studs of one electrical point; of an unknown number of studs, as many as are used.
    pub(super) fn pool(
        &mut self,
        component: ComponentId,
        prefix: &'static str,
        count: Known<u32>,
    ) -> usize {
        let node = self.new_node();
        let index = self.pools.len();
        self.pools.push(Pool {
            component,
            node,
            prefix,
            fixed: count.is_some(),
            studs: Vec::new(),
            taken: Vec::new(),
            cursor: 0,
        });
        for _ in 0..count.map_or(1, |count| count.value) {
            self.add_stud(index);
        }
        index
    }

    fn add_stud(&mut self, pool: usize) -> TerminalId {
        let Pool {
            component,
            node,
            prefix,
            ref studs,
            ..
        } = self.pools[pool];
        let name = format!("{prefix}{}", studs.len() + 1);
        let terminal = self.terminal_on(component, name, TerminalRole::Stud, node);
        self.pools[pool].studs.push(terminal);
        self.pools[pool].taken.push(0);
        terminal
    }

    /// The pool of a component with a prefix.
    fn pool_of(&self, component: ComponentId, prefix: &str) -> Option<usize> {
        // Pools are made in the order of the components, so they can be searched by halves.
        let start = self
            .pools
            .partition_point(|pool| pool.component < component);
        self.pools[start..]
            .iter()
            .take_while(|pool| pool.component == component)
            .position(|pool| pool.prefix == prefix)
            .map(|offset| start + offset)
    }

    /// The first stud of the one electrical point that a component is.
    pub(super) fn first_stud(&self, pool: usize) -> TerminalId {
        self.pools[pool].studs[0]
    }

    /// Marks the studs that references name, so that bare names do not take them.
    pub(super) fn reserve(&mut self, landing: Landing) {
        let Landing::At(terminal) = landing else {
            return;
        };
        let component = self.system.terminals[terminal.index()].component;
        let start = self
            .pools
            .partition_point(|pool| pool.component < component);
        for pool in &mut self.pools[start..] {
            if pool.component != component {
                return;
            }
            if let Ok(stud) = pool.studs.binary_search(&terminal) {
                pool.taken[stud] += 1;
                return;
            }
        }
    }

    /// The terminal of a landing; a bare name takes the next free stud.
    ///
    /// Where none is free the studs are taken in turn: how many may share one is a matter for the rules.
    pub(super) fn settle(&mut self, landing: Landing) -> TerminalId {
        let index = match landing {
            Landing::At(terminal) => return terminal,
            Landing::Free(index) => index,
        };
        let pool = &mut self.pools[index];
        while pool.cursor < pool.studs.len() && pool.taken[pool.cursor] > 0 {
            pool.cursor += 1;
        }
        if pool.cursor < pool.studs.len() {
            pool.taken[pool.cursor] = 1;
            return pool.studs[pool.cursor];
        }
        if !pool.fixed && pool.studs.len() < MAX_PLACES as usize {
            let terminal = self.add_stud(index);
            let pool = &mut self.pools[index];
            pool.cursor = pool.studs.len();
            pool.taken[pool.cursor - 1] = 1;
            return terminal;
        }
        // All taken: go on with the first stud of the fewest landings.
        let least = (0..pool.studs.len())
            .min_by_key(|&stud| pool.taken[stud])
            .unwrap_or(0);
        pool.taken[least] += 1;
        pool.studs[least]
    }

    /// The component of a name, with a finding where there is none.
    pub(super) fn component_named(
        &mut self,
        field: Field<'n>,
        name: &'n str,
        span: Span,
    ) -> Option<ComponentId> {
        if let Some(id) = self.names.components.get(name) {
            return Some(ComponentId(id));
        }
        let other = self.what_else(name);
        let found = guess(&mut self.guesses, name, self.names.components.names());
        let message = if name.is_empty() {
            format!("{} names no component", field.title())
        } else {
            format!(
                "{} names {}, which is no component",
                field.title(),
                quoted(name)
            )
        };
        let mut told = Self::error(UNKNOWN_COMPONENT, field, message);
        told = match other {
            None if name.is_empty() => told.label(span, "no component"),
            Some(what) => told.label(span, format!("this is a {what}, no component")),
            None => told.label(span, "no component has this designation"),
        };
        told.help = match found {
            Some(near) => format!("did you mean {}?", quoted(near)),
            None if name.is_empty() => "write `component.terminal`".to_owned(),
            None => format!("correct the name, or add {} to its section", quoted(name)),
        };
        self.tell(told);
        None
    }

    /// What a name is that is no component.
    fn what_else(&self, name: &str) -> Option<&'static str> {
        let names = &self.names;
        [
            (&names.zones, "zone"),
            (&names.points, "point"),
            (&names.ways, "way"),
            (&names.bundles, "bundle"),
            (&names.banks, "bank"),
            (&names.circuits, "circuit"),
        ]
        .into_iter()
        .find_map(|(index, what)| index.get(name).map(|_| what))
    }

    /// The terminal that a field names.
    pub(super) fn landing(&mut self, field: Field<'n>, bare: Bare) -> Option<Landing> {
        let Reference {
            component,
            part,
            part_start,
        } = self.reference(field)?;
        match part {
            Some(part) => self.named_terminal(field, component, part, part_start),
            None => self.bare(field, component, bare),
        }
    }

    /// The component that a field names, and its terminal where one is written.
    pub(super) fn reference(&mut self, field: Field<'n>) -> Option<Reference<'n>> {
        let text = field.text;
        let start = text.len() - text.trim_start().len();
        let trimmed = text.trim();
        let (head, part) = match trimmed.split_once('.') {
            Some((head, part)) => (head, Some(part)),
            None => (trimmed, None),
        };
        let span = if head.is_empty() {
            field.span()
        } else {
            field.part(start..start + head.len())
        };
        let component = self.component_named(field, head, span)?;
        Some(Reference {
            component,
            part,
            part_start: start + head.len() + 1,
        })
    }

    /// A terminal of a component by the name written.
    pub(super) fn named_terminal(
        &mut self,
        field: Field<'n>,
        component: ComponentId,
        part: &'n str,
        part_start: usize,
    ) -> Option<Landing> {
        if part.is_empty() {
            return self.bare(field, component, Bare::Nothing);
        }
        let span = field.part(part_start..part_start + part.len());
        if let Some(landing) = self.find_terminal(component, part) {
            self.note_spelling(landing, part, span);
            return Some(landing);
        }
        let name = self.system.components[component.index()].name.clone();
        if self.names.shared.contains(name.as_str()) {
            // The other component of this name may have it; the double name is told already.
            return None;
        }
        let terminals: Vec<String> = self.offered(component);
        let offered: Vec<&str> = terminals.iter().map(String::as_str).collect();
        let kind = self.system.components[component.index()].kind;
        let one_point = matches!(kind, ComponentKind::Splice | ComponentKind::Ground);
        // Terminals with a number are told apart by it; another number is no slip of the pen.
        let numbered = part.starts_with(|first: char| first.is_ascii_digit());
        let near = if numbered {
            None
        } else {
            guess(&mut self.guesses, part, &offered)
        };
        let mut told = Self::error(
            UNKNOWN_TERMINAL,
            field,
            format!("{} has no terminal {}", quoted(&name), quoted(part)),
        )
        .label(
            span,
            if one_point {
                "it is one electrical point".to_owned()
            } else {
                format!("its terminals are {}", listed(offered.iter().copied()))
            },
        );
        told.help = match (near, kind) {
            _ if one_point => format!("write {} alone", quoted(&name)),
            (_, ComponentKind::Relay) if matches!(part, "nc" | "no") => {
                "say `contacts: changeover` if the relay has this contact".to_owned()
            }
            (Some(near), _) => format!("did you mean `{name}.{near}`?"),
            (None, ComponentKind::FuseBlock) => {
                format!("name one of its ways, or add way {} to it", quoted(part))
            }
            (None, _) => match offered.first() {
                Some(first) => format!("write for example `{name}.{first}`"),
                None => "give the component its terminals".to_owned(),
            },
        };
        self.tell(told);
        None
    }

    /// Names of a component's terminals, a row of studs told as one.
    fn offered(&self, component: ComponentId) -> Vec<String> {
        let mut names: Vec<String> = Vec::new();
        for &terminal in &self.system.components[component.index()].terminals {
            let name = &self.system.terminals[terminal.index()].name;
            match name.strip_prefix("negative.") {
                Some("1") => names.push("negative".to_owned()),
                Some(_) => {}
                None => names.push(name.clone()),
            }
        }
        names
    }

    /// The terminal itself, without a finding.
    fn find_terminal(&mut self, component: ComponentId, part: &str) -> Option<Landing> {
        if let Some(found) = self.exact_terminal(component, part) {
            return Some(found);
        }
        let plain = canonical(part);
        if plain != part
            && let Some(found) = self.exact_terminal(component, plain)
        {
            return Some(found);
        }
        self.grow(component, part).map(Landing::At)
    }

    /// A terminal by its own name, without a finding and without noting how it is written.
    pub(super) fn known_terminal(&mut self, component: ComponentId, name: &str) -> Option<Landing> {
        self.find_terminal(component, name)
    }

    /// The terminal of exactly this name.
    pub(super) fn exact_name(&self, component: ComponentId, name: &str) -> Option<TerminalId> {
        let terminals = &self.system.components[component.index()].terminals;
        terminals
            .iter()
            .copied()
            .find(|terminal| self.system.terminals[terminal.index()].name == name)
    }

    fn exact_terminal(&mut self, component: ComponentId, part: &str) -> Option<Landing> {
        if let Some(found) = self.exact_name(component, part) {
            // A splice or a ground has one terminal without a name; an empty part names nothing.
            return (!part.is_empty()).then_some(Landing::At(found));
        }
        if let Some(pool) = self.pool_of(component, "negative.") {
            if matches!(part, "negative" | "-") {
                return Some(Landing::Free(pool));
            }
            if let Some(number) = part.strip_prefix("negative.") {
                return self.grow_stud(pool, number).map(Landing::At);
            }
        }
        let pool = self.pool_of(component, "")?;
        self.grow_stud(pool, part).map(Landing::At)
    }

    /// A numbered stud of a pool whose number of studs is not known.
    fn grow_stud(&mut self, pool: usize, number: &str) -> Option<TerminalId> {
        let number = place_number(number)? as usize;
        if let Some(&stud) = self.pools[pool].studs.get(number - 1) {
            return Some(stud);
        }
        if self.pools[pool].fixed {
            return None;
        }
        while self.pools[pool].studs.len() < number {
            self.add_stud(pool);
        }
        self.pools[pool].studs.last().copied()
    }

    /// What a bare name stands for.
    pub(super) fn bare(
        &mut self,
        field: Field<'n>,
        component: ComponentId,
        bare: Bare,
    ) -> Option<Landing> {
        use ComponentKind as K;
        let kind = self.system.components[component.index()].kind;
        let by_kind = match (kind, bare) {
            (_, Bare::Nothing) => None,
            (K::Bus, _) => self.pool_of(component, "").map(Landing::Free),
            (K::Splice | K::Ground, _) => {
                let part = &self.system.components[component.index()];
                part.terminals.first().copied().map(Landing::At)
            }
            (K::Battery, Bare::Feed) => self.exact_terminal(component, "+"),
            (K::Battery, Bare::Return) => self.exact_terminal(component, "-"),
            (K::Fuse | K::Breaker, Bare::Feed) => self.exact_terminal(component, "out"),
            (K::FuseBlock, Bare::Return) => self.pool_of(component, "negative.").map(Landing::Free),
            _ => None,
        };
        if by_kind.is_some() {
            return by_kind;
        }
        let name = self.system.components[component.index()].name.clone();
        let terminals = self.offered(component);
        let offered: Vec<&str> = terminals.iter().map(String::as_str).collect();
        let help = match offered.first() {
            Some(first) => format!("write for example `{name}.{first}`"),
            None => "give the component its terminals".to_owned(),
        };
        let told = Self::error(
            TERMINAL_NOT_NAMED,
            field,
            format!(
                "{} names {} without a terminal",
                field.title(),
                quoted(&name)
            ),
        )
        .label(
            field.span(),
            format!("its terminals are {}", listed(offered.iter().copied())),
        )
        .repair(help);
        self.tell(told);
        None
    }

    fn note_spelling(&mut self, landing: Landing, part: &'n str, span: Span) {
        let Landing::At(terminal) = landing else {
            return;
        };
        match self.spellings[terminal.index()] {
            None => {
                self.spellings[terminal.index()] = Some(Spelling {
                    text: part,
                    span,
                    told: false,
                });
            }
            Some(first) if first.text != part && !first.told => {
                self.spellings[terminal.index()] = Some(Spelling {
                    told: true,
                    ..first
                });
                let name = self.system.terminal_name(terminal);
                let told = finding(
                    TWO_SPELLINGS,
                    Severity::Warning,
                    &name,
                    format!(
                        "the terminal `{name}` is written {} here and {} elsewhere",
                        quoted(part),
                        quoted(first.text)
                    ),
                )
                .label(span, "written this way here")
                .label(first.span, "written that way here")
                .repair(format!("write `{name}` in both places"));
                self.tell(told);
            }
            Some(_) => {}
        }
    }

    /// Notes that a part sits on a stud of another; the stud is looked up once all components are known.
    pub(super) fn sits_on(
        &mut self,
        component: ComponentId,
        inner: TerminalId,
        on: Option<Field<'n>>,
    ) {
        if let Some(on) = on {
            self.sitting.push(Sitting {
                component,
                inner,
                on,
            });
        }
    }

    /// Joins the parts that sit on studs; no conductor lies between.
    ///
    /// Runs and circuits have named their studs before, so that a bare name takes none of those.
    pub(super) fn sit_on_studs(&mut self) {
        let mut landings = Vec::new();
        for sitting in std::mem::take(&mut self.sitting) {
            let Some(landing) = self.landing(sitting.on, Bare::OnePoint) else {
                continue;
            };
            let outer = match landing {
                Landing::At(terminal) => self.system.terminals[terminal.index()].component,
                Landing::Free(pool) => self.pools[pool].component,
            };
            if outer == sitting.component {
                let told = Self::error(
                    SITS_ON_ITSELF,
                    sitting.on,
                    format!("{} sits on itself", quoted(sitting.on.element())),
                )
                .label(sitting.on.span(), "a stud of the part itself")
                .repair("name the stud of another component, or leave `on` out");
                self.tell(told);
                continue;
            }
            self.reserve(landing);
            landings.push((sitting, landing));
        }
        for (sitting, landing) in landings {
            let outer = self.settle(landing);
            self.link_inside(
                sitting.component,
                LinkKind::Joint,
                (outer, sitting.inner),
                sitting.on.span(),
                None,
            );
        }
    }
}

/// A component, and the terminal of it that is written.
pub(super) struct Reference<'n> {
    pub(super) component: ComponentId,
    pub(super) part: Option<&'n str>,
    /// Where the terminal's name begins in the text.
    pub(super) part_start: usize,
}

/// The number of a stud, a cavity or an output.
pub(super) fn place_number(text: &str) -> Option<u32> {
    let plain = !text.starts_with('0') && text.bytes().all(|byte| byte.is_ascii_digit());
    let number = text.parse::<u32>().ok()?;
    (plain && (1..=MAX_PLACES).contains(&number)).then_some(number)
}
