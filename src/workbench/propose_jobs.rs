//! Proposing on many scans: a jobs file read, the scans worked through on all cores, one result each.

use std::path::{Path, PathBuf};

use kurbo::{Point, Rect};
use rayon::prelude::*;
use serde_json::Value;

use crate::domain::axis::Axis;
use crate::domain::calibration::{Calibration, CalibrationSource};
use crate::domain::progress::{Progress, Stopped};
use crate::domain::reading::{Light, Structure};
use crate::imaging::decode::{Limits, decode_file};
use crate::imaging::resolution::Resolution;
use crate::proposing::{Proposals, Request, propose};

/// One scan to propose on, with what is known about it.
#[derive(Debug, Clone, PartialEq)]
pub struct ProposeJob {
    /// The scan as named by the person.
    pub image: String,
    /// Where it lies.
    pub path: PathBuf,
    /// What it shows.
    pub structure: Structure,
    /// Pixel size in x and y, µm; `None`: the file's own tag.
    pub um_per_px: Option<[f64; 2]>,
    /// The impression's box.
    pub bounds: Option<Rect>,
    /// The light.
    pub light: Option<Light>,
    /// The focus.
    pub focus: Option<Point>,
    /// The axis, focus first.
    pub axis: Option<Vec<Point>>,
}

impl ProposeJob {
    /// A job of which only the scan and its structure are known.
    pub fn new(path: &Path, structure: Structure) -> Self {
        Self {
            image: path.to_string_lossy().into_owned(),
            path: path.to_owned(),
            structure,
            um_per_px: None,
            bounds: None,
            light: None,
            focus: None,
            axis: None,
        }
    }
}

/// What came of a job.
#[derive(Debug, Clone, PartialEq)]
pub struct ProposeResult {
    /// Pixel size used.
    pub calibration: Calibration,
    /// What was found.
    pub found: Proposals,
    /// What the reader should know about the file.
    pub notices: Vec<String>,
}

/// An entry of a jobs file: a job, or what is wrong with it.
pub type JobEntry = Result<ProposeJob, BadJob>;

/// An entry that is no job.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{message}")]
pub struct BadJob {
    /// The scan it names, as far as it can be told.
    pub image: Option<String>,
    /// What is wrong.
    pub message: String,
}

/// Reads the text of a jobs file; scans are looked for beside it, in `folder`.
///
/// # Errors
/// One clear line when the text as a whole is not a JSON array. A faulty entry does not stop the others.
pub fn parse_jobs(text: &str, folder: &Path) -> Result<Vec<JobEntry>, String> {
    let value: Value = serde_json::from_str(text)
        .map_err(|error| format!("not JSON: {error}: correct the file there"))?;
    let entries = value.as_array().ok_or("expected a JSON array of jobs: put the jobs in [ ]")?;
    Ok(entries
        .iter()
        .enumerate()
        .map(|(index, entry)| {
            parse_job(entry, folder).map_err(|what| BadJob {
                image: entry.get("image").and_then(Value::as_str).map(str::to_owned),
                message: format!("job {}: {what}: correct this job or take it out", index + 1),
            })
        })
        .collect())
}

fn parse_job(entry: &Value, folder: &Path) -> Result<ProposeJob, String> {
    if !entry.is_object() {
        return Err("expected an object with \"image\" and \"structure\"".into());
    }
    let image = entry
        .get("image")
        .and_then(Value::as_str)
        .ok_or("\"image\": expected the path of a scan")?;
    let structure = match entry.get("structure").and_then(Value::as_str) {
        Some("scale") => Structure::Scale,
        Some("otolith") => Structure::Otolith,
        _ => return Err("\"structure\": expected \"scale\" or \"otolith\"".into()),
    };
    let light = match present(entry, "light") {
        None => None,
        Some(value) => Some(
            value
                .as_str()
                .and_then(Light::from_word)
                .ok_or("\"light\": expected \"reflected\", \"transmitted\" or null")?,
        ),
    };
    let bounds = present(entry, "box").map(parse_box).transpose()?;
    let focus = present(entry, "focus").map(|value| parse_point(value, "focus")).transpose()?;
    let axis = present(entry, "axis").map(parse_axis).transpose()?;
    Ok(ProposeJob {
        image: image.to_owned(),
        path: folder.join(image),
        structure,
        um_per_px: present(entry, "um_per_px").map(parse_um_per_px).transpose()?,
        bounds,
        light,
        focus,
        axis,
    })
}

