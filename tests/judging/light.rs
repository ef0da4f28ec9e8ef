//! What else the log may hold of the light: an instrument, the air, the place; and plants of more than
//! one array, or with a controller that pulls the array down to the bank.

use std::path::Path;

use ampledger::design::{Array, Spot, read::read_text};
use ampledger::expect::{Offer, Regime, offer};
use ampledger::mapping::Role;
use ampledger::report::model::{DayState, Entry};
use ampledger::timeline::{Channel, Timeline};

use crate::plant::{Judged, Minute, Plant, following, resting, taken};

/// The clear sky's offer in a minute, as seen from a place.
fn seen_from(plant: &Plant, spot: &Spot, day: usize, minute: usize) -> Offer {
    let at = plant.calendar.start_of(plant.first) + (day * 1440 + minute) as i64 * 60;
    let air = offer::air_at(&plant.design, plant.first);
    offer::clear_offer(&plant.design, spot, at as f64 + 30.0, air, 13.3)
}

fn clear(plant: &Plant, day: usize, minute: usize) -> Offer {
    seen_from(plant, &plant.design.place.base, day, minute)
}

fn step<'a>(judged: &'a Judged, name: &str) -> &'a Entry {
    let steps = &judged.accounts.account.harvest;
    steps.iter().find(|e| e.name == name).unwrap()
}

/// The sky of a trip: clear mornings; from eleven on broken, and another on each day.
fn sky(day: usize, minute: usize) -> f64 {
    match minute {
        0..660 => 1.0,
        _ => 0.35 + 0.13 * day as f64 + 0.05 * ((minute / 9) % 3) as f64,
    }
}

/// Five days on which the bank takes nothing more after twelve, with what an instrument shows.
fn full_at_noon<'a>(
    plant: &'a Plant,
    shown: impl Fn(Offer, f64) -> Option<f64>,
) -> (Judged<'a>, f64) {
    let mut held_wh = 0.0;
    for day in 0..plant.days {
        for minute in 720..1440 {
            let offer = clear(plant, day, minute);
            if offer.output_w > 40.0 {
                held_wh += (offer.output_w * sky(day, minute) - 56.8).max(0.0) / 60.0;
            }
        }
    }
    let judged = plant.judge(|day, minute| {
        let offer = clear(plant, day, minute);
        let mut made = if minute >= 720 && offer.output_w > 40.0 {
            Minute {
                charge_v: 14.2,
                charge_a: 4.0,
                bank_v: 14.19,
                bank_a: 1.0,
                ..Minute::default()
            }
        } else {
            following(offer.output_w * sky(day, minute), 6.0)
        };
        made.more.irradiance = shown(offer, sky(day, minute));
        made
    });
    (judged, held_wh)
}

#[test]
fn an_instrument_shows_the_sky_while_the_bank_takes_nothing() {
    let plant = Plant::new("lfp", 5);
    let held = |judged: &Judged| {
        assert!(judged.expected.regimes.contains(&Regime::Held));
        let held = step(judged, "held_back");
        // The range of a day: a trip's takes in what is wrong on all of them.
        let day = &judged.accounts.days[2].intervals["held_back_wh"];
        (-held.wh, day.high - day.low)
    };
    let (without, truly) = full_at_noon(&plant, |_, _| None);
    let (_, wide) = held(&without);
    // In the array's plane, a twentieth too low; and flat, a tenth too high.
    type Instrument = fn(Offer, f64) -> Option<f64>;
    let instruments: [Instrument; 2] = [
        |offer, sky| Some(0.95 * sky * offer.plane_wm2),
        |offer, sky| Some(1.10 * sky * offer.flat_wm2),
    ];
    for instrument in instruments {
        let (with, _) = full_at_noon(&plant, instrument);
        let (found, narrow) = held(&with);
        assert!((found / truly - 1.0).abs() < 0.05, "{found} for {truly}");
        assert!(narrow < 0.5 * wide, "{narrow} against {wide}");
    }
}

