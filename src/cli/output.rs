//! Where words go: results to standard output, messages and progress to standard error.

use std::io::{ErrorKind, Write};
use std::path::Path;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use indicatif::{ProgressBar, ProgressStyle};
use serde_json::Value;

use super::Failure;
use crate::domain::progress::Progress;
use crate::store::spreadsheet::{TableText, read_table_text};

/// Prints a result. A reader that closed the pipe (`| head`) is no failure.
pub fn result(text: &str) -> Result<(), Failure> {
    let mut out = std::io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(error) if error.kind() != ErrorKind::BrokenPipe => {
            Err(Failure::data(format!("cannot write to standard output: {error}")))
        }
        _ => Ok(()),
    }
}

/// Prints one JSON document.
pub fn json(value: &Value) -> Result<(), Failure> {
    result(&format!("{value:#}\n"))
}

/// Prints one line on standard error.
pub fn message(text: &str) {
    // Nothing is left to tell anybody if standard error itself is gone.
    let _ = writeln!(std::io::stderr().lock(), "winterline: {text}");
}

/// Reads a file as the text of a table, CSV or a sheet of a workbook.
pub fn table(file: &Path, sheet: Option<&str>) -> Result<TableText, Failure> {
    let text = read_table_text(file, sheet).map_err(|error| Failure::data(error.to_string()))?;
    // Warnings are told at once; errors are told with those of the table itself.
    let warnings = text.problems.iter().filter(|problem| !problem.is_error());
    warnings.for_each(|problem| message(&problem.to_string()));
    Ok(text)
}

/// Runs long work while a bar on standard error follows it. Without a terminal no bar is drawn.
pub fn with_progress<T>(what: &'static str, work: impl FnOnce(&Progress) -> T) -> T {
    let progress = Progress::new();
    let bar = ProgressBar::no_length().with_message(what);
    if let Ok(style) = ProgressStyle::with_template("{msg:<28} {bar:36} {pos}/{len} {elapsed}") {
        bar.set_style(style);
    }
    let watched = progress.clone();
    let ended = AtomicBool::new(false);
    let result = std::thread::scope(|scope| {
        let (ended, bar) = (&ended, &bar);
        let watcher = scope.spawn(move || {
            while !ended.load(Ordering::Relaxed) {
                let (done, total) = watched.counts();
                bar.set_length(total as u64);
                bar.set_position(done as u64);
                std::thread::park_timeout(Duration::from_millis(120));
            }
        });
        let result = work(&progress);
        ended.store(true, Ordering::Relaxed);
        watcher.thread().unpark();
        result
    });
    bar.finish_and_clear();
    result
}
