//! What several rules of this family ask of a part.

use crate::analysis::Facts;
use crate::source::Span;
use crate::system::{Component, ComponentId, ConductorId, LoadId, Service, ZoneId};
use crate::units::Volts;

/// The zone of a part: its own, else that of the part it sits on.
pub(super) fn zone_of(facts: &Facts<'_>, component: &Component) -> Option<ZoneId> {
    let host = || {
        component
            .terminals
            .iter()
            .flat_map(|&terminal| &facts.returns.landings.on(terminal).parts)
            .find_map(|&other| facts.system.component_of(other).zone)
    };
    component.zone.or_else(host)
}

/// Loads that serve something, one for each part, in file order.
pub(super) fn loads_of(facts: &Facts<'_>, service: Service) -> Vec<LoadId> {
    let mut last: Option<ComponentId> = None;
    let mut found = Vec::new();
    for (index, load) in facts.system.loads.iter().enumerate() {
        if load.service == service && last != Some(load.component) {
            last = Some(load.component);
            found.push(LoadId::at(index));
        }
    }
    found
}

/// Place of a conductor's size where it is given, else of the conductor.
pub(super) fn size_span(facts: &Facts<'_>, conductor: ConductorId) -> Span {
    let wire = &facts.system.conductors[conductor.index()];
    wire.gauge.and_then(|gauge| gauge.span).unwrap_or(wire.span)
}

/// A voltage without needless decimals: `36 V`, `43.8 V`.
pub(super) fn told_volts(volts: Volts) -> String {
    let rounded = (volts.0 * 100.0).round() / 100.0;
    format!("{rounded} V")
}
