//! The charts: one file each, drawn from the report's own points. `style` holds colours and sizes.

mod account;
mod axis;
mod below;
mod canvas;
mod charge;
mod clock;
pub mod comparison;
mod days;
mod drop;
mod grid;
mod heat;
mod hours;
mod load;
mod night;
mod options;
mod panels;
mod style;

pub(crate) mod lines;

pub(crate) use account::table as account_table;

use super::model::Report;

/// Where the harvest account is drawn, under the output folder.
pub const ACCOUNT: &str = "charts/account.svg";
/// Where the days are drawn.
pub const DAYS: &str = "charts/days.svg";
/// Where the state of charge is drawn.
pub const CHARGE: &str = "charts/charge.svg";
/// Where the wiring's drop is drawn.
pub const DROP: &str = "charts/drop.svg";
/// Where output against a clear sky is drawn by hour and day.
pub const HEAT: &str = "charts/heat.svg";
/// Where it is drawn what ruled the array in each hour.
pub const HOURS: &str = "charts/hours.svg";
/// Where the days' power curves are drawn side by side.
pub const PANELS: &str = "charts/panels.svg";
/// Where it is drawn how long the bank stood below each state of charge.
pub const BELOW: &str = "charts/below.svg";
/// Where the loads are drawn by hour of the day.
pub const LOAD: &str = "charts/load.svg";
/// Where the nights' current is drawn.
pub const NIGHT: &str = "charts/night.svg";

/// Where the options are drawn side by side.
pub const OPTIONS: &str = "charts/options.svg";
/// Where the figures before and after a mend are drawn.
pub const COMPARISON: &str = "charts/comparison.svg";

/// Every chart file there can be.
pub const FILES: [&str; 12] = [
    ACCOUNT, DAYS, CHARGE, DROP, HEAT, HOURS, PANELS, BELOW, LOAD, NIGHT, OPTIONS, COMPARISON,
];

/// The figures behind a chart.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// What the table holds.
    pub caption: String,
    /// Column headings with units.
    pub head: Vec<String>,
    /// Rows; the first cell names the row.
    pub rows: Vec<Vec<String>>,
}

/// A chart as drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct Chart {
    /// Short name, for instance `account`.
    pub name: &'static str,
    /// Path under the output folder, one of [`FILES`].
    pub file: &'static str,
    /// The drawing, fit to stand in a page as well.
    pub svg: String,
    /// What the chart shows, in a sentence.
    pub title: String,
    /// The same in more words, for whoever cannot see it, and how to read it.
    pub description: String,
    /// The figures behind it, where they are few enough to print.
    pub table: Option<Table>,
}

impl Chart {
    /// The drawing as a file of its own: it says which run it is of, as a page with it does once for all.
    pub fn file_of(&self, run: &str) -> String {
        let named = format!("<svg data-run=\"{}\" ", canvas::escape(run));
        self.svg.replacen("<svg ", &named, 1)
    }
}

/// All charts the report has data for, in reading order.
pub fn all(report: &Report) -> Vec<Chart> {
    [
        account::chart(report),
        days::chart(report),
        panels::chart(report),
        hours::chart(report),
        heat::chart(report),
        charge::chart(report),
        below::chart(report),
        load::chart(report),
        night::chart(report),
        drop::chart(report),
        options::chart(report),
        comparison::chart(report),
    ]
    .into_iter()
    .flatten()
    .collect()
}

#[cfg(test)]
mod tests;
