//! Arithmetic on a design alone, without any log: what protects and what carries. It checks figures
//! only and approves nothing; data sheets, local code and a licensed practitioner decide.

pub mod array_run;
pub mod carrying;
pub mod cold;
pub mod rating;

use super::system::{Design, Run};

/// Where figures alone end.
pub const ARITHMETIC_ONLY: &str = "This is arithmetic on the design only, never an approval. Data sheets, local code and a licensed practitioner come first.";

/// How a reckoned figure stands to its limit; ordered from worst.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Standing {
    /// Past it, and something can break or burn.
    Danger,
    /// Past it: to be mended.
    Mend,
    /// Past a limit that only costs, or nearer than the usual margin.
    Watch,
    /// Within it.
    Fine,
}

/// What a design does not say, so that a check cannot be made.
#[derive(Debug, Clone, PartialEq)]
pub struct Lack {
    /// What is not known, as the end of "cannot tell ...".
    pub text: String,
    /// The line of the design that would settle it.
    pub needs: String,
}

impl Lack {
    fn new(text: impl Into<String>, needs: impl Into<String>) -> Self {
        Self {
            text: text.into(),
            needs: needs.into(),
        }
    }
}

/// An array in running text, by its name where there are several.
pub fn array_words(design: &Design, array: usize) -> String {
    named(
        "the array",
        name_of(design.arrays.get(array).and_then(|a| a.name.as_ref())),
    )
}

/// A controller in running text, by its name where there are several.
pub fn controller_words(design: &Design, controller: usize) -> String {
    let name = design
        .controllers
        .get(controller)
        .and_then(|c| c.name.as_ref());
    named("the charge controller", name_of(name))
}

/// A run in running text, with its controller where there are several.
pub fn run_words(design: &Design, run: Run, controller: usize) -> String {
    let words = match run {
        Run::ArrayController => "the run from the panels to the controller",
        Run::ControllerBattery => "the run from the controller to the bank",
        Run::BatteryLoads => "the run from the bank to the loads",
    };
    match design
        .controllers
        .get(controller)
        .and_then(|c| c.name.as_ref())
    {
        Some(name) if run != Run::BatteryLoads && design.controllers.len() > 1 => {
            format!("{words} \"{name}\"")
        }
        _ => words.to_owned(),
    }
}

fn name_of(name: Option<&String>) -> Option<&str> {
    name.map(String::as_str)
}

fn named(what: &str, name: Option<&str>) -> String {
    match name {
        Some(name) => format!("{what} \"{name}\""),
        None => what.to_owned(),
    }
}

/// Short-circuit current of all strings on a controller, A; `None` where a panel's is not stated.
pub fn short_circuit_a(design: &Design, controller: usize) -> Option<f64> {
    strings_on(design, controller)
        .map(|a| Some(a.panel.isc_a? * f64::from(a.strings_in_parallel)))
        .sum()
}

/// Label power of all arrays on a controller, W.
pub fn label_w(design: &Design, controller: usize) -> f64 {
    strings_on(design, controller).map(|a| a.power_w()).sum()
}

/// What the arrays on a controller bring as designed, allowance and conversion taken off, W.
pub fn designed_w(design: &Design, controller: usize) -> f64 {
    let array_w: f64 = strings_on(design, controller)
        .map(|a| a.power_w() * a.allowance)
        .sum();
    array_w * design.controllers[controller].efficiency
}

/// The arrays on a controller.
pub fn strings_on(
    design: &Design,
    controller: usize,
) -> impl Iterator<Item = &super::system::Array> {
    design
        .arrays
        .iter()
        .filter(move |a| a.controller == controller)
}
