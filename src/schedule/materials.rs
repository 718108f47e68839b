//! The bill of materials: what to buy, by size and kind, with the reserve of the trade; no maker is named.
//!
//! Quantities come from the cut list, the ends of the conductors and the parts of the netlist.

use super::cut_list::{CutList, pieces};
use super::ends::{End, Fitting, size_words, terminal_at};
use super::head::length_style;
use super::label_stock::label_stocks;
use super::labels::{Label, clear_sleeve};
use super::paper::{Block, Cell, Column, Field, Orientation, Sheet, Table};
use super::spool_plan::{SpoolPlan, buy_words};
use crate::analysis::Facts;
use crate::analysis::fill::supports;
use crate::standards::{Spare, SpareItem, is_battery_cable, spare};
use crate::system::{
    Component, ComponentKind, Device, LabelKind, LabelStock, System, TerminalId, WayId,
};
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
    /// What of it is at hand; none where the file says nothing of it.
    pub at_hand: Option<Quantity>,
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
    "at_hand",
    "unit",
    "reserve",
    "buy",
    "used",
];

/// Everything to buy, group by group in shop order.
#[must_use]
pub fn materials(
    facts: &Facts<'_>,
    cuts: &CutList,
    plans: &[SpoolPlan],
    labels: &[Label],
    fitted: &[[Fitting; 2]],
) -> Vec<Material> {
    let system = facts.system;
    let mut bill = wire(system, cuts, plans);
    bill.extend(fittings(system, fitted));
    bill.extend(label_material(system, labels));
    bill.extend(devices(system));
    bill.extend(parts(system));
    bill.extend(seals(system));
    bill.extend(way_material(facts));
    // Within a group the order of the netlist stays.
    bill.sort_by_key(|line| SHOP_ORDER.iter().position(|group| *group == line.group));
    bill
}

/// Groups in the order they are bought in.
const SHOP_ORDER: &[&str] = &[
    "wire",
    "multi-core cable",
    "battery cable",
    "terminals",
    "splices",
    "heat-shrink for labels",
    "labels",
    "overcurrent devices",
    "holders",
    "blocks and buses",
    "switches",
    "connectors",
    "contacts",
    "seals and plugs",
    "covering",
    "clamps and screws",
    "grommets",
    "instruments",
    "batteries",
    "charging",
    "loads",
];

