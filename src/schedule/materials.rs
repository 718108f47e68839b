//! The bill of materials: what to buy, by size and kind, with the reserve of the trade; no maker is named.
//!
//! Quantities come from the cut list, the ends of the conductors and the parts of the netlist.

use super::cut_list::{CutList, pieces};
use super::ends::{End, Fitting, size_words, terminal_at};
use super::head::length_style;
use super::labels::Label;
use super::paper::{Block, Cell, Column, Field, Orientation, Sheet, Table};
use crate::standards::{Spare, SpareItem, is_battery_cable, spare};
use crate::system::{Component, ComponentKind, Device, System};
use crate::units::{Metres, decimal, format_cut_length, round_up_to};
use std::collections::BTreeMap;

/// How a quantity counts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Quantity {
    /// Length.
    Length(Metres),
    /// Pieces.
    Pieces(usize),
}

/// One line of the bill.
#[derive(Clone, Debug, PartialEq)]
pub struct Material {
    /// Group, in shop order.
    pub group: &'static str,
    /// Size and kind.
    pub description: String,
    /// What the boat takes.
    pub net: Quantity,
    /// The reserve, in words; empty for none.
    pub reserve: String,
    /// What to buy.
    pub buy: Quantity,
    /// Where it is used.
    pub used: String,
}

const COLUMNS: &[&str] = &[
    "item",
    "group",
    "description",
    "net",
    "unit",
    "reserve",
    "buy",
    "used",
];

/// Everything to buy, group by group in shop order.
#[must_use]
pub fn materials(
    system: &System,
    cuts: &CutList,
    labels: &[Label],
    fitted: &[[Fitting; 2]],
) -> Vec<Material> {
    let mut bill = wire(cuts);
    bill.extend(fittings(system, fitted));
    bill.extend(sleeves(labels));
    bill.extend(devices(system));
    bill.extend(parts(system));
    // Within a group the order of the netlist stays.
    bill.sort_by_key(|line| SHOP_ORDER.iter().position(|group| *group == line.group));
    bill
}

/// Groups in the order they are bought in.
const SHOP_ORDER: &[&str] = &[
    "wire",
    "battery cable",
    "terminals",
    "splices",
    "heat-shrink for labels",
    "overcurrent devices",
    "holders",
    "blocks and buses",
    "switches",
    "connectors",
    "contacts",
    "instruments",
    "batteries",
    "charging",
    "loads",
];

fn wire(cuts: &CutList) -> Vec<Material> {
    cuts.spools
        .iter()
        .map(|spool| Material {
            group: if is_battery_cable(spool.gauge) {
                "battery cable"
            } else {
                "wire"
            },
            description: spool.name.clone(),
            net: Quantity::Length(spool.net),
            reserve: reserve_words(SpareItem::Wire),
            buy: Quantity::Length(spool.buy),
            used: format!("{} of the cut list", pieces(spool.cuts.len())),
        })
        .collect()
}

