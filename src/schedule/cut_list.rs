//! The cut list: every wire with the length to cut it to, spool by spool, and what is still to be measured.
//!
//! No conductor is left out: what has no length or no size stands in a list of its own, supplied leads in another.
//! Cores of one cable are cut once, as the cable.

use super::cautions;
use super::ends::{
    End, Fitting, bundle_names, bundles_of, colour_letters, size_words, strip_at, terminal_at,
};
use super::head::length_style;
use super::label_stock::label_stocks;
use super::labels::{Label, sleeve_name};
use super::paper::{Block, Cell, Column, Field, Orientation, Sheet, Table};
use super::spool_plan::{Piece, SpoolPlan};
use crate::analysis::fill::ways_of;
use crate::standards::{
    Basis, Spare, SpareItem, constants, crimp_pull, cut_allowances, cut_step, is_battery_cable,
    plain_colours, spare,
};
use crate::system::{
    BundleId, CableId, ComponentKind, Conductor, ConductorId, Known, LabelStock, Origin, SpoolId,
    StockIndex, System, TerminalId, Wetness,
};
use crate::units::{
    Gauge, LengthStyle, Metres, Newtons, decimal, format_cut_length, format_length, round_up_to,
};
use std::collections::BTreeMap;

/// What is added at one end.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct EndAllowance {
    /// For terminating again, as often as the table asks for.
    pub termination: Metres,
    /// Service loop on a panel or at a connector, else drip loop in a wet zone.
    pub loop_length: Metres,
    /// What the loop is for; none where there is none.
    pub loop_kind: Option<LoopKind>,
}

/// What a loop at an end is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LoopKind {
    /// A panel or a connector can be drawn out.
    Service,
    /// Water drips off before the terminal.
    Drip,
}

impl EndAllowance {
    fn sum(self) -> Metres {
        self.termination + self.loop_length
    }
}

/// A piece to cut: one wire, or one cable with its cores.
#[derive(Clone, Debug, PartialEq)]
pub struct Cut {
    /// Place in the list, from 1.
    pub seq: usize,
    /// Its conductor, or the cores of the cable in file order.
    pub cores: Vec<ConductorId>,
    /// The cable; none for a single wire.
    pub cable: Option<CableId>,
    /// Length along the route; of the longest core.
    pub route: Metres,
    /// The length, or a part of it, was assumed by the program.
    pub assumed: bool,
    /// Lay-up and wander, and measuring by string: shares of the route.
    pub lay_up: Metres,
    /// Allowance for a route measured by string.
    pub measuring: Metres,
    /// Slack that the ways ask for.
    pub slack: Metres,
    /// Allowances at both ends.
    pub ends: [EndAllowance; 2],
    /// Length to cut: the sum, rounded up.
    pub length: Metres,
}

impl Cut {
    /// What is added at the ends of one of its cores, first that of the core's end A: a core may be written the other
    /// way round than its cable.
    #[must_use]
    pub fn ends_of(&self, system: &System, core: ConductorId) -> [EndAllowance; 2] {
        let [first, core] = [self.cores[0], core].map(|id| &system.conductors[id.index()]);
        let [a, b] = self.ends;
        if is_turned(system, first, core) {
            [b, a]
        } else {
            [a, b]
        }
    }
}

/// Wire that comes off one spool.
#[derive(Clone, Debug, PartialEq)]
pub struct Spool {
    /// Size of the wire, or of the thickest core.
    pub gauge: Gauge,
    /// Size, colour and type in words: `14 AWG RD boat cable`.
    pub name: String,
    /// Its pieces, longest first.
    pub cuts: Vec<Cut>,
    /// Sum of the pieces.
    pub net: Metres,
    /// What to buy where nothing is at hand: the sum with the reserve.
    pub buy: Metres,
    /// Spools of the stock that it may come from.
    pub stock: Vec<SpoolId>,
}

/// A conductor that cannot be cut yet.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unmeasured {
    /// The conductor.
    pub conductor: ConductorId,
    /// Its length is not given.
    pub length_missing: bool,
    /// Its size is not given.
    pub gauge_missing: bool,
}

/// The whole list.
#[derive(Clone, Debug, PartialEq)]
pub struct CutList {
    /// What is cut, spool by spool.
    pub spools: Vec<Spool>,
    /// What has to be measured first, in file order.
    pub unmeasured: Vec<Unmeasured>,
    /// Leads that come with their component and are not cut, in file order.
    pub supplied: Vec<ConductorId>,
}

