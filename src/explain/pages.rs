//! A page for each kind of finding, written by the tests from what `explain` prints of it.

/// Modules that hold nothing but their page, and the list of them.
macro_rules! pages {
    ($($module:ident $kind:literal)*) => {
        $(
            #[doc = include_str!(concat!("pages/", $kind, ".md"))]
            pub mod $module {}
        )*

        /// The kinds that have a page.
        pub const KINDS: &[&str] = &[$($kind),*];
    };
}

pages! {
    absorption_short "absorption-short"
    array_dark "array-dark"
    array_part_out "array-part-out"
    array_weak "array-weak"
    bank_drained "bank-drained"
    battery_resistance_high "battery-resistance-high"
    cable_undersized "cable-undersized"
    capacity_low "capacity-low"
    cell_limit_passed "cell-limit-passed"
    charge_current_high "charge-current-high"
    charge_loss_high "charge-loss-high"
    charge_voltage_high "charge-voltage-high"
    charge_voltage_low "charge-voltage-low"
    clock_off "clock-off"
    cold_charge "cold-charge"
    cold_voltage_over_limit "cold-voltage-over-limit"
    controller_limiting "controller-limiting"
    controller_undersized "controller-undersized"
    current_offset "current-offset"
    current_reversed "current-reversed"
    drop_array_cable "drop-array-cable"
    drop_battery_cable "drop-battery-cable"
    drop_rising "drop-rising"
    fuse_unsuitable "fuse-unsuitable"
    harvest_short "harvest-short"
    hot_charge "hot-charge"
    load_over_budget "load-over-budget"
    log_gaps "log-gaps"
    logs_disagree "logs-disagree"
    meter_offset "meter-offset"
    never_full "never-full"
    runaway_signs "runaway-signs"
    shade_repeating "shade-repeating"
    soc_unreliable "soc-unreliable"
    standby_high "standby-high"
    use_exceeds_harvest "use-exceeds-harvest"
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use std::collections::BTreeSet;
    use std::path::Path;

    use super::*;
    use crate::explain::kind::page;
    use crate::findings::catalogue::RULES;

    #[test]
    fn every_kind_has_its_page_and_the_pages_are_current() {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/explain/pages");
        let update = std::env::var_os("UPDATE_EXPECT").is_some();
        for rule in RULES {
            let file = folder.join(format!("{}.md", rule.kind));
            let made = page(rule).markdown();
            if update {
                std::fs::write(&file, &made).unwrap();
            }
            let kept = std::fs::read_to_string(&file).unwrap_or_default();
            assert!(
                made == kept,
                "{} is not current; run the tests with UPDATE_EXPECT=1, read the difference, commit it",
                file.display()
            );
        }
        let kinds: BTreeSet<&str> = RULES.iter().map(|r| r.kind).collect();
        assert_eq!(kinds, KINDS.iter().copied().collect());
        let files = std::fs::read_dir(&folder).unwrap().count();
        assert_eq!(
            files,
            kinds.len(),
            "a page too many in {}",
            folder.display()
        );
    }
}
