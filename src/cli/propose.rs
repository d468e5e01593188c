//! `propose`: where the winters may be, on one scan or many.

use std::fmt::Write;
use std::path::Path;

use super::flags::{ProposeFlags, ProposedStructure};
use super::{BAD_DATA, DONE, Failure, output};
use crate::domain::reading::Structure;
use crate::proposing::recalibration::strength_shown;
use crate::store::collection::OpenSurvey;
use crate::workbench::propose_jobs::{JobEntry, ProposeJob, ProposeResult, parse_jobs, run_jobs};
use crate::workbench::propose_json::results_json;
use crate::workbench::recalibrate::{OwnLines, gather, refit};

/// Runs the verb.
pub fn run(flags: &ProposeFlags) -> Result<u8, Failure> {
    let jobs = jobs_of(flags)?;
    let own = own_lines(flags.readings_of.as_deref(), &jobs)?;
    let results = output::with_progress("proposing annuli", |watch| run_jobs(&jobs, watch))
        .map_err(|stopped| Failure::data(stopped.to_string()))?;
    if flags.json {
        output::json(&results_json(&jobs, &results, &own))?;
    } else {
        output::result(&table(&jobs, &results, &own))?;
    }
    let mut status = DONE;
    for message in results.iter().filter_map(|result| result.as_ref().err()) {
        output::message(message);
        status = BAD_DATA;
    }
    Ok(status)
}

/// The lines of the survey named: fitted anew, so that they rest on the readings as they are now.
fn own_lines(survey: Option<&Path>, jobs: &[JobEntry]) -> Result<OwnLines, Failure> {
    let mut own = OwnLines::default();
    let Some(folder) = survey else { return Ok(own) };
    let survey = OpenSurvey::open(folder).map_err(|error| Failure::data(error.to_string()))?;
    let asked = |structure| jobs.iter().flatten().any(|job| job.structure == structure);
    for structure in [Structure::Scale, Structure::Otolith].into_iter().filter(|one| asked(*one)) {
        let gathered =
            output::with_progress("comparing readings", |watch| gather(&survey, structure, watch))
                .map_err(|stopped| Failure::data(stopped.to_string()))?;
        for left_out in &gathered.left_out {
            output::message(left_out);
        }
        let line = refit(folder, &gathered)
            .map_err(|why| Failure::data(format!("{why}: '{}'", folder.display())))?;
        own.replace(structure, Some(line));
    }
    Ok(own)
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

fn table(jobs: &[JobEntry], results: &[Result<ProposeResult, String>], own: &OwnLines) -> String {
    let mut text = String::from("proposals only: nothing counts until a reader confirms it\n\n");
    for (job, result) in jobs.iter().zip(results) {
        let (Ok(job), Ok(done)) = (job, result) else { continue };
        let own = own.of(job.structure);
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
                strength_shown(annulus.probability, own)
            );
        }
        if let Some(edge) = done.found.axis.as_ref().zip(done.found.edge) {
            let radius = edge.0.micrometres_at(edge.1, &done.calibration);
            let _ = writeln!(
                text,
                "  margin      {:>8.1} µm  look whether a winter lies at the very edge",
                radius.0
            );
        }
        let others = done.found.alternatives.len();
        if others > 0 {
            let _ = writeln!(
                text,
                "  {others} weaker candidate{} to look at",
                if others == 1 { "" } else { "s" }
            );
        }
        if let (Some(own), false) = (own, done.found.annuli.is_empty()) {
            let _ = writeln!(text, "  probabilities {}", own.basis());
        }
        for notice in done.notices.iter().chain(&done.found.warnings) {
            let _ = writeln!(text, "  note: {notice}");
        }
    }
    text
}
