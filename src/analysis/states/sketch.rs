//! Small circuits built by hand for tests: nodes by number, no file behind them.

use crate::source::Span;
use crate::system::{
    Allowances, Boat, BundlingPolicy, Component, ComponentId, ComponentKind, CountPoles, Device,
    DeviceId, DeviceKind, Gear, GearId, GearKind, Given, Graph, Interlock, LengthUnits, Link,
    LinkId, LinkKind, Node, NodeId, OvercurrentLimit, Paper, Policy, Position, Practice, System,
    Terminal, TerminalId, TerminalRole,
};
use crate::units::{Amps, Celsius, Metres, Volts};

/// A circuit of numbered nodes with one terminal each, all on one component.
#[derive(Debug)]
pub(crate) struct Sketch {
    system: System,
}

impl Sketch {
    /// A circuit of so many nodes and nothing between them.
    pub(crate) fn new(nodes: usize) -> Self {
        let span = Span::default();
        let mut system = empty();
        system.components.push(Component {
            name: "part".to_owned(),
            span,
            kind: ComponentKind::Bus,
            label: String::new(),
            zone: None,
            point: None,
            terminals: (0..nodes).map(TerminalId::at).collect(),
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
        for index in 0..nodes {
            system.terminals.push(Terminal {
                component: ComponentId(0),
                name: format!("{index}"),
                role: TerminalRole::Stud,
                node: NodeId::at(index),
                conductors: Vec::new(),
            });
            system.nodes.push(Node {
                terminals: vec![TerminalId::at(index)],
                links: Vec::new(),
            });
        }
        Self { system }
    }

    /// A part with so many positions.
    pub(crate) fn gear(&mut self, positions: u16, normal: u16) -> GearId {
        let id = GearId::at(self.system.gears.len());
        self.system.gears.push(Gear {
            name: format!("switch-{}", id.0),
            component: ComponentId(0),
            kind: GearKind::PanelSwitch,
            kind_given: true,
            positions: (0..positions)
                .map(|index| Position {
                    name: format!("{index}"),
                    span: None,
                    joins_banks: false,
                    emergency: false,
                })
                .collect(),
            normal,
            off: None,
            automatic: false,
            coil: None,
            suppressed: None,
        });
        id
    }

    /// A solid joint.
    pub(crate) fn joint(&mut self, a: usize, b: usize) -> LinkId {
        self.link(LinkKind::Joint, a, b)
    }

    /// A diode from `a` to `b`.
    pub(crate) fn diode(&mut self, a: usize, b: usize) -> LinkId {
        let forward = Volts(0.0);
        self.link(LinkKind::Diode { forward }, a, b)
    }

    /// A contact closed in some positions.
    pub(crate) fn contact(
        &mut self,
        gear: GearId,
        closed_in: &[u16],
        a: usize,
        b: usize,
    ) -> LinkId {
        let closed_in = closed_in.to_vec();
        self.link(LinkKind::Contact { gear, closed_in }, a, b)
    }

    /// A fuse.
    pub(crate) fn fuse(&mut self, rating: f64, a: usize, b: usize) -> LinkId {
        let device = DeviceId::at(self.system.devices.len());
        let link = self.link(LinkKind::Device(device), a, b);
        self.system.devices.push(Device {
            name: format!("fuse-{}", device.0),
            label: String::new(),
            span: Span::default(),
            link,
            component: ComponentId(0),
            kind: DeviceKind::Fuse,
            rating: Some(Given::assumed(Amps(rating))),
            rating_asked: None,
            spare: false,
            form: None,
            voltage: None,
            interrupting: None,
            holder_rating: None,
            trip_free: None,
        });
        link
    }

    /// Positions that cannot occur together.
    pub(crate) fn interlock(&mut self, never: Vec<(GearId, u16)>) {
        let span = Span::default();
        self.system.interlocks.push(Interlock { never, span });
    }

    /// The finished circuit.
    pub(crate) fn system(mut self) -> System {
        let ends: Vec<(NodeId, NodeId)> = self
            .system
            .links
            .iter()
            .map(|link| (self.system.node_of(link.a), self.system.node_of(link.b)))
            .collect();
        self.system.graph = Graph::new(self.system.nodes.len(), &ends);
        self.system
    }

    fn link(&mut self, kind: LinkKind, a: usize, b: usize) -> LinkId {
        let id = LinkId::at(self.system.links.len());
        self.system.nodes[a].links.push(id);
        if a != b {
            self.system.nodes[b].links.push(id);
        }
        self.system.links.push(Link {
            kind,
            a: TerminalId::at(a),
            b: TerminalId::at(b),
            component: ComponentId(0),
            span: Span::default(),
            resistance: None,
        });
        id
    }
}

/// A boat with nothing in it.
fn empty() -> System {
    System {
        boat: Boat {
            name: "sketch".to_owned(),
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
        },
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
    }
}
