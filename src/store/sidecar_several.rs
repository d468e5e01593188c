//! What a sidecar of version 1 holds beyond one axis and one impression: further axes of a structure, and the choice
//! among the impressions of a fish.

use kurbo::Point;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

use crate::domain::axis::Axis;
use crate::domain::calibration::Calibration;
use crate::domain::reading::{ImpressionReading, OtherAxis};
use crate::domain::several::{FishChoice, Way};
use crate::domain::units::Pixels;

use super::sidecar_v1::{BadValue, MarginV1, MarkV1, bad};

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct OtherAxisV1 {
    pub axis_px: Vec<[f64; 2]>,
    pub margin: MarginV1,
    pub marks: Vec<MarkV1>,
    #[serde(flatten)]
    pub other: Map<String, Value>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct ChoiceV1 {
    pub way: String,
    pub at: String,
    #[serde(flatten)]
    pub other: Map<String, Value>,
}

impl OtherAxisV1 {
    /// The further axes of a reading.
    pub(super) fn all_from(
        reading: &ImpressionReading,
        calibration: Option<&Calibration>,
    ) -> Vec<Self> {
        let one = |other: &OtherAxis| Self {
            axis_px: other.axis.vertices().iter().map(|at| [at.x, at.y]).collect(),
            margin: MarginV1 {
                position_px: other.edge.0,
                position_um: calibration
                    .map(|scale| other.axis.micrometres_at(other.edge, scale).0),
                other: Map::new(),
            },
            marks: MarkV1::all_from(&other.marks, Some(&other.axis), calibration),
            other: Map::new(),
        };
        reading.other_axes.iter().map(one).collect()
    }

    /// The axis, which is the `index`th of its reading.
    pub(super) fn to_axis(&self, index: usize) -> Result<OtherAxis, BadValue> {
        let axis = Axis::new(self.axis_px.iter().map(|[x, y]| Point::new(*x, *y)))
            .map_err(|error| bad(format!("other_axes[{index}].axis_px"), error.to_string()))?;
        let (edge, marks) = (Pixels(self.margin.position_px), MarkV1::to_marks(&self.marks));
        Ok(OtherAxis { axis, edge, marks })
    }
}

impl ChoiceV1 {
    pub(super) fn from_choice(choice: FishChoice) -> Self {
        Self { way: choice.way.word().to_owned(), at: choice.at.to_string(), other: Map::new() }
    }

    pub(super) fn to_choice(&self) -> Result<FishChoice, BadValue> {
        let way = Way::from_word(&self.way).ok_or_else(|| {
            bad("choice.way", format!("expected 'alone' or 'mean', found '{}'", self.way))
        })?;
        let at = self.at.parse().map_err(|_| {
            let found = &self.at;
            bad(
                "choice.at",
                format!("expected a time such as 2025-06-03T14:05:00Z, found '{found}'"),
            )
        })?;
        Ok(FishChoice { way, at })
    }
}
