//! A plan with its measures and its places on sheets: tried on a paper, taken apart where it does not fit, and drawn.

use super::circuit::{Circuit, Item};
use super::layout::{Lettering, Measured, Source};
use super::packing::{MOST_STRETCH, Packing, Paged};
use super::pages::{Ladder, Zoning};
use super::plan::{Cut, Cuts, End, Plan, Preference};
use super::render::{Layers, Stage};
use super::{
    Format, Legend, Manner, Rendered, Sheet, SheetKind, SheetSize, circuit, frame, layout, legend,
    pages, render, symbols, words,
};
use crate::system::System;
use std::collections::BTreeMap;

/// Most chains of a boat that may fit on one sheet with every ladder in its feeder's rung.
const MOST_NESTED: usize = 150;

/// Most turns in which grids are taken apart for their width.
const MOST_CUTS: usize = 40;

/// How many times as wide as a sheet a ladder may be that narrower references can make fit.
const MOST_NARROWED: f64 = 1.3;

/// Most turns in which long chains are taken apart.
const MOST_SPLITS: usize = 5;

/// Share of the width of the room that a chain may take before it is taken apart.
const LONGEST_CHAIN: f64 = 0.55;

/// A plan with its measures and its places on sheets.
pub(super) struct Draft {
    format: Format,
    /// The circuit with its longest chains in pieces, where the paper is too narrow for them.
    divided: Option<Circuit>,
    plan: Plan,
    measured: Vec<Measured>,
    zonings: Vec<Zoning>,
    paged: Paged,
    /// The sheet that keeps room for the legend.
    kept: Option<usize>,
}

impl Draft {
    /// The drawing on the paper asked for.
    pub(super) fn fitting(
        system: &System,
        circuit: &Circuit,
        size: SheetSize,
        manner: &Manner<'_>,
    ) -> Self {
        let format = size.format();
        let mut draft = Self::best(system, circuit, format, manner);
        let mut limit = frame::room(format, 0).width * LONGEST_CHAIN;
        // Chains too long for any row are taken apart between two of their parts.
        for _ in 0..MOST_SPLITS {
            if draft.excess(format) <= 0.0 {
                break;
            }
            let divided = draft.divided(circuit, limit);
            if let Some(divided) = divided {
                let trial = Self::best(system, &divided, format, manner);
                if trial.excess(format) < draft.excess(format) {
                    draft = trial;
                    draft.divided = Some(divided);
                }
            }
            limit *= 0.6;
        }
        let excess = draft.excess(format);
        if excess <= 0.0 {
            // One sheet that holds all is placed already.
            if draft.paged.taken.is_empty() {
                let divided = draft.divided.take();
                draft = draft.placed(system, divided.as_ref().unwrap_or(circuit), manner);
                draft.divided = divided;
            }
            return draft;
        }
        // Lettering is never scaled and no part is cut: rather a longer sheet.
        let format = Format {
            width: format.width + (excess / 10.0).ceil() * 10.0,
            paper: "roll",
            ..format
        };
        let divided = draft.divided;
        let whole = divided.as_ref().unwrap_or(circuit);
        let mut longer =
            Self::measure(system, whole, draft.plan, format).placed(system, whole, manner);
        longer.divided = divided;
        longer
    }

    /// The circuit with the long chains of the grids that are too wide in several pieces; none if there are none.
    fn divided(&self, circuit: &Circuit, limit: f64) -> Option<Circuit> {
        let whole = self.divided.as_ref().unwrap_or(circuit);
        let mut found: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for grid in self.too_wide(frame::room(self.format, 0).width) {
            let long = self.measured[grid].long_chains(whole, &self.plan.grids[grid], limit);
            found.extend(long);
        }
        (!found.is_empty()).then(|| whole.divided(&found))
    }

