//! One value of a design file, checked against what its key may hold.

use chrono::{NaiveDate, NaiveDateTime, NaiveTime};
use toml::de::{DeFloat, DeInteger, DeValue};

use super::keys::{Key, Kind};
use super::system::{Moment, WireSize};
use super::wire::wire_size;
use crate::mapping::{HeaderRef, StampZone};
use crate::quantity::{self, Dimension, trim};

/// A value that fits its key.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Decoded {
    /// Quantities (in the base unit), numbers and counts.
    Number(f64),
    /// One value a month.
    Months([f64; 12]),
    /// Texts and words.
    Text(String),
    /// One or several texts.
    Texts(Vec<String>),
    /// A conductor's size.
    Wire(WireSize),
    /// A zone.
    Zone(StampZone),
    /// A date or date-time, with the offset in minutes where it carries one.
    Moment(Moment, Option<i16>),
    /// A header line.
    Header(HeaderRef),
}

/// Checks and converts a value; the error says what is wrong and how to write it, without the key.
pub(super) fn decode(key: &Key, value: &DeValue<'_>) -> Result<Decoded, String> {
    match key.kind {
        Kind::Quantity(d, low, high) => quantity_in(value, d, low, high).map(Decoded::Number),
        Kind::QuantityByMonth(d, low, high) => {
            by_month(value, |v| quantity_in(v, d, low, high)).map(Decoded::Months)
        }
        Kind::Number(low, high) => number_in(key, value, low, high).map(Decoded::Number),
        Kind::NumberByMonth(low, high) => {
            by_month(value, |v| number_in(key, v, low, high)).map(Decoded::Months)
        }
        Kind::Count(low, high) => count_in(key, value, low, high).map(Decoded::Number),
        Kind::Text => text_of(key, value).map(Decoded::Text),
        Kind::Word(words) => word_of(key, value, words).map(Decoded::Text),
        Kind::Texts => texts_of(key, value).map(Decoded::Texts),
        Kind::Wire => {
            let text = text_of(key, value)?;
            wire_size(&text).map(Decoded::Wire)
        }
        Kind::Zone => {
            crate::calendar::zone(&text_of(key, value)?).map(|z| Decoded::Zone(StampZone::Named(z)))
        }
        Kind::ZoneOrLocal => match text_of(key, value)?.as_str() {
            "local" => Ok(Decoded::Zone(StampZone::Local)),
            name => crate::calendar::zone(name).map(|z| Decoded::Zone(StampZone::Named(z))),
        },
        Kind::Date => match moment_of(key, value)? {
            found @ Decoded::Moment(Moment::Day(_), None) => Ok(found),
            _ => Err(format!(
                "a date alone is needed, for instance {}",
                key.example
            )),
        },
        Kind::Moment => moment_of(key, value),
        Kind::Header => header_of(key, value),
        Kind::Section | Kind::Sections | Kind::Open => {
            Err("is a section and holds no value of its own".to_owned())
        }
    }
}

/// A TOML integer that fits 64 bits.
pub(super) fn integer(value: &DeInteger<'_>) -> Option<i64> {
    i64::from_str_radix(value.as_str(), value.radix()).ok()
}

/// A finite TOML float.
pub(super) fn float(value: &DeFloat<'_>) -> Option<f64> {
    value.as_str().parse::<f64>().ok().filter(|v| v.is_finite())
}

/// The kind of a value in an owner's words.
pub(super) fn kind_of(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "text",
        DeValue::Integer(_) | DeValue::Float(_) => "a number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date or time",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a section",
    }
}

