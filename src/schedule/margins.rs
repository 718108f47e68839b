//! The margins: how much more load each feeder, device and bank bears, and every current beside its rating.
//!
//! All figures come from `analysis::margins` and `analysis::currents`; margins are rounded down, currents up.

use super::cautions;
use super::paper::{Block, Cell, Column, Field, Orientation, Sheet, Table};
use crate::analysis::Facts;
use crate::analysis::currents::{LinkCurrents, Part, Peak, link_rating, part_rating};
use crate::analysis::margins::{
    BAD_JOINT, BadJoint, BankLimit, Bound, HOTTER, Limit, Margin, Margins, Subject,
};
use crate::analysis::voltage_drop;
use crate::system::{ConductorId, DeviceId, LinkId, LinkKind, System};
use crate::units::{Amps, Rounding, amps, decimal, percent};

const COLUMNS: &[&str] = &[
    "kind",
    "subject",
    "loads",
    "more_a",
    "first_limit",
    "first_limit_at",
    "in_case",
    "next_more_a",
    "next_limit",
    "next_limit_at",
    "judged_load",
    "drop_percent",
    "own_joint_at",
    "drop_with_own_joint_percent",
    "more_with_own_joint_a",
    "shared_joint_at",
    "drop_with_shared_joint_percent",
    "more_with_shared_joint_a",
    "solved_load",
    "solved_drop_percent",
    "more_at_10_c_hotter_a",
    "solved_drop_at_10_c_hotter_percent",
    "more_at_20_c_hotter_a",
    "solved_drop_at_20_c_hotter_percent",
];

const CURRENT_COLUMNS: &[&str] = &[
    "kind",
    "element",
    "limit_a",
    "scenario_a",
    "scenario_case",
    "everything_on_a",
    "everything_on_case",
    "cranking_a",
    "cranking_case",
    "at_least",
    "judged_a",
    "share_percent",
];

/// Rows of the nearest currents on the sheet; the table has them all.
const NEAREST: usize = 20;

/// One record a feeder, device or limit of a bank.
#[must_use]
pub fn margin_table(facts: &Facts<'_>, margins: &Margins) -> Table {
    let system = facts.system;
    let mut rows: Vec<Vec<Cell>> = margins
        .subjects
        .iter()
        .map(|margin| {
            let (kind, name) = subject_words(system, margin.subject);
            let bound = |bound: &Option<Bound>| match bound {
                Some(bound) => [
                    Cell::number(bound.more.0, 3),
                    Cell::text(bound.limit.kind()),
                    Cell::text(limit_at(system, bound.limit)),
                ],
                None => [Cell::Empty, Cell::Empty, Cell::Empty],
            };
            let mut row = vec![
                Cell::text(kind),
                Cell::text(name),
                Cell::text(load_names(system, margin).join(", ")),
            ];
            row.extend(bound(&margin.first));
            row.push(Cell::text(case_words(system, margin.first.as_ref())));
            row.extend(bound(&margin.next));
            let judged = margin.shared_joint.or(margin.joint);
            row.push(Cell::text(judged.map_or("", |joint| {
                system.loads[joint.load.index()].name.as_str()
            })));
            row.push(Cell::maybe(judged.map(|joint| joint.percent), 2));
            for joint in [margin.joint, margin.shared_joint] {
                row.push(Cell::text(joint.map_or("", |joint| {
                    system.conductors[joint.place.index()].number.as_str()
                })));
                row.push(Cell::maybe(joint.map(|joint| joint.with_joint), 2));
                row.push(Cell::maybe(joint.map(|joint| joint.more.0), 3));
            }
            row.push(Cell::text(margin.solved.map_or("", |(load, _)| {
                system.loads[load.index()].name.as_str()
            })));
            row.push(Cell::maybe(margin.solved.map(|(_, share)| share), 2));
            for step in 0..HOTTER.len() {
                let hotter = margin.hotter.get(step);
                row.push(Cell::maybe(hotter.map(|hotter| hotter.more.0), 3));
                row.push(Cell::maybe(hotter.and_then(|hotter| hotter.solved), 2));
            }
            row
        })
        .collect();
    for bank in &margins.banks {
        for &(limit, more) in &bank.more {
            let mut row = vec![
                Cell::text("bank"),
                Cell::text(&system.banks[bank.bank.index()].name),
                Cell::Empty,
                Cell::number(more.0, 3),
                Cell::text("endurance"),
                Cell::Empty,
                Cell::text(bank_limit_words(system, limit)),
            ];
            row.resize_with(COLUMNS.len(), || Cell::Empty);
            rows.push(row);
        }
    }
    Table {
        stem: "margins",
        columns: COLUMNS,
        rows,
    }
}

