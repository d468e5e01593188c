//! All that goes into the report of a survey, as plain data: gathered elsewhere, written out by [`super::page`].

use std::collections::BTreeSet;

use kurbo::Rect;

use super::compare_json::ComparedAges;
use super::paper::Paper;
use super::report_units::ReportUnits;
use crate::analysis::agreement::comparison::Comparison;
use crate::analysis::back_calculation::{LengthsResult, MethodComparison};
use crate::analysis::condition_summary::ConditionSummary;
use crate::analysis::growth::GrowthStudy;
use crate::analysis::population::study::AgeStudy;
use crate::analysis::year_effects::YearEffects;
use crate::domain::calibration::Calibration;
use crate::domain::effort::EffortRun;
use crate::domain::fish::{Fish, LengthType, Sex};
use crate::domain::reading::{ImpressionReading, Light, Structure};
use crate::domain::reference::LengthBasis;
use crate::domain::stocking::Stocking;

/// A chapter of the report that can be left out. The first page, the sample and how the report was made are always in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Chapter {
    /// Do the readers agree?
    Agreement,
    /// Back-calculated lengths.
    Lengths,
    /// Growth curve, standard, condition.
    Growth,
    /// Good and poor growth years.
    Years,
    /// Composition, year classes, stocking, mortality.
    YearClasses,
    /// A reading card for each fish.
    Cards,
}

impl Chapter {
    /// All, in the order of the report.
    pub const ALL: [Self; 6] =
        [Self::Agreement, Self::Lengths, Self::Growth, Self::Years, Self::YearClasses, Self::Cards];

    /// The word used on the command line.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Agreement => "agreement",
            Self::Lengths => "lengths",
            Self::Growth => "growth",
            Self::Years => "years",
            Self::YearClasses => "year-classes",
            Self::Cards => "cards",
        }
    }

    /// Its heading.
    pub const fn title(self) -> &'static str {
        match self {
            Self::Agreement => "Agreement of the readers",
            Self::Lengths => "Length at each age",
            Self::Growth => "Growth and condition",
            Self::Years => "Good and poor growth years",
            Self::YearClasses => "Ages, year classes and mortality",
            Self::Cards => "Reading cards",
        }
    }

    /// The value for a word.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|chapter| chapter.word() == word.trim())
    }
}

/// A file the report was made from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct InputFile {
    /// Its path inside the survey folder, with `/`.
    pub name: String,
    /// Its length in bytes.
    pub bytes: u64,
    /// BLAKE3 hash of its bytes, 64 hexadecimal digits.
    pub blake3: String,
}

/// Where the report came from: the same values give the same bytes.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Provenance {
    /// Version of the program.
    pub version: String,
    /// Every setting, in words.
    pub settings: Vec<(String, String)>,
    /// Every file read, in order of name.
    pub inputs: Vec<InputFile>,
}

/// Whose ages the results rest on.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct AgesUsed {
    /// The rule in words.
    pub rule: String,
    /// True where they are those of one reader.
    pub is_one_reader: bool,
    /// Fish of all species with an age under it.
    pub n_fish: usize,
    /// How many fish each rule leaves, in words: "kb 40, consensus 52, only agreed 38".
    pub each_rule: String,
    /// Fish whose decision is older than a reading of theirs.
    pub n_outdated: usize,
}

/// What was surveyed, how and by whom.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Facts {
    /// Name of the survey.
    pub survey: String,
    /// Water.
    pub water: String,
    /// Species the report is about.
    pub species: String,
    /// Structure read.
    pub structure: Structure,
    /// Light, where it was stated.
    pub light: Option<Light>,
    /// First and last day of capture, as year-month-day.
    pub dates: Option<[String; 2]>,
    /// Who caught the fish, as given; may be empty.
    pub crew: String,
    /// Runs of the gear.
    pub runs: Vec<EffortRun>,
    /// Readers.
    pub readers: Vec<String>,
    /// Under whose initials the readings that count stand: the reader whose ages count, or the survey's first.
    pub reader: String,
    /// Whose ages count.
    pub ages: AgesUsed,
    /// How fish were chosen for ageing, as given; may be empty.
    pub ageing_rule: String,
    /// Birthday of the fish and window of annulus formation, month and day.
    pub birthday_rule: [String; 3],
    /// How lengths were taken.
    pub length_type: LengthType,
    /// Body sites scales were taken from, as written.
    pub body_sites: Vec<String>,
    /// Pixel sizes of the scans, µm, smallest and largest; `None` where none is known.
    pub um_per_px: Option<[f64; 2]>,
    /// The day the report stands for: given, else the newest date in the data; empty where there is none.
    pub date: String,
}

/// A fish that is no part of something, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Exclusion {
    /// What it is left out of.
    pub from: &'static str,
    /// Its number, or its row where it has none.
    pub fish: String,
    /// Row of the field sheet.
    pub row: Option<usize>,
    /// Why.
    pub reason: String,
}

