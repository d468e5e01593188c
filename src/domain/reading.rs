//! What a reader says about a scan: marks along an axis, the edge, the outcome, the age.

use jiff::Timestamp;
use kurbo::Rect;

use super::axis::Axis;
use super::calibration::Calibration;
use super::one_line::one_line;
use super::several::FishChoice;
use super::units::{Micrometres, Pixels};

/// The hard part of the fish that is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Default)]
pub enum Structure {
    /// A scale, read from its impression in acetate.
    #[default]
    Scale,
    /// An otolith, whole or as a section.
    Otolith,
    /// A spine, marked by hand.
    Spine,
    /// A fin ray, marked by hand.
    FinRay,
    /// A cleithrum, marked by hand.
    Cleithrum,
    /// An opercle, marked by hand.
    Opercle,
}

/// How a structure was lit: decides which otolith zone is dark.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Light {
    /// Light from above on a dark background: translucent (winter) zones are dark.
    Reflected,
    /// Light through the structure: translucent (winter) zones are bright.
    Transmitted,
}

/// What a mark is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum MarkKind {
    /// The mark of a winter; counted.
    Annulus,
    /// A false annulus; recorded, not counted.
    Check,
}

/// How a mark came about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum MarkOrigin {
    /// A proposal, accepted where it stood.
    AcceptedProposal,
    /// A proposal, moved by the reader.
    MovedProposal,
    /// Placed by hand.
    ByHand,
}

/// How sure the reader is of a mark.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Certainty {
    /// No doubt.
    #[default]
    Clear,
    /// Seen, but weak.
    Faint,
    /// May not be a mark at all.
    Doubtful,
}

/// The margin's condition: how much has grown since the last annulus.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum EdgeCondition {
    /// An annulus lies at the very edge and is counted.
    AtEdge,
    /// Plus growth below a third of the previous increment.
    Narrow,
    /// A third to two thirds.
    Medium,
    /// Above two thirds.
    Wide,
}

/// What came of reading an impression.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Outcome {
    /// An age was assigned.
    Aged,
    /// The structure cannot be read.
    Unreadable,
    /// A regenerated scale: the early record is lost.
    Regenerated,
    /// The picture shows another structure than stated.
    WrongStructure,
}

/// The reader's confidence in the whole reading (common practice: four grades).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Confidence {
    /// Good.
    Good,
    /// Fair.
    Fair,
    /// Poor.
    Poor,
}

macro_rules! words {
    ($type:ident { $($variant:ident => $word:literal),+ $(,)? }) => {
        impl $type {
            /// All values, in the order a reader meets them.
            pub const ALL: &'static [Self] = &[$(Self::$variant),+];

            /// The word used in files and on screen.
            pub const fn word(self) -> &'static str {
                match self { $(Self::$variant => $word),+ }
            }

            /// The value for a word, without regard to case; `None` for any other word.
            pub fn from_word(word: &str) -> Option<Self> {
                Self::ALL.iter().copied().find(|value| value.word().eq_ignore_ascii_case(word.trim()))
            }
        }
    };
}

words!(Structure {
    Scale => "scale", Otolith => "otolith", Spine => "spine",
    FinRay => "fin-ray", Cleithrum => "cleithrum", Opercle => "opercle",
});
words!(Light { Reflected => "reflected", Transmitted => "transmitted" });
words!(MarkKind { Annulus => "annulus", Check => "check" });
words!(MarkOrigin {
    AcceptedProposal => "accepted-proposal", MovedProposal => "moved-proposal", ByHand => "by-hand",
});
words!(Certainty { Clear => "clear", Faint => "faint", Doubtful => "doubtful" });
words!(EdgeCondition { AtEdge => "at-edge", Narrow => "narrow", Medium => "medium", Wide => "wide" });
words!(Outcome {
    Aged => "aged", Unreadable => "unreadable", Regenerated => "regenerated",
    WrongStructure => "wrong-structure",
});
words!(Confidence { Good => "good", Fair => "fair", Poor => "poor" });

/// One confirmed mark on an axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mark {
    /// Annulus or check.
    pub kind: MarkKind,
    /// Distance along the axis from the focus, pixels of the scan.
    pub position: Pixels,
    /// How it came about.
    pub origin: MarkOrigin,
    /// How sure the reader was.
    pub certainty: Certainty,
}

/// A further axis of the same structure with marks of its own. Ages and lengths rest on the primary one.
#[derive(Debug, Clone, PartialEq)]
pub struct OtherAxis {
    /// The axis.
    pub axis: Axis,
    /// Distance along it at which the margin lies.
    pub edge: Pixels,
    /// Marks in order of distance along it.
    pub marks: Vec<Mark>,
}

