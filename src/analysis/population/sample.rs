//! The fish an age-length key is made from and used on.

use crate::domain::dates::Date;
use crate::domain::fish::Sex;
use crate::domain::units::Millimetres;

/// A fish that was measured, aged or not; or several of one length that were only counted.
#[derive(Debug, Clone, PartialEq)]
pub struct SampledFish {
    /// Key of the fish; empty where it has none.
    pub fish: String,
    /// Row of the table it came from, from 1 (the heading).
    pub row: usize,
    /// Length at capture.
    pub length: Millimetres,
    /// Age in whole years; `None` where it was not aged.
    pub age: Option<u32>,
    /// Sex.
    pub sex: Sex,
    /// Sampling run; empty where it is not known.
    pub run: String,
    /// Capture date, where known.
    pub captured: Option<Date>,
    /// Number of fish this stands for; more than 1 only for fish that were not aged.
    pub count: u32,
}

impl SampledFish {
    /// An aged fish of which nothing else is known.
    pub fn aged(row: usize, length: Millimetres, age: u32) -> Self {
        Self { age: Some(age), ..Self::unaged(row, length) }
    }

    /// A fish that was only measured.
    pub fn unaged(row: usize, length: Millimetres) -> Self {
        Self {
            fish: String::new(),
            row,
            length,
            age: None,
            sex: Sex::Unknown,
            run: String::new(),
            captured: None,
            count: 1,
        }
    }
}
