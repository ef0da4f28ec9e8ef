//! What the design would have given, moment by moment, and what ruled each moment.

pub mod air;
pub mod askew;
pub mod between_stops;
pub mod branch;
pub mod clear;
mod dip;
pub mod grid;
pub mod haze;
pub mod limit;
pub mod month;
pub mod offer;
mod part_shade;
pub mod regime;
pub mod route;
pub mod setpoints;
pub mod shade;
pub mod signals;
mod standing;
pub mod turn;

use std::borrow::Cow;

use chrono::NaiveDate;

use crate::calendar::Calendar;
use crate::design::{Array, Design, Spot};
use crate::timeline::Timeline;

pub use air::Air;
pub use askew::Askew;
pub use branch::Branch;
pub use clear::{Clear, DayScale};
pub use grid::{Folded, Grid, STEP_S};
pub use haze::Haze;
pub use offer::Offer;
pub use regime::Regime;
pub use shade::{Shade, Shadow};
pub use signals::Signals;

/// Everything that is known of every moment before accounts are drawn up.
#[derive(Debug, Clone, PartialEq)]
pub struct Expectation {
    /// The moments.
    pub grid: Grid,
    /// What was measured.
    pub signals: Signals,
    /// What a clear sky would have given, with the air as planned, on panels that stand as they are seen to.
    pub offers: Vec<Offer>,
    /// Where they are seen to stand askew.
    pub askew: Vec<Askew>,
    /// Absorption voltage at 25 C that full charges are judged by, V.
    pub absorption_v: f64,
    /// How far the trip's clear sky may lie from those, by the air of the place.
    pub air: Air,
    /// The same by the air that is usual where such systems stand.
    pub usual_air: Air,
    /// Current the controllers stop at together, A; infinity where neither design nor log says.
    pub limit_a: f64,
    /// Each controller by itself, where they were logged apart; empty otherwise.
    pub branches: Vec<Branch>,
    /// What ruled each moment.
    pub regimes: Vec<Regime>,
    /// Shade that comes back with the sun.
    pub shade: Shade,
    /// Clear moments and the array's scale, shade left out.
    pub clear: Clear,
    /// Of days whose clear moments gave too little, by their place in the grid: what haze has to do with it.
    pub haze: Vec<Option<Haze>>,
}

impl Expectation {
    /// The highest voltage at a controller that holds one in a moment, V; `None` where none of them was logged.
    pub fn held_v(&self, moment: usize) -> Option<f64> {
        if self.branches.is_empty() {
            let held = self.regimes[moment] == Regime::Held;
            return self
                .signals
                .charge_v
                .as_ref()?
                .mean(moment)
                .filter(|_| held);
        }
        let holding = self
            .branches
            .iter()
            .filter(|b| b.regimes[moment] == Regime::Held);
        let volts = holding.filter_map(|b| b.regulated_v.as_ref()?.mean(moment));
        volts.max_by(f64::total_cmp)
    }

    /// Of a moment in which a voltage was held, or charge refused: the arrays that it was so for, share of a clear
    /// sky's output.
    pub fn held_share(&self, moment: usize) -> f64 {
        let held = |b: &&Branch| matches!(b.regimes[moment], Regime::Held | Regime::Refused);
        let of_branches: f64 = self
            .branches
            .iter()
            .filter(held)
            .map(|b| f64::from(b.share[moment]))
            .sum();
        if of_branches > 0.0 {
            of_branches.min(1.0)
        } else {
            1.0
        }
    }

    /// What some of the design's arrays would have given by themselves under a clear sky, W a moment.
    pub fn clear_w_of(
        &self,
        design: &Design,
        calendar: &Calendar,
        of: impl FnMut(&Array) -> bool,
    ) -> Vec<f32> {
        let mut some = design.clone();
        some.arrays.retain(of);
        let route = self.signals.route.as_ref();
        offer::clear_offers(&some, calendar, &self.grid, route)
            .iter()
            .map(|offer| offer.output_w as f32)
            .collect()
    }

    /// Where the system was at a moment: as logged, else as designed.
    pub fn spot<'d>(&self, design: &'d Design, moment: usize) -> Cow<'d, Spot> {
        let designed = design.place.at(self.grid.middle_of(moment) as i64);
        let route = self.signals.route.as_ref();
        route
            .and_then(|route| route.spot(moment, designed))
            .map_or(Cow::Borrowed(designed), Cow::Owned)
    }

    /// Works out the expectation for whole local days from `first` to `last`.
    pub fn new(
        design: &Design,
        calendar: &Calendar,
        timeline: &Timeline,
        first: NaiveDate,
        last: NaiveDate,
    ) -> Self {
        let grid = Grid::new(calendar, first, last);
        let signals = Signals::new(design, timeline, &grid);
        let mut offers = offer::clear_offers(design, calendar, &grid, signals.route.as_ref());
        let branches = branch::logged_apart(design, calendar, timeline, &grid, &signals, &offers);
        let limit_a = match branches.len() == design.controllers.len() {
            true => branches.iter().map(|branch| branch.limit_a).sum(),
            false => limit::limit_a(design, &grid, signals.charge_a.as_ref(), &offers),
        };
        let mut regimes = regime::regimes(design, &grid, &signals, &offers, limit_a);
        if signals.unwatched.is_empty() {
            regimes = branch::together(regimes, &branches);
        }
        let absorption_v = regime::absorption_v(design, &grid, &signals, &offers);
        let seen = |offers: &[Offer]| {
            shade_and_clear(design, &grid, &signals, offers, &regimes, &branches)
        };
        let (mut shade, mut clear) = seen(&offers);
        let course = askew::Course {
            design,
            calendar,
            grid: &grid,
            route: signals.route.as_ref(),
            offers: &offers,
        };
        let (air, usual_air) = (Air::anywhere(course), Air::usual(course));
        let ratios = clear::ratios(design, &signals, &offers, &regimes);
        let askew = askew::find(course, &ratios, &clear);
        if !askew.is_empty() {
            offers = askew::straightened(course, &askew);
            (shade, clear) = seen(&offers);
        }
        between_stops::widen(&mut clear, design, &grid, &offers, usual_air);
        let haze = haze::judge(design, calendar, &grid, &signals, &offers, &clear);
        Self {
            haze,
            grid,
            signals,
            offers,
            askew,
            air,
            usual_air,
            absorption_v,
            limit_a,
            branches,
            regimes,
            shade,
            clear,
        }
    }
}

/// The stop of a day by its noon: 0 the design's first place, then its legs.
pub fn stop_of_day(design: &Design, grid: &Grid, day: usize) -> usize {
    let moments = grid.day(day);
    let noon = grid.time_of(usize::midpoint(moments.start, moments.end));
    design.place.stop_at(noon)
}

/// Shade that comes back, and the clear moments outside of it.
fn shade_and_clear(
    design: &Design,
    grid: &Grid,
    signals: &Signals,
    offers: &[Offer],
    regimes: &[Regime],
    branches: &[Branch],
) -> (Shade, Clear) {
    let first = clear::fit(design, grid, signals, offers, regimes, |_| false);
    let mut shade = shade::find(design, grid, signals, offers, regimes, &first);
    part_shade::add(&mut shade, design, grid, signals, offers, branches);
    if shade.shadows.is_empty() {
        return (shade, first);
    }
    let clear = clear::fit(design, grid, signals, offers, regimes, |m| {
        shade.over(m).is_some()
    });
    (shade, clear)
}
