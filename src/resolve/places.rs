//! Zones, points, ways and bundles, and looking them up.

use super::faults::{LOOK_ALIKE, UNKNOWN_BANK, UNKNOWN_POINT, UNKNOWN_ZONE, WAY_WITHOUT_ENDS};
use super::fields::{At, Field, quoted};
use super::names::{Index, guess};
use super::quantities::FROM_ZERO_METRES;
use super::{Resolver, finding};
use crate::diag::Severity;
use crate::source::Fault;
use crate::system::{BankId, Bundle, BundleId, Point, PointId, Way, WayId, Wetness, Zone, ZoneId};

/// Further conductors that a bundle may state; more is a slip.
const MAX_OTHERS: u32 = 1000;

impl<'n> Resolver<'n> {
    /// Resolves all places.
    pub(super) fn places(&mut self) {
        self.zones();
        self.points();
        self.bundles();
        self.ways();
    }

    fn zones(&mut self) {
        for entry in &self.net.zones {
            let at = At::entry(self.document, entry);
            let record = &entry.value;
            let ambient = self
                .read(at.field("ambient", record.ambient.as_ref()))
                .or(self.default_ambient.filter(|_| record.ambient.is_none()));
            let wet = self.word(
                at.field("wet", record.wet.as_ref()),
                &[
                    ("dry", Wetness::Dry),
                    ("damp", Wetness::Damp),
                    ("spray", Wetness::Spray),
                    ("wet", Wetness::Wet),
                    ("bilge", Wetness::Bilge),
                ],
            );
            let engine_space = Self::flag(at, "engine-space", record.engine_space);
            let vapour = Self::flag(at, "gasoline-vapour", record.gasoline_vapour);
            let id = ZoneId::at(self.system.zones.len());
            self.names.zones.add(&entry.name, id.0);
            self.system.zones.push(Zone {
                name: entry.name.clone(),
                span: entry.name_span,
                ambient,
                engine_space: engine_space.is_some_and(|given| given.value),
                engine_space_span: engine_space.and_then(|given| given.span),
                gasoline_vapour: vapour.is_some_and(|given| given.value),
                gasoline_vapour_span: vapour.and_then(|given| given.span),
                wet,
                access: record
                    .access
                    .as_ref()
                    .map_or_else(String::new, |text| text.0.clone()),
            });
        }
    }

    fn points(&mut self) {
        for entry in &self.net.points {
            let at = At::entry(self.document, entry);
            let zone = self.zone(at.field("zone", entry.value.zone.as_ref()));
            let id = PointId::at(self.system.points.len());
            self.names.points.add(&entry.name, id.0);
            self.system.points.push(Point {
                name: entry.name.clone(),
                span: entry.name_span,
                zone,
            });
        }
    }

    fn bundles(&mut self) {
        for entry in &self.net.bundles {
            let at = At::entry(self.document, entry);
            let record = &entry.value;
            let zone = self.zone(at.field("zone", record.zone.as_ref()));
            let others = self.count(at.field("others", record.others.as_ref()), 0, MAX_OTHERS);
            let hole = self.read(at.field("hole", record.hole.as_ref()));
            let id = BundleId::at(self.system.bundles.len());
            self.names.bundles.add(&entry.name, id.0);
            self.names.bundle_uses.push(None);
            self.system.bundles.push(Bundle {
                name: entry.name.clone(),
                span: entry.name_span,
                zone,
                sheathed: record.sheathed.is_some_and(|flag| flag.0),
                never_together: Vec::new(),
                others: others.map_or(0, |given| given.value),
                hole,
            });
        }
    }

