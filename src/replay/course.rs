//! The owner's days as a replay lives through them: sun on offer, use, other charging, step by step.

use crate::account::Accounts;
use crate::account::episode::left_on;
use crate::account::harvest::Attribution;
use crate::design::Design;
use crate::expect::setpoints::compensation_v;
use crate::expect::{Expectation, Regime};
use crate::quantity::Interval;
use crate::timeline::stage;

/// Moments of the grid in a step: a quarter of an hour (trade reference 10: no coarser, or clipping
/// and evening peaks are hidden).
pub const MOMENTS: usize = 3;

/// Voltages this close are one set point, V per 12 V (trade reference 3.4).
pub const ONE_LEVEL_V: f64 = 0.1;

/// One step.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Step {
    /// What the array would give at the controller's output into a bank that takes everything, W.
    pub sun_w: f64,
    /// How much less it may be, 90 %, W.
    pub less_w: f64,
    /// How much more it may be, 90 %, W.
    pub more_w: f64,
    /// Part of `sun_w` that comes from what an option adds (negative: takes away), W.
    pub added_w: f64,
    /// What the loads ask for at the bank, W.
    pub load_w: f64,
    /// What other charging gives, W.
    pub other_w: f64,
    /// Share of the step in which the controller was logged at its absorption voltage: under broken cloud
    /// it gets there many times, which the mean sun of a step does not show.
    pub held_share: f64,
    /// Whether the controller was logged at float; `None` where its stage was not logged, or where an
    /// option changes its programme.
    pub floated: Option<bool>,
    /// What temperature compensation adds to the controller's voltages, V.
    pub shift_v: f64,
}

/// One local day.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Day {
    /// Its steps, midnight to midnight.
    pub steps: Vec<Step>,
    /// Resistance between controller and bank, ohm.
    pub run_ohm: f64,
}

/// How far a course follows what the controller was logged to do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Programme {
    /// It absorbs and floats when it was logged to.
    #[default]
    AsLogged,
    /// It may float earlier than it was logged to.
    Earlier,
    /// All of it is reckoned.
    Own,
}

impl Programme {
    /// The same days under it.
    pub fn on(self, course: Course) -> Course {
        match self {
            Programme::AsLogged => course,
            Programme::Earlier => with_earlier_float(course),
            Programme::Own => with_own_programme(course),
        }
    }
}

/// Days in their order.
#[derive(Debug, Clone, PartialEq)]
pub struct Course {
    /// Length of a step, h.
    pub step_h: f64,
    /// The days.
    pub days: Vec<Day>,
}

/// The course of the system as it is. `demand_w` is the use by moment, `run_ohm` the run's
/// resistance by day, `top_v` the absorption voltage at 25 C in the controller's own volts.
pub fn as_is(
    design: &Design,
    expected: &Expectation,
    accounts: &Accounts,
    demand_w: &[f64],
    run_ohm: &[f64],
    top_v: f64,
) -> Course {
    build(expected, run_ohm, |m| Step {
        load_w: demand_w[m],
        held_share: held_share(design, expected, top_v, m),
        floated: floated(expected, m),
        ..moment(design, expected, accounts, m)
    })
}

/// A course from what each moment holds; steps are the means of their moments.
pub fn build(expected: &Expectation, run_ohm: &[f64], moment: impl Fn(usize) -> Step) -> Course {
    let days = (0..expected.grid.dates.len())
        .map(|day| {
            let moments: Vec<usize> = expected.grid.day(day).collect();
            Day {
                steps: moments
                    .chunks(MOMENTS)
                    .map(|chunk| mean(chunk, &moment))
                    .collect(),
                run_ohm: run_ohm[day],
            }
        })
        .collect();
    Course {
        step_h: MOMENTS as f64 * expected.grid.step_h(),
        days,
    }
}

fn mean(moments: &[usize], moment: &impl Fn(usize) -> Step) -> Step {
    let share = 1.0 / moments.len().max(1) as f64;
    let mut sum = Step::default();
    let stages: Vec<bool> = moments.iter().filter_map(|m| moment(*m).floated).collect();
    let floats = stages.iter().filter(|f| **f).count();
    sum.floated = (!stages.is_empty()).then_some(2 * floats > stages.len());
    for m in moments {
        let one = moment(*m);
        sum.sun_w += one.sun_w * share;
        sum.less_w += one.less_w * share;
        sum.more_w += one.more_w * share;
        sum.added_w += one.added_w * share;
        sum.load_w += one.load_w * share;
        sum.other_w += one.other_w * share;
        sum.held_share += one.held_share * share;
        sum.shift_v += one.shift_v * share;
    }
    sum
}