/// Makes the list.
#[must_use]
pub fn cut_list(system: &System) -> CutList {
    let mut supplied = Vec::new();
    let mut unmeasured = Vec::new();
    let mut pieces: Vec<Vec<ConductorId>> = Vec::new();
    let mut cables: BTreeMap<CableId, usize> = BTreeMap::new();
    for (index, conductor) in system.conductors.iter().enumerate() {
        let id = ConductorId::at(index);
        if conductor.pigtail {
            supplied.push(id);
            continue;
        }
        match conductor.cable {
            None => pieces.push(vec![id]),
            Some(cable) => {
                let piece = *cables.entry(cable).or_insert(pieces.len());
                if piece == pieces.len() {
                    pieces.push(Vec::new());
                }
                pieces[piece].push(id);
            }
        }
    }
    let stock = StockIndex::new(system);
    let mut spools: BTreeMap<SpoolKey, Spool> = BTreeMap::new();
    for cores in pieces {
        match cut(system, &cores) {
            Some(cut) => {
                let (key, gauge) = SpoolKey::of(system, &cut);
                spools
                    .entry(key)
                    .or_insert_with_key(|key| Spool {
                        gauge,
                        name: key.name.clone(),
                        cuts: Vec::new(),
                        net: Metres(0.0),
                        buy: Metres(0.0),
                        stock: stock_of(system, &stock, &cut),
                    })
                    .cuts
                    .push(cut);
            }
            None => unmeasured.extend(cores.into_iter().map(|id| {
                let conductor = &system.conductors[id.index()];
                Unmeasured {
                    conductor: id,
                    length_missing: conductor.length.is_none(),
                    gauge_missing: conductor.gauge.is_none(),
                }
            })),
        }
    }
    let mut seq = 0;
    let mut spools: Vec<Spool> = spools.into_values().collect();
    for spool in &mut spools {
        spool.cuts.sort_by(|a, b| {
            b.length
                .total_cmp(&a.length)
                .then_with(|| a.cores.cmp(&b.cores))
        });
        for cut in &mut spool.cuts {
            seq += 1;
            cut.seq = seq;
        }
        spool.net = spool.cuts.iter().map(|cut| cut.length).sum();
        spool.buy = with_reserve(spool.net, length_style(system));
    }
    CutList {
        spools,
        unmeasured,
        supplied,
    }
}

/// The stock that a piece may come from: by size, colour and type, or as its cable says.
fn stock_of(system: &System, stock: &StockIndex, cut: &Cut) -> Vec<SpoolId> {
    match cut.cable {
        Some(cable) => system.cables[cable.index()].spool.into_iter().collect(),
        None => stock
            .spools(&system.conductors[cut.cores[0].index()])
            .to_vec(),
    }
}

/// Length of one piece; none while a length or a size of it is not given.
fn cut(system: &System, cores: &[ConductorId]) -> Option<Cut> {
    let conductors: Vec<&Conductor> = cores
        .iter()
        .map(|core| &system.conductors[core.index()])
        .collect();
    if conductors.iter().any(|core| core.gauge.is_none()) {
        return None;
    }
    let longest = conductors
        .iter()
        .map(|core| core.length.map(|length| (length, *core)))
        .collect::<Option<Vec<_>>>()?
        .into_iter()
        .max_by(|(a, _), (b, _)| a.value.total_cmp(&b.value))?;
    let route = longest.0.value;
    let assumed = conductors.iter().any(|core| {
        core.length
            .is_some_and(|length| length.origin == Origin::Assumed)
    });
    // All cores of a cable are cut together, so the piece takes the largest of each allowance.
    let of_each = conductors
        .iter()
        .filter_map(|core| Some((core, allowances(system, core)?)))
        .collect::<Vec<_>>();
    let largest = |share: fn(&Shares) -> Metres| {
        of_each
            .iter()
            .map(|(_, shares)| share(shares))
            .fold(Metres(0.0), Metres::max)
    };
    let lay_up = route * (largest(|shares| Metres(shares.lay_up_percent)).0 / 100.0);
    let measuring = route * (largest(|shares| Metres(shares.string_percent)).0 / 100.0);
    let slack = largest(|shares| shares.slack);
    let ends = [0, 1].map(|end: usize| {
        of_each
            .iter()
            .map(|(core, shares)| {
                let turned = is_turned(system, conductors[0], core);
                shares.ends[if turned { 1 - end } else { end }]
            })
            .max_by(|a, b| a.sum().total_cmp(&b.sum()))
            .unwrap_or_default()
    });
    let exact = route + lay_up + measuring + slack + ends[0].sum() + ends[1].sum();
    Some(Cut {
        seq: 0,
        cores: cores.to_vec(),
        cable: conductors[0].cable,
        route,
        assumed,
        lay_up,
        measuring,
        slack,
        ends,
        length: rounded_up(exact, length_style(system)),
    })
}

/// Whether a core is written from the end of its cable where the first core ends.
///
/// The parts at its ends tell, or the zones where these differ; else it is taken to run as the first core does.
fn is_turned(system: &System, first: &Conductor, core: &Conductor) -> bool {
    let part = |terminal: TerminalId| system.terminals[terminal.index()].component;
    let zone = |terminal: TerminalId| system.zone_of(terminal);
    let (from, to) = (part(core.from), part(core.to));
    let as_first = from == part(first.from) || to == part(first.to);
    let against = from == part(first.to) || to == part(first.from);
    if as_first || against {
        return against && !as_first;
    }
    let [far, near] = [zone(first.to), zone(first.from)];
    far.is_some() && far != near && zone(core.from) == far && zone(core.to) != far
}

