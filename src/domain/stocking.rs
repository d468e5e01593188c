//! Fish put into a water.

use jiff::civil::Date;

use super::units::Millimetres;

/// One stocking.
#[derive(Debug, Clone, PartialEq)]
pub struct Stocking {
    /// Water as written.
    pub water: String,
    /// Calendar year of the stocking.
    pub year: i16,
    /// The day, where more than the year is known.
    pub date: Option<Date>,
    /// Species as written.
    pub species: String,
    /// Life stage as written, such as fry or fingerling.
    pub life_stage: String,
    /// Number of fish.
    pub number: u32,
    /// Mean length.
    pub size: Option<Millimetres>,
    /// Strain as written.
    pub strain: String,
    /// Mark given; empty for none.
    pub mark_given: String,
    /// Percent of the fish that were marked, 0 to 100; `None` where it is not known.
    pub percent_marked: Option<f64>,
    /// Row of the file it came from, from 1 (the heading).
    pub row: usize,
}

impl Stocking {
    /// True where every fish was marked, so that an unmarked fish is not from this stocking.
    pub fn all_marked(&self) -> bool {
        !self.mark_given.is_empty() && self.percent_marked == Some(100.0)
    }
}
