//! Whether energy that was held back is a loss: not where the bank got full, but where it was kept out.

use super::format;
use super::model::Report;

/// A part smaller than this share of what was held back is not told on its own.
const SMALL: f64 = 0.02;

/// What was held back, parted by whether the bank got full on that day; `None` where next to nothing was.
pub(super) fn told(report: &Report) -> Option<String> {
    let sum = |full: Option<bool>| -> f64 {
        let days = report.days.iter().filter(|d| d.reached_full == full);
        days.filter_map(|d| d.held_back_wh).sum()
    };
    let parts = [sum(Some(true)), sum(Some(false)), sum(None)];
    let all: f64 = parts.iter().sum();
    if !all.is_finite() || all <= 0.5 {
        return None;
    }
    let counts = |wh: f64| wh > SMALL * all;
    let of_it = |wh: f64| {
        if wh >= (1.0 - SMALL) * all {
            "all of it".to_string()
        } else {
            format::energy_about(wh)
        }
    };
    let [full, kept, unsure] = parts;
    let mut parts = Vec::new();
    if counts(full) {
        parts.push(format!(
            "{} on days on which the bank got full, which is no loss",
            of_it(full)
        ));
    }
    if counts(kept) {
        parts.push(format!(
            "{} on days on which the bank did not get full: a voltage, a time too short or a protection kept it out, and what the bank still lacked of it is lost",
            of_it(kept)
        ));
    }
    if counts(unsure) {
        parts.push(format!(
            "of {} this log cannot tell whether the bank was full",
            of_it(unsure)
        ));
    }
    Some(parts.join("; ") + ".")
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::report::demo;

    fn with(days: &[(Option<bool>, f64)]) -> Report {
        let mut report = demo::healthy();
        for day in &mut report.days {
            day.held_back_wh = Some(0.0);
        }
        for (day, (full, wh)) in report.days.iter_mut().zip(days) {
            (day.reached_full, day.held_back_wh) = (*full, Some(*wh));
        }
        report
    }

    #[test]
    fn a_full_bank_is_no_loss_and_an_unfilled_one_is() {
        let plain =
            |days: &[(Option<bool>, f64)]| told(&with(days)).map(|text| format::plain(&text));
        let all_full = plain(&[(Some(true), 300.0)]).unwrap();
        assert!(all_full.starts_with("all of it on days on which the bank got full"));
        assert!(all_full.contains("no loss") && !all_full.contains("lost"));
        let mixed = plain(&[
            (Some(true), 300.0),
            (Some(false), 200.0),
            (Some(false), 50.0),
        ]);
        let mixed = mixed.unwrap();
        assert!(mixed.starts_with("300 Wh on days"), "{mixed}");
        assert!(
            mixed.contains("250 Wh on days on which the bank did not"),
            "{mixed}"
        );
        let unsure = plain(&[(None, 300.0)]).unwrap();
        assert!(unsure.contains("cannot tell"), "{unsure}");
        assert_eq!(plain(&[]), None);
    }
}