/// The next step of the bench's rule that is not below the length.
fn rounded_up(exact: Metres, style: LengthStyle) -> Metres {
    let (step, _) = cut_step(exact, style);
    Metres(round_up_to(exact.0, step.0))
}

/// Wire to buy: the sum and the reserve, in whole feet or tenths of a metre.
fn with_reserve(net: Metres, style: LengthStyle) -> Metres {
    up_to_step(net + reserve_of(net), style)
}

/// The reserve for lengths that are cut wrong.
pub(super) fn reserve_of(net: Metres) -> Metres {
    match spare(SpareItem::Wire).0 {
        Spare::Percent(percent) => net * (percent / 100.0),
        Spare::Pieces(_) => Metres(0.0),
    }
}

/// The next whole foot or tenth of a metre.
pub(super) fn up_to_step(length: Metres, style: LengthStyle) -> Metres {
    let step = match style {
        LengthStyle::FeetInches => 0.3048,
        LengthStyle::MetresMillimetres => 0.1,
    };
    Metres(round_up_to(length.0, step))
}

/// Allowances of one conductor, with what the file puts in place of the defaults.
struct Shares {
    lay_up_percent: f64,
    string_percent: f64,
    slack: Metres,
    ends: [EndAllowance; 2],
}

fn allowances(system: &System, conductor: &Conductor) -> Option<Shares> {
    let gauge = conductor.gauge?.value;
    let (defaults, _) = cut_allowances(gauge);
    let given = &system.boat.policy.allowances;
    let termination = if is_battery_cable(gauge) {
        given.cable_termination
    } else {
        given.termination
    };
    let times = constants::slack_re_terminations().0 as f64;
    let termination = termination.map_or(defaults.re_termination * times, |given| given.value);
    let service = given
        .service_loop
        .map_or(defaults.service_loop, |given| given.value);
    let drip = given
        .drip_loop
        .map_or(defaults.drip_loop, |given| given.value);
    let ends = End::BOTH.map(|end| {
        let terminal = terminal_at(conductor, end);
        let length = |kind| match kind {
            LoopKind::Service => service,
            LoopKind::Drip => drip,
        };
        let loop_kind = loop_at(system, terminal).filter(|&kind| length(kind).0 > 0.0);
        EndAllowance {
            termination,
            loop_length: loop_kind.map_or(Metres(0.0), length),
            loop_kind,
        }
    });
    let slack = conductor
        .stretches
        .iter()
        .filter_map(|part| system.ways[part.way?.index()].slack)
        .map(|slack| slack.value)
        .sum();
    Some(Shares {
        lay_up_percent: given
            .bundle_percent
            .map_or(defaults.lay_up_percent, |given| given.value),
        string_percent: given
            .measured_percent
            .map_or(defaults.string_percent, |given| given.value),
        slack,
        ends,
    })
}

/// A panel or a connector wants a loop to be opened by; an end in the wet a loop to drip from.
fn loop_at(system: &System, terminal: TerminalId) -> Option<LoopKind> {
    let component = system.component_of(terminal);
    let opens = component.kind == ComponentKind::Connector || component.subkind == "panel";
    if opens {
        return Some(LoopKind::Service);
    }
    let zone = &system.zones[system.zone_of(terminal)?.index()];
    (zone.wet?.value >= Wetness::Spray).then_some(LoopKind::Drip)
}

/// Order of the spools: wires before cables, thin before thick, then colour in the table's order, then type.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct SpoolKey {
    is_cable: bool,
    /// Cross-section in thousandths of a square millimetre.
    area: u64,
    is_metric: bool,
    colour: usize,
    /// Spool that a cable names.
    spool: Option<SpoolId>,
    name: String,
}

impl SpoolKey {
    fn of(system: &System, cut: &Cut) -> (Self, Gauge) {
        let cores = cut
            .cores
            .iter()
            .map(|core| &system.conductors[core.index()]);
        let gauges = cores
            .clone()
            .filter_map(|core| core.gauge)
            .map(|gauge| gauge.value);
        let gauge = gauges
            .max_by(Gauge::by_area)
            .expect("a piece is cut only when all its sizes are given");
        let first = &system.conductors[cut.cores[0].index()];
        let kind = first
            .wire_type
            .as_ref()
            .map_or("", |wire_type| wire_type.value.as_str());
        let kind = if kind.is_empty() {
            String::new()
        } else {
            format!(", {kind}")
        };
        let (colour, name) = if cut.cable.is_none() {
            (
                colour_rank(first),
                format!("{gauge} {}{kind}", colour_words(first)),
            )
        } else {
            let sizes: Vec<String> = cores
                .map(|core| format!("{} {}", size_words(core), colour_words(core)))
                .collect();
            (
                0,
                format!(
                    "cable of {} cores ({}){kind}",
                    sizes.len(),
                    sizes.join(", ")
                ),
            )
        };
        let key = Self {
            is_cable: cut.cable.is_some(),
            area: thousandths(gauge.area().0),
            is_metric: !gauge.is_awg(),
            colour,
            spool: cut
                .cable
                .and_then(|cable| system.cables[cable.index()].spool),
            name,
        };
        (key, gauge)
    }
}

