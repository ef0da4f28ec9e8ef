//! How far the sum of a clear sky over a trip may lie from the one reckoned, by the air of the place and by what
//! models of it stand apart: both are the same on every day, so more days make it no surer.

use crate::expect::askew::Course;
use crate::expect::offer;
use crate::physics::sky::model_band;

/// Turbidities of nine in ten places (trade reference 2.3: from very clean cold air to a city's or hot and humid).
const ANYWHERE: (f64, f64) = (2.0, 5.0);
/// The same of places where such systems stand, in the country and on coasts (winter from 2.3, humid 3.5 to 4.8).
const USUAL: (f64, f64) = (2.3, 4.5);
/// Every so many moments are looked at: once an hour.
const EVERY: usize = 12;

/// How far a trip's clear sky may lie from the one reckoned, shares of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Air {
    /// Below, through hazy air.
    pub below: f64,
    /// Above, through clean air.
    pub above: f64,
}

impl Air {
    /// What it may be anywhere, and what models of the clear sky stand apart: for what is told as a figure.
    pub fn anywhere(course: Course<'_>) -> Self {
        Self::of(course, ANYWHERE, true)
    }

    /// What it usually is, for what clear days are held against, whose bands have the models' differences already.
    pub fn usual(course: Course<'_>) -> Self {
        Self::of(course, USUAL, false)
    }

    /// By the panels and the sun of the trip: haze takes more of a low sun.
    fn of(course: Course<'_>, (clean_air, hazy_air): (f64, f64), with_models: bool) -> Self {
        let Course {
            design,
            calendar,
            grid,
            route,
            offers,
        } = course;
        let (mut reckoned, mut hazy, mut clean, mut apart) = (0.0, 0.0, 0.0, 0.0);
        let lit = (0..grid.moments)
            .step_by(EVERY)
            .filter(|m| offers[*m].output_w > 0.0);
        for moment in lit {
            let through = |turbidity: f64| {
                offer::in_moment(design, calendar, grid, route, moment, turbidity).output_w
            };
            reckoned += offers[moment].output_w;
            apart += model_band(offers[moment].elevation_deg) * offers[moment].output_w;
            hazy += through(hazy_air);
            clean += through(clean_air);
        }
        if reckoned <= 0.0 {
            return Self {
                below: 0.0,
                above: 0.0,
            };
        }
        let models = if with_models { apart / reckoned } else { 0.0 };
        Self {
            below: models.hypot((1.0 - hazy / reckoned).max(0.0)),
            above: models.hypot((clean / reckoned - 1.0).max(0.0)),
        }
    }
}