    fn ways(&mut self) {
        for entry in &self.net.ways {
            let at = At::entry(self.document, entry);
            let record = &entry.value;
            let ends = at.list("between", record.between.as_ref());
            let found: Vec<Option<PointId>> =
                ends.iter().map(|&end| self.point(Some(end))).collect();
            let length = self.read(at.field("length", record.length.as_ref()));
            let zone = self.zone(at.field("zone", record.zone.as_ref()));
            let bundle = self.bundle(at.field("bundle", record.bundle.as_ref()));
            let hole = self.read(at.field("hole", record.hole.as_ref()));
            let slack =
                self.read_within(at.field("slack", record.slack.as_ref()), FROM_ZERO_METRES);
            let (from, to) = match found[..] {
                [Some(from), Some(to)] if from != to => (from, to),
                _ => {
                    if found.len() != 2 || found.iter().all(Option::is_some) {
                        let told = finding(
                            WAY_WITHOUT_ENDS,
                            Severity::Error,
                            &entry.name,
                            format!(
                                "way {} does not join two different points",
                                quoted(&entry.name)
                            ),
                        )
                        .label(
                            ends.first()
                                .map_or(entry.name_span, |_| at.key("between").span()),
                            "expected two points",
                        )
                        .repair("write `between: [one-point, other-point]`");
                        self.tell(told);
                    }
                    // A way that is left out still counts as named, so that `avoid` may name it.
                    self.names.broken_ways.insert(&entry.name);
                    continue;
                }
            };
            let id = WayId::at(self.system.ways.len());
            self.names.ways.add(&entry.name, id.0);
            self.system.ways.push(Way {
                name: entry.name.clone(),
                span: entry.name_span,
                from,
                to,
                length,
                zone,
                bundle,
                sheathed: record.sheathed.is_some_and(|flag| flag.0),
                hole,
                slack,
            });
        }
    }

    /// The zone that a field names.
    pub(super) fn zone(&mut self, field: Option<Field<'n>>) -> Option<ZoneId> {
        let field = field?;
        let id = self.names.zones.get(field.text.trim());
        if id.is_none() {
            self.unknown_place(UNKNOWN_ZONE, field, "zone");
        }
        id.map(ZoneId)
    }

    /// The point that a field names.
    pub(super) fn point(&mut self, field: Option<Field<'n>>) -> Option<PointId> {
        let field = field?;
        let id = self.names.points.get(field.text.trim());
        if id.is_none() {
            self.unknown_place(UNKNOWN_POINT, field, "point");
        }
        id.map(PointId)
    }

    /// The zone of a point.
    pub(super) fn zone_of(&self, point: Option<PointId>) -> Option<ZoneId> {
        self.system.points[point?.index()].zone
    }

    /// The bank that a field names, where banks are known already.
    pub(super) fn bank(&mut self, field: Option<Field<'n>>) -> Option<BankId> {
        let field = field?;
        let id = self.names.banks.get(field.text.trim());
        if id.is_none() {
            self.unknown_place(UNKNOWN_BANK, field, "bank");
        }
        id.map(BankId)
    }

    /// The bundle that a field names; one without a record begins with its first use.
    pub(super) fn bundle(&mut self, field: Option<Field<'n>>) -> Option<BundleId> {
        let field = field.filter(|field| !field.text.trim().is_empty())?;
        let name = field.text.trim();
        if let Some(id) = self.names.bundles.get(name) {
            let id = BundleId(id);
            if let Some(uses) = &mut self.names.bundle_uses[id.index()] {
                *uses += 1;
            }
            return Some(id);
        }
        let id = BundleId::at(self.system.bundles.len());
        self.names.bundles.add(name, id.0);
        self.names.bundle_uses.push(Some(1));
        self.system.bundles.push(Bundle {
            name: name.to_owned(),
            span: field.span(),
            zone: None,
            sheathed: false,
            never_together: Vec::new(),
            others: 0,
            hole: None,
        });
        Some(id)
    }

