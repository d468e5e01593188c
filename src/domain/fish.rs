//! A fish of the field sheet.

use jiff::civil::Date;

use super::units::Millimetres;

/// How the length of a fish was taken. One analysis uses one length type.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum LengthType {
    /// Snout to the tip of the pinched tail.
    #[default]
    Total,
    /// Snout to the fork of the tail.
    Fork,
    /// Snout to the end of the backbone.
    Standard,
}

impl LengthType {
    /// The word used in files and on screen.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Total => "total",
            Self::Fork => "fork",
            Self::Standard => "standard",
        }
    }

    /// The value for a word or its usual letter pair (TL, FL, SL), without regard to case.
    pub fn from_word(word: &str) -> Option<Self> {
        match word.trim().to_ascii_lowercase().as_str() {
            "total" | "tl" => Some(Self::Total),
            "fork" | "fl" => Some(Self::Fork),
            "standard" | "sl" => Some(Self::Standard),
            _ => None,
        }
    }
}

/// Sex as recorded.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Default)]
pub enum Sex {
    /// Female.
    Female,
    /// Male.
    Male,
    /// Not determined.
    #[default]
    Unknown,
}

impl Sex {
    /// The word used in files and on screen.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Female => "female",
            Self::Male => "male",
            Self::Unknown => "unknown",
        }
    }

    /// The value for a word or letter, without regard to case; empty is unknown.
    pub fn from_word(word: &str) -> Option<Self> {
        match word.trim().to_ascii_lowercase().as_str() {
            "f" | "female" => Some(Self::Female),
            "m" | "male" => Some(Self::Male),
            "" | "u" | "unknown" => Some(Self::Unknown),
            _ => None,
        }
    }
}

/// Was a stocking mark found? An unmarked fish is natural only if all stocked fish were marked.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum StockingMark {
    /// Nobody looked.
    #[default]
    NotLookedFor,
    /// Looked for, none found.
    NoneFound,
    /// Found; the mark as written.
    Found(String),
}

/// One row of the field sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct Fish {
    /// The fish's key in this survey: its number, or the key columns joined with "/" where numbers restart.
    pub key: String,
    /// Fish or envelope number as text, leading zeros kept.
    pub number: String,
    /// Species as written.
    pub species: String,
    /// Water as written.
    pub water: String,
    /// Capture date.
    pub captured: Option<Date>,
    /// Sampling run.
    pub run: String,
    /// Length at capture.
    pub length: Option<Millimetres>,
    /// How the length was taken.
    pub length_type: LengthType,
    /// Weight, grams.
    pub weight_g: Option<f64>,
    /// Sex.
    pub sex: Sex,
    /// Body site the scales came from.
    pub body_site: String,
    /// Pressing batch.
    pub pressing_batch: String,
    /// Slide.
    pub slide: String,
    /// Position on the slide.
    pub slide_position: String,
    /// Stocking mark.
    pub stocking_mark: StockingMark,
    /// Year class known from a mark or from stocking.
    pub known_year_class: Option<i16>,
    /// File names of its scans, in `scans/`.
    pub scans: Vec<String>,
    /// Number of fish this row stands for: 1, or more for fish only counted by length group.
    pub count: u32,
    /// Line of the field sheet it came from, from 1 (the heading).
    pub row: usize,
}

impl Fish {
    /// A fish of which only a name and a scan are known, both `name`.
    pub fn named(name: &str) -> Self {
        Self {
            key: name.to_owned(),
            number: name.to_owned(),
            species: String::new(),
            water: String::new(),
            captured: None,
            run: String::new(),
            length: None,
            length_type: LengthType::Total,
            weight_g: None,
            sex: Sex::Unknown,
            body_site: String::new(),
            pressing_batch: String::new(),
            slide: String::new(),
            slide_position: String::new(),
            stocking_mark: StockingMark::NotLookedFor,
            known_year_class: None,
            scans: vec![name.to_owned()],
            count: 1,
            row: 0,
        }
    }
}
