//! Good and poor growth years: increments by age and calendar year.
//!
//! Fixed: y = mean + age + year + e (Weisberg 1993). Mixed: a random effect of the fish besides (Weisberg, Spangler &
//! Richmond 2010), both from memory, arithmetic checked. Year minus age is the year class, so no effect of year class
//! can stand beside the two.

mod design;
mod model;
mod pieces;

pub use model::{YearAdjustedMean, YearEffect, YearEffects};
pub use pieces::connected_pieces;

use design::Design;

/// Growth of one fish in one calendar year: the zone between annuli `age - 1` and `age`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Increment {
    /// Which fish, any numbering.
    pub fish: usize,
    /// Age at the annulus that closes the zone, years, from 1.
    pub age: u32,
    /// Calendar year in which the zone grew: year class + age - 1.
    pub year: i32,
    /// Its size, mm of length or micrometres of radius; above 0.
    pub size: f64,
}

/// The year in which the zone before annulus `age` grew.
pub fn year_of_growth(year_class: i32, age: u32) -> i32 {
    year_class.saturating_add(i32::try_from(age).unwrap_or(i32::MAX)).saturating_sub(1)
}

/// On which scale effects act.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Scale {
    /// Logarithms: a poor year acts as a percentage at every age (common practice, no source).
    #[default]
    Log,
    /// As measured.
    Raw,
}

/// Whether fish differ in growth.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum FishEffect {
    /// A random effect for each fish, by restricted maximum likelihood: for several increments per fish.
    #[default]
    Random,
    /// None. Understates the standard errors when fish differ.
    None,
}

/// Why no year effects can be given.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum YearEffectsError {
    /// An increment that is not above 0.
    #[error("increment {position} is {found}, but must be above 0: check the annuli of that fish")]
    BadIncrement {
        /// Position, from 1.
        position: usize,
        /// The value.
        found: f64,
    },
    /// Fewer increments than ages and years to estimate.
    #[error(
        "{found} increments cannot settle {ages} ages and {years} years: more than {} are needed", ages + years - 1
    )]
    TooFew {
        /// Increments.
        found: usize,
        /// Ages.
        ages: usize,
        /// Years.
        years: usize,
    },
    /// A single year.
    #[error("all increments are of {year}: two years or more are needed to compare years")]
    OneYear {
        /// The year.
        year: i32,
    },
    /// Nothing to work on.
    #[error("there are no increments: back-calculate lengths first")]
    Empty,
    /// The equations are singular.
    #[error(
        "ages and years cannot be told apart in these increments: add fish of other year classes"
    )]
    Singular,
}

/// Year effects of increments whose ages and years hang together. Split others with [`connected_pieces`] first: this
/// gives an error on them.
///
/// # Errors
/// [`YearEffectsError`].
pub fn year_effects(
    increments: &[Increment],
    scale: Scale,
    fish_effect: FishEffect,
) -> Result<YearEffects, YearEffectsError> {
    for (index, increment) in increments.iter().enumerate() {
        if !(increment.size > 0.0 && increment.size.is_finite()) {
            return Err(YearEffectsError::BadIncrement {
                position: index + 1,
                found: increment.size,
            });
        }
    }
    model::solve(&Design::new(increments, scale)?, scale, fish_effect)
}

/// The result for each piece in which ages and years hang together, largest first, each with its increments.
pub fn year_effects_by_piece(
    increments: &[Increment],
    scale: Scale,
    fish_effect: FishEffect,
) -> Vec<(Vec<Increment>, Result<YearEffects, YearEffectsError>)> {
    connected_pieces(increments)
        .into_iter()
        .map(|piece| {
            let result = year_effects(&piece, scale, fish_effect);
            (piece, result)
        })
        .collect()
}
