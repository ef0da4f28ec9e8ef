//! The rules of judging, one situation at a time, on hand-made timelines.

#![allow(clippy::unwrap_used, clippy::expect_used)]

mod accounts;
mod charging;
mod mistakes;
mod plant;
