//! Readings taken, against what was expected; and which single fault explains those that are off.
//!
//! Every link of the ways that were measured is tried open and with a joint that is bad by so much, and each such boat
//! is read again, volts and amperes. The fault whose readings lie nearest to those taken comes first; readings that
//! were good speak against a fault that would have put them off. Nothing here proves a fault: it says where to look first.

use super::faults::weight;
use super::feeds::{Feed, Feeds};
use super::plan::{Plan, part_of};
use super::step::{DEAD, Expected, LEAST_BAND, Probe, STILL, Step, StepId, Subject, state};
use crate::analysis::solve::{Faulted, Part, Room, Trouble};
use crate::system::{LinkId, LoadId, NodeId, System};
use crate::units::{Amps, Ohms, Volts};

/// Resistances of a bad joint that are tried, in ohms: from what a starter can just tell to a joint that hardly conducts.
const JOINTS: [f64; 11] = [
    0.001, 0.002, 0.005, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 3.0, 10.0,
];
/// Faults told, links that read alike counted as one.
const MOST_TOLD: usize = 5;
/// Faults that fit best are compared with each other; of a boat with more the rest is not.
const MOST_COMPARED: usize = 200;
/// A fault is told if it leaves less than this share of the misfit that stands without it.
const EXPLAINS: f64 = 0.5;
/// Faults whose misfits differ by less fit alike: half a band, in all readings together.
const ALIKE: f64 = 0.5;
/// Readings that are compared; a sheet has fewer.
pub const MAX_READINGS: usize = 5_000;

/// What a meter showed, or what the eye saw.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Measured {
    /// A voltage, negative where the probes stood the other way.
    Volts(Volts),
    /// A resistance.
    Ohms(Ohms),
    /// A current.
    Amps(Amps),
    /// An open line.
    OpenLine,
    /// Ticked as passed.
    Pass,
    /// Ticked as not passed.
    Fail,
}

/// What is said of one reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Verdict {
    /// As expected.
    Good,
    /// Not as expected, in volts too much lost where that is what was measured.
    Off,
    /// Nothing is expected in this step.
    NothingExpected,
    /// The step counts against a reading that is not given.
    NoReference(StepId),
    /// Another quantity was measured than the step asks for.
    WrongQuantity,
    /// The plan has no such step.
    NoSuchStep,
}

/// One reading with its verdict.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Judged {
    /// The step.
    pub step: StepId,
    /// What was measured.
    pub measured: Measured,
    /// What is said of it.
    pub verdict: Verdict,
}

/// A fault that would explain readings.
#[derive(Clone, Debug, PartialEq)]
pub struct Explanation {
    /// The link; where no reading that was taken tells some apart, all of them, likeliest first.
    pub links: Vec<LinkId>,
    /// What is wrong with one of them.
    pub trouble: Trouble,
    /// Of an open link: the resistance too much that would read alike.
    pub or_joint: Option<Ohms>,
    /// Readings off that it brings within their band.
    pub explained: Vec<StepId>,
    /// Readings that were good and would be off with it.
    pub contradicted: Vec<StepId>,
}

/// Readings, verdicts, and faults that explain what is off, likeliest first.
#[derive(Clone, Debug, PartialEq)]
pub struct Judgement {
    /// Every reading, in the order of the steps.
    pub readings: Vec<Judged>,
    /// Faults, likeliest first.
    pub explanations: Vec<Explanation>,
}

/// Compares readings with a plan.
#[must_use]
pub fn judge(
    system: &System,
    feeds: &Feeds,
    plan: &Plan,
    readings: &[(StepId, Measured)],
) -> Judgement {
    let mut taken: Vec<(StepId, Measured)> = readings.iter().copied().take(MAX_READINGS).collect();
    taken.sort_by_key(|(step, _)| *step);
    taken.dedup_by_key(|(step, _)| *step);
    let value = |step: StepId| {
        let at = taken.binary_search_by_key(&step, |(step, _)| *step).ok()?;
        Some(taken[at].1)
    };
    let judged: Vec<Judged> = taken
        .iter()
        .map(|&(step, measured)| Judged {
            step,
            measured,
            verdict: plan.step(step).map_or(Verdict::NoSuchStep, |(_, found)| {
                verdict(&found.expected, measured, &value)
            }),
        })
        .collect();
    let off = judged.iter().any(|reading| reading.verdict == Verdict::Off);
    let explanations = if off {
        explain(system, feeds, plan, &judged, &value)
    } else {
        Vec::new()
    };
    Judgement {
        readings: judged,
        explanations,
    }
}

