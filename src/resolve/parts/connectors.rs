//! Multi-way connectors.

use crate::netlist::records::HalfRecord;
use crate::netlist::text::{OneOrMany, SizeText, Text};
use crate::resolve::Resolver;
use crate::resolve::faults::WRONG_FACE;
use crate::resolve::fields::{At, Field, quoted};
use crate::resolve::names::{Growth, MAX_PLACES};
use crate::system::{
    ComponentId, ComponentKind, Connector, Contacts, FaceView, Given, Keyway, Known, LinkKind,
    PointId, TerminalId, TerminalRole, ZoneId,
};
use crate::units::Gauge;
use std::collections::BTreeSet;

impl<'n> Resolver<'n> {
    pub(super) fn connectors(&mut self) {
        for entry in &self.net.connectors {
            let at = At::entry(self.document, entry);
            let record = &entry.value;
            let component = self.declare(
                ComponentKind::Connector,
                entry,
                record.at.as_ref(),
                record.zone.as_ref(),
            );
            let cavities = self.count(
                at.field("cavities", record.cavities.as_ref()),
                1,
                MAX_PLACES,
            );
            let contact_rating =
                self.read(at.field("contact-rating", record.contact_rating.as_ref()));
            let accepts = self.accepts(at, record.accepts.as_ref());
            let resistance = self.read(at.field("resistance", record.resistance.as_ref()));
            let a = self.half(component, at, "a", record.a.as_ref());
            let b = self.half(component, at, "b", record.b.as_ref());
            let face = self.face(at, record.face.as_ref(), cavities.map(|given| given.value));
            let face_view = self.word(
                at.field("face-view", record.face_view.as_ref()),
                &[
                    ("wire-side", FaceView::WireSide),
                    ("mating-face", FaceView::MatingFace),
                ],
            );
            let keyway = self.word(
                at.field("keyway", record.keyway.as_ref()),
                &[
                    ("top", Keyway::Top),
                    ("bottom", Keyway::Bottom),
                    ("left", Keyway::Left),
                    ("right", Keyway::Right),
                ],
            );
            self.part(component).connector = Some(Connector {
                cavities: 0,
                contact_rating,
                accepts,
                sealed: Self::flag(at, "sealed", record.sealed),
                shape: Self::free_text(at.field("shape", record.shape.as_ref())),
                contacts: [a.contacts, b.contacts],
                half_zones: [a.zone, b.zone],
                half_points: [a.point, b.point],
                face,
                face_view,
                keyway,
            });
            if let Some(resistance) = resistance {
                self.names.contact_resistance.insert(component, resistance);
            }
            match cavities {
                Some(cavities) => {
                    for number in 1..=cavities.value {
                        self.cavity(component, number);
                    }
                }
                None => self.names.growth[component.index()] = Growth::Cavities,
            }
        }
    }

    /// Both terminals of a cavity, with the mated contacts between them.
    pub(super) fn cavity(
        &mut self,
        component: ComponentId,
        number: u32,
    ) -> (TerminalId, TerminalId) {
        let a = self.terminal(component, format!("{number}a"), TerminalRole::In);
        let b = self.terminal(component, format!("{number}b"), TerminalRole::Out);
        let resistance = self.names.contact_resistance.get(&component).copied();
        let span = self.system.components[component.index()].span;
        self.link(LinkKind::Mate { cavity: number }, (a, b), span, resistance);
        if let Some(connector) = &mut self.part(component).connector {
            connector.cavities = connector.cavities.max(number);
        }
        (a, b)
    }

    /// The rows of a face; none of them where one is wrong.
    fn face(
        &mut self,
        at: At<'n>,
        rows: Option<&'n OneOrMany<Text>>,
        cavities: Option<u32>,
    ) -> Vec<Vec<Option<u32>>> {
        let fields = at.list("face", rows);
        let Some(&first) = fields.first() else {
            return Vec::new();
        };
        let mut face = Vec::with_capacity(fields.len());
        let mut seen: BTreeSet<u32> = BTreeSet::new();
        let mut sound = true;
        for field in fields {
            let mut row = Vec::new();
            for word in field.text.split_whitespace() {
                if word == "." {
                    row.push(None);
                    continue;
                }
                let number = word
                    .parse()
                    .ok()
                    .filter(|number| (1..=cavities.unwrap_or(MAX_PLACES)).contains(number));
                match number {
                    Some(number) if seen.insert(number) => row.push(Some(number)),
                    Some(number) => {
                        sound = false;
                        self.wrong_face(field, &format!("shows cavity {number} twice"));
                    }
                    None => {
                        sound = false;
                        self.wrong_face(
                            field,
                            &format!("shows {}, which is no cavity of it", quoted(word)),
                        );
                    }
                }
            }
            if row.len() > MAX_PLACES as usize {
                sound = false;
                self.wrong_face(field, "has a row longer than any real part's");
            }
            face.push(row);
        }
        let missing = (1..=cavities.unwrap_or(0)).find(|number| !seen.contains(number));
        if let Some(missing) = missing.filter(|_| sound) {
            sound = false;
            self.wrong_face(first, &format!("does not show cavity {missing}"));
        }
        if face.len() > MAX_PLACES as usize {
            sound = false;
            self.wrong_face(first, "has more rows than any real part");
        }
        if sound { face } else { Vec::new() }
    }

    fn wrong_face(&mut self, field: Field<'n>, what: &str) {
        let finding = Self::error(WRONG_FACE, field, format!("{} {what}", field.title()))
            .label(field.span(), "a row of the face")
            .repair(
                "write each cavity number once, a point for a gap: `face: [\"1 2 3\", \"4 . 5\"]`",
            );
        self.tell(finding);
    }

    /// The thinnest and the thickest conductor; a single size is both.
    fn accepts(
        &mut self,
        at: At<'n>,
        sizes: Option<&'n OneOrMany<SizeText>>,
    ) -> Option<(Given<Gauge>, Given<Gauge>)> {
        let mut read: Vec<Given<Gauge>> = Vec::new();
        for field in at.list("accepts", sizes) {
            read.extend(self.gauge(Some(field)));
        }
        let thinnest = read
            .iter()
            .copied()
            .min_by(|a, b| a.value.by_area(&b.value))?;
        let thickest = read
            .iter()
            .copied()
            .max_by(|a, b| a.value.by_area(&b.value))?;
        Some((thinnest, thickest))
    }

    fn half(
        &mut self,
        component: ComponentId,
        at: At<'n>,
        key: &'static str,
        record: Option<&'n HalfRecord>,
    ) -> Half {
        let part = &self.system.components[component.index()];
        let mut half = Half {
            contacts: None,
            zone: part.zone,
            point: part.point,
        };
        let Some(record) = record else {
            return half;
        };
        let place = at.key(key);
        half.contacts = self.word(
            place.field("contacts", record.contacts.as_ref()),
            &[("sockets", Contacts::Sockets), ("pins", Contacts::Pins)],
        );
        let point = self.point(place.field("at", record.at.as_ref()));
        let zone = self.zone(place.field("zone", record.zone.as_ref()));
        // A half that sits at a point of its own lies in that point's zone, not in the connector's.
        half.zone = zone.or_else(|| self.zone_of(point)).or(half.zone);
        half.point = point.or(half.point);
        half
    }
}

struct Half {
    contacts: Known<Contacts>,
    zone: Option<ZoneId>,
    point: Option<PointId>,
}