fn quantity_in(
    value: &DeValue<'_>,
    dimension: Dimension,
    low: f64,
    high: f64,
) -> Result<f64, String> {
    let text = match value {
        DeValue::String(text) => text,
        DeValue::Integer(n) => return Err(bare(&n.to_string(), dimension)),
        DeValue::Float(n) => return Err(bare(n.as_str(), dimension)),
        other => {
            return Err(format!(
                "is {}; {} is needed, for instance \"{}\"",
                kind_of(other),
                dimension.noun(),
                dimension.example()
            ));
        }
    };
    let base = quantity::parse(text, dimension)
        .map_err(|e| as_bearing(text, dimension, high).unwrap_or_else(|| e.to_string()))?;
    // 95 hundredths are a hair more than 0.95 once multiplied: the end itself is possible.
    let slack = 1e-9 * high.abs().max(low.abs());
    if (low - slack..=high + slack).contains(&base) {
        return Ok(base.clamp(low, high));
    }
    Err(format!(
        "\"{}\" is outside what is possible, {} to {}",
        text.trim(),
        dimension.show(low),
        dimension.show(high)
    ))
}

/// How a wind is written where any bearing may stand.
fn as_bearing(text: &str, dimension: Dimension, high: f64) -> Option<String> {
    let any = dimension == Dimension::Angle && high >= 360.0;
    let bearing = quantity::of_wind(text).filter(|_| any)?;
    Some(format!(
        "\"{}\" is a word; a bearing is needed, in degrees clockwise from north: write \"{}\"",
        text.trim(),
        dimension.show(bearing)
    ))
}

fn bare(number: &str, dimension: Dimension) -> String {
    format!(
        "{number} has no unit; {} is needed: {}",
        dimension.noun(),
        quantity::with_unit(number, dimension)
    )
}

fn number_in(key: &Key, value: &DeValue<'_>, low: f64, high: f64) -> Result<f64, String> {
    let found = match value {
        DeValue::Integer(n) => integer(n).map(|n| n as f64),
        DeValue::Float(n) => float(n),
        other => return Err(needs(key, other, "a bare number")),
    };
    match found {
        Some(n) if (low..=high).contains(&n) => Ok(n),
        Some(n) => Err(outside(&trim(n), low, high)),
        None => Err("is not a number to reckon with".to_owned()),
    }
}

fn count_in(key: &Key, value: &DeValue<'_>, low: u32, high: u32) -> Result<f64, String> {
    let (low, high) = (f64::from(low), f64::from(high));
    let DeValue::Integer(written) = value else {
        return Err(needs(key, value, "a whole number"));
    };
    let found = integer(written).map(|n| n as f64);
    found
        .filter(|n| (low..=high).contains(n))
        .ok_or_else(|| outside(&written.to_string(), low, high))
}

fn outside(written: &str, low: f64, high: f64) -> String {
    format!(
        "{written} is outside what is possible, {} to {}",
        trim(low),
        trim(high)
    )
}

fn needs(key: &Key, found: &DeValue<'_>, what: &str) -> String {
    let shown = match found {
        DeValue::String(text) => format!("\"{text}\""),
        DeValue::Integer(n) => n.to_string(),
        DeValue::Float(n) => n.to_string(),
        DeValue::Boolean(truth) => truth.to_string(),
        other => kind_of(other).to_owned(),
    };
    format!("is {shown}; {what} is needed, for instance {}", key.example)
}

fn text_of(key: &Key, value: &DeValue<'_>) -> Result<String, String> {
    match value {
        DeValue::String(text) if text.is_empty() => Err(format!(
            "is empty; write text, for instance {}",
            key.example
        )),
        DeValue::String(text) => Ok(text.to_string()),
        other => Err(needs(key, other, "text in double quotes")),
    }
}

fn texts_of(key: &Key, value: &DeValue<'_>) -> Result<Vec<String>, String> {
    match value {
        DeValue::Array(list) if list.is_empty() => Err(format!(
            "is an empty list; write for instance {}",
            key.example
        )),
        DeValue::Array(list) => list.iter().map(|v| text_of(key, v.get_ref())).collect(),
        one => text_of(key, one).map(|text| vec![text]),
    }
}

