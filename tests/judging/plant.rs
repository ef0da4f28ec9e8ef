//! A hand-made plant: timelines a minute a bin, made to order and judged by the real rules.

use std::path::Path;

use ampledger::account::Accounts;
use ampledger::calendar::Calendar;
use ampledger::design::{Design, read::read_text};
use ampledger::expect::{Expectation, offer};
use ampledger::findings::catalogue::Found;
use ampledger::findings::{self, Evidence};
use ampledger::mapping::Role;
use ampledger::report::model::Finding;
use ampledger::timeline::{Channel, Series, Sign, Timeline};
use chrono::NaiveDate;

const BIN_S: i64 = 60;

pub(crate) fn design(chemistry: &str) -> Design {
    let text = format!(
        r#"
[system]
nominal = "12 V"
[place]
latitude = 48.0
longitude = 0.0
timezone = "UTC"
[array.panel]
power = "400 W"
vmp = "36 V"
[controller]
absorption = "14.2 V"
float = "13.5 V"
compensation = "0 mV"
[battery]
chemistry = "{chemistry}"
capacity = "200 Ah"
full_current = "4 %"
[[cable]]
run = "controller-battery"
length = "1 m"
size = "16 mm2"
joints = "2 mohm"
"#
    );
    read_text(&text, Path::new("made.toml"), Path::new(".")).unwrap()
}

/// What a made-up minute looks like.
#[derive(Clone, Copy, Default)]
pub(crate) struct Minute {
    pub(crate) charge_v: f64,
    pub(crate) charge_a: f64,
    pub(crate) bank_v: f64,
    pub(crate) bank_a: f64,
    /// Logged only where some minute has it.
    pub(crate) more: More,
}

/// What not every log holds.
#[derive(Clone, Copy, Default)]
pub(crate) struct More {
    pub(crate) array_v: Option<f64>,
    pub(crate) array_a: Option<f64>,
    pub(crate) soc: Option<f64>,
    pub(crate) bank_c: Option<f64>,
    pub(crate) stage: Option<f64>,
    pub(crate) other_a: Option<f64>,
    pub(crate) load_a: Option<f64>,
    pub(crate) irradiance: Option<f64>,
    pub(crate) air_c: Option<f64>,
    /// Degrees north and east.
    pub(crate) position: Option<(f64, f64)>,
}

pub(crate) struct Plant {
    pub(crate) design: Design,
    pub(crate) calendar: Calendar,
    pub(crate) first: NaiveDate,
    pub(crate) days: usize,
}

impl Plant {
    pub(crate) fn new(chemistry: &str, days: usize) -> Self {
        Self {
            design: design(chemistry),
            calendar: Calendar::fixed(chrono_tz::UTC),
            first: NaiveDate::from_ymd_opt(2026, 6, 10).unwrap(),
            days,
        }
    }

    /// Clear-sky output of the design, W, a minute of a day.
    pub(crate) fn clear_w(&self, day: usize, minute: usize) -> f64 {
        let at = self.calendar.start_of(self.first) + (day * 1440 + minute) as i64 * 60;
        let spot = &self.design.place.base;
        let air = offer::air_at(&self.design, self.first);
        offer::clear_offer(&self.design, spot, at as f64 + 30.0, air, 13.3).output_w
    }

