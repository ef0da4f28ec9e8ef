//! Text with a unit, as owners write it, into base units.

use super::units::{self, Measures};

/// What kind of quantity a key holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Dimension {
    /// Base unit V.
    Voltage,
    /// Base unit A.
    Current,
    /// Base unit W.
    Power,
    /// Base unit Wh.
    Energy,
    /// Base unit Ah.
    Charge,
    /// Base unit m.
    Length,
    /// Base unit C.
    Temperature,
    /// Base unit mohm.
    Resistance,
    /// Base unit s.
    Duration,
    /// A share: 0.9 for `90 %`.
    Share,
    /// A share per degree: -0.0035 for `-0.35 %`.
    PerDegree,
    /// Base unit degrees.
    Angle,
    /// Base unit mm2.
    Area,
}

impl Dimension {
    /// The dimension in words, with its article.
    pub fn noun(self) -> &'static str {
        match self {
            Dimension::Voltage => "a voltage",
            Dimension::Current => "a current",
            Dimension::Power => "a power",
            Dimension::Energy => "an energy",
            Dimension::Charge => "a charge in ampere-hours",
            Dimension::Length => "a length",
            Dimension::Temperature => "a temperature",
            Dimension::Resistance => "a resistance",
            Dimension::Duration => "a length of time",
            Dimension::Share => "a share in percent",
            Dimension::PerDegree => "a share in percent per degree",
            Dimension::Angle => "an angle",
            Dimension::Area => "a cross-section",
        }
    }

    /// A quantity of this dimension, rightly written.
    pub fn example(self) -> &'static str {
        match self {
            Dimension::Voltage => "14.2 V",
            Dimension::Current => "30 A",
            Dimension::Power => "45 W",
            Dimension::Energy => "1500 Wh",
            Dimension::Charge => "200 Ah",
            Dimension::Length => "6 m",
            Dimension::Temperature => "18 C",
            Dimension::Resistance => "5 mohm",
            Dimension::Duration => "1 h 30 min",
            Dimension::Share => "90 %",
            Dimension::PerDegree => "-0.35 %",
            Dimension::Angle => "30 deg",
            Dimension::Area => "16 mm2",
        }
    }

    /// The unit values are shown in, and how many of it make one base unit.
    fn shown_in(self) -> (&'static str, f64) {
        match self {
            Dimension::Voltage => ("V", 1.0),
            Dimension::Current => ("A", 1.0),
            Dimension::Power => ("W", 1.0),
            Dimension::Energy => ("Wh", 1.0),
            Dimension::Charge => ("Ah", 1.0),
            Dimension::Length => ("m", 1.0),
            Dimension::Temperature => ("C", 1.0),
            Dimension::Resistance => ("mohm", 1.0),
            Dimension::Duration => ("min", 1.0 / 60.0),
            Dimension::Share | Dimension::PerDegree => ("%", 100.0),
            Dimension::Angle => ("deg", 1.0),
            Dimension::Area => ("mm2", 1.0),
        }
    }

    /// A value in the base unit as an owner would write it, at most three decimals.
    pub fn show(self, base: f64) -> String {
        if self == Dimension::Voltage && base.abs() < 0.1 && base != 0.0 {
            return format!("{} mV", trim(base * 1e3));
        }
        let (unit, per_base) = self.shown_in();
        format!("{} {unit}", trim(base * per_base))
    }
}

/// A number without needless zeros, at most three decimals.
pub(crate) fn trim(value: f64) -> String {
    let text = format!("{value:.3}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0" } else { text }.to_owned()
}

/// Why a quantity could not be read. Each prints what was given, what is needed and an example.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum QuantityError {
    /// No number at its start.
    #[error("\"{given}\" is not a number with a unit; {} is needed, for instance \"{}\"", .needed.noun(), .needed.example())]
    Malformed {
        /// As written.
        given: String,
        /// What the key holds.
        needed: Dimension,
    },
    /// A number alone.
    #[error("\"{given}\" has no unit; {} is needed: {right}", .needed.noun())]
    NoUnit {
        /// As written.
        given: String,
        /// What the key holds.
        needed: Dimension,
        /// What to write.
        right: String,
    },
    /// A comma in the number.
    #[error("\"{given}\" has a comma; the decimal mark is a point: write {right}")]
    Comma {
        /// As written.
        given: String,
        /// The right form or forms, in quotes.
        right: String,
    },
    /// A unit of another kind.
    #[error("\"{given}\" is {is}; {} is needed, for instance \"{}\"", .needed.noun(), .needed.example())]
    OtherKind {
        /// As written.
        given: String,
        /// What it is.
        is: &'static str,
        /// What the key holds.
        needed: Dimension,
    },
    /// A unit nobody knows.
    #[error("\"{given}\": the unit \"{unit}\" is not known; {} is needed, in {units}", .needed.noun())]
    UnknownUnit {
        /// As written.
        given: String,
        /// The unit as written.
        unit: String,
        /// What the key holds.
        needed: Dimension,
        /// The units that fit.
        units: String,
    },
    /// Beyond what a number can hold.
    #[error("\"{given}\" is too large a number")]
    TooLarge {
        /// As written.
        given: String,
    },
}

