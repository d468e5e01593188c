//! How hard a crew fished: one run of the gear, with or without a catch.

use jiff::civil::Date;

/// One run of the gear.
#[derive(Debug, Clone, PartialEq)]
pub struct EffortRun {
    /// Name of the run, as on the field sheet.
    pub run: String,
    /// The night, by the date it began.
    pub date: Option<Date>,
    /// Gear as written.
    pub gear: String,
    /// Hours of current on (electrofishing) or of gear in the water; above 0.
    pub hours: f64,
    /// Length of shore fished, metres.
    pub shore_m: Option<f64>,
    /// Species that were picked up; empty where all were.
    pub species_sought: Vec<String>,
    /// Row of the file it came from, from 1 (the heading).
    pub row: usize,
}
