//! Results of proposing as the JSON that others rely on.

use kurbo::Point;
use serde_json::{Value, json};

use super::propose_jobs::{JobEntry, ProposeResult};
use super::recalibrate::OwnLines;
use crate::domain::calibration::Calibration;
use crate::proposing::recalibration::Recalibration;
use crate::proposing::{Proposal, Proposals};

/// One JSON array in the order of the jobs. Where `own` has a line for a job's structure, each candidate bears the
/// probability by it beside the program's own, and the result says what it rests on.
pub fn results_json(
    jobs: &[JobEntry],
    results: &[Result<ProposeResult, String>],
    own: &OwnLines,
) -> Value {
    jobs.iter().zip(results).map(|(job, result)| result_json(job, result, own)).collect()
}

fn result_json(job: &JobEntry, result: &Result<ProposeResult, String>, own: &OwnLines) -> Value {
    let own = job.as_ref().ok().and_then(|job| own.of(job.structure));
    let image = match job {
        Ok(job) => Some(job.image.as_str()),
        Err(bad) => bad.image.as_deref(),
    };
    match result {
        Ok(done) => found_json(image, done, own),
        Err(message) => json!({
            "image": image, "um_per_px": null, "focus": null, "axis": null, "edge_um": null,
            "annuli": [], "checks": [], "alternatives": [], "edge_annulus": null, "own_line": null,
            "refused": null, "error": message,
        }),
    }
}

fn found_json(image: Option<&str>, done: &ProposeResult, own: Option<&Recalibration>) -> Value {
    let ProposeResult { calibration, found, notices } = done;
    let edge_um = found
        .axis
        .as_ref()
        .zip(found.edge)
        .map(|(axis, edge)| axis.micrometres_at(edge, calibration).0);
    let warnings: Vec<&String> = notices.iter().chain(&found.warnings).collect();
    json!({
        "image": image,
        "um_per_px": um_per_px_json(calibration),
        "focus": found.axis.as_ref().map(|axis| point_json(axis.focus())),
        "axis": axis_json(found),
        "edge_um": edge_um,
        "annuli": found.annuli.iter().map(|one| annulus_json(one, own)).collect::<Value>(),
        "checks": found.checks.iter().map(|one| brief_json(one, own)).collect::<Value>(),
        "alternatives": found.alternatives.iter().map(|one| brief_json(one, own)).collect::<Value>(),
        // Measured on simulated pictures, the number foretells an annulus at the margin no better than their share does
        // (docs/finding.md): none is given.
        "edge_annulus": null,
        "own_line": own.map(own_json),
        "refused": found.refused.as_ref().map(|refusal| refusal.message()),
        "light": found.light.map(|light| light.word()),
        "suggested": {
            "focus_confidence": found.suggested.focus,
            "axis_confidence": found.suggested.axis,
            "margin_confidence": found.suggested.margin,
        },
        "warnings": warnings,
        "error": null,
    })
}

fn um_per_px_json(calibration: &Calibration) -> Value {
    let (x, y) = (calibration.x_um_per_px(), calibration.y_um_per_px());
    if x == y { json!(x) } else { json!([x, y]) }
}

fn point_json(point: Point) -> Value {
    json!([point.x, point.y])
}

fn axis_json(found: &Proposals) -> Value {
    found.axis.as_ref().map_or(Value::Null, |axis| {
        axis.vertices().iter().map(|vertex| point_json(*vertex)).collect()
    })
}

fn own_json(own: &Recalibration) -> Value {
    json!({
        "slope": own.slope, "shift": own.shift, "n_proposals": own.n_proposals, "n_fish": own.n_fish,
        "basis": own.basis(),
    })
}

fn annulus_json(proposal: &Proposal, own: Option<&Recalibration>) -> Value {
    json!({
        "um": proposal.radius.0,
        "px": proposal.position.0,
        "xy": point_json(proposal.at),
        "probability": proposal.probability,
        "probability_here": own.map(|own| own.applied(proposal.probability)),
        "inner_um": proposal.inner_radius.0,
        "continuity": proposal.continuity,
        "ring_svg_path": proposal.ring.as_ref().map(kurbo::BezPath::to_svg),
    })
}

fn brief_json(proposal: &Proposal, own: Option<&Recalibration>) -> Value {
    json!({
        "um": proposal.radius.0,
        "probability": proposal.probability,
        "probability_here": own.map(|own| own.applied(proposal.probability)),
    })
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;
    use crate::domain::calibration::CalibrationSource;
    use crate::domain::reading::Structure;
    use crate::domain::units::{Micrometres, Pixels};
    use crate::proposing::Refusal;
    use crate::workbench::propose_jobs::ProposeJob;

    #[test]
    fn own_probabilities_stand_beside_the_programs_and_only_for_their_structure() {
        let annulus = Proposal {
            position: Pixels(100.0),
            radius: Micrometres(500.0),
            inner_radius: Micrometres(480.0),
            at: Point::new(100.0, 0.0),
            probability: 0.8,
            ring: None,
            continuity: 1.0,
        };
        let found = Proposals {
            annuli: vec![annulus],
            edge_annulus: Some(0.3),
            refused: None,
            ..Proposals::refused(Refusal::Empty)
        };
        let calibration = Calibration::new(5.0, 5.0, CalibrationSource::FileTag).unwrap();
        let done = ProposeResult { calibration, found, notices: Vec::new() };
        let own = Recalibration { slope: 0.5, shift: -0.2, n_proposals: 400, n_fish: 80 };
        let mut lines = OwnLines::default();
        lines.replace(Structure::Scale, Some(own));
        let json = |structure| {
            let job = ProposeJob::new(Path::new("a.tif"), structure);
            results_json(&[Ok(job)], &[Ok(done.clone())], &lines)[0].clone()
        };
        let scale = json(Structure::Scale);
        assert_eq!(scale["annuli"][0]["probability"], 0.8);
        // log-odds of 0.8: ln 4 = 1.38629; -0.2 + 0.5 x 1.38629 = 0.49315; 1 / (1 + e^-0.49315) = 0.62085 (bc, 5 places).
        let here = scale["annuli"][0]["probability_here"].as_f64().unwrap();
        assert!((here - 0.62085).abs() < 1e-5, "{here}");
        assert_eq!(scale["own_line"]["n_fish"], 80);
        assert_eq!(scale["edge_annulus"], Value::Null);
        let otolith = json(Structure::Otolith);
        assert_eq!(otolith["annuli"][0]["probability_here"], Value::Null);
        assert_eq!(otolith["own_line"], Value::Null);
    }
}
