//! What is asked of a report of a survey.

use std::collections::BTreeSet;

use crate::analysis::back_calculation::{Intercept, InterceptLine, Method};
use crate::domain::dates::Date;
use crate::domain::reading::ReaderInitials;
use crate::domain::reference::LengthBasis;
use crate::domain::units::Millimetres;
use crate::report::report_units::ReportUnits;
use crate::report::survey_report::Chapter;

/// What is asked of a report of a survey.
#[derive(Debug, Clone, PartialEq)]
pub struct ReportRequest {
    /// Units of tables, plots and data.
    pub units: ReportUnits,
    /// Chapters wanted.
    pub chapters: BTreeSet<Chapter>,
    /// Whose readings count; `None`: the survey's first reader.
    pub reader: Option<ReaderInitials>,
    /// Species; `None`: the survey's.
    pub species: Option<String>,
    /// Basis of curve and comparison.
    pub basis: LengthBasis,
    /// Intercept of Fraser-Lee, mm; `None`: by regression of length on radius.
    pub intercept_mm: Option<f64>,
    /// Who caught the fish; may be empty.
    pub crew: String,
    /// The day the report stands for; `None`: the newest date in the data.
    pub date: Option<Date>,
}

impl Default for ReportRequest {
    fn default() -> Self {
        Self {
            units: ReportUnits::Metric,
            chapters: Chapter::ALL.into(),
            reader: None,
            species: None,
            basis: LengthBasis::Annulus,
            intercept_mm: None,
            crew: String::new(),
            date: None,
        }
    }
}

impl ReportRequest {
    /// How radii become lengths.
    pub(super) fn method(&self) -> Method {
        Method::FraserLee(match self.intercept_mm {
            Some(mm) => Intercept::Given {
                length: Millimetres(mm),
                source: "given for the report".to_owned(),
            },
            None => Intercept::Fitted(InterceptLine::LeastSquares),
        })
    }

    /// Every setting in words, for the report that was made with it.
    pub(super) fn in_words(&self) -> Vec<(String, String)> {
        let chapters: Vec<&str> = self.chapters.iter().map(|chapter| chapter.word()).collect();
        let line = |name: &str, value: String| (name.to_owned(), value);
        vec![
            line("Units", self.units.word().to_owned()),
            line("Chapters", chapters.join(", ")),
            line("Basis of curve and comparison", self.basis.word().to_owned()),
            line(
                "Intercept of Fraser-Lee",
                self.intercept_mm.map_or("by regression of length on radius".to_owned(), |mm| {
                    format!("{mm} mm, given")
                }),
            ),
            line(
                "Date",
                self.date
                    .map_or("newest date in the data".to_owned(), |date| format!("{date}, given")),
            ),
        ]
    }
}
