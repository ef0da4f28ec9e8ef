//! Pure functions of physics, with units; no files, no state.
//!
//! Every function takes and gives plain `f64` with the unit in the name, and answers any finite
//! input with a finite number: a night, a polar winter or a dead panel gives zero, never a NaN.

pub mod cell;
pub mod conductor;
pub mod plane;
pub mod sky;
pub mod sun;
