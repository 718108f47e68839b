use super::*;
use crate::analysis::testing::Build;
use crate::system::{GearKind, LinkKind, NodeId, Polarity, SourceKind};

fn node(system: &System, terminal: &str) -> NodeId {
    (0..system.terminals.len())
        .map(crate::system::TerminalId::at)
        .find(|&id| system.terminal_name(id) == terminal)
        .map(|id| system.node_of(id))
        .expect("a terminal of that name")
}

fn wires(system: &System, links: &[crate::system::LinkId]) -> Vec<String> {
    links
        .iter()
        .filter(|link| matches!(system.links[link.index()].kind, LinkKind::Conductor(_)))
        .map(|&link| system.link_name(link))
        .collect()
}

/// One battery, a bus, a daisy chain of two loads, one load without a negative, one behind a switch in its negative.
fn boat() -> System {
    let mut build = Build::new();
    build.source("house", SourceKind::Battery, None);
    build.source("spare", SourceKind::Battery, None);
    for load in ["lamp", "fan", "lost", "switched"] {
        build.load(load, Some(1.0));
    }
    build.switch(
        "button",
        GearKind::Push,
        &["on", "off"],
        &[("in", "out", &[0])],
    );
    build.bus("bar", Polarity::Negative);
    for (number, load) in [
        ("P1", "lamp"),
        ("P2", "fan"),
        ("P3", "lost"),
        ("P4", "switched"),
    ] {
        build.wire(number, ("house.+", &format!("{load}.+")), "14 AWG", 1.0);
    }
    build.wire("N1", ("lamp.-", "fan.-"), "14 AWG", 1.0);
    build.wire("N2", ("fan.-", "bar"), "14 AWG", 1.0);
    build.wire("N3", ("bar", "house.-"), "14 AWG", 1.0);
    build.wire("N4", ("switched.-", "button.in"), "14 AWG", 1.0);
    build.wire("N5", ("button.out", "bar"), "14 AWG", 1.0);
    build.finish()
}

#[test]
fn every_load_has_its_sources_and_its_way_back() {
    let system = boat();
    let returns = Returns::new(&system, &Nets::new(&system));
    let house = vec![SourceId(0)];
    for (load, back) in [
        (0, Reached::Somewhen),
        (1, Reached::Somewhen),
        (2, Reached::Never),
        (3, Reached::Somewhen),
    ] {
        let found = returns.load(LoadId(load));
        assert_eq!(found.fed_by, house, "load {load}");
        assert_eq!(found.back, back, "load {load}");
    }
    assert_eq!(returns.source(SourceId(0)), SourceReturn::Closed);
    assert_eq!(returns.source(SourceId(1)), SourceReturn::Idle);
}

#[test]
fn ways_end_at_the_first_bar_or_post() {
    let system = boat();
    let ways = Ways::new(&system);
    let way = |terminal: &str| wires(&system, &ways.way(node(&system, terminal)));
    assert_eq!(way("lamp.-"), ["N1", "N2"]);
    assert_eq!(way("fan.-"), ["N2"]);
    assert_eq!(way("switched.-"), ["N4", "N5"]);
    assert!(way("lost.-").is_empty());
    assert!(way("bar").is_empty());
    let exits = |terminal: &str| -> Vec<String> {
        ways.exits(node(&system, terminal))
            .iter()
            .map(|&(stop, _)| system.node_name(stop))
            .collect()
    };
    assert_eq!(exits("lamp.-"), ["bar"]);
    assert!(exits("lost.-").is_empty());
}

#[test]
fn islands_share_a_conductor_or_a_contact() {
    let system = boat();
    let returns = Returns::new(&system, &Nets::new(&system));
    let island = |terminal: &str| returns.grounds.island(node(&system, terminal));
    assert_eq!(island("house.+"), island("house.-"));
    assert_eq!(island("house.-"), island("switched.-"));
    assert_ne!(island("house.-"), island("spare.-"));
    assert_eq!(returns.grounds.sources(island("bar")), [SourceId(0)]);
    assert!(returns.grounds.sources(island("lost.-")).is_empty());
}

#[test]
fn landings_count_lugs() {
    let system = boat();
    let returns = Returns::new(&system, &Nets::new(&system));
    let landed = |terminal: &str| {
        let id = system.nodes[node(&system, terminal).index()].terminals[0];
        returns.landings.on(id).count()
    };
    assert_eq!(landed("house.+"), 4);
    assert_eq!(landed("bar"), 3);
    assert_eq!(landed("lost.-"), 0);
}
