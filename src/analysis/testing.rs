//! Small boats for the tests of this room, put together by hand.

use crate::source::Span;
use crate::system::{
    Allowances, Behaviour, Boat, BundlingPolicy, Colour, Component, ComponentId, ComponentKind,
    Conductor, ConductorId, CountPoles, Device, DeviceId, DeviceKind, Draw, DropClass, Duty, Gear,
    GearId, GearKind, Given, Graph, Known, LengthUnits, Link, LinkId, LinkKind, Load, LoadId,
    LoadKind, Node, NodeId, OvercurrentLimit, Paper, Polarity, Policy, Position, Practice, Service,
    Source, SourceId, SourceKind, Stretch, System, Terminal, TerminalId, TerminalRole,
};
use crate::units::{Amps, Celsius, Metres, Volts};

/// A boat that grows part by part; terminals are written `part.terminal`, buses by their bare name.
pub(crate) struct Build {
    pub(crate) system: System,
}

impl Build {
    pub(crate) fn new() -> Self {
        Self {
            system: System {
                boat: boat(),
                zones: Vec::new(),
                points: Vec::new(),
                ways: Vec::new(),
                bundles: Vec::new(),
                components: Vec::new(),
                terminals: Vec::new(),
                nodes: Vec::new(),
                links: Vec::new(),
                conductors: Vec::new(),
                devices: Vec::new(),
                gears: Vec::new(),
                sources: Vec::new(),
                loads: Vec::new(),
                banks: Vec::new(),
                circuits: Vec::new(),
                scenarios: Vec::new(),
                interlocks: Vec::new(),
                acceptances: Vec::new(),
                cables: Vec::new(),
                spools: Vec::new(),
                label_stock: Vec::new(),
                chosen: crate::system::Chosen::default(),
                graph: Graph::default(),
            },
        }
    }

    pub(crate) fn component(&mut self, name: &str, kind: ComponentKind) -> ComponentId {
        let id = ComponentId::at(self.system.components.len());
        self.system.components.push(Component {
            name: name.to_owned(),
            span: Span::default(),
            kind,
            label: name.to_owned(),
            zone: None,
            point: None,
            terminals: Vec::new(),
            rating: None,
            intermittent_rating: None,
            design_current: None,
            voltage_rating: None,
            stud: None,
            way_stud: None,
            size: None,
            columns: None,
            negative_rating: None,
            studs: None,
            ignition_protected: None,
            covered: None,
            sealed: None,
            compensated: None,
            polarity: None,
            ground: None,
            connector: None,
            subkind: String::new(),
        });
        id
    }

    fn find(&self, name: &str) -> Option<ComponentId> {
        self.system
            .components
            .iter()
            .position(|component| component.name == name)
            .map(ComponentId::at)
    }

    /// The terminal of that name, made when it is new.
    pub(crate) fn terminal(&mut self, name: &str) -> TerminalId {
        let (part, terminal) = name.split_once('.').unwrap_or((name, ""));
        let component = self.find(part).expect("the part is built first");
        let existing = self.system.components[component.index()]
            .terminals
            .iter()
            .copied()
            .find(|id| self.system.terminals[id.index()].name == terminal);
        if let Some(id) = existing {
            return id;
        }
        let id = TerminalId::at(self.system.terminals.len());
        let node = NodeId::at(self.system.nodes.len());
        self.system.nodes.push(Node {
            terminals: vec![id],
            links: Vec::new(),
        });
        self.system.terminals.push(Terminal {
            component,
            name: terminal.to_owned(),
            role: match terminal {
                "+" => TerminalRole::Positive,
                "-" => TerminalRole::Negative,
                "in" | "feed" => TerminalRole::In,
                "" => TerminalRole::Stud,
                _ => TerminalRole::Out,
            },
            node,
            conductors: Vec::new(),
        });
        self.system.components[component.index()].terminals.push(id);
        id
    }

