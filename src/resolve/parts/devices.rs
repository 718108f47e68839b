//! Fuses, breakers, fuse blocks and breaker panels.

use super::switches::{breaker_positions, kind_word};
use crate::resolve::Resolver;
use crate::resolve::faults::UNKNOWN_WORD;
use crate::resolve::fields::{At, Field};
use crate::resolve::names::MAX_PLACES;
use crate::resolve::quantities::asked;
use crate::resolve::stock::LIDS;
use crate::system::{
    ComponentId, ComponentKind, Device, DeviceId, DeviceKind, Gear, GearId, GearKind, LinkKind,
    TerminalId, TerminalRole,
};

impl<'n> Resolver<'n> {
    pub(super) fn fuses(&mut self) {
        for entry in &self.net.fuses {
            let at = At::entry(self.document, entry);
            let record = &entry.value;
            let component = self.declare(
                ComponentKind::Fuse,
                entry,
                record.at.as_ref(),
                record.zone.as_ref(),
            );
            let stud = self.stud(at.field("stud", record.stud.as_ref()));
            let part = self.part(component);
            part.stud = stud;
            part.ignition_protected =
                Self::flag(at, "ignition-protected", record.ignition_protected);
            let input = self.terminal(component, "in", TerminalRole::In);
            let output = self.terminal(component, "out", TerminalRole::Out);
            let rating = self.device_rating(at.field("rating", record.rating.as_ref()));
            let device = Device {
                rating: self.rating(rating),
                rating_asked: asked(rating),
                form: self.fuse_form(at.field("form", record.form.as_ref())),
                voltage: self.read(at.field("voltage", record.voltage.as_ref())),
                interrupting: self.read(at.field("interrupting", record.interrupting.as_ref())),
                holder_rating: self.read(at.field("holder-rating", record.holder_rating.as_ref())),
                ..plain_device(entry.name.clone(), at, component, DeviceKind::Fuse)
            };
            self.device(device, (input, output));
            self.sits_on(component, input, at.field("on", record.on.as_ref()));
        }
    }

    pub(super) fn breakers(&mut self) {
        for entry in &self.net.breakers {
            let at = At::entry(self.document, entry);
            let record = &entry.value;
            let component = self.declare(
                ComponentKind::Breaker,
                entry,
                record.at.as_ref(),
                record.zone.as_ref(),
            );
            let stud = self.stud(at.field("stud", record.stud.as_ref()));
            let part = self.part(component);
            part.stud = stud;
            part.ignition_protected =
                Self::flag(at, "ignition-protected", record.ignition_protected);
            let input = self.terminal(component, "in", TerminalRole::In);
            let output = self.terminal(component, "out", TerminalRole::Out);
            let kind = self.word(
                at.field("reset", record.reset.as_ref()),
                &[
                    ("manual", DeviceKind::Breaker),
                    ("automatic", DeviceKind::SelfResetting),
                ],
            );
            let kind = kind.map_or(DeviceKind::Breaker, |given| given.value);
            let rating = self.device_rating(at.field("rating", record.rating.as_ref()));
            let device = Device {
                rating: self.rating(rating),
                rating_asked: asked(rating),
                voltage: self.read(at.field("voltage", record.voltage.as_ref())),
                interrupting: self.read(at.field("interrupting", record.interrupting.as_ref())),
                trip_free: Self::flag(at, "trip-free", record.trip_free),
                ..plain_device(entry.name.clone(), at, component, kind)
            };
            if record.as_switch.is_some_and(|flag| flag.0) {
                let inside = self.inner_point(component, "inside");
                self.device(device, (input, inside));
                self.breaker_switch(component, (inside, output), at);
            } else {
                self.device(device, (input, output));
            }
            self.sits_on(component, input, at.field("on", record.on.as_ref()));
        }
    }

    /// The contact of a breaker that is used as a switch, behind its trip.
    ///
    /// It normally stands on: a breaker is switched off for work, not to rest.
    fn breaker_switch(
        &mut self,
        component: ComponentId,
        ends: (TerminalId, TerminalId),
        at: At<'n>,
    ) {
        let gear = GearId::at(self.system.gears.len());
        self.link(
            LinkKind::Contact {
                gear,
                closed_in: vec![1],
            },
            ends,
            at.name_span(),
            None,
        );
        self.names.normal_given.push(true);
        self.system.gears.push(Gear {
            name: at.element.to_owned(),
            component,
            kind: GearKind::Breaker,
            kind_given: true,
            positions: breaker_positions(),
            normal: 1,
            off: Some(0),
            automatic: false,
            coil: None,
            suppressed: None,
        });
    }

