//! Writing a report and its data: whole tasks, for the command line and the window alike.

use std::path::{Path, PathBuf};

use super::demo::RESULTS_FOLDER;
use super::report_request::ReportRequest;
use super::survey_data::survey_data;
use super::survey_report::{GatheredSurvey, ReportError, gather_report};
use crate::domain::progress::Progress;
use crate::report::data::{data_tables, table_csv, tables_json, workbook_bytes};
use crate::report::page::survey_page;
use crate::store::error::StoreError;
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
    /// The data.
    pub data: bool,
}

/// What was written, and the faults of the survey beside it.
#[derive(Debug, Clone, PartialEq)]
pub struct WrittenReport {
    /// Files, in the order written.
    pub files: Vec<PathBuf>,
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

fn write_gathered(
    gathered: &GatheredSurvey,
    out: &Path,
    wanted: FilesWanted,
) -> Result<WrittenReport, ReportError> {
    std::fs::create_dir_all(out).map_err(StoreError::io("make the folder of the report", out))?;
    let mut files = Vec::new();
    let mut write = |name: &str, bytes: &[u8]| -> Result<(), ReportError> {
        let path = out.join(name);
        write_whole(&path, bytes, Expected::Anything)?;
        files.push(path);
        Ok(())
    };
    if wanted.page {
        write(REPORT_FILE, survey_page(&gathered.report).as_bytes())?;
    }
    if wanted.data {
        let tables = data_tables(&survey_data(gathered));
        for table in &tables {
            let text = table_csv(table).map_err(|error| ReportError::Table(error.to_string()))?;
            write(&format!("{}.csv", table.name.replace('_', "-")), text.as_bytes())?;
        }
        write(WORKBOOK_FILE, &workbook_bytes(&tables, &gathered.report.facts.survey)?)?;
        write(DATA_FILE, format!("{:#}\n", tables_json(&tables)).as_bytes())?;
    }
    Ok(WrittenReport { files, faults: gathered.report.faults.clone() })
}
