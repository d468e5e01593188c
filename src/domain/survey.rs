//! What is settled once for a whole survey.

use std::collections::BTreeMap;

use super::age::BirthdayRule;
use super::reading::{Light, ReaderInitials, Structure};
use super::units::{GRAMS_PER_POUND, MM_PER_INCH, Millimetres};

/// The unit lengths are written in on the field sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum LengthUnit {
    /// Millimetres.
    #[default]
    Millimetre,
    /// Centimetres.
    Centimetre,
    /// Inches.
    Inch,
}

impl LengthUnit {
    /// The word used in files: `mm`, `cm` or `in`.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Millimetre => "mm",
            Self::Centimetre => "cm",
            Self::Inch => "in",
        }
    }

    /// The value for a word.
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::Millimetre, Self::Centimetre, Self::Inch]
            .into_iter()
            .find(|unit| unit.word() == word.trim())
    }

    /// A number in this unit as millimetres.
    pub fn millimetres_from(self, value: f64) -> Millimetres {
        Millimetres(match self {
            Self::Millimetre => value,
            Self::Centimetre => value * 10.0,
            Self::Inch => value * MM_PER_INCH,
        })
    }
}

/// The unit weights are written in on the field sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum WeightUnit {
    /// Grams.
    #[default]
    Gram,
    /// Kilograms.
    Kilogram,
    /// Pounds.
    Pound,
}

impl WeightUnit {
    /// The word used in files: `g`, `kg` or `lb`.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Gram => "g",
            Self::Kilogram => "kg",
            Self::Pound => "lb",
        }
    }

    /// The value for a word.
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::Gram, Self::Kilogram, Self::Pound]
            .into_iter()
            .find(|unit| unit.word() == word.trim())
    }

    /// A number in this unit as grams.
    pub fn grams_from(self, value: f64) -> f64 {
        match self {
            Self::Gram => value,
            Self::Kilogram => value * 1000.0,
            Self::Pound => value * GRAMS_PER_POUND,
        }
    }
}

/// Settings of a survey: what `survey.json` holds.
#[derive(Debug, Clone, PartialEq)]
pub struct Survey {
    /// Name of the survey.
    pub name: String,
    /// Water body.
    pub water: String,
    /// Default species of its fish; empty where the field sheet says it for each.
    pub species: String,
    /// Structure that is read.
    pub structure: Structure,
    /// How otoliths were lit, where known.
    pub light: Option<Light>,
    /// Readers who may mark.
    pub readers: Vec<ReaderInitials>,
    /// Birthday rule and formation window.
    pub birthday_rule: BirthdayRule,
    /// Default pixel size in x and y, micrometres per pixel, for scans without a usable tag.
    pub default_um_per_px: Option<[f64; 2]>,
    /// Unit of the length column.
    pub length_unit: LengthUnit,
    /// Unit of the weight column.
    pub weight_unit: WeightUnit,
    /// Our column name to the heading used in `fish.csv`, where they differ.
    pub column_map: BTreeMap<String, String>,
    /// Columns that together name a fish, where numbers restart (by day, by species).
    pub key_columns: Vec<String>,
    /// The rule by which fish were chosen for ageing, in words.
    pub ageing_rule: String,
    /// Direction of the measurement axis on a scan, degrees clockwise from up; 0 is towards the top (anterior).
    pub axis_degrees: f64,
}

impl Survey {
    /// A survey with the usual settings and nothing else known.
    pub fn new(name: impl Into<String>, water: impl Into<String>, structure: Structure) -> Self {
        Self {
            name: name.into(),
            water: water.into(),
            species: String::new(),
            structure,
            light: None,
            readers: Vec::new(),
            birthday_rule: BirthdayRule::default(),
            default_um_per_px: None,
            length_unit: LengthUnit::default(),
            weight_unit: WeightUnit::default(),
            column_map: BTreeMap::new(),
            key_columns: vec!["fish".to_owned()],
            ageing_rule: String::new(),
            axis_degrees: 0.0,
        }
    }
}
