//! What the page must hold to, whatever the report.
#![allow(clippy::unwrap_used)]

use super::*;
use crate::report::charts;
use crate::report::demo;
use crate::report::model::{Severity, Stop};

fn page(report: &Report) -> String {
    render(report, &charts::all(report)).unwrap()
}

fn ids(markup: &str) -> Vec<String> {
    markup
        .split(" id=\"")
        .skip(1)
        .filter_map(|s| s.split('"').next())
        .map(String::from)
        .collect()
}

#[test]
fn ids_are_unique_and_links_lead_somewhere() {
    for report in demo::all() {
        let html = page(&report);
        let ids = ids(&html);
        let mut sorted = ids.clone();
        sorted.sort();
        sorted.dedup();
        assert_eq!(sorted.len(), ids.len(), "an id stands twice");
        for link in html
            .split("href=\"#")
            .skip(1)
            .filter_map(|s| s.split('"').next())
        {
            assert!(ids.iter().any(|i| i == link), "#{link} leads nowhere");
        }
    }
}

#[test]
fn the_page_needs_no_network_and_holds_our_script_alone() {
    let html = page(&demo::faulty());
    assert_eq!(html.matches("<script").count(), 1);
    assert!(html.contains(&format!("<script>{SCRIPT}</script>")));
    assert!(!SCRIPT.contains("</") && !SCRIPT.contains("innerHTML") && !SCRIPT.contains("fetch"));
    for word in ["<link", "<img", "src=", "@import", "url(http", "NaN"] {
        assert!(!html.contains(word), "{word}");
    }
    let named = html.replace("http-equiv=\"Content-Security-Policy\"", "");
    for part in named.split("http").skip(1) {
        assert!(
            part.starts_with("://www.w3.org/2000/svg"),
            "http{}",
            &part[..30.min(part.len())]
        );
    }
    assert!(html.contains("<html lang=\"en\">"));
}

#[test]
fn hostile_names_stay_text() {
    let hostile = "<script>alert(1)</script>\"' onload=x & </title>";
    let mut report = demo::faulty();
    report.system.name = hostile.into();
    report.system.place = hostile.into();
    report.system.stops = vec![stop(hostile), stop(hostile)];
    report.verdict.text = hostile.into();
    report.days[0].why = hostile.into();
    report.days[0].date = hostile.into();
    report.inputs[0].file = hostile.into();
    report.inputs[0].notes.push(hostile.into());
    report.options[0].name = hostile.into();
    report.findings[0].summary = hostile.into();
    report.findings[0].kind = hostile.into();
    report.findings[0]
        .evidence
        .insert(hostile.into(), hostile.into());
    report.findings[0].next_check.tool = hostile.into();
    report.unknown[0].needs = hostile.into();
    report.series.fulls.push(hostile.into());
    let html = page(&report);
    assert_eq!(html.matches("<script").count(), 1);
    assert!(!html.contains("\"' onload"));
    for chart in charts::all(&report) {
        assert!(!chart.svg.contains("<script"));
    }
}

fn stop(place: &str) -> Stop {
    Stop {
        from: "2026-06-07".into(),
        to: "2026-06-12".into(),
        place: place.into(),
        note: Some(format!("note of {place}")),
    }
}

#[test]
fn a_journey_names_each_place_with_its_days() {
    let mut report = demo::healthy();
    assert!(!page(&report).contains("Where it stood"));
    let (first, last) = (
        "53.1 N, 18.0 E, Europe/Warsaw",
        "55.3 N, 21.0 E, Europe/Vilnius",
    );
    report.system.stops = vec![stop(first), stop(last)];
    let html = page(&report);
    assert!(html.contains(&format!("2 places, first {first}, last {last}")));
    assert!(html.contains("id=\"places\"") && html.contains(&format!("note of {last}")));
}

#[test]
fn a_consequence_points_to_the_check_of_its_root() {
    let mut report = demo::faulty();
    let mut root = report.findings[0].clone();
    root.kind = "shade-repeating".into();
    let mut consequence = root.clone();
    consequence.kind = "harvest-short".into();
    consequence.severity = Severity::Fix;
    consequence.part_of = Some("shade-repeating".into());
    report.findings = vec![root, consequence];
    let html = page(&report);
    let link = "As is told at <a href=\"#finding-1\">Shade at the same hour</a>.";
    let (_, second) = html.split_once("<article id=\"finding-2\"").unwrap();
    let (second, _) = second.split_once("</article>").unwrap();
    assert!(second.contains(link) && !second.contains("<dt>where</dt>"));
    assert_eq!(html.matches(link).count(), 1);
}

