//! Every setting by which findings are decided, each with its default and its source: the one place.
//!
//! An owner may set each under `[judging]` in the design; `ampledger explain KIND` prints those of a kind.

use super::keys::{Key, Kind};
use crate::quantity::Dimension::{Current, Duration, Energy, Power, Share, Voltage};
use Kind::{Count, Number, Quantity};

/// One setting: its key in the design with kind and default, what it is for, and where the default comes from.
#[derive(Debug, Clone, Copy)]
pub struct Setting {
    /// Its key; the example is the default.
    pub key: Key,
    /// Kinds of finding that it decides.
    pub kinds: &'static [&'static str],
    /// What it means.
    pub meaning: &'static str,
    /// Where the default comes from.
    pub source: &'static str,
    /// Puts a value, in base units, in its place.
    pub set: fn(&mut Judging, f64),
    /// Its value, in base units.
    pub get: fn(&Judging) -> f64,
}

macro_rules! settings {
    ($($(#[doc = $meaning:literal])+ $field:ident = $word:literal, $kind:expr, $default:expr, $shown:literal, $kinds:expr, $source:literal;)*) => {
        /// The settings in force, in base units (share for %).
        #[derive(Debug, Clone, PartialEq)]
        pub struct Judging {
            $($(#[doc = $meaning])+ pub $field: f64,)*
        }

        impl Default for Judging {
            fn default() -> Self {
                Self { $($field: $default,)* }
            }
        }

        /// All settings.
        pub const SETTINGS: &[Setting] = &[
            $(Setting {
                key: Key { path: concat!("judging.", $word), kind: $kind, example: $shown },
                kinds: &$kinds,
                meaning: concat!($($meaning),+),
                source: $source,
                set: |judging, value| judging.$field = value,
                get: |judging| judging.$field,
            },)*
        ];
    };
}

settings! {
    /// Smallest loss worth a job a day, whatever the need.
    worth_a_job_wh = "worth_a_job", Quantity(Energy, 0.0, 1e6), 50.0, "\"50 Wh\"",
        ["harvest-short", "array-weak", "array-part-out", "array-dark", "shade-repeating", "drop-battery-cable", "load-over-budget", "standby-high"],
        "owners' reference, part 3, principle 7";
    /// Smallest loss worth a job, share of the daily need.
    worth_a_job_share = "worth_a_job_share", Quantity(Share, 0.0, 1.0), 0.05, "\"5 %\"",
        ["harvest-short", "array-weak", "array-part-out", "array-dark", "shade-repeating", "drop-battery-cable", "load-over-budget", "standby-high"],
        "owners' reference, part 3, principle 7";
    /// Heat beyond the design's own that makes a run a danger.
    heat_stop_w = "heat_stop", Quantity(Power, 0.1, 1000.0), 5.0, "\"5 W\"",
        ["drop-battery-cable"],
        "trade reference, section 8: more than 5 W beyond what the run's fuses, switches and lugs explain";
    /// Excess must be this share of the design's own resistance to count.
    excess_share = "excess_share", Quantity(Share, 0.0, 10.0), 0.5, "\"50 %\"",
        ["drop-battery-cable", "drop-rising"],
        "cable tables, temperature and the meters' gains together are good to about that (trade reference 5.1 and 5.4)";
    /// Fewest judged days for "never full".
    never_full_days = "never_full_days", Count(1, 1000), 5.0, "5",
        ["never-full"],
        "contract";
    /// Unexplained share of the offer above which no fault of the array is named.
    unexplained_most = "unexplained_most", Quantity(Share, 0.0, 1.0), 0.10, "\"10 %\"",
        ["harvest-short", "array-weak", "array-part-out", "shade-repeating"],
        "owners' reference, part 2";
    /// Disagreement of two voltmeters at no current worth a line, per 12 V.
    meter_offset_v = "meter_offset", Quantity(Voltage, 0.0, 5.0), 0.10, "\"0.1 V\"",
        ["meter-offset"],
        "20 to 60 mV between two meters is usual (trade reference, decision 5)";
    /// Current that counts as charging, share of capacity an hour.
    charging_c = "charging_current", Quantity(Share, 0.0, 1.0), 0.02, "\"2 %\"",
        ["cold-charge", "hot-charge", "array-dark"],
        "trade reference 6.5";
    /// Time of charging beyond a temperature limit that counts.
    charged_beyond_s = "charged_beyond", Quantity(Duration, 0.0, 86_400.0), 300.0, "\"5 min\"",
        ["cold-charge", "hot-charge"],
        "one row more than the coarsest usual log; a single reading can be a slip of the sensor";
    /// Share of daylight without readings that is worth a line.
    gap_share = "gap_share", Quantity(Share, 0.0, 1.0), 0.05, "\"5 %\"",
        ["log-gaps"],
        "a twentieth of the daylight is as much as the unexplained rest may be (owners' reference, part 2)";
    /// Fewest days for a statement about use.
    use_days = "use_days", Count(2, 1000), 4.0, "4",
        ["load-over-budget", "use-exceeds-harvest", "standby-high"],
        "trade reference 7: at least 4";
    /// Fewest judged days for any verdict on the system.
    verdict_days = "verdict_days", Count(1, 1000), 3.0, "3",
        [],
        "clear hours on two days at least (owners' reference Q11); one more so that a single odd day does not decide";
    /// How far the mean load may pass the budget.
    budget_slack = "budget_slack", Quantity(Share, 0.0, 10.0), 0.10, "\"10 %\"",
        ["load-over-budget"],
        "trade reference 7: 10 %";
    /// Points of state of charge by which the meter's figure must jump beyond counted charge.
    soc_jump_pct = "soc_jump_pct", Number(0.1, 100.0), 3.0, "3",
        ["soc-unreliable"],
        "owners' reference Q3";
    /// Margin to the controller's highest input voltage that a string must keep in the cold.
    cold_voltage_margin = "cold_voltage_margin", Quantity(Share, 0.0, 0.5), 0.05, "\"5 %\"",
        ["cold-voltage-over-limit"],
        "trade reference 8.1: at least 5 %";
    /// What a rise of the run's resistance must cost at the highest current held, per 12 V.
    rise_v = "rise", Quantity(Voltage, 0.0, 5.0), 0.05, "\"50 mV\"",
        ["drop-rising"],
        "more than 50 mV across one joint is worth a look (owners' reference Q6)";
    /// Light beyond a clear sky's first or last light that a right clock may show.
    clock_sun_s = "clock_sun", Quantity(Duration, 0.0, 86_400.0), 900.0, "\"15 min\"",
        ["clock-off"],
        "a lean of 5 degrees moves the middle of the day by 10 to 17 minutes, the ends of its light by less (trade reference, decision 9)";
    /// Minutes by which two logs' clocks may differ.
    clocks_apart_s = "clocks_apart", Quantity(Duration, 0.0, 86_400.0), 180.0, "\"3 min\"",
        ["clock-off"],
        "a few minutes apart make a false voltage drop and false losses (owners' reference 1.4, mistake 12)";
    /// What two meters' gains allow figures of one quantity to differ.
    meters_gain = "meters_gain", Quantity(Share, 0.0, 1.0), 0.06, "\"6 %\"",
        ["logs-disagree"],
        "two meters of 3 % each (trade reference 11: gains of 0.2 to 3 %)";
    /// Times the usual drop limit, where the design states none, from which a cable is worth a line.
    cable_drop_slack = "cable_drop_slack", Number(1.0, 100.0), 2.0, "2",
        ["cable-undersized"],
        "0.1 to 0.2 V at full current is what owners of 12 V systems aim at (owners' reference Q6); 1 % is the better end";
    /// Times its limit from which the drop of the array's run is worth a job.
    array_drop_fix = "array_drop_fix", Number(1.0, 100.0), 2.0, "2",
        ["drop-array-cable"],
        "at twice a 3 % limit some 3 to 4 % of the day's energy goes into the cable (trade reference 5.2)";
    /// A bank that holds less than this share of its label, after cold and rate are allowed for, is low.
    capacity_low_share = "capacity_low", Quantity(Share, 0.01, 1.0), 0.80, "\"80 %\"",
        ["capacity-low"],
        "trade reference 6.7: the usual end of life";
    /// Share of the bank that must lie between a full charge and the low point.
    capacity_swing_share = "capacity_swing", Quantity(Share, 0.1, 0.99), 0.50, "\"50 %\"",
        ["capacity-low"],
        "owners' reference, part 2: two anchors at least half the bank apart";
    /// How many times the most usual resistance a bank may show.
    resistance_times = "resistance_times", Number(1.0, 100.0), 2.0, "2",
        ["battery-resistance-high"],
        "tables of resistance span two- to threefold between makes (trade reference 6.8), and a bank at the end of its life shows about twice its own";
    /// Smallest load step from which a resistance is taken; 5 % of capacity where that is less.
    load_step_a = "load_step", Quantity(Current, 0.1, 1000.0), 5.0, "\"5 A\"",
        ["battery-resistance-high"],
        "trade reference 6.8";
    /// Fewest load steps.
    load_steps = "load_steps", Count(2, 1000), 8.0, "8",
        ["battery-resistance-high"],
        "10 mV of a voltmeter make 2.8 mohm of one step of 5 A (trade reference 6.8), 1 mohm of eight";
    /// Zero error of the bank's ammeter worth a line.
    zero_error_a = "zero_error", Quantity(Current, 0.0, 100.0), 0.1, "\"0.1 A\"",
        ["current-offset"],
        "trade reference, decision 8: 0.1 A is 2.4 Ah a day; 0.05 A is usual";
    /// The same as a share of capacity an hour, whichever is more.
    zero_error_c = "zero_error_share", Quantity(Share, 0.0, 1.0), 0.0005, "\"0.05 %\"",
        ["current-offset"],
        "1.2 % of the bank a day: less is lost among other errors between weekly full charges";
    /// Zero error of a shunt that is possible while nothing in the log tells it.
    zero_possible_a = "zero_possible", Quantity(Current, 0.0, 100.0), 0.3, "\"0.3 A\"",
        ["charge-loss-high"],
        "trade reference, section 11: up to 0.3 A";
    /// What controller and monitor use themselves, at 12 V.
    standby_own_a = "standby_own", Quantity(Current, 0.0, 100.0), 0.1, "\"0.1 A\"",
        ["standby-high"],
        "trade reference 7: controller 0.1 to 2 W, monitor 0.05 W, protection 0.1 to 0.4 W";
    /// Standing use beyond the planned one that counts, at 12 V.
    standby_margin_a = "standby_margin", Quantity(Current, 0.0, 100.0), 0.3, "\"0.3 A\"",
        ["standby-high"],
        "trade reference 7: always-on use is 0.3 to 1.5 A; 0.3 A is 86 Wh a day, more than the smallest loss worth a job";
    /// The same as a share of the planned one, whichever is more.
    standby_share = "standby_share", Quantity(Share, 0.0, 10.0), 0.25, "\"25 %\"",
        ["standby-high"],
        "watts in a budget are labels, and labels are good to about a quarter";
    /// Points by which the meter's figure must stray from the counted one, beyond its error.
    soc_drift_pct = "soc_drift_pct", Number(0.1, 100.0), 10.0, "10",
        ["soc-unreliable"],
        "a tenth of the bank: about what an honest counter strays in a week (trade reference 6.9), and what a rest voltage can tell";
    /// Share by which the capacity set in the meter must differ from the design's.
    soc_capacity_share = "soc_capacity_share", Quantity(Share, 0.01, 10.0), 0.20, "\"20 %\"",
        ["soc-unreliable"],
        "a meter that reckons with Peukert's law differs by 10 to 20 % at ordinary currents (trade reference 6.4)";
    /// How far a current may pass its limit before it counts.
    current_over = "current_over", Quantity(Share, 0.0, 1.0), 0.03, "\"3 %\"",
        ["charge-current-high"],
        "gain error of a shunt (trade reference, section 11: 0.2 to 3 %)";
    /// How far a held voltage must be from the right one to count, per 12 V.
    set_point_v = "set_point", Quantity(Voltage, 0.0, 5.0), 0.20, "\"0.2 V\"",
        ["charge-voltage-low", "charge-voltage-high"],
        "two meters differ by 20 to 60 mV, and a sensor a few degrees off moves a compensated set point by 0.1 V";
    /// Fewest days with a held voltage for a statement about its setting.
    held_days = "held_days", Count(1, 1000), 3.0, "3",
        ["charge-voltage-low", "charge-voltage-high"],
        "a level that comes back on three days is a setting, not the weather";
    /// How far a lithium cell's limit must be passed to count, per 12 V.
    limit_slack_v = "limit_slack", Quantity(Voltage, 0.0, 5.0), 0.10, "\"0.1 V\"",
        ["charge-voltage-high", "cell-limit-passed"],
        "the most that a field voltmeter is off (trade reference, section 11: 0 to 0.1 V per 12 V)";
    /// How long a lead bank's current must rise at a held voltage.
    runaway_s = "runaway_time", Quantity(Duration, 600.0, 86_400.0), 7200.0, "\"2 h\"",
        ["runaway-signs"],
        "a bank going from absorption to float finds its current within the hour";
    /// By how many times the full current it must rise.
    runaway_rise = "runaway_rise", Number(0.1, 100.0), 0.5, "0.5",
        ["runaway-signs"],
        "the current must end above the full current; less of a rise than half of that may be the shunt and the float current settling";
    /// By how many degrees C the bank must warm meanwhile.
    runaway_warmer_c = "runaway_warmer_c", Number(0.0, 50.0), 5.0, "5",
        ["runaway-signs"],
        "a bank follows an afternoon's air by about that, and five degrees alone add less than half to a healthy current (it doubles for ten)";
    /// Output over the clear-sky curve below which a dip may be shade, whatever the haze.
    shade_below = "shade_below", Quantity(Share, 0.0, 1.0), 0.7, "\"70 %\"",
        ["shade-repeating"],
        "trade reference 9.2, step 8";
    /// Output over the clear-sky curve that the sky beside a dip must reach, within its haze.
    shade_beside = "shade_beside", Quantity(Share, 0.0, 1.2), 0.9, "\"90 %\"",
        ["shade-repeating"],
        "trade reference 9.2, step 8";
    /// Fewest days that must show a dip at the same bearing of the sun.
    shade_days = "shade_days", Count(2, 1000), 2.0, "2",
        ["shade-repeating"],
        "trade reference 9.2, step 8";
    /// Darkness on end that counts.
    dark_run_s = "dark_run", Quantity(Duration, 0.0, 86_400.0), 3600.0, "\"1 h\"",
        ["array-dark"],
        "a breaker tripped for good lasts longer; a controller that starts anew or a slip of a meter does not";
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::design::decode::{Decoded, decode};
    use toml::de::DeValue;

    #[test]
    fn the_default_shown_is_the_default_in_force() {
        for setting in SETTINGS {
            let value = DeValue::parse(setting.key.example).unwrap();
            let Decoded::Number(shown) = decode(&setting.key, value.get_ref()).unwrap() else {
                panic!("{} is no number", setting.key.path);
            };
            assert!(
                (shown - (setting.get)(&Judging::default())).abs() < 1e-9,
                "{}",
                setting.key.path
            );
        }
    }
}
