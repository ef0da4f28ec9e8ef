//! Numbers as loggers write them: either decimal mark, thousands marks, a unit stuck on behind.

use super::digits::Digits;
use super::words::{self, Unit};

/// Powers of ten that a double holds exactly.
pub(super) const TENS: [f64; 19] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16,
    1e17, 1e18,
];

/// Largest mantissa a double holds exactly (2^53).
const EXACT: u64 = 1 << 53;

/// Reads a plain number (sign, digits, one decimal mark); `None` for anything else.
///
/// Correctly rounded: the mantissa and the power of ten are both exact doubles.
fn plain(cell: &[u8], decimal: u8) -> Option<f64> {
    let (negative, digits) = match cell.first()? {
        b'-' => (true, &cell[1..]),
        b'+' => (false, &cell[1..]),
        _ => (false, cell),
    };
    let (mut mantissa, mut count, mut behind, mut seen) = (0_u64, 0_usize, 0_usize, false);
    for &byte in digits {
        if byte.is_ascii_digit() {
            if count >= 18 {
                return None;
            }
            mantissa = mantissa * 10 + u64::from(byte - b'0');
            count += 1;
            behind += usize::from(seen);
        } else if byte == decimal && !seen {
            seen = true;
        } else {
            return None;
        }
    }
    if count == 0 || mantissa > EXACT {
        return None;
    }
    let value = mantissa as f64 / TENS[behind];
    Some(if negative { -value } else { value })
}

/// Digits of a plain number whose mantissa is below 2^53 whatever they are.
const SURE: usize = 15;

/// Reads a plain number that begins at `from` (after spaces, where there are any): its digits and
/// the place after it. [`Digits::NONE`] where none that is surely exact stands there; who calls must
/// see whether the cell ends at that place.
#[inline]
pub(crate) fn read(bytes: &[u8], from: usize, decimal: u8) -> (Digits, usize) {
    let mut at = from;
    let mut byte = bytes.get(at).copied().unwrap_or(0);
    while byte == b' ' {
        at += 1;
        byte = bytes.get(at).copied().unwrap_or(0);
    }
    let negative = byte == b'-';
    if negative || byte == b'+' {
        at += 1;
    }
    let (whole, end) = digits(bytes, at, 0);
    let (mut mantissa, mut count, mut behind) = (whole, end - at, 0);
    at = end;
    if bytes.get(at) == Some(&decimal) {
        let (all, end) = digits(bytes, at + 1, mantissa);
        mantissa = all;
        behind = end - at - 1;
        count += behind;
        at = end;
    }
    if count == 0 || count > SURE {
        return (Digits::NONE, at);
    }
    let size = mantissa as i64 as f64;
    let number = Digits {
        whole: if negative { -size } else { size },
        behind: behind as u8,
    };
    (number, at)
}

/// Reads digits on to a mantissa; more than fit are counted, and their value is of no use.
#[inline]
fn digits(bytes: &[u8], from: usize, mut mantissa: u64) -> (u64, usize) {
    let mut at = from;
    while let Some(byte) = bytes.get(at) {
        let digit = byte.wrapping_sub(b'0');
        if digit > 9 {
            break;
        }
        mantissa = mantissa.wrapping_mul(10).wrapping_add(u64::from(digit));
        at += 1;
    }
    (mantissa, at)
}

/// Reads a number with the file's decimal mark; a unit behind it is returned with it.
pub(crate) fn parse(cell: &[u8], decimal: u8) -> Option<(f64, Option<Unit>)> {
    let cell = cell.trim_ascii();
    match plain(cell, decimal) {
        Some(value) => Some((value, None)),
        None if cell.is_empty() || cell.len() > 64 => None,
        None => careful(cell, decimal),
    }
}

/// The slow way: foreign minus signs, thousands marks, exponents, units.
fn careful(cell: &[u8], decimal: u8) -> Option<(f64, Option<Unit>)> {
    let text = super::decode::text(cell);
    let text = text.replace(['\u{2212}', '\u{2013}'], "-");
    let text = text.trim();
    if let Some(inner) = below_zero(text) {
        let (value, unit) = careful(inner.as_bytes(), decimal)?;
        return (value >= 0.0).then_some((-value, unit));
    }
    let end = numeric_end(text);
    let (digits, rest) = text.split_at(end);
    let rest = rest.trim();
    let unit = if rest.is_empty() {
        None
    } else {
        Some(words::unit(rest)?)
    };
    let value: f64 = tidy(digits.trim(), decimal)?.parse().ok()?;
    value.is_finite().then_some((value, unit))
}

/// What stands in brackets, or before a minus sign: how accounts write a number below zero.
fn below_zero(text: &str) -> Option<&str> {
    let inner = text
        .strip_prefix('(')
        .and_then(|rest| rest.strip_suffix(')'))
        .or_else(|| text.strip_suffix('-'))?;
    inner
        .trim_start()
        .starts_with(|c: char| c.is_ascii_digit())
        .then_some(inner)
}

