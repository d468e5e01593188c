//! Version 1 of a sidecar, key for key. `docs/sidecar.md` explains it; `docs/sidecar.schema.json` describes it.
//!
//! Every object keeps the keys it does not know in `other`, so that they survive a rewrite.

use kurbo::{Point, Rect};
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

use crate::domain::axis::Axis;
use crate::domain::calibration::{Calibration, CalibrationSource};
use crate::domain::reading::{
    Certainty, Confidence, EdgeCondition, ImpressionReading, Light, Mark, MarkKind, MarkOrigin,
    Outcome, ReaderInitials, ReadingConditions, ReadingState, ScanIdentity, ScanReading, Structure,
};
use crate::domain::units::Pixels;

use super::sidecar_several::{ChoiceV1, OtherAxisV1};
use super::word::Word;

pub(super) const FORMAT: &str = "winterline-readings";
pub(super) const VERSION: u64 = 1;

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct SidecarV1 {
    pub format: String,
    pub version: u64,
    pub program_version: String,
    pub scan: ScanV1,
    pub reader: String,
    pub calibration: Option<CalibrationV1>,
    pub impressions: Vec<ImpressionV1>,
    /// Confirmed readings that the reader has since replaced, oldest first.
    #[serde(default)]
    pub earlier: Vec<ImpressionV1>,
    #[serde(flatten)]
    pub other: Map<String, Value>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct ScanV1 {
    pub file: String,
    pub width_px: u32,
    pub height_px: u32,
    pub blake3: String,
    #[serde(flatten)]
    pub other: Map<String, Value>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct CalibrationV1 {
    pub x_um_per_px: f64,
    pub y_um_per_px: f64,
    pub source: Word<CalibrationSource>,
    pub se_um_per_px: Option<f64>,
    #[serde(flatten)]
    pub other: Map<String, Value>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct ImpressionV1 {
    pub number: u32,
    pub fish: String,
    pub state: Word<ReadingState>,
    pub structure: Word<Structure>,
    pub light: Option<Word<Light>>,
    pub box_px: Option<BoxV1>,
    pub focus_px: Option<[f64; 2]>,
    pub axis_px: Option<Vec<[f64; 2]>>,
    pub margin: Option<MarginV1>,
    pub marks: Vec<MarkV1>,
    pub outcome: Option<Word<Outcome>>,
    pub age: Option<u32>,
    pub confidence: Option<Word<Confidence>>,
    pub edge_condition: Option<Word<EdgeCondition>>,
    pub proposals_shown: bool,
    pub length_shown: bool,
    pub blind_list: Option<String>,
    pub started: Option<String>,
    pub confirmed: Option<String>,
    pub note: String,
    /// Written only where there are any, as is `choice`.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub other_axes: Vec<OtherAxisV1>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub choice: Option<ChoiceV1>,
    #[serde(flatten)]
    pub other: Map<String, Value>,
}

/// Corners rather than sizes: they come back exactly.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct BoxV1 {
    pub left: f64,
    pub top: f64,
    pub right: f64,
    pub bottom: f64,
    #[serde(flatten)]
    pub other: Map<String, Value>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct MarginV1 {
    pub position_px: f64,
    pub position_um: Option<f64>,
    #[serde(flatten)]
    pub other: Map<String, Value>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct MarkV1 {
    pub kind: Word<MarkKind>,
    pub position_px: f64,
    pub position_um: Option<f64>,
    pub origin: Word<MarkOrigin>,
    pub certainty: Word<Certainty>,
    #[serde(flatten)]
    pub other: Map<String, Value>,
}

/// A value that is well formed and still makes no sense, with its key path.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct BadValue {
    pub key: String,
    pub reason: String,
}

pub(super) fn bad(key: impl Into<String>, reason: impl Into<String>) -> BadValue {
    BadValue { key: key.into(), reason: reason.into() }
}

impl SidecarV1 {
    /// The file for `reading`, with nothing but what the domain knows.
    pub(super) fn from_reading(reading: &ScanReading) -> Self {
        let calibration = reading.calibration.as_ref();
        Self {
            format: FORMAT.to_owned(),
            version: VERSION,
            program_version: env!("CARGO_PKG_VERSION").to_owned(),
            scan: ScanV1::of(&reading.scan),
            reader: reading.reader.as_str().to_owned(),
            calibration: calibration.map(CalibrationV1::of),
            impressions: reading
                .impressions
                .iter()
                .map(|impression| ImpressionV1::from_reading(impression, calibration))
                .collect(),
            earlier: Vec::new(),
            other: Map::new(),
        }
    }

    pub(super) fn to_reading(&self) -> Result<ScanReading, BadValue> {
        let reader =
            ReaderInitials::new(&self.reader).map_err(|error| bad("reader", error.to_string()))?;
        let calibration = self.calibration.as_ref().map(CalibrationV1::to_calibration);
        let impressions = self.impressions.iter().enumerate().map(|(index, impression)| {
            impression
                .to_reading()
                .map_err(|error| bad(format!("impressions[{index}].{}", error.key), error.reason))
        });
        Ok(ScanReading {
            scan: self.scan.to_identity(),
            reader,
            calibration: calibration.transpose()?,
            impressions: impressions.collect::<Result<_, _>>()?,
        })
    }
}

impl SidecarV1 {
    /// Key paths of micrometres that `reading`, which this file gave, would write otherwise by more than rounding.
    pub(super) fn stale_micrometres(&self, reading: &ScanReading) -> Vec<String> {
        let fresh = Self::from_reading(reading);
        let same_place = |found: &MarkV1, fresh: &ImpressionV1| {
            fresh.marks.iter().find(|mark| mark.position_px == found.position_px)?.position_um
        };
        let is_stale = |found: Option<f64>, fresh: Option<f64>| match (found, fresh) {
            (Some(found), Some(fresh)) => (found - fresh).abs() > 0.01 + 1e-6 * fresh.abs(),
            _ => false,
        };
        let mut keys = Vec::new();
        for (index, (found, fresh)) in self.impressions.iter().zip(&fresh.impressions).enumerate() {
            if let (Some(found), Some(fresh)) = (&found.margin, &fresh.margin)
                && is_stale(found.position_um, fresh.position_um)
            {
                keys.push(format!("impressions[{index}].margin.position_um"));
            }
            for (mark, found) in found.marks.iter().enumerate() {
                if is_stale(found.position_um, same_place(found, fresh)) {
                    keys.push(format!("impressions[{index}].marks[{mark}].position_um"));
                }
            }
        }
        keys
    }
}

impl CalibrationV1 {
    pub(super) fn of(calibration: &Calibration) -> Self {
        Self {
            x_um_per_px: calibration.x_um_per_px(),
            y_um_per_px: calibration.y_um_per_px(),
            source: Word(calibration.source.clone()),
            se_um_per_px: calibration.se_um_per_px,
            other: Map::new(),
        }
    }

    pub(super) fn to_calibration(&self) -> Result<Calibration, BadValue> {
        let mut calibration =
            Calibration::new(self.x_um_per_px, self.y_um_per_px, self.source.0.clone())
                .map_err(|error| bad("calibration", error.to_string()))?;
        calibration.se_um_per_px = self.se_um_per_px;
        Ok(calibration)
    }
}

impl ImpressionV1 {
    pub(super) fn from_reading(
        reading: &ImpressionReading,
        calibration: Option<&Calibration>,
    ) -> Self {
        let axis = reading.axis.as_ref();
        let position_um = |position: Pixels| {
            axis.zip(calibration).map(|(axis, scale)| axis.micrometres_at(position, scale).0)
        };
        let pair = |point: Point| [point.x, point.y];
        Self {
            number: reading.number,
            fish: reading.fish.clone(),
            state: Word(reading.state),
            structure: Word(reading.structure),
            light: reading.light.map(Word),
            box_px: reading.bounds.map(BoxV1::from_rect),
            focus_px: axis.map(|axis| pair(axis.focus())),
            axis_px: axis.map(|axis| axis.vertices().iter().copied().map(pair).collect()),
            margin: reading.edge.map(|edge| MarginV1 {
                position_px: edge.0,
                position_um: position_um(edge),
                other: Map::new(),
            }),
            marks: MarkV1::all_from(&reading.marks, axis, calibration),
            outcome: reading.outcome.map(Word),
            age: reading.age,
            confidence: reading.confidence.map(Word),
            edge_condition: reading.edge_condition.map(Word),
            proposals_shown: reading.conditions.proposals_shown,
            length_shown: reading.conditions.length_shown,
            blind_list: reading.conditions.blind_list.clone(),
            started: reading.started.map(|time| time.to_string()),
            confirmed: reading.confirmed.map(|time| time.to_string()),
            note: reading.note.clone(),
            other_axes: OtherAxisV1::all_from(reading, calibration),
            choice: reading.choice.map(ChoiceV1::from_choice),
            other: Map::new(),
        }
    }

    pub(super) fn to_reading(&self) -> Result<ImpressionReading, BadValue> {
        let time = |key: &str, text: &Option<String>| {
            text.as_deref()
                .map(|text| {
                    text.parse().map_err(|_| {
                        bad(
                            key,
                            format!("expected a time such as 2025-06-03T14:05:00Z, found '{text}'"),
                        )
                    })
                })
                .transpose()
        };
        let marks = MarkV1::to_marks(&self.marks);
        Ok(ImpressionReading {
            number: self.number,
            bounds: self.box_px.as_ref().map(BoxV1::to_rect),
            fish: self.fish.clone(),
            structure: self.structure.0,
            light: self.light.map(|word| word.0),
            axis: self.axis()?,
            edge: self.margin.as_ref().map(|margin| Pixels(margin.position_px)),
            marks,
            edge_condition: self.edge_condition.map(|word| word.0),
            outcome: self.outcome.map(|word| word.0),
            age: self.age,
            confidence: self.confidence.map(|word| word.0),
            state: self.state.0,
            conditions: ReadingConditions {
                proposals_shown: self.proposals_shown,
                length_shown: self.length_shown,
                blind_list: self.blind_list.clone(),
            },
            started: time("started", &self.started)?,
            confirmed: time("confirmed", &self.confirmed)?,
            note: self.note.clone(),
            other_axes: self
                .other_axes
                .iter()
                .enumerate()
                .map(|(index, other)| other.to_axis(index))
                .collect::<Result<_, _>>()?,
            choice: self.choice.as_ref().map(ChoiceV1::to_choice).transpose()?,
        })
    }

    fn axis(&self) -> Result<Option<Axis>, BadValue> {
        let Some(points) = &self.axis_px else { return Ok(None) };
        let axis = Axis::new(points.iter().map(|[x, y]| Point::new(*x, *y)))
            .map_err(|error| bad("axis_px", error.to_string()))?;
        let focus = axis.focus();
        match self.focus_px {
            Some([x, y]) if Point::new(x, y) != focus => Err(bad(
                "focus_px",
                format!(
                    "expected the first point of axis_px, [{}, {}], found [{x}, {y}]",
                    focus.x, focus.y
                ),
            )),
            _ => Ok(Some(axis)),
        }
    }
}

impl MarkV1 {
    /// Marks along `axis` as they are written.
    pub(super) fn all_from(
        marks: &[Mark],
        axis: Option<&Axis>,
        calibration: Option<&Calibration>,
    ) -> Vec<Self> {
        let scale = axis.zip(calibration);
        let one = |mark: &Mark| Self {
            kind: Word(mark.kind),
            position_px: mark.position.0,
            position_um: scale.map(|(axis, scale)| axis.micrometres_at(mark.position, scale).0),
            origin: Word(mark.origin),
            certainty: Word(mark.certainty),
            other: Map::new(),
        };
        marks.iter().map(one).collect()
    }

    /// The marks, in order: another program, or a hand, may have written them in any.
    pub(super) fn to_marks(all: &[Self]) -> Vec<Mark> {
        let marks = all.iter().map(|mark| Mark {
            kind: mark.kind.0,
            position: Pixels(mark.position_px),
            origin: mark.origin.0,
            certainty: mark.certainty.0,
        });
        let mut marks: Vec<Mark> = marks.collect();
        marks.sort_by(|a, b| a.position.0.total_cmp(&b.position.0));
        marks
    }
}

impl ScanV1 {
    pub(super) fn of(scan: &ScanIdentity) -> Self {
        Self {
            file: scan.file.clone(),
            width_px: scan.width_px,
            height_px: scan.height_px,
            blake3: scan.blake3.clone(),
            other: Map::new(),
        }
    }

    pub(super) fn to_identity(&self) -> ScanIdentity {
        ScanIdentity {
            file: self.file.clone(),
            width_px: self.width_px,
            height_px: self.height_px,
            blake3: self.blake3.clone(),
        }
    }
}

impl BoxV1 {
    pub(super) fn from_rect(rect: Rect) -> Self {
        Self { left: rect.x0, top: rect.y0, right: rect.x1, bottom: rect.y1, other: Map::new() }
    }

    pub(super) fn to_rect(&self) -> Rect {
        Rect::new(self.left, self.top, self.right, self.bottom)
    }
}

/// What keeps an impression from being written: JSON has no infinities, and a signature needs an outcome.
pub(super) fn fault_in_impression(reading: &ImpressionReading) -> Option<String> {
    let rect = reading.bounds.unwrap_or_default();
    let numbers = [rect.x0, rect.y0, rect.x1, rect.y1]
        .into_iter()
        .chain(reading.edge.map(|edge| edge.0))
        .chain(reading.marks.iter().map(|mark| mark.position.0))
        .chain(reading.other_axes.iter().flat_map(|other| {
            other.marks.iter().map(|mark| mark.position.0).chain([other.edge.0])
        }));
    if let Some(found) = numbers.into_iter().find(|number| !number.is_finite()) {
        return Some(format!("has a position that is not a number ({found}): place it again"));
    }
    if reading.number == 0 {
        return Some("has number 0: give it a number from 1".to_owned());
    }
    if reading.state == ReadingState::Confirmed && reading.outcome.is_none() {
        return Some("is confirmed without an outcome: state one, such as aged".to_owned());
    }
    None
}

/// What keeps the scan or its calibration from being written: the part, and what is wrong with it.
pub(super) fn fault_in_scan(reading: &ScanReading) -> Option<(&'static str, String)> {
    let hash = &reading.scan.blake3;
    let is_hex = hash.bytes().all(|byte| matches!(byte, b'0'..=b'9' | b'a'..=b'f'));
    let is_hash = hash.len() == 64 && is_hex;
    if !(hash.is_empty() || is_hash) {
        let reason = format!("has no BLAKE3 hash but '{hash}': take the hash of the file again");
        return Some(("the scan", reason));
    }
    let se = reading.calibration.as_ref().and_then(|calibration| calibration.se_um_per_px)?;
    (!(se.is_finite() && se >= 0.0)).then(|| {
        (
            "the calibration",
            format!("has a standard error of {se}: measure it again, or leave it out"),
        )
    })
}
