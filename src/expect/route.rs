//! Where the system was, as a log of its position says.

use crate::design::Spot;
use crate::expect::grid::{Folded, Grid, STEP_S};

/// Without a fix the last one holds for so long, seconds: a day.
const HOLDS_S: i64 = 86_400;
/// Nearer to 0 N 0 E than this, degrees, a receiver has no fix rather than a place in the sea.
const NO_FIX_DEG: f64 = 0.01;

/// Logged positions on the grid: degrees north and east; `None` where none is known.
#[derive(Debug, Clone, PartialEq)]
pub struct Route {
    fixes: Vec<Option<(f32, f32)>>,
}

impl Route {
    /// The positions of two signals; `None` where they hold no fix at all.
    pub fn new(grid: &Grid, latitude: &Folded, longitude: &Folded) -> Option<Self> {
        let mut last = None;
        let fixes: Vec<_> = (0..grid.moments)
            .map(|m| {
                if let Some(fix) = fix(latitude, longitude, m) {
                    last = Some((m, fix));
                }
                let (at, fix) = last?;
                ((m - at) as i64 * STEP_S <= HOLDS_S).then_some(fix)
            })
            .collect();
        fixes.iter().any(Option::is_some).then_some(Self { fixes })
    }

    /// The design's spot, moved to where the log says the system was.
    pub fn spot(&self, moment: usize, designed: &Spot) -> Option<Spot> {
        let (latitude, longitude) = self.fixes.get(moment).copied().flatten()?;
        Some(Spot {
            latitude_deg: f64::from(latitude),
            longitude_deg: f64::from(longitude),
            note: None,
            ..designed.clone()
        })
    }

    /// Moments with a position.
    pub fn known(&self) -> usize {
        self.fixes.iter().flatten().count()
    }
}

fn fix(latitude: &Folded, longitude: &Folded, moment: usize) -> Option<(f32, f32)> {
    let one = |folded: &Folded| {
        let (low, high) = (folded.min[moment], folded.max[moment]);
        // Across the date line the middle of 179 and -179 would be Greenwich.
        let apart = high - low > 180.0;
        low.is_finite().then(|| {
            if apart {
                high
            } else {
                f32::midpoint(low, high)
            }
        })
    };
    let (north, east) = (one(latitude)?, one(longitude)?);
    let at_sea = f64::from(north.abs().max(east.abs())) < NO_FIX_DEG;
    (north.abs() <= 90.0 && east.abs() <= 180.0 && !at_sea).then_some((north, east))
}
