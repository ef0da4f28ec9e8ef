//! Made-up reports for tests: a cabin with a bad joint, the same one healthy, and a log that tells nothing.

use std::collections::BTreeMap;

mod findings;
mod habits;

use super::model::*;

const START_S: i64 = 1_780_783_200;
const STEP_S: i64 = 900;
const PER_DAY: usize = 96;
const DAYS: usize = 24;

/// The three of them.
pub(super) fn all() -> Vec<Report> {
    vec![faulty(), healthy(), useless()]
}

fn date(i: usize) -> String {
    let start = chrono::NaiveDate::from_ymd_opt(2026, 6, 7).unwrap_or_default();
    (start + chrono::Days::new(i as u64)).to_string()
}

/// How clear day `i` is, 0 to 1.
fn sky(i: usize) -> f64 {
    [0.95, 0.9, 0.35, 0.8, 0.97, 0.55, 0.92, 0.25][i % 8]
}

fn interval(value: f64, spread: f64) -> Interval {
    Interval::new(value, value - spread, value + spread)
}

/// Whether the bank was full by the afternoon of day `i`.
fn filled(i: usize, fault: bool) -> bool {
    sky(i) > 0.85 && (!fault || matches!(i, 4 | 9))
}

fn day(i: usize, fault: bool) -> Day {
    let offered = 1610.0 * sky(i);
    let gap = i == 13;
    let held = if filled(i, fault) { 240.0 } else { 0.0 };
    let lost = if fault && sky(i) > 0.5 {
        0.14 * offered
    } else {
        0.0
    };
    let missing = if gap { 0.6 * offered } else { 0.0 };
    let rest = if i.is_multiple_of(2) { 11.0 } else { -9.0 };
    let harvest = offered - held - lost - missing + rest;
    let state = match () {
        () if gap => DayState::Unmeasured,
        () if lost > 0.1 * offered && held == 0.0 => DayState::Short,
        () if held > 0.0 => DayState::Full,
        () if sky(i) < 0.5 => DayState::Dull,
        () => DayState::Ok,
    };
    Day {
        date: date(i),
        coverage: if gap { 0.5 } else { 1.0 },
        sun_coverage: Some(if gap { 0.4 } else { 1.0 }),
        planned_wh: Some(1420.0),
        clear_wh: Some(1650.0),
        offered_wh: Some(offered),
        array_wh: None,
        harvest_wh: Some(harvest),
        held_back_wh: Some(held),
        lost_wh: Some(lost),
        unmeasured_wh: Some(missing),
        unexplained_wh: Some(rest),
        load_wh: Some(1040.0 + 9.0 * i as f64),
        other_charge_wh: Some(0.0),
        bank_in_wh: Some(harvest * 0.6),
        bank_out_wh: Some(700.0),
        bank_in_ah: Some(harvest * 0.6 / 13.3),
        bank_out_ah: Some(53.0),
        soc_low_pct: Some(31.0 + 20.0 * sky(i)),
        soc_high_pct: Some(60.0 + 38.0 * sky(i)),
        low_v: Some(12.9),
        high_v: Some(14.1),
        reached_full: Some(held > 0.0),
        judged: !gap,
        state,
        why: match state {
            DayState::Short => {
                "230 Wh (150 to 290 Wh) missing in clear hours while the bank took everything"
                    .into()
            }
            DayState::Full => "the bank was full from 14:10 on".into(),
            DayState::Dull => "overcast; the harvest fits the sky".into(),
            DayState::Unmeasured => "no readings from 09:40 to 19:15".into(),
            _ => "harvest within 10 % of what the sky offered".into(),
        },
        intervals: BTreeMap::from([("offered_wh".to_string(), interval(offered, 90.0))]),
    }
}