fn word_of(key: &Key, value: &DeValue<'_>, words: &[&str]) -> Result<String, String> {
    let text = text_of(key, value)?;
    if words.contains(&text.as_str()) {
        return Ok(text);
    }
    let lower = text.to_lowercase();
    let near = words
        .iter()
        .map(|w| (strsim::jaro_winkler(w, &lower), w))
        .filter(|found| found.0 > 0.8)
        .max_by(|a, b| a.0.total_cmp(&b.0));
    let hint = near.map_or(String::new(), |(_, w)| format!("; did you mean \"{w}\"?"));
    let list: Vec<String> = words.iter().map(|w| format!("\"{w}\"")).collect();
    Err(format!("\"{text}\" is none of {}{hint}", list.join(", ")))
}

fn moment_of(key: &Key, value: &DeValue<'_>) -> Result<Decoded, String> {
    let wrong = || needs(key, value, "a date or date-time without quotes");
    let DeValue::Datetime(stamp) = value else {
        return Err(wrong());
    };
    let date = stamp.date.ok_or_else(wrong)?;
    let day = NaiveDate::from_ymd_opt(i32::from(date.year), date.month.into(), date.day.into())
        .filter(|d| (1970..=2200).contains(&chrono::Datelike::year(d)))
        .ok_or_else(|| "no such date between 1970 and 2200".to_owned())?;
    let Some(time) = stamp.time else {
        return Ok(Decoded::Moment(Moment::Day(day), None));
    };
    // A leap second is taken for the second before it.
    let second = u32::from(time.second.unwrap_or(0)).min(59);
    let clock = NaiveTime::from_hms_opt(time.hour.into(), time.minute.into(), second)
        .ok_or_else(|| "no such time of day".to_owned())?;
    let offset = stamp.offset.map(|o| match o {
        toml::value::Offset::Z => 0,
        toml::value::Offset::Custom { minutes } => minutes,
    });
    Ok(Decoded::Moment(
        Moment::Wall(NaiveDateTime::new(day, clock)),
        offset,
    ))
}

fn header_of(key: &Key, value: &DeValue<'_>) -> Result<Decoded, String> {
    match value {
        DeValue::Boolean(false) => Ok(Decoded::Header(HeaderRef::None)),
        DeValue::Integer(n) => match integer(n).and_then(|n| usize::try_from(n).ok()) {
            Some(line @ 1..=100_000) => Ok(Decoded::Header(HeaderRef::Line(line))),
            _ => Err(
                "a line number from 1 to 100000 is needed, or false where there is no header"
                    .to_owned(),
            ),
        },
        other => Err(needs(key, other, "a line number, or false for none")),
    }
}

fn by_month(
    value: &DeValue<'_>,
    one: impl Fn(&DeValue<'_>) -> Result<f64, String>,
) -> Result<[f64; 12], String> {
    let DeValue::Array(list) = value else {
        return one(value).map(|v| [v; 12]);
    };
    let months = list
        .iter()
        .enumerate()
        .map(|(i, v)| one(v.get_ref()).map_err(|why| format!("month {}: {why}", i + 1)))
        .collect::<Result<Vec<f64>, String>>()?;
    let count = months.len();
    <[f64; 12]>::try_from(months)
        .map_err(|_| format!("has {count} values; one is needed, or twelve from January on"))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::design::keys;

    #[test]
    fn each_key_takes_its_own_example() {
        for key in keys::all() {
            if matches!(key.kind, Kind::Section | Kind::Sections | Kind::Open) {
                continue;
            }
            let value = DeValue::parse(key.example).unwrap();
            let found = decode(key, value.get_ref());
            assert!(found.is_ok(), "{}: {found:?}", key.path);
        }
    }

    #[test]
    fn no_key_takes_what_is_of_another_kind() {
        for key in keys::all() {
            for text in ["[[1]]", "{ a = 1 }", "-inf", "07:32:00"] {
                let value = DeValue::parse(text).unwrap();
                assert!(
                    decode(key, value.get_ref()).is_err(),
                    "{} = {text}",
                    key.path
                );
            }
        }
    }
}
