//! What is asked of a report of a survey.

use std::collections::BTreeSet;

use crate::analysis::back_calculation::{Intercept, InterceptLine, Method};
use crate::domain::dates::Date;
use crate::domain::reading::ReaderInitials;
use crate::domain::reference::LengthBasis;
use crate::report::paper::Paper;
use crate::report::report_units::ReportUnits;
use crate::report::survey_report::Chapter;

use super::survey_readings::AgesFrom;

/// Whether mortality is given.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum MortalityAsked {
    /// Not at all.
    No,
    /// Where its assumptions are not plainly broken: not where stocking was uneven.
    #[default]
    ByRule,
    /// In spite of uneven stocking: whoever asks states that recruitment was even.
    EvenRecruitment,
}

impl MortalityAsked {
    /// All, in the order they are offered.
    pub const ALL: [Self; 3] = [Self::No, Self::ByRule, Self::EvenRecruitment];

    /// A few words for a button and for the report's settings.
    pub const fn words(self) -> &'static str {
        match self {
            Self::No => "not asked for",
            Self::ByRule => "unless stocking was uneven",
            Self::EvenRecruitment => "in any case, recruitment stated as even",
        }
    }
}

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
    /// How radii become lengths.
    pub method: Method,
    /// Whose ages count.
    pub ages_from: AgesFrom,
    /// Whether mortality is given.
    pub mortality: MortalityAsked,
    /// Paper it is to be printed on.
    pub paper: Paper,
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
            method: Method::FraserLee(Intercept::Fitted(InterceptLine::LeastSquares)),
            ages_from: AgesFrom::default(),
            mortality: MortalityAsked::default(),
            paper: Paper::default(),
            crew: String::new(),
            date: None,
        }
    }
}

impl ReportRequest {
    /// Every setting in words, for the report that was made with it.
    pub(super) fn in_words(&self) -> Vec<(String, String)> {
        let chapters: Vec<&str> = self.chapters.iter().map(|chapter| chapter.word()).collect();
        let line = |name: &str, value: String| (name.to_owned(), value);
        vec![
            line("Units", self.units.word().to_owned()),
            line("Chapters", chapters.join(", ")),
            line("Basis of curve and comparison", self.basis.word().to_owned()),
            line("Method of back-calculation", method_in_words(&self.method)),
            line("Mortality", self.mortality.words().to_owned()),
            line("Paper", self.paper.words().to_lowercase().replace("a4", "A4")),
            line(
                "Date",
                self.date
                    .map_or("newest date in the data".to_owned(), |date| format!("{date}, given")),
            ),
        ]
    }
}

/// A method with what it was told.
fn method_in_words(method: &Method) -> String {
    let word = method.word();
    match method {
        Method::FraserLee(Intercept::Fitted(line)) => {
            format!("{word}, intercept by regression ({}) of these fish", line.word())
        }
        Method::FraserLee(
            Intercept::Given { length, source } | Intercept::Standard { length, source, .. },
        ) => {
            let source = if source.is_empty() { "no source given" } else { source };
            format!("{word}, intercept {} mm ({source})", length.0)
        }
        Method::BiologicalIntercept(origin) | Method::ModifiedFry { origin, .. } => {
            format!("{word}, from length {} mm at radius {} µm", origin.length.0, origin.radius.0)
        }
        _ => word.to_owned(),
    }
}