    fn link(&mut self, kind: LinkKind, a: &str, b: &str) -> LinkId {
        let (a, b) = (self.terminal(a), self.terminal(b));
        let id = LinkId::at(self.system.links.len());
        let component = self.system.terminals[a.index()].component;
        self.system.links.push(Link {
            kind,
            a,
            b,
            component,
            span: Span::default(),
            resistance: None,
        });
        for end in [a, b] {
            let node = self.system.terminals[end.index()].node;
            self.system.nodes[node.index()].links.push(id);
        }
        id
    }

    pub(crate) fn bus(&mut self, name: &str, polarity: Polarity) -> NodeId {
        let id = self.component(name, ComponentKind::Bus);
        self.system.components[id.index()].polarity = Some(polarity);
        let terminal = self.terminal(name);
        self.system.node_of(terminal)
    }

    pub(crate) fn source(&mut self, name: &str, kind: SourceKind, amps: Option<f64>) -> SourceId {
        let component = self.component(name, ComponentKind::Battery);
        let id = SourceId::at(self.system.sources.len());
        let link = self.link(
            LinkKind::Source(id),
            &format!("{name}.+"),
            &format!("{name}.-"),
        );
        self.system.sources.push(Source {
            name: name.to_owned(),
            span: Span::default(),
            link,
            component,
            kind,
            nominal: Given::assumed(Volts(12.0)),
            max_voltage: None,
            bank: None,
            chemistry: None,
            capacity: None,
            hour_rate: None,
            peukert: None,
            cranking: None,
            short_circuit: None,
            resistance: None,
            current: amps.map(Amps).map(Given::assumed),
            self_limiting: None,
            built_in_fuse: None,
            alarm_contact: None,
            field_switches: Vec::new(),
            surge_protected: None,
            input: None,
        });
        id
    }

    pub(crate) fn wire(
        &mut self,
        number: &str,
        ends: (&str, &str),
        gauge: &str,
        metres: f64,
    ) -> ConductorId {
        let id = ConductorId::at(self.system.conductors.len());
        let link = self.link(LinkKind::Conductor(id), ends.0, ends.1);
        let (from, to) = (self.terminal(ends.0), self.terminal(ends.1));
        for end in [from, to] {
            self.system.terminals[end.index()].conductors.push(id);
        }
        let known = |metres: f64| -> Known<Metres> {
            (metres > 0.0).then(|| Given::assumed(Metres(metres)))
        };
        self.system.conductors.push(Conductor {
            number: number.to_owned(),
            span: Span::default(),
            link,
            from,
            to,
            circuit: None,
            function: String::new(),
            gauge: gauge.parse().ok().map(Given::assumed),
            size_field: crate::system::SizeField::Own,
            size_asked: None,
            colour: None::<Given<Colour>>,
            insulation: Given::assumed(Celsius(105.0)),
            wire_type: None,
            length: known(metres),
            stretches: vec![Stretch {
                length: known(metres).map(|given| given.value),
                zone: None,
                bundle: None,
                way: None,
            }],
            zones: Vec::new(),
            sheathed: None,
            cranking: None,
            pigtail: false,
            sense: false,
            spare: false,
            cable: None,
        });
        id
    }

    pub(crate) fn fuse(&mut self, name: &str, amps: f64) -> DeviceId {
        let component = self.component(name, ComponentKind::Fuse);
        self.device(
            component,
            name,
            &format!("{name}.in"),
            &format!("{name}.out"),
            amps,
        )
    }

    pub(crate) fn device(
        &mut self,
        component: ComponentId,
        name: &str,
        a: &str,
        b: &str,
        amps: f64,
    ) -> DeviceId {
        let id = DeviceId::at(self.system.devices.len());
        let link = self.link(LinkKind::Device(id), a, b);
        self.system.devices.push(Device {
            name: name.to_owned(),
            label: String::new(),
            span: Span::default(),
            link,
            component,
            kind: DeviceKind::Fuse,
            rating: Some(Given::assumed(Amps(amps))),
            rating_asked: None,
            spare: false,
            form: None,
            voltage: None,
            interrupting: None,
            holder_rating: None,
            trip_free: None,
        });
        id
    }

