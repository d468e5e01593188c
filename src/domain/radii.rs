//! Radii measured on one structure, as a table row: what a spreadsheet of measurements holds.

use jiff::civil::Date;

use super::fish::Sex;
use super::units::{Micrometres, Millimetres};

/// One row of a table of radii: one structure of one fish.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RadiiRow {
    /// Fish number as text, leading zeros kept.
    pub fish: String,
    /// Line of the file it came from, from 1 (the heading).
    pub row: usize,
    /// Species as written; empty where not said.
    pub species: String,
    /// Sex.
    pub sex: Sex,
    /// Water as written; empty where not said.
    pub water: String,
    /// Length at capture.
    pub length: Option<Millimetres>,
    /// Total radius, focus to edge.
    pub radius: Option<Micrometres>,
    /// Annulus radii in the order of the columns.
    pub annuli: Vec<Micrometres>,
    /// Capture date.
    pub captured: Option<Date>,
    /// Year class, where known.
    pub year_class: Option<i16>,
}
