//! The rules of judging, one situation at a time, on hand-made timelines.

#![allow(clippy::unwrap_used, clippy::expect_used)]

mod accounts;
mod array;
mod askew;
mod bank;
mod charging;
mod clocks;
mod controllers;
mod float;
mod light;
mod meters;
mod mistakes;
mod on_paper;
mod planes;
mod plant;
mod rising;
mod shade;
mod standby;
mod told;
