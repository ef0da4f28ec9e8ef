//! Nights on which the bank went below its reserve.

use serde_json::json;

use crate::account::nightly_low::{Night, count_closes, nights};
use crate::account::rolling;
use crate::design::Chemistry;
use crate::findings::{Evidence, Outcome, Rule, cause, current_offset, soc_unreliable};
use crate::mapping::Role;
use crate::physics::bank;
use crate::quantity::Interval;
use crate::report::model::{Confidence, Finding, Limiting, NextCheck, Severity};
use crate::words::{about, days};

pub(super) const RULE: Rule = Rule {
    kind: "bank-drained",
    area: Limiting::Battery,
    meaning: "On some nights the bank was emptied further than it should be. Lead ages by every deep night; lithium cuts itself off without warning, lights and pumps with it.",
    decided: "A night, from noon to noon, counts where the state of charge counted from a full charge, with its whole error (shunt offset, charge efficiency), is below the reserve of the design (default: lead 50 %, lithium 20 %), and, once there is such a night, every one whose count is below it; where no full charge lets it be counted, where the meter's own percentage is more than 5 points below it and was not found wrong; or where the bank's voltage came down to the load cut-off under a light load (5 minutes below a tenth of capacity an hour; half an hour where the current was not logged). Where the design states no cut-off, what is usual for the chemistry stands in, for half an hour. To mend where lead fell below 20 %, where it came down to 1.75 V a cell under such a load, or where the design's cut-off was reached, else to watch.",
    limits: "The count needs a full charge in the log and the bank's own current; its error grows by the hour, and a count that does not come back to 100 % at the next full charge, or comes from an ammeter found beside the truth, is not used. A voltage that sags under a heavy load is no empty bank and is not counted.",
    cause: cause::none,
    follows_from: &[
        "use-exceeds-harvest",
        "load-over-budget",
        "standby-high",
        "array-part-out",
        "array-dark",
        "array-weak",
        "shade-repeating",
        "harvest-short",
        "controller-limiting",
        "drop-battery-cable",
        "charge-voltage-low",
        "absorption-short",
        "capacity-low",
        "never-full",
    ],
    look,
};

/// Points by which a meter's own percentage must be below the reserve: as much as a meter set to 100 % in
/// the last days may be off.
const METER_ERROR_PCT: f64 = 5.0;
/// A meter's percentage that moves less than this over the log says nothing, points.
const METER_MOVES_PCT: f64 = 3.0;
/// Below this lead is worth a job, %.
const DEEP_PCT: f64 = 20.0;
/// A load lighter than this share of capacity an hour hardly sags the voltage.
const LIGHT_C: f64 = 0.1;
/// How long a cut-off voltage must last where the load is known, and where it is not, s.
const KNOWN_S: f64 = 300.0;
const UNKNOWN_S: f64 = 1800.0;

fn look(evidence: &Evidence) -> Outcome {
    let seen = Seen::new(evidence);
    if !seen.can_tell() {
        return Outcome::CannotTell {
            text: "whether the bank fell below its reserve at night: there is no full charge to count from (or the count does not come back to 100 % at the next one), no percentage of the meter to go by, and no cut-off voltage was reached".to_owned(),
            needs: "the bank's own current and voltage in the log, and one full charge in it".to_owned(),
        };
    }
    if seen.drained.is_empty() && !seen.cut_off.any() {
        return Outcome::Fine(match seen.lowest {
            Some(low) => format!(
                "never clearly below the reserve of {} %; the lowest was {} %{}",
                about(evidence.design.battery.reserve_pct),
                about(low.value),
                seen.source.words()
            ),
            None => "the load cut-off was not reached".to_owned(),
        });
    }
    Outcome::Found(Box::new(finding(evidence, &seen)))
}

/// Where the state of charge comes from.
#[derive(Clone, Copy, PartialEq)]
enum Source {
    Counted,
    Meter,
    Nothing,
}

impl Source {
    fn words(self) -> &'static str {
        match self {
            Source::Counted => ", counted from full charges",
            Source::Meter => ", as the meter says",
            Source::Nothing => "",
        }
    }
}

