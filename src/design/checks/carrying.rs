//! What each run carries for hours, against its cable and its fuse as the design states them.

use super::{Lack, Standing, array_words, designed_w, short_circuit_a};
use crate::design::system::{Cable, Design, Method, Run};
use crate::design::wiring::wire_mohm;
use crate::physics::protection::{BRIGHT_SKY_MARGIN, CONTINUOUS_MARGIN, least_fuse_a};
use crate::words::about;

/// A run, what it carries and what it is made for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Carrying {
    /// Which run.
    pub run: Run,
    /// Index of the controller it belongs to.
    pub controller: usize,
    /// Current that can flow for hours, A; `None` where the design does not say enough.
    pub current_a: Option<f64>,
    /// Fuse, A; `None` where the design states none.
    pub fuse_a: Option<f64>,
    /// Ampacity as stated, A; `None` where the design states none, and then nothing is said of it.
    pub ampacity_a: Option<f64>,
    /// Drop over the bare conductors at the current the run has as designed, V.
    pub drop_v: Option<f64>,
    /// Largest drop the owner accepts, V.
    pub drop_limit_v: f64,
    /// Whether the design states that limit; a usual one is taken otherwise.
    pub drop_limit_given: bool,
}

impl Carrying {
    /// What fuse and cable must bear: the current with the margin for hours, A.
    pub fn least_a(&self) -> Option<f64> {
        self.current_a.map(least_fuse_a)
    }

    /// Whether the fuse lets through more than the cable may carry: the cable then burns first.
    pub fn fuse_above_cable(&self) -> bool {
        matches!((self.fuse_a, self.ampacity_a), (Some(fuse), Some(cable)) if fuse > cable)
    }

    /// Whether the current with its margin is more than the cable may carry.
    pub fn cable_too_small(&self) -> bool {
        matches!((self.least_a(), self.ampacity_a), (Some(least), Some(cable)) if least > cable)
    }

    /// Whether the fuse is smaller than the current with its margin: it blows or tires.
    pub fn fuse_too_small(&self) -> bool {
        matches!((self.least_a(), self.fuse_a), (Some(least), Some(fuse)) if fuse < least * (1.0 - 1e-9))
    }

    /// Whether the fuse is smaller than the current itself: it blows.
    pub fn fuse_blows(&self) -> bool {
        matches!((self.current_a, self.fuse_a), (Some(current), Some(fuse)) if fuse < current)
    }

    /// Whether the bare conductors lose more than is let pass.
    pub fn drop_too_large(&self, slack: f64) -> bool {
        self.drop_v.is_some_and(|v| v > self.allowed_drop_v(slack))
    }

    /// How the fuse stands to its cable and its current.
    pub fn fuse_standing(&self) -> Standing {
        if self.fuse_above_cable() {
            Standing::Danger
        } else if !self.fuse_too_small() {
            Standing::Fine
        } else if self.fuse_blows() {
            Standing::Mend
        } else {
            Standing::Watch
        }
    }

    /// How the current with its margin comes about, in words.
    pub fn margin_words(&self) -> &'static str {
        match self.run {
            Run::ArrayController => "1.25 x short-circuit current, x 1.25 for hours: 1.56 in all",
            Run::ControllerBattery => {
                "the array as designed at the nominal voltage, at most the controller's rating; x 1.25 for hours"
            }
            Run::BatteryLoads => {
                "all direct loads of three hours a day or more at once; x 1.25 for hours"
            }
        }
    }

    /// Current and margin in words; `None` where the current is not known.
    pub fn current_arithmetic(&self) -> Option<String> {
        let (current, least) = self.current_a.zip(self.least_a())?;
        Some(format!(
            "{current:.1} A can flow for hours; x {CONTINUOUS_MARGIN} = {least:.1} A."
        ))
    }

    /// The drop over the bare conductors in words; `None` where it is not reckoned.
    pub fn drop_arithmetic(&self) -> Option<String> {
        let drop = self.drop_v?;
        Some(format!(
            "2 x length (1 x with a chassis return) at the table's resistance and 30 C: {drop:.2} V at the current the design gives, against {:.2} V; joints are not counted here.",
            self.drop_limit_v
        ))
    }

    /// Drop that is let pass, V: the run's limit, or so many times a usual one that the design does
    /// not state.
    pub fn allowed_drop_v(&self, slack: f64) -> f64 {
        let times = if self.drop_limit_given { 1.0 } else { slack };
        times * self.drop_limit_v
    }
}

/// Strings side by side that can feed back into a faulty one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Backfeed {
    /// Index of the array.
    pub array: usize,
    /// What the other strings can push through one, A.
    pub current_a: f64,
    /// The largest fuse a panel may have in series, A.
    pub limit_a: f64,
}

