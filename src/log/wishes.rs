//! What each column would be by its title alone.

use std::collections::BTreeSet;

use super::columns::Facts;
use super::words::{Meaning, Quantity, Subject};
use crate::mapping::Role;

/// What a column would be, if nothing else wanted to be it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Wish {
    Role(Role),
    LoadVolts,
    Discharge,
}

/// What the untaken columns would be, those that say most about themselves first.
pub(crate) fn wishes(facts: &Facts, taken: &BTreeSet<usize>) -> Vec<(Wish, usize)> {
    let speaks_of_array = facts.meanings.iter().any(|m| m.is(Subject::Array))
        && !facts.meanings.iter().any(|m| m.is(Subject::Bank));
    let mut found: Vec<(Wish, usize, (u8, bool, bool))> = Vec::new();
    for (k, meaning) in facts.meanings.iter().enumerate() {
        if taken.contains(&k) {
            continue;
        }
        if let Some(wish) = wish(meaning, facts, speaks_of_array) {
            let silent =
                u8::from(meaning.subjects.is_empty()) * 2 + u8::from(meaning.unit.is_none());
            // A total says more than one of its parts, and what has no number more than one of several.
            let total = ["total", "gesamt", " sum "]
                .iter()
                .any(|stem| meaning.folded.contains(stem));
            let numbered = meaning.folded.contains(|c: char| c.is_ascii_digit());
            found.push((wish, k, (silent, !total, numbered)));
        }
    }
    found.sort_by_key(|f| (f.2, f.1));
    found.into_iter().map(|f| (f.0, f.1)).collect()
}

/// Which side of the system a title speaks of.
fn side(meaning: &Meaning, quantity: Quantity, speaks_of_array: bool) -> Option<Subject> {
    let is = |s| meaning.is(s);
    if is(Subject::Aside) {
        return None;
    }
    if is(Subject::Discharge) {
        return Some(Subject::Discharge);
    }
    if is(Subject::Load) && !is(Subject::Array) {
        return Some(Subject::Load);
    }
    if is(Subject::Other) {
        return Some(Subject::Other);
    }
    let charger = is(Subject::Charger);
    if is(Subject::Array) {
        let panels = meaning.nearest == Some(Subject::Array);
        let output = charger && quantity == Quantity::Current && !panels;
        return Some(if output {
            Subject::Charger
        } else {
            Subject::Array
        });
    }
    if is(Subject::WeakArray) {
        return Some(match (charger, is(Subject::Bank)) {
            (true, true) if quantity == Quantity::Voltage => Subject::Bank,
            (true, _) => Subject::Charger,
            (false, true) if quantity == Quantity::Voltage => Subject::Bank,
            (false, _) => Subject::Array,
        });
    }
    if meaning.harvested && !is(Subject::Bank) && quantity != Quantity::Energy {
        return Some(if charger {
            Subject::Charger
        } else {
            Subject::Array
        });
    }
    if charger {
        let at_bank = is(Subject::Bank) && quantity == Quantity::Voltage;
        return Some(if at_bank {
            Subject::Bank
        } else {
            Subject::Charger
        });
    }
    if is(Subject::Bank) {
        return Some(Subject::Bank);
    }
    if is(Subject::House) {
        // "House W" is what the house uses; "house V" its bank.
        let used = quantity == Quantity::Power;
        return Some(if used { Subject::Load } else { Subject::Bank });
    }
    (meaning.generic && meaning.subjects.is_empty()).then_some(if speaks_of_array {
        Subject::Array
    } else {
        Subject::Bank
    })
}

/// What a title makes of its column.
pub(crate) fn wish(meaning: &Meaning, facts: &Facts, speaks_of_array: bool) -> Option<Wish> {
    let quantity = meaning.quantity?;
    let extreme = meaning.lowest || meaning.highest;
    let side = side(meaning, quantity, speaks_of_array);
    let role = match quantity {
        Quantity::Soc if meaning.lowest && facts.daily => Role::DaySocLow,
        Quantity::Soc if !extreme && !meaning.is(Subject::Aside) => Role::Soc,
        Quantity::Latitude => Role::Latitude,
        Quantity::Longitude => Role::Longitude,
        Quantity::Irradiance => Role::Irradiance,
        Quantity::Temperature if meaning.is(Subject::Bank) && !meaning.is(Subject::Aside) => {
            Role::BatteryTemperature
        }
        Quantity::Temperature if meaning.is(Subject::Air) && !meaning.is(Subject::Array) => {
            Role::AirTemperature
        }
        Quantity::Voltage if meaning.highest && facts.daily && side == Some(Subject::Bank) => {
            Role::DayVoltsHigh
        }
        Quantity::Energy => return energy(meaning, side, facts.daily).map(Wish::Role),
        Quantity::Stage if side != Some(Subject::Load) && !meaning.is(Subject::Aside) => {
            Role::Stage
        }
        Quantity::Voltage | Quantity::Current | Quantity::Power if !extreme => {
            return electrical(quantity, side?);
        }
        _ => return None,
    };
    Some(Wish::Role(role))
}

fn electrical(quantity: Quantity, side: Subject) -> Option<Wish> {
    let role = match (quantity, side) {
        (Quantity::Voltage, Subject::Bank) => Role::BatteryVoltage,
        (Quantity::Voltage, Subject::Array) => Role::ArrayVoltage,
        (Quantity::Voltage, Subject::Charger) => Role::ChargeVoltage,
        (Quantity::Voltage, Subject::Load) => return Some(Wish::LoadVolts),
        (Quantity::Current, Subject::Bank) => Role::BatteryCurrent,
        (Quantity::Current, Subject::Array) => Role::ArrayCurrent,
        (Quantity::Current, Subject::Charger) => Role::ChargeCurrent,
        (Quantity::Current, Subject::Load) => Role::LoadCurrent,
        (Quantity::Current, Subject::Other) => Role::OtherCurrent,
        (Quantity::Current, Subject::Discharge) => return Some(Wish::Discharge),
        (Quantity::Power, Subject::Bank) => Role::BatteryPower,
        (Quantity::Power, Subject::Array) => Role::ArrayPower,
        (Quantity::Power, Subject::Charger) => Role::ChargePower,
        (Quantity::Power, Subject::Load) => Role::LoadPower,
        _ => return None,
    };
    Some(Wish::Role(role))
}

fn energy(meaning: &Meaning, side: Option<Subject>, daily: bool) -> Option<Role> {
    let harvested = meaning.harvested;
    match side {
        Some(Subject::Load) => daily.then_some(Role::DayLoad),
        Some(Subject::Array | Subject::Charger) => Some(if daily {
            Role::DayHarvest
        } else {
            Role::HarvestTotal
        }),
        _ if harvested => Some(if daily {
            Role::DayHarvest
        } else {
            Role::HarvestTotal
        }),
        _ => None,
    }
}
