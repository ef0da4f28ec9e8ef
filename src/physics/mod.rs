//! Pure functions of physics, with units; no files, no state.

pub mod sun;
