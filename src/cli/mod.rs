//! The command line: one file for each verb, results on standard output, everything else on standard error.

mod ages;
mod ages_from;
mod agree;
mod check;
mod compare;
mod demo;
mod flags;
mod growth;
mod growth_survey;
mod lengths;
mod list;
mod method;
mod output;
mod propose;
mod read;
mod report;
mod simulate;

use std::ffi::OsString;
use std::path::PathBuf;

use clap::Parser;

use crate::domain::blind::ListName;
use crate::domain::reading::ReaderInitials;
use flags::{Flags, Verb};

/// Exit status: the whole job was done.
pub const DONE: u8 = 0;
/// Exit status: the data was bad.
pub const BAD_DATA: u8 = 1;
/// Exit status: the command line was wrong.
pub const BAD_USAGE: u8 = 2;

/// What is to happen after the command line has done its part.
#[derive(Debug)]
pub enum Ending {
    /// Leave with this status.
    Exit(u8),
    /// Open the window.
    OpenWindow {
        /// On this survey, if any.
        survey: Option<PathBuf>,
        /// For this reader, if stated.
        reader: Option<ReaderInitials>,
        /// On this blind list of it, if any.
        list: Option<ListName>,
    },
}

/// Why a verb could not do its job: one clear line and the status to leave with.
#[derive(Debug)]
struct Failure {
    message: String,
    status: u8,
}

impl Failure {
    fn data(message: impl Into<String>) -> Self {
        Self { message: message.into(), status: BAD_DATA }
    }

    fn usage(message: impl Into<String>) -> Self {
        Self { message: message.into(), status: BAD_USAGE }
    }
}

/// Parses the arguments (the first is the program's name) and runs the verb.
pub fn run(arguments: impl IntoIterator<Item = OsString>) -> Ending {
    let flags = match Flags::try_parse_from(arguments) {
        Ok(flags) => flags,
        Err(error) => {
            // Help and version are no errors; clap knows which stream each belongs to.
            let status = if error.use_stderr() { BAD_USAGE } else { DONE };
            return match error.print() {
                Ok(()) => Ending::Exit(status),
                Err(_) => Ending::Exit(BAD_DATA),
            };
        }
    };
    let ended = match flags.verb {
        None => Ok(Ending::OpenWindow { survey: None, reader: None, list: None }),
        Some(Verb::Demo(flags)) => demo::run(&flags),
        Some(Verb::Read(flags)) => read::run(&flags),
        Some(Verb::Propose(flags)) => propose::run(&flags).map(Ending::Exit),
        Some(Verb::Lengths(flags)) => lengths::run(&flags).map(Ending::Exit),
        Some(Verb::Ages(flags)) => ages::run(&flags).map(Ending::Exit),
        Some(Verb::List(verb)) => list::run(&verb).map(Ending::Exit),
        Some(Verb::Agree(flags)) => agree::run(&flags).map(Ending::Exit),
        Some(Verb::Growth(flags)) => growth::run(&flags).map(Ending::Exit),
        Some(Verb::Compare(flags)) => compare::run(&flags).map(Ending::Exit),
        Some(Verb::Report(flags)) => report::run(&flags).map(Ending::Exit),
        Some(Verb::Check(flags)) => check::run(&flags).map(Ending::Exit),
        Some(Verb::Simulate(flags)) => simulate::run(&flags).map(Ending::Exit),
    };
    ended.unwrap_or_else(|failure| {
        output::message(&failure.message);
        Ending::Exit(failure.status)
    })
}

/// Says why the window did not open and how to go on; gives the status to leave with.
pub fn window_failed(reason: &str) -> u8 {
    output::message(&format!("the window could not be opened: {reason}"));
    output::message("everything else works from the command line: see winterline --help");
    BAD_DATA
}
