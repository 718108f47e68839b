//! The rating of a device: the smallest on sale that carries what flows and lets its loads start.
//!
//! A smaller device asks for no thicker conductor and opens sooner in every fault, so the smallest that serves is
//! right for the copper as well. What the makers of loads and holders and the conductors behind it allow ends it above.

use super::fields::series;
use crate::analysis::Facts;
use crate::analysis::currents::CaseKind;
use crate::rules::depth::{form, nearest_devices};
use crate::rules::telling::rating as rated;
use crate::source::Span;
use crate::standards::{self, RatingCase, constants, rating_limit};
use crate::system::{DeviceId, Duty, Limit, LoadId, LoadKind, SourceId, SourceKind};
use crate::units::{Amps, Rounding, amps, decimal};

/// Currents nearer than this are one; in amperes.
const SAME_AMPS: f64 = 1e-6;

/// A least rating, or a largest one, with why.
#[derive(Clone, Debug)]
pub(super) struct Bar {
    pub(super) at: f64,
    pub(super) rule: &'static str,
    pub(super) words: String,
    pub(super) span: Option<Span>,
    /// Advice of makers: kept where nothing stands against it.
    pub(super) advice: bool,
}

/// What a device has to carry and may not exceed.
#[derive(Clone, Debug, Default)]
pub(super) struct Need {
    pub(super) least: Vec<Bar>,
    pub(super) most: Vec<Bar>,
    series: Vec<Amps>,
}

/// The needs of some devices.
pub(super) fn needs(facts: &Facts<'_>, devices: &[DeviceId]) -> Vec<Need> {
    let system = facts.system;
    let mut direct: Vec<Vec<LoadId>> = vec![Vec::new(); system.devices.len()];
    for index in 0..system.loads.len() {
        for device in nearest_devices(facts, LoadId::at(index)) {
            direct[device.index()].push(LoadId::at(index));
        }
    }
    let mut needs: Vec<Need> = devices
        .iter()
        .map(|&device| need(facts, device, &direct[device.index()]))
        .collect();
    for (index, source) in system.sources.iter().enumerate() {
        let output = facts.protection.output(SourceId::at(index));
        let limits_itself = source.self_limiting.is_some_and(|given| given.value);
        let device = output.and_then(|output| output.device);
        let (Some(device), Some(current)) = (device, source.current) else {
            continue;
        };
        let at = devices.iter().position(|&own| own == device);
        if let (Some(at), SourceKind::Alternator, false) = (at, source.kind, limits_itself) {
            let share = rating_limit(RatingCase::LawGenerator).max_percent;
            needs[at].most.push(Bar {
                at: current.value.0 * share / 100.0,
                rule: "OC106",
                words: format!(
                    "{} % of the {} of {}",
                    decimal(share, 0),
                    rated(current.value),
                    source.name
                ),
                span: current.span,
                advice: false,
            });
        }
    }
    needs
}

fn need(facts: &Facts<'_>, id: DeviceId, direct: &[LoadId]) -> Need {
    let system = facts.system;
    let device = &system.devices[id.index()];
    let mut need = Need {
        series: series(system, id),
        ..Need::default()
    };
    let peak = facts.currents.load(device.link);
    let case = peak.case.and_then(|case| facts.currents.cases.get(case));
    if let Some(case) = case {
        let words = facts.currents.words(system, peak);
        need.least.push(Bar {
            at: peak.amps.0,
            rule: "DP804",
            words: format!("carries {} {words}", amps(peak.amps, Rounding::Up)),
            span: None,
            advice: false,
        });
        let continuous: f64 = direct
            .iter()
            .map(|load| &system.loads[load.index()])
            .filter(|load| load.duty == Duty::Continuous)
            .filter_map(crate::system::Load::current)
            .map(|current| current.0)
            .sum();
        // A device with further devices behind it carries a mixture, of which nothing is taken off.
        let continuous = if direct.is_empty() {
            peak.amps.0
        } else {
            continuous.min(peak.amps.0)
        };
        let (share, _) = constants::continuous_load_share();
        if !matches!(case.kind, CaseKind::Charging(_)) && continuous > 0.0 {
            need.least.push(Bar {
                at: continuous / share,
                rule: "DP804",
                words: format!(
                    "carries {} for long, at most {} % of its rating",
                    amps(Amps(continuous), Rounding::Up),
                    decimal(share * 100.0, 0)
                ),
                span: None,
                advice: true,
            });
        }
    }
    for &load in direct {
        of_load(facts, &mut need, id, load);
    }
    need
}

