//! Voltages above what the bank bears.

use crate::account::{charging_temperature, rolling, set_point};
use crate::design::Chemistry;
use crate::expect::signals::lead;
use crate::findings::Evidence;
use crate::mapping::Role;
use crate::physics::bank;
use crate::stats::quantile::median;
use crate::timeline::{Channel, Series, stage};

/// How long a voltage must last to be a danger, s (trade reference 3.4).
const HELD_S: f64 = 600.0;
/// A current below this share of capacity an hour charges no bank: its protection may be open, and the
/// meter outside it shows the charger's voltage instead of the cells'. A bank that was charged so high before
/// takes next to nothing and stands there all the same.
const FLOWS_C: f64 = 0.005;
/// A voltage that moves less than this, over a day or over the log, shows a meter that stands still, V per
/// 12 V: even a lithium bank moves by more from night to noon.
const MOVES_V: f64 = 0.05;
/// How long two meters must disagree about a danger to be told, s.
const DISPUTED_S: f64 = 3600.0;
/// Less than this share of label power is nothing.
const NOTHING: f64 = 0.01;
/// Days between two equalisations that leave no doubt (trade reference 6.1: about monthly).
const EQUALISED_DAYS: usize = 14;

/// Voltages above what the bank bears.
pub(super) struct Danger {
    /// Highest voltage held for ten minutes, V: above the limit where that was passed. The lower of two
    /// meters. `None` where none was read.
    pub(super) highest_v: Option<f64>,
    /// The usual voltage above the limit, V; `None` where that was not passed.
    pub(super) usual_v: Option<f64>,
    /// What the bank bears, on the day that came closest to it, V.
    pub(super) limit_v: f64,
    /// How long it was passed, minutes.
    pub(super) minutes: f64,
    /// On which days.
    pub(super) days: Vec<usize>,
    /// Whether the array gave nothing meanwhile.
    pub(super) by_other: bool,
    /// The controller that alone gave anything meanwhile, where several were logged apart.
    pub(super) by: Option<String>,
    /// Highest that the bank's meter alone showed above the limit, the controller's not, V.
    pub(super) disputed_v: Option<f64>,
}

/// One bin of a moving meter's day.
struct Reading {
    bin: usize,
    volts: f64,
    /// Above what the bank bears that day, V.
    beyond: f64,
    /// Whether the meter moves at all on that day.
    moves: bool,
}

impl Danger {
    pub(super) fn new(evidence: &Evidence) -> Option<Self> {
        let meters = Meters::new(evidence)?;
        let days = evidence.expected.grid.dates.len();
        let limits: Vec<f64> = (0..days).map(|day| limit_v(evidence, day)).collect();
        let slack = slack_v(evidence);
        let apart = evidence.design.judging.limit_slack_v * evidence.volts_per_12();
        let (mut readings, mut disputed) = (Vec::new(), Vec::new());
        for bin in 0..evidence.timeline.bins {
            let day = evidence.day_of_bin(bin).filter(|_| meters.moves_at_all);
            let (Some(day), Some(volts)) = (day, meters.volts(bin)) else {
                continue;
            };
            let beyond = volts - limits[day];
            let moves = meters.moves[day];
            readings.push(Reading {
                bin,
                volts,
                beyond,
                moves,
            });
            let own = meters.bank_v(bin).unwrap_or(volts);
            if own > limits[day] + slack
                && beyond <= slack
                && own - volts > apart
                && meters.moves[day]
            {
                disputed.push(own);
            }
        }
        let passed = passed(evidence, &meters, &readings, slack);
        let highest = |all: &mut dyn Iterator<Item = f64>| all.max_by(f64::total_cmp);
        let closest = readings.iter().max_by(|a, b| a.beyond.total_cmp(&b.beyond));
        // Meters with rows at different times disagree for a while at every rise and fall.
        let long = disputed.len() as f64 * evidence.timeline.bin_s as f64 >= DISPUTED_S;
        let (minutes, days) = time_of(evidence, &passed);
        let by_array = passed.iter().filter(|r| by_array(evidence, r.bin)).count();
        Some(Self {
            highest_v: highest(&mut passed.iter().map(|r| r.volts))
                .or_else(|| highest(&mut readings.iter().map(|r| r.volts))),
            usual_v: median(&passed.iter().map(|r| r.volts).collect::<Vec<_>>()),
            limit_v: closest.map_or_else(
                || limits.first().copied().unwrap_or_default(),
                |r| r.volts - r.beyond,
            ),
            minutes,
            days,
            by_other: 2 * by_array < passed.len(),
            by: evidence
                .only_giver(passed.iter().filter_map(|r| moment_of(evidence, r.bin)))
                .map(str::to_owned),
            disputed_v: highest(&mut disputed.into_iter()).filter(|_| long),
        })
    }

