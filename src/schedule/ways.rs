//! The way sheet: what travels together on every measured way and in every bundle, how thick it is, how it is held.
//!
//! Diameters and supports come from `analysis`; whether a hole is too small is told among the findings.

use super::cautions;
use super::head::length_style;
use super::paper::{Block, Cell, Column, Field, Orientation, Sheet, Table};
use crate::analysis::Facts;
use crate::analysis::fill::{Fill, Supports, supports};
use crate::standards::constants;
use crate::system::{BundleId, ConductorId, Known, System, WayId, ZoneId};
use crate::units::{LengthStyle, Metres, decimal, format_length};

const COLUMNS: &[&str] = &[
    "kind",
    "name",
    "from",
    "to",
    "length_mm",
    "zone",
    "bundle",
    "wires",
    "wire_count",
    "unlisted_count",
    "unknown_count",
    "diameter_mm",
    "thickest_on",
    "hole_mm",
    "room_mm",
    "support_count",
    "support_spacing_mm",
    "support_basis",
];

/// A way, or a bundle where it is thickest.
struct Row<'f> {
    kind: &'static str,
    name: &'f str,
    /// Points that a way joins.
    between: Option<[&'f str; 2]>,
    length: Known<Metres>,
    zone: &'f str,
    /// Bundle of a way.
    bundle: &'f str,
    fill: &'f Fill,
    /// The way on which a bundle is so thick.
    thickest_on: &'f str,
    hole: Known<Metres>,
    supports: Option<Supports>,
}

/// Whether the boat has anything for this sheet.
#[must_use]
pub fn has_ways(system: &System) -> bool {
    !system.ways.is_empty() || !system.bundles.is_empty()
}

/// One record a way, then one a bundle.
#[must_use]
pub fn way_table(facts: &Facts<'_>) -> Table {
    let system = facts.system;
    let mm = |length: Metres| length.0 * 1000.0;
    let table_rows = rows(facts)
        .iter()
        .map(|row| {
            let [from, to] = row.between.unwrap_or_default();
            let room = row.hole.zip(row.fill.diameter);
            vec![
                Cell::text(row.kind),
                Cell::text(row.name),
                Cell::text(from),
                Cell::text(to),
                Cell::maybe(row.length.map(|length| mm(length.value)), 1),
                Cell::text(row.zone),
                Cell::text(row.bundle),
                Cell::text(numbers(system, &row.fill.members)),
                Cell::count(row.fill.members.len()),
                Cell::count(row.fill.unlisted as usize),
                Cell::count(row.fill.unknown.len()),
                Cell::maybe(row.fill.diameter.map(mm), 1),
                Cell::text(row.thickest_on),
                Cell::maybe(row.hole.map(|hole| mm(hole.value)), 1),
                Cell::maybe(room.map(|(hole, thick)| mm(hole.value) - mm(thick)), 1),
                row.supports
                    .map_or(Cell::Empty, |supports| Cell::count(supports.count)),
                Cell::maybe(row.supports.map(|supports| mm(supports.spacing)), 0),
                Cell::text(
                    row.supports
                        .map_or_else(String::new, |supports| supports.basis.to_string()),
                ),
            ]
        })
        .collect();
    Table {
        stem: "ways",
        columns: COLUMNS,
        rows: table_rows,
    }
}

/// The sheet for whoever bores, clips and pulls.
#[must_use]
pub fn way_sheet(facts: &Facts<'_>) -> Sheet {
    let system = facts.system;
    let style = length_style(system);
    let rows = rows(facts);
    let block = |kind: &str, title: &str, detail: &str| Block {
        title: title.to_owned(),
        detail: detail.to_owned(),
        rows: rows
            .iter()
            .filter(|row| row.kind == kind)
            .map(|row| sheet_row(system, style, row))
            .collect(),
        totals: Vec::new(),
    };
    let mut ways = block("way", "Measured ways", "");
    ways.totals = totals(&rows, style);
    let blocks = [
        ways,
        block("bundle", "Bundles", "each where it is thickest"),
    ];
    let (packing, packing_basis) = constants::bundle_packing();
    Sheet {
        stem: "ways",
        title: "Ways and bundles",
        orientation: Orientation::Across,
        remarks: vec![format!(
            "Diameter = {} x the root of the sum of the squared outside diameters, never less than two side by side ({}); outside \
                 diameters are an upper estimate by size, so measured ones come first. Sheaths, plugs and chafing gear are not counted. \
                 Supports: one at each spacing, the far end included; battery cable has a spacing of its own, and the shortest holds.",
            decimal(packing, 1),
            packing_basis
        )],
        columns: vec![
            Column::tick("Done"),
            Column::text("Way or bundle", 34.0),
            Column::text("From, to", 34.0),
            Column::figure("Length", 20.0),
            Column::text("Zone, bundle", 28.0),
            Column::text("Wires", 72.0),
            Column::figure("Diameter mm", 18.0),
            Column::figure("Hole mm", 16.0),
            Column::figure("Supports", 26.0),
        ],
        blocks: blocks
            .into_iter()
            .filter(|block| !block.rows.is_empty())
            .collect(),
        strips: Vec::new(),
        cautions: vec![cautions::DISCONNECT, cautions::ASSUMED],
    }
}

