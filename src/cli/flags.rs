//! The command line as data: verbs and their flags. The parser and the help text come from here.

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand, ValueEnum};

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
    /// Print one JSON document.
    #[arg(long)]
    pub json: bool,
}

/// Where the intercept of Fraser-Lee comes from when it is not given.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum RegressionFlag {
    /// Ordinary least squares.
    Ols,
    /// Geometric mean line.
    Gm,
}

/// Flags of `lengths`.
#[derive(Debug, Args)]
pub struct LengthsFlags {
    /// Survey folder.
    #[arg(required_unless_present = "radii", conflicts_with = "radii")]
    pub survey: Option<PathBuf>,
    /// A CSV file of radii: fish,length_mm,radius_um,a1_um,a2_um,...
    #[arg(long)]
    pub radii: Option<PathBuf>,
    /// Method of back-calculation.
    #[arg(long, default_value = "fraser-lee")]
    pub method: String,
    /// Intercept for fraser-lee, millimetres.
    #[arg(long, value_name = "MM", conflicts_with = "regression", allow_negative_numbers = true)]
    pub intercept: Option<f64>,
    /// Source of that intercept, printed with the result.
    #[arg(long, value_name = "TEXT", requires = "intercept")]
    pub intercept_source: Option<String>,
    /// Regression that gives the intercept for fraser-lee (default: ols).
    #[arg(long, value_enum)]
    pub regression: Option<RegressionFlag>,
    /// Length at the early event of biological-intercept and modified-fry, millimetres.
    #[arg(long, value_name = "MM")]
    pub origin_length: Option<f64>,
    /// Radius at that event, micrometres.
    #[arg(long, value_name = "UM")]
    pub origin_radius: Option<f64>,
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

/// What to do with length groups that hold fish and no aged fish.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum EmptyGroupsFlag {
    /// Stop and name them.
    Refuse,
    /// Make one group with the nearest that has aged fish.
    Merge,
    /// Use the aged fish of the nearest groups below and above.
    Borrow,
}

/// How unaged fish get ages.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum AssignFlag {
    /// Whole parts of expected numbers first, the rest drawn by the fractional parts.
    WholeParts,
    /// Every fish drawn by the key.
    Random,
}

/// Flags of `ages`.
#[derive(Debug, Args)]
pub struct AgesFlags {
    /// Survey folder.
    #[arg(required_unless_present = "aged", conflicts_with = "aged")]
    pub survey: Option<PathBuf>,
    /// A CSV file of aged fish: length_mm,age (and sex, run where known).
    #[arg(long, requires = "unaged")]
    pub aged: Option<PathBuf>,
    /// A CSV file of fish only measured: length_mm (and count, sex, run where known).
    #[arg(long, requires = "aged")]
    pub unaged: Option<PathBuf>,
    /// Width of length groups, millimetres (a survey without one: 25 mm, or 1 in if measured in inches).
    #[arg(long, value_name = "MM", conflicts_with = "width_in", allow_negative_numbers = true)]
    pub width: Option<f64>,
    /// Width of length groups, inches, where fish were measured in inches.
    #[arg(long, value_name = "IN", allow_negative_numbers = true)]
    pub width_in: Option<f64>,
    /// Hours fished, or a CSV file of runs: run,hours (default: effort.csv of the survey).
    #[arg(long, value_name = "HOURS|FILE", allow_hyphen_values = true)]
    pub effort: Option<String>,
    /// Give unaged fish ages by the key, drawn from this seed.
    #[arg(long)]
    pub seed: Option<u64>,
    /// How those ages are drawn.
    #[arg(long, value_enum, default_value = "whole-parts")]
    pub assign: AssignFlag,
    /// What to do with length groups that hold fish and no aged fish.
    #[arg(long, value_enum, default_value = "refuse")]
    pub empty_groups: EmptyGroupsFlag,
    /// Also a key and composition for each sex; fish of unknown sex by themselves.
    #[arg(long)]
    pub by_sex: bool,
    /// Species, where the field sheet holds several.
    #[arg(long, conflicts_with = "aged")]
    pub species: Option<String>,
    /// Calendar year of the last birthday before capture, which names the year classes.
    #[arg(long, value_name = "YEAR", value_parser = clap::value_parser!(i16).range(1..=9999))]
    pub year: Option<i16>,
    /// First age used for mortality (default: peak plus one for Chapman-Robson, peak for the line).
    #[arg(long, value_name = "AGE", value_parser = clap::value_parser!(u32).range(0..=500))]
    pub first_age: Option<u32>,
    /// State that recruitment was even, so that mortality is given in spite of uneven stocking.
    #[arg(long)]
    pub even_recruitment: bool,
    /// Reader whose readings are used; default: the first reader of the survey.
    #[arg(long, conflicts_with = "aged")]
    pub reader: Option<String>,
    /// Print one JSON document.
    #[arg(long)]
    pub json: bool,
    /// Print the composition as comma-separated values.
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
