//! The command line as data: verbs and their flags. The parser and the help text come from here.

mod ages;
mod compare;
mod list;
mod method;
mod report;

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand, ValueEnum};

pub use ages::{AgesFlags, AssignFlag, EmptyGroupsFlag};
pub use compare::{CompareFlags, SexFlag};
pub use list::{ListCloseFlags, ListNewFlags, ListPackFlags, ListTakeInFlags, ListVerb};
pub use method::{ErrorFlags, MethodFlags, RegressionFlag};
pub use report::{PaperFlag, ReportFlags, UnitsFlag};

/// From scanned scale impressions and otolith images to ages, growth and year classes.
///
/// Without a verb the window opens.
#[derive(Debug, Parser)]
#[command(name = "winterline", version, about, max_term_width = 100)]
pub struct Flags {
    /// What to do; without one the window opens.
    #[command(subcommand)]
    pub verb: Option<Verb>,
}

/// The verbs.
#[derive(Debug, Subcommand)]
pub enum Verb {
    /// Build the demo survey, propose on its scans, compute lengths, and open the window on it.
    Demo(DemoFlags),
    /// Open a survey in the window; with --json print its readings instead.
    Read(ReadFlags),
    /// Propose annuli on scans.
    Propose(ProposeFlags),
    /// Back-calculate length at earlier ages.
    Lengths(LengthsFlags),
    /// Ages of all fish from those aged: composition, catch per hour, mortality, year classes.
    Ages(AgesFlags),
    /// Blind re-read lists: draw, close, send to another office, take in what comes back.
    #[command(subcommand)]
    List(ListVerb),
    /// Compare the ages of readers: precision, bias, symmetry, kappa.
    Agree(AgreeFlags),
    /// Fit growth curves, with growth years and condition where a survey gives them.
    Growth(GrowthFlags),
    /// Compare mean length at age of several waters.
    Compare(CompareFlags),
    /// Write the report of a survey, and its data.
    Report(ReportFlags),
    /// Check a survey: every fault with its file, row and column.
    Check(SurveyFlags),
    /// Write invented pictures or a whole invented survey, with their truth.
    Simulate(SimulateFlags),
}

/// Flags of `demo`.
#[derive(Debug, Args)]
pub struct DemoFlags {
    /// Folder to build the demo survey in; an existing demo survey there is kept and used.
    #[arg(default_value = "maple-hollow-2025")]
    pub folder: PathBuf,
    /// Print the summary as one JSON document; never opens a window.
    #[arg(long)]
    pub json: bool,
    /// Never open a window.
    #[arg(long)]
    pub no_window: bool,
}

/// Flags of `read`.
#[derive(Debug, Args)]
pub struct ReadFlags {
    /// Survey folder.
    pub survey: PathBuf,
    /// Initials of the reader who is going to mark.
    #[arg(long)]
    pub reader: Option<String>,
    /// A blind re-read list to read in place of the survey; with --json its readings by tag.
    #[arg(long, value_name = "NAME")]
    pub list: Option<String>,
    /// Print the readings as one JSON document instead of opening the window.
    #[arg(long)]
    pub json: bool,
}

/// A survey and how to print.
#[derive(Debug, Args)]
pub struct SurveyFlags {
    /// Survey folder.
    pub survey: PathBuf,
    /// Print one JSON document.
    #[arg(long)]
    pub json: bool,
}

/// Structures that get proposals.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum ProposedStructure {
    /// Scale impression.
    Scale,
    /// Otolith, whole or section.
    Otolith,
}

/// Flags of `propose`.
#[derive(Debug, Args)]
pub struct ProposeFlags {
    /// Scans; focus, axis and margin are suggested.
    #[arg(required_unless_present = "jobs", conflicts_with = "jobs")]
    pub images: Vec<PathBuf>,
    /// A JSON file that lists scans with what is known about each.
    #[arg(long)]
    pub jobs: Option<PathBuf>,
    /// Structure on the scans named.
    #[arg(long, value_enum, required_unless_present = "jobs")]
    pub structure: Option<ProposedStructure>,
    /// Micrometres per pixel, where the files do not say.
    #[arg(long)]
    pub um_per_px: Option<f64>,
    /// A survey whose confirmed readings say what proposals are worth: show probabilities by them, not words.
    #[arg(long, value_name = "SURVEY")]
    pub readings_of: Option<PathBuf>,
    /// Print one JSON document.
    #[arg(long)]
    pub json: bool,
}

