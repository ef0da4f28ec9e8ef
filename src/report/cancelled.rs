//! Season and weather together, where two long bars of the account all but cancel each other.

use super::format;
use super::model::Report;

/// Two steps hide what is left of them where the smaller is this share of the plan ...
const LARGE: f64 = 0.5;
/// ... and what is left of them is no more than this share of it.
const LEFT: f64 = 0.5;

/// What is left of season and weather, where it is little against either: the season is reckoned for a clear sky,
/// so that under a dull one neither says much by itself.
pub(super) fn told(report: &Report) -> Option<String> {
    let entries = &report.account.harvest;
    let of = |name: &str| entries.iter().find(|e| e.name == name).map(|e| e.wh);
    let (planned, season, weather) = (of("planned")?, of("season")?, of("weather")?);
    let smaller = season.min(-weather);
    let together = season + weather;
    let hides = smaller > LARGE * planned.abs() && together.abs() < LEFT * smaller;
    hides.then(|| {
        format!(
            "Season and weather together: {}. The season is reckoned for a clear sky, of which the weather took {}.",
            format::energy_signed(together),
            format::percent(-weather / (planned + season))
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::demo;

    fn with(planned: f64, season: f64, weather: f64) -> Option<String> {
        let mut report = demo::healthy();
        for (name, wh) in [
            ("planned", planned),
            ("season", season),
            ("weather", weather),
        ] {
            for entry in report.account.harvest.iter_mut().filter(|e| e.name == name) {
                entry.wh = wh;
            }
        }
        told(&report).map(|text| format::plain(&text))
    }

    #[test]
    fn two_long_bars_that_cancel_are_told_together() {
        let text = with(9919.0, 72_063.0, -75_522.0).unwrap_or_default();
        assert!(
            text.contains("-3459 Wh") && text.contains("took 92 %"),
            "{text}"
        );
        assert_eq!(with(9919.0, 2000.0, -2100.0), None);
        assert_eq!(with(9919.0, 30_000.0, -8000.0), None);
        assert_eq!(with(9919.0, -6000.0, -2000.0), None);
    }
}