/// How many fish there were at each step.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct SampleCounts {
    /// Fish on the field sheet, fish only counted included.
    pub on_sheet: u64,
    /// Of the species.
    pub of_species: u64,
    /// Of these, measured.
    pub measured: u64,
    /// Weighed.
    pub weighed: u64,
    /// With a confirmed reading by the reader.
    pub read: usize,
    /// Aged.
    pub aged: usize,
    /// With back-calculated lengths.
    pub with_lengths: usize,
    /// Readings by outcome, most frequent first.
    pub outcomes: Vec<(String, usize)>,
    /// Confirmed readings of the reader that were made with proposals shown.
    pub with_proposals: usize,
    /// Confirmed readings that were made blind.
    pub blind: usize,
}

/// One fish of the plots.
#[derive(Debug, Clone, PartialEq)]
pub struct FishPoint {
    /// Its number.
    pub fish: String,
    /// Sex.
    pub sex: Sex,
    /// Age at capture, years.
    pub age: u32,
    /// Length at capture, mm.
    pub length_mm: f64,
    /// Total radius, µm, where it was measured.
    pub radius_um: Option<f64>,
}

/// The small picture on a card.
#[derive(Debug, Clone, PartialEq)]
pub struct CardPicture {
    /// A grey JPEG file.
    pub jpeg: Vec<u8>,
    /// Its size in pixels of its own.
    pub size: [usize; 2],
    /// The part of the scan it shows, scan pixels.
    pub covers: Rect,
}

/// A reading of one fish, as its card shows it.
#[derive(Debug, Clone, PartialEq)]
pub struct ReadingCard {
    /// The fish.
    pub fish: Fish,
    /// File name of the scan.
    pub scan: String,
    /// Reader.
    pub reader: String,
    /// The reading.
    pub reading: ImpressionReading,
    /// Pixel size, where known.
    pub calibration: Option<Calibration>,
    /// Length at each annulus, mm; empty where there are none.
    pub lengths_mm: Vec<f64>,
    /// Year class.
    pub year_class: Option<i16>,
    /// Ages other readers gave.
    pub other_ages: Vec<(String, u32)>,
    /// The picture, or why there is none.
    pub picture: Result<CardPicture, String>,
}

/// The report.
#[derive(Debug, Clone, PartialEq)]
pub struct SurveyReport {
    /// Units of the tables and plots.
    pub units: ReportUnits,
    /// Paper it is to be printed on.
    pub paper: Paper,
    /// Chapters wanted.
    pub chapters: BTreeSet<Chapter>,
    /// Where it came from.
    pub provenance: Provenance,
    /// Survey, crew, gear.
    pub facts: Facts,
    /// Fish at each step.
    pub counts: SampleCounts,
    /// Fish left out, and of what.
    pub exclusions: Vec<Exclusion>,
    /// Faults found in the files.
    pub faults: Vec<String>,
    /// The readers compared, or why they are not.
    pub agreement: Result<Comparison, String>,
    /// Pairs of readers who both saw proposals.
    pub aided_pairs: Vec<[String; 2]>,
    /// Back-calculation, or why there is none.
    pub lengths: Result<LengthsResult, String>,
    /// The scale- and the body-proportional lengths side by side, where both could be worked out.
    pub hypotheses: Option<MethodComparison>,
    /// Aged fish with a length.
    pub points: Vec<FishPoint>,
    /// Basis of curve and comparison.
    pub basis: LengthBasis,
    /// Age in years, length in mm and sex of the rows the curve is fitted to.
    pub curve_points: Vec<(f64, f64, Sex)>,
    /// The growth curve, or why there is none.
    pub growth: Result<GrowthStudy, String>,
    /// Growth against the standard, or why there is none.
    pub against: Result<ComparedAges, String>,
    /// Growth years.
    pub year_effects: Vec<YearEffects>,
    /// Remarks on them.
    pub year_notes: Vec<String>,
    /// Ages of the whole sample, or why there are none.
    pub ages: Result<AgeStudy, String>,
    /// Stockings of the species in this water.
    pub stocking: Vec<Stocking>,
    /// Condition, where fish were weighed.
    pub condition: Option<ConditionSummary>,
    /// Condition factor by length group: name, fish, mean, standard error.
    pub condition_by_length: Vec<(String, usize, f64, Option<f64>)>,
    /// Reading cards, in the order of the field sheet.
    pub cards: Vec<ReadingCard>,
}

impl SurveyReport {
    /// True where a chapter is wanted.
    pub fn has(&self, chapter: Chapter) -> bool {
        self.chapters.contains(&chapter)
    }

    /// The date of the report in words for a heading.
    pub fn date_text(&self) -> &str {
        if self.facts.date.is_empty() { "no date in the data" } else { &self.facts.date }
    }
}
