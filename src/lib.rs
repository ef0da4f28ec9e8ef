//! ampledger reconciles the logs of a small off-grid solar system with its design.
//!
//! Data flows one way: command line -> design and log -> timeline -> expectation -> account ->
//! findings -> report. Each module knows only those before it in that line; DEVELOPERS.md has the map.
//!
//! The whole path, from a design that names its logs to a verdict:
//!
//! ```no_run
//! use ampledger::reconcile::{Request, reconcile};
//! use ampledger::report::text;
//!
//! let report = reconcile(&Request {
//!     logs: Vec::new(),
//!     design: "sample-data/design.toml".into(),
//!     from: None,
//!     to: None,
//!     zone: None,
//! })?;
//! println!("{}", text::summary(&report));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! [`log::look`] reads a log alone and says how it was understood, [`plan::plan`] reckons a design
//! alone, [`replay`] lives the logged days through again with a change of the design.

pub mod account;
pub mod assemble;
pub mod calendar;
pub mod cli;
pub mod compare;
pub mod design;
pub mod expect;
pub mod explain;
pub mod findings;
pub mod interview;
pub mod log;
pub mod mapping;
pub mod neighbour;
pub mod physics;
pub mod plan;
pub mod quantity;
pub mod reconcile;
pub mod replay;
pub mod report;
pub mod sample;
pub mod smallest;
pub mod stats;
pub mod tally;
pub mod timeline;
mod units;
pub mod verdict;
pub mod whole_file;
pub mod words;
