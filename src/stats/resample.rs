//! The bootstrap for logs: whole runs of rows, or whole days, are drawn together, so that the
//! likeness of neighbours survives. The same seed gives the same draws on every machine.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

use super::quantile::quantile;

/// A whole number from 0 to `bound` - 1; 0 for a bound of 0. Multiplying instead of dividing keeps
/// the bias below 2^-32 for any bound a log can have.
fn below(rng: &mut ChaCha8Rng, bound: usize) -> usize {
    ((u128::from(rng.next_u64()) * bound as u128) >> 64) as usize
}

/// Values of a statistic over `draws` resamples of `n` rows in runs of `block` neighbours (moving
/// blocks). The statistic gets row indices; draws for which it has no value are left out.
pub fn moving_blocks(
    n: usize,
    block: usize,
    draws: usize,
    seed: u64,
    mut statistic: impl FnMut(&[usize]) -> Option<f64>,
) -> Vec<f64> {
    if n == 0 {
        return Vec::new();
    }
    let block = block.clamp(1, n);
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut rows = Vec::with_capacity(n + block);
    let mut values = Vec::with_capacity(draws);
    for _ in 0..draws {
        rows.clear();
        while rows.len() < n {
            let first = below(&mut rng, n - block + 1);
            rows.extend(first..first + block);
        }
        rows.truncate(n);
        values.extend(statistic(&rows).filter(|v| v.is_finite()));
    }
    values
}

/// Values of a statistic over `draws` resamples of whole groups (days): as many as there are, drawn
/// with replacement. `groups` names each row's group; the statistic gets row indices, group by
/// group. Draws for which it has no value are left out.
pub fn whole_groups(
    groups: &[u32],
    draws: usize,
    seed: u64,
    mut statistic: impl FnMut(&[usize]) -> Option<f64>,
) -> Vec<f64> {
    let mut members: std::collections::BTreeMap<u32, Vec<usize>> =
        std::collections::BTreeMap::new();
    for (row, group) in groups.iter().enumerate() {
        members.entry(*group).or_default().push(row);
    }
    let members: Vec<Vec<usize>> = members.into_values().collect();
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut rows = Vec::with_capacity(groups.len());
    let mut values = Vec::with_capacity(draws);
    if members.is_empty() {
        return values;
    }
    for _ in 0..draws {
        rows.clear();
        for _ in 0..members.len() {
            rows.extend_from_slice(&members[below(&mut rng, members.len())]);
        }
        values.extend(statistic(&rows).filter(|v| v.is_finite()));
    }
    values
}

/// The central interval that holds a share (0 to 1) of the values; `None` without values.
pub fn interval(values: &[f64], share: f64) -> Option<(f64, f64)> {
    let tail = (1.0 - share.clamp(0.0, 1.0)) / 2.0;
    Some((quantile(values, tail)?, quantile(values, 1.0 - tail)?))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn mean_of(data: &[f64]) -> impl FnMut(&[usize]) -> Option<f64> {
        move |rows| {
            let sum: f64 = rows.iter().map(|&r| data[r]).sum();
            (!rows.is_empty()).then(|| sum / rows.len() as f64)
        }
    }

    #[test]
    fn the_seed_decides_the_draws() {
        let data: Vec<f64> = (0..50).map(f64::from).collect();
        let draw = |seed| moving_blocks(50, 5, 20, seed, mean_of(&data));
        assert_eq!(draw(3), draw(3));
        assert_ne!(draw(3), draw(4));
    }

    #[test]
    fn drawing_days_shows_the_spread_between_days() {
        // Ten days of a hundred equal rows each: rows would promise ten times too much.
        let groups: Vec<u32> = (0..1000).map(|i| i / 100).collect();
        let data: Vec<f64> = groups.iter().map(|g| f64::from(*g)).collect();
        let Some(by_day) = interval(&whole_groups(&groups, 2000, 1, mean_of(&data)), 0.9) else {
            panic!("values")
        };
        let Some(by_row) = interval(&moving_blocks(1000, 1, 2000, 1, mean_of(&data)), 0.9) else {
            panic!("values")
        };
        // The mean of ten drawn days has a standard deviation of 2.87 / sqrt(10) = 0.91.
        assert!(
            (by_day.1 - by_day.0 - 2.0 * 1.645 * 0.908).abs() < 0.3,
            "{by_day:?}"
        );
        assert!(
            (by_row.1 - by_row.0) * 5.0 < by_day.1 - by_day.0,
            "{by_row:?}"
        );
    }

    proptest! {
        #[test]
        fn draws_stay_within_the_rows(n in 0usize..40, block in 0usize..60, seed: u64) {
            let seen = moving_blocks(n, block, 5, seed, |rows| {
                assert!(rows.len() == n && rows.iter().all(|r| *r < n));
                Some(1.0)
            });
            prop_assert_eq!(seen.len(), if n == 0 { 0 } else { 5 });
        }
    }
}
