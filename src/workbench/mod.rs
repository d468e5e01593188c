//! Everything the program can do, short of showing it. Knows no window toolkit.

pub mod propose_jobs;
pub mod propose_json;
