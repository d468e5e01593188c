//! The lengths desk: from the reader's confirmed readings to lengths at earlier ages, worked out on a thread.

use std::sync::Arc;

use crate::analysis::back_calculation::{
    Intercept, InterceptLine, LengthsResult, Method, Options, Radii, SampleFish, back_calculate,
};
use crate::domain::fish::Fish;
use crate::domain::progress::{Progress, Stopped};
use crate::domain::reading::{
    EdgeCondition, ImpressionReading, Outcome, ReaderInitials, ReadingState, ScanReading,
};
use crate::domain::units::Millimetres;
use crate::store::collection::OpenSurvey;
use crate::store::sidecar::load_sidecar;

use super::job::{Job, Polled};
use super::workbench::Workbench;

/// How lengths are to be worked out.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum LengthsRequest {
    /// In direct proportion to the radius.
    #[default]
    DirectProportion,
    /// Fraser-Lee with the intercept fitted on these fish.
    FraserLeeFitted,
    /// Fraser-Lee with an intercept entered by the reader, millimetres.
    FraserLeeGiven(f64),
}

impl LengthsRequest {
    fn method(self) -> Method {
        match self {
            Self::DirectProportion => Method::DirectProportion,
            Self::FraserLeeFitted => Method::FraserLee(Intercept::Fitted(InterceptLine::LeastSquares)),
            Self::FraserLeeGiven(mm) => Method::FraserLee(Intercept::Given {
                length: Millimetres(mm),
                source: "entered on the lengths desk".to_owned(),
            }),
        }
    }
}

/// A fish on the plot of length on radius.
#[derive(Debug, Clone, PartialEq)]
pub struct PlotFish {
    /// Its key.
    pub key: String,
    /// Total radius, micrometres.
    pub radius_um: f64,
    /// Length at capture, millimetres.
    pub length_mm: f64,
}

/// Lengths, and what they were worked out from.
#[derive(Debug, Clone, PartialEq)]
pub struct Lengths {
    /// How they were asked for.
    pub request: LengthsRequest,
    /// The lengths, or why the method cannot be used.
    pub result: Result<LengthsResult, String>,
    /// Every fish with both a radius and a length.
    pub points: Vec<PlotFish>,
    /// Readings that were left out before any calculation: what, and why.
    pub left_out: Vec<(String, String)>,
}

/// State of the lengths desk.
#[derive(Default)]
pub struct LengthsDesk {
    request: LengthsRequest,
    lengths: Option<Lengths>,
    is_stale: bool,
    job: Option<Job<Result<Lengths, Stopped>>>,
}

impl LengthsDesk {
    /// How lengths are asked for now.
    pub fn request(&self) -> LengthsRequest {
        self.request
    }

    /// The last lengths; they stay on show while new ones are worked out.
    pub fn lengths(&self) -> Option<&Lengths> {
        self.lengths.as_ref()
    }

    /// True while they are worked out.
    pub fn is_working(&self) -> bool {
        self.job.is_some()
    }
}

impl Workbench {
    pub(super) fn set_lengths(&mut self, request: LengthsRequest) {
        if self.lengths.request != request {
            self.lengths.request = request;
            self.lengths_are_stale();
        }
    }

    /// Readings or settings have changed: a result on its way is dropped.
    pub(super) fn lengths_are_stale(&mut self) {
        self.lengths.is_stale = true;
        self.lengths.job = None;
    }

    /// True where lengths may be on screen: no unconfirmed reading is open, or its reader asked for lengths.
    pub fn may_show_lengths(&self) -> bool {
        self.scan.as_ref().is_none_or(|scan| !scan.is_draft() || scan.is_length_shown())
    }

    pub(super) fn poll_lengths(&mut self) {
        if let Some(job) = &self.lengths.job {
            match job.poll() {
                Polled::Pending => return,
                Polled::Done(Ok(lengths)) => self.lengths.lengths = Some(lengths),
                Polled::Done(Err(Stopped)) => {}
                Polled::Lost => self.notices.report("working out lengths broke off"),
            }
            self.lengths.job = None;
        }
        let is_wanted = self.desk == super::action::Desk::Lengths && self.may_show_lengths();
        if !(self.lengths.is_stale && is_wanted) {
            return;
        }
        let Some(survey) = &self.survey else { return };
        self.lengths.is_stale = false;
        let (files, reader, request) =
            (Arc::clone(&survey.files), self.reader.clone(), self.lengths.request);
        let work = move |progress: &Progress| work_out(&files, reader.as_ref(), request, progress);
        match Job::start("work out lengths", &self.wake, work) {
            Ok(job) => self.lengths.job = Some(job),
            Err(error) => self.notices.report(format!("cannot work out lengths: {error}")),
        }
    }
}