    /// The plainest way to draw the boat that fits the width of its sheets.
    fn best(system: &System, circuit: &Circuit, size: Format, manner: &Manner<'_>) -> Self {
        let room = frame::room(size, 0);
        let mut cuts = Cuts::default();
        // One sheet for all, if the boat is small enough to be worth the trial.
        if circuit.chains.len() <= MOST_NESTED {
            let plan = Plan::new(system, circuit, &cuts);
            let rows: usize = plan.grids.iter().map(|grid| grid.rows.len()).sum();
            if rows as f64 * 5.0 < room.bottoms[1] - room.top {
                let draft = Self::measure(system, circuit, plan, size);
                if draft.too_wide(room.width).is_empty() {
                    let draft = draft.placed(system, circuit, manner);
                    if draft.paged.taken.len() == 1 {
                        return draft;
                    }
                }
            }
        }
        cuts.blocks = true;
        let plain = Self::measure(system, circuit, Plan::new(system, circuit, &cuts), size);
        if plain.too_wide(room.width).is_empty() {
            return plain;
        }
        // Rungs are broken before the bars of single terminals are taken apart, or the other way about.
        let mut narrowest: Option<(Self, Cuts)> = None;
        for preference in [Preference::Rungs, Preference::Terminals] {
            let mut draft = None;
            let mut cuts = cuts.clone();
            for _ in 0..MOST_CUTS {
                let current = draft.as_ref().unwrap_or(&plain);
                if !current.take_apart(system, circuit, &mut cuts, preference, room.width) {
                    break;
                }
                let next = Self::measure(system, circuit, Plan::new(system, circuit, &cuts), size);
                if next.too_wide(room.width).is_empty() {
                    return next;
                }
                draft = Some(next);
            }
            narrowest = [narrowest, draft.map(|draft| (draft, cuts))]
                .into_iter()
                .flatten()
                .min_by(|a, b| a.0.excess(size).total_cmp(&b.0.excess(size)));
        }
        // At last every bar of what is still too wide stands alone, and then every bar of all that was.
        let (mut narrowest, known) = narrowest.unwrap_or((plain, cuts.clone()));
        for cuts in [known, cuts] {
            let next = narrowest.scattered(system, circuit, cuts, size);
            let Some(next) = next else { continue };
            if next.too_wide(room.width).is_empty() {
                return next;
            }
            if next.excess(size) < narrowest.excess(size) {
                narrowest = next;
            }
        }
        narrowest
    }

    /// The boat with every bar of the grids that are too wide alone, as far as it goes.
    fn scattered(
        &self,
        system: &System,
        circuit: &Circuit,
        mut cuts: Cuts,
        size: Format,
    ) -> Option<Self> {
        let width = frame::room(size, 0).width;
        let mut draft = None;
        for turn in 0..MOST_CUTS {
            let current = draft.as_ref().unwrap_or(self);
            let mut changed = current.scatter(circuit, &mut cuts, width);
            if turn > 0 && !changed {
                changed = current.take_apart(system, circuit, &mut cuts, Preference::Rungs, width);
            }
            if !changed {
                break;
            }
            let next = Self::measure(system, circuit, Plan::new(system, circuit, &cuts), size);
            let done = next.too_wide(width).is_empty();
            draft = Some(next);
            if done {
                break;
            }
        }
        draft
    }

    /// Gives every bar of the grids that are too wide a grid of its own; false when all have one.
    fn scatter(&self, circuit: &Circuit, cuts: &mut Cuts, width: f64) -> bool {
        let mut changed = false;
        for index in self.too_wide(width) {
            let grid = &self.plan.grids[index];
            for piece in grid.pieces.iter().filter(|_| !grid.loose) {
                if grid.head != Some(piece.hub) {
                    changed |= cuts.apart.insert(piece.hub);
                }
                changed |= cuts.returns.insert(piece.hub);
            }
            for seg in &grid.segs {
                let joins = [seg.left, seg.right]
                    .into_iter()
                    .all(|end| matches!(end, End::Piece(..)));
                let Some(chain) = seg.chain.filter(|_| joins) else {
                    continue;
                };
                let items = &circuit.chains[chain].items;
                let middle = items.len() / 2;
                let wire = (0..items.len())
                    .filter(|&at| matches!(items[at], Item::Wire(_)))
                    .min_by_key(|&at| at.abs_diff(middle));
                if let (Some(wire), false) = (wire, cuts.folds.contains_key(&chain)) {
                    cuts.folds.insert(chain, wire);
                    changed = true;
                }
            }
        }
        changed
    }