/// What to write for a bare number: `write "215 W"`; percent keys get an example, for it is open
/// whether a bare 0.9 was meant as a share.
pub fn with_unit(number: &str, dimension: Dimension) -> String {
    match dimension {
        Dimension::Share | Dimension::PerDegree => {
            format!("write for instance \"{}\"", dimension.example())
        }
        Dimension::Duration => format!("write \"{number} min\" or \"{number} h\""),
        _ => format!("write \"{number} {}\"", dimension.shown_in().0),
    }
}

/// Parses `text` as a quantity of the given dimension into its base unit (see [`Dimension`]).
///
/// A missing space and a typographic minus are forgiven; lengths and times may be compound
/// (`1 h 30 min`, `5 ft 6 in`), one sign for the whole.
///
/// # Errors
/// A [`QuantityError`] whose text shows the right form. The result is always finite.
///
/// ```
/// use ampledger::quantity::{Dimension, parse};
///
/// assert_eq!(parse("0.4 kW", Dimension::Power), Ok(400.0));
/// let bare = parse("400", Dimension::Power).unwrap_err();
/// assert!(bare.to_string().contains("W"));
/// ```
pub fn parse(text: &str, dimension: Dimension) -> Result<f64, QuantityError> {
    let given = text.trim();
    let malformed = || QuantityError::Malformed {
        given: given.to_owned(),
        needed: dimension,
    };
    let (negative, mut rest) = split_sign(given);
    let compound = matches!(dimension, Dimension::Duration | Dimension::Length);
    let mut sum = 0.0;
    let mut parts = 0;
    while !rest.is_empty() {
        if parts > 0 && !compound {
            return Err(malformed());
        }
        let (number, after) = split_number(rest).ok_or_else(malformed)?;
        if after.starts_with(',') {
            return Err(comma(given));
        }
        let (unit, after) = split_unit(after);
        if unit.is_empty() && !after.is_empty() {
            return Err(malformed());
        }
        let signed = if negative { -number } else { number };
        sum += in_base(given, signed, unit, dimension)?;
        parts += 1;
        rest = after;
    }
    match parts {
        0 => Err(malformed()),
        _ if sum.is_finite() => Ok(sum),
        _ => Err(QuantityError::TooLarge {
            given: given.to_owned(),
        }),
    }
}

/// Converts a number in a named unit (`"mV"`) to the dimension's base unit; `None` for a unit
/// that is not of that dimension.
pub fn convert(value: f64, unit: &str, dimension: Dimension) -> Option<f64> {
    units::find(unit.trim(), dimension).map(|u| value * u.factor + u.offset)
}

fn in_base(given: &str, value: f64, unit: &str, needed: Dimension) -> Result<f64, QuantityError> {
    let given = given.to_owned();
    if unit.is_empty() {
        let right = with_unit(&given, needed);
        return Err(QuantityError::NoUnit {
            given,
            needed,
            right,
        });
    }
    if let Some(found) = units::find(unit, needed) {
        return Ok(value * found.factor + found.offset);
    }
    let is = match units::elsewhere(unit) {
        Some(Measures::Known(d)) if d != needed => Some(d.noun()),
        Some(Measures::Other(what)) => Some(what),
        _ => None,
    };
    Err(match is {
        Some(is) => QuantityError::OtherKind { given, is, needed },
        None => QuantityError::UnknownUnit {
            given,
            unit: unit.to_owned(),
            needed,
            units: units::names(needed).take(4).collect::<Vec<_>>().join(", "),
        },
    })
}

/// Takes a leading sign off; typographic minus and en dash count as minus.
fn split_sign(text: &str) -> (bool, &str) {
    let mut letters = text.chars();
    match letters.next() {
        Some('-' | '\u{2212}' | '\u{2013}') => (true, letters.as_str().trim_start()),
        Some('+') => (false, letters.as_str().trim_start()),
        _ => (false, text),
    }
}

/// Takes a plain decimal number (an exponent allowed) off the front.
fn split_number(text: &str) -> Option<(f64, &str)> {
    let bytes = text.as_bytes();
    let digits = |from: usize| {
        bytes[from..]
            .iter()
            .take_while(|b| b.is_ascii_digit())
            .count()
    };
    let mut end = digits(0);
    if bytes.get(end) == Some(&b'.') {
        end += 1 + digits(end + 1);
    }
    if matches!(bytes.get(end), Some(b'e' | b'E')) {
        let sign = usize::from(matches!(bytes.get(end + 1), Some(b'+' | b'-')));
        let exponent = bytes
            .get(end + 1 + sign..)
            .map_or(0, |_| digits(end + 1 + sign));
        if exponent > 0 {
            end += 1 + sign + exponent;
        }
    }
    let number = text[..end].parse::<f64>().ok()?;
    Some((number, text[end..].trim_start()))
}