fn verdict(
    expected: &Expected,
    measured: Measured,
    value: &dyn Fn(StepId) -> Option<Measured>,
) -> Verdict {
    let good = |good: bool| if good { Verdict::Good } else { Verdict::Off };
    if let Expected::NotComputed(_) | Expected::TooSmall | Expected::BatteryReading = expected {
        return Verdict::NothingExpected;
    }
    if let Measured::Pass | Measured::Fail = measured {
        return good(measured == Measured::Pass);
    }
    match (expected, measured) {
        (Expected::OpenLine, Measured::OpenLine | Measured::Ohms(_)) => {
            good(measured == Measured::OpenLine)
        }
        (Expected::AtLeast(least), Measured::Ohms(ohms)) => good(ohms >= *least),
        (
            Expected::AtLeast(_)
            | Expected::Within(..)
            | Expected::Winding(..)
            | Expected::AtMost(_),
            Measured::OpenLine,
        ) => good(matches!(expected, Expected::AtLeast(_))),
        (Expected::Within(low, high) | Expected::Winding(low, high), Measured::Ohms(ohms)) => {
            good((*low..=*high).contains(&ohms))
        }
        (Expected::AtMost(most), Measured::Ohms(ohms)) => good(ohms <= *most),
        (
            Expected::BatteryMinus {
                reading,
                lost,
                band,
            },
            Measured::Volts(volts),
        ) => match value(*reading) {
            Some(Measured::Volts(battery)) => good(near(battery - volts, *lost, *band)),
            _ => Verdict::NoReference(*reading),
        },
        (Expected::Lost { lost, band }, Measured::Volts(volts)) => good(near(volts, *lost, *band)),
        (Expected::Between(low, high), Measured::Volts(volts)) => {
            good((*low..=*high).contains(&volts))
        }
        (Expected::SumOf { readings, band }, Measured::Volts(volts)) => {
            let mut sum = Volts(0.0);
            for &reading in readings {
                match value(reading) {
                    Some(Measured::Volts(single)) => sum = sum + single,
                    _ => return Verdict::NoReference(reading),
                }
            }
            good(near(volts, sum, *band))
        }
        (Expected::Dead(most), Measured::Volts(volts)) => good(volts.abs() <= *most),
        (Expected::LiveThrough(_), Measured::Volts(volts)) => good(volts > DEAD),
        (Expected::Amps { amps, band }, Measured::Amps(measured)) => {
            good((measured.abs() - *amps).abs().0 <= band.0 + ROUNDING)
        }
        (Expected::Still, Measured::Amps(measured)) => good(measured.abs() <= STILL),
        // Whether it is above the rest of the battery only the reader of the meter can tell.
        (Expected::Charging(most), Measured::Volts(volts)) => {
            good(most.is_none_or(|most| volts <= most + LEAST_BAND))
        }
        _ => Verdict::WrongQuantity,
    }
}

/// Half of the last digit of a reading with two decimals, and a little for the arithmetic.
const ROUNDING: f64 = 0.005 + 1e-9;

fn near(measured: Volts, expected: Volts, band: Volts) -> bool {
    (measured - expected).abs().0 <= band.0 + ROUNDING
}

/// What was measured in a circuit under load.
struct Sample {
    step: StepId,
    /// Index among the parts.
    part: usize,
    what: What,
    measured: f64,
    band: f64,
    off: bool,
}

/// What the meter was on.
#[derive(Clone, Copy)]
enum What {
    /// A voltage between two nodes.
    Volts(NodeId, NodeId),
    /// What the posts show more than two nodes: a reading at the load.
    ShortOfPosts(NodeId, NodeId),
    /// The current in a link.
    Amps(LinkId),
}

/// A circuit that was measured, solved without fault.
struct Circuit<'p> {
    feed: &'p Feed,
    part: Part,
}

impl Circuit<'_> {
    /// What a sample would have read in a part, whole or at fault: a loss in volts, or amperes.
    fn read(
        &self,
        sample: &Sample,
        between: impl Fn(NodeId, NodeId) -> Option<Volts>,
        current: impl Fn(usize) -> Option<Amps>,
    ) -> Option<f64> {
        match sample.what {
            What::Volts(red, black) => Some(between(red, black)?.0),
            What::ShortOfPosts(red, black) => {
                let posts = between(self.feed.from, self.feed.to)?;
                Some((posts - between(red, black)?).0)
            }
            What::Amps(link) => {
                let at = self.part.links.iter().position(|&own| own == link)?;
                Some(current(at)?.0)
            }
        }
    }

    /// What a sample reads without fault.
    fn whole(&self, sample: &Sample) -> Option<f64> {
        let part = &self.part;
        self.read(sample, |a, b| part.between(a, b), |at| part.current(at))
    }
}