    pub(crate) fn timeline(&self, make: impl Fn(usize, usize) -> Minute) -> Timeline {
        let minutes: Vec<Minute> = (0..self.days * 1440)
            .map(|i| make(i / 1440, i % 1440))
            .collect();
        let of = |pick: fn(&Minute) -> Option<f64>| -> Option<Vec<Option<f64>>> {
            let values: Vec<_> = minutes.iter().map(pick).collect();
            values.iter().any(Option::is_some).then_some(values)
        };
        let columns = [
            (Role::ChargeVoltage, of(|m| Some(m.charge_v))),
            (Role::ChargeCurrent, of(|m| Some(m.charge_a))),
            (Role::ChargePower, of(|m| Some(m.charge_v * m.charge_a))),
            (Role::BatteryVoltage, of(|m| Some(m.bank_v))),
            (Role::BatteryCurrent, of(|m| Some(m.bank_a))),
            (Role::BatteryPower, of(|m| Some(m.bank_v * m.bank_a))),
            (Role::ArrayVoltage, of(|m| m.more.array_v)),
            (Role::ArrayCurrent, of(|m| m.more.array_a)),
            (
                Role::ArrayPower,
                of(|m| Some(m.more.array_v? * m.more.array_a?)),
            ),
            (Role::Soc, of(|m| m.more.soc)),
            (Role::BatteryTemperature, of(|m| m.more.bank_c)),
            (Role::Stage, of(|m| m.more.stage)),
            (Role::OtherCurrent, of(|m| m.more.other_a)),
            (Role::LoadCurrent, of(|m| m.more.load_a)),
            (Role::Irradiance, of(|m| m.more.irradiance)),
            (Role::AirTemperature, of(|m| m.more.air_c)),
            (Role::Latitude, of(|m| Some(m.more.position?.0))),
            (Role::Longitude, of(|m| Some(m.more.position?.1))),
            (Role::LoadPower, of(|m| m.more.load_a.map(|a| a * m.bank_v))),
        ];
        let channels = columns
            .into_iter()
            .filter_map(|(role, values)| {
                Some(Channel {
                    role,
                    controller: None,
                    source: "log".to_owned(),
                    step_s: BIN_S as f64,
                    counted: false,
                    sign: Sign::AsWritten,
                    series: series(&values?),
                })
            })
            .collect();
        Timeline {
            start: self.calendar.start_of(self.first),
            bin_s: BIN_S,
            bins: minutes.len(),
            channels,
            also: Vec::new(),
        }
    }

    /// The whole way from a timeline to the accounts.
    pub(crate) fn judge(&self, make: impl Fn(usize, usize) -> Minute) -> Judged<'_> {
        self.judge_timeline(self.timeline(make))
    }

    /// The same for a timeline that was changed by hand.
    pub(crate) fn judge_timeline(&self, timeline: Timeline) -> Judged<'_> {
        let last = self.first + chrono::Duration::days(self.days as i64 - 1);
        let expected = Expectation::new(&self.design, &self.calendar, &timeline, self.first, last);
        let accounts = Accounts::new(&self.design, &self.calendar, &timeline, &expected);
        Judged {
            plant: self,
            timeline,
            expected,
            accounts,
        }
    }
}

impl Plant {
    /// The same with a stretch of minutes that nothing was logged in.
    pub(crate) fn judge_with_gap(
        &self,
        make: impl Fn(usize, usize) -> Minute,
        gap: std::ops::Range<usize>,
    ) -> Judged<'_> {
        let mut timeline = self.timeline(make);
        for channel in &mut timeline.channels {
            for bin in gap.clone() {
                blank(&mut channel.series, bin);
                channel.series.covered_s[bin] = 0.0;
                channel.series.in_h[bin] = 0.0;
                channel.series.out_h[bin] = 0.0;
            }
        }
        let last = self.first + chrono::Duration::days(self.days as i64 - 1);
        let expected = Expectation::new(&self.design, &self.calendar, &timeline, self.first, last);
        let accounts = Accounts::new(&self.design, &self.calendar, &timeline, &expected);
        Judged {
            plant: self,
            timeline,
            expected,
            accounts,
        }
    }
}

fn blank(series: &mut Series, bin: usize) {
    series.min[bin] = f32::INFINITY;
    series.max[bin] = f32::NEG_INFINITY;
}

/// What came of a made-up log.
pub(crate) struct Judged<'a> {
    pub(crate) plant: &'a Plant,
    pub(crate) timeline: Timeline,
    pub(crate) expected: Expectation,
    pub(crate) accounts: Accounts,
}