    /// Tells bundles and banks that are named once and look like a slip of another.
    ///
    /// Such a slip would take a conductor out of its bundle, and so let it carry too much.
    pub(super) fn look_alikes(&mut self) {
        let single: Vec<BundleId> = (0..self.system.bundles.len())
            .filter(|&index| self.names.bundle_uses[index] == Some(1))
            .map(BundleId::at)
            .collect();
        for id in single {
            let bundle = &self.system.bundles[id.index()];
            let (name, span) = (bundle.name.clone(), bundle.span);
            self.look_alike(&name, span, "bundle");
        }
        let implied: Vec<(String, crate::source::Span)> = self
            .system
            .banks
            .iter()
            .zip(&self.names.bank_implied)
            .filter(|(_, implied)| **implied)
            .map(|(bank, _)| (bank.name.clone(), bank.span))
            .collect();
        for (name, span) in implied {
            self.look_alike(&name, span, "bank");
        }
    }

    fn look_alike(&mut self, name: &str, span: crate::source::Span, what: &'static str) {
        let index = if what == "bundle" {
            &self.names.bundles
        } else {
            &self.names.banks
        };
        if index.names().len() > self.guesses {
            return;
        }
        self.guesses -= index.names().len();
        let Some(other) = index
            .names()
            .iter()
            .copied()
            .find(|other| is_slip_of(name, other))
        else {
            return;
        };
        let told = finding(
            LOOK_ALIKE,
            Severity::Warning,
            name,
            format!(
                "{what} {} is named once and differs by one letter from {}",
                quoted(name),
                quoted(other)
            ),
        )
        .label(span, format!("is {} meant?", quoted(other)))
        .repair(format!(
            "write {}, or give {} a record of its own under `{what}s`",
            quoted(other),
            quoted(name)
        ));
        self.tell(told);
    }

    fn unknown_place(&mut self, fault: Fault, field: Field<'n>, what: &'static str) {
        let index: &Index<'n> = match what {
            "zone" => &self.names.zones,
            "point" => &self.names.points,
            _ => &self.names.banks,
        };
        let near = guess(&mut self.guesses, field.text, index.names());
        let mut told = Self::error(
            fault,
            field,
            format!(
                "{} names {what} {}, which the file does not have",
                field.title(),
                quoted(field.text)
            ),
        )
        .label(field.span(), format!("no such {what}"));
        told.help = match near {
            Some(near) => format!("did you mean {}?", quoted(near)),
            None => format!(
                "add {} under `{what}s`, or correct the name",
                quoted(field.text)
            ),
        };
        self.tell(told);
    }
}

/// Whether two names differ by one letter that is easily left out, doubled or swapped.
///
/// Names that differ in a digit or only in their last letter are told apart on purpose: `loom-1`, `loom-2`, `loom-p`, `loom-s`.
fn is_slip_of(name: &str, other: &str) -> bool {
    const SHORTEST: usize = 4;
    if name == other || name.chars().count() < SHORTEST || name.len().abs_diff(other.len()) > 4 {
        return false;
    }
    if strsim::osa_distance(name, other) != 1 {
        return false;
    }
    let letters = |text: &str| -> Vec<char> { text.chars().collect() };
    let (a, b) = (letters(name), letters(other));
    let same = a.iter().zip(&b).take_while(|(a, b)| a == b).count();
    let longest = a.len().max(b.len());
    let differing = [a.get(same), b.get(same)];
    let digit = differing
        .iter()
        .flatten()
        .any(|letter| letter.is_ascii_digit());
    !digit && same + 1 < longest
}

#[cfg(test)]
mod tests {
    use super::is_slip_of;

    #[test]
    fn slips_are_told_from_series() {
        assert!(is_slip_of("bow-lom", "bow-loom"));
        assert!(is_slip_of("bwo-loom", "bow-loom"));
        assert!(!is_slip_of("loom-1", "loom-2"));
        assert!(!is_slip_of("loom-p", "loom-s"));
        assert!(!is_slip_of("main-12", "main-1"));
        assert!(!is_slip_of("bow", "bw"));
        assert!(!is_slip_of("bow-loom", "bow-loom"));
    }
}
