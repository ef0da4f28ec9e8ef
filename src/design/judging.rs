//! Every setting by which findings are decided, each with its default and its source: the one place.
//!
//! An owner may set each under `[judging]` in the design; `ampledger explain KIND` prints those of a kind.

use super::keys::{Key, Kind};
use crate::quantity::Dimension::{Duration, Energy, Power, Share, Voltage};
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
        ["harvest-short", "array-weak", "array-part-out", "drop-battery-cable", "load-over-budget", "standby-high"],
        "owners' reference, part 3, principle 7";
    /// Smallest loss worth a job, share of the daily need.
    worth_a_job_share = "worth_a_job_share", Quantity(Share, 0.0, 1.0), 0.05, "\"5 %\"",
        ["harvest-short", "array-weak", "array-part-out", "drop-battery-cable", "load-over-budget", "standby-high"],
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
        ["cold-charge", "hot-charge"],
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
