//! What a comparison of waters keeps of a survey: the lengths at age of its fish, and how many were left out and why.
//!
//! A million fish are held at once, so a fish here is only what a standard needs of it.

use super::fish::{LengthType, Sex};
use super::reading::Structure;
use super::reference::LengthBasis;

/// A survey as a comparison sees it.
#[derive(Debug, Clone, PartialEq)]
pub struct SurveySummary {
    /// Name of the survey.
    pub name: String,
    /// Its water.
    pub water: String,
    /// Structure read.
    pub structure: Structure,
    /// Whose ages they are: a reader's initials, or a rule in words.
    pub ages_by: String,
    /// One line for each row or file that could not be used.
    pub faults: Vec<String>,
    /// What is worth a word besides.
    pub notes: Vec<String>,
    /// The species of aged fish, in the order of the field sheet, each with its lengths or why there are none.
    pub species: Vec<(String, Result<AgedLengths, String>)>,
}

/// Lengths at age of one species in one survey.
#[derive(Debug, Clone, PartialEq)]
pub struct AgedLengths {
    /// Capture or annulus.
    pub basis: LengthBasis,
    /// How the lengths were taken.
    pub length_type: LengthType,
    /// Fish with lengths, in the order of the field sheet.
    pub fish: Vec<ComparedFish>,
    /// Fish without, by name; empty where a summary only counts them.
    pub left_out: Vec<LeftOut>,
    /// How many were left out for each reason, in the order in which reasons first occur.
    pub left_out_by_reason: Vec<(String, usize)>,
}

/// A fish of a comparison.
#[derive(Debug, Clone, PartialEq)]
pub struct ComparedFish {
    /// Key of the fish; empty where a summary keeps no names.
    pub key: String,
    /// Its row of the field sheet.
    pub row: usize,
    /// Sex.
    pub sex: Sex,
    /// Year and month (1 to 12) of capture.
    pub captured: Option<(i16, u8)>,
    /// Whole age and length in mm: one pair at capture, or one for each annulus.
    pub lengths_mm: Vec<(u32, f64)>,
}

/// A fish that brings no lengths, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LeftOut {
    /// Key of the fish.
    pub fish: String,
    /// Its row of the field sheet.
    pub row: usize,
    /// Why.
    pub reason: String,
}

impl AgedLengths {
    /// Months the fish were caught in, 1 to 12, rising.
    pub fn months(&self) -> Vec<u8> {
        let mut months: Vec<u8> =
            self.fish.iter().filter_map(|fish| fish.captured.map(|(_, month)| month)).collect();
        months.sort_unstable();
        months.dedup();
        months
    }
}

/// How many fish were left out for each reason, in the order in which reasons first occur.
pub fn count_reasons<'a>(reasons: impl IntoIterator<Item = &'a str>) -> Vec<(String, usize)> {
    let mut counts: Vec<(String, usize)> = Vec::new();
    for reason in reasons {
        match counts.iter_mut().find(|(known, _)| known == reason) {
            Some((_, n)) => *n += 1,
            None => counts.push((reason.to_owned(), 1)),
        }
    }
    counts
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reasons_are_counted_in_their_order() {
        let counts = count_reasons(["no reading", "no length", "no reading"]);
        assert_eq!(counts, [("no reading".to_owned(), 2), ("no length".to_owned(), 1)]);
    }
}
