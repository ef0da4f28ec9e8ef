//! Spells during which the array gave clearly less than it can: a string out, a panel gone, dirt.
//!
//! Judged by clear, unheld moments alone, and only where haze does not explain them as well. Days without any take the level of the informed days on both
//! sides where those agree; where they differ the loss is only bounded.

use crate::account::branch::{self, Dark};
use crate::account::planes::{self, Plane};
use crate::account::weak_branch::{self, Weak};
use crate::calendar::Calendar;
use crate::design::Design;
use crate::expect::clear::{DayScale, EDGE, WELL};
use crate::expect::haze::SURE;
use crate::expect::{Air, Expectation};
use crate::quantity::Interval;

/// An even cloud keeps its level for a while, a reduced array all day: on a day that counts, no half hour
/// goes beyond the level by more than clouds' bright edges do, clear moments spread by at most this share
/// of their level about a straight line,
const COHERENT: f64 = 0.15;
/// which rises to either end of the day by no more than panels askew do (5 degrees east or west, morning
/// against evening of a low sun),
pub const ASKEW: f64 = 0.25;
/// and below this share of the healthy scale, where stratus is found too (clear-sky index up to 0.5 or so),
const STRATUS: f64 = 0.65;
/// the level held without a break for this long, h.
const UNBROKEN_H: f64 = 2.0;
/// Days of one spell agree in their level to this share of it.
const SAME_LEVEL: f64 = 0.10;
/// A spell must show on this many days,
const LEAST_DAYS: usize = 2;
/// or over this many clear hours on one.
const LEAST_CLEAR_H: f64 = 3.0;
/// A veil of high cloud may be smooth for a day, and leaves more than this of a clear sky: an even one takes
/// up to three tenths.
const VEILED: f64 = 0.70;
/// A day is mostly clear where this share of its hours is.
const MOSTLY_CLEAR: f64 = 0.75;

/// A spell of reduced output.
#[derive(Debug, Clone, PartialEq)]
pub struct Reduction {
    /// First day, index into the grid's dates.
    pub first: usize,
    /// Last day, inclusive.
    pub last: usize,
    /// Days that show it, by clear and unheld moments.
    pub shown_on: Vec<usize>,
    /// What was left, share of the healthy output.
    pub left: Interval,
    /// The first day on which it may have begun (the day after the last informed healthy day).
    pub earliest: usize,
    /// Clear hours it rests on; where it is a branch's, hours in which the others gave something.
    pub clear_h: f64,
    /// What gave too little, as far as the log shows that.
    pub of: Of,
}

impl Reduction {
    /// A spell that opens on a day, with nothing known of it yet.
    pub fn opened(day: usize, earliest: usize, of: Of) -> Self {
        Self {
            first: day,
            last: day,
            shown_on: Vec::new(),
            left: Interval::exact(1.0),
            earliest,
            clear_h: 0.0,
            of,
        }
    }
}

/// What a spell is of.
#[derive(Debug, Clone, PartialEq)]
pub enum Of {
    /// The array as a whole, or a part that the level alone must tell.
    Whole,
    /// All arrays of a controller.
    Branch(Dark),
    /// An array, or strings of it, that looks elsewhere than the others.
    Plane(Plane),
    /// All arrays of a controller, that gave something and too little.
    Weak(Weak),
}

/// Finds the spells: those of a branch or of arrays that look elsewhere where the log shows one, and of the
/// array as a whole elsewhere.
pub fn find(design: &Design, calendar: &Calendar, expected: &Expectation) -> Vec<Reduction> {
    let mut found = branch::find(expected);
    for more in [
        planes::find(design, calendar, expected),
        of_the_whole(expected),
        weak_branch::find(design, expected).into_iter().collect(),
    ] {
        let apart = |spell: &Reduction| {
            found
                .iter()
                .all(|one| spell.last < one.first || one.last < spell.first)
        };
        let more: Vec<Reduction> = more.into_iter().filter(apart).collect();
        found.extend(more);
    }
    found.sort_by_key(|spell| spell.first);
    found
}

fn of_the_whole(expected: &Expectation) -> Vec<Reduction> {
    let healthy = expected.clear.healthy;
    if !expected.clear.calibrated {
        return Vec::new();
    }
    let mut found: Vec<Reduction> = Vec::new();
    let mut last_well: Option<usize> = None;
    let mut open: Option<Reduction> = None;
    for (day, scale) in expected.clear.days.iter().enumerate() {
        let Some(scale) = scale else { continue };
        let level = scale.ratio / healthy;
        if is_hazy(expected, day) {
            found.extend(open.take());
            last_well = Some(day);
            continue;
        }
        if level < WELL && !is_an_arrays_level(scale, level, expected.clear.best[day]) {
            continue;
        }
        // Once a spell is open, a day at the same level continues it even where alone it would prove nothing.
        let same = open
            .as_ref()
            .is_some_and(|o| (level - o.left.value).abs() < 0.06 && level < 0.95);
        if level * (1.0 + scale.band) < WELL || same {
            match &mut open {
                Some(spell) if (level / spell.left.value - 1.0).abs() < SAME_LEVEL => {
                    extend(spell, day, level, scale.band, scale.clear_h);
                }
                _ => {
                    found.extend(open.take());
                    let earliest = last_well.map_or(0, |d| d + 1);
                    open = Some(begin(day, earliest, level, scale.band, scale.clear_h));
                }
            }
        } else {
            found.extend(open.take());
            last_well = Some(day);
        }
    }
    if let Some(mut spell) = open {
        // Nothing says it ended.
        spell.last = expected.grid.dates.len().saturating_sub(1);
        found.push(spell);
    }
    // One odd morning proves nothing (owners' reference Q11).
    found.retain(|s| s.shown_on.len() >= LEAST_DAYS || shows_alone(expected, s));
    found.retain(|s| is_no_haze(expected, s));
    if expected.clear.rests_on_label() {
        found
            .iter_mut()
            .for_each(|s| s.left = through_the_air(&s.left, expected.air));
    }
    found
}

