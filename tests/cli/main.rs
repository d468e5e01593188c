//! The built program as people and scripts use it: what it prints, the status it leaves with, the files it leaves.

// All of this is test code; clippy exempts only the functions marked as tests, not those they share.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

mod ages;
mod ages_from;
mod agree;
mod archive;
mod compare;
mod demo_survey;
mod docs;
mod fixture;
mod growth;
mod growth_errors;
mod killed;
mod lengths;
mod lists_check;
mod propose;
mod read_survey;
mod report;
mod run;
mod shared_folder;
mod stress;
mod waters;
mod well_formed;
mod workbook;
mod wrong_inputs;
