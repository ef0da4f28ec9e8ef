//! The open voltage of a string on the coldest morning against the controller's highest input.

use super::{Lack, Standing, array_words};
use crate::design::system::Design;
use crate::physics::{panel, protection};
use crate::words::about;

/// What settles how cold it gets.
pub const NEEDS_RECORD_LOW: &str =
    "plan.record_low, the lowest temperature the system may ever stand in";

/// The string of an array with the most panels, in the cold.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ColdString {
    /// Index of the array.
    pub array: usize,
    /// Highest input voltage of its controller, V.
    pub limit_v: f64,
    /// Open voltage of a string at 25 C, V.
    pub label_v: f64,
    /// Cell temperature below which the limit would be passed, C.
    pub passed_below_c: f64,
    /// At the record low, where the design states one.
    pub coldest: Option<Coldest>,
}

/// A string at the record low.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Coldest {
    /// Record low of the air; cells at sunrise are as cold, C.
    pub at_c: f64,
    /// Open voltage of a string by the panel's own coefficient, V.
    pub string_voc_v: f64,
    /// The same by the factors electrical codes tabulate, V.
    pub by_table_v: f64,
}

/// What is said of a limit that no cold reaches.
pub const NEVER_THERE: &str = "no cold on earth";

/// Colder than the air was ever measured anywhere, C.
const COLDEST_C: f64 = -90.0;

impl ColdString {
    /// How an open voltage stands to the limit; `margin` is the share below the limit that is left free.
    pub fn standing(&self, open_v: f64, margin: f64) -> Standing {
        if open_v > self.limit_v {
            Standing::Danger
        } else if open_v > self.limit_v * (1.0 - margin) {
            Standing::Watch
        } else {
            Standing::Fine
        }
    }

    /// What to say where the design states no record low.
    pub fn without_record_low(&self, design: &Design) -> Lack {
        let (whose, limit) = (array_words(design, self.array), about(self.limit_v));
        let text = if self.never_passed() {
            format!(
                "how near {whose} comes to the controller's {limit} V in the cold: the design states no record low, but by the panel's own figures {NEVER_THERE} takes it there"
            )
        } else {
            format!(
                "whether {whose} passes the controller's {limit} V in the cold: its open voltage gets there with cells below {:.0} C, and the design states no record low",
                self.passed_below_c
            )
        };
        Lack::new(text, NEEDS_RECORD_LOW)
    }

    /// Whether no cold that was ever measured takes the string past the limit.
    pub fn never_passed(&self) -> bool {
        self.passed_below_c < COLDEST_C
    }

    /// The arithmetic of the voltage at a cell temperature, by the panel's own coefficient.
    pub fn arithmetic(&self, design: &Design, at_c: f64) -> String {
        let array = &design.arrays[self.array];
        let voc = array.panel.voc_v.unwrap_or(0.0);
        let (n, per_degree) = (array.panels_in_series, array.panel.voc_per_degree);
        let passed = if self.never_passed() {
            format!("{NEVER_THERE} takes it past the limit")
        } else {
            format!("the limit is passed below {:.0} C", self.passed_below_c)
        };
        format!(
            "{n} panels in series x {voc} V x (1 {:+.2} % per degree x ({at_c} - 25)) = {:.1} V; {passed}.",
            100.0 * per_degree,
            panel::string_voltage_v(voc, n, per_degree, at_c)
        )
    }
}

impl Coldest {
    /// What the tabulated factors make of it, in words.
    pub fn by_table_words(&self) -> String {
        format!(
            "The factors that electrical codes tabulate, which are more cautious, give {:.1} V.",
            self.by_table_v
        )
    }
}

/// Every array: panels in series x Voc x (1 + change per degree x (lowest - 25)) (trade reference 8.1).
pub fn cold_strings(design: &Design) -> Vec<Result<ColdString, Lack>> {
    (0..design.arrays.len())
        .map(|array| cold_string(design, array))
        .collect()
}

fn cold_string(design: &Design, index: usize) -> Result<ColdString, Lack> {
    let array = &design.arrays[index];
    let whose = array_words(design, index);
    let Some(voc) = array.panel.voc_v else {
        return Err(Lack::new(
            format!(
                "how high the voltage of {whose} goes in the cold: the panel's open-circuit voltage is not in the design"
            ),
            "array.panel.voc from the panel's label",
        ));
    };
    let Some(limit_v) = design.controllers[array.controller].max_input_v else {
        return Err(Lack::new(
            format!(
                "whether the controller bears the voltage of {whose} in the cold: its highest input voltage is not in the design"
            ),
            "controller.max_input from its data sheet",
        ));
    };
    let (n, per_degree) = (array.panels_in_series, array.panel.voc_per_degree);
    let label_v = voc * f64::from(n);
    let coldest = design.plan.record_low_c.map(|at_c| Coldest {
        at_c,
        string_voc_v: panel::string_voltage_v(voc, n, per_degree, at_c),
        by_table_v: label_v * protection::cold_factor(at_c),
    });
    Ok(ColdString {
        array: index,
        limit_v,
        label_v,
        passed_below_c: protection::reached_at_c(label_v, per_degree, limit_v),
        coldest,
    })
}