/// What one load asks of the device before it.
fn of_load(facts: &Facts<'_>, need: &mut Need, device: DeviceId, load: LoadId) {
    let device = &facts.system.devices[device.index()];
    let load = &facts.system.loads[load.index()];
    if let Some(largest) = load.largest_fuse {
        need.most.push(Bar {
            at: largest.value.0,
            rule: "OC107",
            words: format!("the maker of {} allows {}", load.name, rated(largest.value)),
            span: largest.span,
            advice: false,
        });
    }
    let form = form(device).filter(|&form| !standards::opening_points(form).is_empty());
    let Some(form) = form else { return };
    if let Some(peak) = load.peak.filter(|_| load.duty != Duty::Surge) {
        let holds = |rating: &&Amps, time: crate::units::Seconds| {
            let percent = peak.value / **rating * 100.0;
            percent <= 100.0
                || standards::holds_for(form, percent).is_some_and(|(holds, _)| holds >= time)
        };
        // The size that its maker states has been tried with its start.
        let tried = load.largest_fuse.map_or(f64::INFINITY, |it| it.value.0);
        let mut bar = |time, advice| {
            if let Some(least) = need.series.iter().find(|rating| holds(rating, time)) {
                need.least.push(Bar {
                    at: least.0.min(tried),
                    rule: "DP805",
                    words: format!(
                        "holds the {} with which {} starts",
                        amps(peak.value, Rounding::Up),
                        load.name
                    ),
                    span: peak.span,
                    advice,
                });
            }
        };
        bar(constants::motor_inrush().0, false);
        bar(constants::motor_start().0, true);
    }
    let guarded = load.thermally_protected.is_some_and(|given| given.value);
    if let Some(stall) = load
        .stall
        .filter(|_| load.kind == LoadKind::Motor && !guarded)
    {
        let (minutes, _) = constants::held_motor_minutes();
        let opens = |rating: &&Amps| {
            standards::opened_within(form, stall.value / **rating * 100.0)
                .is_some_and(|(time, _)| time.0 <= minutes * 60.0)
        };
        let by_maker = load.largest_fuse.map_or(0.0, |largest| largest.value.0);
        let most = need.series.iter().rev().find(opens);
        need.most.push(Bar {
            at: most.map_or(0.0, |most| most.0).max(by_maker),
            rule: "DP806",
            words: format!(
                "opens at the {} that {} takes when it is held",
                amps(stall.value, Rounding::Nearest),
                load.name
            ),
            span: stall.span,
            advice: false,
        });
    }
}

/// What was chosen for a device.
#[derive(Clone, Debug)]
pub(super) struct Rated {
    pub(super) rating: Amps,
    pub(super) governs: Limit,
    pub(super) next: Option<Limit>,
}

/// No rating on sale serves.
#[derive(Clone, Debug)]
pub(super) struct Clash {
    pub(super) low: Bar,
    /// What stands against it; none where the series ends.
    pub(super) high: Option<Bar>,
    /// The largest rating that is allowed all the same.
    pub(super) fallback: Option<Amps>,
}

impl Need {
    /// The smallest rating that serves.
    ///
    /// # Errors
    /// The two limits that collide.
    pub(super) fn choose(&self) -> Result<Rated, Box<Clash>> {
        let high = self.most.iter().min_by(|a, b| a.at.total_cmp(&b.at));
        let most = high.map_or(f64::INFINITY, |bar| bar.at);
        let least = |advice_upto: f64| {
            self.least
                .iter()
                .filter(|bar| !bar.advice || bar.at <= advice_upto)
                .max_by(|a, b| a.at.total_cmp(&b.at))
        };
        let from = |bar: Option<&Bar>| {
            let least = bar.map_or(0.0, |bar| bar.at);
            self.series
                .iter()
                .copied()
                .find(|rating| rating.0 + SAME_AMPS >= least)
                .filter(|rating| rating.0 <= most + SAME_AMPS)
        };
        // As much of the advice as nothing stands against.
        let mut advice: Vec<f64> = self
            .least
            .iter()
            .filter(|bar| bar.advice)
            .map(|bar| bar.at)
            .collect();
        advice.sort_by(|a, b| b.total_cmp(a));
        advice.push(f64::NEG_INFINITY);
        let found = advice.into_iter().find_map(|upto| {
            let low = least(upto);
            from(low).map(|rating| (rating, low))
        });
        let Some((rating, low)) = found else {
            let low = least(f64::NEG_INFINITY).cloned().unwrap_or(Bar {
                at: self.series.first().map_or(0.0, |rating| rating.0),
                rule: "DP804",
                words: "the smallest rating on sale".to_owned(),
                span: None,
                advice: false,
            });
            return Err(Box::new(Clash {
                low,
                high: high.cloned(),
                fallback: self.fallback(),
            }));
        };
        let is_first = self.series.first() == Some(&rating);
        let governs = match low {
            Some(low) if !is_first => Limit {
                rule: low.rule,
                words: low.words.clone(),
                asks: rated(rating),
            },
            _ => Limit {
                rule: "",
                words: "the smallest on sale".to_owned(),
                asks: rated(rating),
            },
        };
        let next = high.map(|high| Limit {
            rule: high.rule,
            words: high.words.clone(),
            asks: format!("at most {}", rated(Amps(high.at))),
        });
        Ok(Rated {
            rating,
            governs,
            next,
        })
    }

    /// Where nothing serves: what the wire and the load's maker allow comes before a held motor, and both before what
    /// flows.
    fn fallback(&self) -> Option<Amps> {
        let hard = self.most.iter().filter(|bar| bar.rule != "DP806");
        let most = hard.map(|bar| bar.at).fold(f64::INFINITY, f64::min) + SAME_AMPS;
        let low = self.least.iter().filter(|bar| !bar.advice);
        let low = low.map(|bar| bar.at).fold(0.0, f64::max) - SAME_AMPS;
        let allowed = || self.series.iter().copied().filter(move |it| it.0 <= most);
        let serves = allowed().find(|it| it.0 >= low);
        serves.or_else(|| allowed().next_back())
    }
}
