//! Facts about the boat, each computed once by one function.
//!
//! Rules, sizing, schedules and drawings all take a number from here; nothing here judges it.

pub mod ampacity;
pub mod branches;
pub mod charge_voltage;
pub mod currents;
pub mod energy;
pub mod fault_current;
pub mod fill;
pub mod harness;
pub mod isolation;
pub mod live;
pub mod loops;
pub mod margins;
pub mod outage;
pub mod poles;
pub mod protection;
pub mod readings;
pub mod returns;
pub mod sneak;
pub mod solve;
pub mod states;
pub mod truth;
pub mod voltage_drop;

#[cfg(test)]
mod testing;

use crate::system::System;
use ampacity::Ampacities;
use branches::Branches;
use charge_voltage::ChargeVoltages;
use currents::{Cases, Currents};
use energy::Energy;
use fault_current::FaultCurrents;
use fill::Fills;
use isolation::{Isolation, Nets};
use live::Live;
use outage::Outages;
use poles::Poles;
use protection::Protection;
use readings::Feeds;
use returns::Returns;
use sneak::Sneaks;
use voltage_drop::Drops;

/// The boat with everything that is computed about it.
#[derive(Debug)]
pub struct Facts<'s> {
    /// The resolved boat.
    pub system: &'s System,
    /// Pole and nominal voltage of every node.
    pub poles: Poles,
    /// What every conductor may carry where it lies.
    pub ampacities: Ampacities,
    /// The largest current of every link.
    pub currents: Currents,
    /// Voltage drop of loads, charging sources and block feeds.
    pub drops: Drops,
    /// Galvanic nets, their negatives, and the poles that can feed a fault.
    pub nets: Nets,
    /// What protects every conductor against every source.
    pub protection: Protection,
    /// What flows into a short, at most and at least.
    pub faults: FaultCurrents,
    /// Loads fed through others once something is open, and cranking currents in small returns.
    pub sneaks: Sneaks,
    /// What some combination of positions joins, and what it parts.
    pub isolation: Isolation,
    /// What stays live with every battery switch off.
    pub live: Live,
    /// What goes dead with each overcurrent device.
    pub outages: Outages,
    /// Where the negatives go, what lands on every terminal, hull and bonding.
    pub returns: Returns,
    /// Which bank feeds every load, over which links, in which positions.
    pub feeds: Feeds,
    /// What loads take in a day, how long banks last, what charges them.
    pub energy: Energy,
    /// What lies in every way and bundle, and how thick it is.
    pub fills: Fills,
    /// Stretches of circuit between overcurrent devices.
    pub branches: Branches,
    /// The highest voltage that every point sees.
    pub charge_voltages: ChargeVoltages,
}

impl<'s> Facts<'s> {
    /// Computes all facts.
    #[must_use]
    pub fn new(system: &'s System) -> Self {
        let poles = Poles::new(system);
        let ampacities = Ampacities::new(system, &poles);
        let (currents, drops) = flows(system);
        let nets = Nets::new(system);
        let protection = Protection::new(system, &nets, &ampacities);
        let faults = FaultCurrents::new(system, &poles);
        let sneaks = Sneaks::new(system, &poles, &ampacities);
        let isolation = Isolation::new(system, &nets);
        let live = Live::new(system, &nets);
        let outages = Outages::new(system, &nets);
        let returns = Returns::new(system, &nets);
        let feeds = Feeds::new(system);
        let energy = Energy::new(system, &feeds);
        let fills = Fills::new(system);
        let branches = Branches::new(system);
        let charge_voltages = ChargeVoltages::new(system, &poles, &nets, &returns.grounds);
        Self {
            system,
            poles,
            ampacities,
            currents,
            drops,
            nets,
            protection,
            faults,
            sneaks,
            isolation,
            live,
            outages,
            returns,
            feeds,
            energy,
            fills,
            branches,
            charge_voltages,
        }
    }
}

/// The currents of every link and the drops that they cause: what changes when conductors take other sizes.
#[must_use]
pub fn flows(system: &System) -> (Currents, Drops) {
    let cases = Cases::new(system);
    let mut gather = voltage_drop::Gather::new(system);
    let currents = Currents::new(system, &cases, |shown| gather.take(shown));
    let drops = gather.finish(&cases);
    (currents, drops)
}
