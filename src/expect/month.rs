//! A whole month at a place: its dates, and how far its sun may stand from a plan.

use chrono::{Days, NaiveDate};

/// What a dull day gives of a clear one (trade reference 9: overcast 0.1 to 0.4).
pub const DULL: f64 = 0.3;
/// A month's sun differs from its plan by this much either way, 90 %.
pub const MONTH_SPREAD: f64 = 0.25;
/// Share of a month's days that may be clear where nothing is known of the place, 90 %; the others
/// are dull.
pub const CLEAR_DAYS: (f64, f64) = (0.1, 0.8);

/// First and last day of a month (1 to 12).
pub fn dates_of(year: i32, month: u32) -> (NaiveDate, NaiveDate) {
    let first = NaiveDate::from_ymd_opt(year, month, 1).unwrap_or_default();
    let next = if month == 12 {
        NaiveDate::from_ymd_opt(year + 1, 1, 1)
    } else {
        NaiveDate::from_ymd_opt(year, month + 1, 1)
    };
    let last = next
        .and_then(|d| d.checked_sub_days(Days::new(1)))
        .unwrap_or(first);
    (first, last)
}

/// The day that stands for a month which begins at `first`: its fifteenth.
pub fn middle_of(first: NaiveDate) -> NaiveDate {
    first.checked_add_days(Days::new(14)).unwrap_or(first)
}