/// A small positive number in thousandths, for ordering.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // conductor areas are between 0 and 1000 mm²
fn thousandths(value: f64) -> u64 {
    (value * 1000.0).round() as u64
}

fn colour_rank(conductor: &Conductor) -> usize {
    let colours = plain_colours();
    conductor
        .colour
        .as_ref()
        .map_or(colours.len() + 1, |colour| {
            colours
                .iter()
                .position(|known| known.name == colour.value.base)
                .unwrap_or(colours.len())
        })
}

fn colour_words(conductor: &Conductor) -> String {
    if conductor.colour.is_none() {
        "colour not given".to_owned()
    } else {
        colour_letters(conductor)
    }
}

const COLUMNS: &[&str] = &[
    "seq",
    "spool",
    "wire",
    "cable",
    "size",
    "area_mm2",
    "colour",
    "type",
    "from",
    "to",
    "route_length_mm",
    "length_origin",
    "lay_up_mm",
    "measuring_mm",
    "slack_mm",
    "termination_a_mm",
    "termination_b_mm",
    "loop_a_mm",
    "loop_b_mm",
    "cut_length_mm",
    "strip_a_mm",
    "strip_b_mm",
    "fitting_a",
    "fitting_b",
    "sleeve",
    "label_a",
    "label_b",
    "bundle",
    "remark",
    "size_origin",
    "way",
    "piece",
];

/// Where the figures of the list come from.
pub struct CutPapers<'p> {
    system: &'p System,
    list: &'p CutList,
    style: LengthStyle,
    /// Labels of both ends, by conductor.
    labels: Vec<[Option<&'p Label>; 2]>,
    /// What is fitted to both ends, by conductor.
    fittings: &'p [[Fitting; 2]],
    /// What labels are printed on.
    stocks: Vec<LabelStock>,
    /// The piece that each cut comes from, by its place in the list; none where nothing is said to be at hand.
    pieces: BTreeMap<usize, &'p Piece>,
    /// Plans, in the order of the spools.
    plans: &'p [SpoolPlan],
}

impl<'p> CutPapers<'p> {
    /// Brings the list together with the labels and the fittings of the same boat.
    #[must_use]
    pub fn new(
        system: &'p System,
        list: &'p CutList,
        plans: &'p [SpoolPlan],
        labels: &'p [Label],
        fittings: &'p [[Fitting; 2]],
    ) -> Self {
        let mut by_conductor = vec![[None; 2]; system.conductors.len()];
        for label in labels {
            by_conductor[label.conductor.index()][label.end as usize] = Some(label);
        }
        Self {
            system,
            list,
            style: length_style(system),
            labels: by_conductor,
            fittings,
            stocks: label_stocks(system),
            pieces: pieces_of(list, plans),
            plans,
        }
    }

    /// One record a wire, whatever is known of it. Cores of a cable have the cable's figures in its first record only.
    #[must_use]
    pub fn table(&self) -> Table {
        let mut rows = Vec::new();
        for spool in &self.list.spools {
            for cut in &spool.cuts {
                for (index, &core) in cut.cores.iter().enumerate() {
                    let figures = (index == 0).then_some(cut);
                    let remark = self.remark(core, Some(cut), index);
                    rows.push(self.record(core, &spool.name, Some(cut.seq), figures, remark));
                }
            }
        }
        for open in &self.list.unmeasured {
            rows.push(self.record(open.conductor, "", None, None, open.words().to_owned()));
        }
        for &lead in &self.list.supplied {
            rows.push(self.record(lead, "", None, None, SUPPLIED.to_owned()));
        }
        Table {
            stem: "cut-list",
            columns: COLUMNS,
            rows,
        }
    }

