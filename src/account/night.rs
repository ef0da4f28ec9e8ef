//! The small hours: what is drawn while people sleep and the sun is down.

use chrono::Timelike;

use crate::account::Loads;
use crate::calendar::Calendar;
use crate::expect::Expectation;
use crate::mapping::Role;
use crate::stats::quantile::{mean, median, quantile};
use crate::timeline::Timeline;

/// The night's use is read before this local hour (trade reference 7).
const UNTIL_HOUR: u32 = 5;
/// Fewest hours of readings that make a night.
const LEAST_H: f64 = 1.5;
/// More than this out of a controller is charging, A.
const CHARGING_A: f64 = 0.05;
/// The floor lies about this quantile of the readings (trade reference 7), the top at its mirror image.
const FLOOR: f64 = 0.10;
/// A level that lies about the tenth percentile lies below this one.
const LOWER: f64 = 0.30;
/// Readings within this many standard deviations of the meter's noise belong to one level.
const LEVEL: f64 = 3.0;

/// One night's readings of the loads' current, in the finest step there is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Night {
    /// Index of its date in the grid.
    pub day: usize,
    /// Level that the loads fall to and seldom below, A. Below 0: the bank's meter showed charging
    /// although nothing charged.
    pub floor_a: f64,
    /// Level that they seldom pass, A (90th percentile).
    pub top_a: f64,
    /// Mean voltage of the bank, where it was logged, V.
    pub bank_v: Option<f64>,
}

/// The nights that were read, and how.
#[derive(Debug, Clone, PartialEq)]
pub struct Nights {
    /// The nights.
    pub nights: Vec<Night>,
    /// Step of the readings, s.
    pub step_s: f64,
    /// Whether they come from the bank's meter rather than from one in the loads' lead.
    pub from_bank: bool,
}

impl Nights {
    /// Reads the small hours of every date: midnight to five, sun down, nothing charging. The bank's own
    /// current is taken first, since it misses no load; else the loads' current. `None` where neither was
    /// logged.
    pub fn new(
        calendar: &Calendar,
        timeline: &Timeline,
        expected: &Expectation,
        loads: &Loads,
    ) -> Option<Self> {
        let bank = timeline.channel(Role::BatteryCurrent);
        let channel = bank.or_else(|| timeline.channel(Role::LoadCurrent))?;
        let sign = if bank.is_some() { -1.0 } else { 1.0 };
        let grid = &expected.grid;
        let mut readings: Vec<Vec<f64>> = vec![Vec::new(); grid.dates.len()];
        let mut unfit = vec![0usize; grid.dates.len()];
        for bin in 0..timeline.bins {
            let at = timeline.time_of(bin);
            let Ok(moment) = usize::try_from((at - grid.start).div_euclid(crate::expect::STEP_S))
            else {
                continue;
            };
            if moment >= grid.moments
                || expected.offers[moment].elevation_deg > 0.0
                || calendar.local(at).hour() >= UNTIL_HOUR
            {
                continue;
            }
            let day = grid.day_of(moment);
            if charging(expected, loads, moment) {
                unfit[day] += 1;
            } else if let Some(amps) = timeline.reading(channel, bin) {
                readings[day].push(sign * amps);
            }
        }
        let step_s = channel.step_s.max(timeline.bin_s as f64);
        let nights = readings
            .iter()
            .enumerate()
            .filter(|(day, r)| {
                let hours = r.len() as f64 * step_s / 3600.0;
                let lost_h = unfit[*day] as f64 * timeline.bin_h();
                hours >= LEAST_H && lost_h < 0.2 * hours
            })
            .filter_map(|(day, r)| {
                Some(Night {
                    day,
                    floor_a: floor(r)?,
                    top_a: quantile(r, 1.0 - FLOOR)?,
                    bank_v: night_volts(calendar, expected, day),
                })
            })
            .collect();
        Some(Self {
            nights,
            step_s,
            from_bank: bank.is_some(),
        })
    }
}

/// The level about the tenth percentile: the middle of the readings that differ from it by no more than
/// the meter's noise, which neighbouring readings show. The percentile alone would lie at its lower edge.
fn floor(readings: &[f64]) -> Option<f64> {
    let low = quantile(readings, FLOOR)?;
    let changes: Vec<f64> = readings.windows(2).map(|w| (w[1] - w[0]).abs()).collect();
    // Two readings differ by root two of one's noise.
    let noise = 1.4826 * median(&changes).unwrap_or(0.0) / std::f64::consts::SQRT_2;
    let level: Vec<f64> = readings
        .iter()
        .copied()
        .filter(|r| (r - low).abs() <= LEVEL * noise)
        .collect();
    // Rows that are means of minutes differ as much by what ran as by noise: the level is no middle of that.
    let most = quantile(readings, LOWER)?;
    Some(median(&level).unwrap_or(low).min(most))
}

/// Whether anything known charges in a moment.
fn charging(expected: &Expectation, loads: &Loads, moment: usize) -> bool {
    let signals = &expected.signals;
    let flows = |amps: &Option<crate::expect::Folded>| {
        amps.as_ref()
            .and_then(|a| a.mean(moment))
            .is_some_and(|a| a > CHARGING_A)
    };
    flows(&signals.charge_a) || flows(&signals.other_a) || loads.other[moment] > 0.0
}

fn night_volts(calendar: &Calendar, expected: &Expectation, day: usize) -> Option<f64> {
    let volts = expected.signals.bank_v.as_ref()?;
    let seen: Vec<f64> = expected
        .grid
        .day(day)
        .filter(|m| calendar.local(expected.grid.time_of(*m)).hour() < UNTIL_HOUR)
        .filter_map(|m| volts.mean(m))
        .collect();
    mean(&seen)
}
