//! `report.json`: written in a stable order with sensible digits, and read back with its schema checked.

use std::io;

use serde_json::Value;
use serde_json::ser::{CompactFormatter, Formatter, Serializer};

use super::model::{Report, SCHEMA};

/// Digits kept of a figure that is not whole; finer than any meter, short enough to read.
const DIGITS: i32 = 6;

/// Longest step of a profile, s: a century in as many points as a profile has is finer.
const LONGEST_STEP_S: i64 = 30 * 86_400;
/// Times a log can have, Unix seconds: 1900 to 2200.
const TIMES: std::ops::Range<i64> = -2_208_988_800..7_258_118_400;

/// Why a report could not be read or written.
#[derive(Debug, thiserror::Error)]
pub enum JsonError {
    /// The text is not JSON, or a key is missing or of the wrong kind.
    #[error(
        "{place}: this is not a whole report: {what}; name a report.json that reconcile wrote, or make it again"
    )]
    Broken {
        /// Line and column.
        place: String,
        /// What is wrong.
        what: String,
    },
    /// It is JSON, but no report of this program.
    #[error(
        "this is no report of ampledger: its key `schema` {found}, and a report has \"{SCHEMA}\" there; name the report.json that `ampledger reconcile --design my-van.toml --out report` writes"
    )]
    Schema {
        /// What stands there.
        found: String,
    },
}

/// What no report of this program holds, although it has the form of one.
fn nonsense(report: &Report) -> Option<(String, String)> {
    let series = &report.series;
    let profiles = [
        ("series.profile", Some(&series.profile)),
        ("series.detail", series.detail.as_ref()),
    ];
    for (key, profile) in profiles {
        let Some(profile) = profile else { continue };
        let points = profile.regime.len();
        let lists = [
            ("harvest_w", profile.harvest_w.len()),
            ("clear_w", profile.clear_w.len()),
            ("load_w", profile.load_w.len()),
            ("soc_pct", profile.soc_pct.len()),
            ("counted_soc_pct", profile.counted_soc_pct.len()),
            ("bank_v", profile.bank_v.len()),
        ];
        if let Some((list, n)) = lists.into_iter().find(|(_, n)| *n != points) {
            return Some((
                format!("{key}.{list}"),
                format!("has {n} points where `regime` has {points}"),
            ));
        }
        if points > 0 && !(1..=LONGEST_STEP_S).contains(&profile.step_s) {
            return Some((
                format!("{key}.step_s"),
                format!("holds {}, which is no step", profile.step_s),
            ));
        }
        if points > 0 && !TIMES.contains(&profile.start_s) {
            return Some((
                format!("{key}.start_s"),
                format!("holds {}, which is no time of a log", profile.start_s),
            ));
        }
    }
    None
}

/// A report or another result as indented JSON with a final newline, keys in the order of the model. The same result gives
/// the same bytes; what is not finite becomes `null`.
pub fn render(report: &impl serde::Serialize) -> Result<String, JsonError> {
    let broken = |what: String| JsonError::Broken {
        place: "report".to_string(),
        what,
    };
    let mut bytes = Vec::new();
    let mut serializer = Serializer::with_formatter(&mut bytes, Rounded);
    report
        .serialize(&mut serializer)
        .map_err(|e| broken(e.to_string()))?;
    let compact = String::from_utf8(bytes).map_err(|e| broken(e.to_string()))?;
    let mut text = indent(&compact);
    text.push('\n');
    Ok(text)
}

/// The report as its JSON tells it: figures with the digits written there, so that every output made
/// from it is the one `render` makes from the file. And that JSON.
///
/// # Errors
/// As [`render`] and [`parse`].
pub fn settled(report: &Report) -> Result<(Report, String), JsonError> {
    let text = render(report)?;
    Ok((whole(&text)?, text))
}

/// Reads a report.
pub fn parse(text: &str) -> Result<Report, JsonError> {
    // A quick look at the head: a report of many years is large, and most that is read is ours.
    let ours = serde_json::from_str::<Head>(text).is_ok_and(|head| head.schema == SCHEMA);
    if !ours {
        let value: Value = serde_json::from_str(text).map_err(broken)?;
        match value.get("schema") {
            Some(Value::String(schema)) if schema == SCHEMA => {}
            other => {
                return Err(JsonError::Schema {
                    found: other.map_or("is missing".to_string(), |v| format!("holds {v}")),
                });
            }
        }
    }
    whole(text)
}

/// Reads what is a report by its schema.
fn whole(text: &str) -> Result<Report, JsonError> {
    let report: Report = serde_json::from_str(text).map_err(broken)?;
    match nonsense(&report) {
        Some((key, what)) => Err(JsonError::Broken {
            place: format!("key `{key}`"),
            what,
        }),
        None => Ok(report),
    }
}

