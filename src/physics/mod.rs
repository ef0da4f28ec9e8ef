//! Pure functions of physics, with units; no files, no state.
//!
//! Every function takes and gives plain `f64` with the unit in the name, and answers any finite
//! input with a finite number: a night, a polar winter or a dead panel gives zero, never a NaN.
//!
//! Light comes down the chain [`sun`], [`sky`], [`plane`], [`cell`], [`panel`], [`converter`];
//! [`conductor`] and [`bank`] stand beside it.

pub mod bank;
pub mod cell;
pub mod conductor;
pub mod converter;
pub mod panel;
pub mod plane;
pub mod protection;
pub mod rest_voltage;
pub mod sky;
pub mod sun;
pub mod yields;