#[test]
fn an_instrument_that_was_never_beside_a_working_array_is_believed_with_a_wide_range() {
    let plant = Plant::new("lfp", 4);
    // All held from dawn on: nothing to learn the instrument's scale from.
    let judged = plant.judge(|day, minute| {
        let offer = clear(&plant, day, minute);
        let mut made = if offer.output_w > 5.0 {
            Minute {
                charge_v: 14.2,
                charge_a: 0.3,
                bank_v: 14.19,
                bank_a: 0.2,
                ..Minute::default()
            }
        } else {
            resting()
        };
        made.more.irradiance = Some(0.5 * offer.plane_wm2);
        made
    });
    let clear_wh: f64 = judged.accounts.days.iter().filter_map(|d| d.clear_wh).sum();
    let held = step(&judged, "held_back");
    let truly = -0.5 * clear_wh;
    assert!(
        held.low < truly && truly < held.high,
        "{held:?} for {truly}"
    );
    assert!(held.high - held.low > 0.3 * truly.abs(), "{held:?}");
}

/// A trip far from the design's place: what the array gave there, and the positions logged.
fn elsewhere(plant: &Plant, positions: impl Fn(usize) -> Option<(f64, f64)>) -> Judged<'_> {
    let there = Spot {
        latitude_deg: 38.0,
        longitude_deg: 33.0,
        ..plant.design.place.base.clone()
    };
    plant.judge(|day, minute| {
        let mut made = taken(day, seen_from(plant, &there, day, minute).output_w);
        made.more.position = positions(minute);
        made
    })
}

#[test]
fn a_logged_position_is_where_the_sun_is_seen_from() {
    let plant = Plant::new("lfp", 6);
    // A fix in every third minute, none in the others, and no fix at all in the small hours.
    let with = elsewhere(&plant, |minute| match minute {
        0..240 => Some((0.0, 0.0)),
        m if m % 3 == 0 => Some((38.0, 33.0)),
        _ => None,
    });
    assert!(with.expected.clear.calibrated);
    let scale = with.expected.clear.reference.value;
    assert!((scale - 1.0).abs() < 0.02, "{scale}");
    assert!(with.found("clock-off").is_none());
    assert!(with.accounts.days.iter().all(|d| d.state == DayState::Ok));
    // Two hours of the sun's way between the two: without the positions it looks like a wrong clock.
    assert!(elsewhere(&plant, |_| None).found("clock-off").is_some());
}

#[test]
fn a_receiver_without_a_fix_leaves_the_designs_place() {
    let plant = Plant::new("lfp", 5);
    let judged = plant.judge(|day, minute| {
        let mut made = following(plant.clear_w(day, minute), 6.0);
        made.more.position = Some((0.0, 0.0));
        made
    });
    assert!(judged.expected.signals.route.is_none());
    assert!(judged.accounts.days.iter().all(|d| d.state == DayState::Ok));
}

#[test]
fn hot_air_that_was_logged_is_a_loss_to_heat() {
    let plant = Plant::new("lfp", 5);
    let planned = offer::air_at(&plant.design, plant.first);
    let hotter = |degrees: f64| {
        let judged = plant.judge(|day, minute| {
            let mut made = following(plant.clear_w(day, minute), 6.0);
            made.more.air_c = Some(planned + degrees);
            made
        });
        let offered: f64 = judged
            .accounts
            .days
            .iter()
            .filter_map(|d| d.offered_wh)
            .sum();
        step(&judged, "heat").wh / offered
    };
    let per_degree = plant.design.arrays[0].panel.power_per_degree;
    // A panel as warm as its air's excess: a little more than its coefficient, for it gives less than at 25 C.
    let share = hotter(10.0);
    assert!(
        share < 9.0 * per_degree && share > 13.0 * per_degree,
        "{share}"
    );
    assert!(hotter(-10.0) > 0.0);
    assert!(hotter(0.0).abs() < 0.002);
}