fn work_out(
    files: &OpenSurvey,
    reader: Option<&ReaderInitials>,
    request: LengthsRequest,
    progress: &Progress,
) -> Result<Lengths, Stopped> {
    let mut left_out = Vec::new();
    let mut sample: Vec<SampleFish> = Vec::new();
    progress.set_total(files.scans.len());
    let opened = std::fs::read_dir(files.folder.join(crate::store::file_name::SCANS_FOLDER));
    for path in opened.into_iter().flatten().flatten().map(|entry| entry.path()) {
        progress.checkpoint()?;
        let name = path.file_name().and_then(|name| name.to_str()).unwrap_or_default().to_owned();
        let Some((_, owner)) = crate::store::file_name::parse_sidecar_name(&name) else { continue };
        if reader.is_some_and(|reader| *reader != owner) {
            continue;
        }
        match load_sidecar(&path) {
            Ok(loaded) => add_readings(&loaded.reading, files, &mut sample, &mut left_out),
            Err(error) => left_out.push((name, error.to_string())),
        }
        progress.step();
    }
    // Folders list files in any order: the field sheet's order is the reader's.
    sample.sort_by_key(|fish| fish.row);
    let options = Options {
        structure: files.survey.structure,
        birthday: files.survey.birthday_rule.birthday,
        ..Options::default()
    };
    let result = back_calculate(&sample, request.method(), &options).map_err(|e| e.to_string());
    Ok(Lengths { request, result, points: points(&sample), left_out })
}

fn add_readings(
    reading: &ScanReading,
    files: &OpenSurvey,
    sample: &mut Vec<SampleFish>,
    left_out: &mut Vec<(String, String)>,
) {
    for impression in &reading.impressions {
        let place = || format!("{}, impression {}", reading.scan.file, impression.number);
        let is_aged = impression.outcome == Some(Outcome::Aged);
        if impression.state != ReadingState::Confirmed {
            left_out.push((place(), "the reading is still a draft".to_owned()));
            continue;
        }
        if !is_aged {
            let why = impression.outcome.map_or("no outcome", Outcome::word);
            left_out.push((place(), format!("no age was read: {why}")));
            continue;
        }
        let Some(fish) = files.fish.iter().find(|fish| fish.key == impression.fish) else {
            let why = format!("fish '{}' is not on the field sheet", impression.fish);
            left_out.push((place(), why));
            continue;
        };
        let Some(radii) = radii(reading, impression) else {
            left_out.push((place(), "the pixel size of this scan is not known".to_owned()));
            continue;
        };
        match sample.iter_mut().find(|known| known.key == fish.key) {
            Some(known) => known.structures.push(radii),
            None => sample.push(sample_fish(fish, impression, radii)),
        }
    }
}

fn radii(reading: &ScanReading, impression: &ImpressionReading) -> Option<Radii> {
    let scale = reading.calibration.as_ref()?;
    Some(Radii { total: impression.total_radius(scale), annuli: impression.annulus_radii(scale) })
}

fn sample_fish(fish: &Fish, impression: &ImpressionReading, radii: Radii) -> SampleFish {
    SampleFish {
        row: Some(fish.row),
        species: fish.species.clone(),
        sex: fish.sex,
        water: fish.water.clone(),
        length_type: fish.length_type,
        structures: vec![radii],
        capture_date: fish.captured,
        year_class: fish.known_year_class,
        edge_counted: is_edge_counted(impression),
        ..SampleFish::new(fish.key.clone(), fish.length, None, Vec::new())
    }
}

/// The edge stands for an annulus where it is marked so, or where the age is one more than the annuli marked.
fn is_edge_counted(impression: &ImpressionReading) -> bool {
    let marked = u32::try_from(impression.annuli().count()).unwrap_or(u32::MAX);
    impression.edge_condition == Some(EdgeCondition::AtEdge)
        || impression.age == marked.checked_add(1)
}

fn points(sample: &[SampleFish]) -> Vec<PlotFish> {
    let of = |fish: &SampleFish| {
        let totals: Vec<f64> =
            fish.structures.iter().filter_map(|radii| radii.total).map(|total| total.0).collect();
        let radius_um = totals.iter().sum::<f64>() / totals.len() as f64;
        let length_mm = fish.length?.0;
        radius_um.is_finite().then(|| PlotFish { key: fish.key.clone(), radius_um, length_mm })
    };
    sample.iter().filter_map(of).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::reading::Structure;

    #[test]
    fn the_edge_counts_where_the_age_says_so() {
        let mut reading = ImpressionReading::new(1, "1", Structure::Scale);
        assert!(!is_edge_counted(&reading));
        reading.age = Some(1);
        assert!(is_edge_counted(&reading));
        reading.age = Some(0);
        reading.edge_condition = Some(EdgeCondition::AtEdge);
        assert!(is_edge_counted(&reading));
    }
}