/// Share of a moment at the absorption voltage: a moment that only touched it counts half.
fn held_share(design: &Design, expected: &Expectation, top_v: f64, m: usize) -> f64 {
    let Some(volts) = expected.signals.regulated_v() else {
        return 0.0;
    };
    let least = top_v + compensation_v(design, &expected.signals, m)
        - ONE_LEVEL_V * design.nominal_v() / 12.0;
    if volts.mean(m).is_some_and(|v| v >= least) {
        1.0
    } else if volts.high(m) >= least {
        0.5
    } else {
        0.0
    }
}

/// Whether the controller was logged at float.
fn floated(expected: &Expectation, m: usize) -> Option<bool> {
    let code = expected.signals.stage.as_ref()?.mean(m)?;
    Some(code.round() == stage::FLOAT)
}

fn moment(design: &Design, expected: &Expectation, accounts: &Accounts, m: usize) -> Step {
    let sun = reachable_wh(expected, accounts, m).scale(1.0 / expected.grid.step_h());
    Step {
        sun_w: sun.value,
        less_w: sun.value - sun.low,
        more_w: sun.high - sun.value,
        other_w: accounts.loads.other[m].max(0.0) / expected.grid.step_h(),
        shift_v: compensation_v(design, &expected.signals, m),
        ..Step::default()
    }
}

/// What the array as it is would have given in a moment, Wh: what came, and what a full bank or the
/// controller's limit kept back. A bank that refuses for cold refuses whatever an option adds.
fn reachable_wh(expected: &Expectation, accounts: &Accounts, m: usize) -> Interval {
    let of = &accounts.attribution;
    let got = of.harvest[m].max(0.0);
    if expected.regimes[m] == Regime::Refused {
        return Interval::exact(got);
    }
    let gap = of.unmeasured[m].scale(passing(expected, accounts, m));
    Interval::new(
        got + of.held[m].value + of.limit[m].value + gap.value,
        got + of.held[m].low + of.limit[m].low + gap.low,
        got + of.held[m].high + of.limit[m].high + gap.high,
    )
}

/// Share of a moment's offer that reaches the controller's output of the system as it is.
fn passing(expected: &Expectation, accounts: &Accounts, m: usize) -> f64 {
    let day = expected.grid.day_of(m);
    left_on(&accounts.reductions, day).value * accounts.attribution.conversion_level
}

/// What mending the array and the conversion and clearing away a shadow would add in a moment, Wh.
pub fn lost_wh(of: &Attribution, m: usize) -> Interval {
    let sure = of.conversion[m].max(0.0);
    let (array, shade) = (&of.array[m], &of.shade[m]);
    Interval::new(
        array.value + shade.value + sure,
        array.low + shade.low + sure,
        array.high + shade.high + sure,
    )
}

/// The same days with a controller whose programme is not known from the log: it is reckoned.
fn with_own_programme(mut course: Course) -> Course {
    for step in course.days.iter_mut().flat_map(|d| &mut d.steps) {
        step.floated = None;
        step.held_share = 0.0;
    }
    course
}

/// The same days with a controller that goes to float when it was logged to, and earlier where an option
/// lets it hold its voltage earlier.
fn with_earlier_float(mut course: Course) -> Course {
    for step in course.days.iter_mut().flat_map(|d| &mut d.steps) {
        if step.floated == Some(false) {
            step.floated = None;
            step.held_share = 0.0;
        }
    }
    course
}

/// The same days with what mending gives back of the array. `mend` says what of it: Wh by moment.
pub fn with_more_sun(course: &Course, expected: &Expectation, mend: &[Interval]) -> Course {
    let mut course = course.clone();
    for (day, of) in course.days.iter_mut().enumerate() {
        let moments: Vec<usize> = expected.grid.day(day).collect();
        for (step, chunk) in of.steps.iter_mut().zip(moments.chunks(MOMENTS)) {
            let per_w = 1.0 / (chunk.len() as f64 * expected.grid.step_h());
            let sum = |pick: fn(&Interval) -> f64| -> f64 {
                chunk.iter().map(|m| pick(&mend[*m])).sum::<f64>() * per_w
            };
            let (value, low, high) = (sum(|i| i.value), sum(|i| i.low), sum(|i| i.high));
            step.sun_w += value;
            // Two errors of different origin.
            step.less_w = step.less_w.hypot(value - low);
            step.more_w = step.more_w.hypot(high - value);
        }
    }
    course
}
