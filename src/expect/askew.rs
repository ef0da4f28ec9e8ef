//! How far panels stand askew to the east or west of what the design says, from the course of clear days:
//! a lean to the side gives more in the morning and less in the evening, or the other way. It is taken into
//! the offer; a lean towards the noon sun moves whole days alike, like a stronger array, and can't be told
//! from one. What a wrong clock bends looks the same by day: first and last light tell that apart, and are
//! held against the design as it stands.

use crate::calendar::Calendar;
use crate::design::{Design, Spot};
use crate::expect::clear::{Clear, DayScale};
use crate::expect::grid::Grid;
use crate::expect::offer::{self, Offer};
use crate::expect::route::Route;
use crate::physics::sky::DEFAULT_TURBIDITY;

/// Clear hours of a day that shows a lean.
const LEAST_H: f64 = 3.0;
/// Days at one place that must show it.
const LEAST_DAYS: usize = 2;
/// The days' leans scatter by at most this share of it about it.
const ALIKE: f64 = 0.5;
/// Leans from here on are worth reckoning with, degrees,
const LEAST_DEG: f64 = 0.7;
/// and up to here believed: as far as a facing wrong by 25 degrees turns a roof of 35.
const MOST_DEG: f64 = 15.0;
/// The lean by which the effect of one is reckoned, degrees.
const TRIAL_DEG: f64 = 2.0;

/// Panels askew at one place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Askew {
    /// The place: 0 the design's first, then its legs.
    pub stop: usize,
    /// Degrees by which they lean to the east; negative to the west.
    pub east_deg: f64,
    /// Clear days that show it.
    pub days: usize,
}

/// What a lean is found from.
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
    let leaned = leaned(course.design, TRIAL_DEG);
    let mut by_stop: Vec<(usize, Vec<Lean>)> = Vec::new();
    for (day, scale) in clear.days.iter().enumerate() {
        let Some(lean) = scale
            .as_ref()
            .and_then(|scale| of_day(course, &leaned, ratios, clear, day, scale))
        else {
            continue;
        };
        let stop = stop_of(course, course.grid.day(day).start);
        match by_stop.iter_mut().find(|group| group.0 == stop) {
            Some(group) => group.1.push(lean),
            None => by_stop.push((stop, vec![lean])),
        }
    }
    by_stop
        .iter()
        .filter_map(|(stop, leans)| together(*stop, leans))
        .collect()
}

