//! Clear moments, found from the output alone, and the array's scale fitted on them.
//!
//! A clear sky is smooth: over half an hour the ratio of output to the clear-sky curve stays put.
//! The ratio of a day's clear moments is the array's scale on that day; haze and a vehicle's lean move
//! it by several percent, so one day alone condemns nothing below that band.

use std::ops::Range;

use crate::design::Design;
use crate::expect::grid::Grid;
use crate::expect::offer::Offer;
use crate::expect::regime::Regime;
use crate::expect::signals::Signals;
use crate::quantity::Interval;
use crate::stats::lines;
use crate::stats::quantile::quantile;

/// Clouds' bright edges raise the mean of half an hour by up to this (trade reference 2.6: 1.3 for
/// minutes, 1.1 over an hour).
pub const EDGE: f64 = 1.15;
/// Moments in half an hour.
const HALF_HOUR: usize = 6;
/// Moments in the window that must be smooth: 35 minutes.
const WINDOW: usize = 7;
/// Largest scatter about a straight line within the window, share of the ratio.
const SMOOTH: f64 = 0.02;
/// Largest change across the window, share of the ratio.
const STEADY: f64 = 0.08;
/// Below this ratio a smooth sky is more likely an even cloud than a clear one behind a fault.
const LOWEST_RATIO: f64 = 0.3;
/// It is a clear sky behind a fault when it keeps that level for so many moments, three hours,
const FAINT_RUN: usize = 36;
/// without changing by more than this share, which no cloud does,
const FAINT_DRIFT: f64 = 0.15;
/// and above this ratio: one string of ten.
const FAINTEST_RATIO: f64 = 0.08;
/// Below this height of the sun, lean and horizon rule, degrees.
const LOWEST_SUN_DEG: f64 = 12.0;
/// Scatter of a day's clear moments up to which they are one level with chance about it, share. Beyond,
/// the day is bent, by a wrong clock or a lean, and more hours of it tell no better.
pub const BENT: f64 = 0.06;
/// A day whose scale, with its band, lies below this share of the healthy one gave too little: what haze and
/// lean, which have their own band already, can't explain on top.
pub const WELL: f64 = 0.93;
/// What a healthy array gives of its label: lower and upper end (contract: 80 to 102 %).
pub const ALLOWANCE_RANGE: (f64, f64) = (0.80, 1.02);
/// Clear moments that make a day's scale: one hour.
pub const DAY_MIN: usize = 12;

/// The scale of one day: output over the design's clear-sky output.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DayScale {
    /// Median ratio of the day's clear moments.
    pub ratio: f64,
    /// 90 % half-width from haze, lean and scatter, as a share of the ratio.
    pub band: f64,
    /// Hours of clear, unheld moments.
    pub clear_h: f64,
    /// From the 5th to the 95th percentile of its clear moments, as a share of the ratio.
    pub spread: f64,
    /// The same about the straight line through them, which panels that stand askew bend up or down through
    /// the day; as far as above where arrays look different ways, whose bend has other reasons.
    pub about_line: f64,
    /// From the middle of that line to its upper end, as a share of the ratio; 0 likewise.
    pub rise: f64,
    /// Longest unbroken stretch of them, h.
    pub unbroken_h: f64,
    /// Clear moments among all unheld ones in the upper half of the day's sun, share.
    pub clear_share: f64,
}

/// What the clear moments say.
#[derive(Debug, Clone, PartialEq)]
pub struct Clear {
    /// Whether each moment was clear.
    pub clear: Vec<bool>,
    /// Scale by day, where the day had an hour of clear, unheld moments.
    pub days: Vec<Option<DayScale>>,
    /// Highest ratio that a day kept for half an hour following the sun, clear or not.
    pub best: Vec<Option<f64>>,
    /// The array's own scale when well, 1 being the design with its allowance.
    pub reference: Interval,
    /// The reference kept inside the allowance's range: what is offered is reckoned with it.
    pub healthy: f64,
    /// Whether the reference comes from this log rather than from the design.
    pub calibrated: bool,
}

impl Clear {
    /// Whether the array's own level lies beyond what any healthy one gives, so that what is healthy is the
    /// label's range and not the log's: it is reckoned through the air that was assumed.
    pub fn rests_on_label(&self) -> bool {
        self.calibrated && (self.healthy - self.reference.value).abs() > 1e-9
    }
}

