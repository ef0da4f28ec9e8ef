//! The period rows are taken from, and its minutes.

use super::Request;

/// Seconds in a cell. Sums are made in cells before they go into bins and days, so that bins of any
/// width hold sums made in the same steps, by whoever made them.
pub(crate) const CELL: i64 = 60;
/// The cell of instants that do not count.
pub(crate) const OUTSIDE: u32 = u32::MAX;

/// The period rows are taken from, Unix seconds: from `low` up to and without `high`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Period {
    pub(crate) low: f64,
    pub(crate) high: f64,
}

impl Period {
    /// The period asked for.
    pub(crate) fn of(request: &Request) -> Self {
        let bounds = |date| request.calendar.bounds(date);
        Self {
            low: request
                .from
                .map_or(f64::NEG_INFINITY, |d| bounds(d).0 as f64),
            high: request.to.map_or(f64::INFINITY, |d| bounds(d).1 as f64),
        }
    }

    /// The cell of an instant: minutes since 1970; [`OUTSIDE`] for instants outside the period.
    #[inline]
    pub(crate) fn cell(&self, at: f64) -> u32 {
        if at < self.low || at >= self.high || at < 0.0 {
            return OUTSIDE;
        }
        // Too large a number becomes the largest, which is outside.
        (at / CELL as f64) as u32
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn instants_outside_the_period_have_no_cell() {
        let period = Period {
            low: 120.0,
            high: 240.0,
        };
        assert_eq!(period.cell(119.9), OUTSIDE);
        assert_eq!(period.cell(120.0), 2);
        assert_eq!(period.cell(240.0), OUTSIDE);
        assert_eq!(
            Period {
                low: f64::NEG_INFINITY,
                ..period
            }
            .cell(-1.0),
            OUTSIDE
        );
    }
}