/// What the nights show.
struct Seen {
    source: Source,
    /// Nights in which there is a state of charge.
    known: usize,
    /// Nights below the reserve, by their day; none where not one of them is clear.
    drained: Vec<usize>,
    /// Lowest state of charge, %.
    lowest: Option<Interval>,
    /// Lowest voltage held for five minutes, V.
    lowest_v: Option<f64>,
    cut_off: CutOff,
}

impl Seen {
    fn new(evidence: &Evidence) -> Self {
        let nights = nights(evidence.expected, &evidence.accounts.charge);
        let closes = count_closes(evidence.expected, &evidence.accounts.charge)
            && !current_offset::is_found(evidence);
        let counted: Vec<(usize, Interval)> = nights
            .iter()
            .filter(|_| closes)
            .filter_map(|n| Some((n.day, interval(n.counted_pct?))))
            .collect();
        let (source, levels) = if counted.is_empty() {
            let meter = by_meter(evidence, &nights);
            (
                if meter.is_empty() {
                    Source::Nothing
                } else {
                    Source::Meter
                },
                meter,
            )
        } else {
            (Source::Counted, counted)
        };
        let reserve = evidence.design.battery.reserve_pct;
        // One night that is clear beyond its error makes the finding; then the likely ones count too.
        let clear = levels.iter().any(|(_, level)| level.high < reserve);
        let below = levels
            .iter()
            .filter(|(_, level)| clear && level.value < reserve);
        let mut drained: Vec<usize> = below.map(|(day, _)| *day).collect();
        drained.dedup();
        Self {
            source,
            known: levels.len(),
            drained,
            lowest: levels
                .iter()
                .map(|(_, level)| *level)
                .min_by(|a, b| a.high.total_cmp(&b.high)),
            lowest_v: lowest_v(evidence),
            cut_off: CutOff::new(evidence),
        }
    }

    fn can_tell(&self) -> bool {
        self.source != Source::Nothing || self.cut_off.any() || self.cut_off.stated
    }

    fn nights(&self) -> Vec<usize> {
        let mut all = self.drained.clone();
        all.extend(&self.cut_off.days);
        all.sort_unstable();
        all.dedup();
        all
    }

    fn severity(&self, evidence: &Evidence) -> Severity {
        let deep = evidence.design.battery.chemistry.is_lead()
            && !self.drained.is_empty()
            && self.lowest.is_some_and(|low| low.high < DEEP_PCT);
        let to_the_end = self.cut_off.to_the_end_v(evidence).is_some();
        if deep || to_the_end || (self.cut_off.stated && self.cut_off.any()) {
            Severity::Fix
        } else {
            Severity::Watch
        }
    }
}

fn interval((pct, error): (f64, f64)) -> Interval {
    Interval::new(pct, (pct - error).max(0.0), (pct + error).min(100.0))
}

/// The meter's own lowest percentages by night, where it can be believed.
fn by_meter(evidence: &Evidence, nights: &[Night]) -> Vec<(usize, Interval)> {
    let levels: Vec<(usize, f64)> = nights
        .iter()
        .filter_map(|n| Some((n.day, n.meter_pct?)))
        .collect();
    let Some(soc) = &evidence.expected.signals.soc else {
        return Vec::new();
    };
    let all = (0..evidence.expected.grid.moments).filter_map(|m| soc.mean(m));
    let (low, high) = all.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| {
        (low.min(v), high.max(v))
    });
    if high - low < METER_MOVES_PCT || soc_unreliable::is_found(evidence) {
        return Vec::new();
    }
    levels
        .into_iter()
        .map(|(day, pct)| (day, interval((pct, METER_ERROR_PCT))))
        .collect()
}

fn lowest_v(evidence: &Evidence) -> Option<f64> {
    let channel = evidence.timeline.channel(Role::BatteryVoltage)?;
    let least = evidence.design.nominal_v() / 2.0;
    let channel = &rolling::only(channel, |v| v > least);
    rolling::means(evidence.timeline, channel, KNOWN_S)
        .into_iter()
        .flatten()
        .min_by(f64::total_cmp)
}

