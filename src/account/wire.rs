//! The resistance of the controller-to-bank run, from the two voltages and the current between them.
//!
//! A straight line with an intercept: the slope is the resistance of everything between the two
//! meters, the intercept their disagreement. Only the controller's own output current counts, and
//! only readings both loggers took within the same bin.

use crate::account::instrument::GAIN;
use crate::design::wiring::run_mohm;
use crate::design::{Array, Design, Run};
use crate::expect::{Expectation, Folded};
use crate::mapping::Role;
use crate::quantity::Interval;
use crate::stats::quantile::quantile;
use crate::stats::regression::{LineFit, line_with_intercept};
use crate::timeline::{Channel, Series, Timeline};

/// Currents below this say nothing about a resistance, A.
const LEAST_A: f64 = 0.5;
/// Smallest spread of current (5 to 95 %), A, or this share of the design current, whichever is less
/// (trade reference 5.4).
const LEAST_RANGE_A: f64 = 3.0;
const LEAST_RANGE_SHARE: f64 = 0.25;
/// Rows so many bins apart seldom fall into the same bin as another log's.
const SELDOM: f64 = 5.0;
/// Fewest independent readings (trade reference 5.4).
const LEAST_N: f64 = 30.0;
/// Widest half-interval, share of the resistance (trade reference 5.4); the design value plus this
/// share also counts where the resistance itself is near nothing.
const WIDEST: f64 = 0.30;

/// The side of one controller in the log.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Side<'d> {
    /// Its place in the design.
    pub controller: usize,
    /// Its name, where several controllers were logged apart.
    pub name: Option<&'d str>,
}

/// The controllers with a run of their own to the bank: each that is named in the design and the log, else one
/// for all.
pub fn sides<'d>(design: &'d Design, timeline: &Timeline) -> Vec<Side<'d>> {
    let logged = |name: &&str| {
        let of = timeline
            .channels
            .iter()
            .filter(|c| c.role == Role::ChargeCurrent);
        of.map(|c| c.controller.as_deref())
            .any(|of| of == Some(*name))
    };
    let named: Vec<Side<'d>> = design
        .controllers
        .iter()
        .enumerate()
        .filter_map(|(controller, c)| {
            let name = c.name.as_deref().filter(logged)?;
            Some(Side {
                controller,
                name: Some(name),
            })
        })
        .collect();
    if named.is_empty() || design.controllers.len() < 2 {
        return vec![Side {
            controller: 0,
            name: None,
        }];
    }
    named
}

/// A measured run.
#[derive(Debug, Clone, PartialEq)]
pub struct RunFit {
    /// The controller it begins at, by its place in the design.
    pub controller: usize,
    /// That controller's name, where several were logged apart.
    pub name: Option<String>,
    /// The current through it, A.
    pub amps: Folded,
    /// Slope.
    pub resistance_mohm: Interval,
    /// Controller's meter minus bank's meter at no current, V.
    pub offset_v: f64,
    /// From the design; `None` where the design has no such run.
    pub design_mohm: Option<f64>,
    /// Readings used.
    pub readings: usize,
    /// Independent readings they amount to.
    pub effective_n: f64,
    /// Scatter about the line, V.
    pub scatter_v: f64,
    /// First day (index into the grid's dates) the line stands for: 0 unless the run worsened on the way.
    pub from_day: usize,
    /// Highest current held for ten minutes from that day on, A.
    pub at_a: f64,
    /// Readings (A, V), for the chart, thinned evenly to at most 600.
    pub points: Vec<(f64, f64)>,
}

impl RunFit {
    /// Resistance beyond the design's, mohm; all of it where the design has no such run.
    pub fn beyond_mohm(&self) -> Interval {
        match self.design_mohm {
            Some(_) => self.excess_mohm(),
            None => self.resistance_mohm,
        }
    }

    /// Resistance beyond the design's, mohm; 0 where the design has no such run.
    pub fn excess_mohm(&self) -> Interval {
        let own = self.design_mohm.unwrap_or(self.resistance_mohm.value);
        Interval::new(
            (self.resistance_mohm.value - own).max(0.0),
            (self.resistance_mohm.low - own).max(0.0),
            (self.resistance_mohm.high - own).max(0.0),
        )
    }
}

/// Why the run could not be measured.
#[derive(Debug, Clone, PartialEq)]
pub struct NotMeasurable {
    /// What is missing.
    pub text: String,
    /// What would settle it.
    pub needs: String,
}

/// Fits the run of each controller, in the design's order, or says why not.
pub fn measure(
    design: &Design,
    timeline: &Timeline,
    expected: &Expectation,
) -> Vec<Result<RunFit, NotMeasurable>> {
    sides(design, timeline)
        .iter()
        .map(|side| of_side(design, timeline, expected, *side))
        .collect()
}