/// Whose ages count where a survey has several readers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum AgesFromFlag {
    /// Those of one reader (see --reader).
    Reader,
    /// The decision where there is one, else the age all readers gave, else the only reading.
    Consensus,
    /// Only ages that two or more readers gave alike.
    Agreed,
}

/// Flags of `lengths`.
#[derive(Debug, Args)]
pub struct LengthsFlags {
    /// Survey folder.
    #[arg(required_unless_present = "radii", conflicts_with = "radii")]
    pub survey: Option<PathBuf>,
    /// A CSV or XLSX file of radii: fish,length_mm,radius_um,a1_um,a2_um,...
    #[arg(long)]
    pub radii: Option<PathBuf>,
    /// Sheet of an XLSX file (default: the first that is visible).
    #[arg(long, value_name = "NAME", requires = "radii")]
    pub sheet: Option<String>,
    /// Whose ages of a survey are used: one reader's, or what several leave.
    #[arg(long, value_enum, default_value = "reader", conflicts_with = "radii")]
    pub ages_from: AgesFromFlag,
    /// How radii become lengths.
    #[command(flatten)]
    pub method: MethodFlags,
    /// How errors are carried to the mean lengths.
    #[command(flatten)]
    pub errors: ErrorFlags,
    /// Seed of the simulation of errors; the same seed gives the same limits.
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    /// Reader whose readings are used; default: the first reader of the survey.
    #[arg(long, conflicts_with = "radii")]
    pub reader: Option<String>,
    /// Print one JSON document.
    #[arg(long)]
    pub json: bool,
    /// Print comma-separated values, one row per fish and annulus.
    #[arg(long, conflicts_with = "json")]
    pub csv: bool,
}

/// How fish of mean age 0 count in percent error, CV and D.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum MeanAgeZeroFlag {
    /// As 0.
    Zero,
    /// Not at all.
    LeftOut,
}

/// Flags of `agree`.
#[derive(Debug, Args)]
pub struct AgreeFlags {
    /// Survey folder.
    #[arg(required_unless_present = "ages", conflicts_with = "ages")]
    pub survey: Option<PathBuf>,
    /// A CSV or XLSX file of ages: fish, then one column of whole ages for each reader.
    #[arg(long, value_name = "FILE")]
    pub ages: Option<PathBuf>,
    /// Sheet of an XLSX file (default: the first that is visible).
    #[arg(long, value_name = "NAME", requires = "ages")]
    pub sheet: Option<String>,
    /// Readings on other structures too, as columns of their own: scale against otolith.
    #[arg(long, conflicts_with = "ages")]
    pub structures: bool,
    /// Readers to compare, in this order; default: all.
    #[arg(long, value_delimiter = ',', value_name = "A,B,...")]
    pub readers: Vec<String>,
    /// How fish of mean age 0 count in percent error, CV and D.
    #[arg(long, value_enum, default_value = "zero")]
    pub mean_age_zero: MeanAgeZeroFlag,
    /// Seed of simulated probabilities.
    #[arg(long)]
    pub seed: Option<u64>,
    /// Print one JSON document.
    #[arg(long)]
    pub json: bool,
    /// Print comma-separated values, one row for each pair of readers.
    #[arg(long, conflicts_with = "json")]
    pub csv: bool,
}

/// How lengths scatter about a curve.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum ErrorFlag {
    /// By the same amount at all ages.
    Additive,
    /// By the same share at all ages.
    Multiplicative,
}

/// Which lengths of a survey are used.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum BasisFlag {
    /// Length at capture.
    Capture,
    /// Back-calculated length at the annulus.
    Annulus,
}

/// Units of length.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum UnitFlag {
    /// Millimetres.
    Mm,
    /// Centimetres.
    Cm,
    /// Inches.
    In,
}

