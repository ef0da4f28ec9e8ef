//! Which way the bank's current counts: charging raises the voltage and the state of charge.

use std::ops::Range;

use super::columns::Roles;
use super::inspection::Question;
use super::uses::Use;
use crate::mapping::Role;
use crate::timeline::Sign;

/// Correlation below which steps of voltage and current do not tell the sign.
const CLEAR: f64 = 0.1;
/// The same for the level of the current against steps of the voltage, which noise hides more.
const DRIFT: f64 = 0.03;
/// What day against night counts beside a correlation: charging happens by day, but for an engine's.
const OF_DAY: f64 = 0.15;
/// Rows within this show a bank's resistance, s: it answers a current within a minute.
const QUICK_S: f64 = 60.0;
/// What steps between rows far apart count at least.
const LEAST_WEIGHT: f64 = 0.3;
/// Least difference of the mean current by day and by night, over its usual size: in a solar
/// system charging happens by day.
const BY_DAY: f64 = 0.5;
/// Rows looked at together.
const CHUNK: usize = 64;
/// Sums kept side by side, so that they need not wait for each other.
const LANES: usize = 4;
/// Fewest changes of the current to judge by.
const FEWEST: u64 = 8;

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

    /// Adds many pairs, [`LANES`] side by side.
    fn add_all(&mut self, x: &[f64], y: &[f64]) {
        let mut lanes = [Self::default(); LANES];
        let (x, x_rest) = x.as_chunks::<LANES>();
        let (y, y_rest) = y.as_chunks::<LANES>();
        for (x, y) in x.iter().zip(y) {
            for (lane, (x, y)) in lanes.iter_mut().zip(x.iter().zip(y)) {
                lane.add(*x, *y);
            }
        }
        lanes.iter().for_each(|lane| self.join(lane));
        for (x, y) in x_rest.iter().zip(y_rest) {
            self.add(*x, *y);
        }
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

/// Count, sum and sum of squares of the finite ones among some values.
#[derive(Debug, Default, Clone, Copy)]
struct Moments {
    count: u64,
    sum: f64,
    squares: f64,
}

impl Moments {
    fn of(values: &[f64]) -> Self {
        let mut lanes = [Self::default(); LANES];
        let (chunks, rest) = values.as_chunks::<LANES>();
        for chunk in chunks {
            for (lane, value) in lanes.iter_mut().zip(chunk) {
                lane.add(*value);
            }
        }
        let mut all = Self::default();
        for lane in lanes {
            all.count += lane.count;
            all.sum += lane.sum;
            all.squares += lane.squares;
        }
        rest.iter().for_each(|value| all.add(*value));
        all
    }

    #[inline]
    fn add(&mut self, value: f64) {
        let known = if value.is_finite() { value } else { 0.0 };
        self.count += u64::from(value.is_finite());
        self.sum += known;
        self.squares += known * known;
    }
}

/// Evidence gathered in the first pass.
#[derive(Debug, Default)]
pub(crate) struct Evidence {
    volts: Option<Use>,
    amps: Option<Use>,
    soc: Option<Use>,
    /// Voltage, current and state of charge of the first row and of the last, with their instants.
    first: Option<([f64; 3], f64)>,
    last: [f64; 3],
    last_at: f64,
    steps: Sums,
    charge: Sums,
    drift: Sums,
    both_ways: [bool; 2],
    /// Seconds from row to row in all, none counted as more than an hour, and how many there were.
    apart: (f64, u64),
    /// How much the state of charge rose and fell in all, %.
    risen: f64,
    fallen: f64,
    rows: u64,
    /// Count and sum of the current by day (10 to 14 h on the wall clock) and by night (22 to 4 h).
    hours: [(u64, f64); 2],
    squares: f64,
    /// Rows with a voltage by day and by night, and those of them without any to speak of.
    volts_by: [(u64, u64); 2],
    /// Seconds from Greenwich to the wall clock, near enough to tell day from night.
    offset_s: f64,
}

/// Blocks of a file that are all looked at (some 16 MB: four days at a row a second), and of those
/// after them every so many: what tells the sign of a current shows as well in a part of so many rows.
const ALL: u64 = 64;
const EVERY: u64 = 4;

/// Whether the rows of a block are evidence.
pub(crate) fn looks_at(block: u64) -> bool {
    block < ALL || block.is_multiple_of(EVERY)
}

/// A state of charge that rises and falls by this much in all, %, was charged and drawn on: meters count
/// whole percents.
const MOVED: f64 = 10.0;

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
            last_at: f64::NAN,
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
            last_at: f64::NAN,
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
        let mut from = 0;
        while from < at.len() {
            let to = (from + CHUNK).min(at.len());
            let rows = values.map(|column| column.map(|c| &c[from..to]));
            self.steps_of(&at[from..to], rows);
            from = to;
        }
        if let Some(begin) = at.first() {
            let first = values.map(|column| value(column, 0));
            let lost = first[0].abs() < NO_VOLTS;
            let first = if lost { [f64::NAN; 3] } else { first };
            self.first = self.first.or(Some((first, *begin)));
        }
    }

    /// Takes rows that are not looked at: no step leads from those before them to those after.
    pub(crate) fn pass_over(&mut self) {
        self.first = Some(([f64::NAN; 3], f64::NAN));
    }

    /// Adds the steps from row to row of a chunk to the sums of steps, drift and charge.
    fn steps_of(&mut self, at: &[f64], values: [Option<&[f64]>; 3]) {
        let count = at.len();
        let mut now = [[f64::NAN; CHUNK + 1]; 3];
        for ((now, column), last) in now.iter_mut().zip(values).zip(self.last) {
            now[0] = last;
            if let Some(column) = column {
                now[1..=count].copy_from_slice(column);
            }
        }
        let [volts, amps, soc] = &mut now;
        for row in 1..=count {
            // A lost link: its rows say nothing of which way the current runs.
            let lost = volts[row].abs() < NO_VOLTS;
            for column in [&mut *volts, &mut *amps, &mut *soc] {
                column[row] = if lost { f64::NAN } else { column[row] };
            }
        }
        let mut steps = [[0.0; CHUNK]; 4];
        let [by_volts, by_amps, mean_amps, by_soc] = &mut steps;
        // Some logs are written newest first: what rises from row to row falls in time.
        let mut on = [0.0; CHUNK];
        let mut before = self.last_at;
        for (on, at) in on.iter_mut().zip(at) {
            *on = f64::from(u8::from(*at > before)) - f64::from(u8::from(*at < before));
            if *on != 0.0 {
                self.apart.0 += (at - before).abs().min(3_600.0);
                self.apart.1 += 1;
            }
            before = *at;
        }
        for row in 0..count {
            by_volts[row] = volts[row + 1] - volts[row];
            by_amps[row] = amps[row + 1] - amps[row];
            mean_amps[row] = (amps[row + 1] + amps[row]) / 2.0;
            let step = soc[row + 1] - soc[row];
            // A larger step is a counter set anew.
            by_soc[row] = if step.abs() < 20.0 {
                step * on[row]
            } else {
                f64::NAN
            };
        }
        for step in &by_soc[..count] {
            // Comparisons with NaN are false.
            self.risen += if *step > 0.0 { *step } else { 0.0 };
            self.fallen -= if *step < 0.0 { *step } else { 0.0 };
        }
        self.steps.add_all(&by_volts[..count], &by_amps[..count]);
        for (step, on) in by_volts.iter_mut().zip(&on[..count]) {
            *step *= on;
        }
        self.drift.add_all(&by_volts[..count], &mean_amps[..count]);
        self.charge.add_all(&by_soc[..count], &mean_amps[..count]);
        self.last = [volts[count], amps[count], soc[count]];
        self.last_at = before;
    }

    /// Takes in what rows show by their hour of the day alone.
    fn by_hours(&mut self, at: &[f64], [volts, amps, _]: [Option<&Vec<f64>>; 3]) {
        let mut from = 0;
        while from < at.len() {
            let hour = self.hour_of(at[from]);
            let run = at[from..].iter().position(|at| !hour.contains(at));
            // An instant that is in no hour, not even its own, stands alone.
            let to = run.map_or(at.len(), |run| from + run.max(1));
            let part = self.part_of_day(at[from]);
            let volts = volts.map(|v| &v[from..to]);
            if let (Some(part), Some(volts)) = (part, volts) {
                self.volts_by_hour(part, volts);
            }
            if let Some(amps) = amps.filter(|_| self.amps.is_some()) {
                self.by_hour(part, &amps[from..to], volts);
            }
            from = to;
        }
    }

    /// The hour of the wall clock an instant is in.
    fn hour_of(&self, at: f64) -> Range<f64> {
        let wall = (at + self.offset_s) as i64;
        let start = (wall - wall.rem_euclid(3_600)) as f64 - self.offset_s;
        start..start + 3_600.0
    }

    /// Adds the rows that follow.
    pub(crate) fn follow(&mut self, later: &Self) {
        if let Some((first, at)) = later.first {
            self.steps_of(
                &[at],
                first.each_ref().map(|v| Some(std::slice::from_ref(v))),
            );
            self.first = self.first.or(later.first);
            (self.last, self.last_at) = (later.last, later.last_at);
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

    fn volts_by_hour(&mut self, part: usize, volts: &[f64]) {
        let finite = volts.iter().filter(|v| v.is_finite()).count();
        let none = volts.iter().filter(|v| v.abs() < NO_VOLTS).count();
        self.volts_by[part].0 += finite as u64;
        self.volts_by[part].1 += none as u64;
    }

    /// Whether the voltage is there by day and gone by night, as no bank's is.
    pub(crate) fn goes_out_at_night(&self) -> bool {
        let [day, night] = self.volts_by;
        let enough = day.0 >= FEWEST && night.0 >= FEWEST;
        enough && night.1 * 5 >= night.0 * 4 && day.1 * 5 <= day.0
    }

    /// Adds the currents of rows of an hour, but for those of a lost link.
    fn by_hour(&mut self, part: Option<usize>, amps: &[f64], volts: Option<&[f64]>) {
        let mut known = [0.0; CHUNK];
        for (chunk, amps) in amps.chunks(CHUNK).enumerate() {
            let known = &mut known[..amps.len()];
            known.copy_from_slice(amps);
            if let Some(volts) = volts {
                for (amps, volts) in known.iter_mut().zip(&volts[chunk * CHUNK..]) {
                    *amps = if volts.abs() < NO_VOLTS {
                        f64::NAN
                    } else {
                        *amps
                    };
                }
            }
            self.both_ways[0] |= known.iter().any(|a| *a > 0.0);
            self.both_ways[1] |= known.iter().any(|a| *a < 0.0);
            let found = Moments::of(known);
            self.rows += found.count;
            self.squares += found.squares;
            if let Some(part) = part {
                self.hours[part].0 += found.count;
                self.hours[part].1 += found.sum;
            }
        }
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
        self.apart.0 += other.apart.0;
        self.apart.1 += other.apart.1;
        self.risen += other.risen;
        self.fallen += other.fallen;
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
    pub(crate) fn settle(&self, charging: Option<&str>, titles: &[String], roles: &mut Roles) {
        if !roles.has(Role::BatteryCurrent) && !roles.has(Role::BatteryPower) {
            return;
        }
        if self.has_no_sign() && charging.is_none() {
            self.ask_for_signs(roles, titles);
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

    /// Whether the current only ever runs one way although the state of charge falls as well as rises.
    fn has_no_sign(&self) -> bool {
        let one_way = self.both_ways[0] != self.both_ways[1];
        one_way && self.risen.min(self.fallen) > MOVED
    }

    /// Asks what a current without a sign is.
    fn ask_for_signs(&self, roles: &mut Roles, titles: &[String]) {
        let Some(found) = roles
            .get(Role::BatteryCurrent)
            .filter(|u| u.how != "design")
        else {
            return;
        };
        let [(column, _)] = found.parts[..] else {
            return;
        };
        let title = titles.get(column).map_or("", String::as_str);
        roles.questions.push(Question {
            text: format!(
                "the battery current never turns round although the state of charge falls by {:.0} % in all: it shows no direction, or is not the bank's",
                self.fallen
            ),
            settle: format!(
                "ignore = \"{title}\"   # in [log.columns]; or charge_current = \"{title}\" where it is what charges"
            ),
            blocking: true,
        });
    }

    /// What steps count: rows far apart differ by what flowed between them more than by resistance.
    fn weight_of_steps(&self) -> f64 {
        let apart_s = self.apart.0 / self.apart.1.max(1) as f64;
        (QUICK_S / apart_s.max(1.0)).clamp(LEAST_WEIGHT, 1.0)
    }

    /// Whether to turn round; `None` where it cannot be told.
    fn verdict(&self) -> Option<bool> {
        // None of them is beyond doubt. Where a controller holds its own end of a long cable, the bank's
        // voltage falls as the current rises; at minutes a row it jumps up as the current ends at a full
        // lithium bank. A state of charge that is counted from that very current goes with it throughout,
        // the voltage follows what flows for hours. What they show together counts.
        let tells = [
            self.steps.clear(CLEAR).map(|r| r * self.weight_of_steps()),
            self.charge.clear(CLEAR),
            self.drift.clear(DRIFT),
            self.of_day().map(|more| OF_DAY * more.signum()),
        ];
        let seen = || tells.iter().flatten();
        let sum: f64 = seen().sum();
        (seen().next().is_some() && sum != 0.0).then_some(sum < 0.0)
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
