//! Which single fault makes a reading what it is: every link of a way open, or with a bad joint, simulated.
//!
//! Several links can explain one reading. They are told in the order in which such parts fail, wet places and the
//! circuit's own parts first; that order is common practice, no source.

use super::feeds::Feed;
use super::step::band;
use crate::analysis::solve::{Part, Trouble};
use crate::system::{ComponentKind, GearKind, LinkId, LinkKind, System, TerminalId, Wetness};
use crate::units::{Ohms, Volts};

/// Resistance of the bad joint that is simulated.
pub const BAD_JOINT: Ohms = Ohms(0.1);
/// Suspects told for a reading.
const SUSPECTS: usize = 3;

/// What to suspect when a reading is off.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Suspects {
    /// Links that are likeliest open when nothing arrives.
    pub dead: Vec<LinkId>,
    /// Links that are likeliest bad joints when too much is lost.
    pub weak: Vec<LinkId>,
}

/// For each pair of probes, the likeliest links that put the reading outside its band.
pub(super) fn suspects(
    system: &System,
    shared: &[u32],
    feed: &Feed,
    part: &Part,
    probes: &[(TerminalId, TerminalId)],
) -> Vec<Suspects> {
    let nodes: Vec<_> = probes
        .iter()
        .map(|&(red, black)| (system.node_of(red), system.node_of(black)))
        .collect();
    let posts = (feed.from, feed.to);
    // A reading at the load counts against the battery reading, so the sag of the batteries is left out of both.
    let short =
        |between: &dyn Fn(crate::system::NodeId, crate::system::NodeId) -> Option<Volts>,
         index: usize| {
            let here = between(nodes[index].0, nodes[index].1)?;
            Some(if index == 0 {
                between(posts.0, posts.1)? - here
            } else {
                here
            })
        };
    let whole: Vec<Option<Volts>> = (0..nodes.len())
        .map(|index| short(&|a, b| part.between(a, b), index))
        .collect();
    let mut found: Vec<(Vec<Candidate>, Vec<Candidate>)> = vec![Default::default(); nodes.len()];
    for (at, &link) in part.links.iter().enumerate() {
        let Some(weight) = weight(system, shared, link) else {
            continue;
        };
        for trouble in [Trouble::Open, Trouble::Worse(BAD_JOINT)] {
            let Some(faulted) = part.with(at, trouble) else {
                continue;
            };
            for (index, expected) in whole.iter().enumerate() {
                let reading = short(&|a, b| faulted.between(a, b), index);
                let (Some(expected), Some(reading)) = (expected, reading) else {
                    continue;
                };
                if reading - *expected <= band(*expected) {
                    continue;
                }
                let list = match trouble {
                    Trouble::Open => &mut found[index].0,
                    Trouble::Worse(_) => &mut found[index].1,
                };
                list.push(Candidate { weight, link });
            }
        }
    }
    for &link in &feed.control {
        // A relay that does not pull in leaves its load dead.
        if let (Some(weight), Some((dead, _))) = (weight(system, shared, link), found.first_mut()) {
            dead.push(Candidate { weight, link });
        }
    }
    found
        .into_iter()
        .map(|(dead, weak)| Suspects {
            dead: likeliest(dead),
            weak: likeliest(weak),
        })
        .collect()
}

/// The likeliest of some links to be open.
pub(super) fn opens(system: &System, shared: &[u32], links: &[LinkId]) -> Vec<LinkId> {
    let candidates = links
        .iter()
        .filter_map(|&link| {
            Some(Candidate {
                weight: weight(system, shared, link)?,
                link,
            })
        })
        .collect();
    likeliest(candidates)
}

#[derive(Clone, Copy, Debug)]
struct Candidate {
    weight: u32,
    link: LinkId,
}

fn likeliest(mut candidates: Vec<Candidate>) -> Vec<LinkId> {
    candidates.sort_by_key(|candidate| (std::cmp::Reverse(candidate.weight), candidate.link));
    candidates.dedup_by_key(|candidate| candidate.link);
    candidates
        .into_iter()
        .take(SUSPECTS)
        .map(|candidate| candidate.link)
        .collect()
}

/// How often such a link is at fault, against others; none for what cannot be taken apart.
pub(super) fn weight(system: &System, shared: &[u32], link: LinkId) -> Option<u32> {
    let record = &system.links[link.index()];
    let base = match &record.kind {
        LinkKind::Load(_) => return None,
        LinkKind::Mate { .. } => 60,
        LinkKind::Contact { gear, .. } => match system.gears[gear.index()].kind {
            GearKind::BatterySwitch => 25,
            GearKind::Float | GearKind::Pressure => 55,
            GearKind::Relay => 50,
            _ => 45,
        },
        LinkKind::Device(_) => 50,
        LinkKind::Conductor(_) => 40,
        LinkKind::Joint | LinkKind::Diode { .. } => 20,
        LinkKind::Source(_) => 10,
    };
    let wet = [record.a, record.b]
        .iter()
        .filter_map(|&terminal| zone_of(system, terminal))
        .filter_map(|zone| system.zones[zone.index()].wet)
        .map(|wet| wet.value)
        .max()
        .unwrap_or(Wetness::Dry);
    let splice = [record.a, record.b]
        .iter()
        .any(|&terminal| system.component_of(terminal).kind == ComponentKind::Splice);
    let damp = match wet {
        Wetness::Dry => 0,
        Wetness::Damp => 5,
        Wetness::Spray => 10,
        Wetness::Wet => 15,
        Wetness::Bilge => 25,
    };
    // What other circuits share would put their readings off as well.
    let own = if shared[link.index()] > 1 { 0 } else { 100 };
    Some(base + damp + own + if splice { 20 } else { 0 })
}

/// The zone a terminal lies in, as far as the file tells.
pub(super) fn zone_of(system: &System, terminal: TerminalId) -> Option<crate::system::ZoneId> {
    let component = system.component_of(terminal);
    component.zone.or_else(|| {
        let point = component.point?;
        system.points[point.index()].zone
    })
}