    fn record(
        &self,
        id: ConductorId,
        spool: &str,
        seq: Option<usize>,
        figures: Option<&Cut>,
        remark: String,
    ) -> Vec<Cell> {
        let system = self.system;
        let conductor = &system.conductors[id.index()];
        let gauge = conductor.gauge.map(|gauge| gauge.value);
        let mm = |length: Metres| length.0 * 1000.0;
        let figure = |pick: fn(&Cut) -> Metres| Cell::maybe(figures.map(|cut| mm(pick(cut))), 1);
        let fittings = &self.fittings[id.index()];
        let strips = [0, 1].map(|end| {
            Cell::maybe(
                gauge
                    .and_then(|gauge| strip_at(&fittings[end], gauge))
                    .map(mm),
                1,
            )
        });
        let label = |end: End| {
            self.labels[id.index()][end as usize].map_or_else(String::new, Label::joined)
        };
        let [strip_a, strip_b] = strips;
        vec![
            seq.map_or(Cell::Empty, Cell::count),
            Cell::text(spool),
            Cell::text(&conductor.number),
            Cell::text(conductor.cable.map_or("", |cable| self.cable_name(cable))),
            Cell::text(gauge.map_or_else(String::new, |gauge| gauge.to_string())),
            Cell::maybe(gauge.map(|gauge| gauge.area().0), 3),
            Cell::text(colour_letters(conductor)),
            Cell::text(
                conductor
                    .wire_type
                    .as_ref()
                    .map_or("", |wire_type| wire_type.value.as_str()),
            ),
            Cell::text(system.terminal_name(conductor.from)),
            Cell::text(system.terminal_name(conductor.to)),
            Cell::maybe(conductor.length.map(|length| mm(length.value)), 1),
            Cell::text(origin_words(conductor.length.map(|length| length.origin))),
            figure(|cut| cut.lay_up),
            figure(|cut| cut.measuring),
            figure(|cut| cut.slack),
            figure(|cut| cut.ends[0].termination),
            figure(|cut| cut.ends[1].termination),
            figure(|cut| cut.ends[0].loop_length),
            figure(|cut| cut.ends[1].loop_length),
            figure(|cut| cut.length),
            strip_a,
            strip_b,
            Cell::text(fittings[0].words()),
            Cell::text(fittings[1].words()),
            Cell::text(self.sleeve(id)),
            Cell::text(label(End::A)),
            Cell::text(label(End::B)),
            Cell::text(bundle_names(system, &bundles_of(conductor))),
            Cell::text(remark),
            Cell::text(origin_words(conductor.gauge.map(|gauge| gauge.origin))),
            Cell::text(way_names(system, id)),
            Cell::text(
                figures
                    .and_then(|cut| self.pieces.get(&cut.seq))
                    .map_or("", |piece| piece.name.as_str()),
            ),
        ]
    }

    fn cable_name(&self, cable: CableId) -> &str {
        &self.system.cables[cable.index()].name
    }

    /// What is to be bought for a spool of the list, as the cutting plan has it.
    fn to_buy(&self, index: usize) -> Metres {
        (self.plans.get(index)).map_or(self.list.spools[index].buy, SpoolPlan::to_buy)
    }

    fn buy_words(&self, index: usize) -> String {
        let buy = self.to_buy(index);
        let words = format_cut_length(buy, self.style);
        match self.plans.get(index).filter(|plan| plan.has_stock) {
            None => format!("{words} to buy with the reserve"),
            Some(_) if buy.0 > 0.0 => {
                format!("in part at hand, {words} to buy: see the cutting plan")
            }
            Some(_) => "all at hand: see the cutting plan".to_owned(),
        }
    }

    /// The list in the order of the spools.
    #[must_use]
    pub fn sheet(&self) -> Sheet {
        let mut blocks = Vec::new();
        for (index, spool) in self.list.spools.iter().enumerate() {
            blocks.push(Block {
                title: format!("Spool {}: {}", index + 1, spool.name),
                detail: format!(
                    "{}, {} to cut, {}{}",
                    pieces(spool.cuts.len()),
                    format_cut_length(spool.net, self.style),
                    self.buy_words(index),
                    pull_words(spool.gauge),
                ),
                rows: spool.cuts.iter().flat_map(|cut| self.rows(cut)).collect(),
                totals: Vec::new(),
            });
        }
        blocks.extend(self.left_over());
        blocks.push(Block {
            title: "Totals".to_owned(),
            totals: self.totals(),
            ..Block::default()
        });
        Sheet {
            stem: "cut-list",
            title: "Cut list",
            orientation: Orientation::Across,
            remarks: self.remarks(),
            columns: sheet_columns(),
            blocks,
            strips: Vec::new(),
            cautions: vec![
                cautions::DISCONNECT,
                cautions::ONE_PIECE,
                cautions::ASSUMED,
                cautions::HEAT,
            ],
        }
    }

    /// The same wires bundle by bundle, in the order they are laid up in; a wire stands under each of its bundles.
    #[must_use]
    pub fn sheet_by_bundle(&self) -> Sheet {
        let mut groups: BTreeMap<BundleId, Vec<&Cut>> = BTreeMap::new();
        let mut alone = Vec::new();
        for cut in self.list.spools.iter().flat_map(|spool| &spool.cuts) {
            let bundles = bundles_of(&self.system.conductors[cut.cores[0].index()]);
            if bundles.is_empty() {
                alone.push(cut);
            }
            for bundle in bundles {
                groups.entry(bundle).or_default().push(cut);
            }
        }
        let mut blocks = Vec::new();
        for (bundle, mut cuts) in groups {
            let bundle = &self.system.bundles[bundle.index()];
            blocks.push(self.bundle_block(format!("Bundle {}", bundle.name), &mut cuts));
        }
        if !alone.is_empty() {
            blocks.push(self.bundle_block("In no bundle".to_owned(), &mut alone));
        }
        blocks.extend(self.left_over());
        Sheet {
            stem: "cut-list-by-bundle",
            title: "Cut list by bundle",
            orientation: Orientation::Across,
            remarks: vec![
                "The wires of the cut list in the order they are laid up: bundle by bundle, by the part and terminal of end A, \
                 then of end B. A wire that lies in several bundles stands under each of them; cut it once."
                    .to_owned(),
            ],
            columns: sheet_columns(),
            blocks,
            strips: Vec::new(),
            cautions: vec![cautions::DISCONNECT, cautions::ONE_PIECE, cautions::ASSUMED],
        }
    }

