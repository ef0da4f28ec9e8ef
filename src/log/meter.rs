//! Energy and charge as logged: what the folded rows of a device add up to, by file and day.

use chrono::NaiveDate;

use super::bins::DaySums;
use super::survey::Survey;
use crate::mapping::Role;
use crate::tally::Measured;
use crate::timeline::Series;

/// Whether a role is metered in Wh or in Ah.
fn unit(role: Role) -> Option<bool> {
    use Role::*;
    match role {
        BatteryPower | ArrayPower | ChargePower | LoadPower => Some(true),
        BatteryCurrent | ArrayCurrent | ChargeCurrent | LoadCurrent | OtherCurrent => Some(false),
        _ => None,
    }
}

/// Adds what a role comes to, under the name of what was logged of it.
pub(super) fn meter(
    role: Role,
    named: Role,
    days: &DaySums,
    files: &[&Survey],
    metered: &mut Vec<Measured>,
) {
    let Some(energy) = unit(role) else {
        return;
    };
    let row = |file: u32, date, sums: [f64; 3]| Measured {
        file: files[file as usize].source.name.clone(),
        role: named.name().to_owned(),
        date,
        wh_in: energy.then_some(sums[0]),
        wh_out: energy.then_some(sums[1]),
        ah_in: (!energy).then_some(sums[0]),
        ah_out: (!energy).then_some(sums[1]),
        covered_h: sums[2] / 3600.0,
    };
    for file in 0..files.len() as u32 {
        let mut total = [0.0; 3];
        for ((_, date), sums) in days.range((file, NaiveDate::MIN)..=(file, NaiveDate::MAX)) {
            metered.push(row(file, Some(date.to_string()), *sums));
            for (sum, new) in total.iter_mut().zip(sums) {
                *sum += new;
            }
        }
        metered.push(row(file, None, total));
    }
}

/// Says so where voltage and current are both logged and never in the same row.
pub(super) fn never_together(made: &[(Role, Series, DaySums)]) -> Option<String> {
    let covered = |role: Role| Some(made.iter().find(|m| m.0 == role)?.1.covered_h());
    let apart = covered(Role::BatteryVoltage)? > 0.0
        && covered(Role::BatteryCurrent)? > 0.0
        && covered(Role::BatteryPower)? == 0.0;
    apart.then(|| "voltage and current never stand in the same row, so no power can be summed; where the log is written only on change, its [[log]] entry can say how long a value stays good, for instance hold = \"10 min\"".to_owned())
}
