//! Flags of `report`.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::BasisFlag;

/// Units of a report and its data.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum UnitsFlag {
    /// Millimetres and grams.
    Metric,
    /// Inches and pounds.
    Us,
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
    /// Intercept of Fraser-Lee, millimetres; default: by regression of length on radius.
    #[arg(long, value_name = "MM", allow_negative_numbers = true)]
    pub intercept: Option<f64>,
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
