//! The regional standard: lengths at age to compare a water with.

use super::fish::{LengthType, Sex};
use super::reading::Structure;

/// What a mean length at age is a mean of. The two are never compared with each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Basis {
    /// Length when caught, by age, in stated months.
    Capture,
    /// Back-calculated length at the annulus.
    Annulus,
}

impl Basis {
    /// The word used in files.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Capture => "capture",
            Self::Annulus => "annulus",
        }
    }

    /// The value for a word, without regard to case.
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::Capture, Self::Annulus]
            .into_iter()
            .find(|basis| basis.word().eq_ignore_ascii_case(word.trim()))
    }
}

/// One age of a reference.
#[derive(Debug, Clone, PartialEq)]
pub struct ReferenceAge {
    /// Species as written.
    pub species: String,
    /// Sex, or `Unknown` for both together.
    pub sex: Sex,
    /// Age, whole years.
    pub age: u32,
    /// Capture or annulus.
    pub basis: Basis,
    /// Months of capture as written, empty for annulus lengths.
    pub months: String,
    /// Length type.
    pub length_type: LengthType,
    /// Structure the ages were read from, where known.
    pub structure: Option<Structure>,
    /// Mean length, mm.
    pub mean_mm: f64,
    /// Standard deviation of single fish, mm.
    pub sd_mm: Option<f64>,
    /// Fish behind it.
    pub n: Option<u32>,
    /// Percentiles as (percent, mm), rising.
    pub percentiles: Vec<(f64, f64)>,
    /// Where it comes from.
    pub source: String,
}