/// Finds the clear moments and fits the scale. A shaded moment measures neither sky nor array.
pub fn fit(
    design: &Design,
    grid: &Grid,
    signals: &Signals,
    offers: &[Offer],
    regimes: &[Regime],
    shaded: impl Fn(usize) -> bool,
) -> Clear {
    let mut ratios = ratios(design, signals, offers, regimes);
    for (moment, ratio) in ratios.iter_mut().enumerate() {
        if shaded(moment) {
            *ratio = None;
        }
    }
    let clear = smooth_moments(&ratios);
    let days: Vec<Option<DayScale>> = (0..grid.dates.len())
        .map(|day| {
            let scale = day_scale(grid, day, &ratios, &clear, offers);
            // What one of several planes lost bends a day too, and is to be seen.
            scale.map(|scale| match design.arrays_look_apart() {
                true => DayScale {
                    about_line: scale.spread,
                    rise: 0.0,
                    ..scale
                },
                false => scale,
            })
        })
        .collect();
    let best = (0..grid.dates.len())
        .map(|day| best_half_hour(grid.day(day), &ratios, offers))
        .collect::<Vec<_>>();
    let allowance = mean_allowance(design);
    let range = (
        ALLOWANCE_RANGE.0.min(allowance) / allowance,
        ALLOWANCE_RANGE.1.max(allowance) / allowance,
    );
    let fitted = reference(&days, &best);
    let reference = fitted.unwrap_or(Interval::new(1.0, range.0, range.1));
    Clear {
        clear,
        days,
        best,
        reference,
        healthy: reference.value.clamp(range.0, range.1),
        calibrated: fitted.is_some(),
    }
}

/// Label-weighted allowance of the arrays.
pub fn mean_allowance(design: &Design) -> f64 {
    let total = design.array_w();
    if total <= 0.0 {
        return 1.0;
    }
    design
        .arrays
        .iter()
        .map(|a| a.allowance * a.power_w() / total)
        .sum()
}

/// Output over the clear-sky output of moments that followed a sun high enough to judge by.
pub fn ratios(
    design: &Design,
    signals: &Signals,
    offers: &[Offer],
    regimes: &[Regime],
) -> Vec<Option<f64>> {
    let least = 0.08 * design.array_w();
    offers
        .iter()
        .enumerate()
        .map(|(moment, offer)| {
            let harvest = signals.harvest.as_ref()?;
            let usable = regimes[moment] == Regime::Following
                && harvest.coverage(moment) > 0.8
                && offer.elevation_deg > LOWEST_SUN_DEG
                && offer.output_w > least;
            if !usable {
                return None;
            }
            harvest.mean(moment).map(|w| w / offer.output_w)
        })
        .collect()
}

/// Whether each moment lies in a stretch over which the output kept its ratio to a clear sky's.
pub fn smooth_moments(ratios: &[Option<f64>]) -> Vec<bool> {
    let mut clear = vec![false; ratios.len()];
    let mut faint = vec![false; ratios.len()];
    for start in 0..ratios.len().saturating_sub(WINDOW - 1) {
        let window: Option<Vec<f64>> = ratios[start..start + WINDOW].iter().copied().collect();
        let Some(window) = window.filter(|w| is_smooth(w)) else {
            continue;
        };
        let level = window.iter().sum::<f64>() / WINDOW as f64;
        let marked = if level < LOWEST_RATIO {
            &mut faint
        } else {
            &mut clear
        };
        marked[start..start + WINDOW].fill(true);
    }
    for start in 0..ratios.len().saturating_sub(FAINT_RUN - 1) {
        let run = start..start + FAINT_RUN;
        if faint[run.clone()].iter().all(|f| *f) && keeps_level(&ratios[run.clone()]) {
            clear[run].fill(true);
        }
    }
    clear
}

/// Whether an output too low for one smooth window to tell it from cloud kept one level.
fn keeps_level(ratios: &[Option<f64>]) -> bool {
    let seen = || ratios.iter().flatten().copied();
    let (low, high) = (
        seen().fold(f64::INFINITY, f64::min),
        seen().fold(0.0, f64::max),
    );
    low > FAINTEST_RATIO && high <= (1.0 + FAINT_DRIFT) * low
}

fn is_smooth(window: &[f64]) -> bool {
    let n = window.len() as f64;
    let mean = window.iter().sum::<f64>() / n;
    let middle = (n - 1.0) / 2.0;
    let (mut sxx, mut sxy) = (0.0, 0.0);
    for (i, value) in window.iter().enumerate() {
        let x = i as f64 - middle;
        sxx += x * x;
        sxy += x * (value - mean);
    }
    let slope = sxy / sxx;
    let scatter = window
        .iter()
        .enumerate()
        .map(|(i, v)| (v - mean - slope * (i as f64 - middle)).powi(2))
        .sum::<f64>();
    let scatter = (scatter / (n - 2.0)).sqrt();
    scatter < SMOOTH * mean && (slope * (n - 1.0)).abs() < STEADY * mean
}