fn profile(fault: bool) -> Profile {
    let mut p = Profile {
        start: "2026-06-07T00:00:00+02:00".into(),
        start_s: START_S,
        step_s: STEP_S,
        offsets: vec![(0, 7200)],
        ..Profile::default()
    };
    let mut soc: f64 = 62.0;
    for i in 0..DAYS * PER_DAY {
        let (day, hour) = (i / PER_DAY, (i % PER_DAY) as f64 / 4.0);
        let height = (1.0 - ((hour - 13.3) / 8.3).powi(2)).max(0.0);
        let clear = 190.0 * height.powf(1.3);
        let cloud = if sky(day) < 0.7 && i % 5 == 0 {
            0.6
        } else {
            1.0
        };
        let held = filled(day, fault) && hour > 14.1 && clear > 5.0;
        let gap = day == 13 && (9.6..19.3).contains(&hour);
        let part = if fault { 0.86 } else { 1.0 };
        let morning = if fault && (8.0..10.0).contains(&hour) {
            0.45
        } else {
            1.0
        };
        let harvest = if held {
            45.0
        } else {
            clear * sky(day) * cloud * part * morning
        };
        let load = if (18.0..22.0).contains(&hour) {
            95.0
        } else {
            38.0
        };
        soc = (soc + (harvest - load) * 0.25 / 26.0).clamp(24.0, 100.0);
        let known = |v: f64| (!gap).then_some(v);
        p.harvest_w.push(known(harvest));
        p.clear_w.push(Some(clear));
        p.load_w.push(known(load));
        p.soc_pct.push(known((soc + 4.0).min(100.0)));
        p.counted_soc_pct.push(known(soc));
        p.bank_v.push(known(12.9 + soc / 100.0));
        p.regime.push(match () {
            () if gap => 'g',
            () if clear < 4.0 => 'd',
            () if held => 'h',
            () if fault && clear > 188.0 => 'l',
            () if sky(day) < 0.3 && i % 7 == 0 => 'u',
            () => 'f',
        });
    }
    p
}

fn entry(name: &str, wh: f64, spread: f64, how: How) -> Entry {
    Entry {
        name: name.into(),
        wh,
        low: wh - spread,
        high: wh + spread,
        how,
    }
}

fn account(days: &[Day], fault: bool) -> Account {
    let sum = |of: fn(&Day) -> Option<f64>| days.iter().filter_map(of).sum::<f64>();
    let planned = sum(|d| d.planned_wh);
    let clear = sum(|d| d.clear_wh);
    let offered = sum(|d| d.offered_wh);
    let lost = sum(|d| d.lost_wh);
    let harvested = sum(|d| d.harvest_wh);
    let (cable, shade) = if fault {
        (-0.3 * lost, -0.7 * lost)
    } else {
        (0.0, 0.0)
    };
    use How::{Assumed, Inferred, Measured, Modelled};
    let harvest = vec![
        entry("planned", planned, 0.0, Assumed),
        entry("season", clear - planned, 120.0, Modelled),
        entry("weather", offered - clear + 700.0, 900.0, Inferred),
        entry("heat", -700.0, 150.0, Modelled),
        entry("array", 0.0, 0.0, Inferred),
        entry("shade", shade, 600.0 * f64::from(u8::from(fault)), Inferred),
        entry("array_cable", 0.0, 0.0, Modelled),
        entry(
            "conversion",
            cable,
            200.0 * f64::from(u8::from(fault)),
            Inferred,
        ),
        entry("controller_limit", 0.0, 0.0, Inferred),
        entry("held_back", -sum(|d| d.held_back_wh), 250.0, Inferred),
        entry("unmeasured", -sum(|d| d.unmeasured_wh), 90.0, Inferred),
        entry("unexplained", sum(|d| d.unexplained_wh), 0.0, Inferred),
        entry("harvested", harvested, 0.0, Measured),
    ];
    let loads = sum(|d| d.load_wh);
    let bank = vec![
        entry("harvested", harvested, 0.0, Measured),
        entry("other_charge", 0.0, 0.0, Measured),
        entry("unexplained", 50.0, 20.0, Inferred),
        entry("loads", loads, 0.0, Measured),
        entry("bank_cable", 300.0, 40.0, Inferred),
        entry(
            "bank_change",
            harvested + 50.0 - loads - 300.0 - 420.0,
            90.0,
            Inferred,
        ),
        entry("bank_loss", 420.0, 60.0, Inferred),
    ];
    Account { harvest, bank }
}

fn inputs() -> Vec<Input> {
    let role = |column: &str, unit: &str| RoleUse {
        column: column.into(),
        unit: unit.into(),
        how: "header".into(),
    };
    vec![Input {
        file: "logs/bank-june.csv".into(),
        rows: Rows {
            read: 34_560,
            used: 34_550,
            repaired: 4,
            merged: 4,
            refused: 2,
        },
        first: Some("2026-06-07T00:00:00+02:00".into()),
        last: Some("2026-06-30T23:59:00+02:00".into()),
        step_s: Some(60.0),
        roles: BTreeMap::from([
            ("battery_voltage".into(), role("Bank volts", "V")),
            ("battery_current".into(), role("Bank amps", "A")),
        ]),
        notes: vec!["Gap of 9 h 35 min on 20 June.".into()],
    }]
}