/// One record for everything that has a rating or an ampacity: its currents beside it.
#[must_use]
pub fn current_table(facts: &Facts<'_>) -> Table {
    let rows = rated(facts)
        .iter()
        .map(|rated| {
            let currents = rated.currents;
            let load = currents.load();
            let mut row = vec![
                Cell::text(rated.kind),
                Cell::text(&rated.name),
                Cell::maybe(rated.limit.map(|limit| limit.0), 2),
            ];
            for peak in [&currents.scenario, &currents.everything, &currents.cranking] {
                match peak.case {
                    Some(_) => {
                        row.push(Cell::number(peak.amps.0, 3));
                        row.push(Cell::text(peak_words(facts, peak)));
                    }
                    None => row.extend([Cell::Empty, Cell::Empty]),
                }
            }
            row.push(Cell::text(if load.unknown { "yes" } else { "" }));
            row.push(Cell::number(load.amps.0, 3));
            row.push(Cell::maybe(rated.share().map(|share| share * 100.0), 1));
            row
        })
        .collect();
    Table {
        stem: "currents",
        columns: CURRENT_COLUMNS,
        rows,
    }
}

/// The sheet for whoever wants to add a load.
#[must_use]
pub fn margin_sheet(facts: &Facts<'_>, margins: &Margins) -> Sheet {
    let system = facts.system;
    let of = |feeders: bool| -> Vec<Vec<Field>> {
        margins
            .subjects
            .iter()
            .filter(|margin| matches!(margin.subject, Subject::Feeder(_)) == feeders)
            .map(|margin| row(system, margin))
            .collect()
    };
    let mut remarks = vec![
        format!(
            "How much more may be drawn, by the numbers that the rules use, before the first limit is reached: ampacity in its place, rating of a \
             device, switch, bus, block or contact, drop of any load that shares the way (size formula). What draws more runs whenever \
             something behind the feeder or device runs today. A limit reached is no advice to use it up: devices are advised to carry at most \
             80 % for long. Bad joint: {} Ω more at one end, in the own way of the load nearest to its drop limit and where its whole way carries most. Hotter: \
             every place so many °C above what the netlist says, copper too.",
            decimal(BAD_JOINT.0, 1)
        ),
        "Banks: at the posts, until a scenario with hours would outlast what is usable, or lay-up (three weeks) would.".to_owned(),
    ];
    if margins.partial {
        remarks.push(
            "NOT ALL WAYS WERE FOLLOWED: the boat is too large or has no solution; margins may be smaller than told."
                .to_owned(),
        );
    }
    let blocks = [
        Block {
            title: "Feeders".to_owned(),
            detail: "blocks and positive buses with all that hangs on them".to_owned(),
            rows: of(true),
            totals: Vec::new(),
        },
        Block {
            title: "Overcurrent devices".to_owned(),
            detail: "each with all that it feeds".to_owned(),
            rows: of(false),
            totals: Vec::new(),
        },
        Block {
            title: "Banks".to_owned(),
            totals: bank_lines(system, margins),
            ..Block::default()
        },
        Block {
            title: "Nearest to their ratings".to_owned(),
            detail: "the table `currents` has every conductor, device, switch, bus and contact"
                .to_owned(),
            totals: nearest_lines(facts),
            ..Block::default()
        },
    ];
    Sheet {
        stem: "margins",
        title: "Margins",
        orientation: Orientation::Across,
        remarks,
        columns: vec![
            Column::text("Feeder or device", 38.0),
            Column::text("Feeds", 44.0),
            Column::figure("More load", 20.0),
            Column::text("First limit", 46.0),
            Column::text("Next limit", 46.0),
            Column::text("With one bad joint", 46.0),
            Column::text("Hotter places", 40.0),
        ],
        blocks: blocks
            .into_iter()
            .filter(|block| !block.rows.is_empty() || !block.totals.is_empty())
            .collect(),
        strips: Vec::new(),
        cautions: vec![cautions::NEVER_LARGER, cautions::ASSUMED],
    }
}