    /// Takes hubs and rungs out of every grid that is too wide; false when nothing more can be taken.
    fn take_apart(
        &self,
        system: &System,
        circuit: &Circuit,
        cuts: &mut Cuts,
        preference: Preference,
        width: f64,
    ) -> bool {
        let found: Vec<Cut> = self
            .too_wide(width)
            .into_iter()
            .flat_map(|grid| self.shorten(system, circuit, cuts, preference, (grid, width)))
            .collect();
        let mut changed = false;
        for cut in found {
            changed |= match cut {
                Cut::Hub(hub) => cuts.apart.insert(hub),
                Cut::Rung(chain, item) => cuts.folds.insert(chain, item).is_none(),
                Cut::Return(hub) => cuts.returns.insert(hub),
            };
        }
        changed || !std::mem::replace(&mut cuts.single_references, true)
    }

    /// Where to take a grid apart that is too wide.
    fn shorten(
        &self,
        system: &System,
        circuit: &Circuit,
        cuts: &Cuts,
        preference: Preference,
        (grid, width): (usize, f64),
    ) -> Vec<Cut> {
        let source = Source {
            system,
            circuit,
            plan: &self.plan,
            grid: &self.plan.grids[grid],
            zoning: &self.zonings[grid],
        };
        self.measured[grid].shorten(&source, cuts, preference, width)
    }

    /// How much wider the widest grid is than a sheet, in mm.
    fn excess(&self, size: Format) -> f64 {
        let widest = self
            .measured
            .iter()
            .map(|grid| grid.width)
            .fold(0.0, f64::max);
        widest - frame::room(size, 0).width
    }

    /// The grids that are wider than a sheet.
    fn too_wide(&self, width: f64) -> Vec<usize> {
        (0..self.measured.len())
            .filter(|&grid| self.measured[grid].width > width + 1e-6)
            .collect()
    }

    fn measure(system: &System, circuit: &Circuit, plan: Plan, size: Format) -> Self {
        let (strip, full) = (frame::strip_width(size), frame::room(size, 0).width);
        let mut zonings: Vec<Zoning> = Vec::with_capacity(plan.grids.len());
        let mut measured = Vec::with_capacity(plan.grids.len());
        for grid in &plan.grids {
            let measure = |zoning: &Zoning| {
                let source = Source {
                    system,
                    circuit,
                    plan: &plan,
                    grid,
                    zoning,
                };
                let one = Measured::new(&source, Lettering::OneLine);
                if one.width <= strip {
                    return one;
                }
                // Two lines only where they save a strip or a sheet, and narrow references only where they save a cut.
                let two = Measured::new(&source, Lettering::TwoLines);
                let narrow = (two.width > full && two.width < full * MOST_NARROWED)
                    .then(|| Measured::new(&source, Lettering::Narrow))
                    .filter(|narrow| narrow.width <= full);
                let helps = two.width <= strip || one.width > full;
                narrow.unwrap_or(if helps { two } else { one })
            };
            let mut zoning = pages::zoning(system, circuit, grid);
            let mut wanted = measure(&zoning);
            // Where the loads stand in no common column, a rectangle round them would hold other parts too.
            if let Zoning::Runs(runs, sides) = &zoning
                && !wanted.aligned
                && (!runs.is_empty() || sides.iter().any(Option::is_some))
            {
                zoning = Zoning::Runs(Vec::new(), [None; 2]);
                wanted = measure(&zoning);
            }
            zonings.push(zoning);
            measured.push(wanted);
        }
        Self {
            format: size,
            divided: None,
            plan,
            measured,
            zonings,
            paged: Paged::default(),
            kept: None,
        }
    }

