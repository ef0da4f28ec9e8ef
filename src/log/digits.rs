//! A column of plain numbers while it is read: whole numbers with their decimals still to be taken
//! off, which is done for many rows at once.

use super::number::TENS;

/// A plain number: its digits as a whole number with the sign, and how many of them stand behind
/// the decimal mark. NaN where a cell holds no plain number.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Digits {
    pub(crate) whole: f64,
    pub(crate) behind: u8,
}

impl Digits {
    /// No plain number.
    pub(crate) const NONE: Self = Self {
        whole: f64::NAN,
        behind: 0,
    };

    /// The number, correctly rounded: both parts of the fraction are exact.
    #[cfg(test)]
    pub(crate) fn value(self) -> f64 {
        self.whole / TENS[usize::from(self.behind)]
    }
}

/// Numbers of a column, row by row.
#[derive(Debug, Default)]
pub(crate) struct Numbers {
    values: Vec<f64>,
    /// Rows whose decimals have been taken off.
    settled: usize,
    /// Decimals of the rows after those.
    behind: u8,
}

impl Numbers {
    /// Empties it.
    pub(crate) fn clear(&mut self) {
        self.values.clear();
        self.settled = 0;
    }

    /// Adds the number of the next row.
    #[inline]
    pub(crate) fn push(&mut self, number: Digits) {
        if !number.whole.is_nan() {
            self.go_on(number.behind);
        }
        self.values.push(number.whole);
    }

    /// Makes ready for numbers with so many digits behind the mark.
    #[inline]
    pub(crate) fn go_on(&mut self, behind: u8) {
        if behind != self.behind {
            self.settle();
            self.behind = behind;
        }
    }

    /// Adds the number of the next row, which has as many digits behind the mark as the one before.
    #[inline]
    pub(crate) fn push_like(&mut self, whole: f64) {
        self.values.push(whole);
    }

    /// Forgets all rows but so many.
    pub(crate) fn truncate(&mut self, rows: usize) {
        self.values.truncate(rows);
        self.settled = self.settled.min(rows);
    }

    /// Whether the last row has no number.
    pub(crate) fn ends_without(&self) -> bool {
        self.values.last().is_none_or(|value| value.is_nan())
    }

    /// Adds a row without a number.
    pub(crate) fn skip(&mut self) {
        self.values.push(f64::NAN);
    }

    /// The numbers as the cells show them.
    pub(crate) fn settle(&mut self) -> &[f64] {
        let tens = TENS[usize::from(self.behind)];
        for value in &mut self.values[self.settled..] {
            *value /= tens;
        }
        self.settled = self.values.len();
        &self.values
    }

    /// The numbers, once [`Self::settle`] has been called after the last row.
    pub(crate) fn settled(&self) -> &[f64] {
        debug_assert_eq!(self.settled, self.values.len());
        &self.values
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn decimals_may_change_from_row_to_row() {
        let mut numbers = Numbers::default();
        for (whole, behind) in [(125.0, 1), (-7.0, 0), (1.0, 3), (2.0, 3)] {
            numbers.push(Digits { whole, behind });
        }
        numbers.skip();
        assert_eq!(numbers.settle()[..4], [12.5, -7.0, 0.001, 0.002]);
        assert!(numbers.settled()[4].is_nan());
        numbers.clear();
        numbers.push(Digits {
            whole: 5.0,
            behind: 3,
        });
        assert_eq!(numbers.settle(), [0.005]);
    }
}