fn wire(system: &System, cuts: &CutList, plans: &[SpoolPlan]) -> Vec<Material> {
    let style = length_style(system);
    plans
        .iter()
        .map(|plan| {
            let spool = &cuts.spools[plan.spool];
            let mut used = format!("{} of the cut list", pieces(spool.cuts.len()));
            if plan.has_stock && plan.to_buy().0 > 0.0 {
                used = format!("{used}; buy {}", buy_words(plan, style));
            }
            Material {
                group: if spool.cuts.iter().any(|cut| cut.cable.is_some()) {
                    "multi-core cable"
                } else if is_battery_cable(spool.gauge) {
                    "battery cable"
                } else {
                    "wire"
                },
                description: spool.name.clone(),
                net: Quantity::Length(spool.net),
                at_hand: plan.has_stock.then(|| Quantity::Length(plan.from_stock())),
                reserve: reserve_words(SpareItem::Wire),
                buy: Quantity::Length(plan.to_buy()),
                used,
            }
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
                at_hand: None,
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

/// Clear sleeve by bore, and labels by stock: whole sheets where it comes in sheets.
fn label_material(system: &System, labels: &[Label]) -> Vec<Material> {
    let stocks = label_stocks(system);
    let share = 1.0 + percent(SpareItem::Wire) / 100.0;
    let mut bill: Vec<Material> = clear_sleeve(labels, &stocks)
        .into_iter()
        .map(|(sleeve, length)| Material {
            group: "heat-shrink for labels",
            description: format!("clear, {} bore, 3:1", sleeve.supplied_name),
            net: Quantity::Length(length),
            at_hand: None,
            reserve: reserve_words(SpareItem::Wire),
            buy: Quantity::Length(Metres(round_up_to(length.0 * share, 0.1))),
            used: "label schedule".to_owned(),
        })
        .collect();
    for (index, stock) in stocks.iter().enumerate() {
        let on_it = labels.iter().filter(|label| {
            (label.printing.as_ref()).is_ok_and(|printing| printing.stock == index)
        });
        let count: usize = on_it.map(|label| label.quantity).sum();
        if count == 0 {
            continue;
        }
        let buy = with_reserve(count, SpareItem::Wire);
        let sheets = stock.page.map(|page| {
            let on_a_sheet = (page.columns * page.rows) as usize;
            let sheets = buy.div_ceil(on_a_sheet);
            format!(
                "{sheets} {} of {on_a_sheet}; ",
                if sheets == 1 { "sheet" } else { "sheets" }
            )
        });
        bill.push(Material {
            group: "labels",
            description: stock_words(stock),
            net: Quantity::Pieces(count),
            at_hand: None,
            reserve: reserve_words(SpareItem::Wire),
            buy: Quantity::Pieces(buy),
            used: format!("{}label schedule", sheets.unwrap_or_default()),
        });
    }
    bill
}

/// `wraps: wrap label 38 × 30 mm, 18 mm clear tail`.
fn stock_words(stock: &LabelStock) -> String {
    let mm = |length: Metres| {
        let value = length.0 * 1000.0;
        decimal(value, usize::from((value - value.round()).abs() > 1e-6))
    };
    let size = format!("{} × {} mm", mm(stock.width), mm(stock.height));
    let kind = match stock.kind {
        LabelKind::Wrap => format!("wrap label {size}, {} mm clear tail", mm(stock.tail())),
        LabelKind::Sleeve => match stock.bores {
            Some((supplied, recovered)) => format!(
                "heat-shrink marker {size}, bore {} to {} mm",
                mm(supplied),
                mm(recovered)
            ),
            None => format!("heat-shrink marker {size}"),
        },
        LabelKind::Flag => format!("flag label {size}"),
        LabelKind::Strip => format!("paper strip {size}, for clear sleeve"),
    };
    format!("{}: {kind}", stock.name)
}

/// Seals of sealed connectors, one a contact, and plugs for their empty cavities.
fn seals(system: &System) -> Vec<Material> {
    let mut bill = Vec::new();
    for component in &system.components {
        let Some(connector) = &component.connector else {
            continue;
        };
        if !connector.sealed.is_some_and(|sealed| sealed.value) {
            continue;
        }
        let ends = |at: &TerminalId| system.terminals[at.index()].conductors.len();
        let contacts: usize = component.terminals.iter().map(ends).sum();
        let filled = component.terminals.iter().filter(|at| ends(at) > 0).count();
        let empty = (2 * connector.cavities as usize).saturating_sub(filled);
        for (what, count) in [("wire seal", contacts), ("blanking plug", empty)] {
            if count > 0 {
                bill.push(Material {
                    group: "seals and plugs",
                    description: format!("{what} for {}", component.name),
                    net: Quantity::Pieces(count),
                    at_hand: None,
                    reserve: reserve_words(SpareItem::Contacts),
                    buy: Quantity::Pieces(with_reserve(count, SpareItem::Contacts)),
                    used: component.name.clone(),
                });
            }
        }
    }
    bill
}

/// A diameter in whole millimetres, or one that is to be measured; thin before thick.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Size(Option<u32>);

impl std::fmt::Display for Size {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self.0 {
            Some(size) => write!(out, "{size} mm"),
            None => out.write_str("a diameter to be measured"),
        }
    }
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // diameters of bundles
fn whole_mm(value: f64) -> u32 {
    value.round().clamp(0.0, 1e6) as u32
}

/// Covering, clamps with their screws, and grommets of the measured ways.
fn way_material(facts: &Facts<'_>) -> Vec<Material> {
    let system = facts.system;
    let mut covering: BTreeMap<Size, (Metres, Vec<&str>)> = BTreeMap::new();
    let mut clamps: BTreeMap<Size, (usize, Vec<&str>)> = BTreeMap::new();
    let mut grommets: BTreeMap<Size, (usize, Vec<&str>)> = BTreeMap::new();
    for (index, way) in system.ways.iter().enumerate() {
        let fill = facts.fills.way(WayId::at(index));
        if fill.members.is_empty() {
            continue;
        }
        // Two sizes that differ by less than a millimetre are one in the shop.
        let thick = match fill.diameter {
            Some(diameter) if !fill.is_partial() => {
                Size(Some(whole_mm(round_up_to(diameter.0 * 1000.0, 1.0))))
            }
            _ => Size(None),
        };
        let sheathed = way.sheathed
            || way
                .bundle
                .is_some_and(|bundle| system.bundles[bundle.index()].sheathed);
        let Some(length) = way.length.map(|length| length.value) else {
            continue;
        };
        if sheathed {
            let found = covering.entry(thick).or_default();
            found.0 = found.0 + length;
            found.1.push(&way.name);
        }
        if let Some(supports) = supports(system, &fill.members, length) {
            let found = clamps.entry(thick).or_default();
            found.0 += supports.count;
            found.1.push(&way.name);
        }
        if let Some(hole) = way.hole {
            let size = Size(Some(whole_mm(hole.value.0 * 1000.0)));
            let found = grommets.entry(size).or_default();
            found.0 += 1;
            found.1.push(&way.name);
        }
    }
    let pieces = |group, description, count, item, ways: &[&str]| Material {
        group,
        description,
        net: Quantity::Pieces(count),
        at_hand: None,
        reserve: reserve_words(item),
        buy: Quantity::Pieces(with_reserve(count, item)),
        used: ways.join(", "),
    };
    let mut bill = Vec::new();
    for (size, (length, ways)) in &covering {
        let share = 1.0 + percent(SpareItem::Wire) / 100.0;
        bill.push(Material {
            group: "covering",
            description: format!("sheath or conduit, bore over {size}"),
            net: Quantity::Length(*length),
            at_hand: None,
            reserve: reserve_words(SpareItem::Wire),
            buy: Quantity::Length(Metres(round_up_to(length.0 * share, 0.1))),
            used: ways.join(", "),
        });
    }
    for (size, (count, ways)) in &clamps {
        bill.push(pieces(
            "clamps and screws",
            format!("cushioned clamp for {size}, with screw"),
            *count,
            SpareItem::Clamps,
            ways,
        ));
    }
    for (size, (count, ways)) in &grommets {
        bill.push(pieces(
            "grommets",
            format!("grommet for a hole of {size}"),
            *count,
            SpareItem::Clamps,
            ways,
        ));
    }
    bill
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
                at_hand: None,
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
            at_hand: None,
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
                line.at_hand.map_or(Cell::Empty, figure),
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
                Field::text(line.at_hand.map_or_else(String::new, words)),
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
            Column::figure("At hand", 22.0),
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
