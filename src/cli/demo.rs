//! `demo`: the main job on the demo survey, then the window on it where there is a display.

use std::fmt::Write;
use std::path::PathBuf;

use serde_json::json;

use super::flags::DemoFlags;
use super::{DONE, Ending, Failure, output};
use crate::report::lengths_json::lengths_json;
use crate::workbench::demo::{Demo, DemoLengths, DemoProposals};
use crate::workbench::simulate_files::SimulateError;

/// Runs the verb.
pub fn run(flags: &DemoFlags) -> Result<Ending, Failure> {
    let failed = |error: SimulateError| Failure::data(error.to_string());
    let demo =
        output::with_progress("drawing the demo survey", |watch| Demo::build(&flags.folder, watch))
            .map_err(failed)?;
    let proposals =
        output::with_progress("proposing annuli", |watch| demo.propose(watch)).map_err(failed)?;
    let lengths = output::with_progress("reading the readings", |watch| demo.lengths(watch))
        .map_err(failed)?;
    let written = demo.write_results(&proposals, &lengths).map_err(failed)?;
    if flags.json {
        output::json(&summary_json(&demo, &proposals, &lengths, &written))?;
        return Ok(Ending::Exit(DONE));
    }
    output::result(&summary(&demo, &proposals, &lengths, &written))?;
    let folder = flags.folder.display();
    if flags.no_window {
        return Ok(Ending::Exit(DONE));
    }
    if !has_display() {
        output::result(&format!(
            "\nNo display here. On a desktop, open the survey with:\n  winterline read {folder} --reader kb\n"
        ))?;
        return Ok(Ending::Exit(DONE));
    }
    Ok(Ending::OpenWindow { survey: Some(flags.folder.clone()), reader: None, list: None })
}

/// On Linux a window needs X11 or Wayland; elsewhere there is always a desktop.
fn has_display() -> bool {
    let is_set = |name| std::env::var_os(name).is_some_and(|value| !value.is_empty());
    !cfg!(target_os = "linux") || is_set("DISPLAY") || is_set("WAYLAND_DISPLAY")
}

struct Counts {
    proposed: usize,
    refused: usize,
    failed: usize,
}

fn counts(proposals: &DemoProposals) -> Counts {
    let mut counts = Counts { proposed: 0, refused: 0, failed: 0 };
    for result in &proposals.results {
        match result {
            Ok(done) if done.found.refused.is_some() => counts.refused += 1,
            Ok(done) => counts.proposed += done.found.annuli.len(),
            Err(_) => counts.failed += 1,
        }
    }
    counts
}

fn summary(
    demo: &Demo,
    proposals: &DemoProposals,
    lengths: &DemoLengths,
    written: &[PathBuf],
) -> String {
    let mut text = String::new();
    let found = counts(proposals);
    let (right, readable) = proposals.count_right;
    let (same, both) = lengths.same_age;
    let state = if demo.built.is_new { "built" } else { "already there, kept as it was" };
    // Writing to a String cannot fail.
    let _ = writeln!(text, "{} (an invented water)", demo.survey.survey.name);
    let _ = writeln!(text, "  survey     {} ({state})", demo.folder.display());
    let _ = writeln!(
        text,
        "  fish       {}, scans {}",
        demo.survey.fish.len(),
        demo.survey.scans.len()
    );
    let _ = writeln!(
        text,
        "  proposals  {} annuli on {} scans; nothing proposed on {}",
        found.proposed,
        proposals.results.len() - found.refused - found.failed,
        found.refused + found.failed
    );
    let _ = writeln!(
        text,
        "             as many as the fish has on {right} of {readable} readable scans"
    );
    let _ = writeln!(
        text,
        "  readings   {} sidecars; both readers aged {both} fish, {same} alike ({:.0} %)",
        lengths.readings.sidecars.len(),
        100.0 * same as f64 / (both.max(1)) as f64
    );
    text.push_str(&lengths_text(lengths));
    let _ = writeln!(text, "  results    {}", demo.folder.join("results").display());
    for path in written {
        let _ = writeln!(
            text,
            "             {}",
            path.file_name().unwrap_or_default().to_string_lossy()
        );
    }
    text.push_str("\nProposals rest on simulated pictures, and scale ages of old fish run low: see docs/cautions.md.\n");
    text
}

fn lengths_text(lengths: &DemoLengths) -> String {
    let mut text = String::new();
    let result = &lengths.lengths;
    let _ = writeln!(
        text,
        "  lengths    Fraser-Lee on reader {}'s radii, {} fish, {} left out",
        lengths.sample.reader,
        result.fish.len(),
        result.excluded.len() + lengths.sample.left_out.len()
    );
    let _ = writeln!(text, "             age      n   mean mm   SE");
    for row in &result.tables.by_age {
        let se = row.se_mm.map_or_else(|| "-".to_owned(), |se| format!("{se:.1}"));
        let _ = writeln!(
            text,
            "             {:>3}  {:>5}  {:>8.1}  {:>4}",
            row.age, row.n, row.mean_mm, se
        );
    }
    text
}

fn summary_json(
    demo: &Demo,
    proposals: &DemoProposals,
    lengths: &DemoLengths,
    written: &[PathBuf],
) -> serde_json::Value {
    let found = counts(proposals);
    let written: Vec<_> =
        demo.built.written.iter().chain(written).map(|path| path.to_string_lossy()).collect();
    json!({
        "survey": demo.folder.to_string_lossy(),
        "fish": demo.survey.fish.len(),
        "scans": demo.survey.scans.len(),
        "proposals": {
            "annuli": found.proposed,
            "refused": found.refused,
            "failed": found.failed,
            "count_right": proposals.count_right.0,
            "readable": proposals.count_right.1,
        },
        "readings": lengths.readings.sidecars.len(),
        "aged_by_both": lengths.same_age.1,
        "aged_alike": lengths.same_age.0,
        "lengths": lengths_json(&lengths.lengths, None),
        "written": written,
        "error": null,
    })
}