fn broken(e: serde_json::Error) -> JsonError {
    JsonError::Broken {
        place: format!("line {}, column {}", e.line(), e.column()),
        what: without_place(&e.to_string()).to_owned(),
    }
}

/// What tells a report of ours from any other JSON.
#[derive(serde::Deserialize)]
struct Head {
    schema: String,
}

/// What is wrong, without the line and column that stand before it already.
fn without_place(said: &str) -> &str {
    said.split(" at line ").next().unwrap_or(said)
}

/// Writes figures with [`DIGITS`] significant digits; whole numbers stay whole.
struct Rounded;

impl Formatter for Rounded {
    fn write_f64<W: ?Sized + io::Write>(&mut self, writer: &mut W, value: f64) -> io::Result<()> {
        CompactFormatter.write_f64(writer, round(value))
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
    // Adding zero turns a negative zero into an ordinary one.
    let rounded = (v * factor).round() / factor + 0.0;
    if rounded.is_finite() { rounded } else { v }
}

/// Indents compact JSON, but keeps lists without objects on one line: a profile of thousands of points
/// stays readable.
fn indent(compact: &str) -> String {
    let mut out = String::with_capacity(compact.len() * 2);
    // For each open bracket: whether its members stand on lines of their own.
    let mut open: Vec<bool> = Vec::new();
    let mut depth = 0;
    let mut rest = compact;
    while let Some(first) = rest.bytes().next() {
        let mut taken = 1;
        match first {
            b'"' => {
                taken = string_length(rest);
                out.push_str(&rest[..taken]);
            }
            b'{' | b'[' => {
                let lines = stands_on_lines(rest);
                open.push(lines);
                out.push_str(&rest[..1]);
                if lines {
                    depth += 1;
                    new_line(&mut out, depth);
                }
            }
            b'}' | b']' => {
                if open.pop() == Some(true) {
                    depth -= 1;
                    new_line(&mut out, depth);
                }
                out.push_str(&rest[..1]);
            }
            b',' if open.last() == Some(&true) => {
                out.push(',');
                new_line(&mut out, depth);
            }
            b',' => out.push_str(", "),
            b':' => out.push_str(": "),
            _ => {
                // Outside strings all is ASCII: a number or a word, up to what ends it.
                let ends = |b: u8| matches!(b, b',' | b'}' | b']');
                taken = rest.bytes().position(ends).unwrap_or(rest.len());
                out.push_str(&rest[..taken]);
            }
        }
        rest = &rest[taken..];
    }
    out
}

fn new_line(out: &mut String, depth: usize) {
    out.push('\n');
    out.extend(std::iter::repeat_n("  ", depth));
}

/// Bytes of the string that `text` starts with, quotes included.
fn string_length(text: &str) -> usize {
    let mut from = 1;
    while let Some(at) = memchr::memchr2(b'"', b'\\', &text.as_bytes()[from..]) {
        let at = from + at;
        if text.as_bytes()[at] == b'"' {
            return at + 1;
        }
        // Whatever follows is no end.
        from = (at + 2).min(text.len());
    }
    text.len()
}

/// Whether the bracket that `text` starts with has members on lines of their own: an object that is not
/// empty, or a list with an object in it.
fn stands_on_lines(text: &str) -> bool {
    if text.starts_with('{') {
        return !text.starts_with("{}");
    }
    let (mut depth, mut at) = (0usize, 0);
    while let Some(byte) = text.as_bytes().get(at) {
        match byte {
            b'"' => {
                at += string_length(&text[at..]);
                continue;
            }
            b'{' => return true,
            b'[' => depth += 1,
            b']' if depth == 1 => return false,
            b']' => depth -= 1,
            _ => {}
        }
        at += 1;
    }
    false
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
    fn keys_keep_the_order_of_the_model_and_text_its_letters() {
        let mut report = demo::healthy();
        let text = "a \"quoted\" {bracket, [and] a \\ stroke: \u{e9}\u{1f6a4}";
        report.system.name = text.to_string();
        let json = render(&report).unwrap();
        assert!(
            json.starts_with("{\n  \"schema\": \"ampledger-report-1\",\n  \"version\""),
            "{}",
            &json[..80]
        );
        assert_eq!(parse(&json).unwrap().system.name, text);
        let direct = serde_json::to_value(&report).unwrap();
        let back: Value = serde_json::from_str(&json).unwrap();
        assert_eq!(
            back["days"].as_array().map(Vec::len),
            direct["days"].as_array().map(Vec::len)
        );
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