    pub(super) fn fuse_blocks(&mut self) {
        for entry in &self.net.fuse_blocks {
            let at = At::entry(self.document, entry);
            let record = &entry.value;
            let component = self.declare(
                ComponentKind::FuseBlock,
                entry,
                record.at.as_ref(),
                record.zone.as_ref(),
            );
            let rating = self.read(at.field("feed-rating", record.feed_rating.as_ref()));
            let design = self.read(at.field("design-current", record.design_current.as_ref()));
            let stud = self.stud(at.field("stud", record.stud.as_ref()));
            let way_stud = self.stud(at.field("way-stud", record.way_stud.as_ref()));
            let size = self.pair_within(at, "size", record.size.as_ref(), LIDS);
            let columns = self.count(at.field("columns", record.columns.as_ref()), 1, MAX_PLACES);
            let part = self.part(component);
            part.rating = rating;
            part.design_current = design;
            part.stud = stud;
            part.way_stud = way_stud;
            part.size = size;
            part.columns = columns.map(|given| given.value);
            part.ignition_protected =
                Self::flag(at, "ignition-protected", record.ignition_protected);
            part.subkind = kind_word(record.device.as_ref());
            let kind = self.word(
                at.field("device", record.device.as_ref()),
                &[("fuse", DeviceKind::Fuse), ("breaker", DeviceKind::Breaker)],
            );
            let common = Device {
                form: self.fuse_form(at.field("form", record.form.as_ref())),
                voltage: self.read(at.field("voltage", record.voltage.as_ref())),
                interrupting: self.read(at.field("interrupting", record.interrupting.as_ref())),
                holder_rating: self.read(at.field("way-rating", record.way_rating.as_ref())),
                ..plain_device(
                    String::new(),
                    at,
                    component,
                    kind.map_or(DeviceKind::Fuse, |given| given.value),
                )
            };
            let feed = self.terminal(component, "feed", TerminalRole::In);
            let ways = at.key("ways");
            let count = record.ways.as_ref().map_or(0, indexmap::IndexMap::len);
            if count > MAX_PLACES as usize {
                self.too_many(at, "ways", MAX_PLACES as usize);
            }
            for (name, way) in record.ways.iter().flatten().take(MAX_PLACES as usize) {
                let place = ways.key(name);
                let inner = place.key("rating");
                let field = way
                    .rating
                    .as_ref()
                    .map(|rating| inner.text("rating", rating));
                let spare = field.is_some_and(|field| field.text.trim() == "spare");
                let output = self.terminal(component, name.trim(), TerminalRole::Out);
                let device = Device {
                    name: format!("{}.{}", entry.name, name.trim()),
                    label: way
                        .name
                        .as_ref()
                        .map_or_else(String::new, |text| text.0.clone()),
                    span: ways.key_span(name).unwrap_or(entry.name_span),
                    rating: self.rating(field.filter(|_| !spare)),
                    rating_asked: asked(field),
                    spare,
                    ..common.clone()
                };
                self.device(device, (feed, output));
            }
            if let Some(negative) = &record.negative {
                let place = at.key("negative");
                let studs =
                    self.count(place.field("studs", negative.studs.as_ref()), 1, MAX_PLACES);
                let rating = self.read(place.field("rating", negative.rating.as_ref()));
                let part = self.part(component);
                part.studs = studs;
                part.negative_rating = rating;
                self.pool(component, "negative.", studs);
            }
        }
    }

    /// A rating field of a single device, which cannot be spare.
    fn device_rating(&mut self, field: Option<Field<'n>>) -> Option<Field<'n>> {
        let field = field?;
        if field.text.trim() != "spare" {
            return Some(field);
        }
        let told = Self::error(
            UNKNOWN_WORD,
            field,
            format!(
                "{} is `spare`, which only a way of a block can be",
                field.title()
            ),
        )
        .label(field.span(), "expected a current")
        .repair("write its rating, or `auto`");
        self.tell(told);
        None
    }

    fn device(&mut self, mut device: Device, ends: (TerminalId, TerminalId)) {
        let id = DeviceId::at(self.system.devices.len());
        device.link = self.link(LinkKind::Device(id), ends, device.span, None);
        self.system.devices.push(device);
    }
}

/// A device of which nothing is known.
fn plain_device(name: String, at: At<'_>, component: ComponentId, kind: DeviceKind) -> Device {
    Device {
        name,
        label: String::new(),
        span: at.name_span(),
        link: crate::system::LinkId(0),
        component,
        kind,
        rating: None,
        rating_asked: None,
        spare: false,
        form: None,
        voltage: None,
        interrupting: None,
        holder_rating: None,
        trip_free: None,
    }
}
