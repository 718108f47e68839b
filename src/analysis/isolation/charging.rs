//! Which charging source reaches which bank, and in which positions an alternator or charger is cut off.

use super::{Isolation, Nets, tops};
use crate::analysis::states::{Answer, Constraints, Reach, Reached, Witness, conducts, ends};
use crate::system::{
    BankId, GearId, GearKind, LinkId, LinkKind, NodeId, SourceId, SourceKind, System,
};

/// What a bank is charged by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Supply {
    /// A charging source reaches it in some state.
    Charged,
    /// One reaches it only where a position that joins banks is set by hand.
    OnlyByHand,
    /// None reaches it in any state.
    Never,
}

/// Charging of the whole boat.
#[derive(Clone, Debug, Default)]
pub struct Charging {
    /// What charges each bank.
    pub banks: Vec<(BankId, Supply)>,
    /// Alternators that a position of the battery switches leaves without a battery; the witness has no path.
    pub stranded: Vec<(SourceId, Witness)>,
    /// Alternators that no position joins to a battery.
    pub unconnected: Vec<SourceId>,
    /// Chargers and solar controllers that reach a battery, but none with every battery switch off.
    pub switched: Vec<SourceId>,
}

impl Isolation {
    pub(super) fn look_at_charging(&mut self, system: &System, nets: &Nets, live: &Reach<'_>) {
        let by_itself = Constraints::none(system).forbid(system, |gear, position| {
            position.joins_banks && !gear.automatic
        });
        let by_itself = Reach::new(system, &by_itself, |link| {
            super::off_negative(system, nets, link)
        });
        let mut reached = vec![Supply::Never; system.banks.len()];
        let posts: Vec<Vec<NodeId>> = system
            .banks
            .iter()
            .map(|bank| {
                bank.strings
                    .iter()
                    .flatten()
                    .map(|&source| super::post(system, source, true))
                    .collect()
            })
            .collect();
        let charging: Vec<_> = system
            .sources
            .iter()
            .filter(|source| source.kind != SourceKind::Battery)
            .collect();
        for source in charging.iter().take(self.afford(charging.len())) {
            let (positive, _) = ends(system, source.link);
            let (any, own) = (live.spread(&[positive]), by_itself.spread(&[positive]));
            for (supply, posts) in reached.iter_mut().zip(&posts) {
                let meets = |spread: &crate::analysis::states::Spread<'_>| {
                    posts
                        .iter()
                        .any(|&post| spread.reached(post) != Reached::Never)
                };
                if meets(&own) {
                    *supply = Supply::Charged;
                } else if *supply == Supply::Never && meets(&any) {
                    *supply = Supply::OnlyByHand;
                }
            }
        }
        self.charging.banks = reached
            .into_iter()
            .enumerate()
            .map(|(index, supply)| (BankId::at(index), supply))
            .collect();
        self.look_for_stranded(system, nets, live);
        self.look_for_switched(system, nets, live);
    }

    /// Alternators that lose their battery in some position of the battery switches.
    ///
    /// Combiners are taken as open, all other parts as closed: neither is what this question is about. A switch that
    /// opens the field on its way to off leaves the alternator idle there.
    fn look_for_stranded(&mut self, system: &System, nets: &Nets, live: &Reach<'_>) {
        let batteries: Vec<NodeId> = system
            .banks
            .iter()
            .flat_map(|bank| tops(system, bank))
            .collect();
        let alternators = system
            .sources
            .iter()
            .filter(|source| source.kind == SourceKind::Alternator);
        if alternators.count() == 0 {
            return;
        }
        let eased = eased(system, |kind| kind == GearKind::BatterySwitch);
        let reach = Reach::new(&eased, &Constraints::none(&eased), |link| {
            super::off_negative(system, nets, link)
        });
        let count = self.effort;
        for (index, source) in system.sources.iter().enumerate().take(count) {
            if source.kind != SourceKind::Alternator || batteries.is_empty() {
                continue;
            }
            let id = SourceId::at(index);
            let (positive, _) = ends(system, source.link);
            let spread = live.spread(&[positive]);
            let ever = batteries
                .iter()
                .any(|&post| spread.reached(post) != Reached::Never);
            if !ever {
                self.charging.unconnected.push(id);
                continue;
            }
            // A protector takes what the battery cannot.
            if source.surge_protected.is_some_and(|given| given.value) {
                continue;
            }
            let answer = if source.field_switches.is_empty() {
                reach.parted(&[positive], &batteries)
            } else {
                // Without its field it gives nothing, so those states strand nothing.
                let working = Constraints::none(&eased).forbid_off(&eased, &source.field_switches);
                let reach = Reach::new(&eased, &working, |link| {
                    super::off_negative(system, nets, link)
                });
                reach.parted(&[positive], &batteries)
            };
            if let Answer::Yes(witness) = answer {
                self.charging.stranded.push((id, witness));
            }
        }
    }

    fn look_for_switched(&mut self, system: &System, nets: &Nets, live: &Reach<'_>) {
        let off = Constraints::none(system).battery_switches_off(system);
        let reach = Reach::new(system, &off, |link| super::off_negative(system, nets, link));
        let count = self.effort;
        for (index, source) in system.sources.iter().enumerate().take(count) {
            if !matches!(source.kind, SourceKind::Charger | SourceKind::Solar) {
                continue;
            }
            let (positive, _) = ends(system, source.link);
            let meets = |reach: &Reach<'_>| {
                let spread = reach.spread(&[positive]);
                system.sources.iter().any(|battery| {
                    battery.kind == SourceKind::Battery
                        && spread.reached(ends(system, battery.link).0) != Reached::Never
                })
            };
            if meets(live) && !meets(&reach) {
                self.charging.switched.push(SourceId::at(index));
            }
        }
    }
}

/// The boat with every contact of other parts solid, and those of combiners open.
fn eased(system: &System, keeps: impl Fn(GearKind) -> bool) -> System {
    let mut eased = system.clone();
    let kind_of = |gear: GearId| system.gears[gear.index()].kind;
    for (index, link) in system.links.iter().enumerate() {
        let LinkKind::Contact { gear, closed_in } = &link.kind else {
            continue;
        };
        let kind = kind_of(*gear);
        if keeps(kind) || !conducts(system, LinkId::at(index)) {
            continue;
        }
        eased.links[index].kind = if kind == GearKind::Combiner || closed_in.is_empty() {
            LinkKind::Contact {
                gear: *gear,
                closed_in: Vec::new(),
            }
        } else {
            LinkKind::Joint
        };
    }
    eased
}
