//! The same trip with another plant: what a change would really have done.

use super::run::{run, run_with};
use super::scenario::{Engine, Faults, Scenario};
use super::{SampleError, SampleOptions, scenario};

/// A change of a case's plant.
#[derive(Debug, Clone, PartialEq)]
pub enum PlantChange {
    /// Nothing.
    Nothing,
    /// Every fault mended.
    Mended,
    /// Strings side by side.
    Strings(u32),
    /// Panels in each string.
    PanelsInSeries(u32),
    /// Capacity, true and stated, times.
    CapacityTimes(f64),
    /// Running hours of the load of that name, times.
    LoadTimes(String, f64),
    /// The engine this long every day from nine o'clock, h, at a current, A.
    EngineDaily(f64, f64),
}

/// What came of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lived {
    /// Load given up to stay above the reserve and the cut-off, Wh a day.
    pub unserved_wh_per_day: f64,
    /// Share of days with a full charge.
    pub full_share: f64,
    /// Lowest true state of charge where no load is given up before the cut-off, %.
    pub lowest_soc_pct: f64,
}

/// Lives through a case with a change.
///
/// # Errors
/// As [`super::simulate`], and a load that the case has not.
pub fn lived(options: &SampleOptions, change: &PlantChange) -> Result<Lived, SampleError> {
    let mut scenario = scenario(None, options)?;
    apply(&mut scenario, change)?;
    let days = f64::from(scenario.days.max(1));
    let free = run(&scenario);
    let kept = run_with(&scenario, true);
    let full = free.days.iter().filter(|d| d.reached_full).count() as f64;
    let lowest = free
        .days
        .iter()
        .filter_map(|d| d.truth(0.0, 0.0).soc_low_pct)
        .fold(100.0, f64::min);
    Ok(Lived {
        unserved_wh_per_day: kept.unserved_j / 3600.0 / days,
        full_share: full / days,
        lowest_soc_pct: lowest,
    })
}

fn apply(scenario: &mut Scenario, change: &PlantChange) -> Result<(), SampleError> {
    match change {
        PlantChange::Nothing => {}
        PlantChange::Mended => {
            scenario.faults = Faults::default();
            scenario.bank.true_ah = scenario.bank.rated_ah;
        }
        PlantChange::Strings(n) => scenario.array.strings = *n,
        PlantChange::PanelsInSeries(n) => scenario.array.series = *n,
        PlantChange::CapacityTimes(times) => {
            scenario.bank.rated_ah *= times;
            scenario.bank.true_ah *= times;
            scenario.bank.r0_ohm /= times;
        }
        PlantChange::LoadTimes(name, times) => {
            let load = scenario.loads.iter_mut().find(|l| l.name == name);
            let Some(load) = load else {
                return Err(SampleError(format!("the case has no load called {name}")));
            };
            load.hours *= times;
        }
        PlantChange::EngineDaily(hours, amps) => {
            for day in 0..scenario.days {
                scenario.engine.push(Engine {
                    day,
                    start_h: 9.0,
                    hours: *hours,
                    current_a: *amps,
                });
            }
        }
    }
    Ok(())
}