/// A cabin with a bad joint.
pub(super) fn faulty() -> Report {
    let days: Vec<Day> = (0..DAYS).map(|i| day(i, true)).collect();
    let account = account(&days, true);
    let points = (0..300)
        .map(|i| {
            let amps = f64::from(i) * 0.11;
            (
                amps,
                0.02 + amps * 0.0273 + 0.04 * f64::from(i * 37 % 11 - 5) / 5.0,
            )
        })
        .collect();
    Report {
        schema: SCHEMA.into(),
        version: "0.1.0".into(),
        run: "4f1c09aa".into(),
        system: SystemSummary {
            name: "Heron cabin".into(),
            nominal_v: 12.0,
            array_w: 430.0,
            capacity_ah: 200.0,
            chemistry: "lfp".into(),
            names: Vec::new(),
            place: "57.1 N, 9.9 E, Europe/Copenhagen".into(),
            stops: Vec::new(),
            reserve_pct: 20.0,
            budget_wh: Some(1100.0),
        },
        inputs: inputs(),
        measured: vec![Measured {
            file: "logs/bank-june.csv".into(),
            role: "battery_power".into(),
            date: None,
            wh_in: Some(18_300.0),
            wh_out: Some(16_800.0),
            ah_in: Some(1370.0),
            ah_out: Some(1272.0),
            covered_h: 566.4,
        }],
        period: Period { from: date(0), to: date(DAYS - 1), days: DAYS, covered_h: 566.4, coverage: 0.98 },
        verdict: Verdict {
            limiting: Limiting::Wiring,
            severity: Severity::Fix,
            text: "Your panels are fine; the run from controller to bank costs about 14 % (9 to 18 %) of the harvest on clear days.".into(),
            confidence: Confidence::High,
            first_action: Some("drop-battery-cable".into()),
            actions: vec!["drop-battery-cable".into()],
            story: vec!["The drop makes the controller think the bank is full too early, which is why it is not getting full.".into()],
        },
        days,
        noted: vec![Noted {
            date: "2026-06-12".into(),
            note: "washed the panels <with> rain & a brush".into(),
        }],
        account,
        performance: Performance {
            reference_yield_h: Some(4.6),
            final_yield_h: Some(2.5),
            performance_ratio: Some(0.55),
            usage_factor: Some(0.97),
            autonomy_h: Some(44.0),
            ..Performance::default()
        },
        findings: findings::all(),
        options: vec![
            option("as it is", interval(120.0, 60.0), ""),
            option("faults mended", interval(0.0, 4.0), "better"),
        ],
        recommended: Some("faults mended".into()),
        recommended_why: Some("First: faults mended, because a fault was found. Another season can change this.".into()),
        comparison: Some(findings::comparison()),
        checked: vec![
            Checked { kind: "standby-high".into(), text: "Standing use at night 0.4 A, within its budget of 0.6 A.".into() },
            Checked { kind: "controller-limiting".into(), text: "The controller was at its limit for 20 minutes in all.".into() },
        ],
        unknown: vec![Unknown {
            kind: "array_cable".into(),
            text: "Loss between panels and controller cannot be told from this log.".into(),
            needs: "Log the array's voltage, or measure at the roof gland once at noon: 10 minutes.".into(),
        }],
        assumed: vec![crate::design::Assumed {
            key: "array.allowance".into(),
            value: "90 %".into(),
            why: "usual for a clean array".into(),
        }],
        yardsticks: Yardsticks { worth_a_job_wh: 55.0, smallest_visible_wh: Some(70.0) },
        series: ChartData {
            profile: profile(true),
            drop: Some(DropChart {
                points,
                resistance_mohm: Some(interval(27.3, 2.0)),
                offset_v: Some(0.02),
                design_mohm: 11.0,
            }),
            fulls: vec!["2026-06-11T14:10:00+02:00".into(), "2026-06-16T14:20:00+02:00".into()],
            ..habits::all()
        },
    }
}

fn option(name: &str, unserved: Interval, change: &str) -> OptionRow {
    OptionRow {
        name: name.into(),
        set: BTreeMap::new(),
        cost: None,
        unserved_wh_per_day: Some(unserved),
        full_share: Some(0.3),
        lowest_soc_pct: Some(31.0),
        nights_below_reserve: Some(2.0),
        held_back_wh_per_day: Some(40.0),
        change: change.into(),
        note: String::new(),
        intervals: BTreeMap::new(),
        refused: None,
    }
}

