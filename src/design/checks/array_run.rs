//! The drop between panels and controller at the array's best current. Ordinary logs hold no voltage
//! at the panels, so this run can only be reckoned.

use super::{Lack, Standing, run_words, strings_on};
use crate::design::system::{Cable, Design, Method, Run};
use crate::design::wiring::cable_mohm;

/// The drop over the run of one controller's arrays.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ArrayRun {
    /// Index of the controller.
    pub controller: usize,
    /// Resistance out and back with joints, at 30 C, mohm.
    pub design_mohm: f64,
    /// Current of all strings at maximum power, A.
    pub amps: f64,
    /// Lowest voltage of a string at maximum power, V.
    pub string_v: f64,
    /// Largest drop the owner accepts, share of `string_v`.
    pub limit_share: f64,
    /// Whether the controller converts; one that only connects loses little to this run.
    pub converts: bool,
}

impl ArrayRun {
    /// Voltage lost at the best current, V.
    pub fn drop_v(&self) -> f64 {
        self.amps * self.design_mohm / 1000.0
    }

    /// The same as a share of the string's voltage.
    pub fn drop_share(&self) -> f64 {
        self.drop_v() / self.string_v
    }

    /// How the drop stands to its limit; from `mend_times` the limit on it is to be mended, if the
    /// controller converts.
    pub fn standing(&self, mend_times: f64) -> Standing {
        if self.drop_share() <= self.limit_share {
            Standing::Fine
        } else if self.converts && self.drop_share() >= mend_times * self.limit_share {
            Standing::Mend
        } else {
            Standing::Watch
        }
    }

    /// The arithmetic in words.
    pub fn arithmetic(&self) -> String {
        format!(
            "{:.1} mohm out and back x {:.1} A at maximum power = {:.2} V, of {:.1} V a string: {:.1} %.",
            self.design_mohm,
            self.amps,
            self.drop_v(),
            self.string_v,
            100.0 * self.drop_share()
        )
    }

    /// Resistance that would just keep the limit, mohm.
    pub fn limit_mohm(&self) -> f64 {
        1000.0 * self.limit_share * self.string_v / self.amps
    }
}

/// Every run from panels to a controller; none where the design has no such cable.
pub fn array_runs(design: &Design) -> Vec<Result<ArrayRun, Lack>> {
    (0..design.controllers.len())
        .flat_map(|controller| {
            design
                .cables_of(Run::ArrayController, controller)
                .map(move |cable| array_run(design, cable, controller))
        })
        .collect()
}

fn array_run(design: &Design, cable: &Cable, controller: usize) -> Result<ArrayRun, Lack> {
    let lack = || {
        Lack::new(
            format!(
                "how much {} loses: the panel's voltage and current at maximum power are not in the design",
                run_words(design, Run::ArrayController, controller)
            ),
            "array.panel.vmp (or imp) from the panel's label",
        )
    };
    let amps: Option<f64> = strings_on(design, controller)
        .map(|a| Some(a.panel.imp_a? * f64::from(a.strings_in_parallel)))
        .sum();
    let string_v = strings_on(design, controller)
        .map(|a| a.panel.vmp_v.map(|v| v * f64::from(a.panels_in_series)))
        .reduce(|a, b| Some(a?.min(b?)))
        .flatten();
    let (Some(amps), Some(string_v)) = (amps, string_v) else {
        return Err(lack());
    };
    if amps <= 0.0 || string_v <= 0.0 {
        return Err(lack());
    }
    Ok(ArrayRun {
        controller,
        design_mohm: cable_mohm(cable),
        amps,
        string_v,
        limit_share: cable.drop_limit,
        converts: design.controllers[controller].method == Method::Mppt,
    })
}
