//! What was built at the time of two reports: figures by which they may be of two systems.

use crate::report::format::{decimals, with_unit};
use crate::report::model::SystemSummary;

/// Sizes this much apart are two sizes, share.
const APART: f64 = 0.01;

/// What differs between the systems of two reports, a sentence each.
pub(super) fn differences(before: &SystemSummary, after: &SystemSummary) -> Vec<String> {
    let sizes = [
        (
            "label power of the panels",
            "W",
            before.array_w,
            after.array_w,
        ),
        (
            "capacity of the bank",
            "Ah",
            before.capacity_ah,
            after.capacity_ah,
        ),
    ];
    sizes
        .into_iter()
        .filter(|(_, _, was, now)| (was - now).abs() > APART * was.abs().max(now.abs()))
        .map(|(what, unit, was, now)| {
            let size = |value| with_unit(&decimals(value, 0), unit);
            format!("the {what} is {} before and {} after", size(was), size(now))
        })
        .collect()
}
