//! Which way the bank's current counts: charging raises the voltage and the state of charge.

use super::columns::Roles;
use super::inspection::Question;
use super::uses::Use;
use crate::mapping::Role;
use crate::timeline::Sign;

/// Correlation below which steps of voltage and current do not tell the sign.
const CLEAR: f64 = 0.1;
/// The same for the level of the current against steps of the voltage, which noise hides more.
const DRIFT: f64 = 0.03;
/// Least difference of the mean current by day and by night, over its usual size: in a solar
/// system charging happens by day.
const BY_DAY: f64 = 0.5;
/// Fewest changes of the current to judge by.
const FEWEST: u64 = 8;

/// Adds the step from one row to the next to the sums of steps, drift and charge.
#[inline]
fn step(sums: &mut [Sums; 3], last: [f64; 3], now: [f64; 3]) {
    let (volts, amps) = (now[0] - last[0], (now[1] + last[1]) / 2.0);
    let soc = now[2] - last[2];
    sums[0].add(volts, now[1] - last[1]);
    sums[1].add(volts, amps);
    // A larger step is a counter set anew.
    sums[2].add(if soc.abs() < 20.0 { soc } else { f64::NAN }, amps);
}

/// Sums over neighbouring rows.
#[derive(Debug, Default, Clone, Copy)]
struct Sums {
    count: u64,
    xy: f64,
    xx: f64,
    yy: f64,
}

impl Sums {
    #[inline]
    fn add(&mut self, x: f64, y: f64) {
        // Without a branch: NaN and infinity times 0 are NaN, and everything else times 0 is 0.
        let known = x * 0.0 + y * 0.0 == 0.0;
        let (x, y) = if known { (x, y) } else { (0.0, 0.0) };
        self.count += u64::from(x != 0.0 && y != 0.0);
        self.xy += x * y;
        self.xx += x * x;
        self.yy += y * y;
    }

    fn join(&mut self, other: &Self) {
        self.count += other.count;
        self.xy += other.xy;
        self.xx += other.xx;
        self.yy += other.yy;
    }

    /// The correlation, where it stands clear of chance: above `least` and two and a half times
    /// what unrelated steps would show.
    fn clear(&self, least: f64) -> Option<f64> {
        let scale = (self.xx * self.yy).sqrt();
        let chance = 2.5 / (self.count.max(1) as f64).sqrt();
        let found = (self.count >= FEWEST && scale > 0.0).then(|| self.xy / scale)?;
        (found.abs() >= least.max(chance)).then_some(found)
    }
}

/// Evidence gathered in the first pass.
#[derive(Debug, Default)]
pub(crate) struct Evidence {
    volts: Option<Use>,
    amps: Option<Use>,
    soc: Option<Use>,
    /// Voltage, current and state of charge of the first row and of the last.
    first: Option<[f64; 3]>,
    last: [f64; 3],
    steps: Sums,
    charge: Sums,
    drift: Sums,
    both_ways: [bool; 2],
    rows: u64,
    /// Count and sum of the current by day (10 to 14 h on the wall clock) and by night (22 to 4 h).
    hours: [(u64, f64); 2],
    squares: f64,
    /// Rows with a voltage by day and by night, and those of them without any to speak of.
    volts_by: [(u64, u64); 2],
    /// Seconds from Greenwich to the wall clock, near enough to tell day from night.
    offset_s: f64,
}

/// A voltage below this is none: the array's by night.
const NO_VOLTS: f64 = 1.0;

impl Evidence {
    pub(crate) fn new(roles: &Roles, offset_s: f64) -> Self {
        let get = |role| roles.get(role).cloned();
        Self {
            offset_s,
            volts: get(Role::BatteryVoltage).or_else(|| get(Role::ChargeVoltage)),
            amps: get(Role::BatteryCurrent).or_else(|| get(Role::BatteryPower)),
            soc: get(Role::Soc),
            last: [f64::NAN; 3],
            ..Self::default()
        }
    }

    /// The roles it looks at, in the order of [`Self::take`]: voltage, current, state of charge.
    pub(crate) fn looks_at(&self) -> [Option<Role>; 3] {
        [&self.volts, &self.amps, &self.soc].map(|found| found.as_ref().map(|u| u.role))
    }

    /// The same roles, and no rows yet.
    pub(crate) fn fresh(&self) -> Self {
        Self {
            volts: self.volts.clone(),
            amps: self.amps.clone(),
            soc: self.soc.clone(),
            last: [f64::NAN; 3],
            offset_s: self.offset_s,
            ..Self::default()
        }
    }

