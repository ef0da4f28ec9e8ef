//! Units where neither title nor cells name one: what the numbers themselves allow.
//!
//! A bank's voltage is known to within a third whatever its charge, so whole numbers a power of ten
//! away from it show their unit. Currents have no such mark: they follow the bank's voltage of the
//! same file, and where that leaves a doubt the owner is asked.

use super::columns::{Facts, Roles};
use super::inspection::Question;
use super::questions::BANK_12V;
use super::stats::ColumnStats;
use super::uses::{Use, kind};
use super::words::Kind;
use crate::mapping::Role;

/// Banks a small system may have, in multiples of 12 V.
const BANKS: [f64; 3] = [1.0, 2.0, 4.0];

/// Amperes no small system reaches: an inverter of 3 kW at 12 V draws 250 A.
const MOST_A: f64 = 300.0;

/// A whole number above this without a unit is milliamperes beyond doubt.
const SURELY_MILLI: f64 = 2_000.0;

/// Fractions of a volt that whole numbers may count.
const PARTS: [(f64, &str); 3] = [(1e-1, "0.1 V"), (1e-2, "0.01 V"), (1e-3, "mV")];

/// Gives the columns without a unit the one their numbers allow.
pub(crate) fn settle(roles: &mut Roles, facts: &Facts) {
    let part = volts(roles, facts);
    soc(roles, facts);
    for found in &mut roles.uses {
        if part.is_none_or(|p| p.0 == 1.0) && kind(found.role) == Some(Kind::Voltage) {
            huge_volts(found, facts);
        }
    }
    for found in &mut roles.uses {
        if kind(found.role) == Some(Kind::Temperature) {
            fahrenheit(found, facts);
        }
    }
    kilowatts(roles, facts);
    let mut asked = Vec::new();
    for found in roles
        .uses
        .iter_mut()
        .filter(|u| kind(u.role) == Some(Kind::Current))
    {
        asked.extend(amps(found, part, facts));
    }
    roles.questions.extend(asked);
}

fn stats<'a>(found: &Use, facts: &'a Facts) -> Option<&'a ColumnStats> {
    let [(column, _)] = found.parts[..] else {
        return None;
    };
    facts.stats.get(column)
}

/// Whether the numbers alone must tell, and can: whole numbers without a unit.
fn is_open(found: &Use, facts: &Facts) -> bool {
    !found.unit_said && stats(found, facts).is_some_and(|s| !s.fraction && s.numbers > 0)
}

fn most(stats: &ColumnStats) -> f64 {
    let size = |v: Option<f64>| v.unwrap_or(0.0).abs();
    size(stats.max).max(size(stats.min))
}

/// The part of a volt the file's whole numbers count, by the bank's voltage.
fn volts(roles: &mut Roles, facts: &Facts) -> Option<(f64, &'static str)> {
    let is_bank = |u: &&Use| {
        matches!(
            u.role,
            Role::BatteryVoltage | Role::ChargeVoltage | Role::DayVoltsHigh
        )
    };
    let bank = roles
        .uses
        .iter()
        .filter(is_bank)
        .find(|u| is_open(u, facts))?;
    let seen = stats(bank, facts)?;
    let high = seen.max?;
    // A column may touch 0 where a link was lost; then its highest value alone must do.
    let low = seen.min.filter(|low| *low > high / 2.0).unwrap_or(high);
    let found = std::iter::once((1.0, "V"))
        .chain(PARTS)
        .find(|p| is_bank_volts(low * p.0, high * p.0, facts.nominal_v))?;
    let open = |u: &&mut Use| kind(u.role) == Some(Kind::Voltage) && !u.unit_said;
    for other in roles.uses.iter_mut().filter(open) {
        let whole = stats(other, facts).is_some_and(|s| !s.fraction);
        if whole && found.0 != 1.0 {
            scale(other, found.0, found.1);
        }
    }
    if let Some(load) = roles
        .load_volts
        .as_mut()
        .filter(|u| !u.unit_said && found.0 != 1.0)
    {
        scale(load, found.0, found.1);
    }
    Some(found)
}

fn is_bank_volts(low: f64, high: f64, nominal_v: Option<f64>) -> bool {
    let fits = |n: f64| low >= BANK_12V.0 * n && high <= BANK_12V.1 * n;
    match nominal_v {
        Some(nominal) => fits(nominal / 12.0),
        None => BANKS.into_iter().any(fits),
    }
}

