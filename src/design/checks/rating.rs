//! Whether a controller is large enough for its arrays.

use super::{Lack, Standing, controller_words, designed_w, label_w, short_circuit_a, strings_on};
use crate::design::system::{Design, Method};
use crate::physics::protection::BRIGHT_SKY_MARGIN;

/// What of a controller is compared.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Limit {
    /// Short-circuit current of the strings, with the margin for bright skies, against the rating of a
    /// controller that only connects: it cannot hold the current back.
    Connected,
    /// Short-circuit current of the strings against the highest input current of one that converts.
    Input,
    /// Label power at the nominal voltage against the highest charging current of one that converts:
    /// it holds the current back by itself, so that harvest is lost and nothing breaks.
    Output,
}

/// A controller's array against one of its limits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rating {
    /// Index of the controller.
    pub controller: usize,
    /// Which limit.
    pub limit: Limit,
    /// What the array can bring, A.
    pub array_a: f64,
    /// What of that comes as designed, A: for the output the label power less allowance and conversion.
    pub designed_a: f64,
    /// What the controller is made for, A.
    pub limit_a: f64,
}

impl Rating {
    /// Whether the array as designed brings more than the controller is made for.
    pub fn is_passed(&self) -> bool {
        self.designed_a > self.limit_a * (1.0 + 1e-9)
    }

    /// Whether passing it is a danger rather than lost harvest.
    pub fn is_hard(&self) -> bool {
        self.limit != Limit::Output
    }

    /// How the array stands to the limit.
    pub fn standing(&self) -> Standing {
        match (self.is_passed(), self.is_hard()) {
            (false, _) => Standing::Fine,
            (true, true) => Standing::Danger,
            (true, false) => Standing::Watch,
        }
    }

    /// The arithmetic in words.
    pub fn arithmetic(&self, design: &Design) -> String {
        let (array, limit) = (self.array_a, self.limit_a);
        match self.limit {
            Limit::Connected => format!(
                "Short-circuit current of all strings {:.1} A x {BRIGHT_SKY_MARGIN} for bright skies = {array:.1} A, against {limit} A.",
                array / BRIGHT_SKY_MARGIN
            ),
            Limit::Input => format!(
                "Short-circuit current of all strings {array:.1} A, against {limit} A at the input."
            ),
            Limit::Output => format!(
                "Label power {:.0} W / {} V = {array:.1} A; with the design's allowance and conversion {:.1} A, against {limit} A. Panels seldom give their label power; a larger array than the controller is common with MPPT and often meant.",
                array * design.nominal_v(),
                design.nominal_v(),
                self.designed_a
            ),
        }
    }
}

/// Every limit of every controller with an array (trade reference 8.5).
pub fn ratings(design: &Design) -> Vec<Result<Rating, Lack>> {
    (0..design.controllers.len())
        .filter(|c| strings_on(design, *c).next().is_some())
        .flat_map(|controller| match design.controllers[controller].method {
            Method::Pwm => vec![connected(design, controller)],
            Method::Mppt => input(design, controller)
                .into_iter()
                .chain([output(design, controller)])
                .collect(),
        })
        .collect()
}

fn connected(design: &Design, controller: usize) -> Result<Rating, Lack> {
    let whose = controller_words(design, controller);
    let Some(isc) = short_circuit_a(design, controller) else {
        return Err(Lack::new(
            format!(
                "whether {whose} bears the array's current: the panel's short-circuit current is not in the design"
            ),
            "array.panel.isc from the panel's label",
        ));
    };
    let of = &design.controllers[controller];
    let Some(limit_a) = [of.max_input_a, of.max_output_a]
        .into_iter()
        .flatten()
        .reduce(f64::min)
    else {
        return Err(not_rated(&whose));
    };
    Ok(Rating {
        controller,
        limit: Limit::Connected,
        array_a: BRIGHT_SKY_MARGIN * isc,
        designed_a: BRIGHT_SKY_MARGIN * isc,
        limit_a,
    })
}

/// Nothing where the data sheet's input current is not stated: many converting controllers have none.
fn input(design: &Design, controller: usize) -> Option<Result<Rating, Lack>> {
    let limit_a = design.controllers[controller].max_input_a?;
    Some(match short_circuit_a(design, controller) {
        Some(array_a) => Ok(Rating {
            controller,
            limit: Limit::Input,
            array_a,
            designed_a: array_a,
            limit_a,
        }),
        None => Err(Lack::new(
            format!(
                "whether {} bears the array's short-circuit current: it is not in the design",
                controller_words(design, controller)
            ),
            "array.panel.isc from the panel's label",
        )),
    })
}

fn output(design: &Design, controller: usize) -> Result<Rating, Lack> {
    match design.controllers[controller].max_output_a {
        Some(limit_a) => Ok(Rating {
            controller,
            limit: Limit::Output,
            array_a: label_w(design, controller) / design.nominal_v(),
            designed_a: designed_w(design, controller) / design.nominal_v(),
            limit_a,
        }),
        None => Err(not_rated(&controller_words(design, controller))),
    }
}

fn not_rated(whose: &str) -> Lack {
    Lack::new(
        format!("whether {whose} is large enough: its highest current is not in the design"),
        "controller.max_output from its data sheet",
    )
}