    /// Widens ladders beside which no other can stand to the width of their strip or sheet.
    fn stretch(&mut self) {
        let full = frame::room(self.format, 0).width;
        let strip = (frame::strip_width(self.format) / symbols::MODULE).floor() * symbols::MODULE;
        let narrowest = |loose: bool| {
            let grids = self.plan.grids.iter().zip(&self.measured);
            grids
                .filter(|(grid, _)| grid.loose == loose)
                .map(|(_, measured)| measured.width)
                .fold(full, f64::min)
        };
        let (ladder, loose) = (narrowest(false), narrowest(true));
        for (grid, measured) in self.plan.grids.iter().zip(&mut self.measured) {
            let width = measured.width;
            let beside = full - width - pages::GRID_GAP;
            if grid.loose {
                continue;
            }
            if ladder > beside {
                // What is not connected may still stand there.
                let kept = if loose > beside {
                    0.0
                } else {
                    loose + pages::GRID_GAP
                };
                measured.stretch(full - kept, MOST_STRETCH);
            } else if width <= strip && strip < full && width * MOST_STRETCH >= strip {
                measured.stretch(strip, MOST_STRETCH);
            }
        }
    }

    /// Sets all rows on sheets.
    fn placed(mut self, system: &System, circuit: &Circuit, manner: &Manner<'_>) -> Self {
        self.stretch();
        let sizes = self.legend_sizes(system, circuit, manner);
        let rooms = |sheet: usize| frame::room(self.format, sheet);
        let grids = self.plan.grids.iter().zip(&self.measured);
        let packing = Packing {
            ladders: grids
                .zip(&self.zonings)
                .map(|((grid, measured), zoning)| Ladder {
                    system,
                    circuit,
                    grid,
                    measured,
                    zoning,
                })
                .collect(),
            rooms: &rooms,
        };
        let with_rows = Some(&sizes)
            .filter(|_| manner.legend == Legend::WithRows)
            .and_then(|sizes| packing.paged_with_rows(sizes));
        (self.paged, self.kept) = match with_rows {
            Some((paged, sheet)) => (paged, Some(sheet)),
            None => packing.paged(&sizes),
        };
        self
    }

    /// Sizes that the legend may have, at most; none where the drawing has no legend.
    fn legend_sizes(
        &self,
        system: &System,
        circuit: &Circuit,
        manner: &Manner<'_>,
    ) -> Vec<(f64, f64)> {
        if matches!(manner.legend, Legend::None | Legend::Apart) {
            return Vec::new();
        }
        let mut used = manner.used.clone();
        for strip in self.measured.iter().flat_map(|grid| &grid.strips) {
            used.symbols
                .extend(strip.faces.iter().map(|face| face.symbol));
        }
        let hubs = circuit.hubs.iter();
        used.symbols.extend(hubs.filter_map(|hub| {
            let kind = system.components[hub.component.index()].kind;
            symbols::of_hub(hub.kind, kind)
        }));
        if circuit.partial {
            used.symbols.insert(symbols::Symbol::Outside);
        }
        used.symbols.insert(symbols::Symbol::Reference);
        let devices = system.devices.iter();
        used.symbols
            .extend(devices.map(|device| symbols::of_device(device.kind)));
        for conductor in &system.conductors {
            if let Some(colour) = &conductor.colour
                && let Some(colour) = words::parse_colour(&colour.value)
            {
                used.colour(colour);
            }
        }
        used.any_finding();
        if manner.standing.is_some() {
            used.stated = true;
            used.keys.insert(legend::Key::Volts);
        }
        used.keys.extend(self.likely_keys(system, circuit));
        legend::sizes(&used, frame::room(self.format, 0).width)
    }

    /// What else the legend is likely to explain.
    fn likely_keys(&self, system: &System, circuit: &Circuit) -> Vec<legend::Key> {
        use super::legend::Key;
        let label = |mark: &str| circuit.labels.iter().any(|label| label.line.contains(mark));
        let joints = |chain: &circuit::Chain| {
            let is_joint = |item: &Item| matches!(item, Item::Joint(_));
            chain.items.iter().any(is_joint)
        };
        let known = [
            (Key::Contacts, true),
            (Key::Stripe, true),
            (Key::Zone, !system.zones.is_empty()),
            (Key::Bolted, circuit.chains.iter().any(joints)),
            (Key::Place, !self.plan.refs.is_empty()),
            (Key::NotGiven, label(words::NOT_GIVEN)),
            (Key::Assumed, label(words::ASSUMED)),
        ];
        known
            .into_iter()
            .filter_map(|(key, is_likely)| is_likely.then_some(key))
            .collect()
    }

