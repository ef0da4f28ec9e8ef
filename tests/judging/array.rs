//! A part of the array out, a weak array, a dark one, and what only looks like them.

use ampledger::report::model::{Finding, Limiting, Severity};
use ampledger::verdict::verdict;

use crate::plant::{Judged, Minute, More, Plant, taken};

const KINDS: [&str; 3] = ["array-weak", "array-part-out", "array-dark"];

/// The plant's array as two strings of one panel.
fn two_strings(days: usize) -> Plant {
    let mut plant = Plant::new("lfp", days);
    let array = &mut plant.design.arrays[0];
    array.strings_in_parallel = 2;
    array.panel.power_w /= 2.0;
    plant
}

/// The same as two panels in one string.
fn two_in_series(days: usize) -> Plant {
    let mut plant = Plant::new("lfp", days);
    let array = &mut plant.design.arrays[0];
    array.panels_in_series = 2;
    array.panel.power_w /= 2.0;
    array.panel.vmp_v = Some(18.0);
    plant
}

fn with_volts(m: Minute, volts: f64) -> Minute {
    let watts = m.charge_v * m.charge_a / 0.96;
    Minute {
        more: More {
            array_v: Some(if watts > 1.0 { volts } else { 0.0 }),
            array_a: Some(watts / volts),
            ..More::default()
        },
        ..m
    }
}

fn none_of(judged: &Judged, kinds: &[&str]) {
    let found: Vec<Finding> = judged.look().findings;
    let bad: Vec<&String> = found
        .iter()
        .filter(|f| kinds.contains(&f.kind.as_str()))
        .map(|f| &f.summary)
        .collect();
    assert!(bad.is_empty(), "{bad:?}");
}

fn is_unknown(judged: &Judged, kind: &str) -> bool {
    judged.look().unknown.iter().any(|u| u.kind == kind)
}

#[test]
fn a_string_that_drops_out_is_named_with_its_day_and_its_share() {
    let plant = two_strings(8);
    let judged = plant.judge(|day, minute| {
        let left = if day < 4 { 1.0 } else { 0.5 };
        with_volts(taken(day, left * plant.clear_w(day, minute)), 33.0)
    });
    let out = judged
        .found("array-part-out")
        .expect("the string is missed");
    assert_eq!(out.severity, Severity::Fix);
    assert_eq!(out.evidence["fraction_out"], 0.5);
    assert_eq!(out.evidence["since"], "2026-06-14");
    assert!(
        out.summary
            .starts_with("From 14 June one of two strings gave nothing"),
        "{}",
        out.summary
    );
    let offered: f64 = judged.accounts.days[4..]
        .iter()
        .map(|d| d.offered_wh.unwrap())
        .sum();
    let lost = out.lost_wh_per_day.unwrap();
    assert!(
        (lost.value - 0.5 * offered / 8.0).abs() < 0.05 * lost.value,
        "{lost:?}"
    );
    let found = judged.look();
    let short = found
        .findings
        .iter()
        .find(|f| f.kind == "harvest-short")
        .unwrap();
    assert_eq!(short.part_of.as_deref(), Some("array-part-out"));
    let told = verdict(&judged.evidence(), &found);
    assert_eq!(told.limiting, Limiting::Array);
    assert!(
        told.text.contains("one of two strings gave nothing"),
        "{}",
        told.text
    );
    none_of(&judged, &["array-weak", "array-dark", "shade-repeating"]);
}

#[test]
fn a_panel_in_series_takes_its_share_of_the_voltage_with_it() {
    let plant = two_in_series(8);
    let at = |low_v: f64| {
        plant.judge(move |day, minute| {
            let (left, volts) = if day < 4 { (1.0, 33.0) } else { (0.5, low_v) };
            with_volts(taken(day, left * plant_clear(day, minute)), volts)
        })
    };
    let judged = at(16.5);
    let out = judged.found("array-part-out").expect("the panel is missed");
    assert!(
        out.summary.contains("one of two panels in series"),
        "{}",
        out.summary
    );
    // At full voltage it is no panel of a series: what is missing is missing in parallel.
    none_of(&at(33.0), &["array-part-out"]);
}

/// Clear-sky output of the plant of these tests, which its make-up leaves as it is.
fn plant_clear(day: usize, minute: usize) -> f64 {
    thread_local! {
        static PLANT: Plant = Plant::new("lfp", 1);
    }
    PLANT.with(|plant| plant.clear_w(day, minute))
}

