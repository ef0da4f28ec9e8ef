//! What the first pass learns of a column, in a handful of numbers.

use super::number;

/// Numbers loggers write for "no reading": all nines, and the ends of 16 and 32 bits, as they stand
/// or with the decimals the register has.
pub(crate) const SENTINELS: [f64; 24] = [
    -9999.0,
    9999.0,
    -999.0,
    999.0,
    -99.99,
    -99.9,
    999.9,
    -999.9,
    99999.0,
    -99999.0,
    65535.0,
    6553.5,
    655.35,
    32767.0,
    3276.7,
    327.67,
    -32768.0,
    -3276.8,
    -327.68,
    4294967295.0,
    2147483647.0,
    -2147483648.0,
    42949672.95,
    -127.0,
];

/// No reading of anything is as large: the end of a 32-bit float, or bytes that are none.
const NO_READING: f64 = 1e30;

/// No sentinel is nearer to zero.
pub(crate) const SMALLEST_SENTINEL: f64 = 99.0;

/// Numbers of a block looked at for examples: columns that stand still show the same over and over.
const LOOKED_AT: u64 = 256;

/// Cells without a number after which a column is one of words.
const WORDS: u64 = 200;

/// Whether a cell's text says that there is no value.
pub(crate) fn is_missing(cell: &[u8]) -> bool {
    const WORDS: [&str; 16] = [
        "", "nan", "none", "null", "n/a", "na", "#n/a", "-", "--", "---", "inf", "-inf", "err",
        "error", "unknown", "invalid",
    ];
    let cell = cell.trim_ascii();
    cell.len() <= 8
        && WORDS
            .iter()
            .any(|w| cell.eq_ignore_ascii_case(w.as_bytes()))
}

fn is_sentinel(value: f64) -> bool {
    value.abs() >= SMALLEST_SENTINEL && (SENTINELS.contains(&value) || value.abs() >= NO_READING)
}

/// Whether a reading has a fraction.
fn is_broken(value: f64) -> bool {
    value.is_finite() && (value as i64) as f64 != value && !is_sentinel(value)
}

/// Times the rest of a column a sentinel stands out.
const FAR: f64 = 2.0;

/// Values looked at side by side.
const LANES: usize = 8;

/// The least and the largest of values, NaN apart; infinities where there are none.
pub(crate) fn ends(values: &[f64]) -> (f64, f64) {
    // Comparisons with NaN are false: it changes nothing.
    let less = |a: f64, b: f64| if a < b { a } else { b };
    let more = |a: f64, b: f64| if a > b { a } else { b };
    let (chunks, rest) = values.as_chunks::<LANES>();
    let mut least = [f64::INFINITY; LANES];
    let mut most = [f64::NEG_INFINITY; LANES];
    for chunk in chunks {
        for lane in 0..LANES {
            least[lane] = less(chunk[lane], least[lane]);
            most[lane] = more(chunk[lane], most[lane]);
        }
    }
    let least = least
        .iter()
        .chain(rest)
        .fold(f64::INFINITY, |all, v| less(*v, all));
    let most = most
        .iter()
        .chain(rest)
        .fold(f64::NEG_INFINITY, |all, v| more(*v, all));
    (least, most)
}

/// The sum of values, [`LANES`] side by side.
pub(crate) fn sum(values: &[f64]) -> f64 {
    let (chunks, rest) = values.as_chunks::<LANES>();
    let mut lanes = [0.0; LANES];
    for chunk in chunks {
        for (lane, value) in lanes.iter_mut().zip(chunk) {
            *lane += value;
        }
    }
    lanes.iter().chain(rest).sum()
}

/// Facts about a column's cells.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct ColumnStats {
    pub(crate) numbers: u64,
    pub(crate) empty: u64,
    pub(crate) words: u64,
    pub(crate) min: Option<f64>,
    pub(crate) max: Option<f64>,
    pub(crate) negatives: u64,
    /// Whether any number has a fraction.
    pub(crate) fraction: bool,
    /// The first number that is one of the sentinels.
    pub(crate) sentinel: Option<f64>,
    /// The first cell with neither a number nor a word for none.
    pub(crate) word: Option<String>,
    pub(crate) first: Option<String>,
    pub(crate) examples: Vec<String>,
    /// Unit written in the cells.
    pub(crate) cell_unit: Option<super::words::Unit>,
}

impl ColumnStats {
    /// Takes in a cell; returns its number, where it holds one.
    pub(crate) fn take(&mut self, cell: &[u8], decimal: u8, missing: &[String]) -> Option<f64> {
        if self.words > WORDS && self.numbers == 0 {
            // A column of words: no need to look at each as a number.
            self.words += 1;
            return None;
        }
        let parsed = number::parse(cell, decimal);
        let Some((value, unit)) = parsed else {
            self.take_word(cell, missing);
            return None;
        };
        if !missing.is_empty() && is_listed(cell, missing) {
            self.empty += 1;
            return None;
        }
        if self.examples.len() < 3 || self.first.is_none() {
            self.keep(cell);
        }
        self.numbers += 1;
        self.cell_unit = self.cell_unit.or(unit);
        if is_sentinel(value) {
            self.sentinel = self.sentinel.or(Some(value));
            return None;
        }
        self.fraction = self.fraction || is_broken(value);
        self.negatives += u64::from(value < 0.0);
        self.reach(value, value);
        Some(value)
    }

