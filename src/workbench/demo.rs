//! The demo: the main job from end to end on the demo survey, with its results written beside it.

use std::path::{Path, PathBuf};

use serde_json::{Value, json};

use super::demo_survey::{DemoBuilt, build_demo_survey};
use super::propose_jobs::{JobEntry, ProposeJob, ProposeResult, run_jobs};
use super::propose_json::results_json;
use super::simulate_files::SimulateError;
use super::survey_lengths::{SurveySample, default_reader, survey_options, survey_sample};
use crate::analysis::back_calculation::{
    Intercept, InterceptLine, LengthsResult, Method, back_calculate,
};

use crate::domain::progress::Progress;
use crate::report::lengths_json::lengths_json;
use crate::report::lengths_table::lengths_csv;
use crate::store::collection::OpenSurvey;
use crate::store::error::StoreError;
use crate::store::safe_write::{Expected, write_whole};
use crate::store::survey_check::SurveyReadings;

/// Folder of the results, inside the survey.
pub const RESULTS_FOLDER: &str = "results";

/// The demo, step by step; each step can be watched and stopped.
#[derive(Debug)]
pub struct Demo {
    /// The survey folder.
    pub folder: PathBuf,
    /// The survey.
    pub survey: OpenSurvey,
    /// What building it came to.
    pub built: DemoBuilt,
}

/// What proposing came to.
#[derive(Debug)]
pub struct DemoProposals {
    /// The scans.
    pub jobs: Vec<JobEntry>,
    /// What was found on each.
    pub results: Vec<Result<ProposeResult, String>>,
    /// Readable scans on which as many annuli are proposed as the fish has, and all readable scans.
    pub count_right: (usize, usize),
}

/// Readings and lengths.
#[derive(Debug)]
pub struct DemoLengths {
    /// All readings.
    pub readings: SurveyReadings,
    /// The sample of the first reader.
    pub sample: SurveySample,
    /// Lengths by Fraser-Lee with the regression's intercept.
    pub lengths: LengthsResult,
    /// Fish aged by both readers, and those given the same age.
    pub same_age: (usize, usize),
}

impl Demo {
    /// Builds the survey, or finds it.
    ///
    /// # Errors
    /// As [`build_demo_survey`].
    pub fn build(folder: &Path, watch: &Progress) -> Result<Self, SimulateError> {
        let built = build_demo_survey(folder, watch)?;
        Ok(Self { folder: folder.to_owned(), survey: OpenSurvey::open(folder)?, built })
    }

    /// Proposes on every scan with nothing set: focus, axis and margin are suggested.
    ///
    /// # Errors
    /// [`SimulateError::Stopped`] when asked to stop; [`SimulateError::Store`] when the truth cannot be read.
    pub fn propose(&self, watch: &Progress) -> Result<DemoProposals, SimulateError> {
        let mut jobs: Vec<JobEntry> = Vec::new();
        for scan in &self.survey.scans {
            let mut job =
                ProposeJob::new(&self.survey.scan_path(scan)?, self.survey.survey.structure);
            job.image.clone_from(scan);
            jobs.push(Ok(job));
        }
        let results = run_jobs(&jobs, watch)?;
        let count_right = count_right(&self.truth()?, &self.survey.scans, &results);
        Ok(DemoProposals { jobs, results, count_right })
    }

    /// Loads both readers' readings and computes lengths at age from the first reader's.
    ///
    /// # Errors
    /// [`SimulateError::Stopped`] when asked to stop; [`SimulateError::NoReader`] in a survey without readers.
    pub fn lengths(&self, watch: &Progress) -> Result<DemoLengths, SimulateError> {
        let readings = self.survey.load_readings(watch)?;
        let reader = default_reader(&self.survey).ok_or(SimulateError::NoReader)?;
        let sample = survey_sample(&self.survey, &readings, &reader);
        let method = Method::FraserLee(Intercept::Fitted(InterceptLine::LeastSquares));
        let lengths = back_calculate(&sample.fish, method, &survey_options(&self.survey))?;
        let same_age = self.same_age(&readings, &sample);
        Ok(DemoLengths { readings, sample, lengths, same_age })
    }

    fn same_age(&self, readings: &SurveyReadings, first: &SurveySample) -> (usize, usize) {
        let Some(second) = self.survey.survey.readers.get(1) else { return (0, 0) };
        let second = survey_sample(&self.survey, readings, second);
        let both: Vec<(u32, u32)> = first
            .ages
            .iter()
            .filter_map(|(key, age)| Some((*age, *second.ages.get(key)?)))
            .collect();
        (both.iter().filter(|(a, b)| a == b).count(), both.len())
    }

    /// Writes what was found into `results/`; gives the files.
    ///
    /// # Errors
    /// [`SimulateError::Store`] when a file cannot be written.
    pub fn write_results(
        &self,
        proposals: &DemoProposals,
        lengths: &DemoLengths,
    ) -> Result<Vec<PathBuf>, SimulateError> {
        let folder = self.folder.join(RESULTS_FOLDER);
        std::fs::create_dir_all(&folder)
            .map_err(StoreError::io("make the folder of results", &folder))?;
        let texts = [
            (
                "proposals.json",
                format!(
                    "{:#}\n",
                    results_json(&proposals.jobs, &proposals.results, &Default::default())
                ),
            ),
            ("lengths.json", format!("{:#}\n", lengths_json(&lengths.lengths, None))),
            (
                "lengths.csv",
                lengths_csv(&lengths.lengths)
                    .map_err(|error| SimulateError::Table(error.to_string()))?,
            ),
        ];
        let mut written = Vec::new();
        for (name, text) in texts {
            let path = folder.join(name);
            write_whole(&path, text.as_bytes(), Expected::Anything)?;
            written.push(path);
        }
        Ok(written)
    }

    fn truth(&self) -> Result<Value, SimulateError> {
        let path = self.folder.join("truth.json");
        let text =
            std::fs::read_to_string(&path).map_err(StoreError::io("read the truth", &path))?;
        Ok(serde_json::from_str(&text).unwrap_or(Value::Null))
    }
}

fn count_right(
    truth: &Value,
    scans: &[String],
    results: &[Result<ProposeResult, String>],
) -> (usize, usize) {
    let mut counts = (0, 0);
    for (scan, result) in scans.iter().zip(results) {
        let image = format!("scans/{scan}");
        let known =
            truth.as_array().and_then(|list| list.iter().find(|one| one["image"] == json!(image)));
        let Some(known) = known
            .filter(|one| one["readable"] == json!(true) && one["regenerated"] == json!(false))
        else {
            continue;
        };
        counts.1 += 1;
        let n_true = known["annuli"].as_array().map_or(0, Vec::len);
        if result
            .as_ref()
            .is_ok_and(|done| done.found.refused.is_none() && done.found.annuli.len() == n_true)
        {
            counts.0 += 1;
        }
    }
    counts
}
