//! What is known of each error, and where that knowledge comes from.

use crate::analysis::back_calculation::{Radii, SampleFish};

/// A source of error.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Source {
    /// Where annuli and margin were set along the axis.
    Marks,
    /// Where the focus was set.
    Focus,
    /// Length at capture.
    Length,
    /// The pixel size.
    Calibration,
    /// Another reader would have read otherwise.
    Readers,
    /// The relation of length and radius, or the given intercept.
    Relation,
    /// Other fish would have been caught.
    Sampling,
}

impl Source {
    /// All, in the order of the tables.
    pub const ALL: [Self; 7] = [
        Self::Marks,
        Self::Focus,
        Self::Length,
        Self::Calibration,
        Self::Readers,
        Self::Relation,
        Self::Sampling,
    ];

    /// Its name in tables and files.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Marks => "mark placement",
            Self::Focus => "focus placement",
            Self::Length => "length at capture",
            Self::Calibration => "calibration",
            Self::Readers => "disagreement of readers",
            Self::Relation => "relation of length and radius",
            Self::Sampling => "sampling of fish",
        }
    }

    /// True for errors of each fish by itself, which are part of the scatter among fish.
    pub const fn is_of_single_fish(self) -> bool {
        matches!(self, Self::Marks | Self::Focus | Self::Length)
    }
}

/// The size of an error, or why it is not known. Nothing is ever taken as 0 in silence.
#[derive(Debug, Clone, PartialEq)]
pub enum Known {
    /// A standard deviation and where it was taken from.
    Sd {
        /// In the unit of the field it stands in.
        sd: f64,
        /// One plain phrase.
        origin: String,
    },
    /// It is not known; one plain sentence says why and what would supply it.
    Missing(String),
}

impl Known {
    /// The standard deviation, 0 where it is not known.
    pub fn sd_or_none(&self) -> f64 {
        match self {
            Self::Sd { sd, .. } => *sd,
            Self::Missing(_) => 0.0,
        }
    }
}

/// All that is known of errors.
#[derive(Debug, Clone, PartialEq)]
pub struct ErrorInputs {
    /// Of a mark, annulus or margin, along the axis, µm.
    pub marks_um: Known,
    /// Of the focus along the axis, µm.
    pub focus_um: Known,
    /// Of a length at capture, mm.
    pub length_mm: Known,
    /// Of the pixel size, relative (0.005: half a percent).
    pub calibration: Known,
    /// Of a given or standard intercept, mm. A fitted relation is drawn from the fish and needs none.
    pub intercept_mm: Known,
}

impl ErrorInputs {
    /// Nothing known but the fish themselves.
    pub fn unknown() -> Self {
        let missing = |what: &str| Known::Missing(format!("{what} is not known"));
        Self {
            marks_um: missing("the error of a mark"),
            focus_um: missing("the error of the focus"),
            length_mm: missing("the error of a length at capture"),
            calibration: missing("the error of the pixel size"),
            intercept_mm: missing("the error of the intercept"),
        }
    }
}

/// The same fish as somebody else read it.
#[derive(Debug, Clone, PartialEq)]
pub struct OtherReading {
    /// Radii of each structure.
    pub structures: Vec<Radii>,
    /// The edge stands for this year's annulus.
    pub edge_counted: bool,
}

/// A fish with all that may be drawn for it.
#[derive(Debug, Clone, PartialEq)]
pub struct UncertainFish {
    /// The fish as it enters the analysis.
    pub fish: SampleFish,
    /// Readings by other readers; one of all readings is drawn in each replicate.
    pub others: Vec<OtherReading>,
    /// Scans with the same calibration share its error: fish of one number share one draw.
    pub calibration_group: usize,
    /// Part of a year beyond the whole age at capture, 0 to 1; for curves through lengths at capture.
    pub part_of_year: f64,
}

impl UncertainFish {
    /// A fish read once, on the calibration of all.
    pub fn once(fish: SampleFish) -> Self {
        Self { fish, others: Vec::new(), calibration_group: 0, part_of_year: 0.0 }
    }
}

/// Which lengths a curve is fitted to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum CurveRows {
    /// The length at the last annulus of each fish.
    #[default]
    LastAnnulus,
    /// The lengths at all annuli; those of one fish are not independent.
    AllAnnuli,
    /// The length at capture.
    AtCapture,
}

/// What the limits speak of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Scope {
    /// The population the fish were drawn from.
    #[default]
    Population,
    /// These very fish: no sampling, errors of measurement alone.
    TheseFish,
}
