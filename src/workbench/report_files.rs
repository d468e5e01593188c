//! Writing a report and its data: whole tasks, for the command line and the window alike.

use std::path::{Path, PathBuf};

use super::demo::RESULTS_FOLDER;
use super::report_request::ReportRequest;
use super::survey_data::survey_data;
use super::survey_report::{GatheredSurvey, ReportError, gather_report};
use crate::domain::progress::Progress;
use crate::report::data::{data_tables, table_csv, tables_json, workbook_bytes};
use crate::report::page::survey_page;
use crate::report::survey_report::AgesUsed;
use crate::store::error::StoreError;
use crate::store::fingerprint::Fingerprint;
use crate::store::safe_write::{Expected, write_whole};

/// File name of the report.
pub const REPORT_FILE: &str = "report.html";

/// File name of the workbook.
pub const WORKBOOK_FILE: &str = "data.xlsx";

/// File name of the data as JSON.
pub const DATA_FILE: &str = "data.json";

/// Which files are wanted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FilesWanted {
    /// The report.
    pub page: bool,
    /// The data as CSV, a file for each table.
    pub csv: bool,
    /// The data as a workbook.
    pub workbook: bool,
    /// The data as JSON.
    pub json: bool,
}

impl FilesWanted {
    /// The report alone.
    pub const REPORT: Self = Self { page: true, csv: false, workbook: false, json: false };

    /// The report, all data, or both.
    pub const fn of(page: bool, data: bool) -> Self {
        Self { page, csv: data, workbook: data, json: data }
    }

    /// True where there is something to write.
    pub const fn is_something(self) -> bool {
        self.page || self.has_data()
    }

    const fn has_data(self) -> bool {
        self.csv || self.workbook || self.json
    }
}

/// A file that was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WrittenFile {
    /// Where it is.
    pub path: PathBuf,
    /// Its length and hash.
    pub fingerprint: Fingerprint,
}

/// What was written, and the faults of the survey beside it.
#[derive(Debug, Clone, PartialEq)]
pub struct WrittenReport {
    /// Files, in the order written.
    pub files: Vec<WrittenFile>,
    /// The rule of ages and how many fish each rule leaves, where it is not one reader's.
    pub ages: Option<String>,
    /// Rows and files that could not be used, one line each.
    pub faults: Vec<String>,
}

/// The folder reports go into when none is named: `results` in the survey.
pub fn usual_folder(survey: &Path) -> PathBuf {
    survey.join(RESULTS_FOLDER)
}

/// Gathers the report of a survey and writes the files wanted into `out`, which is made where it is missing.
///
/// # Errors
/// [`ReportError`], and when a file cannot be written.
pub fn write_report(
    survey: &Path,
    out: &Path,
    request: &ReportRequest,
    wanted: FilesWanted,
    progress: &Progress,
) -> Result<WrittenReport, ReportError> {
    let gathered = gather_report(survey, request, progress)?;
    progress.checkpoint()?;
    write_gathered(&gathered, out, wanted)
}

/// The rule of ages, and how many fish it and each other leaves.
pub fn ages_in_words(ages: &AgesUsed) -> String {
    let AgesUsed { rule, n_fish, each_rule, n_outdated, .. } = ages;
    let late = match n_outdated {
        0 => String::new(),
        n => format!("; {n} decisions are older than a reading of their fish: look at those again"),
    };
    format!("{rule}: {n_fish} fish (each rule leaves: {each_rule}){late}")
}

fn write_gathered(
    gathered: &GatheredSurvey,
    out: &Path,
    wanted: FilesWanted,
) -> Result<WrittenReport, ReportError> {
    std::fs::create_dir_all(out).map_err(StoreError::io("make the folder of the report", out))?;
    let mut files = Vec::new();
    let mut write = |name: &str, bytes: &[u8]| -> Result<(), ReportError> {
        let path = out.join(name);
        let fingerprint = write_whole(&path, bytes, Expected::Anything)?;
        files.push(WrittenFile { path, fingerprint });
        Ok(())
    };
    if wanted.page {
        write(REPORT_FILE, survey_page(&gathered.report).as_bytes())?;
    }
    if wanted.has_data() {
        let tables = data_tables(&survey_data(gathered));
        for table in tables.iter().filter(|_| wanted.csv) {
            let text = table_csv(table).map_err(|error| ReportError::Table(error.to_string()))?;
            write(&format!("{}.csv", table.name.replace('_', "-")), text.as_bytes())?;
        }
        if wanted.workbook {
            write(WORKBOOK_FILE, &workbook_bytes(&tables, &gathered.report.facts.survey)?)?;
        }
        if wanted.json {
            write(DATA_FILE, format!("{:#}\n", tables_json(&tables)).as_bytes())?;
        }
    }
    let ages = &gathered.report.facts.ages;
    let ages = (!ages.is_one_reader).then(|| ages_in_words(ages));
    Ok(WrittenReport { files, ages, faults: gathered.report.faults.clone() })
}
