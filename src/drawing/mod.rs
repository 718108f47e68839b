//! The schematic: a resolved boat as sheets of primitives in millimetres.
//!
//! A DC system is nearly a ladder and is drawn as one: hubs are upright bars, chains are level rows between them.
//! What fits no row is broken off, and both ends name each other by sheet and field.
//! This room judges nothing and writes no file; exporters turn its sheets into bytes.

pub mod check;
mod circuit;
pub mod font;
mod frame;
mod layout;
mod pages;
mod plan;
mod render;
pub mod scene;
mod symbols;
mod words;

pub use scene::Sheet;

use crate::system::{Paper, System};
use circuit::Circuit;
use layout::{Lettering, Measured, Source};
use pages::{Flow, Paged, Zoning};
use plan::{Cut, Cuts, Plan, Preference};
use render::{Layers, Stage};
use std::collections::BTreeMap;

/// Paper of the schematic, across.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SheetSize {
    /// 297 × 210 mm.
    A4,
    /// 420 × 297 mm.
    A3,
    /// 279.4 × 215.9 mm.
    Letter,
    /// 431.8 × 279.4 mm.
    Tabloid,
}

impl SheetSize {
    /// Width and height in mm, across.
    #[must_use]
    pub fn millimetres(self) -> (f64, f64) {
        match self {
            Self::A4 => (297.0, 210.0),
            Self::A3 => (420.0, 297.0),
            Self::Letter => (279.4, 215.9),
            Self::Tabloid => (431.8, 279.4),
        }
    }

    /// The sheet that folds to the paper of the lists.
    #[must_use]
    pub fn folding_to(paper: Paper) -> Self {
        match paper {
            Paper::A4 => Self::A3,
            Paper::Letter => Self::Tabloid,
        }
    }

    /// Wide enough for two strips.
    fn is_wide(self) -> bool {
        matches!(self, Self::A3 | Self::Tabloid)
    }

    fn format(self) -> Format {
        let (width, height) = self.millimetres();
        Format {
            width,
            height,
            wide: self.is_wide(),
        }
    }

    /// The next larger sheet of the same family.
    fn larger(self) -> Option<Self> {
        match self {
            Self::A4 => Some(Self::A3),
            Self::Letter => Some(Self::Tabloid),
            Self::A3 | Self::Tabloid => None,
        }
    }
}

/// Measures of a sheet; one may be longer than its paper where nothing else holds a row.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Format {
    width: f64,
    height: f64,
    wide: bool,
}

/// What the file does not say about its drawing.
#[derive(Clone, Debug)]
pub struct SheetOptions {
    /// Paper.
    pub size: SheetSize,
    /// Fingerprint of the netlist for the title block; empty for none.
    pub fingerprint: String,
}

impl SheetOptions {
    /// The sheets that suit the boat's paper.
    #[must_use]
    pub fn for_boat(system: &System, fingerprint: String) -> Self {
        Self {
            size: SheetSize::folding_to(system.boat.paper),
            fingerprint,
        }
    }
}

/// Draws a boat.
///
/// Every component and every conductor is on some sheet; the same boat gives the same sheets.
#[must_use]
pub fn schematic(system: &System, options: &SheetOptions) -> Vec<Sheet> {
    let circuit = Circuit::new(system);
    let mut size = options.size;
    loop {
        let format = size.format();
        let draft = Draft::best(system, &circuit, format);
        let excess = draft.excess(format);
        if excess <= 0.0 {
            return draft.render(system, &circuit, options, format);
        }
        // Lettering is never scaled and no row is cut: rather a larger sheet, and at last a longer one.
        if let Some(larger) = size.larger() {
            size = larger;
            continue;
        }
        let format = Format {
            width: format.width + (excess / 10.0).ceil() * 10.0,
            ..format
        };
        let draft = Draft::measure(system, &circuit, draft.plan, format);
        return draft.render(system, &circuit, options, format);
    }
}

/// Most chains of a boat that may fit on one sheet with every ladder in its feeder's rung.
const MOST_NESTED: usize = 150;

/// Most hubs and rungs that are taken out of one grid for its width.
const MOST_CUTS: usize = 40;

/// A plan with its measures and its places on sheets.
struct Draft {
    plan: Plan,
    measured: Vec<Measured>,
    zonings: Vec<Zoning>,
    paged: Paged,
}