/// Rings by barrel and stud, lugs by wire size and stud, contacts by connector; thin before thick.
fn fittings(system: &System, fitted: &[[Fitting; 2]]) -> Vec<Material> {
    let mut counts: Vec<(Group, f64, String, usize)> = Vec::new();
    let mut places: BTreeMap<(Group, String), usize> = BTreeMap::new();
    for (conductor, fitted) in system.conductors.iter().zip(fitted) {
        let area = conductor.gauge.map_or(0.0, |gauge| gauge.value.area().0);
        for (end, fitted) in End::BOTH.into_iter().zip(fitted) {
            let (group, description) = match fitted {
                // The colour of an insulated barrel says which sizes it takes; a bare lug is for one size.
                Fitting::Ring { barrel, .. } if *barrel == Some("bare lug") => (
                    Group::Terminals,
                    format!("{} {}", size_words(conductor), fitted.words()),
                ),
                Fitting::Ring { .. } => (Group::Terminals, fitted.words()),
                Fitting::Contact(_) => {
                    let part = system.component_of(terminal_at(conductor, end));
                    (
                        Group::Contacts,
                        format!(
                            "{}, {}, for {}",
                            fitted.words(),
                            size_words(conductor),
                            part.name
                        ),
                    )
                }
                Fitting::Splice(_) => continue,
            };
            let place = *places
                .entry((group, description.clone()))
                .or_insert_with(|| {
                    counts.push((group, area, description, 0));
                    counts.len() - 1
                });
            counts[place].3 += 1;
        }
    }
    counts.sort_by(|a, b| {
        a.0.cmp(&b.0)
            .then_with(|| a.1.total_cmp(&b.1))
            .then_with(|| a.2.cmp(&b.2))
    });
    counts
        .into_iter()
        .map(|(group, _, description, count)| {
            let item = match group {
                Group::Terminals => SpareItem::Terminals,
                Group::Contacts => SpareItem::Contacts,
            };
            Material {
                group: match group {
                    Group::Terminals => "terminals",
                    Group::Contacts => "contacts",
                },
                description,
                net: Quantity::Pieces(count),
                reserve: reserve_words(item),
                buy: Quantity::Pieces(with_reserve(count, item)),
                used: "ends of the cut list".to_owned(),
            }
        })
        .collect()
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Group {
    Terminals,
    Contacts,
}

fn sleeves(labels: &[Label]) -> Vec<Material> {
    let mut lengths: Vec<(&'static str, Metres, Metres)> = Vec::new();
    for label in labels {
        let Some(sleeve) = label.sleeve else { continue };
        let length = label.length * label.quantity as f64;
        match lengths
            .iter_mut()
            .find(|(name, _, _)| *name == sleeve.supplied_name)
        {
            Some((_, _, sum)) => *sum = *sum + length,
            None => lengths.push((sleeve.supplied_name, sleeve.supplied, length)),
        }
    }
    lengths.sort_by(|a, b| a.1.total_cmp(&b.1));
    lengths
        .into_iter()
        .filter(|(_, _, length)| length.0 > 0.0)
        .map(|(name, _, length)| Material {
            group: "heat-shrink for labels",
            description: format!("{name} bore, 3:1, white"),
            net: Quantity::Length(length),
            reserve: reserve_words(SpareItem::Wire),
            buy: Quantity::Length(Metres(round_up_to(
                length.0 * (1.0 + percent(SpareItem::Wire) / 100.0),
                0.1,
            ))),
            used: "label schedule".to_owned(),
        })
        .collect()
}

/// Fuses and breakers by kind, form and rating.
fn devices(system: &System) -> Vec<Material> {
    let mut found: BTreeMap<String, Vec<&str>> = BTreeMap::new();
    for device in system.devices.iter().filter(|device| !device.spare) {
        found
            .entry(device_words(device))
            .or_default()
            .push(&device.name);
    }
    found
        .into_iter()
        .map(|(description, names)| {
            let is_fuse = description.starts_with("fuse");
            let reserve = if is_fuse {
                percent_or_pieces(SpareItem::Fuses)
            } else {
                0
            };
            Material {
                group: "overcurrent devices",
                description,
                net: Quantity::Pieces(names.len()),
                reserve: if is_fuse {
                    reserve_words(SpareItem::Fuses)
                } else {
                    String::new()
                },
                buy: Quantity::Pieces(names.len() + reserve),
                used: names.join(", "),
            }
        })
        .collect()
}

fn device_words(device: &Device) -> String {
    use crate::system::DeviceKind::{Breaker, Fuse, SelfResetting};
    let kind = match device.kind {
        Fuse => "fuse",
        Breaker => "breaker",
        SelfResetting => "self-resetting breaker",
    };
    let form = device.form.as_ref().map_or("", |form| form.value.as_str());
    let rating = device.rating.map_or_else(
        || "rating not given".to_owned(),
        |rating| {
            format!(
                "{} A",
                decimal(rating.value.0, usize::from(rating.value.0.fract() != 0.0))
            )
        },
    );
    let mut words = vec![kind, form, &rating];
    words.retain(|word| !word.is_empty());
    words.join(", ")
}

/// The parts themselves, like ones together, in the order of the file.
fn parts(system: &System) -> Vec<Material> {
    let mut places: BTreeMap<(&str, String), usize> = BTreeMap::new();
    let mut found: Vec<(&'static str, String, Vec<&str>)> = Vec::new();
    for component in &system.components {
        let Some((group, description)) = part_words(component) else {
            continue;
        };
        let place = *places
            .entry((group, description.clone()))
            .or_insert_with(|| {
                found.push((group, description, Vec::new()));
                found.len() - 1
            });
        found[place].2.push(&component.name);
    }
    found
        .into_iter()
        .map(|(group, description, names)| Material {
            group,
            description,
            net: Quantity::Pieces(names.len()),
            reserve: String::new(),
            buy: Quantity::Pieces(names.len()),
            used: names.join(", "),
        })
        .collect()
}

/// Group and description; none for what is counted elsewhere or belongs to the hull.
fn part_words(component: &Component) -> Option<(&'static str, String)> {
    let (group, what) = match component.kind {
        ComponentKind::Battery => ("batteries", "battery"),
        ComponentKind::Switch => ("switches", "switch"),
        ComponentKind::Relay => ("switches", "relay"),
        ComponentKind::Combiner => ("switches", "combiner"),
        ComponentKind::Isolator => ("switches", "diode isolator"),
        ComponentKind::Fuse => ("holders", "fuse holder"),
        ComponentKind::FuseBlock => ("blocks and buses", "fuse block"),
        ComponentKind::Bus => ("blocks and buses", "bus bar"),
        ComponentKind::Load => ("loads", "load"),
        ComponentKind::Charger => ("charging", "charger"),
        ComponentKind::Alternator => ("charging", "alternator"),
        ComponentKind::Converter => ("charging", "converter"),
        ComponentKind::Solar => ("charging", "solar controller"),
        ComponentKind::Instrument => ("instruments", "instrument"),
        ComponentKind::Shunt => ("instruments", "shunt"),
        ComponentKind::Connector => ("connectors", "connector"),
        ComponentKind::Splice => ("splices", "splice"),
        ComponentKind::Breaker | ComponentKind::Ground => return None,
    };
    let mut words = vec![what.to_owned()];
    if !component.subkind.is_empty() {
        words.push(component.subkind.clone());
    }
    if let Some(connector) = &component.connector {
        words.push(format!("{} cavities", connector.cavities));
    }
    if let Some(studs) = component.studs {
        words.push(format!("{} studs", studs.value));
    }
    if let Some(rating) = component.rating {
        words.push(format!("{} A", decimal(rating.value.0, 0)));
    }
    if let Some(stud) = &component.stud {
        words.push(format!("stud {}", stud.value));
    }
    if component
        .ignition_protected
        .is_some_and(|given| given.value)
    {
        words.push("ignition protected".to_owned());
    }
    Some((group, words.join(", ")))
}

fn percent(item: SpareItem) -> f64 {
    match spare(item).0 {
        Spare::Percent(percent) => percent,
        Spare::Pieces(_) => 0.0,
    }
}

/// Pieces of reserve, where the table counts them.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // a few pieces
fn percent_or_pieces(item: SpareItem) -> usize {
    match spare(item).0 {
        Spare::Percent(_) => 0,
        Spare::Pieces(pieces) => pieces as usize,
    }
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // counts of conductor ends
fn with_reserve(count: usize, item: SpareItem) -> usize {
    round_up_to(count as f64 * (1.0 + percent(item) / 100.0), 1.0) as usize
}

fn reserve_words(item: SpareItem) -> String {
    match spare(item).0 {
        Spare::Percent(percent) => format!("{} %", decimal(percent, 0)),
        Spare::Pieces(pieces) => format!("{} of each rating", decimal(pieces, 0)),
    }
}

/// One record a line.
#[must_use]
pub fn material_table(bill: &[Material]) -> Table {
    let figure = |quantity| match quantity {
        Quantity::Length(length) => Cell::number(length.0 * 1000.0, 0),
        Quantity::Pieces(count) => Cell::count(count),
    };
    let rows = bill
        .iter()
        .enumerate()
        .map(|(index, line)| {
            vec![
                Cell::count(index + 1),
                Cell::text(line.group),
                Cell::text(&line.description),
                figure(line.net),
                Cell::text(match line.net {
                    Quantity::Length(_) => "mm",
                    Quantity::Pieces(_) => "pieces",
                }),
                Cell::text(&line.reserve),
                figure(line.buy),
                Cell::text(&line.used),
            ]
        })
        .collect();
    Table {
        stem: "bill-of-materials",
        columns: COLUMNS,
        rows,
    }
}

/// The bill for the shop.
#[must_use]
pub fn material_sheet(system: &System, cuts: &CutList, bill: &[Material]) -> Sheet {
    let style = length_style(system);
    let words = |quantity| match quantity {
        Quantity::Length(length) => format_cut_length(length, style),
        Quantity::Pieces(count) => count.to_string(),
    };
    let mut blocks: Vec<Block> = Vec::new();
    for (index, line) in bill.iter().enumerate() {
        if blocks.last().is_none_or(|block| block.title != line.group) {
            blocks.push(Block {
                title: line.group.to_owned(),
                ..Block::default()
            });
        }
        if let Some(block) = blocks.last_mut() {
            block.rows.push(vec![
                Field::text((index + 1).to_string()),
                Field::text(&line.description),
                Field::text(words(line.net)),
                Field::text(&line.reserve),
                Field::Strong(words(line.buy)),
                Field::text(&line.used),
                Field::text(""),
                Field::Tick,
            ]);
        }
    }
    let mut remarks = vec![
        "Reserves are common practice, no source. Described by size and kind: any maker's part that has the ratings will do."
            .to_owned(),
    ];
    if !cuts.unmeasured.is_empty() {
        remarks.push(format!(
            "{} wires without a length or a size are not in this bill: measure them first",
            cuts.unmeasured.len()
        ));
    }
    Sheet {
        stem: "bill-of-materials",
        title: "Bill of materials",
        orientation: Orientation::Across,
        remarks,
        columns: vec![
            Column::figure("#", 10.0),
            Column::text("Description", 90.0),
            Column::figure("Net", 26.0),
            Column::text("Reserve", 28.0),
            Column::figure("Buy", 26.0),
            Column::text("Used at", 60.0),
            Column::text("Cost", 22.0),
            Column::tick("Got"),
        ],
        blocks,
        strips: Vec::new(),
        cautions: Vec::new(),
    }
}
