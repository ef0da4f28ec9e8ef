//! The grid all channels share.

/// Width of a bin, seconds.
const SHORT: i64 = 60;
/// Width of a bin of a long log, seconds.
pub(crate) const LONG: i64 = 300;
/// Longest log with fine bins, seconds.
pub(crate) const FINE: f64 = 62.0 * 86_400.0;

/// Even bins aligned to Unix time.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Grid {
    pub(crate) start: i64,
    pub(crate) bin_s: i64,
    pub(crate) bins: usize,
}

impl Grid {
    /// A grid over `low..=high` (Unix seconds), or up to and without `high` where it is cut there.
    pub(crate) fn over(low: f64, high: f64, cut: bool) -> Self {
        let bin_s = if high - low <= FINE { SHORT } else { LONG };
        let start = (low / bin_s as f64).floor() as i64 * bin_s;
        let width = ((high - start as f64) / bin_s as f64).max(0.0);
        let bins = if cut {
            width.ceil().max(1.0)
        } else {
            width.floor() + 1.0
        } as usize;
        Self { start, bin_s, bins }
    }
}
