//! Better, same, worse or unclear: by the 90 % interval of a difference.

use super::figures::full_days;
use crate::report::comparison::ComparedRow;
use crate::report::model::{Interval, Report};
use crate::stats::quantile::mean;
use crate::stats::student::t95;

/// Fewest days on either side.
const LEAST: usize = 3;
/// Full charges: a difference of one day in seven counts.
const FULL_WORTH: f64 = 1.0 / 7.0;
/// Resistance: a tenth of what it was counts.
const OHM_WORTH: f64 = 0.1;
/// From a normal's standard deviation to the 90 % half-width.
const TO_90: f64 = 1.645;

/// A figure compared by the means of days.
pub(super) struct Figure {
    name: &'static str,
    title: &'static str,
    unit: &'static str,
    /// Whether more is better.
    more_is_better: bool,
    /// Smallest difference that counts, in its unit; for a ratio a share.
    worth: f64,
    days: &'static str,
}

/// Harvest against a clear sky (a clear day's haze alone moves it by 5 to 10 %, its mean by less).
pub(super) const ARRAY: Figure = Figure {
    name: "array",
    title: "harvest of clear days against a clear sky",
    unit: "",
    more_is_better: true,
    worth: 0.05,
    days: "clear days with an hour of high sun not held back",
};

/// What is drawn at night.
pub(super) const NIGHT_DRAW: Figure = Figure {
    name: "night_draw",
    title: "mean draw at night",
    unit: "W",
    more_is_better: false,
    worth: 5.0,
    days: "nights",
};

/// Compares two samples of days by their means.
pub(super) fn means(figure: &Figure, before: &[f64], after: &[f64]) -> ComparedRow {
    let row = |change: &str, difference, note| ComparedRow {
        name: figure.name.to_owned(),
        title: figure.title.to_owned(),
        unit: figure.unit.to_owned(),
        before: around_mean(before),
        after: around_mean(after),
        difference,
        change: change.to_owned(),
        note,
    };
    let counted = format!(
        "{}: {} before, {} after",
        figure.days,
        before.len(),
        after.len()
    );
    if before.len() < LEAST || after.len() < LEAST {
        let note = format!(
            "{counted}: at least {LEAST} on either side are needed{}",
            if figure.name == ARRAY.name {
                "; days that begin with a low bank give them"
            } else {
                ""
            }
        );
        return row("unclear", None, note);
    }
    let difference = welch(before, after);
    let gain = if figure.more_is_better {
        difference
    } else {
        difference.scale(-1.0)
    };
    row(judged(&gain, figure.worth), Some(difference), counted)
}

/// By the interval of a gain: more than nothing, within what does not matter, or neither.
fn judged(gain: &Interval, worth: f64) -> &'static str {
    if gain.low > 0.0 && gain.value >= worth {
        "better"
    } else if gain.high < 0.0 && gain.value <= -worth {
        "worse"
    } else if gain.low > -worth && gain.high < worth {
        "same"
    } else {
        "unclear"
    }
}

fn spread(values: &[f64]) -> (f64, f64, f64) {
    let n = values.len() as f64;
    let middle = mean(values).unwrap_or(0.0);
    let sum: f64 = values.iter().map(|v| (v - middle).powi(2)).sum();
    (middle, sum / (n - 1.0).max(1.0) / n, n)
}

fn around_mean(values: &[f64]) -> Option<Interval> {
    let (middle, error, n) = spread(values);
    let half = t95((n - 1.0).max(1.0)) * error.sqrt();
    (!values.is_empty()).then(|| Interval::new(middle, middle - half, middle + half))
}

/// Difference of two means with unequal scatter (Welch), 90 %.
fn welch(before: &[f64], after: &[f64]) -> Interval {
    let ((m0, e0, n0), (m1, e1, n1)) = (spread(before), spread(after));
    let error = e0 + e1;
    let parts = e0 * e0 / (n0 - 1.0).max(1.0) + e1 * e1 / (n1 - 1.0).max(1.0);
    let degrees = if parts > 0.0 {
        error * error / parts
    } else {
        1.0
    };
    let half = t95(degrees) * error.sqrt();
    let value = m1 - m0;
    Interval::new(value, value - half, value + half)
}

