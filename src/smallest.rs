//! The smallest size of each kind of finding that a log can show: written down before any run.
//!
//! A sample case plants its fault as a multiple of these, and the table of found and missed is read
//! against them. "Trade" is the trade reference, "owners" the owners' reference; the numbers are
//! their sections. Kinds that hang on the design alone have a margin instead, since arithmetic has
//! no noise: it stands for what a label's rounded figures leave open.

/// The smallest size of one kind that a log can show.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Smallest {
    /// Kind of finding.
    pub kind: &'static str,
    /// What is measured.
    pub figure: &'static str,
    /// Its unit; empty for a share or a ratio.
    pub unit: &'static str,
    /// The smallest that shows, in that unit.
    pub value: f64,
    /// Roles of the columns it takes; none where the design alone tells.
    pub columns: &'static [&'static str],
    /// Why this much.
    pub why: &'static str,
}

const fn least(
    kind: &'static str,
    figure: &'static str,
    unit: &'static str,
    value: f64,
    columns: &'static [&'static str],
    why: &'static str,
) -> Smallest {
    Smallest {
        kind,
        figure,
        unit,
        value,
        columns,
        why,
    }
}

/// The bank's own voltage and current.
const BANK: &[&str] = &["battery_voltage", "battery_current"];
/// The bank's own voltage and current with its temperature.
const WARM_BANK: &[&str] = &["battery_voltage", "battery_current", "battery_temperature"];
/// The controller's output.
const OUTPUT: &[&str] = &["charge_voltage", "charge_current"];
/// The controller's output beside the bank's own figures.
const BOTH: &[&str] = &[
    "battery_voltage",
    "battery_current",
    "charge_voltage",
    "charge_current",
];
/// The design alone.
const DESIGN: &[&str] = &[];