    fn bundle_block(&self, title: String, cuts: &mut [&Cut]) -> Block {
        cuts.sort_by_key(|cut| {
            let conductor = &self.system.conductors[cut.cores[0].index()];
            (conductor.from, conductor.to, cut.cores[0])
        });
        Block {
            title,
            detail: pieces(cuts.len()),
            rows: cuts.iter().flat_map(|cut| self.rows(cut)).collect(),
            totals: Vec::new(),
        }
    }

    /// A row for a wire; for a cable one for the whole and one for each core.
    fn rows(&self, cut: &Cut) -> Vec<Vec<Field>> {
        let mark = if cut.assumed { "*" } else { "" };
        let lengths = [
            Field::text(format!("{}{mark}", format_length(cut.route, self.style))),
            Field::Lines(self.allowance_words(cut)),
            Field::Strong(format_cut_length(cut.length, self.style)),
        ];
        let Some(cable) = cut.cable else {
            return vec![self.row(cut.cores[0], cut, Field::Tick, lengths)];
        };
        let cable = self.cable_name(cable);
        let first = &self.system.conductors[cut.cores[0].index()];
        let mut rows = Vec::with_capacity(cut.cores.len() + 1);
        let [route, allowances, length] = lengths;
        let mut whole = vec![
            Field::Tick,
            Field::text(cut.seq.to_string()),
            Field::Strong(cable.to_owned()),
            Field::text(format!("cable of {} cores", cut.cores.len())),
            Field::Lines(
                [first.from, first.to]
                    .map(|terminal| self.system.component_of(terminal).name.clone())
                    .to_vec(),
            ),
            route,
            allowances,
            length,
        ];
        whole.resize(sheet_columns().len(), Field::text(""));
        rows.push(whole);
        for &core in &cut.cores {
            let in_cable = [
                Field::text(""),
                Field::text(""),
                Field::text(format!("core of {cable}")),
            ];
            rows.push(self.row(core, cut, Field::Tick, in_cable));
        }
        rows
    }

    fn row(&self, id: ConductorId, cut: &Cut, tick: Field, lengths: [Field; 3]) -> Vec<Field> {
        let system = self.system;
        let conductor = &system.conductors[id.index()];
        let gauge = conductor.gauge.map(|gauge| gauge.value);
        let fittings = &self.fittings[id.index()];
        let strip = |end: usize| {
            gauge
                .and_then(|gauge| strip_at(&fittings[end], gauge))
                .map_or_else(
                    || "sheet".to_owned(),
                    |length| decimal(length.0 * 1000.0, 1),
                )
        };
        let [route, allowances, length] = lengths;
        let mut size = gauge.map_or_else(String::new, |gauge| gauge.to_string());
        if conductor
            .gauge
            .is_some_and(|gauge| gauge.origin == Origin::Chosen)
        {
            size.push_str(CHOSEN);
        }
        let ways = way_names(system, id);
        let mut remarks = match (bundles_of(conductor), ways.as_str()) {
            (bundles, "") => bundle_names(system, &bundles),
            (bundles, _) if bundles.is_empty() => ways,
            (bundles, _) => format!("{ways} ({})", bundle_names(system, &bundles)),
        };
        if conductor.spare {
            remarks.push_str("; spare: cap the free end");
        }
        vec![
            tick,
            Field::text(cut.seq.to_string()),
            Field::Strong(conductor.number.clone()),
            Field::Lines(vec![size, colour_words(conductor)]),
            Field::Lines(vec![
                system.terminal_name(conductor.from),
                system.terminal_name(conductor.to),
            ]),
            route,
            allowances,
            length,
            Field::Lines(vec![strip(0), strip(1)]),
            Field::Lines(fittings.iter().map(Fitting::with_blank).collect()),
            Field::text(self.sleeve(id)),
            Field::text(remarks),
        ]
    }

    fn allowance_words(&self, cut: &Cut) -> Vec<String> {
        let length = |length| format_length(length, self.style);
        let mut shares = format!("+{}", length(cut.lay_up + cut.measuring));
        if cut.slack.0 > 0.0 {
            shares = format!("{shares}, slack +{}", length(cut.slack));
        }
        let end = |end: End| {
            let allowance = cut.ends[end as usize];
            let mark = match allowance.loop_kind {
                Some(LoopKind::Service) => " S",
                Some(LoopKind::Drip) => " D",
                None => "",
            };
            format!("{} {}{mark}", end.letter(), length(allowance.sum()))
        };
        let mut lines = vec![format!("{shares}; {}, {}", end(End::A), end(End::B))];
        if let Some(piece) = self.pieces.get(&cut.seq) {
            lines.push(format!("from {}", piece.name));
        }
        lines
    }