/// Flags of `growth`.
#[derive(Debug, Args)]
pub struct GrowthFlags {
    /// Survey folder.
    #[arg(required_unless_present = "length_at_age", conflicts_with = "length_at_age")]
    pub survey: Option<PathBuf>,
    /// A CSV or XLSX file of lengths at age: age,length and any columns to group by.
    #[arg(long, value_name = "FILE")]
    pub length_at_age: Option<PathBuf>,
    /// Sheet of an XLSX file (default: the first that is visible).
    #[arg(long, value_name = "NAME", requires = "length_at_age")]
    pub sheet: Option<String>,
    /// Whose ages of a survey are used: one reader's, or what several leave.
    #[arg(long, value_enum, default_value = "reader", conflicts_with = "length_at_age")]
    pub ages_from: AgesFromFlag,
    /// Growth curve.
    #[arg(long, default_value = "von-bertalanffy")]
    pub curve: String,
    /// Hold a parameter at a value; may be given several times.
    #[arg(long, value_name = "NAME=VALUE")]
    pub fix: Vec<String>,
    /// Fit each group of this column too, and compare the groups.
    #[arg(long, value_name = "COLUMN")]
    pub by: Option<String>,
    /// Replicates of the bootstrap over fish; 1000 or more for limits that are reported.
    #[arg(long, value_name = "N")]
    pub bootstrap: Option<u32>,
    /// Seed of the bootstrap and of the simulation of errors; the same seed gives the same limits.
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    /// How lengths scatter about the curve.
    #[arg(long, value_enum, default_value = "additive")]
    pub error: ErrorFlag,
    /// Lengths of a survey: at capture, or at the last annulus of each fish.
    #[arg(long, value_enum, default_value = "annulus")]
    pub basis: BasisFlag,
    /// How radii of a survey become lengths.
    #[command(flatten)]
    pub method: MethodFlags,
    /// How errors of a survey are carried to the curve.
    #[command(flatten)]
    pub errors: ErrorFlags,
    /// Weight the aged fish of a survey by an age-length key, so that they stand for all fish measured.
    #[arg(long, conflicts_with = "length_at_age")]
    pub weight_by_key: bool,
    /// Width of the length groups of that key, millimetres (default: 25 mm, or 1 in if measured in inches).
    #[arg(long, value_name = "MM", requires = "weight_by_key")]
    pub width: Option<f64>,
    /// Unit of the lengths of a survey in the curve and its tables.
    #[arg(long, value_enum, default_value = "mm", conflicts_with = "length_at_age")]
    pub unit: UnitFlag,
    /// Species, where a survey has several.
    #[arg(long, conflicts_with = "length_at_age")]
    pub species: Option<String>,
    /// Reader whose readings are used; default: the first reader of the survey.
    #[arg(long, conflicts_with = "length_at_age")]
    pub reader: Option<String>,
    /// Print one JSON document.
    #[arg(long)]
    pub json: bool,
    /// Print comma-separated values, one row for each parameter.
    #[arg(long, conflicts_with = "json")]
    pub csv: bool,
}

/// What to simulate.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum SimulateWhat {
    /// Single pictures with their truth and a jobs file.
    Pictures,
    /// The twelve demo pictures.
    DemoImages,
    /// The whole demo survey with the truth of every fish.
    Lake,
}

/// Flags of `simulate`.
#[derive(Debug, Args)]
pub struct SimulateFlags {
    /// What to write.
    #[arg(value_enum)]
    pub what: SimulateWhat,
    /// Folder to write into; made if missing.
    pub folder: PathBuf,
    /// Structure of pictures.
    #[arg(long, value_enum, default_value = "scale")]
    pub structure: ProposedStructure,
    /// Style of pictures; default: all styles in turn.
    #[arg(long)]
    pub style: Option<String>,
    /// easy, medium, hard or hopeless; default: easy, medium and hard in turn.
    #[arg(long)]
    pub difficulty: Option<String>,
    /// Number of pictures.
    #[arg(long, default_value_t = 10)]
    pub count: u32,
    /// Seed; the same seed gives the same bytes.
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    /// Print the list of files as JSON.
    #[arg(long)]
    pub json: bool,
}