/// A roof array on controller A and one of half its power in the garden on B, that faces west.
pub(crate) fn two_arrays() -> (Plant, Plant, Plant) {
    let text = |lines: &str| {
        format!(
            r#"
[system]
nominal = "12 V"
[place]
latitude = 48.0
longitude = 0.0
timezone = "UTC"
{lines}
[battery]
chemistry = "lfp"
capacity = "200 Ah"
"#
        )
    };
    let roof = "[[array]]\nname = \"roof\"\ncontroller = \"A\"\n[array.panel]\npower = \"400 W\"\nvmp = \"36 V\"\n";
    let garden = "[[array]]\nname = \"garden\"\ncontroller = \"B\"\ntilt = \"40 deg\"\nfacing = \"270 deg\"\n[array.panel]\npower = \"200 W\"\nvmp = \"36 V\"\n";
    let (a, b) = (
        "[[controller]]\nname = \"A\"\n",
        "[[controller]]\nname = \"B\"\n",
    );
    let plant = |lines: String| Plant {
        design: read_text(&text(&lines), Path::new("made.toml"), Path::new(".")).unwrap(),
        ..Plant::new("lfp", 8)
    };
    (
        plant(format!("{roof}{garden}{a}{b}")),
        plant(format!("{roof}{a}")),
        plant(format!("{garden}{b}")),
    )
}

/// Both controllers logged apart; the garden's array is dead from a day on.
pub(crate) fn two_controllers<'a>(
    both: &'a Plant,
    roof: &Plant,
    garden: &Plant,
    dead: usize,
) -> Judged<'a> {
    of_the_garden(both, roof, garden, (dead, 0.0))
}

/// The same with a share of the garden's array left from a day on.
fn of_the_garden<'a>(
    both: &'a Plant,
    roof: &Plant,
    garden: &Plant,
    (from, left): (usize, f64),
) -> Judged<'a> {
    let parts = |day: usize, minute: usize| {
        let one = roof.clear_w(day, minute);
        let kept = if day < from { 1.0 } else { left };
        (one, kept * garden.clear_w(day, minute))
    };
    let made = |side: fn((f64, f64)) -> f64, day: usize, minute: usize| {
        let all = parts(day, minute);
        let mut made = taken(day, all.0 + all.1);
        made.charge_a = side(all) / made.charge_v;
        made
    };
    both.judge_timeline(two_sides(
        both,
        |day, minute| made(|all| all.0, day, minute),
        |day, minute| made(|all| all.1, day, minute),
    ))
}

/// What controllers A and B logged; the bank's side is as with A.
pub(crate) fn two_sides(
    both: &Plant,
    a: impl Fn(usize, usize) -> Minute,
    b: impl Fn(usize, usize) -> Minute,
) -> Timeline {
    let mut timeline = both.timeline(a);
    let second = both.timeline(b);
    let side = [Role::ChargePower, Role::ChargeCurrent, Role::ChargeVoltage];
    for channel in timeline
        .channels
        .iter_mut()
        .filter(|c| side.contains(&c.role))
    {
        channel.controller = Some("A".to_owned());
    }
    let more = second
        .channels
        .into_iter()
        .filter(|c| side.contains(&c.role));
    timeline.channels.extend(more.map(|channel| Channel {
        controller: Some("B".to_owned()),
        ..channel
    }));
    timeline
}

#[test]
fn two_arrays_on_two_controllers_are_added_up() {
    let (both, roof, garden) = two_arrays();
    let judged = two_controllers(&both, &roof, &garden, 99);
    let scale = judged.expected.clear.reference.value;
    assert!((scale - 1.0).abs() < 0.02, "{scale}");
    assert!(judged.accounts.days.iter().all(|d| d.state == DayState::Ok));
    let total = |plant: &Plant| -> f64 {
        (0..8 * 1440)
            .map(|m| plant.clear_w(m / 1440, m % 1440) / 60.0)
            .sum()
    };
    let harvested = step(&judged, "harvested").wh;
    let truly = total(&roof) + total(&garden);
    assert!(
        (harvested / truly - 1.0).abs() < 0.001,
        "{harvested} for {truly}"
    );
}

