//! Haze or a loss of the array's: on a clear day that gave too little, the one weighs with the air the
//! light came through, the other takes the same share all day.
//!
//! A clear day's output is held against that of well days at the same hour, so that horizon, lean and the
//! model's own errors drop out. The logarithm of what is left falls with [`Offer`]'s loss by one unit of
//! turbidity where haze took it; it is level where a string or a panel is gone.

use crate::calendar::Calendar;
use crate::design::Design;
use crate::expect::clear::{Clear, WELL};
use crate::expect::grid::Grid;
use crate::expect::offer::{self, Offer};
use crate::expect::signals::Signals;
use crate::expect::stop_of_day;
use crate::physics::sky::{self, model_band};
use crate::stats::quantile::median;
use crate::stats::student::Z90;

/// Moments in an hour: sky and array keep their errors for about so long.
const HOUR: usize = 12;
/// Fewest clear moments by which an hour counts.
const LEAST: usize = 4;
/// Clear moments of well days up to this many moments away stand for the same hour.
const NEAR: usize = 3;
/// Standard deviation between two clear days of one array at one hour, share: heat, dirt, lean.
const HOURLY: f64 = 0.03;
/// Turbidity beyond the well days' that still is ordinary haze: from clean air, 2, to the haze of summer
/// and of valleys, 5 (trade reference 2.3), and as far again into dust and smoke, of which 5 to 8 are told.
pub const MOST_HAZE: f64 = 4.0;

/// What a clear day's shortfall looks like.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Haze {
    /// Turbidity beyond the well days' that would best explain it, 0 to [`MOST_HAZE`].
    pub turbidity: f64,
    /// How much better one share lost all day fits than that haze: difference of the squared standard
    /// deviations. Negative where haze fits better.
    pub favours_loss: f64,
}

/// Between haze and a loss one must fit better by so much, in squared standard deviations: by chance it
/// does once in seventy times.
pub const SURE: f64 = 6.0;

impl Haze {
    /// Whether haze alone explains the day, and a loss does not.
    pub fn is_plain(&self) -> bool {
        self.favours_loss < -SURE
    }

    /// Whether a loss explains the day, and no haze does.
    pub fn is_loss(&self) -> bool {
        self.favours_loss > SURE
    }
}

/// The days, by their place in the grid, whose clear moments gave clearly less than usual; `None` elsewhere,
/// and everywhere where no day was well: against the model alone haze and a loss look too much alike.
pub fn judge(
    design: &Design,
    calendar: &Calendar,
    grid: &Grid,
    signals: &Signals,
    offers: &[Offer],
    clear: &Clear,
) -> Vec<Option<Haze>> {
    let output = Output {
        signals,
        offers,
        clear,
    };
    let is_low = |day: usize| {
        let scale = clear.days[day]?;
        Some(scale.ratio / clear.healthy < WELL)
    };
    let well: Vec<usize> = (0..grid.dates.len())
        .filter(|day| is_low(*day) == Some(false))
        .collect();
    (0..grid.dates.len())
        .map(|day| {
            if well.is_empty() || is_low(day) != Some(true) {
                return None;
            }
            let hazier = |moment: usize| {
                let spot = signals.route.as_ref();
                let through = |turbidity: f64| {
                    let offer = offer::in_moment(design, calendar, grid, spot, moment, turbidity);
                    offer.output_w.max(1e-9)
                };
                (through(sky::DEFAULT_TURBIDITY) / through(sky::DEFAULT_TURBIDITY + 1.0)).ln()
            };
            // Elsewhere panels lean otherwise, which bends a day as haze does.
            let stop = stop_of_day(design, grid, day);
            let here = well.iter().copied();
            let here: Vec<usize> = here
                .filter(|well| stop_of_day(design, grid, *well) == stop)
                .collect();
            of_hours(&hours(grid, &output, &here, day, hazier))
        })
        .collect()
}

/// What the controllers gave of a clear sky.
struct Output<'e> {
    signals: &'e Signals,
    offers: &'e [Offer],
    clear: &'e Clear,
}

impl Output<'_> {
    /// Logarithm of the ratio in a clear moment.
    fn log_ratio(&self, moment: usize) -> Option<f64> {
        let watts = self.signals.harvest.as_ref()?.mean(moment)?;
        let ratio = watts / self.offers[moment].output_w;
        (*self.clear.clear.get(moment)? && ratio > 0.0).then(|| ratio.ln())
    }
}

/// An hour of a day against the same of well days.
#[derive(Debug, Clone, Copy)]
struct Hour {
    /// Logarithm of what is left.
    left: f64,
    /// What one unit of turbidity takes of its logarithm.
    per_turbidity: f64,
    /// Standard deviation of the first.
    error: f64,
}