/// The run from controller to bank, by its measured resistance.
pub(super) fn wiring(before: &Report, after: &Report) -> ComparedRow {
    let ohm = |r: &Report| r.series.drop.as_ref().and_then(|d| d.resistance_mohm);
    let (was, now) = (ohm(before), ohm(after));
    let (difference, change, note) = match (was, now) {
        (Some(was), Some(now)) => {
            // Two measurements of their own: errors add as squares.
            let value = now.value - was.value;
            let low = value - (now.value - now.low).hypot(was.high - was.value);
            let high = value + (now.high - now.value).hypot(was.value - was.low);
            let difference = Interval::new(value, low, high);
            let change = judged(&difference.scale(-1.0), OHM_WORTH * was.value);
            (Some(difference), change, "measured in both logs".to_owned())
        }
        _ => (
            None,
            "unclear",
            format!(
                "the {} log cannot measure the run: it takes volts at both ends and the controller's amperes",
                if was.is_none() { "first" } else { "second" }
            ),
        ),
    };
    ComparedRow {
        name: "wiring".to_owned(),
        title: "resistance from controller to bank".to_owned(),
        unit: "mohm".to_owned(),
        before: was,
        after: now,
        difference,
        change: change.to_owned(),
        note,
    }
}

/// Days with a full charge, by the shares' difference (one added to either outcome on each side, after
/// Agresti and Caffo, so that few days do not promise too much).
pub(super) fn full_charges(before: &Report, after: &Report) -> ComparedRow {
    let (was, now) = (full_days(before), full_days(after));
    let share = |(full, all): (usize, usize)| (full as f64 + 1.0) / (all as f64 + 2.0);
    let error = |of: (usize, usize)| share(of) * (1.0 - share(of)) / (of.1 as f64 + 2.0);
    let told = |of: (usize, usize)| {
        let half = TO_90 * error(of).sqrt();
        let value = of.0 as f64 / of.1.max(1) as f64;
        let clamp = |v: f64| v.clamp(0.0, 1.0);
        (of.1 > 0).then(|| Interval::new(value, clamp(share(of) - half), clamp(share(of) + half)))
    };
    let counted = format!(
        "full on {} of {} days before, on {} of {} after",
        was.0, was.1, now.0, now.1
    );
    let enough = was.1 >= LEAST && now.1 >= LEAST;
    let half = TO_90 * (error(was) + error(now)).sqrt();
    let plain = |of: (usize, usize)| of.0 as f64 / of.1.max(1) as f64;
    let (value, middle) = (plain(now) - plain(was), share(now) - share(was));
    let difference = enough.then(|| {
        let (low, high) = ((middle - half).max(-1.0), (middle + half).min(1.0));
        Interval::new(value, low.min(value), high.max(value))
    });
    ComparedRow {
        name: "full_charges".to_owned(),
        title: "share of days with a full charge".to_owned(),
        unit: String::new(),
        before: told(was),
        after: told(now),
        change: difference
            .as_ref()
            .map_or("unclear", |d| judged(d, FULL_WORTH))
            .to_owned(),
        difference,
        note: if enough {
            counted
        } else {
            format!("{counted}: at least {LEAST} on either side are needed")
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sure_gain_is_better_and_a_noisy_one_unclear() {
        let change = |before: &[f64], after: &[f64]| means(&ARRAY, before, after).change;
        assert_eq!(change(&[0.5, 0.52, 0.48], &[0.9, 0.92, 0.88]), "better");
        assert_eq!(change(&[0.9, 0.92, 0.88], &[0.5, 0.52, 0.48]), "worse");
        assert_eq!(change(&[0.5, 0.9, 0.7], &[0.6, 1.0, 0.7]), "unclear");
        let steady = [0.9, 0.905, 0.895, 0.9];
        assert_eq!(change(&steady, &steady), "same");
        let few = means(&ARRAY, &[0.9], &steady);
        assert_eq!(few.change, "unclear");
        assert!(few.note.contains("at least 3") && few.difference.is_none());
    }

    #[test]
    fn less_at_night_is_better() {
        let row = means(&NIGHT_DRAW, &[40.0, 41.0, 39.0], &[20.0, 21.0, 19.0]);
        assert_eq!(row.change, "better");
        assert!(row.difference.is_some_and(|d| d.value < 0.0));
    }
}
