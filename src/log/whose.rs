//! Whose current is it, and which way does it run: what only the numbers can tell.

use super::columns::{Facts, Roles};
use super::uses::Use;
use crate::mapping::Role;

/// Separate columns for charging and discharging make one signed current.
pub(crate) fn pair_discharge(facts: &Facts, roles: &mut Roles, discharge: Option<Use>) {
    let Some(discharge) = discharge else { return };
    if roles.has(Role::BatteryCurrent) {
        return;
    }
    let (column, factor) = discharge.parts[0];
    let negative = facts
        .stats
        .get(column)
        .and_then(|s| s.max)
        .is_some_and(|m| m <= 0.0);
    let out = (column, if negative { factor } else { -factor });
    let charging = roles
        .uses
        .iter()
        .position(|u| u.role == Role::ChargeCurrent && u.how != "design")
        .filter(|_| !roles.has_array());
    match charging {
        Some(k) => {
            roles.uses[k].role = Role::BatteryCurrent;
            roles.uses[k].parts.push(out);
            roles
                .notes
                .push("battery_current: charging and discharging come in two columns".to_owned());
        }
        None if !roles.has_array() => roles.uses.push(Use {
            parts: vec![out],
            ..discharge
        }),
        None => {}
    }
}

/// A reading this far below zero, as a share of the highest, is a current the other way; less is a meter's
/// zero or its noise.
const OTHER_WAY: f64 = 0.01;

/// A "battery current" beside array columns that is never negative is the controller's output.
pub(crate) fn current(facts: &Facts, roles: &mut Roles) {
    let goes_below = |role: Role| {
        let found = roles.get(role)?;
        let seen = facts.stats.get(found.parts[0].0)?;
        let (lowest, highest) = (seen.min?, seen.max?);
        Some(lowest < 0.0 && -lowest > OTHER_WAY * highest)
    };
    let never_out = |role: Role| goes_below(role) == Some(false);
    let (current, power) = (
        never_out(Role::BatteryCurrent),
        never_out(Role::BatteryPower),
    );
    let signed = goes_below(Role::BatteryCurrent) == Some(true);
    let charger_signed = goes_below(Role::ChargeCurrent) == Some(true);
    if roles.has_array() {
        if current && roles.rename(Role::BatteryCurrent, Role::ChargeCurrent) {
            roles.notes.push("charge_current: the file's battery current is never negative and stands beside array columns, so it is the controller's output".to_owned());
        }
        if power && !signed && roles.rename(Role::BatteryPower, Role::ChargePower) {
            roles.notes.push("charge_power: the file's battery power is never negative and stands beside array columns, so it is the controller's output".to_owned());
        }
    } else if charger_signed && roles.rename(Role::ChargeCurrent, Role::BatteryCurrent) {
        roles.notes.push("battery_current: the file's charge current is negative at times, so it is the bank's own".to_owned());
        roles.rename(Role::ChargePower, Role::BatteryPower);
    }
}

/// A "battery voltage" that is gone every night is the array's, and so are its current and power.
pub(crate) fn no_bank(facts: &Facts, roles: &mut Roles) {
    const PAIRS: [(Role, Role); 4] = [
        (Role::BatteryVoltage, Role::ArrayVoltage),
        (Role::ChargeVoltage, Role::ArrayVoltage),
        (Role::BatteryCurrent, Role::ArrayCurrent),
        (Role::BatteryPower, Role::ArrayPower),
    ];
    for (bank, array) in PAIRS {
        let Some(found) = roles.get(bank).filter(|u| u.how != "design") else {
            continue;
        };
        let title = &facts.layout.titles[found.parts[0].0];
        let why =
            format!("'{title}' belongs to a voltage that is gone every night, which no bank's is");
        let note = if roles.has(array) {
            format!("{}: {why}; it is left out", bank.name())
        } else {
            format!("{}: {why}; it is taken as the array's", array.name())
        };
        if !roles.rename(bank, array) {
            roles.uses.retain(|u| u.role != bank);
        }
        roles.notes.push(note);
    }
}

/// Roles that only go one way are turned round where they are logged as negative throughout.
pub(crate) fn only_one_way(facts: &Facts, roles: &mut Roles) {
    const ONE_WAY: [Role; 7] = [
        Role::LoadCurrent,
        Role::LoadPower,
        Role::ArrayCurrent,
        Role::ArrayPower,
        Role::ChargeCurrent,
        Role::ChargePower,
        Role::OtherCurrent,
    ];
    for found in roles
        .uses
        .iter_mut()
        .filter(|u| ONE_WAY.contains(&u.role) && u.parts.len() == 1)
    {
        let stats = facts.stats.get(found.parts[0].0);
        // A scale below 0 in the design has turned it round already.
        let as_logged = found.parts[0].1 > 0.0;
        if as_logged && stats.is_some_and(|s| s.max.is_some_and(|m| m <= 0.0) && s.negatives > 0) {
            found.parts[0].1 = -found.parts[0].1;
            roles.notes.push(format!(
                "{} is logged as negative and was turned round",
                found.role.name()
            ));
        }
    }
}
