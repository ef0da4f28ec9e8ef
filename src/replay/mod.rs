//! The owner's own days lived through again: the system as it is, mended, and with each change.

pub mod course;
pub mod demand;
pub mod learn;
pub mod plant;
pub mod reference;
pub mod reproduce;
pub mod run;