#[test]
fn a_level_that_no_part_leaves_is_no_part_out() {
    let plant = two_strings(8);
    let judged = plant.judge(|day, minute| {
        let left = if day < 4 { 1.0 } else { 0.72 };
        taken(day, left * plant.clear_w(day, minute))
    });
    none_of(&judged, &["array-part-out", "array-weak"]);
    assert!(is_unknown(&judged, "array-part-out"));
    assert!(judged.found("harvest-short").is_some());
}

#[test]
fn three_of_four_strings_out_are_no_dull_sky() {
    let mut plant = two_strings(8);
    plant.design.arrays[0].strings_in_parallel = 4;
    plant.design.arrays[0].panel.power_w /= 2.0;
    let judged = plant.judge(|day, minute| {
        let left = if day < 4 { 1.0 } else { 0.25 };
        taken(day, left * plant.clear_w(day, minute))
    });
    let out = judged
        .found("array-part-out")
        .expect("most of the array is missed");
    assert_eq!(out.evidence["fraction_out"], 0.75);
    // An even grey that drifts as skies do is none.
    let grey = plant.judge(|day, minute| {
        let drift = 0.2 * (minute as f64 / 60.0 + day as f64).sin();
        let left = if day < 4 { 1.0 } else { 0.25 * (1.0 + drift) };
        taken(day, left * plant.clear_w(day, minute))
    });
    none_of(&grey, &KINDS);
}

#[test]
fn one_panel_alone_has_no_part_to_lose() {
    let plant = Plant::new("lfp", 8);
    let judged = plant.judge(|day, minute| {
        let left = if day < 4 { 1.0 } else { 0.5 };
        taken(day, left * plant.clear_w(day, minute))
    });
    none_of(&judged, &["array-part-out"]);
}

#[test]
fn a_string_out_from_the_first_day_is_told_from_dirt_by_how_much_is_missing() {
    let plant = two_strings(6);
    let at =
        |left: f64| plant.judge(move |day, minute| taken(day, left * plant_clear(day, minute)));
    let half = at(0.5);
    let out = half.found("array-part-out").expect("half is missing");
    assert_eq!(out.evidence["since"], "2026-06-10");
    none_of(&half, &["array-weak"]);
    let dirty = at(0.7);
    let weak = dirty.found("array-weak").expect("weak");
    none_of(&dirty, &["array-part-out"]);
    let scale = &weak.evidence["scale"];
    assert!(
        (scale["value"].as_f64().unwrap() - 0.7).abs() < 0.02,
        "{scale}"
    );
    assert!(scale["high"].as_f64().unwrap() < 0.8 / 0.9);
    // Lost is what lies below the low end of a healthy array's range.
    let clear: f64 = dirty
        .accounts
        .days
        .iter()
        .map(|d| d.clear_wh.unwrap())
        .sum();
    let expected = (0.8 / 0.9 - 0.7) * clear / 6.0;
    let lost = weak.lost_wh_per_day.unwrap();
    assert!(
        (lost.value - expected).abs() < 0.1 * expected,
        "{lost:?} for {expected}"
    );
}

#[test]
fn inside_the_allowances_range_an_array_is_not_weak() {
    let plant = two_strings(6);
    for left in [0.86, 0.91, 1.0, 1.1] {
        let judged = plant.judge(|day, minute| taken(day, left * plant.clear_w(day, minute)));
        none_of(&judged, &KINDS);
    }
}

#[test]
fn a_low_winter_sun_condemns_no_array() {
    let mut plant = two_strings(6);
    plant.first = chrono::NaiveDate::from_ymd_opt(2026, 12, 10).unwrap();
    let judged = plant.judge(|day, minute| taken(day, 0.8 * plant.clear_w(day, minute)));
    none_of(&judged, &KINDS);
}

#[test]
fn smooth_grey_days_are_no_weak_array() {
    let plant = two_strings(7);
    // Each day its own grey, drifting through the day, without a ripple.
    let judged = plant.judge(|day, minute| {
        let sky = 0.36 + 0.05 * day as f64 + 0.16 * ((minute as f64 / 1440.0 * 9.0).sin());
        taken(day, sky * plant.clear_w(day, minute))
    });
    none_of(&judged, &["array-weak", "array-part-out"]);
}

