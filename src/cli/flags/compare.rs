//! Flags of `compare`.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::{AgesFromFlag, BasisFlag, MethodFlags};

/// One sex.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum SexFlag {
    /// Females.
    Female,
    /// Males.
    Male,
}

/// Flags of `compare`.
#[derive(Debug, Args)]
pub struct CompareFlags {
    /// Survey folders, or folders with surveys anywhere below them.
    #[arg(required = true)]
    pub surveys: Vec<PathBuf>,
    /// A standard as CSV; without it the surveys make the standard, each water left out of its own.
    #[arg(long, value_name = "FILE")]
    pub reference: Option<PathBuf>,
    /// Lengths that are compared; the two never mix.
    #[arg(long, value_enum, default_value = "annulus")]
    pub basis: BasisFlag,
    /// Fish an age must have to count.
    #[arg(long, value_name = "N", default_value_t = 5, value_parser = clap::value_parser!(u32).range(1..))]
    pub min_fish: u32,
    /// Whose ages are used: one reader's, or what several leave.
    #[arg(long, value_enum, default_value = "reader")]
    pub ages_from: AgesFromFlag,
    /// How radii become lengths.
    #[command(flatten)]
    pub method: MethodFlags,
    /// Species, where the surveys have several.
    #[arg(long)]
    pub species: Option<String>,
    /// Compare only fish of this sex, with a standard of that sex.
    #[arg(long, value_enum)]
    pub sex: Option<SexFlag>,
    /// Show only this water, with its surveys and its years; the standard is made of all.
    #[arg(long, value_name = "NAME")]
    pub water: Option<String>,
    /// Write the standard that all waters make together, of every species and sex, as a CSV that --reference takes.
    #[arg(long, value_name = "FILE", conflicts_with = "reference")]
    pub write_standard: Option<PathBuf>,
    /// Reader whose readings are used; default: the first reader of each survey.
    #[arg(long)]
    pub reader: Option<String>,
    /// Read every survey of an archive anew, and neither use nor write the index that the archive keeps.
    #[arg(long)]
    pub without_index: bool,
    /// Print one JSON document.
    #[arg(long)]
    pub json: bool,
    /// Print comma-separated values, one row for each survey and age.
    #[arg(long, conflicts_with = "json")]
    pub csv: bool,
}
