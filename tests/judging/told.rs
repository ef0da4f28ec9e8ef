//! What the verdict names, and what it stands back for.

use ampledger::design::system::{Load, When};
use ampledger::report::model::{Confidence, DayState, Limiting, Severity, Verdict};
use ampledger::verdict::verdict;

use crate::plant::{Judged, Minute, More, Plant, following, taken};

fn told(judged: &Judged) -> Verdict {
    verdict(&judged.evidence(), &judged.look())
}

fn load(name: &str, power_w: f64, when: When) -> Load {
    Load {
        name: name.to_owned(),
        power_w,
        quantity: 1.0,
        hours: 12.0,
        when,
        through_inverter: false,
    }
}

/// A grey week of little sun, whose nights bring the bank down to a voltage under a light load.
fn nights_down_to(plant: &Plant, volts: f64) -> Judged<'_> {
    plant.judge(|day, minute| {
        let sky = 0.2 + 0.05 * ((minute / 25 + day) % 3) as f64;
        let made = following(sky * plant.clear_w(day, minute), 6.0);
        match minute {
            60..180 => Minute {
                charge_v: volts,
                charge_a: 0.0,
                bank_v: volts,
                bank_a: -4.0,
                more: More::default(),
            },
            _ => Minute {
                charge_v: made.charge_v - 0.9,
                bank_v: made.bank_v - 0.9,
                bank_a: made.charge_a - 6.0,
                ..made
            },
        }
    })
}

#[test]
fn lead_emptied_to_the_end_is_told_beside_what_limits() {
    let plant = Plant::new("agm", 6);
    let judged = nights_down_to(&plant, 10.1);
    let drained = judged.found("bank-drained").expect("drained");
    assert_eq!(drained.severity, Severity::Fix);
    assert!(drained.summary.contains("10.10 V"), "{}", drained.summary);
    let text = told(&judged).text;
    assert!(text.contains("emptied to the end"), "{text}");
    // A bank that only came down to where loads are cut off is nearly empty, and no more.
    let judged = nights_down_to(&plant, 11.3);
    let drained = judged.found("bank-drained").expect("drained");
    assert_eq!(drained.severity, Severity::Watch);
    assert!(
        drained.summary.contains("nearly empty"),
        "{}",
        drained.summary
    );
    assert!(!told(&judged).text.contains("emptied to the end"));
}

#[test]
fn a_controller_at_its_limit_is_named_although_no_day_can_be_settled() {
    let mut plant = Plant::new("lfp", 8);
    plant.design.controllers[0].max_output_a = Some(30.0);
    // Under restless clouds, so that no clear hour shows the array; and its limit is set to half its rating.
    let judged = plant.judge(|day, minute| {
        let sky = 0.75 + 0.25 * (((minute / 9 + 2 * day) % 5) as f64 / 4.0);
        let watts = sky * plant.clear_w(day, minute);
        following(watts.min(12.5 * 13.5), 6.0)
    });
    let limiting = judged.found("controller-limiting").expect("limiting");
    assert_eq!(limiting.confidence, Confidence::High);
    let settled = judged.accounts.days.iter().filter(|d| d.judged).count();
    assert!(
        settled < 3,
        "{settled} days are settled, the case is another"
    );
    let verdict = told(&judged);
    assert_eq!(verdict.limiting, Limiting::Settings, "{}", verdict.text);
    // What it costs is the mean of all days read, not of the few settled.
    let lost = judged
        .accounts
        .attribution
        .limit
        .iter()
        .map(|l| l.value)
        .sum::<f64>();
    let per_day = limiting.lost_wh_per_day.expect("a loss").value;
    assert!((per_day - lost / 8.0).abs() < 1.0, "{per_day} of {lost}");
    let unsettled = judged.accounts.days.iter().find(|d| !d.judged);
    let why = &unsettled.expect("unsettled").why;
    assert!(why.contains("stood at its limit"), "{why}");
}

