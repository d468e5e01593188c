//! The worst day: files damaged in every way, a disk that fails, numbers that are none. `docs/trust.md` says what is
//! tried and how to try more of it.

// All of this is test code; clippy exempts only the functions marked as tests, not those they share.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::print_stderr)]

mod bench;
mod cases;
mod damage;
mod damage_json;
mod damage_table;
mod faults;
mod faults_system;
mod marking;
mod messages;
mod names;
mod parsers_blind;
mod parsers_pictures;
mod parsers_survey;
mod parsers_tables;
mod parsers_words;
mod parsers_workbench;