/// What is left beside a healthy array that the label alone tells: wrong by the air too, since a hazier one
/// lets a stronger array give as little.
fn through_the_air(left: &Interval, air: Air) -> Interval {
    let below = (left.value - left.low).hypot(air.above * left.value);
    let above = (left.high - left.value).hypot(air.below * left.value);
    Interval::new(left.value, left.value - below, left.value + above)
}

/// Whether what a clear day fell short by is plainly haze.
pub fn is_hazy(expected: &Expectation, day: usize) -> bool {
    expected.haze[day].is_some_and(|haze| haze.is_plain())
}

/// Whether the days that show a spell, taken together, are not as well explained by haze. Where no day of
/// the log was well it would have to be a haze common to all: the array's own level says whether it can be.
fn is_no_haze(expected: &Expectation, spell: &Reduction) -> bool {
    let days = spell.shown_on.iter().filter_map(|day| expected.haze[*day]);
    let told: Vec<f64> = days.map(|haze| haze.favours_loss).collect();
    told.is_empty() || told.iter().sum::<f64>() > SURE
}

/// Whether a day that counts as clear is more likely an even grey one: as low as stratus, and restless for
/// much of it.
pub fn is_grey(expected: &Expectation, day: &DayScale) -> bool {
    day.ratio / expected.clear.healthy < STRATUS && day.clear_share < MOSTLY_CLEAR
}

/// Whether one day proves a spell by itself: clear for hours, less than a veil of high cloud leaves, and
/// where stratus gives as much, for most of the day. Under an array that lost a part of it a clear day is as
/// clear as ever.
fn shows_alone(expected: &Expectation, spell: &Reduction) -> bool {
    let day = spell.shown_on.first().and_then(|d| expected.clear.days[*d]);
    spell.clear_h >= LEAST_CLEAR_H
        && spell.left.value < VEILED
        && day.is_some_and(|d| !is_grey(expected, &d))
}

/// Whether a low level is the array's own rather than an even cloud's.
fn is_an_arrays_level(scale: &DayScale, level: f64, best: Option<f64>) -> bool {
    scale.about_line <= COHERENT
        && scale.rise <= ASKEW
        && best.is_none_or(|b| b <= EDGE * scale.ratio * (1.0 + scale.rise))
        && (level >= STRATUS || scale.unbroken_h >= UNBROKEN_H)
}

fn begin(day: usize, earliest: usize, level: f64, band: f64, clear_h: f64) -> Reduction {
    Reduction {
        first: day,
        last: day,
        shown_on: vec![day],
        left: Interval::new(level, level * (1.0 - band), level * (1.0 + band)),
        earliest,
        clear_h,
        of: Of::Whole,
    }
}

fn extend(spell: &mut Reduction, day: usize, level: f64, band: f64, clear_h: f64) {
    let n = spell.shown_on.len() as f64;
    let value = (spell.left.value * n + level) / (n + 1.0);
    // Haze differs from day to day: its band shrinks with days, down to half, the part common to all.
    let share = band * (0.5f64).hypot(1.0 / (n + 1.0).sqrt()).min(1.0);
    spell.left = Interval::new(value, value * (1.0 - share), value * (1.0 + share));
    spell.last = day;
    spell.shown_on.push(day);
    spell.clear_h += clear_h;
}

/// What was left of the healthy output on a day: 1 where no spell touches it.
pub fn left_on(reductions: &[Reduction], day: usize) -> Interval {
    for spell in reductions {
        if (spell.first..=spell.last).contains(&day) {
            return spell.left;
        }
        if (spell.earliest..spell.first).contains(&day) {
            // It may or may not have begun: value in between, bounds on both sides.
            let middle = (1.0 + spell.left.value) / 2.0;
            return Interval::new(middle, spell.left.low, 1.0);
        }
    }
    Interval::exact(1.0)
}

/// The same in a moment of that day: the arrays that are left have their own share of each hour.
pub fn left_at(reductions: &[Reduction], day: usize, moment: usize) -> Interval {
    let left = left_on(reductions, day);
    let spell = reductions
        .iter()
        .find(|spell| (spell.first..=spell.last).contains(&day));
    match spell.map(|spell| &spell.of) {
        Some(Of::Plane(plane)) => plane.left_at(moment),
        Some(Of::Branch(dark)) => dark.left_at(moment),
        Some(Of::Weak(weak)) => weak.left_at(moment),
        _ => left,
    }
}
