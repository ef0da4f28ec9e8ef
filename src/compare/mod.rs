//! Two reports of one system compared: did it get better after something was mended?
//!
//! Like with like only: the array by clear days on which the bank took everything, each day against its
//! own clear sky, so that the season falls out.

mod figures;
mod findings;
mod judge;
mod systems;

use crate::report::comparison::{ComparedRow, Comparison, SCHEMA, Side};
use crate::report::model::Report;

/// Why two reports cannot be compared.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{0}")]
pub struct NotComparable(pub String);

/// Compares two reports.
///
/// # Errors
/// Reports of different systems.
pub fn compare(before: &Report, after: &Report) -> Result<Comparison, NotComparable> {
    same_system(before, after)?;
    Ok(Comparison {
        schema: SCHEMA.to_owned(),
        system: after.system.name.clone(),
        before: side(before),
        after: side(after),
        differ: systems::differences(&before.system, &after.system),
        rows: rows(before, after),
        findings: findings::compared(before, after),
    })
}

fn side(report: &Report) -> Side {
    Side {
        run: report.run.clone(),
        from: report.period.from.clone(),
        to: report.period.to.clone(),
    }
}

fn same_system(before: &Report, after: &Report) -> Result<(), NotComparable> {
    let (a, b) = (&before.system, &after.system);
    let differ = |what: &str, first: &str, second: &str| {
        Err(NotComparable(format!(
            "these are reports of two systems: {what} is {first} in the first and {second} in the second; compare reports of one system"
        )))
    };
    if a.name != b.name {
        return differ("the name", &a.name, &b.name);
    }
    if a.chemistry != b.chemistry {
        return differ("the battery's chemistry", &a.chemistry, &b.chemistry);
    }
    if (a.nominal_v - b.nominal_v).abs() > 0.5 {
        let volts = |v: f64| format!("{v:.0} V");
        return differ(
            "the nominal voltage",
            &volts(a.nominal_v),
            &volts(b.nominal_v),
        );
    }
    Ok(())
}

fn rows(before: &Report, after: &Report) -> Vec<ComparedRow> {
    vec![
        judge::means(
            &judge::ARRAY,
            &figures::clear_ratios(before),
            &figures::clear_ratios(after),
        ),
        judge::wiring(before, after),
        judge::full_charges(before, after),
        judge::means(
            &judge::NIGHT_DRAW,
            &figures::night_draws(before),
            &figures::night_draws(after),
        ),
    ]
}
