//! Flags of `ages`.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::AgesFromFlag;

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
    /// A CSV or XLSX file of aged fish: length_mm,age (and sex, run where known).
    #[arg(long, requires = "unaged")]
    pub aged: Option<PathBuf>,
    /// A CSV or XLSX file of fish only measured: length_mm (and count, sex, run where known).
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
    /// Whose ages of a survey are used: one reader's, or what several leave.
    #[arg(long, value_enum, default_value = "reader", conflicts_with = "aged")]
    pub ages_from: AgesFromFlag,
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
