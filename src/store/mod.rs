//! Files of a survey: what is read, what is written, and how nothing confirmed is lost.
//!
//! Start at [`collection`](crate::store::collection) to open a survey folder, at [`sidecar`](crate::store::sidecar) for
//! one reader's readings on one scan, and at [`safe_write`](crate::store::safe_write) for the one way of writing.

pub mod ages_table;
pub mod archive;
pub mod archive_index;
pub mod blind;
pub mod blind_candidates;
pub mod blind_error;
mod blind_file;
pub mod blind_filing;
#[cfg(test)]
mod blind_filing_tests;
pub mod blind_pack;
pub mod blind_readings;
pub mod blind_take_in;
#[cfg(test)]
mod blind_tests;
mod blind_v1;
pub mod cells;
pub mod collection;
#[cfg(test)]
mod collection_tests;
mod decision_files;
pub mod effort_file;
pub mod error;
pub mod exclusion_file;
pub mod field_sheet;
#[cfg(test)]
mod field_sheet_tests;
pub mod field_sheet_writer;
pub mod file_name;
pub mod fingerprint;
pub mod length_at_age_table;
pub mod lengths_table;
mod lists_check;
pub mod problem;
pub mod radii_table;
pub mod raw_sheet;
pub mod reference_file;
pub mod resolution_file;
#[cfg(test)]
mod resolution_tests;
pub mod safe_write;
pub mod sheet;
pub mod sidecar;
#[cfg(test)]
mod sidecar_loss_tests;
mod sidecar_merge;
mod sidecar_several;
#[cfg(test)]
mod sidecar_tests;
mod sidecar_v1;
pub mod spreadsheet;
pub mod stocking_file;
mod summary_bytes;
pub mod survey_check;
pub mod survey_file;
pub mod survey_stamp;
pub mod table;
pub mod table_writer;
pub mod unit_suspicion;
mod word;
