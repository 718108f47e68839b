//! The schematic: a resolved boat as sheets of primitives in millimetres.
//!
//! A DC system is nearly a ladder and is drawn as one: hubs are upright bars, chains are level rows between them.
//! What fits no row is broken off, and both ends name each other by sheet and field.
//! This room judges nothing and writes no file; exporters turn its sheets into bytes.

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
use pages::{Flow, Paged, Rooms, Zoning};
use plan::{Plan, Split};
use render::{Layers, Stage};
use scene::Group;
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
    let draft = Draft::best(system, &circuit, options.size);
    draft.render(system, &circuit, options)
}

/// A plan with its measures and its places on sheets.
struct Draft {
    plan: Plan,
    measured: Vec<Measured>,
    zonings: Vec<Zoning>,
    paged: Paged,
}

impl Draft {
    /// The plainest way to draw the boat that fits the width of its sheets.
    fn best(system: &System, circuit: &Circuit, size: SheetSize) -> Self {
        let rooms = |sheet: usize| frame::rooms(size, sheet);
        let full = rooms(0).full;
        let mut narrowest: Option<Self> = None;
        for split in [Split::Nested, Split::Blocks, Split::Buses, Split::Hubs] {
            let plan = Plan::new(system, circuit, split);
            let nested_too_tall = split == Split::Nested
                && plan.grids.iter().map(|grid| grid.rows.len()).sum::<usize>() as f64 * 5.0
                    > full.bottom - full.top;
            if nested_too_tall {
                continue;
            }
            let draft = Self::measure(system, circuit, plan, &rooms);
            let fits = draft.measured.iter().all(|grid| grid.width <= full.width);
            let one_sheet = draft.paged.tops.len() == 1;
            if fits && (split != Split::Nested || one_sheet) {
                return draft;
            }
            let width = |draft: &Self| {
                draft
                    .measured
                    .iter()
                    .map(|grid| grid.width)
                    .fold(0.0, f64::max)
            };
            if split != Split::Nested
                && narrowest
                    .as_ref()
                    .is_none_or(|known| width(&draft) < width(known))
            {
                narrowest = Some(draft);
            }
        }
        narrowest.unwrap_or_else(|| {
            let plan = Plan::new(system, circuit, Split::Blocks);
            Self::measure(system, circuit, plan, &rooms)
        })
    }

    fn measure(
        system: &System,
        circuit: &Circuit,
        plan: Plan,
        rooms: &dyn Fn(usize) -> Rooms,
    ) -> Self {
        let first = rooms(0);
        let (strip, full) = (first.strips[0].width, first.full.width);
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
        let mut flow = Flow::new(system, circuit, rooms);
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

    fn render(&self, system: &System, circuit: &Circuit, options: &SheetOptions) -> Vec<Sheet> {
        let size = options.size;
        let mut stage = Stage::new(system, circuit, &self.plan, &self.measured, &self.zonings);
        stage.pieces = render::count_pieces(
            system,
            circuit,
            &self.plan,
            &self.measured,
            &self.paged.parts,
        );
        let place =
            |sheet: usize, at: (f64, f64)| format!("{}/{}", sheet + 1, frame::field(size, at));
        let mut hub_places: BTreeMap<usize, Vec<String>> = BTreeMap::new();
        for part in &self.paged.parts {
            let (refs, hubs) = stage.spots(part);
            for (reference, (sheet, at)) in refs {
                stage.ref_places.insert(reference, place(sheet, at));
            }
            for (hub, (sheet, at)) in hubs {
                let places = hub_places.entry(hub).or_default();
                let name = place(sheet, at);
                if !places.contains(&name) {
                    places.push(name);
                }
            }
        }
        stage.hub_places = hub_places;
        let count = self.paged.tops.len();
        let mut layers: Vec<Layers> = (0..count).map(|_| Layers::default()).collect();
        for part in &self.paged.parts {
            stage.part(part, &mut layers[part.sheet]);
        }
        let rooms = |sheet: usize| frame::rooms(size, sheet);
        let mut extra: Vec<(usize, Group)> = Vec::new();
        let last = count - 1;
        // The legend takes what is left of the last sheet, or a sheet of its own.
        let legend_room = {
            let rooms = rooms(last);
            let mut best = None;
            for (strip, room) in rooms.strips.iter().enumerate() {
                let (_, width, height) = frame::legend_size(&stage.used, room.width);
                let top = self.paged.tops[last][strip];
                if top + height <= room.bottom && best.is_none() {
                    best = Some((last, room.left, top, width));
                }
            }
            best
        };
        let (sheet, x, y, width) = legend_room.unwrap_or_else(|| {
            let rooms = rooms(count);
            (
                count,
                rooms.strips[0].left,
                rooms.strips[0].top,
                rooms.strips[0].width,
            )
        });
        extra.push((sheet, frame::legend(&stage.used, (x, y), width)));
        if sheet == count {
            layers.push(Layers::default());
        }
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
                groups.extend(
                    extra
                        .iter()
                        .filter(|(sheet, _)| *sheet == index)
                        .map(|(_, group)| group.clone()),
                );
                if index == 0 {
                    groups.push(frame::cautions(size));
                }
                groups.push(frame::title(system, options, (index + 1, count), &title));
                let (width, height) = size.millimetres();
                Sheet {
                    number: index + 1,
                    count,
                    width,
                    height,
                    title,
                    groups,
                    filled: self.filled(size, index),
                }
            })
            .collect()
    }

    /// Share of the room for rows that is taken on a sheet.
    fn filled(&self, size: SheetSize, sheet: usize) -> f64 {
        let Some(tops) = self.paged.tops.get(sheet) else {
            return 0.0;
        };
        let rooms = frame::rooms(size, sheet);
        let (mut taken, mut all) = (0.0, 0.0);
        for (room, top) in rooms.strips.iter().zip(tops) {
            taken += (top - room.top).min(room.bottom - room.top);
            all += room.bottom - room.top;
        }
        taken / all
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
        names.join(", ")
    }
}