impl Judged<'_> {
    pub(crate) fn evidence(&self) -> Evidence<'_> {
        Evidence {
            design: &self.plant.design,
            calendar: &self.plant.calendar,
            expected: &self.expected,
            accounts: &self.accounts,
            timeline: &self.timeline,
        }
    }

    pub(crate) fn look(&self) -> Found {
        findings::look(&self.evidence())
    }

    /// What was looked for and is fine, by kind.
    pub(crate) fn fine(&self, kind: &str) -> Option<String> {
        let checked = self.look().checked.into_iter();
        checked.filter(|c| c.kind == kind).map(|c| c.text).next()
    }

    /// What cannot be told of a kind.
    pub(crate) fn unknown(&self, kind: &str) -> Option<String> {
        let unknown = self.look().unknown.into_iter();
        unknown.filter(|u| u.kind == kind).map(|u| u.text).next()
    }

    /// Says that one role came from another log.
    pub(crate) fn rename_source(&mut self, role: Role, source: &str) {
        for channel in self.timeline.channels.iter_mut().filter(|c| c.role == role) {
            source.clone_into(&mut channel.source);
        }
    }

    /// Says how far apart the rows were, s.
    pub(crate) fn set_step(&mut self, step_s: f64) {
        for channel in &mut self.timeline.channels {
            channel.step_s = step_s;
        }
    }

    /// Leaves a row only in every so many minutes; the lines between rows stay.
    pub(crate) fn keep_every(&mut self, minutes: usize) {
        self.set_step((minutes * 60) as f64);
        for channel in &mut self.timeline.channels {
            for bin in (0..channel.series.min.len()).filter(|b| b % minutes != 0) {
                blank(&mut channel.series, bin);
            }
        }
    }

    /// The finding of a kind.
    pub(crate) fn found(&self, kind: &str) -> Option<Finding> {
        self.look().findings.into_iter().find(|f| f.kind == kind)
    }
}

pub(crate) fn series(values: &[Option<f64>]) -> Series {
    let mut made = Series::empty(values.len());
    let hours = BIN_S as f64 / 3600.0;
    for (bin, value) in values.iter().enumerate() {
        let Some(value) = value else { continue };
        made.in_h[bin] = value.max(0.0) * hours;
        made.out_h[bin] = (-value).max(0.0) * hours;
        made.covered_s[bin] = BIN_S as f32;
        made.min[bin] = *value as f32;
        made.max[bin] = *value as f32;
    }
    made
}

/// A minute in which the controller takes all there is.
pub(crate) fn following(watts: f64, mohm: f64) -> Minute {
    let bank_v = 13.2 + watts / 4000.0;
    let charge_a = watts / (bank_v + 0.2);
    Minute {
        charge_v: bank_v + charge_a * mohm / 1000.0,
        charge_a,
        bank_v,
        bank_a: charge_a - 3.0,
        more: More::default(),
    }
}

/// The same at the design's own run, on a bank well below float that stands a little higher every day: one
/// that comes to the same voltage day after day looks held.
pub(crate) fn taken(day: usize, watts: f64) -> Minute {
    let bank_v = 12.5 + 0.06 * day as f64 + watts / 4000.0;
    let charge_v = bank_v + 0.006 * watts / bank_v;
    let charge_a = watts / charge_v;
    Minute {
        charge_v,
        charge_a,
        bank_v,
        bank_a: charge_a - 3.0,
        more: More::default(),
    }
}

pub(crate) fn resting() -> Minute {
    Minute {
        charge_v: 13.2,
        charge_a: 0.0,
        bank_v: 13.2,
        bank_a: -3.0,
        more: More::default(),
    }
}

/// Held at a voltage at the bank with a current into it, from a minute on for some minutes.
pub(crate) fn with_hold(
    from: usize,
    minutes: usize,
    bank_v: f64,
    bank_a: f64,
) -> impl Fn(usize, usize) -> Minute {
    move |_, minute| {
        if (from..from + minutes).contains(&minute) {
            Minute {
                charge_v: bank_v,
                charge_a: bank_a + 3.0,
                bank_v,
                bank_a,
                more: More::default(),
            }
        } else {
            resting()
        }
    }
}
