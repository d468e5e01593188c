//! The methods by name, and what each needs to be told.

use crate::domain::age::MonthDay;
use crate::domain::fish::LengthType;
use crate::domain::reading::Structure;
use crate::domain::units::{Micrometres, Millimetres};

use super::BackCalculationError;

/// Which line supplies a Fraser-Lee intercept.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum InterceptLine {
    /// Ordinary least squares of length on radius (the custom).
    #[default]
    LeastSquares,
    /// The geometric-mean line: allowed for the intercept only; it belongs to neither hypothesis.
    GeometricMean,
}

impl InterceptLine {
    /// The word used in files and on the command line: `ols` or `gm`.
    pub const fn word(self) -> &'static str {
        match self {
            Self::LeastSquares => "ols",
            Self::GeometricMean => "gm",
        }
    }

    /// The value for a word.
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::LeastSquares, Self::GeometricMean].into_iter().find(|line| line.word() == word)
    }
}

/// Where an intercept comes from.
#[derive(Debug, Clone, PartialEq)]
pub enum Intercept {
    /// Fitted on this sample.
    Fitted(InterceptLine),
    /// Entered by a person, with where it was taken from.
    Given {
        /// The intercept.
        length: Millimetres,
        /// Its source in words; may be empty.
        source: String,
    },
    /// A published standard intercept for a species, entered by a person who has checked the source. For scales
    /// and total lengths only (Carlander 1982, cited from memory). The program ships no values.
    Standard {
        /// The intercept.
        length: Millimetres,
        /// Species it was published for.
        species: String,
        /// Publication and page; must not be empty.
        source: String,
    },
}

/// A known early event: length and radius then (the biological intercept).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Origin {
    /// Length of the fish at the event.
    pub length: Millimetres,
    /// Radius of the structure at the event; 0 is allowed for the biological intercept.
    pub radius: Micrometres,
}

/// A way from radii to lengths.
#[derive(Debug, Clone, PartialEq)]
pub enum Method {
    /// Length in direct proportion to radius.
    DirectProportion,
    /// Direct proportion above an intercept.
    FraserLee(Intercept),
    /// Scale-proportional hypothesis, line of radius on length.
    ScaleProportional,
    /// Body-proportional hypothesis, line of length on radius.
    BodyProportional,
    /// Scale-proportional hypothesis, power of length.
    PowerScaleProportional,
    /// Body-proportional hypothesis, power of radius.
    PowerBodyProportional,
    /// Scale-proportional hypothesis, parabola of radius on length.
    QuadraticScaleProportional,
    /// Body-proportional hypothesis, parabola of length on radius.
    QuadraticBodyProportional,
    /// A straight line from a known early event.
    BiologicalIntercept(Origin),
    /// A power curve through a known early event.
    ModifiedFry {
        /// The event.
        origin: Origin,
        /// The length at which the curve starts; fitted on the sample where `None`.
        intercept: Option<Millimetres>,
    },
    /// Scale-proportional hypothesis with age at capture in the relation.
    AgeEffect,
}

impl Method {
    /// The name used in files and on the command line.
    pub const fn word(&self) -> &'static str {
        match self {
            Self::DirectProportion => "direct-proportion",
            Self::FraserLee(_) => "fraser-lee",
            Self::ScaleProportional => "scale-proportional",
            Self::BodyProportional => "body-proportional",
            Self::PowerScaleProportional => "power-scale-proportional",
            Self::PowerBodyProportional => "power-body-proportional",
            Self::QuadraticScaleProportional => "quadratic-scale-proportional",
            Self::QuadraticBodyProportional => "quadratic-body-proportional",
            Self::BiologicalIntercept(_) => "biological-intercept",
            Self::ModifiedFry { .. } => "modified-fry",
            Self::AgeEffect => "age-effect",
        }
    }

    /// What the method takes for granted, for the report that uses it.
    pub const fn assumption(&self) -> &'static str {
        match self {
            Self::DirectProportion => {
                "length grows in direct proportion to the radius from the start (Lea 1910)"
            }
            Self::FraserLee(_) => {
                "length above the intercept grows in proportion to the radius (Fraser 1916; Lee 1920)"
            }
            Self::ScaleProportional
            | Self::PowerScaleProportional
            | Self::QuadraticScaleProportional => {
                "a structure larger than average for its fish's length by some percentage always was (Francis 1990)"
            }
            Self::BodyProportional
            | Self::PowerBodyProportional
            | Self::QuadraticBodyProportional => {
                "a fish longer than average for its structure by some percentage always was (Francis 1990)"
            }
            Self::BiologicalIntercept(_) => {
                "length and radius grow along a line from one early event, the same for all fish (Campana 1990)"
            }
            Self::ModifiedFry { .. } => {
                "length and radius grow along a power curve from one early event (Vigliola and others 2000)"
            }
            Self::AgeEffect => {
                "the structure also grows with age, by the same amount each year (Morita & Matsuishi 2001)"
            }
        }
    }
}

/// Settings that hold for the whole sample.
#[derive(Debug, Clone, PartialEq)]
pub struct Options {
    /// The structure the radii were measured on.
    pub structure: Structure,
    /// Birthday of every fish, for year classes.
    pub birthday: MonthDay,
    /// Length at hatching: smaller back-calculated lengths are flagged.
    pub hatching_length: Option<Millimetres>,
}

impl Default for Options {
    fn default() -> Self {
        Self { structure: Structure::Scale, birthday: MonthDay::NEW_YEAR, hatching_length: None }
    }
}

/// May a standard intercept be used on this sample?
pub(super) fn check_standard_intercept(
    (species, source): (&str, &str),
    structure: Structure,
    length_type: LengthType,
    species_in_sample: &[&str],
) -> Result<(), BackCalculationError> {
    if structure != Structure::Scale {
        return Err(BackCalculationError::StandardInterceptNeedsScales { found: structure.word() });
    }
    if length_type != LengthType::Total {
        return Err(BackCalculationError::StandardInterceptNeedsTotalLength {
            found: length_type.word(),
        });
    }
    if source.trim().is_empty() {
        return Err(BackCalculationError::StandardInterceptNeedsSource);
    }
    let same = |other: &&&str| other.trim().eq_ignore_ascii_case(species.trim());
    match species_in_sample.iter().find(|other| !other.trim().is_empty() && !same(other)) {
        Some(other) => Err(BackCalculationError::StandardInterceptForOtherSpecies {
            species: species.to_owned(),
            found: (*other).to_owned(),
        }),
        None => Ok(()),
    }
}
