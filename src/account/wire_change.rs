//! The day on which the controller-to-bank run changed, if it did: two lines, before and since, where
//! they explain the readings best.

use crate::account::wire::{NotMeasurable, Readings, RunFit, Side, fit, readings, refuse};
use crate::design::Design;
use crate::expect::Expectation;
use crate::timeline::Timeline;

/// Fewest days on either side: one day can be an odd one.
const LEAST_DAYS: usize = 2;
/// Readings that make a day count.
const DAY_READINGS: f64 = 10.0;

/// The run before and since a day.
#[derive(Debug, Clone, PartialEq)]
pub struct RunChange {
    /// Measured on the days before.
    pub before: RunFit,
    /// Measured from that day on; its `from_day` is the day.
    pub after: RunFit,
}

impl RunChange {
    /// Whether the resistance rose beyond doubt: both 90 % intervals apart.
    pub fn rose(&self) -> bool {
        self.after.resistance_mohm.low > self.before.resistance_mohm.high
    }

    /// How much it rose, mohm.
    pub fn rise_mohm(&self) -> f64 {
        self.after.resistance_mohm.value - self.before.resistance_mohm.value
    }
}

/// Finds the day that parts the readings of a controller's run best into two lines, and measures both.
///
/// # Errors
/// Where the run cannot be measured on both sides of any day.
pub fn find(
    design: &Design,
    timeline: &Timeline,
    expected: &Expectation,
    side: Side<'_>,
) -> Result<RunChange, NotMeasurable> {
    let readings = readings(timeline, expected, side)?;
    let day = best_split(&readings).ok_or_else(|| {
        refuse(
            "both voltages were read under current on too few days to compare days",
            "both logs over at least four days with sun",
        )
    })?;
    Ok(RunChange {
        before: fit(design, expected, &readings.before(day), 0)?,
        after: fit(design, expected, &readings.since(day), day as usize)?,
    })
}

/// Sums of one day, from which a least-squares line and its rest follow.
#[derive(Debug, Clone, Copy, Default)]
struct Sums {
    n: f64,
    x: f64,
    y: f64,
    xx: f64,
    xy: f64,
    yy: f64,
}

impl Sums {
    fn take(&mut self, x: f64, y: f64) {
        self.join(&Sums {
            n: 1.0,
            x,
            y,
            xx: x * x,
            xy: x * y,
            yy: y * y,
        });
    }

    fn join(&mut self, other: &Sums) {
        self.n += other.n;
        self.x += other.x;
        self.y += other.y;
        self.xx += other.xx;
        self.xy += other.xy;
        self.yy += other.yy;
    }

    /// Sum of squares about the best line; about the mean where x does not vary.
    fn rest(&self) -> f64 {
        let sxx = self.xx - self.x * self.x / self.n;
        let sxy = self.xy - self.x * self.y / self.n;
        let syy = self.yy - self.y * self.y / self.n;
        if sxx > 0.0 {
            syy - sxy * sxy / sxx
        } else {
            syy
        }
    }
}

/// The first day of the later part, where two lines leave the least rest.
fn best_split(readings: &Readings) -> Option<u32> {
    let mut days: Vec<(u32, Sums)> = Vec::new();
    for ((x, y), day) in readings
        .amps
        .iter()
        .zip(&readings.drops)
        .zip(&readings.days)
    {
        if days.last().is_none_or(|last| last.0 != *day) {
            days.push((*day, Sums::default()));
        }
        if let Some(last) = days.last_mut() {
            last.1.take(*x, *y);
        }
    }
    days.retain(|d| d.1.n >= DAY_READINGS);
    let total = |part: &[(u32, Sums)]| {
        let mut sum = Sums::default();
        part.iter().for_each(|d| sum.join(&d.1));
        sum.rest()
    };
    (LEAST_DAYS..=days.len().checked_sub(LEAST_DAYS)?)
        .map(|k| (days[k].0, total(&days[..k]) + total(&days[k..])))
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .map(|best| best.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_lines_part_where_the_slope_changes() {
        let mut readings = Readings::default();
        for day in 0..9 {
            for k in 0..20 {
                let amps = f64::from(k);
                let ohm = if day < 6 { 0.01 } else { 0.03 };
                readings.amps.push(amps);
                readings.drops.push(0.02 + ohm * amps);
                readings.days.push(day);
            }
        }
        assert_eq!(best_split(&readings), Some(6));
        assert_eq!(best_split(&readings.before(3)), None);
    }
}