/// The same cabin after the joint was cleaned.
pub(super) fn healthy() -> Report {
    let mut report = faulty();
    report.days = (0..DAYS).map(|i| day(i, false)).collect();
    report.account = account(&report.days, false);
    report.series.profile = profile(false);
    report.series.drop = Some(DropChart {
        points: (0..120)
            .map(|i| (f64::from(i) * 0.25, 0.01 + f64::from(i) * 0.25 * 0.0112))
            .collect(),
        resistance_mohm: Some(interval(11.2, 0.7)),
        offset_v: Some(0.01),
        design_mohm: 11.0,
    });
    report.findings.clear();
    report.options.clear();
    report.recommended_why = None;
    report.comparison = None;
    report.recommended = None;
    report.verdict = Verdict {
        limiting: Limiting::Nothing,
        severity: Severity::Fine,
        text: "Nothing to fix: the array gave 99 % (95 to 103 %) of what the sky offered.".into(),
        confidence: Confidence::High,
        first_action: None,
        actions: vec![],
        story: vec![],
    };
    report
}

/// A log that can be read but not judged.
pub(super) fn useless() -> Report {
    let mut report = healthy();
    for day in &mut report.days {
        *day = Day {
            date: day.date.clone(),
            coverage: 0.1,
            sun_coverage: None,
            planned_wh: None,
            clear_wh: None,
            offered_wh: None,
            array_wh: None,
            harvest_wh: None,
            held_back_wh: None,
            lost_wh: None,
            unmeasured_wh: None,
            unexplained_wh: None,
            load_wh: None,
            other_charge_wh: None,
            bank_in_wh: None,
            bank_out_wh: None,
            bank_in_ah: None,
            bank_out_ah: None,
            soc_low_pct: None,
            soc_high_pct: None,
            low_v: None,
            high_v: None,
            reached_full: None,
            judged: false,
            state: DayState::Unmeasured,
            why: "less than 80 % of the daylight was logged".into(),
            intervals: BTreeMap::new(),
        };
    }
    report.account = Account {
        harvest: vec![],
        bank: vec![],
    };
    report.performance = Performance::default();
    report.checked.clear();
    report.series = ChartData::default();
    report.yardsticks.smallest_visible_wh = None;
    report.system.budget_wh = None;
    report.verdict = Verdict {
        limiting: Limiting::Log,
        severity: Severity::Watch,
        text: "This log cannot be judged: only 2 h a day are covered.".into(),
        confidence: Confidence::High,
        first_action: None,
        actions: vec![],
        story: vec![],
    };
    report
}

/// The cabin over many days, as a long log is put together: every list of days goes on and on.
pub(super) fn long(count: usize) -> Report {
    let mut report = faulty();
    report.days = (0..count)
        .map(|i| Day {
            date: date(i),
            ..day(i % DAYS, true)
        })
        .collect();
    report.account = account(&report.days, true);
    report.period = Period {
        from: date(0),
        to: date(count - 1),
        days: count,
        covered_h: 23.6 * count as f64,
        coverage: 0.98,
    };
    let rows = super::spans::of_days(&report.days);
    let profile = report.series.profile.clone();
    report.series.fulls = (0..count / 3)
        .map(|i| format!("{}T14:10:00+02:00", date(3 * i)))
        .collect();
    for finding in &mut report.findings {
        finding.days = (0..count).step_by(2).map(date).collect();
    }
    report.inputs = (0..count.div_ceil(30))
        .map(|i| Input {
            file: format!("logs/bank-{i}.csv"),
            ..report.inputs[0].clone()
        })
        .collect();
    if !rows.are_days() {
        report.series.long_hours = Some(LongHours {
            rows: rows
                .rows
                .iter()
                .enumerate()
                .map(|(i, row)| HoursRow {
                    from: date(row.days.start),
                    share: (0..24)
                        .map(|h| {
                            // Weaker at both ends of the day, as haze makes it, and by the season.
                            let away = (13.0 - f64::from(h)).abs();
                            let share = 0.95 - 0.004 * away.powi(3) - 0.1 * (i % 4) as f64;
                            (7..20).contains(&h).then_some(share.max(0.1))
                        })
                        .collect(),
                    regime: (0..24)
                        .map(|h| match h {
                            7..15 => 'f',
                            15..18 => ['h', 'f', 'l'][i % 3],
                            18..20 => 'f',
                            _ => 'd',
                        })
                        .collect(),
                })
                .collect(),
            hours: [('d', 11.0), ('f', 9.0), ('h', 3.0), ('l', 1.0)]
                .map(|(letter, h)| (letter, h * count as f64))
                .into(),
        });
        report.series.detail = Some(profile.clone());
        // As coarse as a long period's points are.
        report.series.profile.step_s = (count as i64 * 86_400 / 3_000 / 300 + 1) * 300;
    }
    report
}