fn row(system: &System, margin: &Margin) -> Vec<Field> {
    let (_, name) = subject_words(system, margin.subject);
    let mut names = load_names(system, margin);
    let more = names.len().saturating_sub(3);
    if more > 0 {
        names.truncate(3);
        names.push(format!("{more} more"));
    }
    let bound = |bound: Option<&Bound>| match bound {
        Some(bound) => Field::Lines(vec![
            format!(
                "{} of {}",
                bound.limit.kind(),
                limit_at(system, bound.limit)
            ),
            format!("{} {}", down(bound.more), case_words(system, Some(bound))),
        ]),
        None => Field::text(""),
    };
    vec![
        Field::Strong(name),
        Field::text(names.join(", ")),
        match &margin.first {
            Some(first) => Field::Strong(down(first.more)),
            None => Field::Blank("no limit known".to_owned()),
        },
        match &margin.first {
            Some(first) => Field::Lines(vec![
                format!(
                    "{} of {}",
                    first.limit.kind(),
                    limit_at(system, first.limit)
                ),
                case_words(system, Some(first)),
            ]),
            None => Field::text(""),
        },
        bound(margin.next.as_ref()),
        Field::Lines(joint_lines(system, margin)),
        Field::Lines(hotter_lines(system, margin)),
    ]
}

fn joint_lines(system: &System, margin: &Margin) -> Vec<String> {
    let joint = |joint: &BadJoint| {
        format!(
            "in {}: {}, {}",
            system.conductors[joint.place.index()].number,
            down(joint.more),
            percent(joint.with_joint, Rounding::Up)
        )
    };
    let (own, shared) = (margin.joint.as_ref(), margin.shared_joint.as_ref());
    let mut lines: Vec<String> = own.map(joint).into_iter().collect();
    if let Some(shared) = shared.filter(|shared| own.is_none_or(|own| own.place != shared.place)) {
        lines.push(joint(shared));
    }
    if let Some(judged) = shared.or(own) {
        lines.push(format!(
            "drop of {}, now {}",
            system.loads[judged.load.index()].name,
            percent(judged.percent, Rounding::Up)
        ));
    }
    lines
}

fn hotter_lines(system: &System, margin: &Margin) -> Vec<String> {
    let mut lines: Vec<String> = margin
        .hotter
        .iter()
        .map(|hotter| {
            let solved = hotter.solved.map_or_else(String::new, |share| {
                format!(", {}", percent(share, Rounding::Up))
            });
            format!(
                "+{} °C: {}{solved}",
                decimal(hotter.by, 0),
                down(hotter.more)
            )
        })
        .collect();
    if let (Some((load, share)), false) = (margin.solved, lines.is_empty()) {
        lines.push(format!(
            "solved drop of {}, now {}",
            system.loads[load.index()].name,
            percent(share, Rounding::Up)
        ));
    }
    lines
}

fn bank_lines(system: &System, margins: &Margins) -> Vec<String> {
    let mut lines = Vec::new();
    for bank in &margins.banks {
        let name = &system.banks[bank.bank.index()].name;
        if bank.more.is_empty() {
            lines.push(format!("Bank {name}: no margin, its capacity is not given"));
        }
        if let Some((limit, more)) = bank.first() {
            lines.push(format!(
                "Bank {name}: {} more until it would be flat {}",
                down(more),
                bank_limit_words(system, limit)
            ));
        }
        if let Some(more) = bank.lay_up() {
            lines.push(format!(
                "Bank {name}: {} mA more until it would be flat {}",
                decimal((more.0 * 1000.0).floor(), 0),
                bank_limit_words(system, BankLimit::LayUp)
            ));
        }
    }
    lines
}

fn bank_limit_words(system: &System, limit: BankLimit) -> String {
    match limit {
        BankLimit::Scenario(scenario) => format!(
            "before scenario {} ends",
            system.scenarios[scenario.index()].name
        ),
        BankLimit::LayUp => "within three weeks of lay-up".to_owned(),
    }
}

/// Something with a limit of its own, and what it carries.
struct Rated<'f> {
    kind: &'static str,
    name: String,
    limit: Option<Amps>,
    currents: &'f LinkCurrents,
}

impl Rated<'_> {
    /// Judged current over limit.
    fn share(&self) -> Option<f64> {
        let limit = self.limit.filter(|limit| limit.0 > 0.0)?;
        Some(self.currents.load().amps / limit)
    }
}