#[test]
fn headings_go_down_one_step_at_a_time() {
    for report in demo::all() {
        let html = page(&report);
        let levels: Vec<u32> = html
            .split("<h")
            .skip(1)
            .filter_map(|s| s.chars().next().and_then(|c| c.to_digit(10)))
            .collect();
        assert_eq!(levels.iter().filter(|l| **l == 1).count(), 1);
        assert!(levels.windows(2).all(|w| w[1] <= w[0] + 1), "{levels:?}");
    }
}

#[test]
fn verdict_then_action_then_account_then_evidence() {
    let html = page(&demo::faulty());
    let at = |mark: &str| {
        html.find(mark)
            .unwrap_or_else(|| panic!("{mark} is missing"))
    };
    let order = [
        at("id=\"verdict\""),
        at("id=\"action-heading\""),
        at("id=\"figure-account\""),
        at("id=\"lines-heading\""),
        at("id=\"unknown-heading\""),
        at("id=\"days\""),
        at("id=\"findings\""),
        at("id=\"data\""),
        at("id=\"tables\""),
    ];
    assert!(order.windows(2).all(|w| w[0] < w[1]), "{order:?}");
}

#[test]
fn a_healthy_report_has_no_alarm_and_a_useless_one_says_so() {
    let healthy = page(&demo::healthy());
    assert!(healthy.contains("Nothing to fix") && !healthy.contains("id=\"findings\""));
    let useless = page(&demo::useless());
    assert!(useless.contains("What this log cannot tell"));
    assert!(useless.contains("not known: loads were not logged"));
}

/// Contrast ratio of two `#rrggbb` colours by the formula of the web content accessibility guidelines.
fn contrast(a: &str, b: &str) -> f64 {
    let luminance = |hex: &str| {
        let hex = hex.trim_start_matches('#');
        let wide: String = if hex.len() == 3 {
            hex.chars().flat_map(|c| [c, c]).collect()
        } else {
            hex.to_string()
        };
        let part = |i: usize| {
            let v = f64::from(u8::from_str_radix(&wide[i..i + 2], 16).unwrap()) / 255.0;
            if v <= 0.04045 {
                v / 12.92
            } else {
                ((v + 0.055) / 1.055).powf(2.4)
            }
        };
        0.2126 * part(0) + 0.7152 * part(2) + 0.0722 * part(4)
    };
    let (x, y) = (luminance(a), luminance(b));
    (x.max(y) + 0.05) / (x.min(y) + 0.05)
}

/// The value of a variable in the `n`-th `:root` block: 0 light, 1 dark.
fn variable(n: usize, name: &str) -> String {
    let block = STYLE
        .split(":root{")
        .nth(n + 1)
        .unwrap()
        .split('}')
        .next()
        .unwrap();
    let mark = format!("--{name}:");
    let value = block
        .split(mark.as_str())
        .nth(1)
        .unwrap_or_else(|| panic!("--{name} is missing"));
    value.split(';').next().unwrap().to_string()
}

#[test]
fn words_can_be_read_in_light_and_in_dark() {
    for scheme in [0, 1] {
        for sheet in ["sheet", "card"].map(|n| variable(scheme, n)) {
            for name in ["ink", "muted", "link", "stop", "fix", "watch", "fine"] {
                let ratio = contrast(&variable(scheme, name), &sheet);
                assert!(ratio >= 4.5, "{name} on {sheet}: {ratio:.2}");
            }
            for name in [
                "solar-edge",
                "lost",
                "lost-edge",
                "bank",
                "use",
                "spare",
                "design",
            ] {
                let ratio = contrast(&variable(scheme, name), &sheet);
                assert!(ratio >= 3.0, "{name} on {sheet}: {ratio:.2}");
            }
        }
        assert!(contrast(&variable(scheme, "ink"), &variable(scheme, "band")) >= 4.5);
    }
}

