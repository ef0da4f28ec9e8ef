//! What the ranges of many moments come to, of a day and of a trip: what is wrong in all of them adds up,
//! what is wrong in each by itself partly cancels.

use std::ops::Range;

use crate::account::Attribution;
use crate::account::sky::PERSISTENCE_H;
use crate::account::stretches::Stretches;
use crate::quantity::Interval;

/// Share of the variance of a day's figure that is every day's: the array's scale, the season's haze and what
/// is usual of the trip's skies, against that day's own clouds. With half of it ranges of simulated trips held
/// the truth 97 times in a hundred.
pub const SHARED: f64 = 0.35;
/// The same of what a shadow took, whose sky is measured on both sides of it anew each day.
pub const BESIDE: f64 = 0.10;
/// The same of what a reduced array took: what is left of it is one figure for all its days.
pub const REDUCED: f64 = 0.7;
/// The same of what a controller's limit took about noon, reckoned from hours of lower sun by the same curve of
/// the clear sky on all days.
pub const AT_LIMIT: f64 = 0.5;
/// The same of what gaps hid: each has a sky of its own.
pub const GAPS: f64 = 0.05;
/// The same of what was lost beside a healthy array that only its label tells: the same air on all days.
pub const ON_LABEL: f64 = 1.0;
/// The same where an instrument shows the sky, on a scale of its own.
pub const METERED: f64 = 1.0;

/// Figures that are wrong together or not at all.
pub fn together(parts: &Stretches<Interval>, moments: Range<usize>) -> Interval {
    moments.fold(Interval::exact(0.0), |sum, m| {
        let part = &parts[m];
        Interval::new(
            sum.value + part.value,
            sum.low + part.low,
            sum.high + part.high,
        )
    })
}

/// What the bank did not take: the sky of each moment is reckoned, and after some hours it is another.
pub fn held(parts: &Attribution, moments: Range<usize>, step_h: f64) -> Interval {
    let (mut value, mut below, mut above) =
        (0.0, Drift::of(parts, step_h), Drift::of(parts, step_h));
    for m in moments {
        let part = &parts.held[m];
        value += part.value;
        below.add(part.value - part.low);
        above.add(part.high - part.value);
    }
    Interval::new(value, value - below.reach(), value + above.reach())
}

/// What was offered: wrong throughout by meter and array where it was measured, moment by moment where
/// the bank was full and the sky is reckoned.
pub fn offered(parts: &Attribution, moments: Range<usize>, step_h: f64) -> Interval {
    let (mut value, mut measured) = (0.0, [0.0, 0.0]);
    let (mut below, mut above) = (Drift::of(parts, step_h), Drift::of(parts, step_h));
    for m in moments {
        let part = &parts.offered[m];
        value += part.value;
        let off = [part.value - part.low, part.high - part.value];
        let reckoned = parts.held[m].high > 0.0;
        below.add(if reckoned { off[0] } else { 0.0 });
        above.add(if reckoned { off[1] } else { 0.0 });
        if !reckoned {
            measured[0] += off[0];
            measured[1] += off[1];
        }
    }
    Interval::new(
        value,
        value - below.reach().hypot(measured[0]),
        value + above.reach().hypot(measured[1]),
    )
}

/// The figures of all days. Of what is wrong with a day's figure a part is wrong on every day (the array's
/// scale, the season's haze): `shared`, of its variance. The rest (that day's clouds) is the day's own.
pub fn trip(days: impl Iterator<Item = Interval>, shared: f64) -> Interval {
    let (mut value, mut reach) = (0.0, Reach::default());
    for day in days {
        value += day.value;
        reach.add(day.value - day.low, day.high - day.value);
    }
    let [below, above] = reach.together(shared);
    Interval::new(value, value - below, value + above)
}

