//! What the design's wires should measure.

use super::system::{Cable, Design, Run};
use crate::physics::conductor::resistance_mohm;

/// Temperature wires are reckoned at, C.
const WIRE_C: f64 = 30.0;

/// Resistance of a run with its joints, mohm, out and back: the conductor's table value at 30 C
/// (one conductor where the chassis is the return) plus joints. `None` where the design has no
/// such run for that controller (index).
pub fn run_mohm(design: &Design, run: Run, controller: usize) -> Option<f64> {
    design.cable(run, controller).map(cable_mohm)
}

/// Resistance of a cable with its joints, mohm, out and back.
pub fn cable_mohm(cable: &Cable) -> f64 {
    wire_mohm(cable) + cable.joints_mohm
}

/// Resistance of a cable's conductors alone, mohm, out and back, at 30 C.
pub fn wire_mohm(cable: &Cable) -> f64 {
    resistance_mohm(
        cable.length_m,
        cable.size,
        cable.material,
        WIRE_C,
        cable.chassis_return,
    )
}
