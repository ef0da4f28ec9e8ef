//! The resistance of the controller-to-bank run, from the two voltages and the current between them.
//!
//! A straight line with an intercept: the slope is the resistance of everything between the two
//! meters, the intercept their disagreement. Only the controller's own output current counts, and
//! only readings both loggers took within the same bin.

use crate::account::instrument::GAIN;
use crate::design::wiring::run_mohm;
use crate::design::{Design, Run};
use crate::expect::Expectation;
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

/// A measured run.
#[derive(Debug, Clone, PartialEq)]
pub struct RunFit {
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

/// Fits the run, or says why not.
///
/// # Errors
/// Where one of the three signals was not logged, the current hardly varied, or the answer is too
/// uncertain to be worth printing.
pub fn measure(
    design: &Design,
    timeline: &Timeline,
    expected: &Expectation,
) -> Result<RunFit, NotMeasurable> {
    let readings = readings(timeline, expected)?;
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
) -> Result<Readings, NotMeasurable> {
    let (Some(charge_v), Some(bank_v), Some(charge_a)) = (
        timeline.channel(Role::ChargeVoltage),
        timeline.channel(Role::BatteryVoltage),
        timeline.channel(Role::ChargeCurrent),
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
    Ok(pairs(
        timeline,
        expected,
        charge_v,
        bank_v,
        &charge_a.series,
    ))
}

pub(super) fn fit(
    design: &Design,
    expected: &Expectation,
    readings: &Readings,
    from_day: usize,
) -> Result<RunFit, NotMeasurable> {
    check_spread(design, &readings.amps)?;
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
pub(super) struct Readings {
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
    let mut found = Readings {
        amps: Vec::new(),
        drops: Vec::new(),
        days: Vec::new(),
    };
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

fn check_spread(design: &Design, amps: &[f64]) -> Result<(), NotMeasurable> {
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
    let design_a = design.array_w() / (design.nominal_v() * 13.3 / 12.0);
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
    let own = run_mohm(design, Run::ControllerBattery, 0);
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
        resistance_mohm: resistance,
        offset_v: fit.intercept,
        design_mohm: own,
        readings: readings.amps.len(),
        effective_n: fit.effective_n,
        scatter_v: fit.residual_sd,
        from_day,
        at_a: highest_held(expected, from_day),
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
fn highest_held(expected: &Expectation, from_day: usize) -> f64 {
    let Some(amps) = &expected.signals.charge_a else {
        return 0.0;
    };
    (expected.grid.day_starts[from_day] + 1..expected.grid.moments)
        .filter_map(|m| Some(amps.mean(m - 1)?.min(amps.mean(m)?)))
        .fold(0.0, f64::max)
}
