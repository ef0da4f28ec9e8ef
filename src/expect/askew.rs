//! How far panels stand askew to the east or west of what the design says, from the course of clear days:
//! turned to the side they give more in the morning and less in the evening, or the other way. Steep panels
//! look another way than on paper, flat ones lean. It is taken into the offer; a lean towards the noon sun
//! moves whole days alike, like a stronger array, and can't be told from one. What a wrong clock bends looks
//! the same by day: first and last light tell that apart, and are held against the design as it stands.

use crate::calendar::Calendar;
use crate::design::{Design, Spot};
use crate::expect::clear::{Clear, DayScale};
use crate::expect::grid::Grid;
use crate::expect::offer::{self, Offer};
use crate::expect::route::Route;
use crate::expect::turn::{self, Turn};
use crate::physics::sky::DEFAULT_TURBIDITY;

/// Clear hours of a day that shows it.
const LEAST_H: f64 = 3.0;
/// Days at one place that must show it.
const LEAST_DAYS: usize = 2;
/// What the days say scatters by at most this share of it about it.
const ALIKE: f64 = 0.5;
/// The turn by which the effect of one is reckoned, degrees.
const TRIAL_DEG: f64 = 2.0;
/// What a degree does changes with the angle: it is looked for again from where it was found last, so often.
const ROUNDS: usize = 4;

/// Panels askew at one place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Askew {
    /// The place: 0 the design's first, then its legs.
    pub stop: usize,
    /// Degrees by which they are turned to the east; negative to the west.
    pub east_deg: f64,
    /// What is turned.
    pub turn: Turn,
    /// Clear days that show it.
    pub days: usize,
}

/// What it is found from.
#[derive(Clone, Copy)]
pub struct Course<'c> {
    /// The design.
    pub design: &'c Design,
    /// Its days.
    pub calendar: &'c Calendar,
    /// The moments.
    pub grid: &'c Grid,
    /// Positions, where they were logged.
    pub route: Option<&'c Route>,
    /// What panels that lie as designed give.
    pub offers: &'c [Offer],
}

/// The places at which panels stand askew; none where arrays look different ways, for what one of those lost
/// bends a day as well.
pub fn find(course: Course<'_>, ratios: &[Option<f64>], clear: &Clear) -> Vec<Askew> {
    if course.design.arrays_look_apart() {
        return Vec::new();
    }
    let mut by_stop: Vec<(usize, Vec<usize>)> = Vec::new();
    let long_clear = |scale: &Option<DayScale>| scale.is_some_and(|s| s.clear_h >= LEAST_H);
    for (day, _) in clear.days.iter().enumerate().filter(|d| long_clear(d.1)) {
        let stop = stop_of(course, course.grid.day(day).start);
        match by_stop.iter_mut().find(|group| group.0 == stop) {
            Some(group) => group.1.push(day),
            None => by_stop.push((stop, vec![day])),
        }
    }
    by_stop
        .iter()
        .filter_map(|(stop, days)| at_stop(course, ratios, clear, *stop, days))
        .collect()
}

/// How the panels stand at one place, by its days.
fn at_stop(
    course: Course<'_>,
    ratios: &[Option<f64>],
    clear: &Clear,
    stop: usize,
    days: &[usize],
) -> Option<Askew> {
    let turn = Turn::of(plane_at(course.design, stop)?);
    let mut found = 0.0;
    let mut said: Vec<Said> = Vec::new();
    for _ in 0..ROUNDS {
        let designs = [found, found + TRIAL_DEG].map(|deg| turned(course.design, turn, deg));
        said = days
            .iter()
            .filter_map(|day| of_day(course, &designs, ratios, clear, *day))
            .map(|said| Said {
                east_deg: found + said.east_deg,
                ..said
            })
            .collect();
        let (middle, _) = middle(&said)?;
        found = middle.clamp(-turn.most_deg(), turn.most_deg());
    }
    together(stop, turn, &said)
}

/// The offers of panels that stand so.
pub fn straightened(course: Course<'_>, found: &[Askew]) -> Vec<Offer> {
    let designs: Vec<(usize, Design)> = found
        .iter()
        .map(|askew| {
            (
                askew.stop,
                turned(course.design, askew.turn, askew.east_deg),
            )
        })
        .collect();
    (0..course.grid.moments)
        .map(|moment| {
            let stop = stop_of(course, moment);
            match designs.iter().find(|design| design.0 == stop) {
                Some((_, design)) => in_moment(course, design, moment),
                None => course.offers[moment],
            }
        })
        .collect()
}

fn in_moment(course: Course<'_>, design: &Design, moment: usize) -> Offer {
    let Course {
        calendar,
        grid,
        route,
        ..
    } = course;
    offer::in_moment(design, calendar, grid, route, moment, DEFAULT_TURBIDITY)
}

fn stop_of(course: Course<'_>, moment: usize) -> usize {
    let at = course.grid.middle_of(moment) as i64;
    course.design.place.stop_at(at)
}

