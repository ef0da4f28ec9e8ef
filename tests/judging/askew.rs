//! Panels that stand askew: the course of clear days shows a lean to the side, and nothing is made of it
//! that it is not.

use std::path::Path;

use ampledger::design::read::read_text;
use ampledger::expect::turn::Turn;
use ampledger::report::model::Severity;

use crate::plant::{Plant, taken};

/// A plant whose two strings lie as stated: tilt and facing, degrees.
fn lying(tilt: f64, facing: f64, days: usize) -> Plant {
    let text = format!(
        "[system]\nnominal = \"12 V\"\n[place]\nlatitude = 48.0\nlongitude = 0.0\ntimezone = \"UTC\"\n\
         [array]\ntilt = \"{tilt} deg\"\nfacing = \"{facing} deg\"\nstrings_in_parallel = 2\n\
         [array.panel]\npower = \"200 W\"\nvmp = \"36 V\"\nimp = \"5.5 A\"\n\
         [controller]\n[battery]\nchemistry = \"lfp\"\ncapacity = \"200 Ah\"\n"
    );
    Plant {
        design: read_text(&text, Path::new("made.toml"), Path::new(".")).unwrap(),
        ..Plant::new("lfp", days)
    }
}

#[test]
fn a_lean_to_the_side_is_read_off_clear_days() {
    let on_paper = lying(0.0, 180.0, 6);
    for (facing, east) in [(90.0, 4.0), (270.0, -4.0)] {
        let truly = lying(4.0, facing, 6);
        let judged = on_paper.judge(|day, minute| taken(day, truly.clear_w(day, minute)));
        let askew = &judged.expected.askew;
        assert_eq!(askew.len(), 1, "{askew:?}");
        assert!((askew[0].east_deg - east).abs() < 0.4, "{askew:?}");
        // What is offered then follows the day as the panels do.
        let worst = (0..judged.expected.grid.moments)
            .filter(|m| judged.expected.offers[*m].elevation_deg > 15.0)
            .map(|m| {
                let truth = truly.clear_w(m / 288, m % 288 * 5 + 2);
                (judged.expected.offers[m].output_w / truth - 1.0).abs()
            })
            .fold(0.0, f64::max);
        assert!(worst < 0.03, "{worst}");
    }
}

#[test]
fn steep_panels_that_look_another_way_than_on_paper_are_read_off_clear_days() {
    let on_paper = lying(55.0, 180.0, 6);
    for (facing, east) in [(158.0, 22.0), (205.0, -25.0)] {
        let truly = lying(55.0, facing, 6);
        let judged = on_paper.judge(|day, minute| taken(day, truly.clear_w(day, minute)));
        let askew = &judged.expected.askew;
        assert_eq!(askew.len(), 1, "{askew:?}");
        assert_eq!(askew[0].turn, Turn::Bearing);
        assert!((askew[0].east_deg - east).abs() < 3.0, "{askew:?}");
        for kind in ["array-part-out", "array-weak", "harvest-short", "clock-off"] {
            assert!(judged.found(kind).is_none(), "{kind}");
        }
    }
}

#[test]
fn panels_that_lie_as_designed_lean_nowhere() {
    let plant = lying(20.0, 200.0, 6);
    let judged = plant.judge(|day, minute| taken(day, plant.clear_w(day, minute)));
    assert!(judged.expected.askew.is_empty());
}

#[test]
fn a_lean_towards_noon_is_no_lean_to_the_side() {
    let (on_paper, truly) = (lying(0.0, 180.0, 6), lying(4.0, 180.0, 6));
    let judged = on_paper.judge(|day, minute| taken(day, truly.clear_w(day, minute)));
    assert!(judged.expected.askew.is_empty());
}

#[test]
fn a_string_is_missed_on_leaning_panels_as_on_level_ones() {
    let (on_paper, truly) = (lying(0.0, 180.0, 8), lying(5.0, 270.0, 8));
    let judged = on_paper.judge(|day, minute| {
        let left = if day < 4 { 1.0 } else { 0.5 };
        taken(day, left * truly.clear_w(day, minute))
    });
    let out = judged
        .found("array-part-out")
        .expect("the string is missed");
    assert_eq!(out.severity, Severity::Fix);
    assert!(
        out.summary.contains("one of two strings"),
        "{}",
        out.summary
    );
}

#[test]
fn leaning_panels_alone_are_no_fault() {
    let (on_paper, truly) = (lying(0.0, 180.0, 8), lying(5.0, 270.0, 8));
    let judged = on_paper.judge(|day, minute| taken(day, truly.clear_w(day, minute)));
    for kind in [
        "array-part-out",
        "array-weak",
        "harvest-short",
        "shade-repeating",
    ] {
        assert!(judged.found(kind).is_none(), "{kind}");
    }
}

/// A journey whose second place begins on 14 December, the panels lying flat on paper; towards the sun at the
/// first, away from it at the second.
fn moved(lean: f64, left: f64) -> (Option<String>, Vec<f64>) {
    let text = "[system]\nnominal = \"12 V\"\n[place]\nlatitude = 48.0\nlongitude = 0.0\ntimezone = \"UTC\"\n\
         [[place.leg]]\nfrom = 2026-12-14\nlatitude = 48.2\nlongitude = 0.5\n\
         [array]\ntilt = \"0 deg\"\nfacing = \"180 deg\"\nstrings_in_parallel = 2\n\
         [array.panel]\npower = \"200 W\"\nvmp = \"36 V\"\nimp = \"5.5 A\"\n\
         [controller]\n[battery]\nchemistry = \"lfp\"\ncapacity = \"200 Ah\"\n";
    let december = chrono::NaiveDate::from_ymd_opt(2026, 12, 10).unwrap();
    let at = |plant: Plant| Plant {
        first: december,
        ..plant
    };
    let on_paper = at(Plant {
        design: read_text(text, Path::new("made.toml"), Path::new(".")).unwrap(),
        ..Plant::new("lfp", 9)
    });
    let (toward, away) = (at(lying(lean, 180.0, 9)), at(lying(lean, 0.0, 9)));
    let judged = on_paper.judge(|day, minute| {
        let there = if day < 4 { &toward } else { &away };
        taken(
            day,
            if day < 4 { 1.0 } else { left } * there.clear_w(day, minute),
        )
    });
    let kinds = ["array-part-out", "array-weak", "harvest-short"];
    let found = kinds.iter().find(|kind| judged.found(kind).is_some());
    let bands = judged.expected.clear.days.iter().flatten();
    (
        found.map(|kind| (*kind).to_owned()),
        bands.map(|scale| scale.band).collect(),
    )
}

#[test]
fn a_lean_towards_noon_at_one_place_and_away_at_the_next_is_no_fault() {
    let (found, bands) = moved(2.0, 1.0);
    assert_eq!(found, None, "{bands:?}");
    // The second place was never seen well by the first one's measure, and is less sure.
    assert!(bands[bands.len() - 1] > 1.5 * bands[0], "{bands:?}");
}

#[test]
fn a_string_lost_on_the_way_is_found_all_the_same() {
    let (found, bands) = moved(1.0, 0.5);
    assert_eq!(found.as_deref(), Some("array-part-out"), "{bands:?}");
}
