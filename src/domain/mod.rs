//! Words and units of the trade. Nothing here opens a file or draws.

pub mod age;
pub mod ages;
pub mod axis;
pub mod calibration;
pub mod fish;
pub mod progress;
pub mod radii;
pub mod reading;
pub mod survey;
pub mod units;

/// A calendar day, for the rooms that only pass it on.
pub use jiff::civil::Date;
