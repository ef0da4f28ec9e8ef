//! How near the accounts come to the truth: what stays unexplained, what took most of a day, and how often
//! an interval of 90 % holds what was true.

use std::collections::BTreeMap;

use ampledger::report::model::{Day, Entry, Interval};
use ampledger::sample::TruthDay;

use super::trips::{Trip, can_be_judged};
use super::{all, median, share, wh};

/// Energies smaller than this, Wh, are not judged one by one.
const LEAST_WH: f64 = 50.0;

/// Trips that have the controller's side beside the bank's, which is what accounts are promised for.
fn both_sides(trip: &Trip) -> bool {
    let logged = |role: &str| {
        let signals = &trip.truth.signals;
        signals
            .iter()
            .any(|s| s.role == role && s.logged_wh_in > 0.0)
    };
    can_be_judged(trip) && logged("charge_power") && logged("battery_power")
}

fn pairs(trip: &Trip) -> impl Iterator<Item = (&Day, &TruthDay)> {
    let truth: BTreeMap<&str, &TruthDay> = trip
        .truth
        .days
        .iter()
        .map(|d| (d.date.as_str(), d))
        .collect();
    trip.report
        .days
        .iter()
        .filter_map(move |day| Some((day, *truth.get(day.date.as_str())?)))
}

/// What took most of a day's offer, where it passed a tenth of it.
fn dominant(lost: f64, held: f64, unmeasured: f64, offered: f64) -> Option<&'static str> {
    let steps = [
        ("lost", lost),
        ("held back", held),
        ("not measured", unmeasured),
    ];
    let most = steps.into_iter().max_by(|a, b| a.1.total_cmp(&b.1))?;
    (most.1 > 0.1 * offered && offered > LEAST_WH).then_some(most.0)
}

/// How often intervals held the truth, by what they are of.
#[derive(Default)]
struct Held {
    rows: BTreeMap<String, Row>,
}

#[derive(Default)]
struct Row {
    inside: usize,
    of: usize,
    /// Widths over the truth.
    widths: Vec<f64>,
    /// Where the truth lay outside.
    outside: BTreeMap<String, usize>,
}

impl Held {
    /// What cannot be told apart is 0 without a range, and says nothing.
    fn add(&mut self, name: &str, trip: &Trip, interval: Interval, truly: f64) {
        if interval.low == 0.0 && interval.high == 0.0 {
            return;
        }
        let row = self.rows.entry(name.to_owned()).or_default();
        row.of += 1;
        row.widths
            .push((interval.high - interval.low) / truly.abs().max(LEAST_WH));
        if (interval.low - 0.5..=interval.high + 0.5).contains(&truly) {
            row.inside += 1;
        } else {
            let side = if truly < interval.low {
                "below"
            } else {
                "above"
            };
            let place = format!("{} {side}", trip.case.name);
            *row.outside.entry(place).or_default() += 1;
        }
    }

    fn add_steps(&mut self, trip: &Trip, of: &[Entry], truth: &[Entry]) {
        for entry in of.iter().filter(|e| e.name != "planned") {
            let truly = wh(truth, &entry.name);
            if truly.abs().max(entry.wh.abs()) > LEAST_WH {
                let interval = Interval::new(entry.wh, entry.low, entry.high);
                self.add(&format!("trip: {}", entry.name), trip, interval, truly);
            }
        }
    }
}

#[test]
fn accounts_come_near_the_truth() {
    let trips: Vec<&Trip> = all().iter().filter(|t| both_sides(t)).collect();
    let (mut near, mut days_near, mut days) = (0, 0, 0);
    let (mut right, mut asked) = (0, 0);
    let mut held = Held::default();
    let mut far = Vec::new();
    let mut missed: BTreeMap<String, usize> = BTreeMap::new();
    let mut loads = Vec::new();
    for trip in &trips {
        let account = &trip.report.account;
        let offered: f64 = trip.truth.days.iter().map(|d| d.offered_wh).sum();
        let open = wh(&account.harvest, "unexplained").abs() / offered.max(1.0);
        if open <= 0.05 {
            near += 1;
        } else {
            far.push(format!(
                "{} {}: {:.0} %",
                trip.case.name,
                trip.truth.seed,
                100.0 * open
            ));
        }
        held.add_steps(trip, &account.harvest, &trip.truth.account.harvest);
        held.add_steps(trip, &account.bank, &trip.truth.account.bank);
        for (day, truly) in pairs(trip) {
            if truly.offered_wh < LEAST_WH {
                continue;
            }
            days += 1;
            let open = day.unexplained_wh.unwrap_or(0.0).abs();
            days_near += usize::from(open <= 0.1 * truly.offered_wh);
            let true_dominant = dominant(
                truly.lost_wh,
                truly.held_back_wh,
                truly.unmeasured_wh,
                truly.offered_wh,
            );
            if let Some(name) = true_dominant {
                asked += 1;
                let ours = dominant(
                    day.lost_wh.unwrap_or(0.0),
                    day.held_back_wh.unwrap_or(0.0),
                    day.unmeasured_wh.unwrap_or(0.0),
                    day.offered_wh.unwrap_or(0.0),
                );
                if ours == Some(name) {
                    right += 1;
                } else {
                    *missed
                        .entry(format!("{} {}: {name}", trip.case.name, trip.truth.seed))
                        .or_default() += 1;
                }
            }
            for (name, interval) in &day.intervals {
                let truly = match name.as_str() {
                    "offered_wh" => truly.offered_wh,
                    "held_back_wh" => truly.held_back_wh,
                    "lost_wh" => truly.lost_wh,
                    "unmeasured_wh" => truly.unmeasured_wh,
                    _ => continue,
                };
                if truly.max(interval.value) > LEAST_WH {
                    held.add(&format!("day: {name}"), trip, *interval, truly);
                }
            }
            if let Some(load) = day.load_wh
                && truly.load_wh > LEAST_WH
            {
                loads.push((load / truly.load_wh - 1.0).abs());
            }
        }
    }
    println!(
        "trips with both sides logged                     {}",
        trips.len()
    );
    println!(
        "unexplained up to 5 % of the offer               {near} of {}  {far:?}",
        trips.len()
    );
    println!(
        "days with up to 10 % of it unexplained           {:.0} % of {days}",
        share(days_near, days)
    );
    println!(
        "what took most of a day named right              {:.0} % of {asked}  {missed:?}",
        share(right, asked)
    );
    println!(
        "loads of a day, median error                     {:.1} % of {} days",
        100.0 * median(loads.clone()),
        loads.len()
    );
    println!("intervals of 90 % that hold the truth");
    for (name, row) in &held.rows {
        println!(
            "  {name:24} {:3.0} % of {:4}, {:3.0} % wide   {:?}",
            share(row.inside, row.of),
            row.of,
            100.0 * median(row.widths.clone()),
            row.outside
        );
    }
    assert!(share(near, trips.len()) >= 95.0, "{far:?}");
    assert!(share(days_near, days) >= 90.0);
    assert!(share(right, asked) >= 90.0, "{missed:?}");
    // An interval of 90 % that holds too little lies; one that is too wide says nothing.
    for kind in ["day: held_back_wh", "day: offered_wh"] {
        let row = &held.rows[kind];
        assert!(row.of >= 400 && share(row.inside, row.of) >= 86.0, "{kind}");
        assert!(median(row.widths.clone()) <= 0.4, "{kind}");
    }
}
