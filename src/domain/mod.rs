//! Words and units of the trade. Nothing here opens a file or draws.

pub mod age;
pub mod ages;
pub mod axis;
pub mod blind;
pub mod calibration;
pub mod calibration_fit;
pub mod dates;
pub mod effort;
pub mod exclusion;
pub mod fish;
pub mod length_at_age;
pub mod one_line;
pub mod progress;
pub mod radii;
pub mod reading;
pub mod reference;
pub mod resolution;
pub mod several;
pub mod stocking;
pub mod survey;
pub mod survey_summary;
pub mod units;