fn day_scale(
    grid: &Grid,
    day: usize,
    ratios: &[Option<f64>],
    clear: &[bool],
    offers: &[Offer],
) -> Option<DayScale> {
    let mut seen: Vec<f64> = Vec::new();
    let mut hours: Vec<f64> = Vec::new();
    let mut band = 0.0;
    let highest = highest_sun(grid.day(day), offers);
    // Haze, lean and horizon weigh most at low sun: the upper half of the day's sun decides.
    let high_sun = |m: &usize| offers[*m].elevation_deg >= 0.5 * highest;
    let mut unheld = 0usize;
    for moment in grid.day(day).filter(high_sun) {
        let Some(ratio) = ratios[moment] else {
            continue;
        };
        unheld += 1;
        if clear[moment] {
            seen.push(ratio);
            hours.push(moment as f64 * grid.step_h());
            band += crate::physics::sky::model_band(offers[moment].elevation_deg);
        }
    }
    if seen.len() < DAY_MIN {
        return None;
    }
    let n = seen.len() as f64;
    let (rise, about) = about_line(&hours, &seen);
    seen.sort_by(f64::total_cmp);
    let ratio = quantile(&seen, 0.5)?;
    let spread = (quantile(&seen, 0.84)? - quantile(&seen, 0.16)?) / 2.0;
    // The haze band is common to the day; scatter between its hours adds, shrinking with the number
    // of independent half hours.
    let runs = if spread > BENT * ratio {
        1.0
    } else {
        (n / WINDOW as f64).max(1.0)
    };
    let scatter = 1.645 * spread / ratio / runs.sqrt();
    Some(DayScale {
        ratio,
        band: (band / n).hypot(scatter),
        clear_h: n * grid.step_h(),
        spread: width(&seen)? / ratio,
        about_line: width(&about)? / ratio,
        rise: rise / ratio,
        unbroken_h: longest_run(grid.day(day), clear) as f64 * grid.step_h(),
        clear_share: n / unheld.max(1) as f64,
    })
}

/// From the 5th to the 95th percentile.
fn width(values: &[f64]) -> Option<f64> {
    Some(quantile(values, 0.95)? - quantile(values, 0.05)?)
}

/// From the middle to the upper end of the straight line through points, and what is left about it.
pub fn about_line(x: &[f64], y: &[f64]) -> (f64, Vec<f64>) {
    let Some(line) = lines::ordinary(x, y) else {
        return (0.0, y.to_vec());
    };
    let left = x.iter().zip(y);
    let left = left.map(|(x, y)| y - line.intercept - line.slope * x);
    let ends = x
        .iter()
        .copied()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |ends, x| {
            (ends.0.min(x), ends.1.max(x))
        });
    (line.slope.abs() * (ends.1 - ends.0) / 2.0, left.collect())
}

/// Highest mean over half an hour on end, in the upper half of the day's sun.
fn best_half_hour(day: Range<usize>, ratios: &[Option<f64>], offers: &[Offer]) -> Option<f64> {
    let lowest = 0.5 * highest_sun(day.clone(), offers);
    let last = (day.end + 1).saturating_sub(HALF_HOUR);
    (day.start..last.max(day.start))
        .filter_map(|start| {
            let window = start..start + HALF_HOUR;
            let high = window.clone().all(|m| offers[m].elevation_deg >= lowest);
            let whole: Option<Vec<f64>> = ratios[window].iter().copied().collect();
            whole
                .filter(|_| high)
                .map(|w| w.iter().sum::<f64>() / HALF_HOUR as f64)
        })
        .max_by(f64::total_cmp)
}

/// The sun's highest elevation in these moments, degrees; not below 0.
fn highest_sun(moments: Range<usize>, offers: &[Offer]) -> f64 {
    moments.map(|m| offers[m].elevation_deg).fold(0.0, f64::max)
}

/// Moments in the longest unbroken clear stretch.
fn longest_run(moments: Range<usize>, clear: &[bool]) -> usize {
    let (mut longest, mut now) = (0, 0);
    for moment in moments {
        now = if clear[moment] { now + 1 } else { 0 };
        longest = longest.max(now);
    }
    longest
}

/// The array's scale when well: the upper part of the days' scales, since every fault lowers them and
/// nothing raises them. A day whose level the array went clearly beyond at some other time shows a fault
/// or an even cloud, unless that level is a healthy array's: then the other time was brightened by clouds.
/// `None` with fewer than two hours of clear moments in all.
fn reference(days: &[Option<DayScale>], best: &[Option<f64>]) -> Option<Interval> {
    let most = best.iter().flatten().copied().fold(0.0, f64::max);
    let known: Vec<DayScale> = days
        .iter()
        .flatten()
        .copied()
        .filter(|d| {
            let high = d.ratio * (1.0 + d.band);
            EDGE * high >= most || high >= ALLOWANCE_RANGE.0
        })
        .collect();
    let hours: f64 = known.iter().map(|d| d.clear_h).sum();
    if hours < 2.0 {
        return None;
    }
    let mut ratios: Vec<f64> = known.iter().map(|d| d.ratio).collect();
    ratios.sort_by(f64::total_cmp);
    // One day's own scale, never a level between a well and a reduced one that no day had.
    let value = *ratios.get((0.8 * (ratios.len() - 1) as f64).round() as usize)?;
    let near: Vec<&DayScale> = known
        .iter()
        .filter(|d| (d.ratio / value - 1.0).abs() <= d.band)
        .collect();
    let band = near.iter().map(|d| d.band).sum::<f64>() / near.len().max(1) as f64;
    // Half of the haze band is the model's own error, common to all days, and does not average out.
    let half = value * (0.5 * band).hypot(band / (near.len().max(1) as f64).sqrt());
    Some(Interval::new(value, value - half, value + half))
}