/// Every kind of the report, in the order of its table.
pub const SMALLEST: [Smallest; 36] = [
    least(
        "harvest-short",
        "share of a day's offer that is lost",
        "",
        0.10,
        OUTPUT,
        "Trade 9.2 (11): a day falls short above the larger of 10 % and two standard deviations of its potential.",
    ),
    least(
        "array-weak",
        "share of the design's output that is missing",
        "",
        1.0 - 0.80 / 0.90,
        OUTPUT,
        "Trade 11 and 9.6: what a healthy array gives of its label lies between 0.80 and 1.02, label, tilt and haze not separable; below 0.80 against a design of 0.90 a ninth is missing.",
    ),
    least(
        "array-part-out",
        "share of the array that stopped",
        "",
        0.125,
        OUTPUT,
        "Trade 9.2 (9, 11): a step of the scale between days shows above the 10 % that sky and heat leave open; one of eight is the next whole share.",
    ),
    least(
        "array-dark",
        "daylight without anything from the array",
        "h",
        1.0,
        OUTPUT,
        "Trade 3.4: a controller silent while the sun is up is a fault candidate; under an hour low sun, snow or a start of the tracker do the same.",
    ),
    least(
        "shade-repeating",
        "share taken while the sun stands behind the object",
        "",
        0.30,
        OUTPUT,
        "Trade 9.2 (8): a bin of sun azimuth below 0.7 between neighbours above 0.9, on two days or more.",
    ),
    least(
        "controller-limiting",
        "share of the clear noon's current above the limit",
        "",
        0.10,
        OUTPUT,
        "Trade 3.4 and 9.2: a flat top repeats within 2 %, but the model of a clear noon it is told by is good to 5 to 10 %.",
    ),
    least(
        "drop-battery-cable",
        "resistance beyond the design's, per 12 V; at least half of the design's own",
        "mohm",
        5.0,
        BOTH,
        "Trade 5.1, 5.3, 5.4: tables, heat and meters leave a few milliohm open; 5 mohm is what a corroded lug begins at, and costs 0.1 V at 20 A.",
    ),
    least(
        "drop-array-cable",
        "drop beyond the limit, percent of the string's Vmp",
        "%",
        1.0,
        DESIGN,
        "Trade 5.1: conductor tables and real cable differ by up to 16 %, about half a percent of drop at the 3 % limit.",
    ),
    least(
        "drop-rising",
        "rise of the run's resistance, per 12 V; at least half of the design's own",
        "mohm",
        5.0,
        BOTH,
        "Trade 5.4: as for a poor joint; a step within one log is not worse to measure than the whole.",
    ),
    least(
        "meter-offset",
        "difference of the two voltmeters at no current, per 12 V",
        "V",
        0.10,
        BOTH,
        "Trade 0 (5) and 11: 20 to 60 mV are usual, 0.1 V the most a field voltmeter is off.",
    ),
    least(
        "never-full",
        "days without a full charge",
        "d",
        5.0,
        BANK,
        "The report's own terms: no full charge in five judged days.",
    ),
    least(
        "absorption-short",
        "current at the end of absorption over the full current",
        "",
        1.5,
        &["battery_voltage", "battery_current", "stage"],
        "Trade 6.1: full currents are given as ranges of two to three times; half as much again is the middle of such a range.",
    ),
    least(
        "charge-voltage-low",
        "held voltage below the usual range and the design's, per 12 V",
        "V",
        0.20,
        BOTH,
        "Trade 11 and 3.3: a voltmeter is off by up to 0.1 V and a regulator's own sensing by 0.1 V.",
    ),
    least(
        "charge-voltage-high",
        "held voltage above the usual range and the design's, per 12 V",
        "V",
        0.20,
        BOTH,
        "Trade 11 and 3.3: a voltmeter is off by up to 0.1 V and a regulator's own sensing by 0.1 V.",
    ),
    least(
        "soc-unreliable",
        "points the meter jumps to full without charge",
        "%",
        5.0,
        &["battery_voltage", "battery_current", "soc"],
        "Owners Q3 and part 2: a jump of more than 3 points is looked at, and a state of charge counted anew is good to 3.",
    ),
    least(
        "capacity-low",
        "share of the rated capacity that is missing",
        "",
        0.20,
        BANK,
        "Trade 6.7: low only below 80 % of the label, between two anchors at least 40 % apart.",
    ),
    least(
        "bank-drained",
        "points below the reserve",
        "%",
        5.0,
        BANK,
        "Owners part 2: the state of charge counted anew is good to 3 points over a cycle, and its error grows with each day after a full.",
    ),
    least(
        "cell-limit-passed",
        "voltage below the cells' lowest, per 12 V",
        "V",
        0.10,
        BANK,
        "Trade 11: a field voltmeter is off by up to 0.1 V.",
    ),
    least(
        "cold-charge",
        "degrees below the limit while charging",
        "C",
        1.0,
        WARM_BANK,
        "Trade 6.5: none below 0 C; a sensor on a case is good to about one degree.",
    ),
    least(
        "hot-charge",
        "degrees above the limit while charging",
        "C",
        1.0,
        WARM_BANK,
        "As for the cold: a sensor on a case is good to about one degree.",
    ),
    least(
        "charge-current-high",
        "share above the bank's limit, held 10 min",
        "",
        0.10,
        BANK,
        "Trade 11: a shunt's gain is good to 3 % at worst; makers' limits are rounded to a tenth.",
    ),
    least(
        "runaway-signs",
        "rise of the current at held voltage while warming, share of capacity",
        "",
        0.01,
        WARM_BANK,
        "Trade 6.1 and 6.2: a full lead bank takes 1 to 2 % of its capacity and that falls; a rise by as much again is no taper.",
    ),
    least(
        "charge-loss-high",
        "coulombic efficiency below the usual range's low end (lithium: two fifths of it)",
        "",
        0.05,
        BANK,
        "Trade 6.5 and 11: flooded 0.80, AGM and gel 0.90, lithium 0.99; shunt gain cancels over closed cycles, its offset of 0.05 A costs about 2 %.",
    ),
    least(
        "battery-resistance-high",
        "resistance beyond the usual range's high end, over that end",
        "",
        1.0,
        BANK,
        "Trade 6.8: rows a minute apart show two to four times the ohmic part, cold adds half; only twice the usual is out of reach of both.",
    ),
    least(
        "load-over-budget",
        "mean use above the budget, share",
        "",
        0.10,
        BOTH,
        "Trade 7: only where the mean's interval lies above the budget by 10 %.",
    ),
    least(
        "standby-high",
        "constant draw beyond the budgeted one, per 12 V",
        "A",
        0.30,
        BANK,
        "Trade 7 and 11: always-on things draw 0.3 A and more in sum, a shunt is off by 0.05 to 0.3 A.",
    ),
    least(
        "use-exceeds-harvest",
        "share of the daily need that the bank had to give",
        "",
        0.10,
        BOTH,
        "Owners Q11: over ten days the scatter from day to day leaves 9 % open.",
    ),
    least(
        "log-gaps",
        "share of the daylight without readings",
        "",
        0.05,
        DESIGN,
        "Owners part 2: an account may be open by 5 % over a trip; gaps of that size alone use it up.",
    ),
    least(
        "clock-off",
        "time to be added to the stamps",
        "min",
        15.0,
        OUTPUT,
        "Trade 0 (9): a lean of 5 degrees moves the middle of the day's energy by 10 to 17 minutes, and no log tells the two apart.",
    ),
    least(
        "current-reversed",
        "share of the rows with the wrong sign",
        "",
        1.0,
        BANK,
        "Trade 9.2 (1): charging must raise the voltage; a sign is right or wrong.",
    ),
    least(
        "current-offset",
        "ampere beside the truth",
        "A",
        0.10,
        BANK,
        "Trade 6.7 and 11: an ordinary shunt is off by 0.05 A; 0.1 A shows between confirmed full charges after some days.",
    ),
    least(
        "logs-disagree",
        "share by which two logs of one energy differ",
        "",
        0.05,
        BOTH,
        "Trade 11: a shunt's gain is off by up to 3 %; two of them by about 4 %.",
    ),
    least(
        "cold-voltage-over-limit",
        "open voltage in the record cold above the limit, share",
        "",
        0.02,
        DESIGN,
        "Trade 8 (1) and 11: coefficients on labels are rounded to 0.01 to 0.02 % a degree, half a percent of voltage in deep cold.",
    ),
    least(
        "controller-undersized",
        "array's current above the limit, share",
        "",
        0.05,
        DESIGN,
        "Trade 8 (5): arithmetic on label figures, which carry a tolerance of up to 5 %.",
    ),
    least(
        "cable-undersized",
        "run's current above the stated ampacity, share",
        "",
        0.05,
        DESIGN,
        "Trade 8 (3): arithmetic on label figures, which carry a tolerance of up to 5 %.",
    ),
    least(
        "fuse-unsuitable",
        "fuse above the stated ampacity, share",
        "",
        0.05,
        DESIGN,
        "Trade 8 (4): a fuse is to lie at or below the ampacity; ampacities are given to about 5 %.",
    ),
];

/// Share of the smallest efficiency loss that already shows on lithium, which is nearly lossless
/// (trade 6.5: 0.99 and more): 0.02 of 0.05.
pub const LITHIUM_LOSS_SHARE: f64 = 0.4;

/// The smallest size of a kind.
pub fn of(kind: &str) -> Option<&'static Smallest> {
    SMALLEST.iter().find(|s| s.kind == kind)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_once_with_a_size_and_a_reason() {
        for (i, s) in SMALLEST.iter().enumerate() {
            assert!(s.value > 0.0 && s.value.is_finite(), "{}", s.kind);
            assert!(!s.why.is_empty() && !s.figure.is_empty(), "{}", s.kind);
            assert!(
                SMALLEST[i + 1..].iter().all(|other| other.kind != s.kind),
                "{} twice",
                s.kind
            );
            assert_eq!(of(s.kind), Some(s));
        }
        assert_eq!(of("no-such-kind"), None);
    }
}