fn rated<'f>(facts: &'f Facts<'_>) -> Vec<Rated<'f>> {
    let system = facts.system;
    let conductors = system
        .conductors
        .iter()
        .enumerate()
        .map(|(index, conductor)| {
            let id = ConductorId::at(index);
            let allowed = facts.ampacities.allowed(system, id);
            Rated {
                kind: "conductor",
                name: conductor.number.clone(),
                limit: allowed.ok().map(|ampacity| ampacity.derated),
                currents: facts.currents.of(conductor.link),
            }
        });
    let devices = system
        .devices
        .iter()
        .filter(|device| !device.spare)
        .map(|device| Rated {
            kind: "device",
            name: device.name.clone(),
            limit: device.rating.map(|given| given.value),
            currents: facts.currents.of(device.link),
        });
    let parts = facts.currents.parts.iter().filter_map(|(part, currents)| {
        let limit = part_rating(system, *part).map(|given| given.value);
        let carries = currents.load().case.is_some() || currents.cranking.case.is_some();
        carries.then(|| Rated {
            kind: Limit::Part(*part).kind(),
            name: limit_at(system, Limit::Part(*part)),
            limit,
            currents,
        })
    });
    let links = (0..system.links.len()).map(LinkId::at).filter_map(|link| {
        let limit = link_rating(system, link)?;
        Some(Rated {
            kind: "contact",
            name: limit_at(system, Limit::Link(link)),
            limit: limit.map(|given| given.value),
            currents: facts.currents.of(link),
        })
    });
    conductors
        .chain(devices)
        .chain(parts)
        .chain(links)
        .collect()
}

fn nearest_lines(facts: &Facts<'_>) -> Vec<String> {
    let mut all: Vec<(f64, Rated<'_>)> = rated(facts)
        .into_iter()
        .filter_map(|rated| Some((rated.share()?, rated)))
        .collect();
    // The order of the file decides between equals, so the sort is stable.
    all.sort_by(|a, b| b.0.total_cmp(&a.0));
    all.iter()
        .take(NEAREST)
        .map(|(share, rated)| {
            let currents = rated.currents;
            let peak = |peak: &Peak| {
                peak.case.map(|_| {
                    format!(
                        "{} {}",
                        amps(peak.amps, Rounding::Up),
                        peak_words(facts, peak)
                    )
                })
            };
            let told: Vec<String> = [&currents.scenario, &currents.everything]
                .into_iter()
                .filter_map(peak)
                .collect();
            format!(
                "{} {}: {} of {}: {}",
                rated.kind,
                rated.name,
                percent(share * 100.0, Rounding::Up),
                rated
                    .limit
                    .map_or_else(String::new, |limit| amps(limit, Rounding::Down).to_string()),
                told.join("; ")
            )
        })
        .collect()
}

fn peak_words(facts: &Facts<'_>, peak: &Peak) -> String {
    let mut words = facts.currents.words(facts.system, peak);
    for set in facts.currents.positions(facts.system, peak) {
        words = format!("{words}, {} {}", set.switch, set.position);
    }
    words
}

fn case_words(system: &System, bound: Option<&Bound>) -> String {
    let Some(bound) = bound else {
        return String::new();
    };
    let mut words = voltage_drop::words(system, &bound.case);
    for set in voltage_drop::positions(system, &bound.case) {
        words = format!("{words}, {} {}", set.switch, set.position);
    }
    words
}

fn subject_words(system: &System, subject: Subject) -> (&'static str, String) {
    match subject {
        Subject::Feeder(id) => ("feeder", system.components[id.index()].name.clone()),
        Subject::Device(id) => ("device", device_name(system, id)),
    }
}

fn device_name(system: &System, id: DeviceId) -> String {
    system.devices[id.index()].name.clone()
}

fn load_names(system: &System, margin: &Margin) -> Vec<String> {
    margin
        .loads
        .iter()
        .map(|load| system.loads[load.index()].name.clone())
        .collect()
}

/// What has the limit.
fn limit_at(system: &System, limit: Limit) -> String {
    match limit {
        Limit::Ampacity(id) => system.conductors[id.index()].number.clone(),
        Limit::Device(id) => device_name(system, id),
        Limit::Part(Part::Bar(id) | Part::Feed(id)) | Limit::PanelFeed(id) => {
            system.components[id.index()].name.clone()
        }
        Limit::Part(Part::BlockNegative(id)) => {
            format!("negative bar of {}", system.components[id.index()].name)
        }
        Limit::Part(Part::Terminal(terminal)) => system.terminal_name(terminal),
        Limit::Link(link) => match &system.links[link.index()].kind {
            LinkKind::Mate { cavity } => {
                let component = system.links[link.index()].component;
                format!(
                    "{} contact {cavity}",
                    system.components[component.index()].name
                )
            }
            _ => system.link_name(link),
        },
        Limit::Drop(load) => system.loads[load.index()].name.clone(),
    }
}

/// More load, rounded down to a tenth.
fn down(more: Amps) -> String {
    amps(more, Rounding::Down).to_string()
}