/// When the bank's voltage came down to where loads are cut off, under a light load.
struct CutOff {
    volts: f64,
    stated: bool,
    days: Vec<usize>,
    /// Lowest voltage under a light load, held as long, V.
    lowest_v: Option<f64>,
}

impl CutOff {
    fn new(evidence: &Evidence) -> Self {
        let battery = &evidence.design.battery;
        let stated = battery.load_cut_off_v;
        let volts = stated
            .unwrap_or_else(|| usual_cut_off_cell_v(battery.chemistry) * evidence.design.cells());
        let mut found = Self {
            volts,
            stated: stated.is_some(),
            days: Vec::new(),
            lowest_v: None,
        };
        let timeline = evidence.timeline;
        let Some(channel) = timeline.channel(Role::BatteryVoltage) else {
            found.stated = false;
            return found;
        };
        // Far below there is no bank at the meter: it is switched off, or its protection is open.
        let channel = &rolling::only(channel, |v| v > volts / 2.0);
        let amps = timeline.channel(Role::BatteryCurrent);
        let width = if amps.is_some() && found.stated {
            KNOWN_S
        } else {
            UNKNOWN_S
        };
        let amps = amps.map(|a| rolling::means(timeline, a, width));
        let light = |bin: usize| {
            amps.as_ref().is_none_or(|a| {
                a[bin].is_some_and(|a| a < 0.0 && a > -LIGHT_C * battery.capacity_ah)
            })
        };
        let marked =
            rolling::bins_where(timeline, channel, width, |bin, v| v <= volts && light(bin));
        found.days = evidence.time_in(&marked).1;
        found.lowest_v = rolling::means(timeline, channel, width)
            .into_iter()
            .enumerate()
            .filter(|(bin, _)| light(*bin))
            .filter_map(|(_, mean)| mean)
            .min_by(f64::total_cmp);
        found
    }

    /// The lowest voltage under a light load, where it is below what lead bears: such a bank was emptied to
    /// the end.
    fn to_the_end_v(&self, evidence: &Evidence) -> Option<f64> {
        let battery = &evidence.design.battery;
        let least_v = bank::min_cell_v(battery.chemistry) * evidence.design.cells();
        self.lowest_v
            .filter(|v| battery.chemistry.is_lead() && self.any() && *v < least_v)
    }

    fn any(&self) -> bool {
        !self.days.is_empty()
    }
}

/// Where loads are usually cut off under a light load, V a cell (trade reference 6.1).
fn usual_cut_off_cell_v(chemistry: Chemistry) -> f64 {
    match chemistry {
        Chemistry::Flooded => 11.6 / 6.0,
        Chemistry::Agm => 11.5 / 6.0,
        Chemistry::Gel => 11.8 / 6.0,
        Chemistry::Lfp => 3.0,
        Chemistry::Nmc => 3.3,
    }
}

fn finding(evidence: &Evidence, seen: &Seen) -> Finding {
    let nights = seen.nights();
    let dates = evidence.dates_of(&nights);
    Finding {
        kind: RULE.kind.to_owned(),
        severity: seen.severity(evidence),
        confidence: match (seen.source, nights.len()) {
            (Source::Counted, 3..) => Confidence::High,
            (Source::Meter, _) => Confidence::Low,
            _ => Confidence::Medium,
        },
        r#where: "the bank".to_owned(),
        from: dates.first().cloned(),
        to: dates.last().cloned(),
        lost_wh_per_day: None,
        part_of: None,
        summary: summary(evidence, seen, nights.len()),
        days: dates,
        evidence: [
            ("lowest_pct".to_owned(), json!(seen.lowest.map(|l| l.value))),
            ("lowest_pct_range".to_owned(), json!(seen.lowest)),
            ("lowest_v".to_owned(), json!(seen.lowest_v)),
            ("nights".to_owned(), json!(nights.len())),
        ]
        .into(),
        why: reasons(evidence, seen),
        also_possible: vec![
            "a capacity in the design larger than the bank still has, or smaller than it is"
                .to_owned(),
            "a load or a charger wired past the shunt, which spoils every count".to_owned(),
        ],
        next_check: next_check(evidence, seen),
        chart: Some("charts/below.svg".to_owned()),
    }
}