/// Is a reading still being worked on, or has the reader put their name to it?
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum ReadingState {
    /// Work in progress; analyses leave it out.
    #[default]
    Draft,
    /// Confirmed by the reader.
    Confirmed,
}

/// What the reader was shown while reading, which decides what the reading is worth as evidence.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct ReadingConditions {
    /// Proposed annuli were on screen.
    pub proposals_shown: bool,
    /// Length at capture or back-calculated lengths were looked at.
    pub length_shown: bool,
    /// The blind re-read list it belongs to, if any.
    pub blind_list: Option<String>,
}

/// The reading of one impression.
#[derive(Debug, Clone, PartialEq)]
pub struct ImpressionReading {
    /// Number of the impression on the scan, from 1.
    pub number: u32,
    /// The impression's box on the scan, image pixels; `None` where the scan holds only this one.
    pub bounds: Option<Rect>,
    /// Key of the fish it belongs to; empty while unknown.
    pub fish: String,
    /// What is read.
    pub structure: Structure,
    /// How it was lit, where known.
    pub light: Option<Light>,
    /// Focus and axis; `None` until set.
    pub axis: Option<Axis>,
    /// Distance along the axis at which the margin lies; `None` until set.
    pub edge: Option<Pixels>,
    /// Marks in order of distance.
    pub marks: Vec<Mark>,
    /// Further axes of the structure, each with its own margin and marks.
    pub other_axes: Vec<OtherAxis>,
    /// The margin's condition; `None` until judged.
    pub edge_condition: Option<EdgeCondition>,
    /// The outcome; `None` while a draft.
    pub outcome: Option<Outcome>,
    /// The age the reader puts a name to, whole years.
    pub age: Option<u32>,
    /// Confidence in the whole reading.
    pub confidence: Option<Confidence>,
    /// Draft or confirmed.
    pub state: ReadingState,
    /// What was shown meanwhile.
    pub conditions: ReadingConditions,
    /// When reading began.
    pub started: Option<Timestamp>,
    /// When it was confirmed.
    pub confirmed: Option<Timestamp>,
    /// Free text.
    pub note: String,
    /// How this impression and others of the fish are taken together, where the reader has chosen.
    pub choice: Option<FishChoice>,
}

impl ImpressionReading {
    /// An empty draft for impression `number` of `fish`.
    pub fn new(number: u32, fish: impl Into<String>, structure: Structure) -> Self {
        Self {
            number,
            bounds: None,
            fish: fish.into(),
            structure,
            light: None,
            axis: None,
            edge: None,
            marks: Vec::new(),
            other_axes: Vec::new(),
            edge_condition: None,
            outcome: None,
            age: None,
            confidence: None,
            state: ReadingState::Draft,
            conditions: ReadingConditions::default(),
            started: None,
            confirmed: None,
            note: String::new(),
            choice: None,
        }
    }

    /// The annulus marks in order of distance.
    pub fn annuli(&self) -> impl Iterator<Item = &Mark> {
        self.marks.iter().filter(|mark| mark.kind == MarkKind::Annulus)
    }

    /// Annuli counted for the birthday rule: the annulus marks, plus the edge where the annulus lies at it.
    pub fn annuli_counted(&self) -> u32 {
        let marked = u32::try_from(self.annuli().count()).unwrap_or(u32::MAX);
        marked + u32::from(self.edge_condition == Some(EdgeCondition::AtEdge))
    }

    /// Annulus radii from the focus, in order; empty without an axis.
    pub fn annulus_radii(&self, calibration: &Calibration) -> Vec<Micrometres> {
        self.axis.as_ref().map_or_else(Vec::new, |axis| {
            self.annuli().map(|mark| axis.micrometres_at(mark.position, calibration)).collect()
        })
    }

    /// Total radius, focus to edge; `None` until axis and edge are set.
    pub fn total_radius(&self, calibration: &Calibration) -> Option<Micrometres> {
        let (axis, edge) = (self.axis.as_ref()?, self.edge?);
        Some(axis.micrometres_at(edge, calibration))
    }
}

/// The scan a reading was made on, as its file was then.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ScanIdentity {
    /// File name without folder.
    pub file: String,
    /// Width, pixels.
    pub width_px: u32,
    /// Height, pixels.
    pub height_px: u32,
    /// BLAKE3 hash of the file's bytes, lower-case hexadecimal.
    pub blake3: String,
}