fn explain(
    system: &System,
    feeds: &Feeds,
    plan: &Plan,
    judged: &[Judged],
    value: &dyn Fn(StepId) -> Option<Measured>,
) -> Vec<Explanation> {
    let mut room = Room::new(system);
    let mut circuits: Vec<Circuit<'_>> = Vec::new();
    let mut samples: Vec<Sample> = Vec::new();
    for group in &plan.groups {
        let Subject::Load(feed) = &group.subject else {
            continue;
        };
        if group.stage != 4 {
            continue;
        }
        let taken: Vec<Sample> = group
            .steps
            .iter()
            .filter_map(|step| sample(system, step, circuits.len(), judged, value))
            .collect();
        if taken.is_empty() {
            continue;
        }
        let state = state(system, &group.setting);
        if let Ok(part) = part_of(system, feed, (&state, &group.setting.running), &mut room) {
            circuits.push(Circuit { feed, part });
            samples.extend(taken);
        }
    }
    if !samples.iter().any(|sample| sample.off) {
        return Vec::new();
    }
    let mut links: Vec<LinkId> = circuits
        .iter()
        .flat_map(|circuit| circuit.part.links.iter().chain(&circuit.feed.control))
        .copied()
        .collect();
    links.sort_unstable();
    links.dedup();
    let shared = shared(system, feeds);
    let misfit = |read: &dyn Fn(&Sample) -> Option<f64>| -> f64 {
        samples
            .iter()
            .map(|sample| match read(sample) {
                Some(read) => {
                    let by = (read - sample.measured) / sample.band;
                    // One reading far off must not drown the others.
                    by.abs().min(20.0)
                }
                None => 0.0,
            })
            .sum()
    };
    let whole = |sample: &Sample| circuits[sample.part].whole(sample);
    let without = misfit(&whole);
    let mut ranked: Vec<Fault> = Vec::new();
    for &link in &links {
        let Some(weight) = weight(system, &shared, link) else {
            continue;
        };
        let troubles = std::iter::once(Trouble::Open)
            .chain(JOINTS.iter().map(|&ohms| Trouble::Worse(Ohms(ohms))));
        let best = troubles
            .map(|trouble| {
                let faulted: Vec<Option<Faulted<'_>>> = circuits
                    .iter()
                    .map(|circuit| {
                        let at = circuit.part.links.iter().position(|&own| own == link)?;
                        circuit.part.with(at, trouble)
                    })
                    .collect();
                let read = |sample: &Sample| {
                    let circuit = &circuits[sample.part];
                    if trouble == Trouble::Open && circuit.feed.control.contains(&link) {
                        // The relay does not pull in: everything in the way stands still.
                        return Some(dead(circuit, sample));
                    }
                    match &faulted[sample.part] {
                        Some(faulted) => circuit.read(
                            sample,
                            |a, b| faulted.between(a, b),
                            |at| faulted.through(at),
                        ),
                        None => whole(sample),
                    }
                };
                let left = misfit(&read);
                let reads = || {
                    samples
                        .iter()
                        .map(|sample| read(sample).unwrap_or(f64::NAN))
                };
                let within = |sample: &&Sample| {
                    read(sample).is_some_and(|read| {
                        (read - sample.measured).abs() <= sample.band + ROUNDING
                    })
                };
                let explained = samples
                    .iter()
                    .filter(|sample| sample.off)
                    .filter(within)
                    .map(|sample| sample.step)
                    .collect();
                let contradicted = samples
                    .iter()
                    .filter(|sample| !sample.off)
                    .filter(|sample| !within(sample))
                    .map(|sample| sample.step)
                    .collect();
                Fault {
                    left,
                    weight,
                    reads: reads().collect(),
                    told: Explanation {
                        links: vec![link],
                        trouble,
                        or_joint: None,
                        explained,
                        contradicted,
                    },
                }
            })
            .reduce(|known, next| {
                // In a loop an open link and one that hardly conducts read alike: both are told.
                let open = known.told.trouble == Trouble::Open;
                match next.told.trouble {
                    Trouble::Worse(ohms) if open && (next.left - known.left).abs() < ALIKE => {
                        let or_joint = known.told.or_joint.or(Some(ohms));
                        let told = Explanation {
                            or_joint,
                            ..known.told
                        };
                        Fault { told, ..known }
                    }
                    _ if next.left < known.left => next,
                    _ => known,
                }
            });
        // With a second fault in the boat no single one explains the greater part; one that explains its circuit and
        // contradicts nothing is told all the same.
        let tells = |fault: &Fault| {
            let told = &fault.told;
            fault.left < without * EXPLAINS
                || (!told.explained.is_empty()
                    && told.contradicted.is_empty()
                    && fault.left < without - 1.0)
        };
        ranked.extend(best.filter(tells));
    }
    // Faults that fit alike are told in the order in which such parts fail.
    let least = ranked
        .iter()
        .map(|fault| fault.left)
        .fold(f64::INFINITY, f64::min);
    let alike = least + ALIKE;
    ranked.sort_by(|a, b| {
        let worse = |left: f64| if left <= alike { 0.0 } else { left };
        worse(a.left)
            .total_cmp(&worse(b.left))
            .then(b.weight.cmp(&a.weight))
            .then(a.told.links.cmp(&b.told.links))
    });
    ranked.truncate(MOST_COMPARED);
    let mut told: Vec<Fault> = Vec::new();
    for fault in ranked {
        match told.iter_mut().find(|known| known.reads_like(&fault)) {
            Some(known) => known.told.links.extend(fault.told.links),
            None => told.push(fault),
        }
    }
    told.into_iter()
        .take(MOST_TOLD)
        .map(|fault| fault.told)
        .collect()
}

