//! The sky as an instrument beside the array shows it, where the log has one.
//!
//! Nobody says in which plane it lies or how true it is: both are learned from the moments in which
//! the array's own output shows the sky too.

use crate::account::sky::CAP;
use crate::expect::{Expectation, Folded, Offer};
use crate::quantity::Interval;
use crate::stats::quantile::quantile;

/// Moments in which both must show the sky before the instrument's scale is learned: two hours.
const LEAST: usize = 24;
/// Half the 90 % range of an instrument whose plane is not known, share (assumed: a flat one beside an
/// array tilted by 30 degrees, at noon in summer or spring).
const UNTOLD: f64 = 0.2;
/// Below this height of the sun its plane matters too much, degrees.
const LOWEST_DEG: f64 = 8.0;
/// Share of a moment that it must have been read.
const LEAST_COVER: f64 = 0.5;

/// Shares of the clear sky by the instrument.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Metered {
    /// As it shows them; NaN where it was not read.
    raw: Vec<f32>,
    /// The true share over the one shown, with its spread from moment to moment.
    scale: Interval,
}

impl Metered {
    /// What the log's instrument shows; `None` where there is none. It lies in the array's plane or
    /// flat: in whichever it agrees better with the array's own output.
    pub(super) fn of(expected: &Expectation, seen: &[Option<f64>]) -> Option<Self> {
        let sun = expected.signals.irradiance.as_ref()?;
        let along = Self::under(expected, sun, seen, |offer| offer.plane_wm2);
        let flat = Self::under(expected, sun, seen, |offer| offer.flat_wm2);
        let spread = |one: &Self| (one.scale.high - one.scale.low) / one.scale.value.max(0.01);
        Some(if spread(&flat) < spread(&along) {
            flat
        } else {
            along
        })
    }

    fn under(
        expected: &Expectation,
        sun: &Folded,
        seen: &[Option<f64>],
        clear_wm2: fn(&Offer) -> f64,
    ) -> Self {
        let raw: Vec<f32> = (0..expected.grid.moments)
            .map(|m| {
                let offer = &expected.offers[m];
                let counts = offer.elevation_deg > LOWEST_DEG
                    && clear_wm2(offer) > 0.0
                    && sun.coverage(m) > LEAST_COVER;
                let shown = sun.mean(m).filter(|_| counts);
                shown.map_or(f32::NAN, |wm2| (wm2 / clear_wm2(offer)) as f32)
            })
            .collect();
        let ratios: Vec<f64> = seen
            .iter()
            .zip(&raw)
            .filter_map(|(seen, raw)| Some((*seen)? / f64::from(*raw)))
            .filter(|ratio| ratio.is_finite())
            .collect();
        let scale = if ratios.len() < LEAST {
            Interval::new(1.0, 1.0 - UNTOLD, 1.0 + UNTOLD)
        } else {
            let point = |share: f64| quantile(&ratios, share).unwrap_or(1.0);
            Interval::new(point(0.5), point(0.05), point(0.95))
        };
        Self { raw, scale }
    }

    /// The share of the clear sky at a moment; `None` where it was not read.
    pub(super) fn share(&self, moment: usize) -> Option<Interval> {
        let raw = f64::from(self.raw[moment]);
        let by = |scale: f64| (raw * scale).clamp(0.0, CAP);
        raw.is_finite().then(|| {
            Interval::new(
                by(self.scale.value),
                by(self.scale.low),
                by(self.scale.high),
            )
        })
    }
}