/// All that one reader has said about one scan: what a sidecar holds.
#[derive(Debug, Clone, PartialEq)]
pub struct ScanReading {
    /// The scan.
    pub scan: ScanIdentity,
    /// Initials of the reader.
    pub reader: ReaderInitials,
    /// Pixel size; `None` until it is known.
    pub calibration: Option<Calibration>,
    /// Readings of its impressions: for each number at most one confirmed and, while it is being redone, one draft.
    pub impressions: Vec<ImpressionReading>,
}

impl ScanReading {
    /// The confirmed readings, which are those that count.
    pub fn confirmed(&self) -> impl Iterator<Item = &ImpressionReading> {
        self.impressions.iter().filter(|reading| reading.state == ReadingState::Confirmed)
    }

    /// What a reader goes on with on opening impression `number`: the draft, else the confirmed reading.
    pub fn latest(&self, number: u32) -> Option<&ImpressionReading> {
        let mut of_number = self.impressions.iter().filter(|reading| reading.number == number);
        let first = of_number.next()?;
        Some(of_number.find(|reading| reading.state == ReadingState::Draft).unwrap_or(first))
    }

    /// Puts a reading in its place. A draft leaves the confirmed reading of its impression standing beside it; a
    /// confirmed one takes the place of both.
    pub fn put(&mut self, reading: ImpressionReading) {
        self.impressions.retain(|old| {
            old.number != reading.number
                || (reading.state == ReadingState::Draft && old.state == ReadingState::Confirmed)
        });
        self.impressions.push(reading);
        self.impressions
            .sort_by_key(|reading| (reading.number, reading.state == ReadingState::Draft));
    }
}

/// Initials that name a reader in file names: 1 to 12 ASCII letters, digits or hyphens, never a Windows device name.
///
/// Compared and hashed without regard to case, since file systems may fold it.
#[derive(Debug, Clone)]
pub struct ReaderInitials(String);

/// Initials that cannot name a file safely.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "'{}' cannot be a reader's initials: use 1 to 12 letters, digits or hyphens (not a device name such as CON)",
    one_line(found)
)]
pub struct BadInitials {
    /// The text as found.
    pub found: String,
}

impl ReaderInitials {
    /// Checks and wraps initials.
    ///
    /// # Errors
    /// [`BadInitials`] when they break the rule above.
    pub fn new(text: &str) -> Result<Self, BadInitials> {
        let plain = (1..=12).contains(&text.len())
            && text.bytes().all(|byte| byte.is_ascii_alphanumeric() || byte == b'-');
        if plain && !is_device_name(text) {
            Ok(Self(text.to_owned()))
        } else {
            Err(BadInitials { found: text.to_owned() })
        }
    }

    /// The initials as written.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl PartialEq for ReaderInitials {
    fn eq(&self, other: &Self) -> bool {
        self.0.eq_ignore_ascii_case(&other.0)
    }
}

impl Eq for ReaderInitials {}

impl std::hash::Hash for ReaderInitials {
    fn hash<H: std::hash::Hasher>(&self, state: &mut H) {
        self.0.to_ascii_lowercase().hash(state);
    }
}

impl std::fmt::Display for ReaderInitials {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.0)
    }
}

/// True for names that Windows keeps for devices, without regard to case.
pub fn is_device_name(name: &str) -> bool {
    let name = name.to_ascii_uppercase();
    let numbered = |prefix: &str| {
        name.strip_prefix(prefix)
            .is_some_and(|rest| rest.len() == 1 && rest.bytes().all(|b| b.is_ascii_digit()))
    };
    matches!(name.as_str(), "CON" | "PRN" | "AUX" | "NUL") || numbered("COM") || numbered("LPT")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn initials_are_checked_and_fold_case() {
        assert_eq!(ReaderInitials::new("kb").unwrap(), ReaderInitials::new("KB").unwrap());
        for bad in ["", "k b", "con", "COM1", "a-very-long-name", "é", "../x"] {
            assert!(ReaderInitials::new(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn words_go_there_and_back() {
        for edge in EdgeCondition::ALL {
            assert_eq!(EdgeCondition::from_word(edge.word()), Some(*edge));
        }
        assert_eq!(Structure::from_word("Fin-Ray"), Some(Structure::FinRay));
        assert_eq!(Structure::from_word("feather"), None);
    }

    #[test]
    fn an_annulus_at_the_edge_is_counted() {
        let mut reading = ImpressionReading::new(1, "MH-0001", Structure::Scale);
        reading.marks.push(Mark {
            kind: MarkKind::Annulus,
            position: Pixels(100.0),
            origin: MarkOrigin::ByHand,
            certainty: Certainty::Clear,
        });
        assert_eq!(reading.annuli_counted(), 1);
        reading.edge_condition = Some(EdgeCondition::AtEdge);
        assert_eq!(reading.annuli_counted(), 2);
    }
}
