//! Numbers with their units, as every renderer prints them.
//!
//! A figure and its unit never part at a line's end (no-break space), a decimal point is a point, a
//! figure that is an estimate carries two significant digits, and what is not known says so.

use super::model::Interval;

/// Keeps a figure and its unit on one line.
pub const NBSP: char = '\u{a0}';
/// What stands where a figure is not known.
pub const NOT_KNOWN: &str = "not known";
/// From here on energies are printed in kWh.
const KILO_FROM_WH: f64 = 10_000.0;

/// The step that leaves `digits` significant digits of `value`; 1 for zero and for what is not finite.
fn step(value: f64, digits: i32) -> f64 {
    if value == 0.0 || !value.is_finite() {
        return 1.0;
    }
    10f64.powi(value.abs().log10().floor() as i32 - digits + 1)
}

/// `value` rounded to a multiple of `step`, without needless decimals, with grouped thousands.
fn stepped(value: f64, step: f64) -> String {
    if !value.is_finite() {
        return NOT_KNOWN.to_string();
    }
    let places = (-step.log10().floor()).max(0.0) as usize;
    grouped(&format!("{:.places$}", (value / step).round() * step))
}

/// A minus sign of full width, and thousands parted where there are five digits or more.
fn grouped(number: &str) -> String {
    let (negative, digits) = match number.strip_prefix('-') {
        Some(rest) => (rest.bytes().any(|b| (b'1'..=b'9').contains(&b)), rest),
        None => (false, number),
    };
    let (whole, fraction) = digits.split_once('.').unwrap_or((digits, ""));
    let mut text = String::new();
    if negative {
        text.push('\u{2212}');
    }
    for (i, digit) in whole.chars().enumerate() {
        if i > 0 && whole.len() > 4 && (whole.len() - i) % 3 == 0 {
            text.push(NBSP);
        }
        text.push(digit);
    }
    if !fraction.is_empty() {
        text.push('.');
        text.push_str(fraction);
    }
    text
}

/// `value` with `digits` significant digits.
pub fn significant(value: f64, digits: i32) -> String {
    stepped(value, step(value, digits))
}

/// `value` with a fixed number of decimals.
pub fn decimals(value: f64, places: usize) -> String {
    stepped(value, 10f64.powi(-(places as i32)))
}

/// A figure with its unit, no line break between them.
pub fn with_unit(figure: &str, unit: &str) -> String {
    if unit.is_empty() || figure == NOT_KNOWN {
        figure.to_string()
    } else {
        format!("{figure}{NBSP}{unit}")
    }
}

/// Measured energy in Wh, or in kWh from 10 kWh on.
pub fn energy(wh: f64) -> String {
    if wh.abs() >= KILO_FROM_WH {
        with_unit(&decimals(wh / 1000.0, 1), "kWh")
    } else {
        with_unit(&decimals(wh, 0), "Wh")
    }
}

/// Estimated energy, two significant digits.
pub fn energy_about(wh: f64) -> String {
    if wh.abs() >= KILO_FROM_WH {
        with_unit(&significant(wh / 1000.0, 2), "kWh")
    } else {
        with_unit(&stepped(wh, step(wh, 2).max(1.0)), "Wh")
    }
}

/// Energy with its sign always shown, as the steps of an account are.
pub fn energy_signed(wh: f64) -> String {
    let text = energy(wh);
    if wh > 0.0 && wh.round() != 0.0 {
        format!("+{text}")
    } else {
        text
    }
}

/// Whole Wh, for columns that must add up.
pub fn whole(wh: f64) -> String {
    decimals(wh, 0)
}

/// An optional figure with unit and fixed decimals; a dash where it is not known.
pub fn cell(value: Option<f64>, places: usize) -> String {
    match value {
        Some(v) if v.is_finite() => decimals(v, places),
        _ => "\u{2013}".to_string(),
    }
}

/// Value and range, for instance `27 mΩ (25 to 29 mΩ)`; as many digits as the range warrants.
pub fn interval(i: &Interval, unit: &str) -> String {
    let (scale, unit) = if unit == "Wh" && i.value.abs() >= KILO_FROM_WH {
        (0.001, "kWh")
    } else {
        (1.0, unit)
    };
    let i = i.scale(scale);
    let two = step(i.value, 2);
    // No finer than three digits of the value, no coarser than two, the range deciding between.
    let fine = if i.half_width() > 0.0 {
        step(i.half_width(), 1).clamp(two / 10.0, two)
    } else {
        two
    };
    let value = with_unit(&stepped(i.value, fine), unit);
    if i.low == i.high {
        return value;
    }
    let low = stepped(i.low, fine);
    let high = with_unit(&stepped(i.high, fine), unit);
    format!("{value} ({low} to {high})")
}

/// A share (0 to 1) in percent.
pub fn percent(share: f64) -> String {
    with_unit(&decimals(share * 100.0, 0), "%")
}

const MONTHS: [&str; 12] = [
    "Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec",
];

