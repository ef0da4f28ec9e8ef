//! Scales and their ticks: from values to places on the sheet, with gaps kept as gaps.

/// More ticks than this no scale has.
const MOST_TICKS: f64 = 100.0;

/// A straight scale.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Scale {
    pub(crate) from: f64,
    pub(crate) to: f64,
    pub(crate) start: f64,
    pub(crate) end: f64,
}

impl Scale {
    /// Values `from..to` onto places `start..end`; an empty span is widened so that nothing divides by zero.
    pub(crate) fn new(from: f64, to: f64, start: f64, end: f64) -> Self {
        let to = if to - from > f64::EPSILON {
            to
        } else {
            from + 1.0
        };
        Self {
            from,
            to,
            start,
            end,
        }
    }

    /// The place of a value.
    pub(crate) fn at(&self, value: f64) -> f64 {
        self.start + (value - self.from) / (self.to - self.from) * (self.end - self.start)
    }

    /// The place of a value, kept within the scale.
    pub(crate) fn within(&self, value: f64) -> f64 {
        self.at(value.clamp(self.from, self.to))
    }

    /// Round values inside the scale, about `wanted` of them; none on a scale without end.
    pub(crate) fn ticks(&self, wanted: usize) -> Vec<f64> {
        let step = nice((self.to - self.from) / wanted.max(1) as f64);
        let count = self.to / step - self.from / step;
        if !(0.0..=MOST_TICKS).contains(&count) {
            return Vec::new();
        }
        let first = (self.from / step - 1e-9).ceil() as i64;
        let last = (self.to / step + 1e-9).floor() as i64;
        (first..=last).map(|i| i as f64 * step).collect()
    }
}

/// The next 1, 2 or 5 times a power of ten that is no smaller.
pub(crate) fn nice(step: f64) -> f64 {
    if !step.is_finite() || step <= 0.0 {
        return 1.0;
    }
    let power = 10f64.powf(step.log10().floor());
    for factor in [1.0, 2.0, 5.0] {
        if step <= factor * power * (1.0 + 1e-9) {
            return factor * power;
        }
    }
    10.0 * power
}

/// The end of a scale that holds `largest` with round ticks.
pub(crate) fn nice_end(largest: f64) -> f64 {
    let step = nice(largest / 4.0);
    (largest / step - 1e-9).ceil().max(1.0) * step
}

/// Cuts a series into runs without gaps; what is not finite is a gap.
pub(crate) fn runs(points: impl Iterator<Item = (f64, Option<f64>)>) -> Vec<Vec<(f64, f64)>> {
    let mut all: Vec<Vec<(f64, f64)>> = Vec::new();
    let mut open = false;
    for (x, y) in points {
        match y.filter(|v| v.is_finite()) {
            Some(y) => {
                if !open {
                    all.push(Vec::new());
                }
                if let Some(run) = all.last_mut() {
                    run.push((x, y));
                }
                open = true;
            }
            None => open = false,
        }
    }
    all
}

/// Thins a run to its lowest and highest point in each of about `buckets` stretches, ends kept.
pub(crate) fn thin(run: &[(f64, f64)], buckets: usize) -> Vec<(f64, f64)> {
    let size = run.len() / buckets.max(1);
    if size <= 2 {
        return run.to_vec();
    }
    let mut out = vec![run[0]];
    for bucket in run.chunks(size) {
        let by_height = |a: &&(f64, f64), b: &&(f64, f64)| a.1.total_cmp(&b.1);
        let low = bucket.iter().min_by(by_height).copied();
        let high = bucket.iter().max_by(by_height).copied();
        let mut pair: Vec<_> = low.into_iter().chain(high).collect();
        pair.sort_by(|a, b| a.0.total_cmp(&b.0));
        pair.dedup();
        out.extend(pair);
    }
    out.extend(run.last().copied());
    out.dedup();
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_gap_parts_a_line() {
        let points = [Some(1.0), None, Some(f64::NAN), Some(2.0), Some(3.0)];
        let parts = runs(points.into_iter().enumerate().map(|(i, y)| (i as f64, y)));
        assert_eq!(parts, vec![vec![(0.0, 1.0)], vec![(3.0, 2.0), (4.0, 3.0)]]);
    }

    #[test]
    fn thinning_keeps_ends_and_extremes() {
        let run: Vec<(f64, f64)> = (0..10_000)
            .map(|i| {
                (
                    f64::from(i),
                    if i == 5_123 { 99.0 } else { f64::from(i % 7) },
                )
            })
            .collect();
        let thinned = thin(&run, 300);
        assert!(thinned.len() <= 610);
        assert!(thinned.contains(&(5_123.0, 99.0)));
        assert_eq!(thinned.first(), run.first());
        assert_eq!(thinned.last(), run.last());
    }

    #[test]
    fn ticks_are_round_and_inside() {
        assert_eq!(
            Scale::new(0.0, 1370.0, 0.0, 1.0).ticks(4),
            vec![0.0, 500.0, 1000.0]
        );
        assert_eq!(nice_end(1370.0), 1500.0);
        let flat = Scale::new(3.0, 3.0, 0.0, 10.0);
        assert!(flat.at(3.0).is_finite());
        assert!(Scale::new(0.0, f64::INFINITY, 0.0, 1.0).ticks(4).is_empty());
    }
}
