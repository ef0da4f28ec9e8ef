//! Stretches in which a signal stands still.

use std::ops::Range;

/// The longest stretches, at least `least` moments each and none overlapping, in which a value is there,
/// lies within `band` from its lowest to its highest, and belongs to one and the same group. In order of time.
pub fn runs<G: PartialEq>(
    within: Range<usize>,
    least: usize,
    band: f64,
    value: impl Fn(usize) -> Option<(f64, G)>,
) -> Vec<Range<usize>> {
    let offset = within.start;
    let values: Vec<Option<(f64, G)>> = within.map(value).collect();
    let mut found = Vec::new();
    split(&values, 0..values.len(), least.max(1), band, &mut found);
    found.sort_by_key(|r| r.start);
    found
        .into_iter()
        .map(|r| r.start + offset..r.end + offset)
        .collect()
}

/// The longest run of a stretch, then those left and right of it.
fn split<G: PartialEq>(
    values: &[Option<(f64, G)>],
    within: Range<usize>,
    least: usize,
    band: f64,
    found: &mut Vec<Range<usize>>,
) {
    if within.len() < least {
        return;
    }
    let mut best = within.start..within.start;
    for start in within.clone() {
        let end = end_of(values, start, within.end, band);
        if end - start > best.len() {
            best = start..end;
        }
    }
    if best.len() < least {
        return;
    }
    split(values, within.start..best.start, least, band, found);
    split(values, best.end..within.end, least, band, found);
    found.push(best);
}

/// One past the last moment of the run that begins at a moment.
fn end_of<G: PartialEq>(values: &[Option<(f64, G)>], start: usize, end: usize, band: f64) -> usize {
    let Some((_, group)) = &values[start] else {
        return start;
    };
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for (m, value) in values.iter().enumerate().take(end).skip(start) {
        let Some((v, _)) = value.as_ref().filter(|(_, g)| g == group) else {
            return m;
        };
        low = low.min(*v);
        high = high.max(*v);
        if high - low > band {
            return m;
        }
    }
    end
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_plateau_is_found_whole_between_its_slopes() {
        let values = [1.0, 2.0, 3.0, 4.0, 4.01, 4.0, 4.02, 4.0, 3.0, 2.0];
        let found = runs(0..10, 3, 0.05, |m| Some((values[m], ())));
        assert_eq!(found, vec![3..8]);
    }

    #[test]
    fn a_gap_and_a_change_of_group_end_a_run() {
        let value = |m: usize| (m != 4).then_some((5.0, m >= 8));
        assert_eq!(runs(0..12, 2, 0.1, value), [0..4, 5..8, 8..12]);
    }
}