/// `2026-05-14` as `14 May`; anything else as it stands.
pub fn day(date: &str) -> String {
    let parts: Vec<&str> = date.splitn(3, '-').collect();
    match parts[..] {
        [_, month, day] => match (month.parse::<usize>(), day.parse::<u32>()) {
            (Ok(m @ 1..=12), Ok(d)) => format!("{d}{NBSP}{}", MONTHS[m - 1]),
            _ => date.to_string(),
        },
        _ => date.to_string(),
    }
}

/// The same, with its year where a period from one date to another lies in more than one.
pub fn day_within(date: &str, from: &str, to: &str) -> String {
    match date.get(0..4) {
        Some(year) if from.get(0..4) != to.get(0..4) => format!("{}{NBSP}{year}", day(date)),
        _ => day(date),
    }
}

/// An RFC 3339 instant as `14 May 13:40`, on the clock of the place; anything else as it stands.
pub fn instant(text: &str) -> String {
    match (text.get(0..10), text.get(11..16)) {
        (Some(date), Some(clock)) => format!("{} {clock}", day(date)),
        _ => text.to_string(),
    }
}

/// Ranges named at most; a reader of more wants the table.
const MOST_RANGES: usize = 14;

/// Days in a row as ranges: `14 May, 16 to 18 May`; of many ranges the first, and how many days are left.
pub fn days(dates: &[String]) -> String {
    // By hand: a long log has thousands of them, and a general reader of dates is slow.
    let number = |s: &String| {
        let part = |range: std::ops::Range<usize>| s.get(range)?.parse::<u32>().ok();
        let date = chrono::NaiveDate::from_ymd_opt(part(0..4)? as i32, part(5..7)?, part(8..10)?)?;
        (s.len() == 10).then(|| chrono::Datelike::num_days_from_ce(&date))
    };
    let ends = dates.first().zip(dates.last());
    let day = |date: &str| ends.map_or(String::new(), |(from, to)| day_within(date, from, to));
    let mut out: Vec<String> = Vec::new();
    let mut i = 0;
    while i < dates.len() {
        if out.len() == MOST_RANGES {
            out.push(format!("and {}", count(dates.len() - i, "more day")));
            break;
        }
        let mut j = i;
        let first = number(&dates[i]);
        while let Some(n) = first
            && j + 1 < dates.len()
            && number(&dates[j + 1]) == Some(n + (j + 1 - i) as i32)
        {
            j += 1;
        }
        out.push(match j - i {
            0 => day(&dates[i]),
            _ => match (dates[i].get(..8), dates[j].get(..8), dates[i].get(8..)) {
                (Some(a), Some(b), Some(first)) if a == b => {
                    format!("{} to {}", first.trim_start_matches('0'), day(&dates[j]))
                }
                _ => format!("{} to {}", day(&dates[i]), day(&dates[j])),
            },
        });
        i = j + 1;
    }
    out.join(", ")
}

/// A count with its word, in the plural where it is not one: `1 day`, `24 days`.
pub fn count(number: usize, word: &str) -> String {
    let plural = if number == 1 { "" } else { "s" };
    with_unit(&number.to_string(), &format!("{word}{plural}"))
}

/// Ties figures to their units, and days to their months, in a sentence made elsewhere: `14 % (9 to 18 %)` never breaks before `%`.
pub fn tie(text: &str) -> String {
    const UNITS: [&str; 28] = [
        "January",
        "February",
        "March",
        "April",
        "May",
        "June",
        "July",
        "August",
        "September",
        "October",
        "November",
        "December",
        "%",
        "Wh",
        "kWh",
        "W",
        "V",
        "mV",
        "A",
        "Ah",
        "h",
        "min",
        "s",
        "mohm",
        "m\u{3a9}",
        "C",
        "mm2",
        "days",
    ];
    let mut out = String::with_capacity(text.len());
    let mut words = text.split(' ').peekable();
    while let Some(word) = words.next() {
        out.push_str(word);
        if let Some(next) = words.peek() {
            let unit = next.trim_end_matches(|c: char| ",.;:)!?".contains(c));
            let figure = word.ends_with(|c: char| c.is_ascii_digit());
            out.push(if figure && UNITS.contains(&unit) {
                NBSP
            } else {
                ' '
            });
        }
    }
    out
}

/// A sentence made elsewhere as the page shows it: tied, and with the sign of the milliohm.
pub fn on_page(text: &str) -> String {
    let words: Vec<String> = text
        .split(' ')
        .map(|word| match word.strip_prefix("mohm") {
            Some(rest) if !rest.starts_with(char::is_alphanumeric) => format!("m\u{3a9}{rest}"),
            _ => word.to_string(),
        })
        .collect();
    tie(&words.join(" "))
}

/// The same words for a terminal: ordinary spaces and signs, units in plain letters.
pub fn plain(text: &str) -> String {
    text.replace(['\u{a0}', '\u{202f}'], " ")
        .replace(['\u{2212}', '\u{2013}'], "-")
        .replace("m\u{3a9}", "mohm")
        .replace('\u{b7}', "-")
}

