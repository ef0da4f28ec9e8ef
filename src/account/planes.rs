//! Of arrays that look elsewhere than each other, one that gave nothing, or strings of it: seen by the
//! shape of clear days, for then the others' own course is what is left.
//!
//! The day's output is held against what the rest would give. Where that keeps one level for hours, and the
//! whole array's offer does not, the part is out.

use crate::account::episode::{Of, Reduction};
use crate::calendar::Calendar;
use crate::design::Design;
use crate::expect::Expectation;
use crate::expect::clear::{self, ALLOWANCE_RANGE, BENT, WELL, mean_allowance};
use crate::quantity::Interval;
use crate::stats::quantile::{median, quantile};

/// Where less than this is left of the offer nothing can be read, share.
const LEAST_LEFT: f64 = 0.05;
/// Hours with the rest's level that a day needs,
const LEAST_H: f64 = 3.0;
/// on so many days,
const LEAST_DAYS: usize = 2;
/// or so many hours on one.
const LONG_H: f64 = 4.0;
/// The rest's level scatters up to this over the hours of a clear day: a low sun, haze and a lean bend it.
const MOST_SCATTER: f64 = 0.15;
/// The whole array's must scatter so many times as far over the same hours,
const CLEARLY: f64 = 3.0;
/// the rest's being taken for at least this: what a good clear day shows.
const USUAL_SCATTER: f64 = 0.03;
/// How far the rest's level may lie from the array's own when well: haze below, and a cool day above.
const LEVEL: (f64, f64) = (0.88, 1.08);
/// The same at either end of the allowance's range, where the array was never seen well.
const BESIDE: f64 = 0.05;
/// Half the 90 % range of the share that the rest has of the offer.
const SHARE_ERROR: f64 = 0.03;

/// A part that looks elsewhere than the rest, and gave nothing.
#[derive(Debug, Clone, PartialEq)]
pub struct Plane {
    /// Its array, by its place in the design.
    pub array: usize,
    /// Strings of it that gave nothing.
    pub strings: u32,
    /// Scatter of the rest's level over the clear hours, share.
    pub scatter: f64,
    /// Scatter of the whole array's over the same hours, share.
    pub bent: f64,
    /// What the rest has of the clear-sky offer by moment, share.
    rest: Vec<f32>,
}

impl Plane {
    /// What is left of the whole array's output in a moment, share.
    pub fn left_at(&self, moment: usize) -> Interval {
        left_of(f64::from(self.rest[moment]))
    }
}

/// What is left of the whole array's output where arrays with some share of it are left.
pub(super) fn left_of(rest: f64) -> Interval {
    Interval::new(
        rest.max(LEAST_LEFT),
        (rest - SHARE_ERROR).max(LEAST_LEFT),
        (rest + SHARE_ERROR).clamp(LEAST_LEFT, 1.0),
    )
}

/// What a clear day shows of one part.
#[derive(Debug, Clone, Copy)]
struct Shape {
    hours: f64,
    scatter: f64,
    bent: f64,
}

/// The spells in which a part that looks elsewhere gave nothing; none where all arrays look the same way.
pub fn find(design: &Design, calendar: &Calendar, expected: &Expectation) -> Vec<Reduction> {
    if !design.arrays_look_apart() {
        return Vec::new();
    }
    let ratios = clear::ratios(
        design,
        &expected.signals,
        &expected.offers,
        &expected.regimes,
    );
    let parts: Vec<Plane> = (0..design.arrays.len())
        .flat_map(|array| parts_of(design, calendar, expected, array))
        .collect();
    let shapes: Vec<Vec<Option<Shape>>> = parts
        .iter()
        .map(|part| shapes(design, expected, &ratios, part))
        .collect();
    let mut found: Vec<Reduction> = (0..parts.len())
        .flat_map(|one| spells(expected, &parts[one], &shapes, one))
        .collect();
    // Of several parts over the same days the one that most days show.
    found.sort_by_key(|spell| std::cmp::Reverse(spell.shown_on.len()));
    let mut kept: Vec<Reduction> = Vec::new();
    for spell in found {
        if kept
            .iter()
            .all(|k| spell.last < k.first || k.last < spell.first)
        {
            kept.push(spell);
        }
    }
    kept
}

/// An array gone altogether, and by each number of its strings.
fn parts_of(
    design: &Design,
    calendar: &Calendar,
    expected: &Expectation,
    array: usize,
) -> Vec<Plane> {
    let mut place = 0;
    let own = expected.clear_w_of(design, calendar, |_| {
        place += 1;
        place - 1 == array
    });
    let strings = design.arrays[array].strings_in_parallel;
    (1..=strings)
        .map(|out| {
            let gone = f64::from(out) / f64::from(strings.max(1));
            let rest = own
                .iter()
                .zip(&expected.offers)
                .map(|(own, offer)| {
                    (1.0 - gone * f64::from(*own) / offer.output_w.max(1e-9)) as f32
                })
                .collect();
            Plane {
                array,
                strings: out,
                scatter: 0.0,
                bent: 0.0,
                rest,
            }
        })
        .collect()
}

