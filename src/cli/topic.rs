//! A name that shells complete and the program judges itself: what is unknown gets its own message,
//! with the name most like it.

use std::ffi::OsStr;

use clap::builder::{PossibleValue, StringValueParser, TypedValueParser};
use clap::{Arg, Command};

use crate::explain;

/// Any text; completions offer what `explain` knows.
#[derive(Debug, Clone, Copy)]
pub(super) struct Topic;

impl TypedValueParser for Topic {
    type Value = String;

    fn parse_ref(
        &self,
        command: &Command,
        arg: Option<&Arg>,
        value: &OsStr,
    ) -> Result<Self::Value, clap::Error> {
        StringValueParser::new().parse_ref(command, arg, value)
    }

    fn possible_values(&self) -> Option<Box<dyn Iterator<Item = PossibleValue> + '_>> {
        Some(Box::new(explain::names().map(PossibleValue::new)))
    }
}
