//! `propose`: where the winters may be, on one scan or many.

use std::fmt::Write;
use std::path::Path;

use super::flags::{ProposeFlags, ProposedStructure};
use super::{BAD_DATA, DONE, Failure, output};
use crate::domain::reading::Structure;
use crate::proposing::strength_word;
use crate::workbench::propose_jobs::{JobEntry, ProposeJob, ProposeResult, parse_jobs, run_jobs};
use crate::workbench::propose_json::results_json;

/// Runs the verb.
pub fn run(flags: &ProposeFlags) -> Result<u8, Failure> {
    let jobs = jobs_of(flags)?;
    let results = output::with_progress("proposing annuli", |watch| run_jobs(&jobs, watch))
        .map_err(|stopped| Failure::data(stopped.to_string()))?;
    if flags.json {
        output::json(&results_json(&jobs, &results))?;
    } else {
        output::result(&table(&jobs, &results))?;
    }
    let mut status = DONE;
    for message in results.iter().filter_map(|result| result.as_ref().err()) {
        output::message(message);
        status = BAD_DATA;
    }
    Ok(status)
}

fn jobs_of(flags: &ProposeFlags) -> Result<Vec<JobEntry>, Failure> {
    if let Some(file) = &flags.jobs {
        let text = std::fs::read_to_string(file).map_err(|error| {
            Failure::data(format!("cannot read the jobs: {error}: '{}'", file.display()))
        })?;
        let folder = file.parent().unwrap_or(Path::new("."));
        return parse_jobs(&text, folder)
            .map_err(|message| Failure::data(format!("{message}: '{}'", file.display())));
    }
    let structure = match flags.structure {
        Some(ProposedStructure::Otolith) => Structure::Otolith,
        _ => Structure::Scale,
    };
    if flags.um_per_px.is_some_and(|size| !(size.is_finite() && size > 0.0)) {
        return Err(Failure::usage("--um-per-px needs a positive number"));
    }
    Ok(flags
        .images
        .iter()
        .map(|path| {
            let mut job = ProposeJob::new(path, structure);
            job.um_per_px = flags.um_per_px.map(|size| [size, size]);
            Ok(job)
        })
        .collect())
}

fn table(jobs: &[JobEntry], results: &[Result<ProposeResult, String>]) -> String {
    let mut text = String::from("proposals only: nothing counts until a reader confirms it\n\n");
    for (job, result) in jobs.iter().zip(results) {
        let (Ok(job), Ok(done)) = (job, result) else { continue };
        // Writing to a String cannot fail.
        let _ = writeln!(text, "{}", job.image);
        if let Some(refusal) = &done.found.refused {
            let _ = writeln!(text, "  nothing proposed: {}", refusal.message());
        }
        for (index, annulus) in done.found.annuli.iter().enumerate() {
            let _ = writeln!(
                text,
                "  annulus {:>2}  {:>8.1} µm  {}",
                index + 1,
                annulus.radius.0,
                strength_word(annulus.probability)
            );
        }
        if let Some(edge) = done.found.axis.as_ref().zip(done.found.edge) {
            let radius = edge.0.micrometres_at(edge.1, &done.calibration);
            let _ = writeln!(text, "  margin      {:>8.1} µm", radius.0);
        }
        let others = done.found.alternatives.len();
        if others > 0 {
            let _ = writeln!(
                text,
                "  {others} weaker candidate{} to look at",
                if others == 1 { "" } else { "s" }
            );
        }
        for notice in done.notices.iter().chain(&done.found.warnings) {
            let _ = writeln!(text, "  note: {notice}");
        }
    }
    text
}