    /// What cannot be cut, and what is not to be cut.
    fn left_over(&self) -> Vec<Block> {
        let mut blocks = Vec::new();
        if !self.list.unmeasured.is_empty() {
            blocks.push(Block {
                title: "Not given, measure on the boat".to_owned(),
                detail: "these wires are not in the totals".to_owned(),
                rows: self
                    .list
                    .unmeasured
                    .iter()
                    .map(|open| {
                        let conductor = &self.system.conductors[open.conductor.index()];
                        let blank = |missing: bool, known: String| {
                            if missing {
                                Field::Blank("not given".to_owned())
                            } else {
                                Field::text(known)
                            }
                        };
                        let size = size_words(conductor);
                        let route = conductor.length.map_or_else(String::new, |length| {
                            format_length(length.value, self.style)
                        });
                        self.loose_row(
                            open.conductor,
                            blank(
                                open.gauge_missing,
                                format!("{size} {}", colour_words(conductor)),
                            ),
                            blank(open.length_missing, route),
                            open.words(),
                        )
                    })
                    .collect(),
                totals: Vec::new(),
            });
        }
        if !self.list.supplied.is_empty() {
            blocks.push(Block {
                title: "Supplied with their component: label, do not cut".to_owned(),
                rows: self
                    .list
                    .supplied
                    .iter()
                    .map(|&lead| {
                        let conductor = &self.system.conductors[lead.index()];
                        let size = size_words(conductor);
                        let route = conductor.length.map_or_else(String::new, |length| {
                            format_length(length.value, self.style)
                        });
                        self.loose_row(
                            lead,
                            Field::text(format!("{size} {}", colour_words(conductor))),
                            Field::text(route),
                            SUPPLIED,
                        )
                    })
                    .collect(),
                ..Block::default()
            });
        }
        blocks
    }

    fn loose_row(&self, id: ConductorId, size: Field, route: Field, why: &str) -> Vec<Field> {
        let system = self.system;
        let conductor = &system.conductors[id.index()];
        vec![
            Field::Tick,
            Field::text(""),
            Field::Strong(conductor.number.clone()),
            size,
            Field::Lines(vec![
                system.terminal_name(conductor.from),
                system.terminal_name(conductor.to),
            ]),
            route,
            Field::text(""),
            Field::text(why),
            Field::text(""),
            Field::text(""),
            Field::text(self.sleeve(id)),
            Field::text(bundle_names(system, &bundles_of(conductor))),
        ]
    }

    fn totals(&self) -> Vec<String> {
        let list = self.list;
        let cuts: usize = list.spools.iter().map(|spool| spool.cuts.len()).sum();
        let net: Metres = list.spools.iter().map(|spool| spool.net).sum();
        let buy: Metres = (0..list.spools.len()).map(|index| self.to_buy(index)).sum();
        let mut totals = vec![format!(
            "{} from {} spools: {} to cut, {} to buy with a reserve of {} %",
            pieces(cuts),
            list.spools.len(),
            format_cut_length(net, self.style),
            format_cut_length(buy, self.style),
            match spare(SpareItem::Wire).0 {
                Spare::Percent(percent) => decimal(percent, 0),
                Spare::Pieces(_) => "0".to_owned(),
            },
        )];
        totals.push(format!(
            "{} conductors in the netlist: {} in the pieces above, {} not given, {} supplied with their component",
            self.system.conductors.len(),
            list.spools
                .iter()
                .flat_map(|spool| &spool.cuts)
                .map(|cut| cut.cores.len())
                .sum::<usize>(),
            list.unmeasured.len(),
            list.supplied.len(),
        ));
        totals
    }

    fn remarks(&self) -> Vec<String> {
        let given = &self.system.boat.policy.allowances;
        let small = cut_allowances(Gauge::Awg(8)).0;
        let cable = cut_allowances(Gauge::Awg(6)).0;
        let times = constants::slack_re_terminations().0 as f64;
        let length = |length| format_length(length, self.style);
        let or = |given: Known<Metres>, default: Metres| {
            given.map_or(length(default), |given| length(given.value))
        };
        let share = |given: Known<f64>, small: f64, cable: f64| {
            given.map_or_else(
                || {
                    format!(
                        "{} % (battery cable {} %)",
                        decimal(small, 0),
                        decimal(cable, 0)
                    )
                },
                |given| format!("{} %", decimal(given.value, 1)),
            )
        };
        vec![
            format!(
                "Cut length = route + lay-up {} + measuring {} + end A + end B, rounded up. At each end {} for two more terminations \
                 (battery cable {}); S adds a service loop of {} on a panel or connector, D a drip loop of {} (battery cable {}) in a wet zone. \
                 Allowances are common practice, no source, but for the two terminations (AC 43.13-1B 11-118); the file may set its own.",
                share(given.bundle_percent, small.lay_up_percent, cable.lay_up_percent),
                share(given.measured_percent, small.string_percent, cable.string_percent),
                or(given.termination, small.re_termination * times),
                or(given.cable_termination, cable.re_termination * times),
                or(given.service_loop, small.service_loop),
                or(given.drip_loop, small.drip_loop),
                or(given.drip_loop, cable.drip_loop),
            ),
            "* the route is assumed by the program. Strip lengths in mm are typical of common terminals; the sheet of the terminal comes first, \
             and a contact has only its sheet. Where no wire type is printed, the netlist gives none. Crimp stranded wire only, never tinned with solder. Upper line end A, lower line end B."
                .to_owned(),
            self.pull_remark(),
        ]
    }

