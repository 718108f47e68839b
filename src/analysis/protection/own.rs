//! The device of its own that a tap has, though the device before the tap would do.

use super::Limiting;
use super::region::{SAME_LENGTH, is_sheathed};
use crate::analysis::states::ends;
use crate::standards::{PlacementCase, RuleSet, placement_limit};
use crate::system::{ComponentKind, ConductorId, LinkId, LinkKind, NodeId, System};
use crate::units::Metres;

/// The smallest device at an end of the unbranched stretch that a conductor lies in.
///
/// None where the stretch is longer than the law lets a tap be, 7 in or 40 in sheathed all along, where one of its
/// lengths is not given, or where it ends at no device. Whichever end feeds it, nothing larger than that device can
/// then pass further than such a tap may run.
#[must_use]
pub fn device_in_reach(system: &System, conductor: ConductorId) -> Option<Limiting> {
    let law = |case| placement_limit(RuleSet::Law, case).map(|limit| limit.max);
    let (near, sheathed) = (
        law(PlacementCase::NearSource)?,
        law(PlacementCase::Sheathed)?,
    );
    let first = system.conductors[conductor.index()].link;
    let mut stretch = Stretch {
        length: Metres(0.0),
        is_sheathed: true,
        device: None,
    };
    stretch.add(system, conductor)?;
    let (a, b) = ends(system, first);
    for end in [a, b] {
        let (mut node, mut came) = (end, first);
        while stretch.length.0 <= sheathed.0 + SAME_LENGTH {
            let Some(next) = onward(system, node, came) else {
                break;
            };
            match system.links[next.index()].kind {
                LinkKind::Device(device) => {
                    let rating = system.devices[device.index()].rating?.value;
                    if stretch.device.is_none_or(|known| rating < known.rating) {
                        stretch.device = Some(Limiting {
                            rating,
                            device: Some(device),
                        });
                    }
                    break;
                }
                LinkKind::Conductor(more) => stretch.add(system, more)?,
                LinkKind::Mate { .. } | LinkKind::Joint => {}
                _ => break,
            }
            let (a, b) = ends(system, next);
            (node, came) = (if a == node { b } else { a }, next);
        }
    }
    let most = if stretch.is_sheathed { sheathed } else { near };
    (stretch.length.0 <= most.0 + SAME_LENGTH)
        .then_some(stretch.device)
        .flatten()
}

struct Stretch {
    length: Metres,
    is_sheathed: bool,
    device: Option<Limiting>,
}

impl Stretch {
    /// Adds a conductor; none where its length is not given.
    fn add(&mut self, system: &System, conductor: ConductorId) -> Option<()> {
        let length = system.conductors[conductor.index()].length?;
        self.length = self.length + length.value;
        self.is_sheathed &= is_sheathed(system, conductor);
        Some(())
    }
}

/// The only other link of a node that is no bus; none where the stretch branches or ends.
fn onward(system: &System, node: NodeId, came: LinkId) -> Option<LinkId> {
    let record = &system.nodes[node.index()];
    let branches = record.terminals.iter().any(|&terminal| {
        matches!(
            system.component_of(terminal).kind,
            ComponentKind::Bus | ComponentKind::Battery
        )
    });
    match record.links[..] {
        [one, other] if !branches && one == came => Some(other),
        [one, other] if !branches && other == came => Some(one),
        _ => None,
    }
}
