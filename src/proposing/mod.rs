//! What the program exists for: proposing where the winters are. A proposal is never an annulus until a reader
//! confirms it.

pub mod again;
pub mod bands;
pub mod circuli;
pub mod crowding;
pub mod fan;
pub mod focus;
pub mod frame;
mod jumps;
pub mod learned;
pub mod margin;
pub mod model;
mod model_otolith;
mod model_scale;
pub mod nested;
pub mod network;
pub mod outline;
pub mod plane;
pub mod prepared;
pub mod recalibration;
pub mod refusing;
pub mod ring;
pub mod selection;
pub mod signal;
pub mod slide;
pub mod spectrum;
pub mod strip;
pub mod suggest;
pub mod suggestion;
pub mod zones;

pub use prepared::{Prepared, propose};

use kurbo::{BezPath, Point, Rect};

use crate::domain::axis::Axis;
use crate::domain::calibration::Calibration;
use crate::domain::reading::{Light, Structure};
use crate::domain::units::{Micrometres, Pixels};
use crate::imaging::raster::Raster;

/// What to look at, and what is already known.
#[derive(Debug, Clone)]
pub struct Request<'a> {
    /// The scan.
    pub raster: &'a Raster,
    /// Pixel size.
    pub calibration: Calibration,
    /// What is read; only scales and otoliths get proposals.
    pub structure: Structure,
    /// How it was lit, where known; otherwise it is judged from the picture.
    pub light: Option<Light>,
    /// The impression's box on the scan, image pixels; `None` for the whole picture.
    pub bounds: Option<Rect>,
    /// The focus (or core), where the reader has set it.
    pub focus: Option<Point>,
    /// The axis, where the reader has set it.
    pub axis: Option<Axis>,
}

/// One place where a winter may have left its mark.
#[derive(Debug, Clone, PartialEq)]
pub struct Proposal {
    /// Distance along the axis, pixels: the outer edge of the winter zone.
    pub position: Pixels,
    /// The same on the structure.
    pub radius: Micrometres,
    /// Proximal edge of the winter zone, on the structure.
    pub inner_radius: Micrometres,
    /// The point on the axis, image pixels.
    pub at: Point,
    /// Probability that it is an annulus, 0 to 1, as judged on simulated pictures.
    pub probability: f64,
    /// The ring traced round the structure, image pixels; `None` where it could not be followed.
    pub ring: Option<BezPath>,
    /// Share of the traced arc on which the ring was seen, 0 to 1.
    pub continuity: f64,
}

/// How strong a proposal is, in the word a person is shown: probabilities rest on simulated pictures, so a number would
/// promise more than is known.
pub fn strength_word(probability: f64) -> &'static str {
    if probability >= 0.85 {
        "strong"
    } else if probability >= 0.6 {
        "fair"
    } else {
        "weak"
    }
}

/// Why nothing is proposed on a scan. A result, not an error.
#[derive(Debug, Clone, PartialEq)]
pub enum Refusal {
    /// No structure stands out from the background.
    Empty,
    /// The centre is blank: a regenerated scale.
    Regenerated,
    /// Too blurred or too faint for either model.
    NoEvidence,
    /// Proposals exist for scales and otoliths only.
    StructureByHand,
}

impl Refusal {
    /// One plain sentence: what is wrong and what to do.
    pub fn message(&self) -> &'static str {
        match self {
            Self::Empty => {
                "no structure stands out from the background: check the scan or set the focus and axis by hand"
            }
            Self::Regenerated => {
                "the centre is blank, as on a regenerated scale: use another scale of this fish"
            }
            Self::NoEvidence => {
                "no growth marks can be told apart: rescan sharper or larger, or mark by hand"
            }
            Self::StructureByHand => {
                "proposals exist for scales and otoliths only: mark this structure by hand"
            }
        }
    }
}

/// The evidence along the axis, for the profile panel: one value per pixel step from the focus on.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct AxisEvidence {
    /// Distance between samples along the axis, pixels.
    pub step_px: f64,
    /// Band-averaged grey value, in units of the picture's white (0 to 1).
    pub intensity: Vec<f64>,
    /// Local circulus spacing, micrometres; `NaN` where it cannot be told. Empty on otoliths.
    pub spacing_um: Vec<f64>,
}

/// All that was found on one impression.
#[derive(Debug, Clone, PartialEq)]
pub struct Proposals {
    /// The axis used: as given, or suggested. `None` when refused before one was found.
    pub axis: Option<Axis>,
    /// Where the margin lies along the axis, pixels.
    pub edge: Option<Pixels>,
    /// The light used.
    pub light: Option<Light>,
    /// Proposed annuli in order of distance.
    pub annuli: Vec<Proposal>,
    /// Candidates judged to be checks.
    pub checks: Vec<Proposal>,
    /// Candidates below the threshold, still open to the reader.
    pub alternatives: Vec<Proposal>,
    /// Probability that an annulus lies at the very edge.
    pub edge_annulus: Option<f64>,
    /// Why nothing is proposed.
    pub refused: Option<Refusal>,
    /// What the reader should know about this result, each one plain sentence.
    pub warnings: Vec<String>,
    /// How far what the program suggested itself can be relied on.
    pub suggested: suggestion::Suggested,
    /// Profile and spacing along the axis.
    pub evidence: AxisEvidence,
}

impl Proposals {
    /// A result that proposes nothing, with its reason.
    pub fn refused(reason: Refusal) -> Self {
        Self {
            axis: None,
            edge: None,
            light: None,
            annuli: Vec::new(),
            checks: Vec::new(),
            alternatives: Vec::new(),
            edge_annulus: None,
            refused: Some(reason),
            warnings: Vec::new(),
            suggested: suggestion::Suggested::default(),
            evidence: AxisEvidence::default(),
        }
    }
}
