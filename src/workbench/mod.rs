//! Everything the program can do, short of showing it. The window and the command line stand on it.
//!
//! Start at [`workbench`] for what is open and under way, at [`action`] for what can be asked of it, at [`demo`] for
//! the main job from end to end.

pub mod action;
pub mod blind_json;
pub mod blind_lists;
pub mod blind_picture;
pub mod blind_session;
#[cfg(test)]
mod blind_session_tests;
pub mod demo;
pub mod demo_survey;
pub mod job;
pub mod notices;
pub mod propose_jobs;
pub mod propose_json;
pub mod recalibrate;
pub mod resolve_readings;
pub mod session;
pub mod session_ahead;
pub mod session_batch;
pub mod session_card;
pub mod session_evidence;
pub mod session_export;
pub mod session_first;
pub mod session_lengths;
pub mod session_propose;
pub mod session_save;
pub mod session_scan;
pub mod session_selection;
pub mod session_snap;
mod session_verbs;
pub mod settings;
pub mod settings_keys;
pub mod settings_tone;
pub mod simulate_files;
pub mod survey_ages;
pub mod survey_ages_by_reader;
pub mod survey_compare;
pub mod survey_growth;
pub mod survey_increments;
pub mod survey_json;
pub mod survey_lengths;
pub mod truth_json;
#[expect(clippy::module_inception, reason = "the room is named for what stands in its middle")]
pub mod workbench;

pub use session_verbs::{axis_moved_to, moved_to};