/// How far a sum may be off, to one side, of figures whose errors fade into others over
/// [`PERSISTENCE_H`]: the variance of such a sum, term by term.
struct Drift {
    /// What is kept of an error from one moment to the next.
    kept: f64,
    /// Errors so far as far as they are still kept.
    running: f64,
    variance: f64,
}

impl Drift {
    fn of(parts: &Attribution, step_h: f64) -> Self {
        // An instrument's scale is wrong all day, and so is the load that an estimate rests on.
        Self::keeping(match parts.metered || parts.estimated {
            true => 1.0,
            false => (-step_h / PERSISTENCE_H).exp(),
        })
    }

    fn keeping(kept: f64) -> Self {
        Self {
            kept,
            running: 0.0,
            variance: 0.0,
        }
    }

    fn add(&mut self, error: f64) {
        self.running *= self.kept;
        self.variance += error * (error + 2.0 * self.running);
        self.running += error;
    }

    fn reach(&self) -> f64 {
        self.variance.max(0.0).sqrt()
    }
}

/// How far a sum may be off of figures a part of whose errors is common to all. Of what is each figure's
/// own, spreads add up by their squares, and a range that is longer to one side becomes the more even the
/// more of them there are (Cornish and Fisher's first term).
#[derive(Default)]
struct Reach {
    below: f64,
    above: f64,
    /// Sum of the squares of halves of ranges.
    squares: f64,
    /// Sum of the same times how far each middle lies above its figure.
    skewed: f64,
}

impl Reach {
    fn add(&mut self, below: f64, above: f64) {
        self.below += below;
        self.above += above;
        let square = f64::midpoint(below, above).powi(2);
        self.squares += square;
        self.skewed += square * (above - below) / 2.0;
    }

    /// Below and above, where `shared` of the variance is common to all.
    fn together(&self, shared: f64) -> [f64; 2] {
        let half = self.squares.sqrt();
        let off_middle = self.skewed / self.squares.max(1e-12);
        let reach = |all: f64, own: f64| {
            let own = own.clamp(0.0, all);
            (shared * all.powi(2) + (1.0 - shared) * own.powi(2)).sqrt()
        };
        [
            reach(self.below, half - off_middle),
            reach(self.above, half + off_middle),
        ]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_that_err_by_themselves_partly_make_up_for_each_other() {
        let reach = |days: usize, shared: f64| {
            let all = trip((0..days).map(|_| Interval::new(9.0, 6.0, 10.0)), shared);
            assert!((all.value - 9.0 * days as f64).abs() < 1e-9);
            [all.value - all.low, all.high - all.value]
        };
        let near = |got: [f64; 2], wanted: [f64; 2]| {
            let off = got.iter().zip(wanted).map(|(g, w)| (g - w).abs());
            assert!(off.sum::<f64>() < 1e-9, "{got:?} for {wanted:?}");
        };
        near(reach(1, SHARED), [3.0, 1.0]);
        // Four times half a range of 4, about a middle that lies 1 below the figure, as each day's does.
        near(reach(16, 0.0), [9.0, 7.0]);
        near(reach(16, METERED), [48.0, 16.0]);
        assert!((9.5..47.0).contains(&reach(16, SHARED)[0]));
    }

    #[test]
    fn a_sky_reckoned_over_a_long_day_errs_less_than_as_much_all_day_long() {
        let reach = |hours: usize| {
            let mut drift = Drift::of(&Attribution::default(), 1.0 / 12.0);
            (0..hours * 12).for_each(|_| drift.add(1.0 / 12.0));
            drift.reach() / hours as f64
        };
        assert!(reach(1) > 0.95);
        assert!((0.75..0.9).contains(&reach(5)));
        assert!(reach(10) < reach(5));
    }

    #[test]
    fn moments_long_apart_err_by_themselves() {
        let mut drift = Drift::of(&Attribution::default(), 1.0);
        drift.add(3.0);
        (0..99).for_each(|_| drift.add(0.0));
        drift.add(4.0);
        assert!((drift.reach() - 5.0).abs() < 1e-6);
    }
}
