//! Figures in running text: two or three significant digits, unit after a space, ranges in words.

use crate::quantity::Interval;

/// A number with two significant digits, or whole from 10 to 999.
///
/// ```
/// use ampledger::words::about;
///
/// assert_eq!(about(1262.0), "1300");
/// assert_eq!(about(0.0456), "0.046");
/// ```
pub fn about(value: f64) -> String {
    let size = value.abs();
    if size < 0.005 {
        return "0".to_owned();
    }
    let digits = 1 - size.log10().floor() as i32;
    if digits > 0 {
        let text = format!("{value:.*}", digits.min(3) as usize);
        if text.contains('.') {
            return text.trim_end_matches('0').trim_end_matches('.').to_owned();
        }
        return text;
    }
    let step = 10f64.powi(-digits);
    format!("{:.0}", (value / step).round() * step)
}

/// A figure as a label states it, to a tenth: `125`, `12.5`.
///
/// ```
/// use ampledger::words::as_stated;
/// assert_eq!(as_stated(125.0), "125");
/// assert_eq!(as_stated(12.5), "12.5");
/// ```
pub fn as_stated(value: f64) -> String {
    let text = format!("{value:.1}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// `9.2 Wh`.
pub fn with_unit(value: f64, unit: &str) -> String {
    format!("{} {unit}", about(value))
}

/// `9.2 Wh (7.5 to 11 Wh)`: two significant digits of the value, three where the range is so narrow that
/// its ends would read alike, or one like the value.
///
/// ```
/// use ampledger::quantity::Interval;
/// use ampledger::words::ranged;
///
/// assert_eq!(ranged(&Interval::new(420.0, 350.0, 490.0), "Wh"), "420 Wh (350 to 490 Wh)");
/// // Rounded to two digits the value would stand on an end.
/// assert_eq!(ranged(&Interval::new(1262.0, 1230.0, 1290.0), "Wh"), "1260 Wh (1230 to 1290 Wh)");
/// ```
pub fn ranged(interval: &Interval, unit: &str) -> String {
    let [value, low, high] = [interval.value, interval.low, interval.high].map(about);
    let is_range = interval.low < interval.high;
    let at_end = (value == low && interval.value > interval.low)
        || (value == high && interval.value < interval.high);
    let alike = is_range && (low == high || at_end);
    let figure = |value: f64| {
        if alike { three(value) } else { about(value) }
    };
    format!(
        "{} {unit} ({} to {} {unit})",
        figure(interval.value),
        figure(interval.low),
        figure(interval.high)
    )
}

/// A number with three significant digits.
fn three(value: f64) -> String {
    if value == 0.0 {
        return "0".to_owned();
    }
    let digits = 2 - value.abs().log10().floor() as i32;
    let step = 10f64.powi(-digits);
    format!(
        "{:.*}",
        usize::try_from(digits).unwrap_or(0),
        (value / step).round() * step
    )
}

/// `48 % (44 to 52 %)` from shares.
pub fn percent(interval: &Interval) -> String {
    format!(
        "{:.0} % ({:.0} to {:.0} %)",
        100.0 * interval.value,
        100.0 * interval.low,
        100.0 * interval.high
    )
}

/// `40 minutes`, `22 hours`: hours from two of them on.
pub fn lasting(minutes: f64) -> String {
    if minutes < 120.0 {
        with_unit(minutes, "minutes")
    } else {
        with_unit(minutes / 60.0, "hours")
    }
}

/// `1 day`, `6 days`.
pub fn days(count: usize) -> String {
    match count {
        1 => "1 day".to_owned(),
        n => format!("{n} days"),
    }
}

/// `14 May` from an ISO date, as given where it is none.
pub fn date(iso: &str) -> String {
    chrono::NaiveDate::parse_from_str(iso, "%Y-%m-%d")
        .map_or_else(|_| iso.to_owned(), |d| d.format("%-d %B").to_string())
}

/// A text up to its first full stop, that included.
pub fn first_sentence(text: &str) -> &str {
    match text.find(". ") {
        Some(end) => &text[..=end],
        None => text,
    }
}

/// The text with its first letter small.
pub fn lower_first(text: &str) -> String {
    let mut chars = text.chars();
    chars
        .next()
        .map(|c| c.to_lowercase().chain(chars).collect())
        .unwrap_or_default()
}

/// The text with its first letter large.
pub fn upper_first(text: &str) -> String {
    let mut chars = text.chars();
    chars
        .next()
        .map(|c| c.to_uppercase().chain(chars).collect())
        .unwrap_or_default()
}

/// What the system says of a file, as the end of "cannot be read: ...": no numbers, no passing names.
pub fn of_file(error: &std::io::Error) -> String {
    use std::io::ErrorKind;
    match error.kind() {
        ErrorKind::NotFound => "there is no such file or folder".to_owned(),
        ErrorKind::PermissionDenied => "it is not allowed to you".to_owned(),
        ErrorKind::IsADirectory => "it is a folder".to_owned(),
        ErrorKind::NotADirectory => "a part of its path is a file, not a folder".to_owned(),
        ErrorKind::AlreadyExists => "something of that name is in the way".to_owned(),
        ErrorKind::StorageFull => "no space is left".to_owned(),
        ErrorKind::ReadOnlyFilesystem => "nothing can be written there".to_owned(),
        ErrorKind::InvalidData => "it is not UTF-8 text".to_owned(),
        _ => {
            let said = error.to_string();
            let said = said.split(" at path ").next().unwrap_or_default();
            said.split(" (os error")
                .next()
                .unwrap_or_default()
                .to_owned()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_have_two_significant_digits() {
        assert_eq!(about(1234.0), "1200");
        assert_eq!(about(12.34), "12");
        assert_eq!(about(1.26), "1.3");
        assert_eq!(about(0.0456), "0.046");
        assert_eq!(about(-3.0), "-3");
        assert_eq!(about(0.0), "0");
    }

    #[test]
    fn a_narrow_range_gets_a_third_digit() {
        let wh = |value, low, high| ranged(&Interval::new(value, low, high), "Wh");
        assert_eq!(wh(1293.0, 1274.0, 1311.0), "1290 Wh (1270 to 1310 Wh)");
        assert_eq!(wh(9.2, 7.5, 11.2), "9.2 Wh (7.5 to 11 Wh)");
        assert_eq!(wh(0.971, 0.9704, 0.9716), "0.971 Wh (0.970 to 0.972 Wh)");
        assert_eq!(wh(50.0, 50.0, 50.0), "50 Wh (50 to 50 Wh)");
    }

    #[test]
    fn dates_read_as_people_say_them() {
        assert_eq!(date("2026-05-04"), "4 May");
        assert_eq!(date("soon"), "soon");
    }
}
