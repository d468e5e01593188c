//! Plots of the report as SVG: readable in grey, with a title and a description for those who cannot see them.

mod frame;
mod ticks;

pub use frame::{Dash, Legend, Marker, Plot, PlotText, Range};

/// Replaces what no document may hold (control characters but tab and new line) by the replacement character.
pub fn printable(text: &str) -> String {
    let is_plain = |c: char| !c.is_control() || c == '\n' || c == '\t';
    text.chars().map(|c| if is_plain(c) { c } else { '\u{fffd}' }).collect()
}