#[test]
fn of_two_arrays_the_dead_ones_share_is_the_loss() {
    let (both, roof, garden) = two_arrays();
    let judged = two_controllers(&both, &roof, &garden, 4);
    let share = |day: usize| {
        let of = |plant: &Plant| -> f64 { (0..1440).map(|m| plant.clear_w(day, m)).sum() };
        of(&garden) / (of(&roof) + of(&garden))
    };
    for (day, made) in judged.accounts.days.iter().enumerate().skip(4) {
        let lost = made.lost_wh.unwrap() / made.offered_wh.unwrap();
        assert_eq!(made.state, DayState::Short, "{made:?}");
        assert!(
            (lost - share(day)).abs() < 0.05,
            "{lost} for {}",
            share(day)
        );
    }
    let finding = judged.found("array-part-out").unwrap();
    assert!(
        finding.r#where.contains("controller B"),
        "{}",
        finding.r#where
    );
    assert_eq!(finding.from.as_deref(), Some("2026-06-14"));
    let before = &judged.accounts.days[..4];
    assert!(before.iter().all(|d| d.state == DayState::Ok));
}

#[test]
fn of_two_arrays_alike_the_controllers_logs_show_which_lost_a_string() {
    let (mut both, mut roof, mut garden) = two_arrays();
    for plant in [&mut both, &mut roof, &mut garden] {
        for array in &mut plant.design.arrays {
            array.panel.power_w = 200.0;
            array.strings_in_parallel = 2;
            (array.tilt_deg, array.facing_deg) = (30.0, 180.0);
        }
    }
    let judged = of_the_garden(&both, &roof, &garden, (4, 0.5));
    let out = judged.found("array-part-out").expect("a part out");
    assert!(
        out.summary
            .contains("one of two strings of the array garden"),
        "{}",
        out.summary
    );
}

#[test]
fn of_two_controllers_that_both_give_half_neither_is_called_dead() {
    // Two arrays alike: half the output in all is what either alone would give.
    let (mut both, mut roof, _) = two_arrays();
    let first = both.design.arrays[0].clone();
    both.design.arrays[1] = Array {
        name: Some("second".to_owned()),
        controller: 1,
        ..first
    };
    roof.design.arrays[0].panel.power_w /= 2.0;
    let judged = two_controllers(&both, &roof, &roof, 99);
    let said = judged.found("array-part-out");
    assert!(said.is_none(), "{}", said.unwrap().summary);
    assert!(judged.found("array-weak").is_some());
}

#[test]
fn a_controller_that_pulls_the_array_down_to_the_bank_is_expected_to_give_less() {
    let with = |controller: &str| {
        let text = format!(
            r#"
[system]
nominal = "12 V"
[place]
latitude = 48.0
longitude = 0.0
timezone = "UTC"
[array.panel]
power = "100 W"
voc = "22.4 V"
isc = "5.9 A"
vmp = "18.5 V"
imp = "5.4 A"
[controller]
method = "{controller}"
[battery]
chemistry = "agm"
capacity = "100 Ah"
"#
        );
        Plant {
            design: read_text(&text, Path::new("made.toml"), Path::new(".")).unwrap(),
            ..Plant::new("agm", 6)
        }
    };
    let (pwm, mppt) = (with("pwm"), with("mppt"));
    let day = |plant: &Plant| -> f64 { (0..1440).map(|m| plant.clear_w(0, m) / 60.0).sum() };
    let less = day(&pwm) / day(&mppt);
    // The panel's current at the bank's voltage: 5.4 A x 13.3 V of 100 W, and more of a warm one.
    assert!((0.7..0.95).contains(&less), "{less}");
    let right = pwm.judge(|d, m| taken(d, pwm.clear_w(d, m)));
    assert!(right.found("array-weak").is_none());
    assert!(right.accounts.days.iter().all(|d| d.state == DayState::Ok));
}