    /// A switch with pairs of terminals closed in each position; the last position is normal.
    pub(crate) fn switch(
        &mut self,
        name: &str,
        kind: GearKind,
        positions: &[&str],
        contacts: &[(&str, &str, &[u16])],
    ) -> GearId {
        let component = self.component(name, ComponentKind::Switch);
        let gear = GearId::at(self.system.gears.len());
        for &(a, b, closed_in) in contacts {
            self.link(
                LinkKind::Contact {
                    gear,
                    closed_in: closed_in.to_vec(),
                },
                &format!("{name}.{a}"),
                &format!("{name}.{b}"),
            );
        }
        self.system.gears.push(Gear {
            name: name.to_owned(),
            component,
            kind,
            kind_given: true,
            positions: positions
                .iter()
                .map(|position| Position {
                    name: (*position).to_owned(),
                    span: None,
                    joins_banks: *position == "both",
                    emergency: false,
                })
                .collect(),
            normal: u16::try_from(positions.len() - 1).expect("few positions"),
            off: positions
                .iter()
                .position(|position| *position == "off")
                .map(|at| u16::try_from(at).expect("few positions")),
            automatic: false,
            coil: None,
            suppressed: None,
        });
        gear
    }

    /// A further contact of the switch with this number, straight between two terminals.
    pub(crate) fn contact(&mut self, gear: usize, closed_in: &[u16], a: &str, b: &str) -> LinkId {
        let gear = GearId::at(gear);
        let closed_in = closed_in.to_vec();
        self.link(LinkKind::Contact { gear, closed_in }, a, b)
    }

    pub(crate) fn diode(&mut self, name: &str, forward: f64, outputs: usize) {
        self.component(name, ComponentKind::Isolator);
        for output in 1..=outputs {
            self.link(
                LinkKind::Diode {
                    forward: Volts(forward),
                },
                &format!("{name}.in"),
                &format!("{name}.{output}"),
            );
        }
    }

    pub(crate) fn load(&mut self, name: &str, amps: Option<f64>) -> LoadId {
        let component = self.component(name, ComponentKind::Load);
        let id = LoadId::at(self.system.loads.len());
        let link = self.link(
            LinkKind::Load(id),
            &format!("{name}.+"),
            &format!("{name}.-"),
        );
        self.system.loads.push(Load {
            name: name.to_owned(),
            span: Span::default(),
            link,
            component,
            kind: LoadKind::Other,
            service: Service::Other,
            duty: Duty::Continuous,
            behaviour: Behaviour::Current,
            draw: amps.map(|amps| Given::assumed(Draw::Current(Amps(amps)))),
            peak: None,
            stall: None,
            drop: Given::assumed(DropClass::Ordinary),
            vital: false,
            always_on: None,
            bank: None,
            largest_fuse: None,
            nominal: Given::assumed(Volts(12.0)),
            min_voltage: None,
            standby: None,
            hours: None,
            case_grounded: false,
            thermally_protected: None,
        });
        id
    }

    pub(crate) fn finish(mut self) -> System {
        let ends: Vec<_> = self
            .system
            .links
            .iter()
            .map(|link| (self.system.node_of(link.a), self.system.node_of(link.b)))
            .collect();
        self.system.graph = Graph::new(self.system.nodes.len(), &ends);
        self.system
    }
}

fn boat() -> Boat {
    Boat {
        name: "test".to_owned(),
        practice: Practice::Us,
        nominal: Volts(12.0),
        units: LengthUnits::Feet,
        paper: Paper::Letter,
        revision: String::new(),
        date: String::new(),
        owner: String::new(),
        creator: String::new(),
        approved_by: String::new(),
        number: String::new(),
        subtitle: String::new(),
        policy: Policy {
            overcurrent: OvercurrentLimit::Lawful,
            bundling: BundlingPolicy::Apply,
            count_poles: CountPoles::Both,
            conductor_temperature: Celsius(50.0),
            critical_drop_percent: 3.0,
            ordinary_drop_percent: 10.0,
            panel_leg: Metres(0.3),
            blanks: crate::system::Blanks::Unknown,
            spools: crate::system::Spools::LeastCopper,
            allowances: Allowances::default(),
        },
    }
}