/// Where the number ends and a unit may begin.
fn numeric_end(text: &str) -> usize {
    let mut end = 0;
    let mut digits = false;
    let all: Vec<(usize, char)> = text.char_indices().collect();
    for (k, &(at, c)) in all.iter().enumerate() {
        let next = all.get(k + 1).map(|n| n.1);
        let after = all.get(k + 2).map(|n| n.1);
        let exponent = digits
            && matches!(c, 'e' | 'E')
            && (next.is_some_and(|n| n.is_ascii_digit())
                || (matches!(next, Some('+' | '-')) && after.is_some_and(|n| n.is_ascii_digit())));
        let sign = matches!(c, '+' | '-') && (k == 0 || matches!(all[k - 1].1, 'e' | 'E'));
        if c.is_ascii_digit() || matches!(c, '.' | ',') || is_space_mark(c) || exponent || sign {
            digits |= c.is_ascii_digit();
            end = at + c.len_utf8();
        } else {
            break;
        }
    }
    end
}

/// Marks that only ever group thousands.
fn is_space_mark(c: char) -> bool {
    matches!(c, ' ' | '\u{a0}' | '\u{202f}' | '\'' | '\u{2019}' | '_')
}

/// Drops thousands marks and turns the decimal mark into a point; `None` where marks make no sense.
fn tidy(digits: &str, decimal: u8) -> Option<String> {
    let chars: Vec<char> = digits.chars().collect();
    let points = chars.iter().filter(|c| **c == '.').count();
    let commas = chars.iter().filter(|c| **c == ',').count();
    let mut mark = decimal as char;
    let other = if mark == '.' { ',' } else { '.' };
    let others = if other == ',' { commas } else { points };
    let marks = if mark == ',' { commas } else { points };
    // A lone mark of the other kind that does not group three digits can only be a decimal mark.
    if marks == 0 && others == 1 && !groups_three(&chars, other) {
        mark = other;
    }
    let mut out = String::with_capacity(digits.len());
    for (k, &c) in chars.iter().enumerate() {
        if c == mark {
            out.push('.');
        } else if c == '.' || c == ',' || is_space_mark(c) {
            let trio = chars[k + 1..]
                .iter()
                .take_while(|d| d.is_ascii_digit())
                .count();
            let before = k > 0 && chars[k - 1].is_ascii_digit();
            if trio != 3 || !before {
                return None;
            }
        } else {
            out.push(c);
        }
    }
    (out.matches('.').count() <= 1).then_some(out)
}

/// Whether exactly three digits follow the mark.
fn groups_three(chars: &[char], mark: char) -> bool {
    chars.iter().position(|c| *c == mark).is_some_and(|k| {
        k > 0 && chars[k + 1..].len() == 3 && chars[k + 1..].iter().all(char::is_ascii_digit)
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn value(cell: &str, decimal: u8) -> Option<f64> {
        parse(cell.as_bytes(), decimal).map(|v| v.0)
    }

    #[test]
    fn numbers_in_many_hands() {
        assert_eq!(value("12.34", b'.'), Some(12.34));
        assert_eq!(value(" -0,5 ", b','), Some(-0.5));
        assert_eq!(value("1.234,5", b','), Some(1234.5));
        assert_eq!(value("1,234.5", b'.'), Some(1234.5));
        assert_eq!(value("1 234,5", b','), Some(1234.5));
        assert_eq!(value("\u{2212}3.2", b'.'), Some(-3.2));
        assert_eq!(value("1.2e-3", b'.'), Some(0.0012));
        assert_eq!(value("12,5", b'.'), Some(12.5));
        assert_eq!(value("-967.200012207031", b'.'), Some(-967.200012207031));
    }

    #[test]
    fn the_quick_way_reads_as_the_careful_one_and_says_where_it_stopped() {
        for text in [
            "0",
            "7",
            "12",
            "1234567",
            "123456789012345",
            "1.5",
            "12.50",
            ".5",
            "5.",
            "0.0001234",
            "123456.7",
            "000012.5",
            "-3.25",
            "+4",
            "  9.5",
            ".",
            "-",
            "",
            "x",
            "-0.0",
            "1234567890123456",
        ] {
            for behind in ["", ",", ",12.5", "\n", " V", "\r\n7", "e3", "/", ":", "."] {
                let bytes = format!("#{text}{behind}");
                let (found, end) = read(bytes.as_bytes(), 1, b'.');
                let found = found.value();
                let cell = bytes[1..end].trim_start();
                let digits = cell.bytes().filter(u8::is_ascii_digit).count();
                let expected = plain(cell.as_bytes(), b'.').filter(|_| digits <= SURE);
                assert_eq!(
                    expected.map(f64::to_bits),
                    Some(found).filter(|v| !v.is_nan()).map(f64::to_bits),
                    "{bytes:?} to {end}"
                );
            }
        }
    }

    #[test]
    fn what_is_no_number_is_none() {
        for cell in [
            "",
            "-",
            "---",
            "abc",
            "1.2.3",
            "12:30",
            "2026-05-14",
            "nan",
            "inf",
            "1e999",
        ] {
            assert_eq!(value(cell, b'.'), None, "{cell}");
        }
    }

    #[test]
    fn a_unit_behind_the_number_is_kept() {
        let (number, unit) = parse(b"980 mW", b'.').unwrap();
        assert_eq!((number, unit.unwrap().name), (980.0, "mW"));
        assert_eq!(parse(b"13.2V", b'.').unwrap().1.unwrap().name, "V");
    }
}
