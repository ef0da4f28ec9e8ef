//! `report.json`: written in a stable order with sensible digits, and read back with its schema checked.

use serde_json::{Map, Number, Value};

use super::model::{Report, SCHEMA};

/// Digits kept of a figure that is not whole; finer than any meter, short enough to read.
const DIGITS: i32 = 6;

/// Why a report could not be read or written.
#[derive(Debug, thiserror::Error)]
pub enum JsonError {
    /// The text is not JSON, or a key is missing or of the wrong kind.
    #[error("{place}: {what}; make the report again with `reconcile`")]
    Broken {
        /// Line and column.
        place: String,
        /// What is wrong.
        what: String,
    },
    /// It is JSON, but no report of this program.
    #[error(
        "key `schema` holds {found}, expected \"{SCHEMA}\"; give a report.json written by this program"
    )]
    Schema {
        /// What stands there.
        found: String,
    },
}

/// The report as indented JSON with a final newline. The same report gives the same bytes.
pub fn render(report: &Report) -> Result<String, JsonError> {
    let broken = |e: serde_json::Error| JsonError::Broken {
        place: "report".to_string(),
        what: e.to_string(),
    };
    let value = serde_json::to_value(report).map_err(broken)?;
    let mut text = String::new();
    write_value(&tidy(value), 0, &mut text);
    text.push('\n');
    Ok(text)
}

/// Reads a report.
pub fn parse(text: &str) -> Result<Report, JsonError> {
    let broken = |e: serde_json::Error| JsonError::Broken {
        place: format!("line {}, column {}", e.line(), e.column()),
        what: e.to_string(),
    };
    let value: Value = serde_json::from_str(text).map_err(broken)?;
    match value.get("schema") {
        Some(Value::String(schema)) if schema == SCHEMA => {}
        other => {
            return Err(JsonError::Schema {
                found: other.map_or("nothing".to_string(), Value::to_string),
            });
        }
    }
    // From the text once more, so that an error names its line.
    serde_json::from_str(text).map_err(broken)
}

/// Rounds every figure to [`DIGITS`] significant digits; whole numbers stay whole.
fn tidy(value: Value) -> Value {
    match value {
        Value::Number(n) => match n.as_f64() {
            Some(v) if !n.is_i64() && !n.is_u64() => {
                Number::from_f64(round(v)).map_or(Value::Null, Value::Number)
            }
            _ => Value::Number(n),
        },
        Value::Array(items) => Value::Array(items.into_iter().map(tidy).collect()),
        Value::Object(map) => Value::Object(
            map.into_iter()
                .map(|(k, v)| (k, tidy(v)))
                .collect::<Map<_, _>>(),
        ),
        other => other,
    }
}

/// Energies over a long period keep their tenth of a Wh, so that accounts still close when read back.
fn round(v: f64) -> f64 {
    if v == 0.0 {
        return 0.0;
    }
    let magnitude = v.abs().log10().floor() as i32;
    let places = (DIGITS - 1 - magnitude).clamp(3, 12);
    let factor = 10f64.powi(places);
    let rounded = (v * factor).round() / factor;
    if rounded.is_finite() { rounded } else { v }
}

/// Indented, but lists of plain values on one line: a profile of thousands of points stays readable.
fn write_value(value: &Value, depth: usize, out: &mut String) {
    match value {
        Value::Array(items) if items.iter().any(|i| i.is_object()) => {
            write_block(items.iter().map(|v| (None, v)), '[', ']', depth, out);
        }
        Value::Array(items) => write_line(items, out),
        Value::Object(map) if !map.is_empty() => {
            write_block(map.iter().map(|(k, v)| (Some(k), v)), '{', '}', depth, out);
        }
        plain => out.push_str(&plain.to_string()),
    }
}

fn write_line(items: &[Value], out: &mut String) {
    out.push('[');
    for (i, item) in items.iter().enumerate() {
        if i > 0 {
            out.push_str(", ");
        }
        out.push_str(&item.to_string());
    }
    out.push(']');
}

fn write_block<'a>(
    members: impl Iterator<Item = (Option<&'a String>, &'a Value)>,
    open: char,
    close: char,
    depth: usize,
    out: &mut String,
) {
    out.push(open);
    for (i, (key, value)) in members.enumerate() {
        out.push_str(if i > 0 { ",\n" } else { "\n" });
        out.push_str(&"  ".repeat(depth + 1));
        if let Some(key) = key {
            out.push_str(&Value::String(key.clone()).to_string());
            out.push_str(": ");
        }
        write_value(value, depth + 1, out);
    }
    out.push('\n');
    out.push_str(&"  ".repeat(depth));
    out.push(close);
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::report::demo;

    #[test]
    fn a_report_survives_the_round_trip() {
        for report in demo::all() {
            let once = render(&report).unwrap();
            let back = parse(&once).unwrap();
            assert_eq!(render(&back).unwrap(), once);
            assert_eq!(back.days.len(), report.days.len());
            assert_eq!(back.findings.len(), report.findings.len());
            assert!(!once.contains("NaN"));
        }
    }

    #[test]
    fn what_is_not_finite_becomes_null() {
        let mut report = demo::healthy();
        report.days[0].lost_wh = Some(f64::NAN);
        let back = parse(&render(&report).unwrap()).unwrap();
        assert_eq!(back.days[0].lost_wh, None);
    }

    #[test]
    fn a_foreign_schema_is_refused_by_name() {
        let text = render(&demo::healthy()).unwrap();
        let foreign = text.replacen(SCHEMA, "something-else-9", 1);
        let error = parse(&foreign).unwrap_err().to_string();
        assert!(
            error.contains("something-else-9") && error.contains(SCHEMA),
            "{error}"
        );
    }

    #[test]
    fn an_error_names_its_place() {
        let text = render(&demo::healthy()).unwrap();
        let broken = text.replacen("\"period\": {", "\"period\": [", 1);
        let error = parse(&broken).unwrap_err().to_string();
        assert!(error.starts_with("line "), "{error}");
        let missing = text.replacen("\"run\"", "\"ran\"", 1);
        let error = parse(&missing).unwrap_err().to_string();
        assert!(
            error.contains("`run`") && error.contains("line "),
            "{error}"
        );
    }

    #[test]
    fn digits_are_rounded_but_accounts_still_close() {
        assert_eq!(round(1.0 / 3.0), 0.333_333);
        assert_eq!(round(123_456.123_4), 123_456.123);
        assert_eq!(round(-0.0), 0.0);
    }
}