#[test]
fn what_a_limit_takes_under_passing_clouds_is_not_read_off_the_clouds() {
    let plant = Plant::new("lfp", 6);
    let (limit_a, mut truly) = (14.0, 0.0);
    // A bright sky with a cloud of four minutes in every half hour, and clear mornings and evenings.
    let sky = |minute: usize| if minute % 30 < 4 { 0.35 } else { 1.0 };
    let watts = |day: usize, minute: usize| sky(minute) * plant.clear_w(day, minute);
    let judged = plant.judge(|day, minute| {
        let mut made = taken(day, watts(day, minute));
        if made.charge_a > limit_a {
            made = taken(day, limit_a * made.charge_v);
            made.charge_a = limit_a;
        }
        made
    });
    for day in 0..plant.days {
        for minute in 0..1440 {
            let made = taken(day, watts(day, minute));
            truly += (made.charge_a - limit_a).max(0.0) * made.charge_v / 60.0;
        }
    }
    let limit = step(&judged, "controller_limit");
    assert!(
        truly > 500.0 && limit.low <= -truly && -truly <= limit.high,
        "{limit:?} for {truly}"
    );
    assert!(
        (-limit.wh / truly - 1.0).abs() < 0.3,
        "{limit:?} for {truly}"
    );
}

/// What haze leaves of a clear sky's light: it takes so much of it for every vertical thickness of air.
fn through_haze(plant: &Plant, day: usize, minute: usize, takes: f64) -> f64 {
    let up = clear(plant, day, minute).elevation_deg.max(1.0);
    // An air mass of the flat earth: not the one that judges.
    plant.clear_w(day, minute) * (-takes / up.to_radians().sin()).exp()
}

#[test]
fn clear_days_of_haze_are_no_loss_however_low_the_sun() {
    for (first, hazy, takes) in [
        // Noon at 18 degrees: three days of a winter's haze take a fifth of it.
        ((2026, 12, 20), 4..7, 0.07),
        // Noon at 65 degrees: one day of thick haze between healthy ones takes a sixth.
        ((2026, 6, 10), 5..6, 0.17),
    ] {
        let mut plant = Plant::new("lfp", 9);
        let (year, month, day) = first;
        plant.first = chrono::NaiveDate::from_ymd_opt(year, month, day).unwrap();
        let judged = plant.judge(|day, minute| {
            let takes = if hazy.contains(&day) { takes } else { 0.0 };
            taken(day, through_haze(&plant, day, minute, takes))
        });
        let lowest = judged.expected.clear.days[hazy.start].unwrap().ratio;
        assert!(lowest / judged.expected.clear.healthy < 0.85, "{lowest}");
        assert!(judged.found("harvest-short").is_none());
        let day = &judged.accounts.days[hazy.start];
        assert!(day.why.contains("hazy"), "{}", day.why);
        assert_eq!(day.unexplained_wh.unwrap().round(), 0.0);
    }
}

#[test]
fn a_quarter_lost_under_a_low_winter_sun_is_no_haze() {
    let mut plant = Plant::new("lfp", 9);
    plant.first = chrono::NaiveDate::from_ymd_opt(2026, 12, 20).unwrap();
    let judged = plant.judge(|day, minute| {
        let left = if day < 5 { 1.0 } else { 0.75 };
        taken(day, left * plant.clear_w(day, minute))
    });
    let short = judged.found("harvest-short").expect("the loss is missed");
    assert_eq!(short.days.len(), 4);
}

#[test]
fn the_season_is_less_sure_by_the_air_under_a_low_sun() {
    let reach = |month: u32| {
        let mut plant = Plant::new("lfp", 4);
        plant.first = chrono::NaiveDate::from_ymd_opt(2026, month, 10).unwrap();
        let judged = plant.judge(|day, minute| taken(day, clear(&plant, day, minute).output_w));
        let season = step(&judged, "season");
        let all: f64 = judged.accounts.days.iter().filter_map(|d| d.clear_wh).sum();
        (
            (season.wh - season.low) / all,
            (season.high - season.wh) / all,
        )
    };
    let (june, december) = (reach(6), reach(12));
    // Hazy air takes more than clean air gives; both weigh with the way of the light.
    assert!(
        (0.10..0.16).contains(&june.0) && (0.05..june.0).contains(&june.1),
        "{june:?}"
    );
    assert!(december.0 > 1.5 * june.0 && december.1 > 1.5 * june.1);
}
