//! The answer in words: what a manager asks, what the data say, and how far to trust it.

mod classes;
mod growth;
mod readers;

use super::survey_report::SurveyReport;

/// How far a conclusion may be trusted. The rules behind it are common practice without a source; the report says so.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Trust {
    /// There is no answer.
    NoAnswer,
    /// Few fish, one reader, or readers who differ systematically.
    Low,
    /// Enough to act on with care.
    Fair,
    /// Enough fish at enough ages, and readers without a systematic difference.
    Good,
}

impl Trust {
    /// The word on the page.
    pub const fn word(self) -> &'static str {
        match self {
            Self::NoAnswer => "no answer",
            Self::Low => "low",
            Self::Fair => "fair",
            Self::Good => "good",
        }
    }
}

/// One question and its answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Conclusion {
    /// The question.
    pub question: &'static str,
    /// The answer, one to three plain sentences.
    pub answer: String,
    /// How far to trust it.
    pub trust: Trust,
    /// Why no more and no less.
    pub because: String,
}

/// The answers, in the order of the first page.
pub fn conclusions(report: &SurveyReport) -> Vec<Conclusion> {
    vec![
        growth::against_standard(report),
        growth::forage(report),
        growth::years(report),
        classes::year_classes(report),
        classes::mortality(report),
        readers::agreement(report),
    ]
}

/// What the report will not hold, each with what would bring it.
pub fn missing(report: &SurveyReport) -> Vec<String> {
    let mut missing = Vec::new();
    let mut note = |what: &str, reason: &String| missing.push(format!("{what}: {reason}"));
    if let Err(reason) = &report.lengths {
        note("Back-calculated lengths", reason);
    }
    if let Err(reason) = &report.growth {
        note("Growth curve", reason);
    }
    if let Err(reason) = &report.against {
        note("Growth against the standard", reason);
    }
    if let Err(reason) = &report.agreement {
        note("Agreement of the readers", reason);
    }
    match &report.ages {
        Err(reason) => note("Age composition", reason),
        Ok(study) => {
            if let Err(withheld) = &study.catch_curve {
                note("Mortality", &withheld.to_string());
            }
            if study.catch_per_hour.is_none() {
                note("Catch per hour", &"no effort is on record: add effort.csv".to_owned());
            }
        }
    }
    if report.stocking.is_empty() {
        let reason = "no stocking of this species in this water is on record: add stocking.csv if there was any";
        note("Stocking beside the year classes", &reason.to_owned());
    }
    if report.condition.is_none() {
        note("Condition", &"no fish of the species was both measured and weighed".to_owned());
    }
    if report.year_effects.is_empty() {
        let reason = "too few increments over years and ages".to_owned();
        note("Growth years", report.year_notes.first().unwrap_or(&reason));
    }
    if report.facts.crew.is_empty() {
        note("The crew", &"nobody is named: give the names when the report is written".to_owned());
    }
    missing
}

/// "2018", "2018 and 2021", "2018, 2019 and 2021".
fn listed<T: ToString>(items: &[T]) -> String {
    let words: Vec<String> = items.iter().map(ToString::to_string).collect();
    match words.split_last() {
        None => String::new(),
        Some((last, [])) => last.clone(),
        Some((last, before)) => format!("{} and {last}", before.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lists_read_as_words() {
        assert_eq!(listed::<u8>(&[]), "");
        assert_eq!(listed(&[2018]), "2018");
        assert_eq!(listed(&[2018, 2019, 2021]), "2018, 2019 and 2021");
        assert!(Trust::Low < Trust::Good);
    }
}