    /// Whether it is flooded lead being equalised.
    pub(super) fn equalises(&self, evidence: &Evidence) -> bool {
        if evidence.design.battery.chemistry != Chemistry::Flooded {
            return false;
        }
        let most = evidence.design.controllers[0]
            .equalise_v
            .unwrap_or(0.0)
            .max(bank::max_cell_v(Chemistry::Flooded) * evidence.design.cells());
        let shift = self.limit_v - set_point::daily_v(evidence.design);
        let within = self
            .highest_v
            .is_some_and(|v| v <= most + shift + slack_v(evidence));
        let seldom = self.days.len() <= 1 + evidence.expected.grid.dates.len() / EQUALISED_DAYS;
        within && (seldom || self.days.iter().all(|day| says_equalising(evidence, *day)))
    }
}

/// The readings above what the bank bears by more than the meters' error, in stretches that a charging
/// current led into.
fn passed<'r>(
    evidence: &Evidence,
    meters: &Meters,
    readings: &'r [Reading],
    slack: f64,
) -> Vec<&'r Reading> {
    let above = |r: &Reading| r.moves && r.beyond > slack;
    readings
        .chunk_by(|a, b| above(a) && above(b) && a.bin + 1 == b.bin)
        .filter(|stretch| stretch.iter().all(above))
        .filter(|stretch| meters.charged(evidence, stretch))
        .flatten()
        .collect()
}

/// The meters of the voltage, averaged over ten minutes, by bin.
struct Meters {
    controller: Option<Vec<Option<f64>>>,
    bank: Option<Vec<Option<f64>>>,
    /// Days on which the voltage moves at all.
    moves: Vec<bool>,
    /// Whether it moves over the log.
    moves_at_all: bool,
    /// Bins that the means are of.
    width: usize,
}

impl Meters {
    fn new(evidence: &Evidence) -> Option<Self> {
        let timeline = evidence.timeline;
        let lead = lead(timeline);
        let channel = |role| {
            let own = lead.and_then(|name| timeline.channel_of(role, Some(name)));
            own.or_else(|| timeline.channel(role))
        };
        let voltages = [channel(Role::BatteryVoltage), channel(Role::ChargeVoltage)];
        let first = voltages.into_iter().flatten().next()?;
        // One stretch for both meters, or the coarser one would lag behind at every rise.
        let slowest = voltages
            .iter()
            .flatten()
            .map(|c| c.step_s)
            .fold(0.0, f64::max);
        let width = HELD_S.max(rolling::LEAST_ROWS * slowest);
        let (moves, moves_at_all) = moving_days(evidence, first);
        let means = |role| channel(role).map(|c| rolling::means(timeline, c, width));
        Some(Self {
            moves,
            moves_at_all,
            width: (width / timeline.bin_s.max(1) as f64).ceil() as usize,
            bank: means(Role::BatteryVoltage),
            controller: means(Role::ChargeVoltage),
        })
    }

    /// The lower of the two meters; the bank's alone where the controller says nothing.
    fn volts(&self, bin: usize) -> Option<f64> {
        let controller = self.controller.as_ref().and_then(|m| m[bin]);
        match (self.bank_v(bin), controller) {
            (Some(a), Some(b)) => Some(a.min(b)),
            (a, b) => a.or(b),
        }
    }

    fn bank_v(&self, bin: usize) -> Option<f64> {
        self.bank.as_ref().and_then(|m| m[bin])
    }