impl Draft {
    /// The plainest way to draw the boat that fits the width of its sheets.
    fn best(system: &System, circuit: &Circuit, size: Format) -> Self {
        let room = frame::room(size, 0);
        let mut cuts = Cuts::default();
        // One sheet for all, if the boat is small enough to be worth the trial.
        if circuit.chains.len() <= MOST_NESTED {
            let plan = Plan::new(system, circuit, &cuts);
            let rows: usize = plan.grids.iter().map(|grid| grid.rows.len()).sum();
            if rows as f64 * 5.0 < room.bottoms[1] - room.top {
                let draft = Self::measure(system, circuit, plan, size);
                if draft.paged.taken.len() == 1 && draft.too_wide(room.width).is_empty() {
                    return draft;
                }
            }
        }
        cuts.blocks = true;
        let plain = Self::measure(system, circuit, Plan::new(system, circuit, &cuts), size);
        if plain.too_wide(room.width).is_empty() {
            return plain;
        }
        // Rungs are broken before the bars of single terminals are taken apart, or the other way about.
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
        }
        plain
    }

    /// Takes one hub or one rung out of every grid that is too wide; false when nothing more can be taken.
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
            .filter_map(|grid| self.shorten(system, circuit, cuts, preference, (grid, width)))
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
    ) -> Option<Cut> {
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
        let zonings: Vec<Zoning> = plan
            .grids
            .iter()
            .map(|grid| pages::zoning(system, circuit, grid))
            .collect();
        let mut measured = Vec::with_capacity(plan.grids.len());
        for (grid, zoning) in plan.grids.iter().zip(&zonings) {
            let source = Source {
                system,
                circuit,
                plan: &plan,
                grid,
                zoning,
            };
            let one = Measured::new(&source, Lettering::OneLine);
            // Two lines only where they save a strip or a sheet.
            let wanted = if one.width <= strip {
                one
            } else {
                let two = Measured::new(&source, Lettering::TwoLines);
                let helps = two.width <= strip || one.width > full;
                if helps { two } else { one }
            };
            measured.push(wanted);
        }
        let rooms = |sheet: usize| frame::room(size, sheet);
        let mut flow = Flow::new(system, circuit, &rooms);
        for (index, grid) in plan.grids.iter().enumerate() {
            flow.grid(index, grid, &measured[index], &zonings[index]);
        }
        let paged = flow.paged;
        Self {
            plan,
            measured,
            zonings,
            paged,
        }
    }

    fn render(
        &self,
        system: &System,
        circuit: &Circuit,
        options: &SheetOptions,
        size: Format,
    ) -> Vec<Sheet> {
        let mut stage = Stage::new(
            system,
            circuit,
            &self.plan,
            &self.measured,
            &self.zonings,
            size,
        );
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
        let rooms = |sheet: usize| frame::room(size, sheet);
        let sizes = frame::legend_sizes(&stage.used, rooms(0).width);
        let mut paged = self.paged.clone();
        let (legend_sheet, x, y, width) = paged.block(&rooms, &sizes);
        let legend = frame::legend(&stage.used, (x, y), width);
        layers.resize_with(paged.taken.len(), Layers::default);
        let count = layers.len();
        layers
            .into_iter()
            .enumerate()
            .map(|(index, layers)| {
                let title = self.sheet_title(system, circuit, index);
                let mut groups = vec![frame::border(size)];
                groups.extend(layers.zones);
                groups.extend(layers.wires);
                groups.extend(layers.parts);
                groups.extend(layers.labels);
                if index == legend_sheet {
                    groups.push(legend.clone());
                }
                if index == 0 {
                    groups.push(frame::cautions(size));
                }
                groups.push(frame::title(
                    system,
                    options,
                    size,
                    (index + 1, count),
                    &title,
                ));
                let Format { width, height, .. } = size;
                Sheet {
                    number: index + 1,
                    count,
                    width,
                    height,
                    title,
                    groups,
                    filled: self
                        .paged
                        .taken
                        .get(index)
                        .map_or(0.0, pages::Taken::filled),
                }
            })
            .collect()
    }

    /// Names of the ladders on a sheet.
    fn sheet_title(&self, system: &System, circuit: &Circuit, sheet: usize) -> String {
        let mut names: Vec<String> = Vec::new();
        for part in self.paged.parts.iter().filter(|part| part.sheet == sheet) {
            let grid = &self.plan.grids[part.grid];
            let name = match grid.head {
                _ if part.grid == 0 => "sources and main buses".to_owned(),
                Some(hub) => layout::hub_name(system, &circuit.hubs[hub]),
                None => "parts not fed".to_owned(),
            };
            if !names.contains(&name) {
                names.push(name);
            }
        }
        // A few names tell more than many.
        match names.len() {
            0..=3 => names.join(", "),
            more => format!("{}, {} and {} more", names[0], names[1], more - 2),
        }
    }
}