    /// On whose authority the crimp pulls of the headings stand.
    fn pull_remark(&self) -> String {
        let mut authorities: Vec<String> = Vec::new();
        for spool in &self.list.spools {
            let authority = pull(spool.gauge).map(|(_, basis)| basis.to_string());
            authorities.extend(authority.filter(|text| !authorities.contains(text)));
        }
        format!(
            "Crimp pull: a sample crimp holds it for a minute ({}); wires of the boat take a hand tug only.",
            authorities.join("; ")
        )
    }

    fn sleeve(&self, id: ConductorId) -> String {
        self.labels[id.index()][0]
            .map_or_else(String::new, |label| sleeve_name(label, &self.stocks))
    }

    fn remark(&self, id: ConductorId, cut: Option<&Cut>, core: usize) -> String {
        let conductor = &self.system.conductors[id.index()];
        let mut remarks = Vec::new();
        if let Some(cable) = cut.and_then(|cut| cut.cable) {
            let cable = self.cable_name(cable);
            remarks.push(if core == 0 {
                format!("cut the cable {cable} to this length")
            } else {
                format!("cut with the first core of {cable}")
            });
        }
        if cut.is_some_and(|cut| cut.assumed) {
            remarks.push("length assumed".to_owned());
        }
        if conductor.spare {
            remarks.push("spare: cap the free end".to_owned());
        }
        remarks.join("; ")
    }
}

/// The piece that each cut comes from, by the place of the cut in the list.
fn pieces_of<'p>(list: &CutList, plans: &'p [SpoolPlan]) -> BTreeMap<usize, &'p Piece> {
    let mut pieces = BTreeMap::new();
    for plan in plans.iter().filter(|plan| plan.has_stock) {
        let cuts = &list.spools[plan.spool].cuts;
        for piece in &plan.pieces {
            pieces.extend(piece.cuts.iter().map(|&at| (cuts[at].seq, piece)));
        }
    }
    pieces
}

/// Mark of a size that the program chose.
const CHOSEN: &str = " (chosen)";

const SUPPLIED: &str = "supplied lead: do not cut";

impl Unmeasured {
    fn words(&self) -> &'static str {
        match (self.length_missing, self.gauge_missing) {
            (true, true) => "length and size not given",
            (true, false) => "length not given",
            (false, true) => "size not given",
            // A core whose cable has another core with a blank.
            (false, false) => "another core of its cable is not given",
        }
    }
}

fn origin_words(origin: Option<Origin>) -> &'static str {
    match origin {
        None => "not given",
        Some(Origin::Written) => "written",
        Some(Origin::Assumed) => "assumed",
        Some(Origin::Derived) => "derived",
        Some(Origin::Chosen) => "chosen",
    }
}

fn sheet_columns() -> Vec<Column> {
    vec![
        Column::tick("Cut"),
        Column::figure("#", 9.0),
        Column::text("Wire", 22.0),
        Column::text("Size, colour", 18.0),
        Column::text("From A, to B", 46.0),
        Column::figure("Route", 20.0),
        Column::text("Allowances, piece", 42.0),
        Column::figure("Cut length", 28.0),
        Column::figure("Strip mm", 13.0),
        Column::text("Fit on A, on B", 48.0),
        Column::text("Sleeve", 16.0),
        Column::text("Way (bundle)", 26.0),
    ]
}

/// The ways that a conductor takes, in order; empty where it takes none.
fn way_names(system: &System, id: ConductorId) -> String {
    let names: Vec<&str> = ways_of(system, id)
        .into_iter()
        .map(|way| system.ways[way.index()].name.as_str())
        .collect();
    names.join(", ")
}

/// `1 piece`, `3 pieces`.
pub(super) fn pieces(count: usize) -> String {
    if count == 1 {
        "1 piece".to_owned()
    } else {
        format!("{count} pieces")
    }
}

/// Proof value of a crimp on this size.
fn pull_words(gauge: Gauge) -> String {
    pull(gauge).map_or_else(String::new, |(force, _)| {
        format!(
            "; crimp pull {} lbf ({} N)",
            decimal(force.pounds_force(), 0),
            decimal(force.0, 0)
        )
    })
}

/// The commercial figure, or the figure of practice where the commercial table has none.
fn pull(gauge: Gauge) -> Option<(Newtons, Basis)> {
    let pull = crimp_pull(gauge)?;
    pull.commercial.or(pull.practice)
}
