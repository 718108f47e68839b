//! Components with their terminals and the links inside them, one file a group of sections.

mod bars;
mod batteries;
mod chargers;
mod connectors;
mod devices;
mod loads;
mod switches;

pub(super) use batteries::BatteryNote;

use super::Resolver;
use super::names::{Growth, place_number};
use crate::system::{ComponentId, TerminalId};

impl Resolver<'_> {
    /// Declares every component, section by section.
    pub(super) fn parts(&mut self) {
        self.batteries();
        self.switches();
        self.relays();
        self.combiners();
        self.isolators();
        self.fuses();
        self.breakers();
        self.fuse_blocks();
        self.buses();
        self.loads();
        self.chargers();
        self.alternators();
        self.converters();
        self.solar();
        self.instruments();
        self.shunts();
        self.connectors();
        self.splices();
        self.grounds();
    }

    /// A terminal that a component gets because it is named and the file does not say how many there are.
    pub(super) fn grow(&mut self, component: ComponentId, part: &str) -> Option<TerminalId> {
        match self.names.growth[component.index()] {
            Growth::Fixed => None,
            Growth::Outputs => {
                let number = place_number(part)?;
                Some(self.isolator_output(component, number))
            }
            Growth::Cavities => {
                let half = part
                    .chars()
                    .last()
                    .filter(|half| matches!(half, 'a' | 'b'))?;
                let number = place_number(&part[..part.len() - 1])?;
                let ends = self.cavity(component, number);
                Some(if half == 'a' { ends.0 } else { ends.1 })
            }
            Growth::ChargerOutputs => {
                let number = part.strip_suffix(['+', '-'])?;
                let isolated = self.exact_name(component, "-").is_none();
                if part.ends_with('-') && !isolated {
                    return None;
                }
                let positive = self.charger_output(component, place_number(number)?);
                if part.ends_with('+') {
                    return Some(positive);
                }
                self.exact_name(component, part)
            }
        }
    }
}
