//! `report`: one document a manager can read and a reviewer can audit, and the data behind it.

use serde_json::json;

use super::ages_from::ages_from;
use super::flags::{BasisFlag, PaperFlag, ReportFlags, UnitsFlag};
use super::growth::reader_of;
use super::method::method_of;
use super::{BAD_DATA, DONE, Failure, output};
use crate::domain::dates;
use crate::domain::reference::LengthBasis;
use crate::report::paper::Paper;
use crate::report::report_units::ReportUnits;
use crate::report::survey_report::Chapter;
use crate::workbench::report_files::{FilesWanted, WrittenReport, usual_folder, write_report};
use crate::workbench::report_request::{MortalityAsked, ReportRequest};

/// Runs the verb.
pub fn run(flags: &ReportFlags) -> Result<u8, Failure> {
    let request = request_of(flags)?;
    let out = flags.out.clone().unwrap_or_else(|| usual_folder(&flags.survey));
    let wanted = FilesWanted::of(!flags.data_only, flags.data || flags.data_only);
    let written = output::with_progress("writing the report", |watch| {
        write_report(&flags.survey, &out, &request, wanted, watch)
    });
    match written {
        Ok(written) => print(flags, &written),
        Err(error) => {
            let failure = Failure::data(error.to_string());
            if flags.json {
                output::json(&json!({"written": [], "error": failure.message}))?;
            }
            Err(failure)
        }
    }
}

fn print(flags: &ReportFlags, written: &WrittenReport) -> Result<u8, Failure> {
    let error = (!written.faults.is_empty()).then(|| written.faults.join("; "));
    let files: Vec<String> =
        written.files.iter().map(|file| file.path.to_string_lossy().into_owned()).collect();
    if flags.json {
        output::json(&json!({"written": files, "error": error}))?;
    } else {
        output::result(&files.iter().map(|path| format!("{path}\n")).collect::<String>())?;
    }
    if let Some(words) = &written.ages {
        output::message(words);
    }
    written.faults.iter().for_each(|fault| output::message(fault));
    Ok(if error.is_none() { DONE } else { BAD_DATA })
}

fn request_of(flags: &ReportFlags) -> Result<ReportRequest, Failure> {
    let method = method_of(&flags.method)?;
    let chapters = flags
        .chapters
        .iter()
        .map(|word| {
            Chapter::from_word(word).ok_or_else(|| {
                let known = Chapter::ALL.map(Chapter::word).join(", ");
                Failure::usage(format!("--chapters '{word}' is not known: use any of {known}"))
            })
        })
        .collect::<Result<Vec<_>, _>>()?;
    let date = flags.date.as_deref().map(dates::parse).transpose();
    Ok(ReportRequest {
        units: match flags.units {
            UnitsFlag::Metric => ReportUnits::Metric,
            UnitsFlag::Us => ReportUnits::Us,
        },
        chapters: if chapters.is_empty() {
            Chapter::ALL.into()
        } else {
            chapters.into_iter().collect()
        },
        reader: reader_of(flags.reader.as_deref())?,
        species: flags.species.clone(),
        basis: match flags.basis {
            BasisFlag::Capture => LengthBasis::Capture,
            BasisFlag::Annulus => LengthBasis::Annulus,
        },
        method,
        ages_from: ages_from(flags.ages_from),
        mortality: if flags.no_mortality {
            MortalityAsked::No
        } else if flags.even_recruitment {
            MortalityAsked::EvenRecruitment
        } else {
            MortalityAsked::ByRule
        },
        paper: match flags.paper {
            PaperFlag::Printer => Paper::AsPrinter,
            PaperFlag::A4 => Paper::A4,
            PaperFlag::Letter => Paper::Letter,
        },
        crew: flags.crew.clone(),
        date: date.map_err(|error| Failure::usage(format!("--date: {error}")))?,
    })
}
