//! The value a row has for a role.

use super::rows::Rows;
use super::uses::{Use, plausible, stage_code};
use super::{number, stats};
use crate::mapping::Role;

/// The value in base units; NaN (inside the reader only) where the row has none.
pub(crate) fn of(found: &Use, rows: &Rows, decimal: u8, missing: &[String]) -> f64 {
    if found.role == Role::Stage {
        return stage_code(found, rows.cell(found.parts[0].0)).unwrap_or(f64::NAN);
    }
    let mut sum = found.offset;
    for (column, factor) in &found.parts {
        let cell = rows.cell(*column);
        let Some((value, unit)) = number::parse(cell, decimal) else {
            return f64::NAN;
        };
        if value == -9999.0
            || found.sentinels.contains(&value)
            || (!missing.is_empty() && stats::is_listed(cell, missing))
        {
            return f64::NAN;
        }
        sum += match unit.filter(|_| found.cell_units) {
            Some(unit) => value * unit.factor * factor.signum() + unit.offset,
            None => value * factor,
        };
    }
    let (low, high) = plausible(found.role);
    if sum >= low && sum <= high {
        sum
    } else {
        f64::NAN
    }
}
