//! Flags of `list`.

use std::path::PathBuf;

use clap::{Args, Subcommand};

/// What to do with blind re-read lists.
#[derive(Debug, Subcommand)]
pub enum ListVerb {
    /// Draw a new list; without a rule all fish with a scan are on it.
    New(ListNewFlags),
    /// Close a list: it takes no more readings, and analyses may use those it has.
    Close(ListCloseFlags),
    /// Write a list as one file for another office: masked pictures, no mapping.
    Pack(ListPackFlags),
    /// Take in the readings that came back from another office.
    TakeIn(ListTakeInFlags),
}

/// Flags of `list new`.
#[derive(Debug, Args)]
#[command(group(clap::ArgGroup::new("rule").args(["all", "share", "per_age", "per_length", "doubtful", "fish"])))]
pub struct ListNewFlags {
    /// Survey folder.
    pub survey: PathBuf,
    /// Name of the list: letters, digits and hyphens.
    pub name: String,
    /// Seed of the draw; the same seed gives the same list.
    #[arg(long)]
    pub seed: u64,
    /// All fish with a scan (the default).
    #[arg(long)]
    pub all: bool,
    /// A random share of the fish, above 0 and up to 1.
    #[arg(long, value_name = "P")]
    pub share: Option<f64>,
    /// Up to N fish of each age.
    #[arg(long, value_name = "N")]
    pub per_age: Option<usize>,
    /// Up to N fish of each length group.
    #[arg(long, value_name = "N", requires = "width")]
    pub per_length: Option<usize>,
    /// Width of a length group, millimetres.
    #[arg(long, value_name = "MM", requires = "per_length")]
    pub width: Option<f64>,
    /// Fish with faint or doubtful marks, poor confidence, or readers who differ.
    #[arg(long)]
    pub doubtful: bool,
    /// These fish, by their keys.
    #[arg(long, value_name = "KEY,...", value_delimiter = ',')]
    pub fish: Vec<String>,
    /// Slip in N further fish whose age is known from a mark or from stocking.
    #[arg(long, value_name = "N", default_value_t = 0)]
    pub references: usize,
    /// Let the reader see proposed annuli.
    #[arg(long)]
    pub show_proposals: bool,
    /// Withhold the species.
    #[arg(long)]
    pub hide_species: bool,
    /// Withhold the structure.
    #[arg(long)]
    pub hide_structure: bool,
    /// Withhold the month of capture.
    #[arg(long)]
    pub hide_month: bool,
    /// Initials of the lead who draws it.
    #[arg(long)]
    pub by: Option<String>,
    /// Print the files written as one JSON document.
    #[arg(long)]
    pub json: bool,
}

/// Flags of `list close`.
#[derive(Debug, Args)]
pub struct ListCloseFlags {
    /// Survey folder.
    pub survey: PathBuf,
    /// Name of the list.
    pub name: String,
    /// Initials of the lead who closes it.
    #[arg(long)]
    pub by: Option<String>,
    /// Print the files written as one JSON document.
    #[arg(long)]
    pub json: bool,
}

/// Flags of `list pack`.
#[derive(Debug, Args)]
pub struct ListPackFlags {
    /// Survey folder.
    pub survey: PathBuf,
    /// Name of the list.
    pub name: String,
    /// File to write; never one that is there.
    pub file: PathBuf,
    /// Print the files written as one JSON document.
    #[arg(long)]
    pub json: bool,
}

/// Flags of `list take-in`.
#[derive(Debug, Args)]
pub struct ListTakeInFlags {
    /// Survey folder.
    pub survey: PathBuf,
    /// The file NAME.READER.json that came back.
    pub file: PathBuf,
    /// Print the files written as one JSON document.
    #[arg(long)]
    pub json: bool,
}
