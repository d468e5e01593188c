//! Errors carried to lengths and parameters, for a terminal.

use std::fmt::Write as _;

use crate::analysis::uncertainty::Propagated;

/// The limits with all sources together, the table of sources, and what to know before using them.
pub fn propagated_text(found: &Propagated) -> String {
    let mut text = format!(
        "\nUncertainty, all known errors carried by simulation (JCGM 101:2008): {} replicates, seed {}, {} fish\n",
        found.replicates, found.seed, found.n_fish
    );
    let limits = |limits: Option<[f64; 2]>, digits: usize| {
        limits.map_or("-".to_owned(), |[low, high]| format!("{low:.digits$} to {high:.digits$}"))
    };
    if !found.parameters.is_empty() {
        put(&mut text, format_args!("  {:<8}{:>12}{:>12}  95 %", "", "estimate", "SE"));
    }
    for one in &found.parameters {
        let digits = if one.estimate.abs() >= 100.0 { 1 } else { 3 };
        let se = one.se.map_or("-".to_owned(), |se| format!("{se:.digits$}"));
        let ci95 = limits(one.ci95, digits);
        put(
            &mut text,
            format_args!("  {:<8}{:>12.digits$}{se:>12}  {ci95}", one.name, one.estimate),
        );
    }
    if let Some(reason) = &found.curve_error {
        put(&mut text, format_args!("  no curve: {reason}"));
    }
    put(
        &mut text,
        format_args!("  {:>6}{:>6}{:>12}{:>10}  95 % of the mean", "age", "n", "mean, mm", "SE"),
    );
    for row in &found.by_age {
        let se = row.se_mm.map_or("-".to_owned(), |se| format!("{se:.1}"));
        let ci95 = limits(row.ci95_mm, 1);
        put(
            &mut text,
            format_args!("  {:>6}{:>6}{:>12.1}{se:>10}  {ci95}", row.age, row.n, row.mean_mm),
        );
    }
    put(&mut text, format_args!("  Share of the variance by source"));
    for one in &found.sources {
        let share =
            one.share.map_or("not known".to_owned(), |share| format!("{:.1} %", 100.0 * share));
        put(&mut text, format_args!("  {:<30}{share:>10}  {}", one.source.name(), one.note));
    }
    for warning in found.warnings() {
        put(&mut text, format_args!("  ! {warning}"));
    }
    text
}

fn put(text: &mut String, arguments: std::fmt::Arguments<'_>) {
    // Writing to a string cannot fail.
    let _ = text.write_fmt(arguments);
    text.push('\n');
}
