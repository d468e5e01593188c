//! Files of a survey: what is read, what is written, and how nothing confirmed is lost.
//!
//! Start at [`collection`] to open a survey folder, at [`sidecar`] for one reader's readings on one scan, and
//! at [`safe_write`] for the one way in which anything is written.

pub mod ages_table;
mod cells;
pub mod collection;
mod dates;
pub mod error;
pub mod field_sheet;
pub mod field_sheet_writer;
pub mod file_name;
pub mod fingerprint;
pub mod problem;
pub mod radii_table;
pub mod safe_write;
pub mod sidecar;
mod sidecar_merge;
mod sidecar_v1;
pub mod survey_file;
pub mod table;
mod unit_suspicion;
mod word;
