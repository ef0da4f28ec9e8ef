//! The harvest to expect month by month, and how far it may stand from that.

use crate::design::{Design, Place};
use crate::expect::clear::ALLOWANCE_RANGE;
use crate::expect::month::{CLEAR_DAYS, DULL, MONTH_SPREAD, dates_of, middle_of};
use crate::expect::offer::{UNPLANNED, UNPLANNED_SHARE, month_mean_clear, planned_day};
use crate::quantity::Interval;
use crate::report::planning::{Covers, Month, Source};

/// Any year without a leap day will do: the sun stands the same to a tenth of a per cent.
const YEAR: i32 = 2025;

/// Beyond a month's mean clear day by this much a plan is more than any sky gives: the cleanest air gives 6 % more
/// (turbidity 2 against 3), and the glass takes 4 % that sun hours do not count.
const CLEAREST: f64 = 0.10;

/// January to December at the base place; `need_wh` is the harvest the loads take, Wh a day.
pub(super) fn months(design: &Design, need_wh: Option<f64>) -> Vec<Month> {
    let at_base = at_base(design);
    let calendar = at_base.place.calendar();
    let (planned_band, clear_band) = (band(design, planned_sky()), band(design, unknown_sky()));
    (1..=12)
        .map(|month| {
            let day = middle_of(dates_of(YEAR, month).0);
            let planned_wh = planned_day(&at_base, &calendar, day);
            let clear_wh = month_mean_clear(&at_base, &calendar, day);
            // One figure for the whole year can be more than a winter's clear sky.
            let believed = is_planned(design) && planned_wh <= (1.0 + CLEAREST) * clear_wh;
            let (harvest_wh, band, from) = if believed {
                (planned_wh, planned_band, Source::Plan)
            } else {
                (UNPLANNED_SHARE * clear_wh, clear_band, Source::ClearSky)
            };
            let (low, high) = (harvest_wh * band.low, harvest_wh * band.high);
            Month {
                month,
                harvest_wh,
                low,
                high,
                from,
                covers: need_wh.map(|need| covers(need, low, high)),
            }
        })
        .collect()
}

/// How harvest and band come about.
pub(super) fn why(design: &Design, months: &[Month]) -> String {
    let mut text = "Modelled. ".to_owned();
    let has = |from: Source| months.iter().any(|m| m.from == from);
    if has(Source::Plan) {
        let stated = if design.plan.harvest_wh.is_some() {
            "plan.harvest as the design states it".to_owned()
        } else {
            "label power x plan.sun_hours x the design factor (allowance, heat at the month's air temperature, the array's cable, conversion)".to_owned()
        };
        text.push_str(&format!(
            "By plan: {stated}; {} of it hold 90 %, since a month's sun differs from its plan by {:.0} %. ",
            shares(&band(design, planned_sky())),
            100.0 * MONTH_SPREAD
        ));
    }
    if has(Source::ClearSky) {
        let because = if is_planned(design) {
            "where the plan is more than a clear sky gives"
        } else {
            "for lack of plan.sun_hours"
        };
        text.push_str(&format!(
            "By clear sky, {because}: {UNPLANNED} at the base place, allowance, heat, the array's cable and conversion taken off; {} of it hold 90 %, since {:.0} to {:.0} % of the days may be clear and a dull one gives {DULL} of a clear one. ",
            shares(&band(design, unknown_sky())),
            100.0 * CLEAR_DAYS.0,
            100.0 * CLEAR_DAYS.1
        ));
    }
    text.push_str(&format!(
        "A healthy array gives {:.0} to {:.0} % of its label: that is in the bands. Shade is not, nor a controller's limit, nor a bank that is full.",
        100.0 * ALLOWANCE_RANGE.0,
        100.0 * ALLOWANCE_RANGE.1
    ));
    text
}

/// Whether some month's plan is more than its clear sky gives.
pub(super) fn is_over_clear_sky(design: &Design, months: &[Month]) -> bool {
    is_planned(design) && months.iter().any(|m| m.from == Source::ClearSky)
}

fn shares(band: &Interval) -> String {
    format!("{:.0} to {:.0} %", 100.0 * band.low, 100.0 * band.high)
}

/// A system that moves is reckoned where its design starts: no date says when it will be where.
fn at_base(design: &Design) -> Design {
    Design {
        place: Place {
            base: design.place.base.clone(),
            legs: Vec::new(),
        },
        ..design.clone()
    }
}

fn is_planned(design: &Design) -> bool {
    design.plan.harvest_wh.is_some() || design.plan.sun_hours.is_some()
}

/// How far a month's sky stands from the owner's plan, as shares of it.
fn planned_sky() -> Interval {
    Interval::new(1.0, 1.0 - MONTH_SPREAD, 1.0 + MONTH_SPREAD)
}

/// How far a month's sky stands from the share of a clear one that is planned with for want of better.
fn unknown_sky() -> Interval {
    let share = |clear: f64| (DULL + (1.0 - DULL) * clear) / UNPLANNED_SHARE;
    Interval::new(1.0, share(CLEAR_DAYS.0), share(CLEAR_DAYS.1))
}

/// The band as shares of the figure: sky and array differ independently of each other.
fn band(design: &Design, sky: Interval) -> Interval {
    let stated = array_allowance(design);
    let array = Interval::new(1.0, ALLOWANCE_RANGE.0 / stated, ALLOWANCE_RANGE.1 / stated);
    let low = (1.0 - sky.low).hypot(1.0 - array.low);
    let high = (sky.high - 1.0).hypot(array.high - 1.0);
    Interval::new(1.0, (1.0 - low).max(0.0), 1.0 + high)
}

/// Mean allowance, weighed by label power.
fn array_allowance(design: &Design) -> f64 {
    let power_w = design.array_w();
    if power_w <= 0.0 {
        return 1.0;
    }
    let kept: f64 = design
        .arrays
        .iter()
        .map(|a| a.power_w() * a.allowance)
        .sum();
    kept / power_w
}

fn covers(need: f64, low: f64, high: f64) -> Covers {
    if low >= need {
        Covers::Yes
    } else if high >= need {
        Covers::Perhaps
    } else {
        Covers::No
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_band_covers_perhaps_what_it_holds() {
        assert_eq!(covers(100.0, 100.0, 200.0), Covers::Yes);
        assert_eq!(covers(150.0, 100.0, 200.0), Covers::Perhaps);
        assert_eq!(covers(201.0, 100.0, 200.0), Covers::No);
    }
}
