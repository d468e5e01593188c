//! Version 1 of a blind list and of a reader's readings of it, key for key. `docs/blind-lists.md` explains them.
//!
//! Every object keeps the keys it does not know in `other`, so that they survive a rewrite.

use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

use crate::domain::reading::{Light, Structure};

use super::blind_file::Kind;
use super::sidecar_v1::{BoxV1, CalibrationV1, ImpressionV1, ScanV1};
use super::word::Word;

pub(super) const LIST: Kind =
    Kind { what: "the blind list", format: "winterline-blind-list", version: 1 };
pub(super) const READINGS: Kind =
    Kind { what: "the file of blind readings", format: "winterline-blind-readings", version: 1 };
pub(super) const PACK: Kind =
    Kind { what: "the blind pack", format: "winterline-blind-pack", version: 1 };

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct ListV1 {
    pub format: String,
    pub version: u64,
    pub program_version: String,
    pub name: String,
    pub list_id: String,
    pub seed: u64,
    pub rule: RuleV1,
    pub policy: PolicyV1,
    pub drawn_by: Option<String>,
    pub drawn: String,
    pub closed: Option<ClosedV1>,
    pub entries: Vec<EntryV1>,
    #[serde(flatten)]
    pub other: Map<String, Value>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct RuleV1 {
    pub rule: String,
    pub share: Option<f64>,
    pub n_per_group: Option<usize>,
    pub width_mm: Option<f64>,
    #[serde(flatten)]
    pub other: Map<String, Value>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct PolicyV1 {
    pub show_species: bool,
    pub show_structure: bool,
    pub show_capture_month: bool,
    pub show_proposals: bool,
    #[serde(flatten)]
    pub other: Map<String, Value>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct ClosedV1 {
    pub when: String,
    pub by: Option<String>,
    #[serde(flatten)]
    pub other: Map<String, Value>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct EntryV1 {
    pub tag: String,
    pub fish: String,
    pub scan: ScanV1,
    pub impression: u32,
    pub structure: Word<Structure>,
    pub light: Option<Word<Light>>,
    pub box_px: BoxV1,
    pub calibration: Option<CalibrationV1>,
    pub is_reference: bool,
    pub known_age: Option<u32>,
    #[serde(flatten)]
    pub other: Map<String, Value>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct ReadingsV1 {
    pub format: String,
    pub version: u64,
    pub program_version: String,
    pub list: String,
    pub list_id: String,
    pub reader: String,
    /// When a lead took the file in from another office; absent in a file that the reader's program keeps.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub taken_in: Option<String>,
    pub readings: Vec<TaggedV1>,
    #[serde(flatten)]
    pub other: Map<String, Value>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct TaggedV1 {
    pub tag: String,
    /// The readings that stand: at most one confirmed and one draft. Pixels are those of the crop.
    pub impressions: Vec<ImpressionV1>,
    #[serde(default)]
    pub earlier: Vec<ImpressionV1>,
    #[serde(flatten)]
    pub other: Map<String, Value>,
}

/// The list inside a pack: what a reader may know, and nothing else.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct PackV1 {
    pub format: String,
    pub version: u64,
    pub program_version: String,
    pub list: String,
    pub list_id: String,
    pub show_proposals: bool,
    pub items: Vec<ItemV1>,
    #[serde(flatten)]
    pub other: Map<String, Value>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct ItemV1 {
    pub tag: String,
    pub species: Option<String>,
    pub structure: Option<Word<Structure>>,
    pub light: Option<Word<Light>>,
    pub capture_month: Option<i8>,
    /// BLAKE3 hash of the picture's bytes in the pack.
    pub picture_blake3: String,
    #[serde(flatten)]
    pub other: Map<String, Value>,
}
