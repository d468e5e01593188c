//! Chooses between the window and the command line.

use std::process::ExitCode;

use winterline::cli::{self, Ending};
use winterline::gui;

fn main() -> ExitCode {
    match cli::run(std::env::args_os()) {
        Ending::Exit(status) => ExitCode::from(status),
        Ending::OpenWindow { survey, reader, list } => match gui::run(survey, reader, list) {
            Ok(()) => ExitCode::SUCCESS,
            Err(message) => ExitCode::from(cli::window_failed(&message)),
        },
    }
}