fn hours(
    grid: &Grid,
    output: &Output,
    well: &[usize],
    day: usize,
    hazier: impl Fn(usize) -> f64,
) -> Vec<Hour> {
    let moments: Vec<usize> = grid.day(day).collect();
    moments
        .chunks(HOUR)
        .filter_map(|hour| {
            let seen: Vec<(usize, f64)> = hour
                .iter()
                .filter_map(|m| Some((*m, output.log_ratio(*m)?)))
                .collect();
            if seen.len() < LEAST {
                return None;
            }
            let middle = seen[seen.len() / 2].0;
            let usual: Vec<f64> = seen
                .iter()
                .filter_map(|(m, _)| usual(grid, output, well, m - moments[0]))
                .collect();
            let level = median(&seen.iter().map(|s| s.1).collect::<Vec<_>>())?;
            let (usual, error) = match median(&usual) {
                Some(usual) => (usual, HOURLY),
                // No well day shows that hour: it rests on the model alone.
                None => (
                    output.clear.healthy.ln(),
                    model_band(output.offers[middle].elevation_deg) / Z90,
                ),
            };
            Some(Hour {
                left: level - usual,
                per_turbidity: hazier(middle),
                error,
            })
        })
        .collect()
}

/// Logarithm of the ratio on well days so far into the day.
fn usual(grid: &Grid, output: &Output, well: &[usize], into: usize) -> Option<f64> {
    let days: Vec<f64> = well
        .iter()
        .filter_map(|day| {
            let range = grid.day(*day);
            let at = range.start + into;
            let near = at.saturating_sub(NEAR).max(range.start)..(at + NEAR + 1).min(range.end);
            let seen: Vec<f64> = near.filter_map(|m| output.log_ratio(m)).collect();
            median(&seen)
        })
        .collect();
    median(&days)
}

/// Fits haze and a level loss to the hours of a day; `None` without any.
fn of_hours(hours: &[Hour]) -> Option<Haze> {
    let weight = |h: &Hour| h.error.powi(-2);
    let sum = |f: fn(&Hour) -> f64| hours.iter().map(|h| weight(h) * f(h)).sum::<f64>();
    let all = sum(|_| 1.0);
    if all <= 0.0 {
        return None;
    }
    let squares = sum(|h| h.per_turbidity * h.per_turbidity).max(1e-12);
    let turbidity = (-sum(|h| h.left * h.per_turbidity) / squares).clamp(0.0, MOST_HAZE);
    let level = sum(|h| h.left) / all;
    let misfit = |of: &dyn Fn(&Hour) -> f64| -> f64 {
        hours
            .iter()
            .map(|h| weight(h) * (h.left - of(h)).powi(2))
            .sum()
    };
    let haze = misfit(&|h| -turbidity * h.per_turbidity);
    Some(Haze {
        turbidity,
        favours_loss: haze - misfit(&|_| level),
    })
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    /// Hours from a sun of some degrees to the next, with what is left of them.
    fn hours_of(left: impl Fn(f64) -> f64) -> Vec<Hour> {
        [12.5, 16.0, 18.5, 18.5, 16.0, 12.5]
            .into_iter()
            .map(|degrees| {
                let per_turbidity = 0.04 * sky::air_mass(90.0 - degrees);
                Hour {
                    left: left(per_turbidity),
                    per_turbidity,
                    error: HOURLY,
                }
            })
            .collect()
    }

    #[test]
    fn haze_weighs_with_the_air_and_a_lost_string_does_not() {
        let hazy = of_hours(&hours_of(|per_turbidity| -2.0 * per_turbidity)).unwrap();
        assert!((hazy.turbidity - 2.0).abs() < 1e-9);
        assert!(hazy.is_plain() && !hazy.is_loss());
        let lost = of_hours(&hours_of(|_| (0.75f64).ln())).unwrap();
        assert!(lost.is_loss() && !lost.is_plain());
    }

    #[test]
    fn no_haze_takes_half_of_a_clear_day() {
        let lost = of_hours(&hours_of(|per_turbidity| -8.0 * per_turbidity)).unwrap();
        assert_eq!(lost.turbidity, MOST_HAZE);
        assert!(lost.is_loss());
    }

    #[test]
    fn an_hour_about_noon_tells_neither() {
        let noon = &hours_of(|per_turbidity| -2.0 * per_turbidity)[2..4];
        let haze = of_hours(noon).unwrap();
        assert!(!haze.is_plain() && !haze.is_loss());
        assert_eq!(of_hours(&[]), None);
    }
}
