//! What a meter shows before and while a boat is powered up, step by step, and which fault an off reading points to.
//!
//! [`Feeds`] finds the ways from banks to loads, [`Plan`] the steps with what each should show and whom to suspect.
//! Nothing here is a proof: a meter that shows what is expected has met no fault that it could show.

mod faults;
mod feeds;
mod judge;
mod measured;
mod ohms;
mod places;
mod plan;
mod step;
#[cfg(test)]
mod tests;

pub use faults::{BAD_JOINT, Suspects};
pub use feeds::{Feed, Feeds, alive, energised, raised, rest, returned};
pub(super) use feeds::{reached, reached_by_banks};
pub use judge::{Explanation, Judged, Judgement, MAX_READINGS, Measured, Verdict, judge};
pub use measured::{FORM_KEY, FORM_VERSION, Taken, taken};
pub use plan::Plan;
pub use step::{
    BAND_SHARE, DEAD, Expected, Fitted, Group, LEAST_BAND, LEAST_OHMS, NEGATIVE_OHMS, Probe,
    Quantity, Reason, STILL, Setting, Step, StepId, Subject, Supply, band, state,
};
