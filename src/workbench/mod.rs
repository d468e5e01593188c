//! Everything the program can do, short of showing it. Knows no window toolkit.

pub mod check_survey;
pub mod demo;
pub mod demo_survey;
pub mod propose_jobs;
pub mod propose_json;
pub mod simulate_files;
pub mod survey_lengths;
pub mod survey_readings;
pub mod truth_json;