    /// Whether a current into the bank flowed at some time above what it bears, in a stretch of readings or
    /// in the time that the first of them is the mean of; taken for granted where it was not logged.
    fn charged(&self, evidence: &Evidence, stretch: &[Reading]) -> bool {
        let timeline = evidence.timeline;
        let Some(amps) = timeline.series(Role::BatteryCurrent) else {
            return true;
        };
        let (Some(first), Some(last)) = (stretch.first(), stretch.last()) else {
            return false;
        };
        let least = FLOWS_C * evidence.design.battery.capacity_ah;
        let limit_v = first.volts - first.beyond;
        let voltages = [Role::BatteryVoltage, Role::ChargeVoltage];
        let volts: Vec<_> = voltages
            .into_iter()
            .filter_map(|role| timeline.series(role))
            .collect();
        ((first.bin + 1).saturating_sub(self.width)..=last.bin).any(|bin| {
            let over = |series: &&Series| series.mean(bin).is_some_and(|v| v > limit_v);
            amps.mean(bin).is_some_and(|a| a > least) && volts.iter().all(over)
        })
    }
}

/// How long readings last, with the stretch whose mean each of them is, in minutes, and their days.
fn time_of(evidence: &Evidence, passed: &[&Reading]) -> (f64, Vec<usize>) {
    let timeline = evidence.timeline;
    let width = (HELD_S / timeline.bin_s.max(1) as f64).ceil() as usize;
    let mut marked = vec![false; timeline.bins];
    for reading in passed {
        marked[(reading.bin + 1).saturating_sub(width)..=reading.bin].fill(true);
    }
    evidence.time_in(&marked)
}

/// The moment of a bin.
fn moment_of(evidence: &Evidence, bin: usize) -> Option<usize> {
    let grid = &evidence.expected.grid;
    let offset = evidence.timeline.time_of(bin) - grid.start;
    let moment = usize::try_from(offset.div_euclid(crate::expect::STEP_S)).ok()?;
    (moment < grid.moments).then_some(moment)
}

/// Whether the array gave something in the moment of a bin.
fn by_array(evidence: &Evidence, bin: usize) -> bool {
    let Some(m) = moment_of(evidence, bin) else {
        return false;
    };
    match &evidence.expected.signals.harvest {
        Some(harvest) => harvest
            .mean(m)
            .is_some_and(|w| w > NOTHING * evidence.design.array_w()),
        None => evidence
            .expected
            .offers
            .get(m)
            .is_some_and(|o| o.output_w > 0.0),
    }
}

/// On which days a meter moves at all, and whether it does over the log.
fn moving_days(evidence: &Evidence, channel: &Channel) -> (Vec<bool>, bool) {
    let still = (f64::INFINITY, f64::NEG_INFINITY);
    let mut range = vec![still; evidence.expected.grid.dates.len()];
    for bin in 0..evidence.timeline.bins {
        if let (Some(day), Some(v)) = (evidence.day_of_bin(bin), channel.series.mean(bin)) {
            range[day] = (range[day].0.min(v), range[day].1.max(v));
        }
    }
    let least = MOVES_V * evidence.volts_per_12();
    let all = range
        .iter()
        .fold(still, |all, day| (all.0.min(day.0), all.1.max(day.1)));
    let moves = |(low, high): &(f64, f64)| high - low >= least;
    (range.iter().map(moves).collect(), moves(&all))
}

/// What the bank bears on a day, V, at its mean temperature that day.
fn limit_v(evidence: &Evidence, day: usize) -> f64 {
    let expected = evidence.expected;
    let bank_c = charging_temperature::bank_c(expected, expected.grid.day(day));
    set_point::bearable_v(evidence.design, expected, day, bank_c)
}

pub(super) fn slack_v(evidence: &Evidence) -> f64 {
    let per_12 = if evidence.design.battery.chemistry.is_lead() {
        evidence.design.judging.set_point_v
    } else {
        evidence.design.judging.limit_slack_v
    };
    per_12 * evidence.volts_per_12()
}

fn says_equalising(evidence: &Evidence, day: usize) -> bool {
    let stages = evidence.expected.signals.stage.as_ref();
    stages.is_some_and(|s| {
        evidence.expected.grid.day(day).any(|m| {
            s.mean(m)
                .is_some_and(|code| (code - stage::EQUALISE).abs() < 0.01)
        })
    })
}
