//! Winterline: from scanned scale impressions and otolith images to ages, growth and year classes.
//!
//! The rooms, in reading order; each may use only the rooms above it (the table in `DEVELOPERS.md` is
//! enforced by a test):

/// Numbers: back-calculation of lengths, regressions and tables.
pub mod analysis;
/// The command line.
pub mod cli;
/// Words and units of the trade: fish, scans, axes, marks, readings, ages.
pub mod domain;
/// The window.
pub mod gui;
/// Pictures: decoding with limits, resolution tags, intensity profiles, smoothing and peaks.
pub mod imaging;
/// A reading under edit: commands, and an undo history of whole documents.
pub mod marking;
/// Finding the winters: circulus spacing on scales, zones on otoliths, and which of them are annuli.
pub mod proposing;
/// Results as tables, JSON and CSV; returns text, writes nothing.
pub mod report;
/// Pictures and whole lakes with known truth.
pub mod simulate;
/// Files of a survey: sidecars, field sheets, safe writing.
pub mod store;
/// Everything the program can do, short of showing it.
pub mod workbench;