fn summary(evidence: &Evidence, seen: &Seen, nights: usize) -> String {
    let reserve = evidence.design.battery.reserve_pct;
    let night_word = if nights == 1 {
        "1 night".to_owned()
    } else {
        format!("{nights} nights")
    };
    if let Some(v) = seen.cut_off.to_the_end_v(evidence) {
        let least_v = bank::min_cell_v(evidence.design.battery.chemistry) * evidence.design.cells();
        return format!(
            "On {night_word} the bank was emptied to the end: {v:.2} V under a light load, where every night below {least_v:.2} V harms lead."
        );
    }
    match seen.lowest.filter(|_| !seen.drained.is_empty()) {
        Some(low) => format!(
            "On {night_word} the bank went below its reserve of {} %, down to {} % ({} to {} %{}).{}",
            about(reserve),
            about(low.value),
            about(low.low),
            about(low.high),
            seen.source.words(),
            if seen.cut_off.any() {
                format!(
                    " The voltage came down to the {:.2} V at which loads are cut off.",
                    seen.cut_off.volts
                )
            } else {
                String::new()
            }
        ),
        None => format!(
            "On {night_word} the bank's voltage came down to {:.2} V under a light load, {}: it was nearly empty.",
            seen.cut_off.volts,
            if seen.cut_off.stated {
                "where the design cuts the loads off"
            } else {
                "where loads are usually cut off"
            }
        ),
    }
}

fn reasons(evidence: &Evidence, seen: &Seen) -> Vec<String> {
    let mut why = Vec::new();
    match seen.source {
        Source::Counted => why.push(format!(
            "Counted from full charges with the bank's own current on {} of {} nights; at least one is below {} % with even the upper end of its error.",
            seen.known,
            evidence.expected.grid.dates.len() + 1,
            about(evidence.design.battery.reserve_pct)
        )),
        Source::Meter => why.push(format!(
            "No full charge to count from: the meter's own percentage was taken, less sure by {} points.",
            about(METER_ERROR_PCT)
        )),
        Source::Nothing => {}
    }
    if seen.cut_off.any() {
        why.push(format!(
            "The voltage stood at or below {:.2} V under a light load on {}.",
            seen.cut_off.volts,
            days(seen.cut_off.days.len())
        ));
    }
    let assumed = |key: &str| evidence.design.assumed.iter().any(|a| a.key == key);
    if assumed("battery.reserve") {
        why.push(format!(
            "The design states no reserve; {} % was assumed.",
            about(evidence.design.battery.reserve_pct)
        ));
    }
    why
}

fn next_check(evidence: &Evidence, seen: &Seen) -> NextCheck {
    let lead = evidence.design.battery.chemistry.is_lead();
    NextCheck {
        tool: "a voltmeter and the bank monitor".to_owned(),
        r#where: "the battery's posts before sunrise, with only the always-on loads running".to_owned(),
        healthy: format!(
            "well above {:.1} V, and the monitor above {} %",
            seen.cut_off.volts,
            about(evidence.design.battery.reserve_pct)
        ),
        faulty: "near the cut-off voltage, or the lights already out".to_owned(),
        then: if seen.cut_off.to_the_end_v(evidence).is_some() {
            "charge it fully as soon as you can, from shore or an engine if the sun won't do; then set a load cut-off, so that it can't be emptied again, and use less or bring more: the report's other findings say which"
        } else {
            "use less at night or bring more by day: the report's other findings say which; set the load cut-off so that the reserve stays"
        }
        .to_owned(),
        caution: if lead {
            "Never take lead to a dead stop; an empty one freezes in frost. Keep bilge pump, gas alarm and lights on a supply that does not fail with this bank."
        } else {
            "A lithium pack cuts off without warning: keep bilge pump, gas alarm and lights supplied. Do not bypass its protection to get it going again."
        }
        .to_owned(),
    }
}
