//! A controller whose arrays gave less than any healthy ones, beside the others' through the whole log: haze is
//! over all of them, so that it explains no difference.

use crate::account::episode::{Of, Reduction};
use crate::account::instrument::GAIN;
use crate::account::planes::left_of;
use crate::design::Design;
use crate::expect::clear::{ALLOWANCE_RANGE, EDGE, mean_allowance};
use crate::expect::regime::beside_held;
use crate::expect::{Branch, Expectation, Regime};
use crate::quantity::Interval;
use crate::stats::quantile::{median, quantile};

/// The others must show this share of a clear sky.
const BRIGHT: f64 = 0.6;
/// Under a clear sky each of them must offer this share of its brightest: where the sun stands along an array its
/// model is worth little.
const HIGH: f64 = 0.5;
/// Moments that make a day's level: one hour.
const DAY: usize = 12;
/// Days it must show on,
const LEAST_DAYS: usize = 3;
/// and hours on all of them.
const LEAST_H: f64 = 5.0;
/// The least that healthy arrays give beside healthy others: the low end of what they give of their label over
/// the high end.
const LEAST: f64 = ALLOWANCE_RANGE.0 / ALLOWANCE_RANGE.1;

/// Arrays of one controller that are weak.
#[derive(Debug, Clone, PartialEq)]
pub struct Weak {
    /// The controller, by its place in the design.
    pub controller: usize,
    /// What they gave over what the others' level would have brought them, share.
    pub beside: Interval,
    /// What they gave of the low end of what healthy arrays give, share.
    pub of_healthy: Interval,
    /// What they have of the clear-sky offer by moment, share.
    share: Vec<f32>,
}

impl Weak {
    /// What is left of the whole array's output in a moment, share.
    pub fn left_at(&self, moment: usize) -> Interval {
        let share = f64::from(self.share[moment]);
        let left = |own: f64| 1.0 - share * (1.0 - own);
        let of_own = &self.of_healthy;
        Interval::new(
            left_of(left(of_own.value)).value,
            left_of(left(of_own.low)).value,
            left_of(left(of_own.high)).value,
        )
    }
}

/// The spell of a weak controller's arrays, over the whole log; none where no one is weak beyond doubt.
pub fn find(design: &Design, expected: &Expectation) -> Option<Reduction> {
    let branches = &expected.branches;
    if branches.len() < 2 || !expected.clear.calibrated {
        return None;
    }
    let levels = (0..branches.len()).filter_map(|one| Some((one, level(expected, one)?)));
    let (one, level) = levels.min_by(|a, b| a.1.beside.value.total_cmp(&b.1.beside.value))?;
    if level.beside.high >= LEAST {
        return None;
    }
    let of_healthy = of_healthy(design, expected, &level);
    if of_healthy.high >= 1.0 {
        return None;
    }
    let share = branches[one].share.clone();
    let weak = Weak {
        controller: branches[one].controller,
        beside: level.beside,
        of_healthy,
        share,
    };
    let whole = |own: f64| 1.0 - level.share * (1.0 - own);
    let left = &weak.of_healthy;
    Some(Reduction {
        last: expected.grid.dates.len().saturating_sub(1),
        shown_on: level.days,
        left: Interval::new(whole(left.value), whole(left.low), whole(left.high)),
        clear_h: level.hours,
        ..Reduction::opened(0, 0, Of::Weak(weak))
    })
}

/// How strong a controller's arrays are beside the others.
struct Level {
    beside: Interval,
    days: Vec<usize>,
    hours: f64,
    /// What they have of the offer in the moments looked at.
    share: f64,
}

/// The level of one, in moments in which no limit of any controller could have cut even a cloud's bright edge.
fn level(expected: &Expectation, one: usize) -> Option<Level> {
    let branches = &expected.branches;
    let clear_w = |k: usize, m: usize| branches[k].clear_w(&expected.offers, m);
    let moments = 0..expected.grid.moments;
    let brightest = |k: usize| moments.clone().map(|m| clear_w(k, m)).fold(0.0, f64::max);
    let least: Vec<f64> = (0..branches.len()).map(|k| HIGH * brightest(k)).collect();
    let reach = expected.signals.reach();
    let shows = |k: usize, m: usize| {
        let branch: &Branch = &branches[k];
        branch.regimes[m] == Regime::Following
            && !beside_held(&branch.regimes, m, reach)
            && branch.gave.coverage(m) > 0.8
            && clear_w(k, m) > least[k]
            && branch
                .limit_w(m)
                .is_none_or(|limit| EDGE * clear_w(k, m) < limit)
    };
    let ratio = |m: usize| -> Option<(f64, f64)> {
        if !shows(one, m) || expected.shade.over(m).is_some() {
            return None;
        }
        let others = (0..branches.len()).filter(|k| *k != one && shows(*k, m));
        let (gave, clear) = others.fold((0.0, 0.0), |sum, k| {
            (
                sum.0 + branches[k].gave.mean(m).unwrap_or(0.0),
                sum.1 + clear_w(k, m),
            )
        });
        let own = branches[one].gave.mean(m)? / clear_w(one, m);
        let share = f64::from(branches[one].share[m]);
        (gave > BRIGHT * clear).then(|| (own / (gave / clear), share))
    };
    let (mut days, mut levels, mut shares, mut count) =
        (Vec::new(), Vec::new(), Vec::new(), 0usize);
    for day in 0..expected.grid.dates.len() {
        let seen: Vec<(f64, f64)> = expected.grid.day(day).filter_map(ratio).collect();
        if seen.len() < DAY {
            continue;
        }
        count += seen.len();
        days.push(day);
        shares.extend(seen.iter().map(|s| s.1));
        levels.extend(median(&seen.iter().map(|s| s.0).collect::<Vec<_>>()));
    }
    let hours = count as f64 * expected.grid.step_h();
    if days.len() < LEAST_DAYS || hours < LEAST_H {
        return None;
    }
    let middle = median(&levels)?;
    // Two meters are wrong by themselves, on every day alike.
    let meters = std::f64::consts::SQRT_2 * GAIN;
    let off = |end: f64| (quantile(&levels, end).unwrap_or(middle) - middle).hypot(meters * middle);
    Some(Level {
        beside: Interval::new(middle, middle - off(0.05), middle + off(0.95)),
        days,
        hours,
        share: median(&shares)?,
    })
}

/// What they gave of the low end of a healthy array's, the others being healthy and the air as usual.
fn of_healthy(design: &Design, expected: &Expectation, level: &Level) -> Interval {
    let allowance = mean_allowance(design);
    let range = (ALLOWANCE_RANGE.0 / allowance, ALLOWANCE_RANGE.1 / allowance);
    let reference = &expected.clear.reference;
    let others = |scale: f64| scale / (1.0 - level.share * (1.0 - level.beside.value));
    let (off, air) = (
        reference.half_width() / reference.value.max(0.01),
        expected.usual_air,
    );
    let within = |scale: f64| others(scale).clamp(range.0, range.1) / range.0;
    let (low, high) = (
        within(reference.value * (1.0 - off.hypot(air.above))),
        within(reference.value * (1.0 + off.hypot(air.below))),
    );
    Interval::new(
        level.beside.value * within(reference.value),
        level.beside.low * low,
        level.beside.high * high,
    )
}
