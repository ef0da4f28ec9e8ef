//! Numbers of a column that look like the one in the row before: sign, digits, decimal mark and the
//! byte behind in the same places. Such a number is read all at once, and where it ends is known
//! beforehand, so that the next cell need not wait for it.

use std::ops::Range;

use super::digits::Digits;

/// Bytes looked at: a number with its sign, its mark and the byte behind it.
const BYTES: usize = 8;

/// How the number last read in a column looked. The default is like none.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Shape {
    /// Bytes from its beginning to its end.
    pub(crate) length: usize,
    /// Digits behind its mark.
    pub(crate) behind: u8,
    /// Of eight bytes from its beginning: all bits of the sign, the mark and the byte behind; and
    /// what they are.
    fixed: u64,
    like: u64,
    /// The highest bit of each of its digits.
    digits: u64,
    /// The bits of all before the mark, and of all after it once they have moved up to it.
    whole: u64,
    part: u64,
    /// What moves its digits to the end of eight bytes.
    shift: u32,
    /// -1 or 1.
    sign: f64,
}

impl Default for Shape {
    fn default() -> Self {
        Self::unlike_any(0)
    }
}

impl Shape {
    /// No number is read by this; the column has had so many digits behind its mark.
    pub(crate) fn unlike_any(behind: u8) -> Self {
        Self {
            length: 0,
            behind,
            fixed: 0,
            like: 1,
            digits: 0,
            whole: 0,
            part: 0,
            shift: 0,
            sign: 1.0,
        }
    }

    /// The number that begins at `from`, as a whole number without its mark; `None` where it does
    /// not have this shape.
    #[inline]
    pub(crate) fn read(&self, bytes: &[u8], from: usize) -> Option<f64> {
        let eight = bytes.get(from..)?.first_chunk::<BYTES>()?;
        let word = u64::from_le_bytes(*eight) ^ ZEROS;
        // 0x76 lifts all above 9 to the highest bit, and carries none into the next byte.
        let others = (word & !HIGHEST).wrapping_add(0x7676_7676_7676_7676) | word;
        if word & self.fixed != self.like || others & self.digits != 0 {
            return None;
        }
        let digits = (word & self.whole) | ((word >> 8) & self.part);
        Some(f64::from(joined(digits << self.shift)) * self.sign)
    }

    /// The shape of a number that stands alone in a text, with the byte behind it; the default where
    /// it has none that is read all at once. A space or a plus before it counts as its mark.
    pub(crate) fn of(text: &[u8], behind: u8, number: Digits) -> Self {
        let signed = usize::from(text.first() == Some(&b'-'));
        let all = |bytes: Range<usize>| {
            let below = |places: usize| (1_u64 << (8 * places)) - 1;
            below(bytes.end) & !below(bytes.start)
        };
        let body = &text[signed..];
        let marks = body.iter().filter(|b| !b.is_ascii_digit()).count();
        if text.len() >= BYTES || marks > 1 || body.len() <= marks {
            return Self::unlike_any(number.behind);
        }
        let mark = body.iter().position(|b| !b.is_ascii_digit());
        let mark = mark.map_or(text.len(), |place| signed + place);
        let mut eight = [0; BYTES];
        eight[..text.len()].copy_from_slice(text);
        eight[text.len()] = behind;
        let digits = all(signed..mark) | all((mark + 1).min(text.len())..text.len());
        let fixed = all(0..text.len()) & !digits | 0xff << (8 * text.len());
        Self {
            length: text.len(),
            behind: number.behind,
            fixed,
            like: (u64::from_le_bytes(eight) ^ ZEROS) & fixed,
            digits: digits & HIGHEST,
            whole: all(signed..mark),
            part: all(mark..text.len().max(mark + 1) - 1),
            shift: 8 * (BYTES - text.len() + marks) as u32,
            sign: if signed == 1 { -1.0 } else { 1.0 },
        }
    }
}

/// Eight digits 0.
const ZEROS: u64 = 0x3030_3030_3030_3030;
/// The highest bit of each of eight bytes.
const HIGHEST: u64 = 0x8080_8080_8080_8080;

/// The whole number eight digits make, the first in the lowest byte: joined to pairs, fours, all.
#[inline]
fn joined(digits: u64) -> u32 {
    let pairs = digits.wrapping_mul(10).wrapping_add(digits >> 8) & 0x00ff_00ff_00ff_00ff;
    let fours = pairs.wrapping_mul(100).wrapping_add(pairs >> 16) & 0x0000_ffff_0000_ffff;
    fours.wrapping_mul(10_000).wrapping_add(fours >> 32) as u32
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::log::number;
    use proptest::prelude::*;

    /// A number as loggers write it: sign, up to five digits, up to four behind the mark.
    const NUMBER: &str = "[ +-]?[0-9]{0,5}(\\.[0-9]{0,4})?";

    proptest! {
        /// What is read by the shape of the number before is what is read without it.
        #[test]
        fn a_number_is_read_by_shape_as_byte_by_byte(
            before in NUMBER, text in prop_oneof![NUMBER, "[0-9.,;:x -]{0,9}"], stop in "[,;\n]",
        ) {
            let row = |text: &str| format!("#{text}{stop}rest of the row");
            let (number, end) = number::read(row(&before).as_bytes(), 1, b'.');
            prop_assume!(!number.whole.is_nan() && end == before.len() + 1);
            let shape = Shape::of(before.as_bytes(), stop.as_bytes()[0], number);
            if let Some(whole) = shape.read(row(&text).as_bytes(), 1) {
                let (expected, end) = number::read(row(&text).as_bytes(), 1, b'.');
                prop_assert_eq!(whole.to_bits(), expected.whole.to_bits());
                prop_assert_eq!((shape.behind, 1 + shape.length), (expected.behind, end));
                prop_assert_eq!(row(&text).as_bytes()[end], stop.as_bytes()[0]);
            }
            let own = shape.read(row(&before).as_bytes(), 1);
            let marks = before.bytes().filter(|b| matches!(b, b' ' | b'+' | b'.')).count();
            prop_assert_eq!(own.is_some(), before.len() < BYTES && marks < 2);
        }
    }

    #[test]
    fn other_digits_have_the_same_shape_and_other_places_do_not() {
        let shape = |text: &str| {
            let (number, _) = number::read(text.as_bytes(), 0, b'.');
            Shape::of(text.as_bytes(), b',', number)
        };
        let read = |like: &str, row: &str| shape(like).read(row.as_bytes(), 0);
        assert_eq!(read("13.20", "12.97,-4.5,80"), Some(1297.0));
        assert_eq!(read("-1.25", "-0.05,80.0"), Some(-5.0));
        for other in [
            "2.97,80.0",
            "-1.29,80.0",
            "12.9,780",
            "12.97;80.0",
            "12,97,80.0",
            "1x.97,80",
            "12.97",
        ] {
            assert_eq!(read("13.20", other), None, "{other}");
        }
        assert_eq!(read("12345678", "12345678,5"), None);
        assert_eq!(Shape::default().read(b"12345678", 0), None);
    }
}
