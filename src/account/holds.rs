//! Stays at a held voltage: when the controller held the bank's voltage, at which level, and what the
//! bank took meanwhile.
//!
//! A voltage that stands still is not yet a voltage that is held: a half-full lithium bank stands still by
//! itself. A stay counts where the controller's own stage says so, or where the current fell away although
//! the sun did not, at a level that such a bank does not stand at by itself.

use std::ops::Range;

use crate::account::{Loads, charging_temperature, flat};
use crate::design::{Design, Method};
use crate::expect::{Expectation, Folded, setpoints};
use crate::mapping::Role;
use crate::physics::bank;
use crate::stats::quantile::{median, quantile};
use crate::timeline::{Timeline, stage};

/// All readings of a stay lie within this, V per 12 V (trade reference 3.4).
const BAND_V: f64 = 0.1;
/// Shortest stay that a logged stage vouches for, s (trade reference 3.4).
const STAGED_S: f64 = 600.0;
/// Shortest stay that the falling current has to show, s: a third of it is ten minutes.
const TAPERED_S: f64 = 1800.0;
/// A stay holds at least this many rows of the log.
const LEAST_ROWS: f64 = 3.0;
/// The current's share of the sun must fall to this share of what it was.
const TAPER: f64 = 0.7;
/// At the beginning of a stay the bank took at least this share of what a clear sky offers: less is a dull
/// sky, which explains any current.
const TAKEN: f64 = 0.4;
/// A day whose voltage moves less than this shows a meter that stands still, V per 12 V.
const MOVES_V: f64 = 0.1;
/// The averages over minutes of a bank's resistance show up to this many times that of seconds, with the
/// charge's own overvoltage (trade reference 6.8).
const SLOW: f64 = 4.0;
/// Less than this share of label power is nothing.
const NOTHING: f64 = 0.002;

/// One stay at a held voltage.
#[derive(Debug, Clone, PartialEq)]
pub struct Hold {
    /// Day (index into the grid's dates).
    pub day: usize,
    /// Moments of the grid.
    pub moments: Range<usize>,
    /// The controller's own level, V, where logged.
    pub controller_v: Option<f64>,
    /// The bank's own level, V, where logged.
    pub bank_v: Option<f64>,
    /// The bank's own current in the first third, A.
    pub start_a: Option<f64>,
    /// The bank's own current in the last third, A.
    pub end_a: Option<f64>,
    /// The bank's temperature, C.
    pub bank_c: Option<f64>,
    /// The stage logged (see [`stage`]); `None` where none was.
    pub stage: Option<f64>,
    /// Whether no voltage of that day was clearly higher for long.
    pub top: bool,
}

impl Hold {
    /// How long it lasted, h.
    pub fn hours(&self, expected: &Expectation) -> f64 {
        self.moments.len() as f64 * expected.grid.step_h()
    }

    /// The higher of the two meters, V.
    pub fn highest_v(&self) -> f64 {
        let low = f64::NEG_INFINITY;
        self.bank_v
            .unwrap_or(low)
            .max(self.controller_v.unwrap_or(low))
    }

    /// The lower of the two meters, V.
    pub fn lowest_v(&self) -> f64 {
        let high = f64::INFINITY;
        self.bank_v
            .unwrap_or(high)
            .min(self.controller_v.unwrap_or(high))
    }

    /// The bank's level, else the controller's, V.
    pub fn level_v(&self) -> f64 {
        self.bank_v.or(self.controller_v).unwrap_or(0.0)
    }
}

/// All stays at a voltage that the array's controller held, in order of time.
pub fn find(
    design: &Design,
    timeline: &Timeline,
    expected: &Expectation,
    loads: &Loads,
) -> Vec<Hold> {
    let Some(finder) = Finder::new(design, timeline, expected, loads) else {
        return Vec::new();
    };
    (0..expected.grid.dates.len())
        .flat_map(|day| finder.of_day(day))
        .collect()
}

