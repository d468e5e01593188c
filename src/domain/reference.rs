//! The regional standard: mean length at age in other waters, by the books of an agency.

use super::fish::{LengthType, Sex};
use super::reading::Structure;
use super::units::Millimetres;

/// What a mean length at age is the mean of. The two are never mixed in a comparison.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum LengthBasis {
    /// Length at capture of fish of that age, in stated months.
    Capture,
    /// Back-calculated length at that annulus.
    Annulus,
}

impl LengthBasis {
    /// The word used in files and on screen.
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

/// Length at one age in the regional standard.
#[derive(Debug, Clone, PartialEq)]
pub struct ReferenceLength {
    /// Species as written.
    pub species: String,
    /// Sex; unknown where both are together.
    pub sex: Sex,
    /// Age, or number of the annulus.
    pub age: u32,
    /// What the mean is the mean of.
    pub basis: LengthBasis,
    /// Months of capture, 1 to 12, in order of the season; empty where not stated.
    pub months: Vec<u8>,
    /// How the lengths were taken.
    pub length_type: LengthType,
    /// The structure that was read, where stated.
    pub structure: Option<Structure>,
    /// Mean length.
    pub mean: Millimetres,
    /// Standard deviation among fish (or waters, as the source has it).
    pub sd: Option<Millimetres>,
    /// Number of fish or waters.
    pub n: Option<u32>,
    /// Percent and length, both increasing.
    pub percentiles: Vec<(f64, Millimetres)>,
    /// Where it was published.
    pub source: String,
    /// Row of the file it came from, from 1 (the heading).
    pub row: usize,
}
