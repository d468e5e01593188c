//! The truth of invented pictures, and the jobs that propose on them, as JSON.

use kurbo::Point;
use serde_json::{Value, json};

use crate::simulate::truth::PictureTruth;

/// What is true of one picture.
pub fn truth_json(image: &str, truth: &PictureTruth) -> Value {
    json!({
        "image": image,
        "structure": truth.structure.word(),
        "style": truth.style.word(),
        "difficulty": truth.difficulty.word(),
        "seed": truth.seed,
        "light": truth.light.word(),
        "um_per_px": truth.um_per_px,
        "focus": point_json(truth.focus_px),
        "axis": truth.axis_px.map(point_json),
        "edge_um": truth.edge_um,
        "annuli": truth.annuli.iter().map(|annulus| json!({
            "um": annulus.um, "inner_um": annulus.inner_um, "strength": annulus.strength, "split": annulus.split,
        })).collect::<Value>(),
        "checks": truth.checks.iter().map(|check| json!({
            "um": check.um, "all_round": check.all_round, "on_axis": check.on_axis,
        })).collect::<Value>(),
        "edge_annulus": truth.edge_annulus,
        "regenerated": truth.regenerated,
        "readable": truth.readable,
    })
}

/// A job for `winterline propose --jobs` with focus and axis as drawn and the pixel size left to the file's tag.
pub fn job_json(image: &str, truth: &PictureTruth) -> Value {
    json!({
        "image": image,
        "structure": truth.structure.word(),
        "um_per_px": null,
        "box": null,
        "light": truth.light.word(),
        "focus": point_json(truth.focus_px),
        "axis": truth.axis_px.map(point_json),
    })
}

fn point_json(point: Point) -> Value {
    json!([point.x, point.y])
}
