//! The system as its owner designed it, on paper: read, completed with stated defaults, checked.

pub mod read;
pub mod system;

pub use read::{DesignError, read};
pub use system::*;
