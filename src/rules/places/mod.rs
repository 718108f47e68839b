//! PL: zones, vapour, colours, terminals, studs, connectors, fitness of parts for their voltage and place.
//!
//! Ids run from PL701 on. Minimum conductor sizes and wire types are judged with the ampacities.

mod above_50_volts_on_charge;
mod alarm_on_pump_device;
mod alike_designations;
mod automotive_size;
mod bare_live_post;
mod below_bilge_water;
mod bilge_pumps_share;
mod blower_behind_key;
mod bus_full;
mod cavity_filled_twice;
mod common;
mod crowded_stud;
mod draws_nothing;
mod few_spare_ways;
mod hidden_joint;
mod implausible_draw;
mod isolator_not_compensated;
mod live_pins;
mod load_of_other_voltage;
mod look_alike_numbers;
mod loose_joint;
mod misleading_colour;
mod navigation_lights_share;
mod no_ignition_protection;
mod no_ring_for_stud;
mod outside_contact_range;
mod shape_shared;
mod unsealed_joint;
mod voltage_rating_too_low;
mod way_shared;
mod yellow_twice;

pub(crate) use no_ring_for_stud::has_rings;

use super::Rule;

/// Rules of this family, in id order.
pub(super) const RULES: &[&Rule] = &[
    &no_ignition_protection::RULE,
    &misleading_colour::RULE,
    &yellow_twice::RULE,
    &unsealed_joint::RULE,
    &hidden_joint::RULE,
    &voltage_rating_too_low::RULE,
    &load_of_other_voltage::RULE,
    &shape_shared::RULE,
    &live_pins::RULE,
    &crowded_stud::RULE,
    &bus_full::RULE,
    &way_shared::RULE,
    &outside_contact_range::RULE,
    &cavity_filled_twice::RULE,
    &no_ring_for_stud::RULE,
    &automotive_size::RULE,
    &alarm_on_pump_device::RULE,
    &bilge_pumps_share::RULE,
    &navigation_lights_share::RULE,
    &implausible_draw::RULE,
    &draws_nothing::RULE,
    &alike_designations::RULE,
    &few_spare_ways::RULE,
    &blower_behind_key::RULE,
    &loose_joint::RULE,
    &below_bilge_water::RULE,
    &bare_live_post::RULE,
    &above_50_volts_on_charge::RULE,
    &isolator_not_compensated::RULE,
    &look_alike_numbers::RULE,
];