fn rows<'f>(facts: &'f Facts<'_>) -> Vec<Row<'f>> {
    let system = facts.system;
    let zone =
        |zone: Option<ZoneId>| zone.map_or("", |zone| system.zones[zone.index()].name.as_str());
    let ways = system.ways.iter().enumerate().map(|(index, way)| {
        let fill = facts.fills.way(WayId::at(index));
        let point = |point: crate::system::PointId| system.points[point.index()].name.as_str();
        Row {
            kind: "way",
            name: &way.name,
            between: Some([point(way.from), point(way.to)]),
            length: way.length,
            zone: zone(way.zone),
            bundle: way
                .bundle
                .map_or("", |bundle| system.bundles[bundle.index()].name.as_str()),
            fill,
            thickest_on: "",
            hole: way.hole,
            supports: way
                .length
                .and_then(|length| supports(system, &fill.members, length.value)),
        }
    });
    let bundles = system.bundles.iter().enumerate().map(|(index, bundle)| {
        let thickest = facts.fills.bundle(BundleId::at(index));
        Row {
            kind: "bundle",
            name: &bundle.name,
            between: None,
            length: None,
            zone: zone(bundle.zone),
            bundle: "",
            fill: &thickest.fill,
            thickest_on: thickest
                .way
                .map_or("", |way| system.ways[way.index()].name.as_str()),
            hole: bundle.hole,
            supports: None,
        }
    });
    ways.chain(bundles).collect()
}

fn sheet_row(system: &System, style: LengthStyle, row: &Row<'_>) -> Vec<Field> {
    let mm = |length: Metres| decimal(length.0 * 1000.0, 1);
    let fill = row.fill;
    let least = if fill.is_partial() { "at least " } else { "" };
    let mut wires = numbers(system, &fill.members);
    if fill.unlisted > 0 {
        wires = format!("{wires}; {} not listed", fill.unlisted);
    }
    let place = row.between.map_or_else(
        || vec![format!("thickest on {}", row.thickest_on)],
        |ends| ends.map(str::to_owned).to_vec(),
    );
    vec![
        Field::Tick,
        Field::Strong(row.name.to_owned()),
        Field::Lines(if row.between.is_none() && row.thickest_on.is_empty() {
            Vec::new()
        } else {
            place
        }),
        match row.length {
            Some(length) => Field::text(format_length(length.value, style)),
            None if row.kind == "way" => Field::Blank("not given".to_owned()),
            None => Field::text(""),
        },
        Field::Lines(vec![row.zone.to_owned(), row.bundle.to_owned()]),
        Field::Lines(vec![format!("{} wires", fill.members.len()), wires]),
        Field::Strong(
            fill.diameter
                .map_or_else(String::new, |diameter| format!("{least}{}", mm(diameter))),
        ),
        Field::text(row.hole.map_or_else(String::new, |hole| mm(hole.value))),
        Field::text(row.supports.map_or_else(String::new, |supports| {
            format!(
                "{}, every {}",
                supports.count,
                format_length(supports.spacing, style)
            )
        })),
    ]
}

fn totals(rows: &[Row<'_>], style: LengthStyle) -> Vec<String> {
    let measured: Metres = rows
        .iter()
        .filter_map(|row| row.length)
        .map(|length| length.value)
        .sum();
    let supports: usize = rows
        .iter()
        .filter_map(|row| row.supports)
        .map(|supports| supports.count)
        .sum();
    vec![format!(
        "{} of measured ways, {supports} supports; runs that take no measured way are not in this count",
        format_length(measured, style)
    )]
}

fn numbers(system: &System, members: &[ConductorId]) -> String {
    members
        .iter()
        .map(|id| system.conductors[id.index()].number.as_str())
        .collect::<Vec<_>>()
        .join(", ")
}