struct Finder<'a> {
    design: &'a Design,
    expected: &'a Expectation,
    loads: &'a Loads,
    /// What the controller regulates: its own voltage, else the bank's.
    regulated: &'a Folded,
    /// The bank's own meter, where there is one.
    bank: Option<&'a Folded>,
    /// The stage, where the column says anything.
    stages: Option<&'a Folded>,
    /// Time between rows, s.
    step_s: f64,
    volts_per_12: f64,
}

impl<'a> Finder<'a> {
    fn new(
        design: &'a Design,
        timeline: &Timeline,
        expected: &'a Expectation,
        loads: &'a Loads,
    ) -> Option<Self> {
        let signals = &expected.signals;
        let regulated = signals.regulated_v()?;
        let role = if signals.charge_v.is_some() {
            Role::ChargeVoltage
        } else {
            Role::BatteryVoltage
        };
        let own = timeline.channel(Role::BatteryVoltage).is_some();
        Some(Self {
            design,
            expected,
            loads,
            regulated,
            bank: signals.bank_v.as_ref().filter(|_| own),
            stages: signals.stage.as_ref().filter(|s| says_anything(s)),
            step_s: timeline.channel(role).map_or(0.0, |c| c.step_s),
            volts_per_12: design.nominal_v() / 12.0,
        })
    }

    fn of_day(&self, day: usize) -> Vec<Hold> {
        let moments = self.expected.grid.day(day);
        let all: Vec<f64> = moments.clone().filter_map(|m| self.volts(m)).collect();
        let (Some(low), Some(top)) = (quantile(&all, 0.0), third_highest(&all)) else {
            return Vec::new();
        };
        if top - low < MOVES_V * self.volts_per_12 {
            return Vec::new();
        }
        self.flat_runs(moments)
            .into_iter()
            .filter_map(|run| self.hold(day, run, top))
            .collect()
    }

    /// A switching controller pulses between its set point and less: its highest reading is the level.
    fn volts(&self, moment: usize) -> Option<f64> {
        let mean = self.regulated.mean(moment)?;
        let high = self.regulated.high(moment);
        let pulses = self.design.controllers[0].method == Method::Pwm && high.is_finite();
        Some(if pulses { high } else { mean })
    }

    /// The stage of a moment that was in one stage throughout; `None` in a mixed one.
    fn stage(&self, moment: usize) -> Option<Option<f64>> {
        let Some(stages) = self.stages else {
            return Some(None);
        };
        let code = stages.mean(moment)?;
        ((code - code.round()).abs() < 1e-3).then_some(Some(code.round()))
    }

    /// Whether the array, and nothing else, charged.
    fn by_array(&self, moment: usize) -> bool {
        if self.loads.other[moment] > 0.0 {
            return false;
        }
        let signals = &self.expected.signals;
        let mean = |f: &Option<Folded>| f.as_ref().and_then(|f| f.mean(moment));
        let sun = self.expected.offers[moment].output_w > 0.0;
        match (mean(&signals.harvest), mean(&signals.charge_a)) {
            (Some(watts), _) => sun && watts > NOTHING * self.design.array_w(),
            (None, Some(amps)) => sun && amps > 0.0,
            (None, None) => sun && mean(&signals.bank_a).is_some_and(|a| a >= 0.0),
        }
    }

    /// The stretches of a day in which the voltage stands still, in one stage, while the array charges.
    fn flat_runs(&self, within: Range<usize>) -> Vec<Range<usize>> {
        let least_s = STAGED_S.max(LEAST_ROWS * self.step_s);
        let least = (least_s / crate::expect::STEP_S as f64).ceil() as usize;
        flat::runs(within, least.max(2), BAND_V * self.volts_per_12, |m| {
            let stage = self.stage(m)?.map(|code| code as i32);
            Some((self.volts(m).filter(|_| self.by_array(m))?, stage))
        })
    }

