//! Methods with their sources and assumptions.

use maud::{Markup, html};

use super::parts::{caution, heading_on_new_page, table, user, words};
use crate::report::report_units::fixed;
use crate::report::survey_report::{Chapter, SurveyReport};

/// What was done, its source, its assumption.
type Row = [String; 3];

pub(super) fn methods(report: &SurveyReport) -> Markup {
    let facts = &report.facts;
    let rows: Vec<Vec<String>> = rows(report).into_iter().map(Vec::from).collect();
    let columns = [words("Step"), words("Source"), words("What it assumes")];
    html! {
        (heading_on_new_page("methods", "Methods and assumptions"))
        (caution(&[
            "Field and laboratory work behind these data (boats and electrofishing at night, hot presses, bleach, blades) can injure \
             people and fish. It belongs to trained, licensed staff under local rules; this report describes none of it as instruction.",
        ]))
        dl class="facts" {
            dt { "Structure" } dd { (facts.structure.word()) @if let Some(light) = facts.light { ", " (light.word()) " light" } }
            dt { "Taken from" } dd { (user(&site(report))) }
            dt { "Pixel size" } dd { (pixel_size(report)) }
            dt { "Fish chosen for ageing" } dd { (user(if facts.ageing_rule.is_empty() { "rule not given" } else { &facts.ageing_rule })) }
            dt { "Birthday" } dd { (facts.birthday_rule[0]) " (month-day); annuli form from " (facts.birthday_rule[1]) " to " (facts.birthday_rule[2]) }
            dt { "Readings" } dd {
                (report.counts.read) @if facts.ages.is_one_reader { " fish read by " (user(&facts.reader)) } @else { " fish with a reading that counts" } "; " (report.counts.with_proposals)
                " readings made with proposals on screen, " (report.counts.blind) " made blind"
            }
        }
        (table("", &columns, &rows))
        p class="note" {
            "Sources marked \u{201c}from memory\u{201d} were not at hand when the program was written; their formulas are tested against \
             independent computations. \u{201c}Common practice\u{201d} means that no publication is claimed."
        }
    }
}

fn site(report: &SurveyReport) -> String {
    if report.facts.body_sites.is_empty() {
        "body site not given".to_owned()
    } else {
        report.facts.body_sites.join("; ")
    }
}

fn pixel_size(report: &SurveyReport) -> String {
    match report.facts.um_per_px {
        None => "not known".to_owned(),
        Some([low, high]) if (high - low).abs() < 5e-4 => format!("{} µm", fixed(low, 3)),
        Some([low, high]) => format!("{} to {} µm", fixed(low, 3), fixed(high, 3)),
    }
}

fn row(step: &str, source: &str, assumption: &str) -> Row {
    [step.to_owned(), source.to_owned(), assumption.to_owned()]
}

fn rows(report: &SurveyReport) -> Vec<Row> {
    let mut rows = vec![row(
        "Age from annuli, edge and date",
        "common practice",
        "one birthday for all fish; the formation window suits this water; every annulus is one winter",
    )];
    if report.has(Chapter::Agreement) && report.agreement.is_ok() {
        rows.push(row(
            "Agreement: percent, percent error, CV, tests of symmetry, age bias",
            "Beamish & Fournier 1981; Chang 1982; Evans & Hoenig 1998; Campana, Annand & McMillan 1995 (from memory)",
            "readings are independent; agreement says nothing of accuracy",
        ));
    }
    if let (true, Ok(lengths)) = (report.has(Chapter::Lengths), &report.lengths) {
        rows.push(row(
            &format!(
                "Length at each annulus: {}",
                super::lengths::method_name(lengths.method.word())
            ),
            &format!("{} (from memory)", source_of(lengths.method.assumption())),
            lengths.method.assumption(),
        ));
        if report.hypotheses.is_some() {
            rows.push(row(
                "Spread of methods: scale- and body-proportional lengths",
                "Francis 1990 (from memory)",
                "their difference is the least uncertainty the choice of method brings",
            ));
        }
    }
    if report.has(Chapter::Growth) {
        if let Ok(study) = &report.growth {
            rows.push(row(
                &format!("Growth curve: {}", study.curve.formula()),
                study.curve.source(),
                "one length for each fish; one spread at all ages; the curve holds for the ages and gear it was fitted to",
            ));
        }
        if report.against.is_ok() {
            rows.push(row(
                "Growth index: mean deviation over ages with enough fish",
                "Schneider, Laarman & Gowing 2000 (from memory)",
                "the standard suits this water, season, sex and structure, and is taken as exact",
            ));
        }
        if report.condition.is_some() {
            rows.push(row(
                "Condition factor 100 000 W/L³ (g, mm)",
                "Fulton's factor, from memory",
                "compared at like lengths only",
            ));
        }
    }
    if report.has(Chapter::Years) && !report.year_effects.is_empty() {
        rows.push(row(
            "Growth years from yearly increments, fish as random effect",
            "Weisberg 1993; Weisberg, Spangler & Richmond 2010 (from memory)",
            "a year acts by the same percentage at every age; no cohort effect",
        ));
    }
    if let (true, Ok(study)) = (report.has(Chapter::YearClasses), &report.ages) {
        rows.extend(age_rows(study.catch_curve.is_ok()));
    }
    rows
}

/// The source that stands in brackets at the end of an assumption.
fn source_of(assumption: &str) -> &str {
    let inside = assumption.rsplit_once('(').map(|(_, end)| end.trim_end_matches(')'));
    inside.unwrap_or("own")
}

fn age_rows(has_mortality: bool) -> Vec<Row> {
    let mut rows = vec![
        row(
            "Age-length key and composition",
            "Ketchen 1949; Kimura 1977 (from memory)",
            "fish for ageing were drawn at random within length groups; the key holds for this water, year and season",
        ),
        row(
            "Year-class strength: residuals of the weighted catch curve",
            "Maceina 1997 (from memory)",
            "a steady decline from the age of full catch; beyond two standard errors counts as strong or weak",
        ),
    ];
    if has_mortality {
        rows.push(row(
            "Mortality: Chapman-Robson from the age after the peak; weighted regression from the peak",
            "Chapman & Robson 1960; Smith and others 2012 (abstract); Maceina & Bettoli 1998 (from memory)",
            "constant recruitment and survival, equal catchability, right ages",
        ));
    }
    rows
}
