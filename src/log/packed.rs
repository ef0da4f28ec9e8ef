//! Rows as bytes, for sorting: an instant, a tag, and the values, in as few bytes as they need.

use std::ops::Range;

use super::readings::Columns;

/// Bytes of instant and tag.
const FRONT: usize = 12;
/// What stands for no value among thousandths.
const NONE: i32 = i32::MIN;

/// How the values of a row are kept.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Packing {
    /// As whole thousandths, four bytes each: most logs write no more decimals.
    Thousandths,
    /// As they are, eight bytes each.
    Whole,
}

impl Packing {
    /// Bytes of a row of so many values.
    pub(crate) fn row_bytes(self, width: usize) -> usize {
        FRONT + width * self.value_bytes()
    }

    fn value_bytes(self) -> usize {
        match self {
            Self::Thousandths => 4,
            Self::Whole => 8,
        }
    }

    /// Packs a stretch of rows, with the tag of each; whether all values come back as they were, to
    /// the bit.
    pub(crate) fn pack(
        self,
        rows: &Columns,
        stretch: Range<usize>,
        tags: &[u32],
        into: &mut Vec<u8>,
    ) -> bool {
        let size = self.row_bytes(rows.values.len());
        into.resize(stretch.len() * size, 0);
        let instants = rows.at[stretch.clone()].iter().zip(&tags[stretch.clone()]);
        for (row, (at, tag)) in into.chunks_exact_mut(size).zip(instants) {
            row[..8].copy_from_slice(&at.to_le_bytes());
            row[8..FRONT].copy_from_slice(&tag.to_le_bytes());
        }
        let mut held = true;
        for (k, column) in rows.values.iter().enumerate() {
            let from = FRONT + k * self.value_bytes();
            let places = into.chunks_exact_mut(size).map(|row| &mut row[from..]);
            let values = places.zip(&column[stretch.clone()]);
            match self {
                Self::Thousandths => values.for_each(|(place, value)| {
                    let short = thousandths(*value);
                    held &= value.is_nan() || restored(short).to_bits() == value.to_bits();
                    place[..4].copy_from_slice(&short.to_le_bytes());
                }),
                Self::Whole => {
                    values.for_each(|(place, value)| {
                        place[..8].copy_from_slice(&value.to_le_bytes());
                    });
                }
            }
        }
        held
    }

    /// The values in one place of those rows.
    pub(crate) fn values<'r>(
        self,
        rows: impl Iterator<Item = &'r [u8]>,
        k: usize,
        into: &mut Vec<f64>,
    ) {
        let from = FRONT + k * self.value_bytes();
        match self {
            Self::Thousandths => {
                into.extend(rows.map(|row| restored(i32::from_le_bytes(first(&row[from..])))));
            }
            Self::Whole => into.extend(rows.map(|row| f64::from_le_bytes(first(&row[from..])))),
        }
    }
}

/// Rows of thousandths with their values whole, behind those in `into`.
pub(crate) fn unpack(rows: &[u8], width: usize, into: &mut Vec<u8>) {
    let short = Packing::Thousandths;
    for row in rows.chunks_exact(short.row_bytes(width)) {
        into.extend_from_slice(&row[..FRONT]);
        for value in row[FRONT..].chunks_exact(short.value_bytes()) {
            let value = restored(i32::from_le_bytes(first(value)));
            into.extend_from_slice(&value.to_le_bytes());
        }
    }
}

/// The instant of a row.
#[inline]
pub(crate) fn instant(row: &[u8]) -> f64 {
    f64::from_le_bytes(first(row))
}

/// The tag of a row.
pub(crate) fn tag(row: &[u8]) -> u32 {
    u32::from_le_bytes(first(&row[8..]))
}

fn first<const N: usize>(bytes: &[u8]) -> [u8; N] {
    let mut own = [0; N];
    own.copy_from_slice(&bytes[..N]);
    own
}

#[inline]
fn thousandths(value: f64) -> i32 {
    // Adding so much leaves whole numbers alone of its bits: quicker than rounding. Too large a value
    // gives a wrong number, and is not restored by it.
    let whole = (value * 1e3 + 1.5 * 2_f64.powi(52)).to_bits() as u32 as i32;
    if value.is_nan() { NONE } else { whole }
}

/// The number so many thousandths are, the nearest there is: as a text of it is read.
#[inline]
fn restored(thousandths: i32) -> f64 {
    let value = f64::from(thousandths) / 1e3;
    if thousandths == NONE { f64::NAN } else { value }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rows(values: &[f64]) -> Columns {
        let mut rows = Columns::of(2);
        for (k, value) in values.iter().enumerate() {
            rows.push(k as f64, false, [*value, -*value].into_iter());
        }
        rows
    }

    #[test]
    fn values_come_back_to_the_bit() {
        let few = [13.266, 0.001, 100.0, 2_147_483.647, f64::NAN];
        let many = [0.0, 0.1 + 0.2, 1e-9, 3e6, 2_147_483.648, f64::INFINITY];
        let is_held = |values: &[f64]| {
            let tags = vec![0; values.len()];
            let all = 0..values.len();
            Packing::Thousandths.pack(&rows(values), all, &tags, &mut Vec::new())
        };
        assert!(is_held(&few));
        for odd in many {
            assert!(!is_held(&[odd]), "{odd}");
        }
        for (packing, values) in [
            (Packing::Thousandths, &few[..]),
            (Packing::Whole, &few[..]),
            (Packing::Whole, &many[..]),
        ] {
            let (rows, tags) = (rows(values), vec![7; values.len()]);
            let mut bytes = Vec::new();
            assert!(packing.pack(&rows, 0..values.len(), &tags, &mut bytes));
            let mut whole = Vec::new();
            if packing == Packing::Thousandths {
                unpack(&bytes, 2, &mut whole);
            }
            for (bytes, packing) in [(&bytes, packing), (&whole, Packing::Whole)] {
                let packed = bytes.chunks_exact(packing.row_bytes(2));
                let mut back = vec![Vec::new(); 2];
                packing.values(packed.clone(), 0, &mut back[0]);
                packing.values(packed.clone(), 1, &mut back[1]);
                for (k, row) in packed.enumerate() {
                    assert_eq!((instant(row), tag(row)), (k as f64, 7));
                    assert_eq!(back[0][k].to_bits(), values[k].to_bits());
                    assert_eq!(back[1][k].is_nan(), values[k].is_nan());
                }
            }
        }
    }
}
