//! Arrays that look different ways on one controller: which of them is out shows in the course of clear days.

use std::path::Path;

use ampledger::design::read::read_text;
use ampledger::report::model::Severity;

use crate::plant::{Judged, Plant, taken};

/// Label power and strings of an array that looks one way.
struct Side {
    name: &'static str,
    facing: u32,
    strings: u32,
}

const EAST: Side = Side {
    name: "east",
    facing: 90,
    strings: 1,
};
const WEST: Side = Side {
    name: "west",
    facing: 270,
    strings: 2,
};

/// A plant of some sides on its one controller, each of 300 W.
fn plant(sides: &[Side], days: usize) -> Plant {
    let arrays: String = sides
        .iter()
        .map(|side| {
            format!(
                "[[array]]\nname = \"{}\"\ntilt = \"30 deg\"\nfacing = \"{} deg\"\nstrings_in_parallel = {}\n\
                 [array.panel]\npower = \"{} W\"\nvmp = \"36 V\"\nimp = \"4 A\"\n",
                side.name,
                side.facing,
                side.strings,
                300 / side.strings
            )
        })
        .collect();
    let text = format!(
        "[system]\nnominal = \"12 V\"\n[place]\nlatitude = 48.0\nlongitude = 0.0\ntimezone = \"UTC\"\n{arrays}\
         [controller]\n[battery]\nchemistry = \"lfp\"\ncapacity = \"200 Ah\"\n"
    );
    Plant {
        design: read_text(&text, Path::new("made.toml"), Path::new(".")).unwrap(),
        ..Plant::new("lfp", days)
    }
}

/// Both sides under a sky, of which the west keeps a share from a day on.
fn judged<'a>(
    both: &'a Plant,
    (from, kept): (usize, f64),
    sky: impl Fn(usize, usize) -> f64,
) -> Judged<'a> {
    let (east, west) = (plant(&[EAST], both.days), plant(&[WEST], both.days));
    both.judge(|day, minute| {
        let left = if day < from { 1.0 } else { kept };
        let watts = east.clear_w(day, minute) + left * west.clear_w(day, minute);
        taken(day, sky(day, minute) * watts)
    })
}

fn day_wh(plant: &Plant, day: usize) -> f64 {
    (0..1440)
        .map(|minute| plant.clear_w(day, minute) / 60.0)
        .sum()
}

#[test]
fn of_two_sides_the_dead_one_is_named_with_what_it_cost() {
    let both = plant(&[EAST, WEST], 8);
    let judged = judged(&both, (4, 0.0), |_, _| 1.0);
    let out = judged.found("array-part-out").expect("the side is missed");
    assert_eq!(out.severity, Severity::Fix);
    assert!(
        out.summary
            .starts_with("From 14 June the array west gave nothing"),
        "{}",
        out.summary
    );
    assert_eq!(out.evidence["fraction_out"], 0.5);
    let truly: f64 = (4..8)
        .map(|day| day_wh(&plant(&[WEST], 8), day))
        .sum::<f64>()
        / 8.0;
    let lost = out.lost_wh_per_day.unwrap();
    assert!(
        (lost.value / truly - 1.0).abs() < 0.05,
        "{lost:?} for {truly}"
    );
    assert!(lost.low <= truly && truly <= lost.high);
    let unexplained = &judged.accounts.days[5].unexplained_wh.unwrap();
    assert!(unexplained.abs() < 0.02 * truly, "{unexplained}");
}

#[test]
fn a_side_that_was_dead_all_along_is_named_too() {
    let both = plant(&[EAST, WEST], 5);
    let out = judged(&both, (0, 0.0), |_, _| 1.0).found("array-part-out");
    let out = out.expect("the side is missed");
    assert!(
        out.summary
            .starts_with("Through the whole log the array west gave nothing"),
        "{}",
        out.summary
    );
}

#[test]
fn one_string_of_a_side_is_named_as_that() {
    let both = plant(&[EAST, WEST], 8);
    let out = judged(&both, (4, 0.5), |_, _| 1.0).found("array-part-out");
    let out = out.expect("the string is missed");
    assert!(
        out.summary.contains("one of two strings of the array west"),
        "{}",
        out.summary
    );
    assert!(
        out.next_check
            .faulty
            .starts_with("one string at or near 0 A")
    );
}

#[test]
fn two_sides_that_are_well_are_no_dead_one() {
    let both = plant(&[EAST, WEST], 8);
    for takes in [0.0, 0.05] {
        // With and without haze, which bends a day by itself.
        let hazy = |day: usize, minute: usize| {
            let noon = (minute as f64 - 720.0) / 720.0;
            1.0 - takes * (day % 3) as f64 * (1.0 + 3.0 * noon * noon)
        };
        let judged = judged(&both, (99, 1.0), hazy);
        assert!(judged.found("array-part-out").is_none());
        assert!(judged.found("harvest-short").is_none());
    }
}

#[test]
fn grey_afternoons_are_no_dead_side() {
    let both = plant(&[EAST, WEST], 10);
    // From the fifth day the sky draws over, each day at another hour, to an even grey of another depth.
    let judged = judged(&both, (99, 1.0), |day, minute| {
        let from = 600 + 75 * (day * 2 % 5);
        if day >= 5 && minute >= from {
            0.25 + 0.07 * (day % 5) as f64
        } else {
            1.0
        }
    });
    assert!(judged.found("array-part-out").is_none());
    assert!(judged.found("harvest-short").is_none());
}
