//! `ampledger reconcile --mended DATE`: the trip before a mend against the trip after it.

use std::path::Path;

use chrono::NaiveDate;

use super::Failure;
use crate::compare::compare;
use crate::reconcile::{Request, reconcile};
use crate::report::comparison::Comparison;
use crate::report::model::Report;

/// Compares the days before a date with those from it on. Both sides are reconciled on their own, so that
/// neither borrows from the other.
///
/// # Errors
/// A side without a reading; logs from standard input, which can be read once only.
pub(super) fn compared(asked: &Request, mended: NaiveDate) -> Result<Comparison, Failure> {
    if asked.logs.iter().any(|log| log == Path::new("-")) {
        return Err(Failure::usage(
            "--mended reads the logs again for each side, which standard input gives once: name files",
        ));
    }
    let before = side(asked, asked.from, mended.pred_opt(), mended)?;
    let after = side(asked, Some(mended), asked.to, mended)?;
    compare(&before, &after).map_err(|e| Failure::new(e.to_string()))
}

fn side(
    asked: &Request,
    from: Option<NaiveDate>,
    to: Option<NaiveDate>,
    mended: NaiveDate,
) -> Result<Report, Failure> {
    let side = Request {
        from,
        to,
        ..asked.clone()
    };
    reconcile(&side).map_err(|e| {
        Failure::new(format!(
            "--mended {mended}: {e}; give a date with logged days before it and from it on"
        ))
    })
}