    pub(super) fn render(
        &self,
        system: &System,
        circuit: &Circuit,
        manner: &Manner<'_>,
    ) -> Rendered {
        let circuit = self.divided.as_ref().unwrap_or(circuit);
        let size = self.format;
        let mut stage = Stage::new(
            system,
            circuit,
            &self.plan,
            &self.measured,
            &self.zonings,
            size,
        );
        stage.before = manner.before;
        stage.standing = manner.standing;
        stage.pieces = render::count_pieces(
            system,
            circuit,
            &self.plan,
            &self.measured,
            &self.paged.parts,
        );
        let mut hub_places: BTreeMap<usize, Vec<String>> = BTreeMap::new();
        for part in &self.paged.parts {
            let (refs, hubs) = stage.spots(part);
            for (reference, (sheet, at)) in refs {
                let name = stage.place(sheet, at);
                stage.ref_places.insert(reference, name);
            }
            for (hub, (sheet, at)) in hubs {
                let places = hub_places.entry(hub).or_default();
                let name = stage.place(sheet, at);
                if !places.contains(&name) {
                    places.push(name);
                }
            }
        }
        stage.hub_places = hub_places;
        let count = self.paged.taken.len();
        let mut layers: Vec<Layers> = (0..count).map(|_| Layers::default()).collect();
        for part in &self.paged.parts {
            stage.part(part, &mut layers[part.sheet]);
        }
        let mut used = stage.used;
        used.stated = manner.standing.is_some();
        let mut taken = self.paged.taken.clone();
        let (mut legend, mut pending) = (None, None);
        if manner.legend != Legend::None {
            used.symbols.extend(&manner.used.symbols);
            used.look_through(layers.iter().flat_map(Layers::groups));
            used.keys.extend(&manner.used.keys);
            used.any_finding();
            if used.stated {
                used.keys.insert(legend::Key::Volts);
            }
            let sizes = legend::sizes(&used, frame::room(size, 0).width);
            legend = self.kept.and_then(|sheet| {
                let (x, y, width) = taken[sheet].block(&sizes)?;
                Some((sheet, (x, y), width))
            });
            pending = legend.is_none().then(|| used.clone());
        }
        let names: Vec<Vec<String>> = (0..layers.len())
            .map(|index| match manner.part {
                Some(part) => vec![part.to_owned()],
                None => self.ladders(system, circuit, manner.kind, index),
            })
            .collect();
        let sheets = layers
            .into_iter()
            .enumerate()
            .map(|(index, layers)| {
                let mut groups = vec![frame::border(size)];
                groups.extend(layers.zones);
                groups.extend(layers.wires);
                groups.extend(layers.parts);
                groups.extend(layers.labels);
                render::open_borders(&mut groups);
                if let Some((sheet, at, width)) = legend
                    && sheet == index
                {
                    groups.push(legend::legend(&used, at, width));
                }
                if index == 0 {
                    groups.push(frame::cautions(size));
                }
                Sheet {
                    kind: manner.kind,
                    number: manner.before + index + 1,
                    count: 0,
                    width: size.width,
                    height: size.height,
                    title: words::few(&names[index], 3),
                    groups,
                    filled: taken[index].filled(),
                }
            })
            .collect();
        Rendered {
            format: size,
            sheets,
            names,
            used,
            taken,
            legend,
            pending,
        }
    }

    /// Names of the ladders on a sheet.
    fn ladders(
        &self,
        system: &System,
        circuit: &Circuit,
        kind: SheetKind,
        sheet: usize,
    ) -> Vec<String> {
        let mut names: Vec<String> = Vec::new();
        for part in self.paged.parts.iter().filter(|part| part.sheet == sheet) {
            let grid = &self.plan.grids[part.grid];
            let name = match grid.head {
                _ if kind == SheetKind::Overview => "one line for both poles".to_owned(),
                _ if part.grid == 0 => "sources, main buses".to_owned(),
                Some(hub) => layout::hub_name(system, &circuit.hubs[hub]),
                None => "parts not fed".to_owned(),
            };
            if !names.contains(&name) {
                names.push(name);
            }
        }
        if names.is_empty() {
            names.push("legend".to_owned());
        }
        names
    }
}