    fn hold(&self, day: usize, run: Range<usize>, top: f64) -> Option<Hold> {
        let signals = &self.expected.signals;
        let later = run.start + run.len() / 2..run.end;
        let level = |f: &Folded| middle(later.clone().filter_map(|m| f.mean(m)));
        let own_level = middle(later.clone().filter_map(|m| self.volts(m)))?;
        let third = (run.len() / 3).max(1);
        let current = |r: Range<usize>| {
            let amps = signals.bank_a.as_ref()?;
            middle(r.filter_map(|m| amps.mean(m)))
        };
        let hold = Hold {
            day,
            controller_v: signals.charge_v.as_ref().map(|_| own_level),
            bank_v: match signals.charge_v {
                Some(_) => self.bank.and_then(level),
                None => self.bank.map(|_| own_level),
            },
            start_a: current(run.start..run.start + third),
            end_a: current(run.end - third..run.end),
            bank_c: charging_temperature::bank_c(self.expected, run.clone()),
            stage: self.stage(run.start).flatten(),
            top: own_level >= top - BAND_V * self.volts_per_12,
            moments: run,
        };
        let vouched = match hold.stage {
            Some(code) => [stage::ABSORPTION, stage::FLOAT, stage::EQUALISE].contains(&code),
            None => {
                self.at_set_point(&hold.moments, own_level)
                    || self.tapers(&hold.moments) && own_level >= self.least_held_v(&hold)
            }
        };
        vouched.then_some(hold)
    }

    /// Whether a level is the design's absorption voltage, or above it: nothing but a controller stops there.
    fn at_set_point(&self, run: &Range<usize>, level_v: f64) -> bool {
        let signals = &self.expected.signals;
        let shift = setpoints::compensation_v(self.design, signals, run.start + run.len() / 2);
        level_v >= self.expected.absorption_v + shift - BAND_V * self.volts_per_12
    }

    /// Whether the current's share of the clear sky's offer fell away within a run.
    fn tapers(&self, run: &Range<usize>) -> bool {
        let least = TAPERED_S.max(LEAST_ROWS * self.step_s) / crate::expect::STEP_S as f64;
        let signals = &self.expected.signals;
        let Some(amps) = signals.bank_a.as_ref().or(signals.charge_a.as_ref()) else {
            return false;
        };
        if (run.len() as f64) < least {
            return false;
        }
        let taken = |m: usize| {
            let offered = self.expected.offers[m].output_w;
            let sun = offered > 0.05 * self.design.array_w();
            sun.then(|| Some(amps.mean(m)? * self.volts(m)? / offered))
                .flatten()
        };
        let third = (run.len() / 3).max(1);
        let first = middle((run.start..run.start + third).filter_map(taken));
        let last = middle((run.end - third..run.end).filter_map(taken));
        matches!((first, last), (Some(first), Some(last)) if first >= TAKEN && last <= TAPER * first)
    }

    /// Below this a bank of that kind may stand by itself at the current it took, V.
    fn least_held_v(&self, hold: &Hold) -> f64 {
        let battery = &self.design.battery;
        let cells = self.design.cells();
        let least = cells * bank::least_held_cell_v(battery.chemistry);
        if battery.chemistry.is_lead() {
            return least;
        }
        let nominal_v = self.design.nominal_v();
        let (_, mohm) =
            bank::internal_resistance_mohm(battery.chemistry, battery.capacity_ah, nominal_v);
        let drop = hold.end_a.unwrap_or(0.0).max(0.0) * SLOW * mohm / 1000.0;
        least + drop
    }
}

fn middle(values: impl Iterator<Item = f64>) -> Option<f64> {
    median(&values.collect::<Vec<f64>>())
}

/// The voltage reached for a quarter of an hour in all: single moments above it are overshoots.
fn third_highest(values: &[f64]) -> Option<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(|a, b| b.total_cmp(a));
    sorted.get(2).copied()
}

/// Whether a stage column ever changes: one that stands still says nothing.
fn says_anything(stages: &Folded) -> bool {
    let low = stages.min.iter().copied().fold(f32::INFINITY, f32::min);
    let high = stages.max.iter().copied().fold(f32::NEG_INFINITY, f32::max);
    high > low
}