/// What one day says: degrees to the east, and how firmly.
#[derive(Debug, Clone, Copy)]
struct Said {
    east_deg: f64,
    weight: f64,
}

/// The turn that takes the bend out of a day's clear hours beside the first of two designs, the second of which
/// is turned by the trial: least squares of the logarithm of the ratio on what a degree does to it.
fn of_day(
    course: Course<'_>,
    designs: &[Design; 2],
    ratios: &[Option<f64>],
    clear: &Clear,
    day: usize,
) -> Option<Said> {
    let points: Vec<(f64, f64)> = course
        .grid
        .day(day)
        .filter(|m| clear.clear[*m])
        .filter_map(|m| {
            let ratio = ratios[m].filter(|ratio| *ratio > 0.0)?;
            let [now, next] = designs
                .each_ref()
                .map(|design| in_moment(course, design, m).output_w.max(1e-3));
            let left = ratio * course.offers[m].output_w / now;
            Some(((next / now).ln() / TRIAL_DEG, left.ln()))
        })
        .collect();
    let n = points.len().max(1) as f64;
    let mean = |of: fn(&(f64, f64)) -> f64| points.iter().map(of).sum::<f64>() / n;
    let (x, y) = (mean(|p| p.0), mean(|p| p.1));
    let squares: f64 = points.iter().map(|p| (p.0 - x).powi(2)).sum();
    let products: f64 = points.iter().map(|p| (p.0 - x) * (p.1 - y)).sum();
    (squares > 0.0).then(|| Said {
        east_deg: products / squares,
        weight: squares,
    })
}

/// The days' weighted mean and their scatter about it, degrees.
fn middle(said: &[Said]) -> Option<(f64, f64)> {
    let weight: f64 = said.iter().map(|s| s.weight).sum();
    if weight <= 0.0 {
        return None;
    }
    let mean = said.iter().map(|s| s.weight * s.east_deg).sum::<f64>() / weight;
    let apart = |s: &Said| s.weight * (s.east_deg - mean).powi(2);
    Some((mean, (said.iter().map(apart).sum::<f64>() / weight).sqrt()))
}

/// How the panels stand at a place, where its days agree.
fn together(stop: usize, turn: Turn, said: &[Said]) -> Option<Askew> {
    let (east_deg, scatter) = middle(said)?;
    let told = said.len() >= LEAST_DAYS
        && (turn.least_deg()..=turn.most_deg()).contains(&east_deg.abs())
        && scatter <= ALIKE * east_deg.abs();
    told.then_some(Askew {
        stop,
        east_deg,
        turn,
        days: said.len(),
    })
}

/// Tilt and facing of the panels at a stop, degrees; `None` without an array.
fn plane_at(design: &Design, stop: usize) -> Option<(f64, f64)> {
    let array = design.arrays.first()?;
    let spot = match stop.checked_sub(1) {
        Some(leg) => &design.place.legs.get(leg)?.1,
        None => &design.place.base,
    };
    Some((
        spot.tilt_deg.unwrap_or(array.tilt_deg),
        spot.facing_deg.unwrap_or(array.facing_deg),
    ))
}

/// The design with every array turned to the east.
fn turned(design: &Design, turn: Turn, east_deg: f64) -> Design {
    let mut design = design.clone();
    let own = design.arrays.first().map(|a| (a.tilt_deg, a.facing_deg));
    for array in &mut design.arrays {
        let plane = (array.tilt_deg, array.facing_deg);
        (array.tilt_deg, array.facing_deg) = turn::eastward(plane, turn, east_deg);
    }
    let at = |spot: &mut Spot| {
        if let Some((tilt, facing)) = own
            && (spot.tilt_deg.is_some() || spot.facing_deg.is_some())
        {
            let plane = (
                spot.tilt_deg.unwrap_or(tilt),
                spot.facing_deg.unwrap_or(facing),
            );
            let (tilt, facing) = turn::eastward(plane, turn, east_deg);
            (spot.tilt_deg, spot.facing_deg) = (Some(tilt), Some(facing));
        }
    };
    at(&mut design.place.base);
    design.place.legs.iter_mut().for_each(|leg| at(&mut leg.1));
    design
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_that_differ_show_no_lean() {
        let said = |east_deg: f64| Said {
            east_deg,
            weight: 1.0,
        };
        let together = |stop: usize, days: &[Said]| together(stop, Turn::of((0.0, 180.0)), days);
        assert_eq!(together(0, &[said(2.0)]), None);
        assert_eq!(together(0, &[said(3.0), said(-1.0), said(0.5)]), None);
        let found = together(1, &[said(3.0), said(2.0), said(2.5)]);
        let found = found.filter(|f| (f.east_deg - 2.5).abs() < 1e-9);
        assert_eq!(found.map(|f| (f.stop, f.days)), Some((1, 3)));
    }
}