/// By day, the shape of the clear hours, where it is the rest's.
fn shapes(
    design: &Design,
    expected: &Expectation,
    ratios: &[Option<f64>],
    part: &Plane,
) -> Vec<Option<Shape>> {
    let of_rest: Vec<Option<f64>> = ratios
        .iter()
        .zip(&part.rest)
        .map(|(ratio, rest)| {
            let rest = f64::from(*rest);
            ratio
                .filter(|_| rest > LEAST_LEFT)
                .map(|ratio| ratio / rest)
        })
        .collect();
    let smooth = clear::smooth_moments(&of_rest);
    let (least, most) = levels(design, expected);
    (0..expected.grid.dates.len())
        .map(|day| {
            let seen = |of: &[Option<f64>]| -> Vec<f64> {
                let clear = expected.grid.day(day).filter(|m| smooth[*m]);
                clear.filter_map(|m| of[m]).collect()
            };
            let own = seen(&of_rest);
            let shape = Shape {
                hours: own.len() as f64 * expected.grid.step_h(),
                scatter: scatter(&own)?,
                bent: scatter(&seen(ratios))?,
            };
            let level = median(&own)?;
            let is_the_rests = shape.hours >= LEAST_H
                && (least..=most).contains(&level)
                && shape.scatter <= MOST_SCATTER
                && shape.bent >= CLEARLY * shape.scatter.max(USUAL_SCATTER);
            is_the_rests.then_some(shape)
        })
        .collect()
}

/// Between which levels an array that is well may lie.
fn levels(design: &Design, expected: &Expectation) -> (f64, f64) {
    let days = 0..expected.grid.dates.len();
    if expected.clear.calibrated && days.into_iter().any(|day| is_well(expected, day)) {
        let own = expected.clear.healthy;
        return (LEVEL.0 * own, LEVEL.1 * own);
    }
    let allowance = mean_allowance(design);
    (
        ALLOWANCE_RANGE.0 / allowance * (1.0 - BESIDE),
        ALLOWANCE_RANGE.1 / allowance * (1.0 + BESIDE),
    )
}

/// Half the range of the middle two thirds, as a share of the middle.
fn scatter(seen: &[f64]) -> Option<f64> {
    Some((quantile(seen, 0.84)? - quantile(seen, 0.16)?) / 2.0 / median(seen)?)
}

/// Whether the clear hours of a day show the whole array well.
fn is_well(expected: &Expectation, day: usize) -> bool {
    expected.clear.days[day].is_some_and(|scale| {
        scale.ratio >= WELL * expected.clear.healthy && scale.spread <= 2.0 * BENT
    })
}

fn spells(
    expected: &Expectation,
    part: &Plane,
    shapes: &[Vec<Option<Shape>>],
    one: usize,
) -> Vec<Reduction> {
    let days = expected.grid.dates.len();
    // Where several parts' rests fit a day, it shows the one that fits best.
    let shown = |day: usize| {
        let own = shapes[one][day]?;
        let best = shapes
            .iter()
            .filter_map(|of| of[day])
            .all(|other| own.scatter <= other.scatter);
        best.then_some(own)
    };
    let mut found: Vec<(Reduction, Vec<Shape>)> = Vec::new();
    let mut open: Option<(Reduction, Vec<Shape>)> = None;
    let mut earliest = 0;
    for day in 0..days {
        if let Some(shape) = shown(day) {
            let (spell, seen) = open
                .get_or_insert_with(|| (Reduction::opened(day, earliest, Of::Whole), Vec::new()));
            spell.last = day;
            spell.shown_on.push(day);
            spell.clear_h += shape.hours;
            seen.push(shape);
        } else if is_well(expected, day) {
            found.extend(open.take());
            earliest = day + 1;
        }
    }
    if let Some((mut spell, seen)) = open {
        // Nothing says it ended.
        spell.last = days.saturating_sub(1);
        found.push((spell, seen));
    }
    found.retain(|(s, _)| s.shown_on.len() >= LEAST_DAYS || s.clear_h >= LONG_H);
    found
        .into_iter()
        .map(|(spell, seen)| finished(expected, part, spell, &seen))
        .collect()
}

/// A spell with what it is of, and what it left of those days.
fn finished(expected: &Expectation, part: &Plane, spell: Reduction, seen: &[Shape]) -> Reduction {
    let middle = |of: fn(&Shape) -> f64| {
        let all: Vec<f64> = seen.iter().map(of).collect();
        median(&all).unwrap_or(0.0)
    };
    let moments = || {
        spell
            .shown_on
            .iter()
            .flat_map(|day| expected.grid.day(*day))
    };
    let all: f64 = moments().map(|m| expected.offers[m].output_w).sum();
    let rest: f64 = moments()
        .map(|m| expected.offers[m].output_w * f64::from(part.rest[m]))
        .sum();
    let left = (rest / all.max(1.0)).max(LEAST_LEFT);
    Reduction {
        left: Interval::new(left, left - SHARE_ERROR, (left + SHARE_ERROR).min(1.0)),
        of: Of::Plane(Plane {
            scatter: middle(|s| s.scatter),
            bent: middle(|s| s.bent),
            ..part.clone()
        }),
        ..spell
    }
}