    /// Takes in rows by their instants and the values of the roles it looks at, NaN where a row has
    /// none; `None` for roles that are not logged.
    pub(crate) fn take(&mut self, at: &[f64], values: [Option<&Vec<f64>>; 3]) {
        let value = |column: Option<&Vec<f64>>, row: usize| column.map_or(f64::NAN, |c| c[row]);
        self.by_hours(at, values);
        if self.amps.is_none() {
            return;
        }
        let mut sums = [self.steps, self.drift, self.charge];
        let mut last = self.last;
        for row in 0..at.len() {
            let mut now = values.map(|column| value(column, row));
            if now[0].abs() < NO_VOLTS {
                // A lost link: its rows say nothing of which way the current runs.
                now = [f64::NAN; 3];
            }
            step(&mut sums, last, now);
            last = now;
        }
        [self.steps, self.drift, self.charge] = sums;
        self.last = last;
        if !at.is_empty() {
            let first = values.map(|column| value(column, 0));
            let lost = first[0].abs() < NO_VOLTS;
            let first = if lost { [f64::NAN; 3] } else { first };
            self.first = self.first.or(Some(first));
        }
    }

    /// Takes in what rows show by their hour of the day alone.
    fn by_hours(&mut self, at: &[f64], [volts, amps, _]: [Option<&Vec<f64>>; 3]) {
        // Most rows are of the same hour as the row before.
        let (mut hour, mut part) = (f64::NAN..f64::NAN, None);
        for (row, &at) in at.iter().enumerate() {
            if !hour.contains(&at) {
                part = self.part_of_day(at);
                let wall = (at + self.offset_s) as i64;
                let start = (wall - wall.rem_euclid(3_600)) as f64 - self.offset_s;
                hour = start..start + 3_600.0;
            }
            if let Some(volts) = volts {
                self.volts_by_hour(part, volts[row]);
            }
            let lost = volts.is_some_and(|v| v[row].abs() < NO_VOLTS);
            if let Some(amps) = amps.filter(|_| self.amps.is_some() && !lost) {
                self.by_hour(part, amps[row]);
                self.both_ways[0] |= amps[row] > 0.0;
                self.both_ways[1] |= amps[row] < 0.0;
            }
        }
    }

    /// Adds the rows that follow.
    pub(crate) fn follow(&mut self, later: &Self) {
        if let Some(first) = later.first {
            let mut sums = [self.steps, self.drift, self.charge];
            step(&mut sums, self.last, first);
            [self.steps, self.drift, self.charge] = sums;
            self.first = self.first.or(later.first);
            self.last = later.last;
        }
        self.join(later);
    }

    /// Day (10 to 14 h on the wall clock) is 0, night (22 to 4 h) is 1.
    fn part_of_day(&self, at: f64) -> Option<usize> {
        match ((at + self.offset_s) as i64).rem_euclid(86_400) / 3600 {
            10..=13 => Some(0),
            22..=23 | 0..=3 => Some(1),
            _ => None,
        }
    }

    #[inline]
    fn volts_by_hour(&mut self, part: Option<usize>, volts: f64) {
        if let Some(part) = part.filter(|_| volts.is_finite()) {
            self.volts_by[part].0 += 1;
            self.volts_by[part].1 += u64::from(volts.abs() < NO_VOLTS);
        }
    }

    /// Whether the voltage is there by day and gone by night, as no bank's is.
    pub(crate) fn goes_out_at_night(&self) -> bool {
        let [day, night] = self.volts_by;
        let enough = day.0 >= FEWEST && night.0 >= FEWEST;
        enough && night.1 * 5 >= night.0 * 4 && day.1 * 5 <= day.0
    }

    #[inline]
    fn by_hour(&mut self, part: Option<usize>, amps: f64) {
        if !amps.is_finite() {
            return;
        }
        self.rows += 1;
        self.squares += amps * amps;
        let Some(part) = part else {
            return;
        };
        self.hours[part].0 += 1;
        self.hours[part].1 += amps;
    }

    /// Mean current by day less by night, over the current's usual size.
    fn of_day(&self) -> Option<f64> {
        let [day, night] = self.hours;
        if day.0 < FEWEST || night.0 < FEWEST || self.squares <= 0.0 {
            return None;
        }
        let usual = (self.squares / self.rows as f64).sqrt();
        let more = day.1 / day.0 as f64 - night.1 / night.0 as f64;
        Some(more / usual).filter(|share| share.abs() >= BY_DAY)
    }

    /// Adds what another file of the same device shows.
    pub(crate) fn join(&mut self, other: &Self) {
        self.rows += other.rows;
        self.squares += other.squares;
        for (mine, theirs) in self.hours.iter_mut().zip(other.hours) {
            mine.0 += theirs.0;
            mine.1 += theirs.1;
        }
        for (mine, theirs) in self.volts_by.iter_mut().zip(other.volts_by) {
            mine.0 += theirs.0;
            mine.1 += theirs.1;
        }
        self.steps.join(&other.steps);
        self.charge.join(&other.charge);
        self.drift.join(&other.drift);
        for (mine, other) in self.both_ways.iter_mut().zip(other.both_ways) {
            *mine |= other;
        }
    }

