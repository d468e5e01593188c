//! Flags of `report`.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::{AgesFromFlag, BasisFlag, MethodFlags};

/// Units of a report and its data.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum UnitsFlag {
    /// Millimetres and grams.
    Metric,
    /// Inches and pounds.
    Us,
}

/// Paper a report is printed on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum PaperFlag {
    /// Whatever the printer holds.
    Printer,
    /// A4, 210 by 297 mm.
    A4,
    /// Letter, 8.5 by 11 in.
    Letter,
}

/// Flags of `report`.
#[derive(Debug, Args)]
pub struct ReportFlags {
    /// Survey folder.
    pub survey: PathBuf,
    /// Folder to write into, made if missing; default: results in the survey folder.
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Units of tables, plots and data; radii are in µm in both.
    #[arg(long, value_enum, default_value = "metric")]
    pub units: UnitsFlag,
    /// Chapters: agreement, lengths, growth, years, year-classes, cards; default: all.
    #[arg(long, value_delimiter = ',', value_name = "A,B,...")]
    pub chapters: Vec<String>,
    /// Also write the data: CSV files, a workbook and JSON, with a dictionary of the columns.
    #[arg(long)]
    pub data: bool,
    /// Write the data alone, without the report.
    #[arg(long)]
    pub data_only: bool,
    /// Lengths that curve and comparison rest on; the two never mix.
    #[arg(long, value_enum, default_value = "annulus")]
    pub basis: BasisFlag,
    /// Whose ages count: one reader's, or what several leave.
    #[arg(long, value_enum, default_value = "reader")]
    pub ages_from: AgesFromFlag,
    /// How radii become lengths.
    #[command(flatten)]
    pub method: MethodFlags,
    /// Leave mortality out.
    #[arg(long, conflicts_with = "even_recruitment")]
    pub no_mortality: bool,
    /// State that recruitment was even, so that mortality is given in spite of uneven stocking.
    #[arg(long)]
    pub even_recruitment: bool,
    /// Paper the report is to be printed on.
    #[arg(long, value_enum, default_value = "printer")]
    pub paper: PaperFlag,
    /// Species, where a survey has several; default: the survey's.
    #[arg(long)]
    pub species: Option<String>,
    /// Reader whose ages count; default: the first reader of the survey.
    #[arg(long)]
    pub reader: Option<String>,
    /// Who caught the fish, as it is to stand on the first page.
    #[arg(long, value_name = "TEXT", default_value = "")]
    pub crew: String,
    /// The day the report stands for, as 2025-10-08; default: the newest date in the data.
    #[arg(long, value_name = "DATE")]
    pub date: Option<String>,
    /// Print the list of files as one JSON document.
    #[arg(long)]
    pub json: bool,
}