#[test]
fn every_ink_of_a_chart_follows_the_page() {
    for report in demo::all() {
        for chart in charts::all(&report) {
            for classes in chart
                .svg
                .split("class=\"")
                .skip(1)
                .filter_map(|s| s.split('"').next())
            {
                for class in classes
                    .split(' ')
                    .filter(|c| !matches!(*c, "chart" | "sheet"))
                {
                    assert!(
                        STYLE.contains(&format!(".{class}{{")),
                        "{class} in {}",
                        chart.name
                    );
                }
            }
        }
    }
}

#[test]
fn a_figure_keeps_its_unit_beside_it() {
    let html = page(&demo::faulty());
    let words: String = html
        .split('<')
        .filter_map(|part| part.split_once('>').map(|(_, text)| text))
        .collect::<Vec<_>>()
        .join("\n");
    for unit in ["%", "Wh", "kWh", "V", "A"] {
        for line in words.lines().filter(|l| l.contains(&format!(" {unit}"))) {
            let parts: Vec<&str> = line.split(' ').collect();
            for pair in parts.windows(2) {
                let figure = pair[0].ends_with(|c: char| c.is_ascii_digit());
                assert!(!(figure && pair[1] == unit), "{line}");
            }
        }
    }
}

#[test]
fn ten_years_take_little_more_room_and_time_than_a_month() {
    let (month, years) = (demo::long(30), demo::long(3_653));
    let timed = |report: &Report| {
        let started = std::time::Instant::now();
        let size = page(report).len();
        (size, started.elapsed().as_secs_f64())
    };
    // The first page of a process is slow for reasons of its own.
    timed(&month);
    let (small, mut quick) = timed(&month);
    let (large, mut slow) = timed(&years);
    // Other tests run at the same time: the best of some tries counts.
    for _ in 0..20 {
        if slow <= 2.0 * quick {
            break;
        }
        quick = quick.min(timed(&month).1);
        slow = slow.min(timed(&years).1);
    }
    assert!(large <= 2_000_000, "{large} bytes");
    assert!(
        large as f64 <= 1.2 * small as f64,
        "{large} bytes for ten years, {small} for a month"
    );
    assert!(
        slow <= 2.0 * quick,
        "{slow} s for ten years, {quick} s for a month"
    );
    for chart in charts::all(&years) {
        assert!(
            chart.svg.len() <= 150_000,
            "{}: {} bytes",
            chart.name,
            chart.svg.len()
        );
    }
}

/// Words of markup, drawings left out.
fn text_of(markup: &str) -> String {
    let mut out = String::new();
    let mut rest = markup;
    while let Some(start) = rest.find('<') {
        out.push_str(&rest[..start]);
        out.push(' ');
        let closing = if rest[start..].starts_with("<svg") {
            "</svg>"
        } else {
            ">"
        };
        let end = rest[start..].find(closing).unwrap() + start + closing.len();
        rest = &rest[end..];
    }
    out + rest
}

/// Numbers as printed, thousands parted or not.
fn numbers(text: &str) -> Vec<String> {
    let joined: Vec<char> = text
        .replace("&#160;", "\u{a0}")
        .replace("&nbsp;", "\u{a0}")
        .chars()
        .collect();
    let mut list = Vec::new();
    let mut number = String::new();
    for (i, c) in joined.iter().enumerate() {
        let next = joined.get(i + 1).is_some_and(char::is_ascii_digit);
        let within = !number.is_empty() && next && matches!(c, '.' | '\u{a0}' | ':');
        if c.is_ascii_digit() || within {
            number.push(*c);
        } else if !number.is_empty() {
            list.push(std::mem::take(&mut number));
        }
    }
    list.extend((!number.is_empty()).then_some(number));
    list
}

#[test]
fn every_number_of_page_one_stands_in_a_table_with_its_rule_and_days() {
    for report in demo::all() {
        let html = page(&report);
        let front = html
            .split("<header class=\"front\">")
            .nth(1)
            .and_then(|h| h.split("</header>").next())
            .unwrap();
        let table = html
            .split("<details id=\"table-front\">")
            .nth(1)
            .and_then(|h| h.split("</details>").next())
            .unwrap();
        let told = numbers(&text_of(table));
        // The only figures that are no finding's: what the brackets mean, how many questions stand further back.
        let more = report.unknown.len() - front::unknown_shown(&report);
        for number in numbers(&text_of(front)) {
            assert!(
                told.contains(&number) || number == "90" || number == more.to_string(),
                "{number} of page one stands in no table: {told:?}"
            );
        }
        assert!(numbers(&text_of(front)).len() >= 10);
        let rows = figures::table(&report).rows;
        for row in &rows {
            assert!(row.iter().all(|cell| !cell.trim().is_empty()), "{row:?}");
        }
    }
}

