//! The system as its owner designed it, on paper: read, completed with stated defaults, checked.

pub mod answer;
pub mod budget;
pub mod changes;
pub mod checks;
mod decode;
pub mod defaults;
pub mod judging;
pub mod keys;
pub mod log_entries;
mod nominal;
mod problems;
pub mod read;
pub mod schema;
mod section;
mod syntax;
pub mod system;
pub mod template;
pub mod wire;
pub mod wiring;

pub use judging::Judging;
pub use read::{DesignError, read};
pub use system::*;