#[test]
fn what_the_controllers_limit_took_is_no_shortage_of_the_panels() {
    let mut plant = Plant::new("lfp", 8);
    plant.design.controllers[0].max_output_a = Some(30.0);
    // Clear mornings and evenings show the array; noon is cut off at half of it.
    let judged = plant.judge(|day, minute| {
        let watts = plant.clear_w(day, minute);
        taken(day, watts.min(150.0))
    });
    let short = judged
        .accounts
        .days
        .iter()
        .find(|d| d.state == DayState::Short);
    let why = &short.expect("no day is short").why;
    assert!(why.contains("stood at its limit"), "{why}");
    assert!(judged.found("controller-limiting").is_some());
    assert!(judged.found("harvest-short").is_none());
    assert_eq!(told(&judged).limiting, Limiting::Settings);
}

/// A sky of a fifth of a clear one, on panels of which a little more is planned, with loads as budgeted.
fn under_a_fifth_of_the_sky(plant: &Plant, load_a: f64) -> Verdict {
    told(&plant.judge(|day, minute| {
        let sky = 0.20 + 0.02 * ((minute / 25 + day) % 3) as f64;
        let made = following(sky * plant.clear_w(day, minute), 6.0);
        Minute {
            charge_v: made.charge_v - 0.4,
            bank_v: made.bank_v - 0.4,
            bank_a: made.charge_a - load_a,
            ..made
        }
    }))
}

#[test]
fn panels_too_few_for_the_loads_are_named_before_the_sky() {
    let mut plant = Plant::new("lfp", 6);
    plant.design.plan.harvest_wh = Some(600.0);
    // More than an ordinary sky of that season brings.
    plant.design.loads = vec![
        load("pump", 90.0, When::Day),
        load("heater", 110.0, When::Night),
    ];
    let verdict = under_a_fifth_of_the_sky(&plant, 8.0);
    assert_eq!(verdict.limiting, Limiting::Use, "{}", verdict.text);
    assert!(
        verdict.text.contains("the design itself brings too little")
            || verdict.text.contains("The design itself brings too little"),
        "{}",
        verdict.text
    );
}

#[test]
fn a_dull_sky_is_the_suns_though_no_more_was_planned() {
    let mut plant = Plant::new("lfp", 6);
    plant.design.plan.harvest_wh = Some(600.0);
    // Less than an ordinary sky of that season brings.
    plant.design.loads = vec![
        load("pump", 50.0, When::Day),
        load("heater", 60.0, When::Night),
    ];
    let verdict = under_a_fifth_of_the_sky(&plant, 4.1);
    assert_eq!(verdict.limiting, Limiting::Sun, "{}", verdict.text);
    assert!(
        verdict.text.contains("dull on 6 of 6 days"),
        "{}",
        verdict.text
    );
}

#[test]
fn a_bank_that_sinks_through_dull_days_is_limited_by_the_sun() {
    let mut plant = Plant::new("lfp", 4);
    plant.design.loads = vec![load("heater", 110.0, When::Night)];
    let sinks = |load_a: f64| {
        plant.judge(|day, minute| {
            let sky = 0.20 + 0.02 * ((minute / 25 + day) % 3) as f64;
            let mut made = taken(day, sky * plant.clear_w(day, minute));
            made.bank_a = made.charge_a - load_a;
            made
        })
    };
    // Four days are too few to say that a bank is never full, and enough to see it sink.
    let judged = sinks(4.1);
    assert!(judged.found("never-full").is_none());
    let verdict = told(&judged);
    assert_eq!(verdict.limiting, Limiting::Sun, "{}", verdict.text);
    // One that gets back what it gives has no trouble.
    let verdict = told(&sinks(0.5));
    assert_eq!(verdict.limiting, Limiting::Nothing, "{}", verdict.text);
}

#[test]
fn a_wrong_clock_is_named_where_nothing_else_is() {
    let plant = Plant::new("lfp", 5);
    // Full every afternoon, an hour early.
    let early = |day: usize, minute: usize| match minute {
        990..1050 => Minute {
            charge_v: 14.2,
            charge_a: 10.5,
            bank_v: 14.14,
            ..Minute::default()
        },
        _ => {
            let mut made = following(plant.clear_w(day, (minute + 60) % 1440), 6.0);
            // It comes to another voltage every day before.
            made.bank_v += 0.02 * day as f64;
            made.charge_v += 0.02 * day as f64;
            made
        }
    };
    // The loads take what came, less what they leave at the end of the charge.
    let charged: f64 = (0..1440).map(|minute| early(2, minute).charge_a).sum();
    let load_a = (charged - 4.0 * 60.0) / 1380.0;
    let judged = plant.judge(|day, minute| {
        let made = early(day, minute);
        let full = (990..1050).contains(&minute);
        Minute {
            bank_a: if full { 4.0 } else { made.charge_a - load_a },
            ..made
        }
    });
    assert!(judged.found("clock-off").is_some());
    let verdict = told(&judged);
    assert_ne!(verdict.severity, Severity::Fine);
    assert_eq!(
        verdict.actions.first().map(String::as_str),
        Some("clock-off")
    );
    assert!(
        verdict.text.contains("about 60 minutes early"),
        "{}",
        verdict.text
    );
}

