//! The value a row has for a role.

use super::uses::{Use, plausible, stage_code};
use super::{number, stats};

/// What loggers write for "no reading" in any column.
pub(crate) const MISSING: f64 = -9999.0;

/// The value in base units from a row's cells; NaN (inside the reader only) where the row has none.
pub(crate) fn of<'r>(
    found: &Use,
    cell_of: impl Fn(usize) -> &'r [u8],
    decimal: u8,
    missing: &[String],
) -> f64 {
    if found.is_worded() {
        let code = found
            .parts
            .first()
            .and_then(|p| stage_code(found, cell_of(p.0)));
        return code.unwrap_or(f64::NAN);
    }
    let mut sum = found.offset;
    for (column, factor) in &found.parts {
        let cell = cell_of(*column);
        let Some((value, unit)) = number::parse(cell, decimal) else {
            return f64::NAN;
        };
        if value == MISSING
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
