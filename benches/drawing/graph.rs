//! A boat as the plain graph that other layout programs take: parts with ports, conductors between them.

use loomwright::system::System;
use std::collections::BTreeMap;
use std::fmt::Write;

/// Distance of two ports on one side of a part, in mm.
const PITCH: f64 = 5.0;

/// Writes a boat as a graph in JSON: parts as nodes with fixed ports, conductors and bolted joints as edges.
pub(crate) fn write(boat: &System) -> String {
    let mut sides: BTreeMap<usize, [Vec<usize>; 2]> = BTreeMap::new();
    let mut edges = String::new();
    let mut edge = |id: &str, from: usize, to: usize| {
        let _ = write!(
            edges,
            "{}{{\"id\":\"{id}\",\"sources\":[\"t{from}\"],\"targets\":[\"t{to}\"]}}",
            if edges.is_empty() { "" } else { "," }
        );
    };
    for (index, terminal) in boat.terminals.iter().enumerate() {
        // What comes in stands left, what goes out right.
        let name = terminal.name.as_str();
        let left = matches!(
            name,
            "in" | "feed" | "+" | "a" | "main" | "memory" | "volts"
        );
        sides.entry(terminal.component.index()).or_default()[usize::from(!left)].push(index);
    }
    for (index, conductor) in boat.conductors.iter().enumerate() {
        edge(
            &format!("w{index}"),
            conductor.from.index(),
            conductor.to.index(),
        );
    }
    let mut nodes = String::new();
    for (part, sides) in &sides {
        let rows = sides[0].len().max(sides[1].len());
        let height = PITCH * (rows as f64 + 1.0);
        let mut ports = String::new();
        for (side, terminals) in sides.iter().enumerate() {
            for (row, terminal) in terminals.iter().enumerate() {
                let _ = write!(
                    ports,
                    "{}{{\"id\":\"t{terminal}\",\"x\":{},\"y\":{},\"width\":0,\"height\":0}}",
                    if ports.is_empty() { "" } else { "," },
                    if side == 0 { 0.0 } else { 15.0 },
                    PITCH * (row as f64 + 1.0)
                );
            }
        }
        let _ = write!(
            nodes,
            "{}{{\"id\":\"p{part}\",\"width\":15,\"height\":{height},\"ports\":[{ports}],\
             \"layoutOptions\":{{\"org.eclipse.elk.portConstraints\":\"FIXED_POS\"}}}}",
            if nodes.is_empty() { "" } else { "," }
        );
    }
    format!(
        "{{\"id\":\"boat\",\"layoutOptions\":{{\"elk.algorithm\":\"layered\",\"elk.edgeRouting\":\"ORTHOGONAL\"}},\
         \"children\":[{nodes}],\"edges\":[{edges}]}}"
    )
}
