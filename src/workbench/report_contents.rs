//! What a report will hold before it is written: its parts, what each rests on, and what is empty and why.

use crate::analysis::population::study::AgeStudy;
use crate::report::survey_report::{Chapter, SurveyReport};

use super::report_files::ages_in_words;

/// One part of a report to come.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReportPart {
    /// Its heading.
    pub title: &'static str,
    /// The chapter it is; `None` for what is always in.
    pub chapter: Option<Chapter>,
    /// What it rests on, one line each; none where it is empty.
    pub rests_on: Vec<String>,
    /// What is not in it, and why, one line each.
    pub missing: Vec<String>,
}

/// A report to come.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReportContents {
    /// The survey, its species and the day the report stands for.
    pub about: String,
    /// Whose ages count, and how many fish each rule leaves.
    pub ages: String,
    /// Its parts, in the order of the report.
    pub parts: Vec<ReportPart>,
    /// Faults found in the files of the survey.
    pub faults: Vec<String>,
}

/// What the report gathered in `report` will hold.
pub fn report_contents(report: &SurveyReport) -> ReportContents {
    let facts = &report.facts;
    let species = if facts.species.is_empty() { "the fish" } else { &facts.species };
    ReportContents {
        about: format!("{}: {species}. Report of {}.", facts.survey, report.date_text()),
        ages: ages_in_words(&facts.ages),
        parts: vec![
            sample(report),
            agreement(report),
            lengths(report),
            growth(report),
            years(report),
            year_classes(report),
            cards(report),
        ],
        faults: report.faults.clone(),
    }
}

/// A part of a chapter with lines and reasons in the order they are told.
struct Part {
    rests_on: Vec<String>,
    missing: Vec<String>,
}

impl Part {
    const fn new() -> Self {
        Self { rests_on: Vec::new(), missing: Vec::new() }
    }

    fn has(&mut self, line: String) {
        self.rests_on.push(line);
    }

    fn lacks(&mut self, what: &str, reason: &str) {
        self.missing.push(format!("{what}: {reason}"));
    }

    fn of(self, chapter: Chapter) -> ReportPart {
        let Self { rests_on, missing } = self;
        ReportPart { title: chapter.title(), chapter: Some(chapter), rests_on, missing }
    }
}

fn sample(report: &SurveyReport) -> ReportPart {
    let counts = &report.counts;
    let left_out: std::collections::BTreeSet<&str> =
        report.exclusions.iter().map(|one| one.fish.as_str()).collect();
    let mut part = Part::new();
    part.has(format!(
        "{} fish of the species, {} measured, {} weighed, {} read, {} aged",
        counts.of_species, counts.measured, counts.weighed, counts.read, counts.aged
    ));
    part.has(format!("{} fish left out of something, each named with its reason", left_out.len()));
    if report.facts.runs.is_empty() {
        part.lacks("Effort", "no effort.csv");
    } else {
        part.has(format!("{} runs of the gear", report.facts.runs.len()));
    }
    ReportPart {
        title: "Answers, methods, sample and exclusions",
        chapter: None,
        rests_on: part.rests_on,
        missing: part.missing,
    }
}

fn agreement(report: &SurveyReport) -> ReportPart {
    let mut part = Part::new();
    match &report.agreement {
        Ok(compared) => {
            part.has(format!(
                "{} fish aged by all of {}",
                compared.precision.n,
                compared.readers.join(", ")
            ));
            if !report.aided_pairs.is_empty() {
                part.lacks("Independence", "some pairs of readers both saw proposals");
            }
        }
        Err(reason) => part.lacks("Agreement", reason),
    }
    part.of(Chapter::Agreement)
}

fn lengths(report: &SurveyReport) -> ReportPart {
    let mut part = Part::new();
    match &report.lengths {
        Ok(result) => {
            let intercept = result
                .intercept_mm
                .map_or_else(String::new, |mm| format!(", intercept {mm:.1} mm"));
            part.has(format!(
                "{} fish by {}{intercept}",
                result.fish.len(),
                named(result.method.word())
            ));
        }
        Err(reason) => part.lacks("Back-calculated lengths", reason),
    }
    part.of(Chapter::Lengths)
}

fn growth(report: &SurveyReport) -> ReportPart {
    let mut part = Part::new();
    match &report.growth {
        Ok(study) => {
            part.has(format!(
                "{} curve on {} lengths",
                named(study.curve.word()),
                report.curve_points.len()
            ));
        }
        Err(reason) => part.lacks("Growth curve", reason),
    }
    match &report.against {
        Ok(found) => part.has(format!("{} fish against the standard", found.n_fish)),
        Err(reason) => part.lacks("The standard", reason),
    }
    match &report.condition {
        Some(condition) => part.has(format!("condition of {} fish", condition.n_weighed)),
        None => part.lacks("Condition", "no fish of the species was both measured and weighed"),
    }
    part.of(Chapter::Growth)
}

/// A method's or curve's word as people write it.
fn named(word: &str) -> String {
    let plain = word.replace('-', " ");
    plain.replace("fraser lee", "Fraser-Lee").replace("von bertalanffy", "Von Bertalanffy")
}

fn years(report: &SurveyReport) -> ReportPart {
    let mut part = Part::new();
    match report.year_effects.first() {
        Some(found) => part.has(format!(
            "{} yearly increments of {} fish over {} years",
            found.n,
            found.n_fish,
            found.years.len()
        )),
        None => {
            let reason = report.year_notes.first().map(String::as_str);
            part.lacks("Growth years", reason.unwrap_or("too few increments over years and ages"));
        }
    }
    part.of(Chapter::Years)
}

fn year_classes(report: &SurveyReport) -> ReportPart {
    let mut part = Part::new();
    match &report.ages {
        Ok(study) => ages(study, &mut part),
        Err(reason) => part.lacks("Age composition", reason),
    }
    if report.stocking.is_empty() {
        part.lacks("Stocking", "no stocking of this species in this water is on record");
    } else {
        part.has(format!("{} stockings on record", report.stocking.len()));
    }
    part.of(Chapter::YearClasses)
}

fn ages(study: &AgeStudy, part: &mut Part) {
    part.has(format!(
        "{} fish in length groups, {} of them aged",
        study.key.n_sampled(),
        study.key.n_aged()
    ));
    if study.catch_per_hour.is_some() {
        part.has("catch per hour by age".to_owned());
    } else {
        part.lacks("Catch per hour", "no effort is on record");
    }
    match &study.catch_curve {
        Ok(_) => part.has("mortality from the catch curve".to_owned()),
        Err(withheld) => part.lacks("Mortality", &withheld.to_string()),
    }
}

fn cards(report: &SurveyReport) -> ReportPart {
    let mut part = Part::new();
    match report.counts.read {
        0 => part.lacks("Cards", "no fish has a confirmed reading that counts"),
        n => part.has(format!("a card with its picture for each of {n} fish")),
    }
    part.of(Chapter::Cards)
}
