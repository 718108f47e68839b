//! The wallet card: battery switch positions, what stays live with all of them off, and the fuse chart, in few words.

use super::Rows;
use super::fuse_chart::device_lines;
use super::truth_table::{bank_name, row_title};

/// Combinations of the battery switches on a card; the switch table has all of them.
const MOST_COMBINATIONS: usize = 12;

/// What stands on the card.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WalletCard {
    /// Each combination of the battery switches, and what it does.
    pub switches: Vec<(String, String)>,
    /// How many combinations are left out.
    pub more: usize,
    /// Loads that can draw with every battery switch off, with the bank in front.
    pub live_when_off: Vec<String>,
    /// Device, what it serves, and its rating.
    pub devices: Vec<[String; 3]>,
}

/// The card of a boat.
#[must_use]
pub fn wallet_card(rows: &Rows<'_>) -> WalletCard {
    let (system, truth) = (rows.facts.system, &rows.truth);
    let switched = truth.rows.iter().filter(|row| !row.positions.is_empty());
    let combinations = switched.clone().count();
    let switches = switched
        .take(MOST_COMBINATIONS)
        .map(|row| {
            let does: Vec<String> = row
                .banks
                .iter()
                .map(|bank| {
                    let mut words = match bank.loads.len() {
                        0 => "no load".to_owned(),
                        1 => "1 load".to_owned(),
                        more => format!("{more} loads"),
                    };
                    for other in &bank.joined {
                        words.push_str(", joined to ");
                        words.push_str(bank_name(system, *other));
                    }
                    format!("{}: {words}", bank_name(system, bank.bank))
                })
                .collect();
            (row_title(system, row).join(", "), does.join("; "))
        })
        .collect();
    let off = truth.rows.iter().find(|row| row.off);
    let live_when_off = off
        .into_iter()
        .flat_map(|row| &row.banks)
        .filter(|bank| !bank.loads.is_empty())
        .map(|bank| {
            let loads: Vec<&str> = bank
                .loads
                .iter()
                .map(|load| system.loads[load.index()].name.as_str())
                .collect();
            format!("{}: {}", bank_name(system, bank.bank), loads.join(", "))
        })
        .collect();
    WalletCard {
        switches,
        more: combinations.saturating_sub(MOST_COMBINATIONS),
        live_when_off,
        devices: device_lines(rows.facts),
    }
}
