//! What a finding is about, as it is drawn: the group of an element, by its name.

use crate::drawing::Rendered;
use crate::drawing::index::{area, spot};
use crate::drawing::scene::{Area, At, Form, Group, Mark, OFFSHEET, Role, SheetKind};
use crate::system::System;
use std::collections::BTreeMap;

/// Terminals that a group shows, with their places.
pub(super) fn ports(group: &Group) -> impl Iterator<Item = (&str, At)> {
    group
        .shapes
        .iter()
        .filter_map(|shape| match (&shape.mark, &shape.form) {
            (Mark::Port(port), Form::Circle { centre, .. }) => Some((port.as_str(), *centre)),
            _ => None,
        })
}

/// The terminal of a landing: a second one on a stud has a number behind a colon.
pub(super) fn terminal_of(port: &str) -> &str {
    let terminal = port.split_once(':').map_or(port, |(name, _)| name);
    terminal.strip_suffix('.').unwrap_or(terminal)
}

/// The drawing of an element that a mark points at.
#[derive(Clone, Copy, Debug)]
pub(super) struct Target {
    pub(super) drawing: usize,
    pub(super) sheet: usize,
    pub(super) group: usize,
    /// What the mark stands beside: from where to where in the list of all.
    pub(super) areas: (usize, usize),
    /// The point by which its place is told.
    pub(super) at: At,
}

/// Where every element is drawn first.
pub(super) struct Targets {
    /// By name of a part, `part.terminal`, wire number, or zone.
    pub(super) by_name: BTreeMap<String, Target>,
    /// Rectangles of all that may be marked, one target after the other.
    pub(super) areas: Vec<Area>,
}

impl Targets {
    pub(super) fn new(system: &System, drawings: &[Rendered]) -> Self {
        let mut by_name = BTreeMap::new();
        let mut areas: Vec<Area> = Vec::new();
        let mut kept = |near: &mut dyn Iterator<Item = Area>| {
            let first = areas.len();
            areas.extend(near);
            (first, areas.len())
        };
        for (drawing, rendered) in drawings.iter().enumerate() {
            for (sheet, record) in rendered.sheets.iter().enumerate() {
                if record.kind != SheetKind::Wiring {
                    continue;
                }
                for (index, group) in record.groups.iter().enumerate() {
                    let (Some(at), Some(area)) = (spot(group), area(group)) else {
                        continue;
                    };
                    let target = Target {
                        drawing,
                        sheet,
                        group: index,
                        areas: (0, 0),
                        at,
                    };
                    match &group.role {
                        Role::Part { kind, .. } if *kind == OFFSHEET => {}
                        Role::Part { name, kind, .. } => {
                            if !by_name.contains_key(name) {
                                // Near one of its shapes, not only near the rectangle around all of them.
                                let shapes = group.shapes.iter();
                                let drawn =
                                    shapes.filter(|shape| !matches!(shape.mark, Mark::Port(_)));
                                let areas = kept(&mut drawn.filter_map(|shape| shape.form.area()));
                                by_name.insert(name.clone(), Target { areas, ..target });
                            }
                            let body = group.shapes.iter().find_map(|shape| match shape.form {
                                Form::Rect { .. } => shape.form.area(),
                                _ => None,
                            });
                            for shape in &group.shapes {
                                if let (Mark::Port(port), Form::Circle { centre, .. }) =
                                    (&shape.mark, &shape.form)
                                {
                                    // A way of a block is its row from edge to edge.
                                    let area = match body.filter(|_| *kind == "block") {
                                        Some(body) => Area {
                                            top: centre.1 - 1.0,
                                            bottom: centre.1 + 1.0,
                                            ..body
                                        },
                                        None => shape.form.area().unwrap_or(area),
                                    };
                                    let areas = kept(&mut std::iter::once(area));
                                    let at = *centre;
                                    let target = Target {
                                        areas,
                                        at,
                                        ..target
                                    };
                                    by_name.entry(port.clone()).or_insert(target);
                                }
                            }
                        }
                        Role::Wire { number, .. } => {
                            let areas = kept(&mut std::iter::once(area));
                            let target = Target { areas, ..target };
                            by_name.entry(number.clone()).or_insert(target);
                        }
                        Role::Zone { name } => {
                            // The name of a zone is marked, not the middle of its room.
                            let text = group.shapes.iter().find_map(|shape| match shape.form {
                                Form::Text { .. } => shape.form.area(),
                                _ => None,
                            });
                            let areas = kept(&mut std::iter::once(text.unwrap_or(area)));
                            let name = format!("zone {name}");
                            by_name.entry(name).or_insert(Target { areas, ..target });
                        }
                        _ => {}
                    }
                }
            }
        }
        let mut targets = Self { by_name, areas };
        targets.name_others(system);
        targets
    }

    /// Leads the names of loads, devices, circuits and banks to the part or wire that is drawn for them.
    fn name_others(&mut self, system: &System) {
        let part = |component: usize| system.components[component].name.as_str();
        for load in &system.loads {
            self.name(&load.name, part(load.component.index()));
        }
        for device in &system.devices {
            self.name(&device.name, part(device.component.index()));
        }
        for circuit in &system.circuits {
            let load = circuit
                .load
                .map(|load| part(system.loads[load.index()].component.index()));
            let first = circuit
                .conductors
                .first()
                .map(|first| system.conductors[first.index()].number.as_str());
            for drawn in load.into_iter().chain(first) {
                self.name(&circuit.name, drawn);
                self.name(&circuit.number, drawn);
            }
        }
        for bank in &system.banks {
            if let Some(first) = bank.strings.iter().flatten().next() {
                let first = system.sources[first.index()].component.index();
                self.name(&bank.name, part(first));
            }
        }
    }

    pub(super) fn name(&mut self, name: &str, drawn: &str) {
        if !self.by_name.contains_key(name)
            && let Some(&target) = self.by_name.get(drawn)
        {
            self.by_name.insert(name.to_owned(), target);
        }
    }

    /// The drawing of an element that a finding names.
    pub(super) fn find(&self, element: &str) -> Option<Target> {
        let known = |name: &str| self.by_name.get(name).copied();
        if element.is_empty() {
            return None;
        }
        known(element)
            .or_else(|| known(&format!("zone {element}")))
            .or_else(|| known(element.rsplit_once('.')?.0))
    }
}
