//! From the ages of some fish to the ages of all: age-length key, age composition, catch per hour by age, mortality and
//! the strength of year classes.
//!
//! Start at [`study::age_study`]. A key holds for one species, water, year and season; ages should have been taken by
//! length group, and assigned ages never enter comparisons of readers.

pub mod age_length_key;
pub mod ageing_sample;
pub mod assignment;
pub mod catch_curve;
pub mod catch_per_effort;
pub mod chapman_robson;
pub mod composition;
pub mod length_groups;
pub mod sample;
pub mod study;
pub mod warning;
pub mod weighted_lengths;
pub mod weighted_regression;
pub mod year_class_strength;

/// Why ages of a whole sample could not be worked out.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PopulationError {
    /// A group width that is none.
    #[error("the width of a length group is {found}: give a number above 0, at least {least}")]
    BadWidth {
        /// Width found.
        found: f64,
        /// Least width, in the same unit.
        least: f64,
    },
    /// Nothing to make a key from.
    #[error("no fish has both a length and an age: an age-length key needs aged fish")]
    NoAgedFish,
    /// Length groups with fish and no age.
    #[error(
        "no fish was aged in the length {} {}, which {} {n_fish} fish: age some, or allow the group to be merged \
         with its nearest neighbour or to borrow the ages of its neighbours",
        if groups.len() == 1 { "group" } else { "groups" },
        groups.join(", "),
        if groups.len() == 1 { "holds" } else { "hold" }
    )]
    EmptyGroups {
        /// The groups, as "200-225 mm".
        groups: Vec<String>,
        /// Fish in them.
        n_fish: u64,
    },
    /// An age that no fish reaches.
    #[error("row {row}: age {age} is above {} years: correct it", crate::domain::ages::OLDEST_AGE)]
    AgeTooHigh {
        /// Row of the fish.
        row: usize,
        /// Age found.
        age: u32,
    },
    /// A length that is none.
    #[error("row {row}: the length {length_mm} mm is not above 0: correct it")]
    BadLength {
        /// Row of the fish.
        row: usize,
        /// Length found.
        length_mm: f64,
    },
    /// Effort that is none.
    #[error("the effort is {found} hours: give a number above 0")]
    BadEffort {
        /// Hours found.
        found: f64,
    },
}
