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
