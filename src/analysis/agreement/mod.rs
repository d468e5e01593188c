//! How well readers agree: precision, bias, symmetry, chance-corrected agreement, and what follows from them.
//!
//! Start at [`comparison::compare`]. Agreement is precision, not accuracy; accuracy needs known ages and has its
//! own file, [`known_age`].

pub mod alignment;
pub mod bias;
pub mod by_age;
pub mod comparison;
pub mod icc;
pub mod kappa;
pub mod known_age;
pub mod limits;
pub mod marginal;
pub mod matching;
pub mod matrix;
mod null_distribution;
pub mod precision;
pub mod readings;
pub mod symmetry;
pub mod verdict;

/// Why ages could not be compared.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum AgreementError {
    /// Fewer than two readers.
    #[error("agreement needs at least two readers, found {found}: name two or more")]
    TooFewReaders {
        /// Readers found.
        found: usize,
    },
    /// A reader who has no column of ages.
    #[error("no ages by reader '{name}': choose among {known}")]
    UnknownReader {
        /// The name asked for.
        name: String,
        /// The readers there are.
        known: String,
    },
    /// The same reader named twice.
    #[error("reader '{name}' is named twice: name each reader once")]
    RepeatedReader {
        /// The name.
        name: String,
    },
    /// Columns that do not hold the same number of fish.
    #[error("reader '{name}' has {found} ages where {expected} are expected")]
    UnevenColumns {
        /// The reader.
        name: String,
        /// Ages found.
        found: usize,
        /// Ages expected.
        expected: usize,
    },
    /// An age that no fish reaches.
    #[error("reader '{name}', fish {index}: age {age} is above 500 years: correct it")]
    AgeTooHigh {
        /// The reader.
        name: String,
        /// Position of the fish from 1.
        index: usize,
        /// The age.
        age: u32,
    },
}
