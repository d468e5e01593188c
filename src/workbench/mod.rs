//! Everything the program can do, short of showing it. The window and the command line stand on it.
//!
//! Start at [`workbench`] for what is open and under way, at [`action`] for what can be asked of it, at [`demo`] for
//! the main job from end to end.

pub mod action;
pub mod agree_figures;
pub mod agree_fish;
pub mod blind_json;
pub mod blind_lists;
pub mod blind_picture;
pub mod blind_session;
#[cfg(test)]
mod blind_session_tests;
pub mod demo;
pub mod demo_survey;
pub mod growth_findings;
pub mod job;
pub mod notices;
pub mod propose_jobs;
pub mod propose_json;
pub mod recalibrate;
mod reduced;
pub mod report_contents;
pub mod report_files;
pub mod report_request;
pub mod resolve_readings;
pub mod session;
pub mod session_agree;
pub mod session_ahead;
pub mod session_axis;
pub mod session_batch;
pub mod session_blind;
pub mod session_card;
pub mod session_card_png;
pub mod session_disputed;
pub mod session_evidence;
pub mod session_export;
pub mod session_first;
pub mod session_growth;
pub mod session_import;
pub mod session_lengths;
pub mod session_list;
pub mod session_lists;
mod session_mask;
pub mod session_practice;
pub mod session_propose;
mod session_recalibrate;
pub mod session_report;
pub mod session_save;
pub mod session_scan;
pub mod session_selection;
pub mod session_slide;
pub mod session_snap;
mod session_verbs;
pub mod settings;
pub mod settings_keys;
pub mod settings_sheets;
pub mod settings_tone;
pub mod sheet_check;
pub mod sheet_import;
pub mod sheet_meaning;
pub mod sheet_offers;
pub mod sheet_radii;
pub mod sheet_scans;
pub mod sheet_taking;
#[cfg(test)]
mod sheet_tests;
pub mod simulate_files;
pub mod start_survey;
pub mod survey_ages;
pub mod survey_ages_by_reader;
pub mod survey_compare;
pub mod survey_data;
pub mod survey_growth;
pub mod survey_increments;
pub mod survey_json;
pub mod survey_key_weights;
pub mod survey_lengths;
pub mod survey_readings;
pub mod survey_report;
mod survey_report_cards;
mod survey_report_facts;
mod survey_report_inputs;
pub mod survey_summary;
pub mod survey_uncertainty;
pub mod truth_json;
pub mod water_compare;
pub mod waters;
#[expect(clippy::module_inception, reason = "the room is named for what stands in its middle")]
pub mod workbench;

pub use session_axis::{axis_moved_to, axis_with};
pub use session_verbs::moved_to;