/// The unit a key's last part stands for, and the key without it: `drop_v` is `drop` in V.
pub fn key_and_unit(key: &str) -> (String, &'static str) {
    const UNITS: [(&str, &str); 16] = [
        ("_pct_range", "%"),
        ("_wh_per_day", "Wh a day"),
        ("_wh", "Wh"),
        ("_ah", "Ah"),
        ("_v", "V"),
        ("_a", "A"),
        ("_w", "W"),
        ("_mohm", "m\u{3a9}"),
        ("_pct", "%"),
        ("_c", "\u{b0}C"),
        ("_h", "h"),
        ("_min", "min"),
        ("_s", "s"),
        ("_m", "m"),
        ("_deg", "\u{b0}"),
        ("_days", "days"),
    ];
    for (suffix, unit) in UNITS {
        if let Some(stem) = key.strip_suffix(suffix) {
            return (stem.replace('_', " "), unit);
        }
    }
    (key.replace('_', " "), "")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn estimates_keep_two_digits_and_their_unit() {
        assert_eq!(energy_about(1341.0), "1300\u{a0}Wh");
        assert_eq!(energy_about(24_310.0), "24\u{a0}kWh");
        assert_eq!(energy(24_310.0), "24.3\u{a0}kWh");
        assert_eq!(energy_about(7.4), "7\u{a0}Wh");
        assert_eq!(energy_signed(-0.2), "0\u{a0}Wh");
        assert_eq!(energy_signed(12.0), "+12\u{a0}Wh");
    }

    #[test]
    fn a_range_decides_how_many_digits_are_shown() {
        let resistance = Interval::new(27.34, 25.1, 29.2);
        assert_eq!(
            interval(&resistance, "m\u{3a9}"),
            "27\u{a0}m\u{3a9} (25 to 29\u{a0}m\u{3a9})"
        );
        assert_eq!(
            interval(&Interval::new(102.0, 98.0, 107.0), "Ah"),
            "102\u{a0}Ah (98 to 107\u{a0}Ah)"
        );
        assert_eq!(
            interval(&Interval::new(1340.0, 1000.0, 1690.0), "Wh"),
            "1300\u{a0}Wh (1000 to 1700\u{a0}Wh)"
        );
        assert_eq!(interval(&Interval::exact(0.91), ""), "0.91");
    }

    #[test]
    fn what_is_not_finite_is_not_known() {
        assert_eq!(decimals(f64::NAN, 1), NOT_KNOWN);
        assert_eq!(energy(f64::INFINITY), NOT_KNOWN);
        assert_eq!(cell(Some(f64::NAN), 0), "\u{2013}");
    }

    #[test]
    fn days_in_a_row_become_a_range() {
        let dates: Vec<String> = ["2026-05-30", "2026-05-31", "2026-06-01", "2026-06-04"]
            .map(String::from)
            .to_vec();
        assert_eq!(plain(&days(&dates)), "30 May to 1 Jun, 4 Jun");
        assert_eq!(
            plain(&days(&["2026-05-07".into(), "2026-05-08".into()])),
            "7 to 8 May"
        );
        let years = ["2026-12-30".to_string(), "2027-01-02".to_string()];
        assert_eq!(plain(&days(&years)), "30 Dec 2026, 2 Jan 2027");
        assert_eq!(day("not a date"), "not a date");
        assert_eq!(plain(&instant("2026-05-14T13:40:00+02:00")), "14 May 13:40");
    }

    #[test]
    fn many_ranges_are_not_all_named() {
        let dates: Vec<String> = (0..40)
            .map(|i| format!("2026-{:02}-{:02}", 1 + i / 14, 1 + 2 * (i % 14)))
            .collect();
        let text = plain(&days(&dates));
        assert!(text.ends_with("27 Jan, and 26 more days"), "{text}");
    }

    #[test]
    fn a_sentence_does_not_break_before_a_unit() {
        assert_eq!(
            tie("about 14 % (9 to 18 %), on 6 days"),
            "about 14\u{a0}% (9 to 18\u{a0}%), on 6\u{a0}days"
        );
        assert_eq!(tie("level 3 hand"), "level 3 hand");
        assert_eq!(
            tie("on 7 September, 18 days"),
            "on 7\u{a0}September, 18\u{a0}days"
        );
    }

    #[test]
    fn large_figures_are_parted_and_minus_is_a_minus() {
        assert_eq!(decimals(-12_345.6, 0), "\u{2212}12\u{a0}346");
        assert_eq!(decimals(-0.04, 1), "0.0");
        assert_eq!(
            key_and_unit("lost_wh_per_day"),
            ("lost".to_string(), "Wh a day")
        );
        assert_eq!(key_and_unit("worst_day"), ("worst day".to_string(), ""));
    }

    #[test]
    fn the_page_shows_the_sign_of_the_milliohm() {
        let shown = on_page("43 mohm (42 to 43 mohm), mohms");
        assert!(shown.contains("43\u{a0}m\u{3a9} (42"), "{shown}");
        assert!(
            shown.contains("m\u{3a9}),") && shown.ends_with("mohms"),
            "{shown}"
        );
    }

    #[test]
    fn a_count_has_its_plural() {
        assert_eq!(count(1, "day"), format!("1{NBSP}day"));
        assert_eq!(count(0, "day"), format!("0{NBSP}days"));
    }
}
