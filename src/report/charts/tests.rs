//! What every chart must hold to, whatever the report.
#![allow(clippy::unwrap_used, clippy::expect_used)]

use super::*;
use crate::report::demo;
use crate::report::model::Report;

/// Checks that tags balance and that text and attributes hold no bare marks.
pub(crate) fn assert_balanced(markup: &str) {
    let mut open: Vec<String> = Vec::new();
    let mut rest = markup;
    while let Some(start) = rest.find('<') {
        let text = &rest[..start];
        assert!(!text.contains('>'), "a bare > in {text:?}");
        let end = rest[start..].find('>').expect("a tag that does not end") + start;
        let tag = &rest[start + 1..end];
        assert_eq!(tag.matches('"').count() % 2, 0, "quotes in <{tag}>");
        let name: String = tag
            .trim_start_matches('/')
            .chars()
            .take_while(|c| c.is_ascii_alphanumeric())
            .collect();
        if tag.starts_with('/') {
            assert_eq!(
                open.pop().as_deref(),
                Some(name.as_str()),
                "closing </{name}>"
            );
        } else if !tag.ends_with('/') {
            open.push(name);
        }
        rest = &rest[end + 1..];
    }
    assert!(open.is_empty(), "left open: {open:?}");
}

fn ids(markup: &str) -> Vec<&str> {
    markup
        .split(" id=\"")
        .skip(1)
        .filter_map(|s| s.split('"').next())
        .collect()
}

#[test]
fn every_chart_is_well_formed_small_and_named() {
    for report in demo::all() {
        let mut seen = Vec::new();
        for chart in all(&report) {
            assert_balanced(&chart.svg);
            assert!(
                chart.svg.len() <= 150_000,
                "{}: {} bytes",
                chart.name,
                chart.svg.len()
            );
            assert!(!chart.svg.contains("NaN") && !chart.svg.contains("inf"));
            assert!(FILES.contains(&chart.file));
            assert!(chart.svg.contains("role=\"img\""));
            for id in ids(&chart.svg) {
                assert!(id.starts_with(chart.name), "{id}");
                assert!(!seen.contains(&id.to_string()), "{id} twice");
                seen.push(id.to_string());
            }
            for reference in chart.svg.split("url(#").skip(1) {
                let id = reference.split(')').next().unwrap();
                assert!(seen.contains(&id.to_string()), "{id} is not defined");
            }
        }
    }
}

#[test]
fn a_long_and_fine_log_stays_small() {
    let mut report = demo::faulty();
    repeat(&mut report, 15);
    for chart in all(&report) {
        assert!(
            chart.svg.len() <= 150_000,
            "{}: {} bytes",
            chart.name,
            chart.svg.len()
        );
    }
}

/// The same profile over and over.
fn repeat(report: &mut Report, times: usize) {
    let profile = &mut report.series.profile;
    for series in [
        &mut profile.harvest_w,
        &mut profile.clear_w,
        &mut profile.load_w,
        &mut profile.soc_pct,
        &mut profile.counted_soc_pct,
        &mut profile.bank_v,
    ] {
        *series = series.repeat(times);
    }
    profile.regime = profile.regime.repeat(times);
}

#[test]
fn a_log_without_data_has_no_empty_charts() {
    let names: Vec<&str> = all(&demo::useless()).iter().map(|c| c.name).collect();
    assert!(
        !names.contains(&"account") && !names.contains(&"drop"),
        "{names:?}"
    );
    let mut empty = demo::useless();
    empty.series = Default::default();
    empty.days.clear();
    assert!(all(&empty).is_empty());
}

#[test]
fn a_gap_is_not_drawn_as_zero() {
    let mut report = demo::healthy();
    let before = all(&report)
        .iter()
        .find(|c| c.name == "charge")
        .unwrap()
        .svg
        .clone();
    let profile = &mut report.series.profile;
    let middle = profile.soc_pct.len() / 2;
    for i in middle..middle + 40 {
        profile.soc_pct[i] = if i % 2 == 0 { None } else { Some(f64::NAN) };
    }
    let after = all(&report)
        .iter()
        .find(|c| c.name == "charge")
        .unwrap()
        .svg
        .clone();
    assert_eq!(
        after
            .matches("<polyline class=\"s-text\" fill=\"none\"")
            .count(),
        before
            .matches("<polyline class=\"s-text\" fill=\"none\"")
            .count()
            + 1
    );
}
