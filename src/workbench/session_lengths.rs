//! The lengths desk: from the reader's confirmed readings to lengths at earlier ages, worked out on a thread.

use std::sync::Arc;

use crate::analysis::back_calculation::{
    Intercept, InterceptLine, LengthsResult, Method, Options, SampleFish, back_calculate,
};
use crate::domain::exclusion::{Exclusion, standing_exclusions};
use crate::domain::progress::{Progress, Stopped};
use crate::domain::reading::ReaderInitials;
use crate::domain::units::Millimetres;
use crate::store::collection::OpenSurvey;

use super::job::{Job, Polled};
use super::survey_lengths::{LeftOut, default_reader, survey_sample};
use super::survey_readings::{AgesFrom, readings_by_rule, rule_in_words};
use super::workbench::Workbench;

/// How lengths are to be worked out.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum LengthsRequest {
    /// In direct proportion to the radius.
    DirectProportion,
    /// Fraser-Lee with the intercept fitted on these fish.
    #[default]
    FraserLeeFitted,
    /// Fraser-Lee with an intercept entered by the reader, millimetres.
    FraserLeeGiven(f64),
    /// Scale-proportional, by the line of radius on length.
    ScaleProportional,
    /// Body-proportional, by the line of length on radius.
    BodyProportional,
}

impl LengthsRequest {
    /// Its name, as buttons and tables show it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::DirectProportion => "Direct proportion",
            Self::FraserLeeFitted => "Fraser-Lee, fitted intercept",
            Self::FraserLeeGiven(_) => "Fraser-Lee, given intercept",
            Self::ScaleProportional => "Scale-proportional",
            Self::BodyProportional => "Body-proportional",
        }
    }

    /// The method of back-calculation.
    pub fn method(self) -> Method {
        match self {
            Self::DirectProportion => Method::DirectProportion,
            Self::FraserLeeFitted => {
                Method::FraserLee(Intercept::Fitted(InterceptLine::LeastSquares))
            }
            Self::FraserLeeGiven(mm) => Method::FraserLee(Intercept::Given {
                length: Millimetres(mm),
                source: "entered on the lengths desk".to_owned(),
            }),
            Self::ScaleProportional => Method::ScaleProportional,
            Self::BodyProportional => Method::BodyProportional,
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
    /// Whose readings they rest on.
    pub reader: ReaderInitials,
    /// Which ages count, how many fish have one, and how many each rule leaves, in words.
    pub ages: String,
    /// The lengths, or why the method cannot be used.
    pub result: Result<LengthsResult, String>,
    /// Every fish with both a radius and a length.
    pub points: Vec<PlotFish>,
    /// Fish of the field sheet that bring no radii.
    pub left_out: Vec<LeftOut>,
    /// Fish that somebody left out, with the decision.
    pub excluded: Vec<Exclusion>,
}

/// State of the lengths desk.
#[derive(Default)]
pub struct LengthsDesk {
    request: LengthsRequest,
    ages_from: AgesFrom,
    lengths: Option<Lengths>,
    is_stale: bool,
    job: Option<Job<Result<Option<Lengths>, Stopped>>>,
}

impl LengthsDesk {
    /// How lengths are asked for now.
    pub fn request(&self) -> LengthsRequest {
        self.request
    }

    /// Whose ages count.
    pub fn ages_from(&self) -> AgesFrom {
        self.ages_from
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

    pub(super) fn set_ages_from(&mut self, from: AgesFrom) {
        if self.lengths.ages_from != from {
            self.lengths.ages_from = from;
            self.lengths_are_stale();
        }
    }

    /// Readings or settings have changed: a result on its way is dropped.
    pub(super) fn lengths_are_stale(&mut self) {
        self.lengths.is_stale = true;
        self.lengths.job = None;
        self.growth_is_stale();
    }

    /// True where lengths may be on screen: no unconfirmed reading is open, or its reader asked for lengths.
    pub fn may_show_lengths(&self) -> bool {
        self.scan.as_ref().is_none_or(|scan| !scan.is_draft() || scan.is_length_shown())
    }

    pub(super) fn poll_lengths(&mut self) {
        if let Some(job) = &self.lengths.job {
            match job.poll() {
                Polled::Pending => return,
                Polled::Done(Ok(lengths)) => self.lengths.lengths = lengths,
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
        let (files, reader) = (Arc::clone(&survey.files), self.reader.clone());
        let asked = (self.lengths.request, self.lengths.ages_from);
        let work = move |progress: &Progress| work_out(&files, reader.as_ref(), asked, progress);
        match Job::start("work out lengths", &self.wake, work) {
            Ok(job) => self.lengths.job = Some(job),
            Err(error) => self.notices.report(format!("cannot work out lengths: {error}")),
        }
    }
}

fn work_out(
    files: &OpenSurvey,
    reader: Option<&ReaderInitials>,
    (request, from): (LengthsRequest, AgesFrom),
    progress: &Progress,
) -> Result<Option<Lengths>, Stopped> {
    // Listed afresh: sidecars have been written since the survey was opened.
    let opened = OpenSurvey::open(&files.folder);
    let files = opened.as_ref().unwrap_or(files);
    let Some(reader) = reader.cloned().or_else(|| default_reader(files)) else { return Ok(None) };
    let readings = files.load_readings(progress)?;
    let rule = from.rule(&reader);
    let ruled = readings_by_rule(files, readings.clone(), &rule, &reader);
    // Lists or decisions that cannot be read leave the readings beside the scans; checking the survey tells why.
    let (readings, ages) = match ruled {
        Ok(found) => {
            let counts = format!("{} fish (each rule leaves: {})", found.n_fish, found.each_rule);
            (found.readings, format!("{}: {counts}", rule_in_words(&rule)))
        }
        Err(error) => (readings, error.to_string()),
    };
    let sample = survey_sample(files, &readings, &reader);
    let options = Options {
        structure: files.survey.structure,
        birthday: files.survey.birthday_rule.birthday,
        ..Options::default()
    };
    let result = back_calculate(&sample.fish, request.method(), &options);
    Ok(Some(Lengths {
        request,
        reader,
        ages,
        result: result.map_err(|error| error.to_string()),
        points: points(&sample.fish),
        left_out: sample.left_out,
        excluded: standing_exclusions(&readings.exclusions)
            .into_values()
            .filter(|one| one.is_left_out)
            .cloned()
            .collect(),
    }))
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