    /// Whether discharging counts as positive, where that is known, and how it came about.
    fn told(&self, charging: Option<&str>) -> (Option<bool>, Sign) {
        match (charging, self.verdict()) {
            (Some(stated), _) => {
                let flip = stated == "negative";
                let sign = if self.contradicts(flip) {
                    Sign::Contradicted
                } else {
                    Sign::Stated
                };
                (Some(flip), sign)
            }
            (None, Some(true)) => (Some(true), Sign::Turned),
            (None, known) => (known, Sign::AsWritten),
        }
    }

    /// Turns the current (and the power) round where it counts the other way.
    pub(crate) fn settle(&self, charging: Option<&str>, roles: &mut Roles) {
        if !roles.has(Role::BatteryCurrent) && !roles.has(Role::BatteryPower) {
            return;
        }
        let (known, sign) = self.told(charging);
        if known.is_none() {
            self.ask(roles);
        }
        roles.sign = sign;
        roles.charging = known.map(|flip| if flip { "negative" } else { "positive" });
        let flip = known == Some(true);
        if flip {
            for found in roles
                .uses
                .iter_mut()
                .filter(|u| matches!(u.role, Role::BatteryCurrent | Role::BatteryPower))
            {
                for part in &mut found.parts {
                    part.1 = -part.1;
                }
                found.offset = -found.offset;
            }
            let why = if charging.is_some() {
                "as the design says"
            } else {
                "by the voltage, the state of charge or day against night"
            };
            roles.notes.push(format!(
                "battery_current counts discharging as positive ({why}) and was turned round"
            ));
        }
    }

    /// Whether to turn round; `None` where it cannot be told.
    fn verdict(&self) -> Option<bool> {
        let of_steps = self.steps.clear(CLEAR);
        let of_charge = self.charge.clear(CLEAR);
        let of_drift = self.drift.clear(DRIFT);
        let clearest = match (of_steps, of_charge) {
            // Where a controller holds its own end of a long cable, the bank's voltage falls as the current
            // rises; a state of charge that is counted from that very current goes with it throughout.
            (Some(steps), Some(charge)) if charge.abs() > steps.abs() => Some(charge),
            (steps, charge) => steps.or(charge),
        };
        clearest
            .or(of_drift)
            .or_else(|| self.of_day())
            .map(|r| r < 0.0)
    }

    /// Whether the data show the opposite of what the design states: at least two of the four tells, and
    /// none that agrees with the design.
    fn contradicts(&self, flip: bool) -> bool {
        let tells = [
            self.steps.clear(CLEAR),
            self.charge.clear(CLEAR),
            self.drift.clear(DRIFT),
            self.of_day(),
        ];
        let seen: Vec<bool> = tells.into_iter().flatten().map(|r| r < 0.0).collect();
        seen.len() >= 2 && seen.iter().all(|turned| *turned != flip)
    }

    /// Asks, where the current runs both ways. The answer is insisted on where the voltage moved and
    /// still showed nothing: then the columns may not belong together at all.
    fn ask(&self, roles: &mut Roles) {
        let text = "whether positive battery current charges or discharges cannot be told from the voltage or the state of charge";
        roles
            .notes
            .push(format!("{text}; positive is taken as charging"));
        if self.both_ways == [true, true] && self.volts.is_some() {
            roles.questions.push(Question {
                text: text.to_owned(),
                settle:
                    "charging = \"positive\"   # or \"negative\": the sign of current into the bank"
                        .to_owned(),
                blocking: self.steps.count >= 30,
            });
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// So many steps in which the second goes with the first, or against it.
    fn steps(count: u32, against: bool) -> Sums {
        let mut sums = Sums::default();
        for k in 0..count {
            let x = f64::from(k % 7) - 3.0;
            sums.add(x, if against { -x } else { x });
        }
        sums
    }

    #[test]
    fn the_clearer_of_voltage_and_state_of_charge_tells_the_sign() {
        let mut noisy = steps(100, true);
        noisy.yy *= 4.0;
        let seen = Evidence {
            steps: noisy,
            charge: steps(100, false),
            ..Evidence::default()
        };
        assert_eq!(seen.verdict(), Some(false));
        let voltage_alone = Evidence {
            steps: noisy,
            ..Evidence::default()
        };
        assert_eq!(voltage_alone.verdict(), Some(true));
    }

    #[test]
    fn a_stated_sign_is_contradicted_by_two_tells_and_by_none_against() {
        let with = |steps_against: bool, charge_against: bool, charge: u32| Evidence {
            steps: steps(100, steps_against),
            charge: steps(charge, charge_against),
            ..Evidence::default()
        };
        // Stated positive, and both voltage and charge go against the current.
        assert!(with(true, true, 100).contradicts(false));
        assert!(!with(true, true, 100).contradicts(true));
        // One tell alone, or two that disagree, contradict nothing.
        assert!(!with(true, true, 0).contradicts(false));
        assert!(!with(true, false, 100).contradicts(false));
    }
}
