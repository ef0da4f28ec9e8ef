//! `days.csv`: one row a local day, the columns and their order as published.

use super::model::{Day, Report};

/// The columns, in order.
pub const COLUMNS: [&str; 24] = [
    "date",
    "coverage",
    "sun_coverage",
    "planned_wh",
    "clear_wh",
    "offered_wh",
    "array_wh",
    "harvest_wh",
    "held_back_wh",
    "lost_wh",
    "unmeasured_wh",
    "unexplained_wh",
    "load_wh",
    "other_charge_wh",
    "bank_in_wh",
    "bank_out_wh",
    "bank_in_ah",
    "bank_out_ah",
    "soc_low_pct",
    "soc_high_pct",
    "low_v",
    "high_v",
    "reached_full",
    "judged",
];

/// The columns after [`COLUMNS`]: the words.
pub const WORD_COLUMNS: [&str; 2] = ["state", "why"];

/// The days as comma-separated text: decimal point, empty where not known, LF line ends.
///
/// Text that a spreadsheet would take for a formula gets a leading apostrophe.
pub fn render(report: &Report) -> String {
    let mut writer = csv::WriterBuilder::new()
        .terminator(csv::Terminator::Any(b'\n'))
        .from_writer(Vec::new());
    // Writing to memory can't fail, and every row has as many fields as the header.
    let _ = writer.write_record(COLUMNS.iter().chain(&WORD_COLUMNS));
    for day in &report.days {
        let _ = writer.write_record(row(day));
    }
    String::from_utf8(writer.into_inner().unwrap_or_default()).unwrap_or_default()
}

fn row(day: &Day) -> Vec<String> {
    let numbers = [
        Some(day.coverage),
        day.sun_coverage,
        day.planned_wh,
        day.clear_wh,
        day.offered_wh,
        day.array_wh,
        day.harvest_wh,
        day.held_back_wh,
        day.lost_wh,
        day.unmeasured_wh,
        day.unexplained_wh,
        day.load_wh,
        day.other_charge_wh,
        day.bank_in_wh,
        day.bank_out_wh,
        day.bank_in_ah,
        day.bank_out_ah,
        day.soc_low_pct,
        day.soc_high_pct,
        day.low_v,
        day.high_v,
    ];
    let mut fields = vec![text(&day.date)];
    fields.extend(numbers.iter().map(|n| number(*n)));
    fields.push(day.reached_full.map(|b| b.to_string()).unwrap_or_default());
    fields.push(day.judged.to_string());
    fields.push(text(day.state.word()));
    fields.push(text(&day.why));
    fields
}

/// At most four decimals, no trailing zeros; empty where not known.
fn number(value: Option<f64>) -> String {
    match value {
        Some(v) if v.is_finite() => {
            let rounded = (v * 1e4).round() / 1e4;
            // Adding zero turns a negative zero into an ordinary one.
            format!("{}", rounded + 0.0)
        }
        _ => String::new(),
    }
}

/// Guarded where a spreadsheet would compute.
fn text(value: &str) -> String {
    if value.starts_with(['=', '+', '-', '@', '\t', '\r']) {
        format!("'{value}")
    } else {
        value.to_string()
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::report::demo;

    #[test]
    fn columns_are_the_days_keys_in_the_published_order() {
        let report = demo::faulty();
        let head = render(&report).lines().next().unwrap().to_string();
        assert_eq!(
            head,
            "date,coverage,sun_coverage,planned_wh,clear_wh,offered_wh,array_wh,harvest_wh,\
             held_back_wh,lost_wh,unmeasured_wh,unexplained_wh,load_wh,other_charge_wh,bank_in_wh,\
             bank_out_wh,bank_in_ah,bank_out_ah,soc_low_pct,soc_high_pct,low_v,high_v,reached_full,\
             judged,state,why"
        );
        let json = serde_json::to_value(&report.days[0]).unwrap();
        for name in head.split(',') {
            assert!(json.get(name).is_some(), "{name} is no key of a day");
        }
    }

    #[test]
    fn not_known_is_empty_and_a_reader_gets_the_text_back() {
        let mut report = demo::useless();
        report.days[0].why = "=1+1, \"quoted\"\nand more".to_string();
        let csv = render(&report);
        assert!(!csv.contains('\r'));
        let mut reader = csv::Reader::from_reader(csv.as_bytes());
        let row = reader.records().next().unwrap().unwrap();
        assert_eq!(row.len(), 26);
        assert_eq!(&row[7], "");
        assert_eq!(&row[22], "");
        assert_eq!(&row[25], "'=1+1, \"quoted\"\nand more");
    }

    #[test]
    fn numbers_keep_their_point_and_lose_needless_digits() {
        assert_eq!(number(Some(1234.5)), "1234.5");
        assert_eq!(number(Some(-0.000_01)), "0");
        assert_eq!(number(Some(f64::NAN)), "");
        assert_eq!(number(Some(1.0 / 3.0)), "0.3333");
    }
}