impl Backfeed {
    /// A design has no place for the fuses of single strings, so it can't say that they are missing.
    pub fn lack(&self, design: &Design) -> Lack {
        Lack::new(
            format!(
                "whether each string of {} has a fuse of its own: the other {} can push {} A through a faulty one, whose panels bear a fuse of {} A at most, and the design has no place for string fuses",
                array_words(design, self.array),
                design.arrays[self.array]
                    .strings_in_parallel
                    .saturating_sub(1),
                about(self.current_a),
                about(self.limit_a)
            ),
            format!(
                "a look at where the strings join, done in the dark or with the panels covered: one fuse a string, no more than {} A and made for DC; local code and a licensed practitioner come first",
                about(self.limit_a)
            ),
        )
    }
}

/// Every cable of the design with what it carries.
pub fn carryings(design: &Design) -> Vec<Carrying> {
    let of_controllers = (0..design.controllers.len()).flat_map(|controller| {
        [Run::ArrayController, Run::ControllerBattery]
            .into_iter()
            .flat_map(move |run| {
                design
                    .cables_of(run, controller)
                    .map(move |cable| carrying(design, cable, controller))
            })
    });
    let of_loads = design
        .cables
        .iter()
        .filter(|c| c.run == Run::BatteryLoads)
        .map(|cable| carrying(design, cable, 0));
    of_controllers.chain(of_loads).collect()
}

fn carrying(design: &Design, cable: &Cable, controller: usize) -> Carrying {
    let current_a = match cable.run {
        Run::ArrayController => short_circuit_a(design, controller).map(|a| a * BRIGHT_SKY_MARGIN),
        Run::ControllerBattery => charging_a(design, controller),
        Run::BatteryLoads => loads_a(design),
    };
    let for_drop = match cable.run {
        // This run's drop is reckoned with its joints, by `array_run`.
        Run::ArrayController => None,
        // A bank under charge stands at some 13.3 V per 12 V, and the current is that much less.
        Run::ControllerBattery => current_a.map(|a| a * 12.0 / 13.3),
        Run::BatteryLoads => current_a,
    };
    Carrying {
        run: cable.run,
        controller,
        current_a,
        fuse_a: cable.fuse_a,
        ampacity_a: cable.ampacity_a,
        drop_v: for_drop.map(|a| a * wire_mohm(cable) / 1000.0),
        drop_limit_v: cable.drop_limit * design.nominal_v(),
        drop_limit_given: cable.drop_limit_given,
    }
}

/// What a controller gives for hours in full sun: the array as designed at the nominal voltage, or
/// what its strings short-circuit to where it only connects, and no more than its rating.
fn charging_a(design: &Design, controller: usize) -> Option<f64> {
    let of = &design.controllers[controller];
    let array_a = match of.method {
        Method::Mppt => Some(designed_w(design, controller) / design.nominal_v()),
        Method::Pwm => short_circuit_a(design, controller).map(|a| a * BRIGHT_SKY_MARGIN),
    };
    match (array_a, of.max_output_a) {
        (Some(array), Some(most)) => Some(array.min(most)),
        (one, other) => one.or(other),
    }
}

/// Hours a day from which a load counts as flowing for hours (electrical codes: three or more).
const FOR_HOURS: f64 = 3.0;

/// All loads that hang on the bank directly and run for hours, at once, at the nominal voltage. `None`
/// where there are none, or where several load cables share them in a way the design does not say.
fn loads_a(design: &Design) -> Option<f64> {
    let cables = design.cables.iter().filter(|c| c.run == Run::BatteryLoads);
    let watts: f64 = design
        .loads
        .iter()
        .filter(|l| !l.through_inverter && l.hours >= FOR_HOURS)
        .map(|l| l.power_w * l.quantity)
        .sum();
    (cables.count() == 1 && watts > 0.0).then(|| watts / design.nominal_v())
}

/// Arrays of three strings or more whose other strings can push more through a faulty one than its
/// panels may have for a fuse (trade reference 8.3). Such strings each need a fuse.
pub fn backfeeds(design: &Design) -> Vec<Backfeed> {
    let of = |(array, a): (usize, &crate::design::system::Array)| {
        let (isc, limit_a) = a.panel.isc_a.zip(a.panel.max_series_fuse_a)?;
        let others = f64::from(a.strings_in_parallel.saturating_sub(1));
        let current_a = BRIGHT_SKY_MARGIN * isc * others;
        (a.strings_in_parallel >= 3 && current_a > limit_a).then_some(Backfeed {
            array,
            current_a,
            limit_a,
        })
    };
    design.arrays.iter().enumerate().filter_map(of).collect()
}