/// The run that has most beyond its design; what stands against measuring one, where none was measured.
///
/// # Errors
/// Where no run could be measured.
pub fn worst(runs: &[Result<RunFit, NotMeasurable>]) -> Result<RunFit, NotMeasurable> {
    let beyond = |fit: &&RunFit| fit.beyond_mohm().value * fit.at_a.powi(2);
    let measured = runs.iter().filter_map(|run| run.as_ref().ok());
    if let Some(fit) = measured.max_by(|a, b| beyond(a).total_cmp(&beyond(b))) {
        return Ok(fit.clone());
    }
    let first = runs.iter().find_map(|run| run.as_ref().err().cloned());
    Err(first
        .unwrap_or_else(|| refuse("no controller was logged", "a log of the controller's side")))
}

/// Fits the run of one controller.
///
/// # Errors
/// Where one of the three signals was not logged, the current hardly varied, or the answer is too
/// uncertain to be worth printing.
fn of_side(
    design: &Design,
    timeline: &Timeline,
    expected: &Expectation,
    side: Side<'_>,
) -> Result<RunFit, NotMeasurable> {
    let readings = readings(timeline, expected, side)?;
    let whole = fit(design, expected, &readings, 0);
    // A joint that worsened on the way makes one line through the whole trip wrong or too wide: where the
    // later half makes a good line that lies wholly above, it is how the run stands now.
    let Some(middle) = readings.middle_day() else {
        return whole;
    };
    let late = fit(design, expected, &readings.since(middle), middle as usize);
    match (whole, late) {
        (Err(_), Ok(late)) => Ok(late),
        (Ok(whole), Ok(late)) if late.resistance_mohm.low > whole.resistance_mohm.high => Ok(late),
        (whole, _) => whole,
    }
}

/// The readings a line can be drawn through.
///
/// # Errors
/// Where one of the three signals was not logged, or both voltages come from one meter.
pub(super) fn readings(
    timeline: &Timeline,
    expected: &Expectation,
    side: Side<'_>,
) -> Result<Readings, NotMeasurable> {
    let (Some(charge_v), Some(bank_v), Some(charge_a)) = (
        timeline.channel_of(Role::ChargeVoltage, side.name),
        timeline.channel(Role::BatteryVoltage),
        timeline.channel_of(Role::ChargeCurrent, side.name),
    ) else {
        return Err(refuse(
            "the voltage at the controller, the voltage at the bank and the controller's current were not all logged",
            "a log of the controller's output (volts and amperes) beside the bank monitor's volts",
        ));
    };
    // Two columns of one file can be two meters; one column that stands in for both is not.
    if charge_v.series == bank_v.series {
        return Err(refuse(
            "both voltages come from one meter, so the cable between controller and bank does not show",
            "a second voltmeter at the battery posts, logged or read while charging hard",
        ));
    }
    Ok(Readings {
        controller: side.controller,
        name: side.name.map(str::to_owned),
        current: expected.grid.fold(timeline, &charge_a.series),
        ..pairs(timeline, expected, charge_v, bank_v, &charge_a.series)
    })
}

pub(super) fn fit(
    design: &Design,
    expected: &Expectation,
    readings: &Readings,
    from_day: usize,
) -> Result<RunFit, NotMeasurable> {
    check_spread(design, readings)?;
    let line = line_with_intercept(&readings.amps, &readings.drops, &readings.days);
    let line = line.ok_or_else(|| {
        refuse(
            "the readings of the two logs do not make a line",
            "both logs at a step of a minute or less over one sunny day",
        )
    })?;
    accept(design, expected, readings, &line, from_day)
}

pub(super) fn refuse(text: &str, needs: &str) -> NotMeasurable {
    NotMeasurable {
        text: text.to_owned(),
        needs: needs.to_owned(),
    }
}

/// Pairs of current and drop, in the order of time.
#[derive(Default)]
pub(super) struct Readings {
    /// The controller's place in the design, and its name where there are several.
    pub(super) controller: usize,
    pub(super) name: Option<String>,
    /// The whole of the current through the run.
    pub(super) current: Folded,
    pub(super) amps: Vec<f64>,
    pub(super) drops: Vec<f64>,
    /// Index of each reading's day in the grid's dates.
    pub(super) days: Vec<u32>,
}

impl Readings {
    /// The day that halves the days with readings; `None` with fewer than six of them.
    fn middle_day(&self) -> Option<u32> {
        let mut days = self.days.clone();
        days.dedup();
        (days.len() >= 6).then(|| days[days.len() / 2])
    }

    pub(super) fn since(&self, day: u32) -> Readings {
        self.part(self.days.partition_point(|d| *d < day)..self.days.len())
    }

    pub(super) fn before(&self, day: u32) -> Readings {
        self.part(0..self.days.partition_point(|d| *d < day))
    }

    fn part(&self, range: std::ops::Range<usize>) -> Readings {
        Readings {
            controller: self.controller,
            name: self.name.clone(),
            current: self.current.clone(),
            amps: self.amps[range.clone()].to_vec(),
            drops: self.drops[range.clone()].to_vec(),
            days: self.days[range].to_vec(),
        }
    }
}