fn present<'a>(entry: &'a Value, key: &str) -> Option<&'a Value> {
    entry.get(key).filter(|value| !value.is_null())
}

fn numbers<const N: usize>(value: &Value) -> Option<[f64; N]> {
    let list: Vec<f64> = value.as_array()?.iter().map(Value::as_f64).collect::<Option<_>>()?;
    list.try_into().ok()
}

fn parse_um_per_px(value: &Value) -> Result<[f64; 2], String> {
    let found = value.as_f64().map(|both| [both, both]).or_else(|| numbers(value));
    found
        .filter(|sizes| sizes.iter().all(|size| *size > 0.0))
        .ok_or_else(|| "\"um_per_px\": expected a positive number, [x, y] or null".into())
}

fn parse_box(value: &Value) -> Result<Rect, String> {
    let found: Option<[f64; 4]> = numbers(value);
    match found {
        Some([x, y, width, height]) if width > 0.0 && height > 0.0 => {
            Ok(Rect::new(x, y, x + width, y + height))
        }
        _ => Err("\"box\": expected [x, y, width, height] in pixels".into()),
    }
}

fn parse_point(value: &Value, key: &str) -> Result<Point, String> {
    let found: Option<[f64; 2]> = numbers(value);
    found
        .map(|[x, y]| Point::new(x, y))
        .ok_or_else(|| format!("\"{key}\": expected [x, y] in pixels"))
}

fn parse_axis(value: &Value) -> Result<Vec<Point>, String> {
    let list = value.as_array().filter(|list| list.len() >= 2);
    list.ok_or("\"axis\": expected at least two points [[x, y], ...]")?
        .iter()
        .map(|point| parse_point(point, "axis"))
        .collect()
}

/// Works through jobs on all cores; results stand in the order of the jobs. `watch` counts them.
///
/// # Errors
/// [`Stopped`] when `watch` was asked to stop; a fault of one scan is that scan's own result.
pub fn run_jobs(
    jobs: &[JobEntry],
    watch: &Progress,
) -> Result<Vec<Result<ProposeResult, String>>, Stopped> {
    watch.set_total(jobs.len());
    jobs.par_iter()
        .map(|entry| {
            watch.checkpoint()?;
            let result = match entry {
                Ok(job) => run_job(job, watch)?,
                Err(bad) => Err(bad.message.clone()),
            };
            watch.step();
            Ok(result)
        })
        .collect()
}

fn run_job(job: &ProposeJob, watch: &Progress) -> Result<Result<ProposeResult, String>, Stopped> {
    let scan = match decode_file(&job.path, &Limits::default()) {
        Ok(scan) => scan,
        Err(error) => return Ok(Err(error.to_string())),
    };
    let calibration = match calibration_of(job, scan.resolution.as_ref()) {
        Ok(calibration) => calibration,
        Err(message) => return Ok(Err(message)),
    };
    let axis = match job.axis.clone().map(Axis::new).transpose() {
        Ok(axis) => axis,
        Err(error) => return Ok(Err(format!("\"axis\": {error}"))),
    };
    let request = Request {
        raster: &scan.raster,
        calibration: calibration.clone(),
        structure: job.structure,
        light: job.light,
        bounds: job.bounds,
        focus: job.focus,
        axis,
    };
    let found = propose(&request, watch)?;
    Ok(Ok(ProposeResult { calibration, found, notices: scan.notices }))
}

/// The pixel size as stated, else the file's own; a common default in the file is no measurement and is refused.
fn calibration_of(job: &ProposeJob, tag: Option<&Resolution>) -> Result<Calibration, String> {
    let path = job.path.display();
    if let Some([x, y]) = job.um_per_px {
        return Calibration::new(x, y, CalibrationSource::Stated)
            .map_err(|error| error.to_string());
    }
    match tag {
        None => {
            Err(format!("the file does not say how large a pixel is: state um_per_px: '{path}'"))
        }
        Some(tag) if tag.common_default => Err(format!(
            "the file says {:.0} dpi, which programs write when they do not know: state um_per_px: '{path}'",
            tag.dpi()[0]
        )),
        Some(tag) => {
            Calibration::new(tag.um_per_px[0], tag.um_per_px[1], CalibrationSource::FileTag)
                .map_err(|error| error.to_string())
        }
    }
}