#[test]
fn days_on_which_the_bank_was_full_are_no_evidence() {
    let plant = two_strings(8);
    let judged = plant.judge(|day, minute| {
        let clear = plant.clear_w(day, minute);
        if day >= 3 && clear > 90.0 {
            // Half of what there is, because the bank takes no more.
            let amps = 0.5 * clear / 14.2;
            Minute {
                charge_v: 14.2,
                charge_a: amps,
                bank_v: 14.19,
                bank_a: amps - 3.0,
                ..Minute::default()
            }
        } else {
            taken(day, clear)
        }
    });
    none_of(&judged, &KINDS);
    none_of(&judged, &["harvest-short", "shade-repeating"]);
}

#[test]
fn a_string_out_shows_though_the_bank_is_full_every_day() {
    let plant = two_strings(10);
    let judged = plant.judge(|day, minute| {
        let left = if day < 5 { 1.0 } else { 0.5 };
        let watts = left * plant.clear_w(day, minute);
        if minute >= 690 {
            // Full before noon: the bank stands above float and takes nothing.
            return Minute {
                charge_v: 14.2,
                charge_a: 3.0,
                bank_v: 14.19,
                bank_a: 0.1,
                ..Minute::default()
            };
        }
        taken(day, watts)
    });
    let out = judged
        .found("array-part-out")
        .expect("the string is missed");
    assert_eq!(out.evidence["fraction_out"], 0.5);
}

#[test]
fn one_day_under_an_even_veil_is_no_fault() {
    let plant = two_strings(9);
    let judged = plant.judge(|day, minute| {
        let veil = if day == 5 { 0.78 } else { 1.0 };
        taken(day, veil * plant.clear_w(day, minute))
    });
    none_of(&judged, &KINDS);
    none_of(&judged, &["harvest-short"]);
}

#[test]
fn a_controller_at_its_limit_is_no_missing_part() {
    let mut plant = two_strings(8);
    plant.design.controllers[0].max_output_a = Some(12.0);
    let judged = plant.judge(|day, minute| {
        let m = taken(day, plant.clear_w(day, minute));
        let amps = m.charge_a.min(12.0);
        Minute {
            charge_a: amps,
            bank_a: amps - 3.0,
            ..m
        }
    });
    none_of(&judged, &KINDS);
    none_of(&judged, &["shade-repeating"]);
}

#[test]
fn the_equal_noons_of_clear_days_are_no_limit_of_the_controller() {
    let plant = two_strings(5);
    let judged = plant.judge(|day, minute| taken(day, plant.clear_w(day, minute)));
    // The plant's design states no limit.
    assert!(judged.expected.limit_a.is_infinite());
}

#[test]
fn a_lean_at_the_next_stop_is_no_missing_part() {
    let mut plant = two_strings(10);
    plant.first = chrono::NaiveDate::from_ymd_opt(2026, 10, 20).unwrap();
    let moved = plant.calendar.start_of(plant.first) + 5 * 86_400;
    let next = plant.design.place.base.clone();
    plant.design.place.legs.push((moved, next));
    let judged = plant.judge(|day, minute| {
        let lean = if day < 5 { 1.0 } else { 0.86 };
        taken(day, lean * plant.clear_w(day, minute))
    });
    none_of(&judged, &KINDS);
}

#[test]
fn two_dark_days_are_dark_by_their_good_hours_at_least() {
    let plant = Plant::new("lfp", 6);
    let judged = plant.judge(|day, minute| {
        let left = if day == 3 || day == 4 { 0.0 } else { 1.0 };
        taken(day, left * plant.clear_w(day, minute))
    });
    let dark = judged.found("array-dark").expect("dark days are missed");
    let hours = dark.evidence["dark_h"].as_f64().unwrap();
    let daylight = 2.0 * (0..1440).filter(|m| plant.clear_w(3, *m) > 0.0).count() as f64 / 60.0;
    assert!(
        hours > 0.6 * daylight && hours <= daylight,
        "{hours} of {daylight}"
    );
    assert_eq!(dark.days, ["2026-06-13", "2026-06-14"]);
    let found = judged.look();
    let short = found
        .findings
        .iter()
        .find(|f| f.kind == "harvest-short")
        .unwrap();
    assert_eq!(short.part_of.as_deref(), Some("array-dark"));
    none_of(
        &judged,
        &["array-part-out", "array-weak", "shade-repeating"],
    );
}

