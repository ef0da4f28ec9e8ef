//! ampledger reconciles the logs of a small off-grid solar system with its design.
//!
//! Data flows one way: command line -> design and log -> timeline -> expectation -> account ->
//! findings -> report. Each module knows only those before it in that line; DEVELOPERS.md has the map.

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
pub mod verdict;
pub mod whole_file;
pub mod words;
