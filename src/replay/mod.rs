//! The owner's own days lived through again: the system as it is, mended, and with each change.
//!
//! [`weigh()`] is the whole path: the days and the plant as the log shows them (`course`, `demand`,
//! `learn`, `limits`), whether a replay (`run`) gives back the trip (`reproduce`), the changes (`change`, `mend`,
//! `unasked`, `refuse`), what is uncertain (`chance`), and what follows (`judge`, `advice`).

mod advice;
mod chance;
pub mod change;
pub mod course;
pub mod demand;
mod judge;
pub mod learn;
pub mod limits;
mod mend;
pub mod plant;
pub mod reference;
mod refuse;
pub mod reproduce;
mod row;
pub mod run;
mod season;
mod step;
mod unasked;
mod weigh;

pub use row::Weighed;
pub use unasked::Kind;
pub use weigh::{Asked, Inputs, NothingToReplay, Weighing, weigh};

/// Draws of what is uncertain: the ends of a 90 % interval then rest on 25 draws each. A log of more than a
/// year is drawn less often, at least a hundred times.
pub const DRAWS: usize = 500;