/// The offers of panels that stand so.
pub fn straightened(course: Course<'_>, found: &[Askew]) -> Vec<Offer> {
    let designs: Vec<(usize, Design)> = found
        .iter()
        .map(|askew| (askew.stop, leaned(course.design, askew.east_deg)))
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

/// A lean of one day, degrees east, and how firmly it shows.
#[derive(Debug, Clone, Copy)]
struct Lean {
    east_deg: f64,
    weight: f64,
}

/// The lean that takes the bend out of a day's clear hours: least squares of the logarithm of the ratio on
/// what a degree does to it.
fn of_day(
    course: Course<'_>,
    leaned: &Design,
    ratios: &[Option<f64>],
    clear: &Clear,
    day: usize,
    scale: &DayScale,
) -> Option<Lean> {
    if scale.clear_h < LEAST_H {
        return None;
    }
    let points: Vec<(f64, f64)> = course
        .grid
        .day(day)
        .filter(|m| clear.clear[*m])
        .filter_map(|m| {
            let ratio = ratios[m].filter(|ratio| *ratio > 0.0)?;
            let gained = in_moment(course, leaned, m).output_w / course.offers[m].output_w;
            Some((gained.max(1e-3).ln() / TRIAL_DEG, ratio.ln()))
        })
        .collect();
    let n = points.len().max(1) as f64;
    let mean = |of: fn(&(f64, f64)) -> f64| points.iter().map(of).sum::<f64>() / n;
    let (x, y) = (mean(|p| p.0), mean(|p| p.1));
    let squares: f64 = points.iter().map(|p| (p.0 - x).powi(2)).sum();
    let products: f64 = points.iter().map(|p| (p.0 - x) * (p.1 - y)).sum();
    (squares > 0.0).then(|| Lean {
        east_deg: products / squares,
        weight: squares,
    })
}

/// The lean of a place, where its days agree.
fn together(stop: usize, leans: &[Lean]) -> Option<Askew> {
    let weight: f64 = leans.iter().map(|l| l.weight).sum();
    let east_deg = leans.iter().map(|l| l.weight * l.east_deg).sum::<f64>() / weight;
    let apart = |l: &Lean| l.weight * (l.east_deg - east_deg).powi(2);
    let scatter = (leans.iter().map(apart).sum::<f64>() / weight).sqrt();
    let told = leans.len() >= LEAST_DAYS
        && (LEAST_DEG..=MOST_DEG).contains(&east_deg.abs())
        && scatter <= ALIKE * east_deg.abs();
    told.then_some(Askew {
        stop,
        east_deg,
        days: leans.len(),
    })
}

/// The design with every array leaned to the east.
fn leaned(design: &Design, east_deg: f64) -> Design {
    let mut design = design.clone();
    let own = design.arrays.first().map(|a| (a.tilt_deg, a.facing_deg));
    for array in &mut design.arrays {
        (array.tilt_deg, array.facing_deg) = turned(array.tilt_deg, array.facing_deg, east_deg);
    }
    let lean = |spot: &mut Spot| {
        if let Some((tilt, facing)) = own
            && (spot.tilt_deg.is_some() || spot.facing_deg.is_some())
        {
            let tilt = spot.tilt_deg.unwrap_or(tilt);
            let (tilt, facing) = turned(tilt, spot.facing_deg.unwrap_or(facing), east_deg);
            (spot.tilt_deg, spot.facing_deg) = (Some(tilt), Some(facing));
        }
    };
    lean(&mut design.place.base);
    design
        .place
        .legs
        .iter_mut()
        .for_each(|leg| lean(&mut leg.1));
    design
}

/// Tilt and bearing of a plane turned about the line from south to north.
fn turned(tilt_deg: f64, facing_deg: f64, east_deg: f64) -> (f64, f64) {
    let (tilt, facing, lean) = (
        tilt_deg.to_radians(),
        facing_deg.to_radians(),
        east_deg.to_radians(),
    );
    let (east, north, up) = (
        tilt.sin() * facing.sin(),
        tilt.sin() * facing.cos(),
        tilt.cos(),
    );
    let (east, up) = (
        east * lean.cos() + up * lean.sin(),
        up * lean.cos() - east * lean.sin(),
    );
    (
        up.clamp(-1.0, 1.0).acos().to_degrees(),
        east.atan2(north).to_degrees().rem_euclid(360.0),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_flat_array_that_leans_east_looks_east() {
        let (tilt, facing) = turned(0.0, 180.0, 3.0);
        assert!((tilt - 3.0).abs() < 1e-9 && (facing - 90.0).abs() < 1e-9);
        let (tilt, facing) = turned(0.0, 180.0, -3.0);
        assert!((tilt - 3.0).abs() < 1e-9 && (facing - 270.0).abs() < 1e-9);
    }

    #[test]
    fn one_that_looks_west_is_flattened_by_it_and_back_again() {
        let (tilt, facing) = turned(20.0, 270.0, 5.0);
        assert!((tilt - 15.0).abs() < 1e-9 && (facing - 270.0).abs() < 1e-9);
        let (tilt, facing) = turned(30.0, 140.0, 4.0);
        let back = turned(tilt, facing, -4.0);
        assert!((back.0 - 30.0).abs() < 1e-9 && (back.1 - 140.0).abs() < 1e-9);
    }

    #[test]
    fn days_that_differ_show_no_lean() {
        let lean = |east_deg: f64| Lean {
            east_deg,
            weight: 1.0,
        };
        assert_eq!(together(0, &[lean(2.0)]), None);
        assert_eq!(together(0, &[lean(3.0), lean(-1.0), lean(0.5)]), None);
        let found = together(1, &[lean(3.0), lean(2.0), lean(2.5)]);
        let found = found.filter(|f| (f.east_deg - 2.5).abs() < 1e-9);
        assert_eq!(found.map(|f| (f.stop, f.days)), Some((1, 3)));
    }
}
