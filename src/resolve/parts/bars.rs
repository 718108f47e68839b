//! Parts that are one electrical point, and shunts: bus bars, splices, grounds.

use super::switches::kind_word;
use crate::resolve::Resolver;
use crate::resolve::fields::At;
use crate::resolve::names::MAX_PLACES;
use crate::system::{ComponentKind, Given, GroundKind, LinkKind, Origin, Polarity, TerminalRole};
use crate::units::{Amps, Ohms, Volts};

impl Resolver<'_> {
    pub(super) fn buses(&mut self) {
        for entry in &self.net.buses {
            let at = At::entry(self.document, entry);
            let record = &entry.value;
            let component = self.declare(
                ComponentKind::Bus,
                entry,
                record.at.as_ref(),
                record.zone.as_ref(),
            );
            let polarity = self.word(
                at.field("polarity", record.polarity.as_ref()),
                &[
                    ("positive", Polarity::Positive),
                    ("negative", Polarity::Negative),
                    ("bonding", Polarity::Bonding),
                ],
            );
            let studs = self.count(at.field("studs", record.studs.as_ref()), 1, MAX_PLACES);
            let rating = self.read(at.field("rating", record.rating.as_ref()));
            let stud = self.stud(at.field("stud", record.stud.as_ref()));
            let part = self.part(component);
            part.polarity = polarity.map(|given| given.value);
            part.studs = studs;
            part.rating = rating;
            part.covered = Self::flag(at, "covered", record.covered);
            part.stud = stud;
            let pool = self.pool(component, "", studs);
            let first = self.first_stud(pool);
            self.sits_on(component, first, at.field("on", record.on.as_ref()));
        }
    }

    pub(super) fn splices(&mut self) {
        for entry in &self.net.splices {
            let at = At::entry(self.document, entry);
            let record = &entry.value;
            let component = self.declare(
                ComponentKind::Splice,
                entry,
                record.at.as_ref(),
                record.zone.as_ref(),
            );
            let part = self.part(component);
            part.subkind = kind_word(record.kind.as_ref());
            part.sealed = Self::flag(at, "sealed", record.sealed);
            self.terminal(component, "", TerminalRole::Stud);
        }
    }

    pub(super) fn grounds(&mut self) {
        for entry in &self.net.grounds {
            let at = At::entry(self.document, entry);
            let record = &entry.value;
            let component = self.declare(
                ComponentKind::Ground,
                entry,
                record.at.as_ref(),
                record.zone.as_ref(),
            );
            let kind = self.word(
                at.field("kind", record.kind.as_ref()),
                &[
                    ("engine", GroundKind::Engine),
                    ("hull", GroundKind::Hull),
                    ("bonding", GroundKind::Bonding),
                ],
            );
            let stud = self.stud(at.field("stud", record.stud.as_ref()));
            let part = self.part(component);
            part.ground = kind.map(|given| given.value);
            part.subkind = kind_word(record.kind.as_ref());
            part.stud = stud;
            self.terminal(component, "", TerminalRole::Stud);
        }
    }

    pub(super) fn shunts(&mut self) {
        for entry in &self.net.shunts {
            let at = At::entry(self.document, entry);
            let record = &entry.value;
            let component = self.declare(
                ComponentKind::Shunt,
                entry,
                record.at.as_ref(),
                record.zone.as_ref(),
            );
            let rating = self.read::<Amps>(at.field("rating", record.rating.as_ref()));
            let voltage = self.read::<Volts>(at.field("voltage", record.voltage.as_ref()));
            let stud = self.stud(at.field("stud", record.stud.as_ref()));
            let part = self.part(component);
            part.rating = rating;
            part.stud = stud;
            let battery = self.terminal(component, "battery", TerminalRole::In);
            let system = self.terminal(component, "system", TerminalRole::Out);
            for (name, tapped) in [("battery-sense", battery), ("system-sense", system)] {
                let node = self.system.node_of(tapped);
                self.terminal_on(component, name, TerminalRole::Sense, node);
            }
            // A shunt drops its rated voltage at its rated current: R = U / I.
            let resistance = voltage.zip(rating).map(|(voltage, rating)| Given {
                value: Ohms(voltage.value.0 / rating.value.0),
                span: voltage.span,
                origin: Origin::Derived,
            });
            self.link(
                LinkKind::Joint,
                (battery, system),
                entry.name_span,
                resistance,
            );
        }
    }
}
