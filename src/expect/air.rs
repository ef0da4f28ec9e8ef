//! How far the sum of a clear sky over a trip may lie from the one reckoned, by the air of the place: it is
//! the same air on every day, so more days make it no surer.

use crate::calendar::Calendar;
use crate::design::Design;
use crate::expect::grid::Grid;
use crate::expect::offer::{self, Offer};
use crate::expect::route::Route;

/// Turbidities of nine in ten places where such systems stand (trade reference 2.3: winter in the country
/// from 2.3, humid coasts 3.5 to 4.8; a city's and a desert's are beyond).
const TURBIDITY: (f64, f64) = (2.3, 4.5);
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
        let (mut reckoned, mut hazy, mut clean) = (0.0, 0.0, 0.0);
        let lit = (0..grid.moments)
            .step_by(EVERY)
            .filter(|m| offers[*m].output_w > 0.0);
        for moment in lit {
            let through = |turbidity: f64| {
                offer::in_moment(design, calendar, grid, route, moment, turbidity).output_w
            };
            reckoned += offers[moment].output_w;
            hazy += through(TURBIDITY.1);
            clean += through(TURBIDITY.0);
        }
        if reckoned <= 0.0 {
            return Self {
                below: 0.0,
                above: 0.0,
            };
        }
        Self {
            below: (1.0 - hazy / reckoned).max(0.0),
            above: (clean / reckoned - 1.0).max(0.0),
        }
    }
}
