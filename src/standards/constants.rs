//! Single figures, each with its own source, from `data/constants.csv`.
//!
//! One function a figure, so that a figure nobody uses or spells wrong does not compile or fails a test.

use super::Basis;
use super::citations::BY_ROW;
use super::table::{Row, Shipped, table};
use crate::units::{
    AmpHours, Amps, Celsius, Hours, Metres, Quantity, Seconds, Volts, parse_quantity,
};
use std::sync::LazyLock;

table!(CONSTANTS, "constants.csv", BY_ROW);

macro_rules! constants {
    ($($(#[$doc:meta])* $visible:vis $name:ident: $kind:ty = $read:ident($key:literal);)+) => {
        $(
            $(#[$doc])*
            #[must_use]
            $visible fn $name() -> ($kind, Basis) {
                static FIGURE: LazyLock<($kind, Basis)> = LazyLock::new(|| {
                    let row = row($key);
                    ($read(row), row.basis())
                });
                *FIGURE
            }
        )+

        /// Every key that is read, for the test that compares them with the table.
        #[cfg(test)]
        const READ: &[(&str, fn() -> Basis)] = &[$(($key, || $name().1)),+];
    };
}

constants! {
    /// Resistance constant of the size formula, ohm·cmil/ft.
    pub(super) rule_drop_k: f64 = number("rule-drop-k");
    /// Resistance constant of the metric size formula, ohm·mm²/m.
    pub(super) rule_drop_iso: f64 = number("rule-drop-iso");
    /// Resistivity of annealed copper at 20 °C, ohm·mm²/m.
    pub(super) copper_resistivity: f64 = number("copper-resistivity");
    /// Temperature at which the resistance of copper would vanish by its linear law.
    pub copper_zero_resistance: Celsius = quantity("copper-zero-resistance");
    /// Ambient that the ampacity table is for.
    pub table_ambient: Celsius = quantity("table-ambient");
    /// Ambient of an engine space that states none.
    pub engine_space_ambient: Celsius = quantity("engine-space-ambient");
    /// Nominal voltage from which the stricter conductor and overcurrent rules bind.
    pub low_voltage_limit: Volts = quantity("low-voltage-limit");
    /// A pigtail exposed for less than this is exempt.
    pub pigtail_exposed: Metres = quantity("pigtail-exposed");
    /// Electronic circuits below this current are exempt from the conductor rules.
    pub electronics_current: Amps = quantity("electronics-current");
    /// Least insulation rating of a conductor in an engine space.
    pub engine_space_insulation: Celsius = quantity("engine-space-insulation");
    /// Distance from a gasoline source that isolates, the space open to the atmosphere.
    pub vapour_isolation: Metres = quantity("vapour-isolation");
    /// Metal fuel parts nearer than this above a battery are shielded.
    pub battery_fuel_shield: Metres = quantity("battery-fuel-shield");
    /// Most terminals on one stud.
    pub terminals_per_stud: usize = count("terminals-per-stud");
    /// Constant of the adiabatic formula for copper, A·√s/mm².
    pub(super) adiabatic_copper: f64 = number("adiabatic-copper");
    /// Longest fault that heats a conductor adiabatically.
    pub adiabatic_validity: Seconds = quantity("adiabatic-validity");
    /// Highest temperature rating that PVC insulation is sold with.
    pub(super) pvc_highest_rating: Celsius = quantity("pvc-highest-rating");
    /// Temperature that PVC insulation stands in a fault.
    pub(super) pvc_fault_limit: Celsius = quantity("pvc-fault-limit");
    /// Temperature that cross-linked insulation stands in a fault.
    pub(super) cross_linked_fault_limit: Celsius = quantity("cross-linked-fault-limit");
    /// Share of its rating that a device carries continuously.
    pub continuous_load_share: f64 = number("continuous-load-share");
    /// Fault current over device rating for a short at the far end to clear in time.
    pub clearing_multiple: f64 = number("clearing-multiple");
    /// Multiple of its rating at which every fuse family with published points opens within seconds.
    pub slow_clearing_multiple: f64 = number("slow-clearing-multiple");
    /// Time that a motor may take to run up.
    pub motor_start: Seconds = quantity("motor-start");
    /// Shortest time that the inrush of a motor lasts.
    pub motor_inrush: Seconds = quantity("motor-inrush");
    /// Minutes after which a device that has not opened does not protect a motor that is held.
    pub held_motor_minutes: f64 = number("held-motor-minutes");
    /// Days for which a bank is left to itself.
    pub lay_up_days: f64 = number("lay-up-days");
    /// Share of its nominal current from which a load counts as alive.
    pub sneak_share: f64 = number("sneak-share");
    /// Share of the copper that may be added so that fewer different wires are bought.
    pub spool_extra_copper: f64 = number("spool-extra-copper");
    /// How many times its smallest rating a device may be raised to a rating in use.
    pub rating_raise: f64 = number("rating-raise");
    /// Rating of a main over its largest branch, for the branch to open first.
    pub selectivity_ratio: f64 = number("selectivity-ratio");
    /// Resistance of a fuse at rated current over its cold resistance.
    pub fuse_hot_resistance: f64 = number("fuse-hot-resistance");
    /// Greatest distance between supports.
    pub support_spacing: Metres = quantity("support-spacing");
    /// The same in metric practice.
    pub support_spacing_metric: Metres = quantity("support-spacing-metric");
    /// Greatest distance between supports of battery cable.
    pub battery_cable_support: Metres = quantity("battery-cable-support");
    /// The same in metric practice.
    pub battery_cable_support_metric: Metres = quantity("battery-cable-support-metric");
    /// Cranking current above which a bank needs a battery switch.
    pub battery_switch_cranking: Amps = quantity("battery-switch-cranking");
    /// Capacity above which a bank needs a battery switch.
    pub battery_switch_capacity: AmpHours = quantity("battery-switch-capacity");
    /// Capacity of a parallel bank above which each battery needs a device of its own.
    pub device_per_battery_capacity: AmpHours = quantity("device-per-battery-capacity");
    /// Open-circuit voltage of a full 12 V block at its cranking test.
    pub(super) cranking_test_open: Volts = quantity("cranking-test-open");
    /// Least voltage of a 12 V block at its cranking current.
    pub(super) cranking_test_end: Volts = quantity("cranking-test-end");
    /// Least resistance of a warm battery over that of its cranking test.
    pub(super) cranking_resistance_share: f64 = number("cranking-resistance-share");
    /// Share of its nominal voltage from which electronic equipment is to work.
    pub electronics_least_share: f64 = number("electronics-least-share");
    /// Discharge time that capacity is stated for.
    pub peukert_hours: Hours = quantity("peukert-hours");
    /// Bore of a sleeve as supplied over the largest thing it passes.
    pub sleeve_bore_margin: f64 = number("sleeve-bore-margin");
    /// Bore of a sleeve as recovered over the smallest thing it grips.
    pub sleeve_grip_margin: f64 = number("sleeve-grip-margin");
    /// Bore of a sleeve as supplied over its bore as recovered.
    pub sleeve_ratio: f64 = number("sleeve-ratio");
    /// Greatest loss of length of a sleeve, percent.
    pub sleeve_shrink_percent: f64 = number("sleeve-shrink-percent");
    /// Bundle diameter over the root of the sum of squared wire diameters.
    pub bundle_packing: f64 = number("bundle-packing");
    /// Least bend radius over the largest outside diameter in the bundle.
    pub bend_radius: f64 = number("bend-radius");
    /// Distance from the end of a conductor to its label.
    pub label_distance: Metres = quantity("label-distance");
    /// Shorter conductors need no label.
    pub label_none_below: Metres = quantity("label-none-below");
    /// Shorter conductors take one label in the middle.
    pub label_single_below: Metres = quantity("label-single-below");
    /// Most characters of one line of a label.
    pub label_line_length: usize = count("label-line-length");
    /// Share of the loads that need not run together which a feeder is sized for.
    pub load_diversity: f64 = number("load-diversity");
    /// Re-terminations that the slack at an end allows.
    pub slack_re_terminations: usize = count("slack-re-terminations");
    /// Least share of the ways of a block that are kept spare.
    pub spare_ways_share: f64 = number("spare-ways-share");
    /// Share of its ampacity that a feed carries at most where it has current to spare.
    pub feeder_reserve_share: f64 = number("feeder-reserve-share");
    /// Largest loss between battery and starter while cranking, at 12 V nominal.
    pub cranking_drop: Volts = quantity("cranking-drop");
    /// Forward voltage of a diode isolator whose maker gives none.
    pub diode_forward: Volts = quantity("diode-forward");
    /// Insulation rating supposed of boat cable that states none.
    pub boat_cable_rating: Celsius = quantity("boat-cable-rating");
    /// Conductor temperature supposed for the solved voltage drop.
    pub loaded_conductor: Celsius = quantity("loaded-conductor");
    /// Charge put back into a lead-acid battery over charge taken out.
    pub charge_return_lead: f64 = number("charge-return-lead");
    /// Charge put back into a lithium battery over charge taken out.
    pub charge_return_lithium: f64 = number("charge-return-lithium");
    /// Highest voltage on charge over the nominal one, for the range of a meter.
    pub meter_charging_share: f64 = number("meter-charging-share");
}

static ROWS: LazyLock<Vec<Row>> = LazyLock::new(|| CONSTANTS.rows());

fn row(key: &str) -> &'static Row {
    ROWS.iter().find(|row| row.text("key") == key).shipped()
}

fn number(row: &Row) -> f64 {
    row.value("value")
}

fn count(row: &Row) -> usize {
    row.text("value").parse().ok().shipped()
}

fn quantity<Q: Quantity>(row: &Row) -> Q {
    parse_quantity(&format!("{} {}", row.text("value"), row.text("unit")))
        .ok()
        .shipped()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_figure_is_read_and_every_key_exists() {
        let keys: Vec<&str> = CONSTANTS.rows().iter().map(|row| row.text("key")).collect();
        let read: Vec<&str> = READ.iter().map(|(key, _)| *key).collect();
        assert_eq!(keys, read);
        for (key, basis) in READ {
            assert!(!basis().publication.is_empty(), "{key}");
        }
    }
}