/// Volts of four figures are millivolts, fractions or not.
fn huge_volts(found: &mut Use, facts: &Facts) {
    let huge = stats(found, facts).is_some_and(|s| most(s) >= 1_000.0);
    if huge && !found.unit_said {
        scale(found, 1e-3, "mV");
    }
}

/// No bank or air is this warm at its coldest, degrees Celsius.
const WARM_C: f64 = 45.0;
/// Nor this warm in Fahrenheit at its warmest: 54 C.
const WARM_F: f64 = 130.0;

/// A temperature without a unit that is never low counts degrees Fahrenheit.
fn fahrenheit(found: &mut Use, facts: &Facts) {
    let Some((low, high)) = stats(found, facts).and_then(|s| s.min.zip(s.max)) else {
        return;
    };
    if !found.unit_said && low > WARM_C && high < WARM_F {
        scale(found, 5.0 / 9.0, "F");
        found.offset = -160.0 / 9.0;
    }
}

/// Times a bank's highest power stands above that of the array before the array's can count kilowatts.
const APART: f64 = 100.0;

/// A power without a unit in small fractions beside a bank of far more watts counts kilowatts.
fn kilowatts(roles: &mut Roles, facts: &Facts) {
    let highest = |role: Role| {
        let found = roles.uses.iter().find(|u| u.role == role)?;
        Some(most(stats(found, facts)?) * found.parts[0].1.abs())
    };
    let volts = highest(Role::BatteryVoltage).or_else(|| highest(Role::ChargeVoltage));
    let amps = highest(Role::ChargeCurrent).or_else(|| highest(Role::BatteryCurrent));
    let Some(watts) = volts.zip(amps).map(|(volts, amps)| volts * amps) else {
        return;
    };
    let mut asked = Vec::new();
    for found in &mut roles.uses {
        let open = matches!(
            found.role,
            Role::ArrayPower | Role::ChargePower | Role::LoadPower
        ) && !found.unit_said;
        let Some(seen) = stats(found, facts).filter(|s| open && s.fraction) else {
            continue;
        };
        let shown = most(seen);
        if shown > 0.0 && shown < 10.0 && shown * APART < watts {
            let title = facts.layout.titles[found.parts[0].0].clone();
            asked.push(Question {
                text: format!(
                    "whether '{title}', {shown} at most, counts kilowatts or watts cannot be told: no unit is named; read as kilowatts"
                ),
                settle: format!(
                    "{} = {{ column = \"{title}\", unit = \"kW\" }}   # in [log.columns]; unit = \"W\" for watts",
                    found.role.name()
                ),
                blocking: true,
            });
            scale(found, 1e3, "kW");
        }
    }
    roles.questions.extend(asked);
}

/// A state of charge above 100 in whole numbers counts tenths of a percent.
fn soc(roles: &mut Roles, facts: &Facts) {
    let found = roles.uses.iter_mut().find(|u| u.role == Role::Soc);
    let Some(found) = found.filter(|u| is_open(u, facts)) else {
        return;
    };
    let high = stats(found, facts).and_then(|s| s.max).unwrap_or(0.0);
    if (110.0..=1_000.0).contains(&high) {
        scale(found, 0.1, "0.1 %");
    }
}

/// Currents without a unit; a question where the likely one is not the only one.
fn amps(found: &mut Use, part: Option<(f64, &str)>, facts: &Facts) -> Option<Question> {
    if !is_open(found, facts) {
        return None;
    }
    let (column, _) = found.parts[0];
    let most = stats(found, facts).map(most)?;
    let title = facts.layout.titles.get(column)?.clone();
    let (factor, unit, sure) = match part {
        Some((_, "mV")) => (1e-3, "mA", most > MOST_A / 3.0),
        Some((_, "0.01 V")) => (1e-2, "0.01 A", false),
        Some((_, "0.1 V")) => (1e-1, "0.1 A", false),
        _ if most >= SURELY_MILLI => (1e-3, "mA", true),
        _ if most > MOST_A => (1e-3, "mA", false),
        _ => return None,
    };
    if most == 0.0 {
        return None;
    }
    scale(found, factor, unit);
    (!sure).then(|| Question {
        text: format!("whether '{title}' counts amperes or steps of {} A cannot be told: no unit is named", factor),
        settle: format!(
            "{} = {{ column = \"{title}\", scale = {factor} }}   # in [log.columns]; scale = 1 for amperes",
            found.role.name()
        ),
        blocking: true,
    })
}

fn scale(found: &mut Use, factor: f64, unit: &str) {
    for part in &mut found.parts {
        part.1 = part.1.signum() * factor;
    }
    unit.clone_into(&mut found.unit);
    found.how = "range";
}