#[test]
fn half_an_hour_without_output_is_not_dark() {
    let plant = Plant::new("lfp", 6);
    let judged = plant.judge(|day, minute| {
        let left = if day == 3 && (700..730).contains(&minute) {
            0.0
        } else {
            1.0
        };
        taken(day, left * plant.clear_w(day, minute))
    });
    none_of(&judged, &KINDS);
}

#[test]
fn a_clock_that_is_hours_off_is_no_dark_array() {
    let plant = Plant::new("lfp", 6);
    for shift in [-300, -120, 120, 300] {
        let judged = plant.judge(|day, minute| {
            let at = (minute as i64 + shift).rem_euclid(1440) as usize;
            taken(day, plant.clear_w(day, at))
        });
        none_of(&judged, &KINDS);
        assert_eq!(
            is_unknown(&judged, "array-dark"),
            shift.abs() == 300,
            "{shift}"
        );
    }
}

/// Nothing from the array on the third day, with the rest of the minute as given.
fn dark_third_day<'a>(plant: &'a Plant, rest: impl Fn(Minute) -> Minute) -> Judged<'a> {
    plant.judge(|day, minute| {
        let left = if day == 2 { 0.0 } else { 1.0 };
        let m = taken(day, left * plant.clear_w(day, minute));
        if day == 2 { rest(m) } else { m }
    })
}

#[test]
fn a_full_or_a_cold_bank_is_no_dark_array() {
    let plant = Plant::new("lfp", 5);
    let full = dark_third_day(&plant, |m| Minute {
        charge_v: 13.6,
        bank_v: 13.6,
        ..m
    });
    none_of(&full, &["array-dark"]);
    let cold = plant.judge(|day, minute| {
        let left = if day == 2 { 0.0 } else { 1.0 };
        let more = More {
            bank_c: Some(if day == 2 { -2.0 } else { 12.0 }),
            ..More::default()
        };
        Minute {
            more,
            ..taken(day, left * plant.clear_w(day, minute))
        }
    });
    none_of(&cold, &["array-dark"]);
}

#[test]
fn where_the_cold_may_have_refused_charge_nobody_can_tell() {
    let mut plant = Plant::new("lfp", 5);
    plant.design.plan.air_c = [2.0; 12];
    let judged = dark_third_day(&plant, |m| m);
    none_of(&judged, &["array-dark"]);
    assert!(is_unknown(&judged, "array-dark"));
    // A dead array shows at its terminals, whatever the bank does.
    let dead = plant.judge(|day, minute| {
        let left = if day == 2 { 0.0 } else { 1.0 };
        with_volts(taken(day, left * plant.clear_w(day, minute)), 33.0)
    });
    let found = dead.found("array-dark").expect("dark");
    assert!(
        found.summary.contains("gives again since 13 June"),
        "{}",
        found.summary
    );
    assert!(found.next_check.then.contains("acquits nothing"));
}

#[test]
fn dead_terminals_are_dark_however_high_the_bank_stands() {
    let plant = Plant::new("lfp", 5);
    let judged = plant.judge(|day, minute| {
        // A breaker open for three hours of the third day, just after the bank was well charged.
        let open = day == 2 && (660..840).contains(&minute);
        let m = taken(
            day,
            if open {
                0.0
            } else {
                plant.clear_w(day, minute)
            },
        );
        let high = Minute {
            charge_v: 13.6,
            bank_v: 13.6,
            ..m
        };
        with_volts(if open { high } else { m }, 33.0)
    });
    let dark = judged.found("array-dark").expect("the breaker is missed");
    let hours = dark.evidence["dark_h"].as_f64().unwrap();
    assert!((hours - 3.0).abs() < 0.1, "{hours}");
    assert_eq!(dark.severity, Severity::Fix, "{}", dark.summary);
    let taken_wh: f64 = (660..840).map(|m| plant.clear_w(2, m) / 60.0).sum();
    let lost = judged.accounts.days[2].lost_wh.unwrap();
    assert!(
        (lost - taken_wh).abs() < 0.05 * taken_wh,
        "{lost} of {taken_wh}"
    );
}

#[test]
fn a_column_that_reads_nothing_while_the_bank_charges_is_not_the_array() {
    let plant = Plant::new("lfp", 5);
    let judged = dark_third_day(&plant, |m| Minute { bank_a: 9.0, ..m });
    none_of(&judged, &["array-dark"]);
    assert!(is_unknown(&judged, "array-dark"));
}