/// A fault with what it would make the meter read.
struct Fault {
    /// How far its readings lie from those taken.
    left: f64,
    weight: u32,
    reads: Vec<f64>,
    told: Explanation,
}

impl Fault {
    /// Whether no reading that was taken tells two faults apart.
    fn reads_like(&self, other: &Self) -> bool {
        let near = |(a, b): (&f64, &f64)| (a.is_nan() && b.is_nan()) || (a - b).abs() < ROUNDING;
        self.told.trouble == other.told.trouble && self.reads.iter().zip(&other.reads).all(near)
    }
}

/// What a sample reads when its load does not run at all.
fn dead(circuit: &Circuit<'_>, sample: &Sample) -> f64 {
    let What::ShortOfPosts(..) = sample.what else {
        return 0.0;
    };
    circuit
        .part
        .between(circuit.feed.from, circuit.feed.to)
        .map_or(0.0, |volts| volts.0)
}

fn sample(
    system: &System,
    step: &Step,
    part: usize,
    judged: &[Judged],
    value: &dyn Fn(StepId) -> Option<Measured>,
) -> Option<Sample> {
    let at = judged
        .binary_search_by_key(&step.id, |reading| reading.step)
        .ok()?;
    let reading = &judged[at];
    let (what, measured, band) = match (step.red, step.black, reading.measured) {
        (Probe::At(red), Probe::At(black), Measured::Volts(volts)) => {
            let (red, black) = (system.node_of(red), system.node_of(black));
            match &step.expected {
                Expected::BatteryMinus { reading, band, .. } => match value(*reading)? {
                    Measured::Volts(battery) => {
                        let lost = battery - volts;
                        (What::ShortOfPosts(red, black), lost.0, band.0)
                    }
                    _ => return None,
                },
                Expected::Lost { band, .. } => (What::Volts(red, black), volts.0, band.0),
                _ => return None,
            }
        }
        (Probe::Clamp(conductor), _, Measured::Amps(amps)) => {
            let Expected::Amps { band, .. } = &step.expected else {
                return None;
            };
            let link = system.conductors[conductor.index()].link;
            (What::Amps(link), amps.abs().0, band.0)
        }
        _ => return None,
    };
    Some(Sample {
        step: step.id,
        part,
        what,
        measured,
        band,
        off: reading.verdict == Verdict::Off,
    })
}

/// By link: how many first ways of loads pass it.
pub(super) fn shared(system: &System, feeds: &Feeds) -> Vec<u32> {
    let mut shared = vec![0u32; system.links.len()];
    for index in 0..system.loads.len() {
        if let Some(feed) = feeds.of(LoadId::at(index)).first() {
            for link in feed.positive.iter().chain(&feed.negative) {
                shared[link.index()] += 1;
            }
        }
    }
    shared
}