    /// Counts a cell that holds a plain number; its value follows with [`Self::take_all`].
    #[inline]
    pub(crate) fn count<'c>(&mut self, cell: impl FnOnce() -> &'c [u8]) {
        let looks = self.looks_for_examples();
        self.numbers += 1;
        if looks {
            let cell = cell();
            if self.examples.last().is_none_or(|e| e.as_bytes() != cell) {
                self.keep(cell);
            }
        }
    }

    /// Whether plain numbers are still looked at for examples.
    pub(crate) fn looks_for_examples(&self) -> bool {
        self.examples.len() < 3 && self.numbers < LOOKED_AT
    }

    /// Takes in the values of cells counted before; NaN stands for cells without one.
    pub(crate) fn take_all(&mut self, values: &[f64]) {
        let (mut least, mut most) = ends(values);
        let mut negatives = values.iter().filter(|v| **v < 0.0).count() as u64;
        if least <= -SMALLEST_SENTINEL || most >= SMALLEST_SENTINEL {
            let real = values.iter().filter(|v| !is_sentinel(**v));
            let first = || values.iter().copied().find(|v| is_sentinel(*v));
            self.sentinel = self.sentinel.or_else(first);
            (least, most, negatives) = (f64::INFINITY, f64::NEG_INFINITY, 0);
            for &value in real {
                least = if value < least { value } else { least };
                most = if value > most { value } else { most };
                negatives += u64::from(value < 0.0);
            }
        }
        self.fraction = self.fraction || values.iter().any(|v| is_broken(*v));
        self.negatives += negatives;
        if least <= most {
            self.reach(least, most);
        }
    }

    fn reach(&mut self, least: f64, most: f64) {
        self.min = Some(self.min.map_or(least, |m| m.min(least)));
        self.max = Some(self.max.map_or(most, |m| m.max(most)));
    }

    /// Adds what the rows that follow show.
    pub(crate) fn follow(&mut self, later: &Self) {
        if self.words > WORDS && self.numbers == 0 {
            // As if each had been taken in after the others.
            self.words += later.words + later.numbers + later.empty;
            return;
        }
        if self.first.is_none() {
            self.first.clone_from(&later.first);
        }
        self.join(later);
    }

    fn take_word(&mut self, cell: &[u8], missing: &[String]) {
        if is_missing(cell) || is_listed(cell, missing) {
            self.empty += 1;
        } else {
            self.words += 1;
            if self.word.is_none() {
                self.word = Some(super::decode::text(cell).trim().to_owned());
            }
            if self.examples.len() < 3 || self.first.is_none() {
                self.keep(cell);
            }
        }
    }

    fn keep(&mut self, cell: &[u8]) {
        let text = super::decode::text(cell);
        let text = text.trim();
        if self.first.is_none() {
            self.first = Some(text.to_owned());
        }
        if self.examples.len() < 3 && !self.examples.iter().any(|e| e == text) {
            self.examples.push(text.to_owned());
        }
    }

    /// Adds what another file of the same device shows.
    pub(crate) fn join(&mut self, other: &Self) {
        let least = |a: Option<f64>, b: Option<f64>| a.into_iter().chain(b).reduce(f64::min);
        let most = |a: Option<f64>, b: Option<f64>| a.into_iter().chain(b).reduce(f64::max);
        self.numbers += other.numbers;
        self.empty += other.empty;
        self.words += other.words;
        self.min = least(self.min, other.min);
        self.max = most(self.max, other.max);
        self.negatives += other.negatives;
        self.fraction |= other.fraction;
        self.sentinel = self.sentinel.or(other.sentinel);
        if self.word.is_none() {
            self.word.clone_from(&other.word);
        }
        self.cell_unit = self.cell_unit.or(other.cell_unit);
        for example in &other.examples {
            if self.examples.len() < 3 && !self.examples.contains(example) {
                self.examples.push(example.clone());
            }
        }
    }

    /// The sentinels that stand far outside what else the column shows.
    pub(crate) fn sentinels(&self) -> Vec<f64> {
        let size = |v: Option<f64>| v.map_or(0.0, f64::abs);
        let most = size(self.min).max(size(self.max));
        let far = |v: &f64| most > 0.0 && v.abs() > FAR * most;
        SENTINELS.into_iter().filter(far).collect()
    }

    pub(crate) fn is_words(&self) -> bool {
        self.words > self.numbers
    }
}

/// Whether the design lists this text as "no value".
pub(crate) fn is_listed(cell: &[u8], missing: &[String]) -> bool {
    !missing.is_empty() && {
        let text = super::decode::text(cell);
        missing.iter().any(|m| m == text.trim())
    }
}