#[test]
fn one_even_grey_day_is_no_fault_and_one_clear_day_at_half_is() {
    let plant = Plant::new("lfp", 6);
    let last = |sky: &dyn Fn(usize) -> f64| {
        plant.judge(|day, minute| {
            let share = if day == 5 { sky(minute) } else { 1.0 };
            following(share * plant.clear_w(day, minute), 6.0)
        })
    };
    // Even for a few hours, at a third of a clear sky; restless for the rest.
    let grey = |minute: usize| match minute {
        660..870 => 0.34,
        _ => 0.26 + 0.1 * ((minute / 11) % 3) as f64,
    };
    let judged = last(&grey);
    assert!(
        judged.accounts.reductions.is_empty(),
        "{:?}",
        judged.accounts.reductions
    );
    let judged = last(&|_| 0.5);
    assert_eq!(judged.accounts.reductions.len(), 1);
    assert_eq!(judged.accounts.reductions[0].shown_on, [5]);
}

#[test]
fn a_hot_run_is_a_danger_though_the_design_states_no_cable() {
    let mut plant = Plant::new("lfp", 6);
    plant.design.cables.clear();
    let plant = &plant;
    let run =
        |mohm: f64| plant.judge(move |day, minute| following(plant.clear_w(day, minute), mohm));
    let hot = run(60.0);
    let drop = hot.found("drop-battery-cable").expect("a drop");
    assert_eq!(drop.severity, Severity::Stop);
    assert!(
        drop.summary.contains("whatever its cable is"),
        "{}",
        drop.summary
    );
    assert!(!told(&hot).text.contains("where 0 mohm"));
    let fair = run(8.0);
    assert!(fair.found("drop-battery-cable").is_none());
    assert!(fair.unknown("drop-battery-cable").is_some());
}

#[test]
fn a_pack_too_cold_to_charge_is_not_full_at_its_voltage() {
    let plant = Plant::new("lfp", 4);
    let stands = |bank_c: f64, takes: f64| {
        plant.judge(move |_, minute| {
            let mut made = Minute {
                charge_v: 13.1,
                bank_v: 13.1,
                bank_a: -2.0,
                ..Minute::default()
            };
            if (600..840).contains(&minute) {
                (made.charge_v, made.bank_v) = (14.2, 14.18);
                (made.charge_a, made.bank_a) = (2.0 + takes, takes);
            }
            made.more.bank_c = Some(bank_c);
            made
        })
    };
    assert!(
        stands(-4.0, 0.0)
            .accounts
            .charge
            .full_days
            .iter()
            .all(|full| !full)
    );
    assert!(
        stands(12.0, 3.0)
            .accounts
            .charge
            .full_days
            .iter()
            .all(|full| *full)
    );
}

#[test]
fn a_pack_that_opened_is_not_full_at_its_voltage() {
    let plant = Plant::new("lfp", 6);
    // By day the pack refuses: its voltage jumps to the set one at once, and the nights draw it down.
    let judged = plant.judge(|day, minute| match (day, minute) {
        (0, _) | (_, 480..1080) => Minute {
            charge_v: 14.2,
            charge_a: 1.0,
            bank_v: 14.19,
            bank_a: 0.02,
            more: More::default(),
        },
        _ => Minute {
            charge_v: 13.2,
            charge_a: 0.0,
            bank_v: 13.2,
            bank_a: -2.0,
            more: More::default(),
        },
    });
    let full: Vec<bool> = judged.accounts.charge.full_days.clone();
    assert_eq!(full, [true, false, false, false, false, false]);
}
