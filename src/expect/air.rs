//! How far the sum of a clear sky over a trip may lie from the one reckoned, by the air of the place and by what
//! models of it stand apart: both are the same on every day, so more days make it no surer.

use crate::calendar::Calendar;
use crate::design::Design;
use crate::expect::grid::Grid;
use crate::expect::offer::{self, Offer};
use crate::expect::route::Route;
use crate::physics::sky::model_band;

/// Turbidities of nine in ten places (trade reference 2.3: from very clean cold air to a city's or hot and humid).
const TURBIDITY: (f64, f64) = (2.0, 5.0);
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
    /// By the panels and the sun of the trip: haze takes more of a low sun.
    pub fn of(
        design: &Design,
        calendar: &Calendar,
        grid: &Grid,
        offers: &[Offer],
        route: Option<&Route>,
    ) -> Self {
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
            hazy += through(TURBIDITY.1);
            clean += through(TURBIDITY.0);
        }
        if reckoned <= 0.0 {
            return Self {
                below: 0.0,
                above: 0.0,
            };
        }
        let model = apart / reckoned;
        Self {
            below: model.hypot((1.0 - hazy / reckoned).max(0.0)),
            above: model.hypot((clean / reckoned - 1.0).max(0.0)),
        }
    }
}