#[test]
fn the_waterfall_prints_the_figures_of_the_account_and_they_add_up() {
    let report = demo::faulty();
    let svg = charts::all(&report)
        .into_iter()
        .find(|c| c.name == "account")
        .unwrap()
        .svg;
    let mut words: Vec<String> = svg
        .split("<text")
        .skip(1)
        .map(|t| {
            let inner = t.split_once('>').unwrap().1;
            inner.split("</text>").next().unwrap().trim().to_string()
        })
        .collect();
    let figure = |text: &str| -> f64 {
        let plain = crate::report::format::plain(text).replace(' ', "");
        let (number, factor) = match plain.strip_suffix("kWh") {
            Some(number) => (number.to_string(), 1000.0),
            None => (plain.strip_suffix("Wh").unwrap().to_string(), 1.0),
        };
        number.trim_start_matches('+').parse::<f64>().unwrap() * factor
    };
    let mut sum = 0.0;
    let mut steps = 0;
    while words.len() >= 2 {
        let pair: Vec<String> = words.drain(..2).collect();
        let printed = figure(&pair[1]);
        let entry = report
            .account
            .harvest
            .iter()
            .find(|e| crate::report::words::step(&e.name).0 == pair[0])
            .unwrap_or_else(|| panic!("{} is no step", pair[0]));
        assert!((printed - entry.wh).abs() <= 5.0 + 1e-6, "{pair:?}");
        if entry.name == "harvested" {
            assert!(
                (sum - printed).abs() <= 5.0 * steps as f64,
                "{sum} against {printed}"
            );
        } else {
            sum += printed;
            steps += 1;
        }
    }
    assert!(steps >= 5);
}

/// Places of figures in a report, of lists the first entry alone.
fn figures_in(value: &serde_json::Value, at: &str, found: &mut Vec<String>) {
    match value {
        serde_json::Value::Number(_) => found.push(at.to_string()),
        serde_json::Value::Array(list) => {
            if let Some(first) = list.first() {
                figures_in(first, &format!("{at}/0"), found);
            }
        }
        serde_json::Value::Object(map) => {
            for (key, inner) in map {
                figures_in(inner, &format!("{at}/{key}"), found);
            }
        }
        _ => {}
    }
}

#[test]
fn no_figure_however_wild_brings_the_page_down() {
    let text = crate::report::json::render(&demo::faulty()).unwrap();
    let report: serde_json::Value = serde_json::from_str(&text).unwrap();
    let mut places = Vec::new();
    figures_in(&report, "", &mut places);
    assert!(places.len() > 100);
    let (mut drawn, mut refused) = (0, 0);
    for (i, place) in places.iter().enumerate() {
        let mut report = report.clone();
        let figure = report.pointer_mut(place).unwrap();
        let negative = i % 2 == 0;
        *figure = match (figure.is_i64(), negative) {
            (true, true) => i64::MIN.into(),
            (true, false) => i64::MAX.into(),
            (false, true) => (-1e308).into(),
            (false, false) => 1e308.into(),
        };
        match crate::report::json::parse(&report.to_string()) {
            Ok(report) => {
                assert!(!page(&report).contains("NaN"), "{place}");
                drawn += 1;
            }
            Err(error) => {
                assert!(!error.to_string().is_empty());
                refused += 1;
            }
        }
    }
    assert!(
        drawn > 50 && refused > 0,
        "{drawn} drawn, {refused} refused"
    );
}

#[test]
fn what_the_owner_noted_stands_with_the_days_as_text() {
    let report = demo::faulty();
    let html = page(&report);
    assert!(html.contains("What you noted"));
    assert!(html.contains("washed the panels &#60;with&#62; rain &#38; a brush"));
    assert!(!html.contains("<with>"));
    let text = crate::report::text::render(&report);
    assert!(text.contains("noted 2026-06-12: washed the panels"));
    let post = crate::report::post::render(&report);
    assert!(!post.contains("washed"));
}
