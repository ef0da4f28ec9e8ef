//! A design whose nominal voltage only the log can tell.

use super::defaults;
use super::system::{Assumed, Design};

impl Design {
    /// The design once the log has shown its nominal voltage. Assumed voltages, and the cell count,
    /// are reckoned anew for `nominal_v`; what the owner gave stays as it is, except that a
    /// compensation is always per 12 V and so follows. Nothing changes where the design already
    /// has a nominal voltage, or where `nominal_v` is no voltage.
    pub fn with_nominal(&self, nominal_v: f64) -> Design {
        let mut design = self.clone();
        if design.system.nominal_v.is_some() || !nominal_v.is_finite() || nominal_v <= 0.0 {
            return design;
        }
        design.system.nominal_v = Some(nominal_v);
        design.note(
            "system.nominal",
            format!("{nominal_v} V"),
            "the log's own voltages",
        );
        let chemistry = design.battery.chemistry;
        let cells = defaults::cells_for(chemistry, nominal_v);
        design.battery.cells_in_series = Some(cells);
        let why = format!("usual for {} banks of {nominal_v} V", chemistry.name());
        design.note("battery.cells_in_series", cells.to_string(), &why);
        let usual = defaults::charge_settings(chemistry, nominal_v, cells);
        for controller in &mut design.controllers {
            // Until now reckoned for 12 V.
            controller.compensation_v_per_c *= nominal_v / 12.0;
            let label = |word: &str| match &controller.name {
                Some(name) => format!("controller.{word} ({name})"),
                None => format!("controller.{word}"),
            };
            if restate(
                &mut design.assumed,
                &label("absorption"),
                usual.absorption_v,
            ) {
                controller.absorption_v = usual.absorption_v;
            }
            if let Some(float_v) = usual.float_v
                && restate(&mut design.assumed, &label("float"), float_v)
            {
                controller.float_v = Some(float_v);
            }
        }
        design
    }

    fn note(&mut self, key: &str, value: String, why: &str) {
        self.assumed.push(Assumed {
            key: key.to_owned(),
            value,
            why: why.to_owned(),
        });
    }
}

/// Writes a new voltage into an assumption; false where the key was not assumed but given.
fn restate(assumed: &mut [Assumed], key: &str, volts: f64) -> bool {
    match assumed.iter_mut().find(|a| a.key == key) {
        Some(found) => {
            found.value = crate::quantity::Dimension::Voltage.show(volts);
            true
        }
        None => false,
    }
}
