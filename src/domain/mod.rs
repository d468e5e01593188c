//! Words and units of the trade. Nothing here opens a file or draws.

pub mod age;
pub mod axis;
pub mod calibration;
pub mod fish;
pub mod progress;
pub mod radii;
pub mod reading;
pub mod survey;
pub mod units;