/// Takes the unit off the front: everything up to the next space followed by a number.
fn split_unit(text: &str) -> (&str, &str) {
    let mut end = text.len();
    let mut power_follows = false;
    for (i, letter) in text.char_indices() {
        if letter.is_whitespace() {
            end = i;
            break;
        }
        // The 2 of mm2 and W/m2 belongs to the unit; in "1h30min" a digit begins the next part.
        if letter.is_ascii_digit() && !power_follows {
            end = i;
            break;
        }
        power_follows = letter == 'm' || letter == '^';
    }
    let (unit, rest) = text.split_at(end);
    (unit, rest.trim_start())
}

fn comma(given: &str) -> QuantityError {
    let point = given.replacen(',', ".", 1);
    let decimals = given
        .split(',')
        .nth(1)
        .map_or(0, |t| t.chars().take_while(char::is_ascii_digit).count());
    let right = match decimals {
        3 => format!("\"{}\" or \"{point}\"", given.replace(',', "")),
        _ => format!("\"{point}\""),
    };
    QuantityError::Comma {
        given: given.to_owned(),
        right,
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[track_caller]
    fn is(text: &str, dimension: Dimension, base: f64) {
        let got = parse(text, dimension).unwrap();
        assert!((got - base).abs() < 1e-9, "{text}: {got}, not {base}");
    }

    #[test]
    fn every_dimension_reaches_its_base_unit() {
        is("215 W", Dimension::Power, 215.0);
        is("1.2kW", Dimension::Power, 1200.0);
        is("48v", Dimension::Voltage, 48.0);
        is("\u{2212}18 mV", Dimension::Voltage, -0.018);
        is("20 ft", Dimension::Length, 6.096);
        is("5 ft 6 in", Dimension::Length, 1.6764);
        is("59 F", Dimension::Temperature, 15.0);
        is("-40 °F", Dimension::Temperature, -40.0);
        is("273.15 K", Dimension::Temperature, 0.0);
        is("0.005 Ω", Dimension::Resistance, 5.0);
        is("5 mohm", Dimension::Resistance, 5.0);
        is("1 h 30 min", Dimension::Duration, 5400.0);
        is("1h30min", Dimension::Duration, 5400.0);
        is("-1 h 30 min", Dimension::Duration, -5400.0);
        is("90 %", Dimension::Share, 0.9);
        is("-0.35 %/°C", Dimension::PerDegree, -0.0035);
        is("2.5mm²", Dimension::Area, 2.5);
        is("16 mm2", Dimension::Area, 16.0);
        is("30°", Dimension::Angle, 30.0);
        is("1e3 mAh", Dimension::Charge, 1.0);
    }

    #[test]
    fn a_wrong_one_says_what_it_is_and_what_is_needed() {
        let said = |text, dimension| parse(text, dimension).unwrap_err().to_string();
        assert_eq!(
            said("6 kg", Dimension::Length),
            "\"6 kg\" is a mass; a length is needed, for instance \"6 m\""
        );
        assert_eq!(
            said("215", Dimension::Power),
            "\"215\" has no unit; a power is needed: write \"215 W\""
        );
        assert_eq!(
            said("1,5 kWh", Dimension::Energy),
            "\"1,5 kWh\" has a comma; the decimal mark is a point: write \"1.5 kWh\""
        );
        assert!(said("1 MW", Dimension::Power).contains("the unit \"MW\" is not known"));
        assert!(said("1 500 Wh", Dimension::Energy).contains("is not a number with a unit"));
        assert!(said("1e999 V", Dimension::Voltage).contains("too large"));
    }

    proptest! {
        #[test]
        fn any_text_gives_a_finite_number_or_an_error(text in ".{0,24}", which in 0usize..13) {
            let all = [
                Dimension::Voltage, Dimension::Current, Dimension::Power, Dimension::Energy,
                Dimension::Charge, Dimension::Length, Dimension::Temperature,
                Dimension::Resistance, Dimension::Duration, Dimension::Share,
                Dimension::PerDegree, Dimension::Angle, Dimension::Area,
            ];
            match parse(&text, all[which]) {
                Ok(value) => prop_assert!(value.is_finite()),
                Err(error) => prop_assert!(!error.to_string().is_empty()),
            }
        }

        #[test]
        fn what_is_shown_reads_back(value in -1.0e5f64..1.0e5) {
            let shown = Dimension::Power.show(value);
            let back = parse(&shown, Dimension::Power).unwrap();
            prop_assert!((back - value).abs() <= 0.0005001);
        }
    }
}
