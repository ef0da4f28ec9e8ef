//! Every setting of the rules, each with its source, in one place.

/// Heat beyond the design's own that makes a run a danger, W (trade reference, section 8: more than
/// 5 W beyond what the run's fuses, switches and lugs explain).
pub const HEAT_STOP_W: f64 = 5.0;
/// Excess must be this share of the design's own resistance to count: cable tables, temperature and
/// the meters' gains together are good to about that (trade reference 5.1 and 5.4).
pub const EXCESS_SHARE: f64 = 0.5;
/// Fewest judged days for "never full" (contract).
pub const NEVER_FULL_DAYS: usize = 5;
/// Unexplained share of the offer above which no fault is named (owners' reference, part 2).
pub const UNEXPLAINED_MOST: f64 = 0.10;
/// Two voltmeters disagree by 20 to 60 mV as a rule (trade reference, decision 5); more is worth saying,
/// V per 12 V.
pub const METER_OFFSET_V: f64 = 0.10;
/// Charge current that counts as charging, share of capacity (trade reference 6.5).
pub const CHARGING_C: f64 = 0.02;
/// Minutes of charging below the chemistry's limit that count.
pub const COLD_MIN: f64 = 5.0;
/// Share of daylight without readings that is worth a line.
pub const GAP_SHARE: f64 = 0.05;
/// Fewest days for a statement about use (trade reference 7: at least 4).
pub const USE_DAYS: usize = 4;
/// Fewest judged days for any verdict on the system (owners' reference Q11: clear hours on two days at
/// least; one more so that a single odd day does not decide).
pub const VERDICT_DAYS: usize = 3;
/// How far the mean load may pass the budget, share (trade reference 7: 10 %).
pub const BUDGET_SLACK: f64 = 0.10;
/// Points the meter's figure must jump beyond counted charge to count as a false full (owners'
/// reference Q3).
pub const SOC_JUMP: f64 = 3.0;