/// Readings that both loggers took in the same bin while the controller charged.
fn pairs(
    timeline: &Timeline,
    expected: &Expectation,
    charge_v: &Channel,
    bank_v: &Channel,
    charge_a: &Series,
) -> Readings {
    let mut found = Readings::default();
    let mut day = 0;
    for bin in 0..timeline.bins {
        let at = timeline.time_of(bin);
        let moment = (at - expected.grid.start).div_euclid(crate::expect::STEP_S);
        let Ok(moment) = usize::try_from(moment) else {
            continue;
        };
        if moment >= expected.grid.moments {
            break;
        }
        while day + 1 < expected.grid.dates.len() && expected.grid.day_starts[day + 1] <= moment {
            day += 1;
        }
        let (Some(up), Some(down), Some(a)) = (
            reading(&charge_v.series, bin),
            beside(timeline, bank_v, bin),
            reading(charge_a, bin),
        ) else {
            continue;
        };
        if a >= LEAST_A {
            found.amps.push(a);
            found.drops.push(up - down);
            found.days.push(day as u32);
        }
    }
    found
}

/// The bank's voltage beside a reading of the controller: in the same bin, or of rows many bins apart, which
/// seldom fall into the same one, in the next.
fn beside(timeline: &Timeline, bank_v: &Channel, bin: usize) -> Option<f64> {
    let same = reading(&bank_v.series, bin);
    if bank_v.step_s < SELDOM * timeline.bin_s as f64 {
        return same;
    }
    let before = || bin.checked_sub(1).and_then(|b| reading(&bank_v.series, b));
    let after = || (bin + 1 < timeline.bins).then(|| reading(&bank_v.series, bin + 1));
    same.or_else(before).or_else(|| after().flatten())
}

/// The middle of the rows in a bin; `None` where no row fell into it (a line drawn across is no reading).
fn reading(series: &Series, bin: usize) -> Option<f64> {
    let (low, high) = (f64::from(series.min[bin]), f64::from(series.max[bin]));
    (low <= high).then_some((low + high) / 2.0)
}

fn check_spread(design: &Design, readings: &Readings) -> Result<(), NotMeasurable> {
    let amps = &readings.amps;
    let few = || {
        refuse(
            "the charging current hardly varied while both voltages were logged, so a line through the readings would be a guess",
            "a few hours of sun from weak to strong, both voltages logged, with the bank low enough to take it",
        )
    };
    if amps.len() < LEAST_N as usize {
        return Err(refuse(
            "the two logs hardly ever read both voltages at the same time while current flowed",
            "both logs at a step of a minute or less over one sunny day",
        ));
    }
    let low = quantile(amps, 0.05).unwrap_or(0.0);
    let high = quantile(amps, 0.95).unwrap_or(0.0);
    let through =
        |array: &&Array| readings.name.is_none() || array.controller == readings.controller;
    let array_w: f64 = design
        .arrays
        .iter()
        .filter(through)
        .map(Array::power_w)
        .sum();
    let design_a = array_w / (design.nominal_v() * 13.3 / 12.0);
    if high - low < LEAST_RANGE_A.min(LEAST_RANGE_SHARE * design_a) {
        return Err(few());
    }
    Ok(())
}

fn accept(
    design: &Design,
    expected: &Expectation,
    readings: &Readings,
    fit: &LineFit,
    from_day: usize,
) -> Result<RunFit, NotMeasurable> {
    let mohm = fit.slope * 1000.0;
    // What resampling can't see: the gain of the current meter goes one to one into the slope.
    let gain = GAIN * mohm;
    let resistance = Interval::new(
        mohm,
        mohm - gain.hypot(mohm - fit.slope_low * 1000.0),
        mohm + gain.hypot(fit.slope_high * 1000.0 - mohm),
    );
    let own = run_mohm(design, Run::ControllerBattery, readings.controller);
    let yardstick = resistance.value.max(own.unwrap_or(0.0)).max(1.0);
    if fit.effective_n < LEAST_N || resistance.half_width() > WIDEST * yardstick {
        return Err(NotMeasurable {
            text: format!(
                "the run between controller and bank came out at {:.0} mohm but could be anything from {:.0} to {:.0} mohm",
                resistance.value, resistance.low, resistance.high
            ),
            needs: "both logs at a step of a minute or less over two sunny days, clocks set alike"
                .to_owned(),
        });
    }
    let keep = readings.amps.len().div_ceil(600).max(1);
    Ok(RunFit {
        controller: readings.controller,
        name: readings.name.clone(),
        at_a: highest_held(expected, &readings.current, from_day),
        amps: readings.current.clone(),
        resistance_mohm: resistance,
        offset_v: fit.intercept,
        design_mohm: own,
        readings: readings.amps.len(),
        effective_n: fit.effective_n,
        scatter_v: fit.residual_sd,
        from_day,
        points: readings
            .amps
            .iter()
            .copied()
            .zip(readings.drops.iter().copied())
            .step_by(keep)
            .collect(),
    })
}

/// Highest charging current held for ten minutes, A.
fn highest_held(expected: &Expectation, amps: &Folded, from_day: usize) -> f64 {
    (expected.grid.day_starts[from_day] + 1..expected.grid.moments)
        .filter_map(|m| Some(amps.mean(m - 1)?.min(amps.mean(m)?)))
        .fold(0.0, f64::max)
}
