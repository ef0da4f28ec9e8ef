//! How far one part of a day foretells another: a line through the halves of the trip's days, drawn
//! towards what is usual of skies where the trip has few.

/// What one half of a day foretells of the other, usually: half-day clearness correlates by about 0.7
/// (daily and hourly clearness are persistent everywhere; assumed, and given way to the trip's own days).
const USUAL_SLOPE: f64 = 0.7;
/// Standard deviation of half-days' shares over weeks, usually (half of a range from 0.3 to 1 with most
/// days near its ends).
const USUAL_SPREAD: f64 = 0.25;
/// Days that what is usual counts for.
const WEIGHT: f64 = 8.0;

/// How far one part of a day foretells another.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Kinship {
    /// Difference of the rest of a day from the trip's mean for each of the part that was seen.
    pub(super) slope: f64,
    /// Standard deviation of the rest about that, share of a clear sky.
    pub(super) left_over: f64,
}

impl Kinship {
    /// From the days of which both halves were measured.
    pub(super) fn of(halves: &[(f64, f64)]) -> Self {
        let count = halves.len().max(1) as f64;
        let mean = |half: fn(&(f64, f64)) -> f64| halves.iter().map(half).sum::<f64>() / count;
        let (before, after) = (mean(|h| h.0), mean(|h| h.1));
        let apart = || halves.iter().map(|h| (h.0 - before, h.1 - after));
        let usual = USUAL_SPREAD * USUAL_SPREAD * WEIGHT;
        let together: f64 = apart().map(|(a, b)| a * b).sum();
        let alone: f64 = apart().map(|(a, _)| a * a).sum();
        let slope = ((together + USUAL_SLOPE * usual) / (alone + usual)).clamp(0.0, 1.0);
        let rest: f64 = apart().map(|(a, b)| (b - slope * a).powi(2)).sum();
        let usual_rest = usual * (1.0 - USUAL_SLOPE * USUAL_SLOPE);
        Self {
            slope,
            left_over: ((rest + usual_rest) / (halves.len() as f64 + WEIGHT)).sqrt(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn without_days_the_usual_holds() {
        let found = Kinship::of(&[]);
        assert!((found.slope - USUAL_SLOPE).abs() < 1e-12);
        assert!((found.left_over - 0.1785).abs() < 1e-3);
    }

    #[test]
    fn the_trips_own_days_tell_more_the_more_there_are() {
        let days = |count: usize, after: fn(f64) -> f64| -> Vec<(f64, f64)> {
            let share = |k: usize| 0.3 + 0.7 * (k % 5) as f64 / 4.0;
            (0..count).map(|k| (share(k), after(share(k)))).collect()
        };
        let alike = Kinship::of(&days(60, |before| before));
        let unlike = Kinship::of(&days(60, |_| 0.6));
        assert!(alike.slope > 0.9 && unlike.slope < 0.2);
        assert!(alike.left_over < 0.1);
        assert!(Kinship::of(&days(5, |before| before)).slope < alike.slope);
    }
}
