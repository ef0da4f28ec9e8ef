//! What the design's wires should measure.

use super::system::{Design, Run};
use crate::physics::conductor::resistance_mohm;

/// Temperature wires are reckoned at, C.
const WIRE_C: f64 = 30.0;

/// Resistance of a run with its joints, mohm, out and back: the conductor's table value at 30 C
/// (one conductor where the chassis is the return) plus joints. `None` where the design has no
/// such run for that controller (index).
pub fn run_mohm(design: &Design, run: Run, controller: usize) -> Option<f64> {
    let cable = design.cable(run, controller)?;
    let wire = resistance_mohm(
        cable.length_m,
        cable.size,
        cable.material,
        WIRE_C,
        cable.chassis_return,
    );
    Some(wire + cable.joints_mohm)
}
