//! The sample, and every fish that is no part of something, with its reason.

use std::collections::BTreeMap;

use maud::{Markup, html};

use super::parts::{figures, heading, remarks, table, words};
use crate::report::report_units::{fixed, or_dash};
use crate::report::survey_report::SurveyReport;

pub(super) fn sample(report: &SurveyReport) -> Markup {
    let counts = &report.counts;
    let step = |what: &str, n: String| vec![what.to_owned(), n];
    let mut rows = vec![
        step("On the field sheet, all species", counts.on_sheet.to_string()),
        step("Of the species", counts.of_species.to_string()),
        step("Measured", counts.measured.to_string()),
        step("Weighed", counts.weighed.to_string()),
        step(&format!("Read and confirmed by {}", report.facts.reader), counts.read.to_string()),
    ];
    for (outcome, n) in &counts.outcomes {
        rows.push(step(&format!("\u{2003}of these {outcome}"), n.to_string()));
    }
    rows.push(step("Aged", counts.aged.to_string()));
    rows.push(step("With back-calculated lengths", counts.with_lengths.to_string()));
    html! {
        (heading("sample", "Sample and exclusions"))
        (table("Fish at each step", &[words("Step"), figures("Fish", "number")], &rows))
        (runs(report))
        (exclusions(report))
        (remarks("Faults found in the files of the survey; the rows concerned are left out:", &report.faults))
    }
}

fn runs(report: &SurveyReport) -> Markup {
    let rows: Vec<Vec<String>> = report
        .facts
        .runs
        .iter()
        .map(|run| {
            vec![
                run.run.clone(),
                or_dash(run.date.map(|date| date.to_string())),
                run.gear.clone(),
                fixed(run.hours, 2),
                or_dash(run.shore_m.map(|metres| fixed(metres, 0))),
            ]
        })
        .collect();
    let columns = [
        words("Run"),
        words("Date"),
        words("Gear"),
        figures("Effort", "hours"),
        figures("Shore", "m"),
    ];
    html! { @if !rows.is_empty() { (table("Effort", &columns, &rows)) } }
}

/// Fish with the same reason stand together; every one of them is named.
fn exclusions(report: &SurveyReport) -> Markup {
    let mut groups: BTreeMap<(&str, &str), Vec<&str>> = BTreeMap::new();
    for one in &report.exclusions {
        groups.entry((one.from, &one.reason)).or_default().push(&one.fish);
    }
    let rows: Vec<Vec<String>> = groups
        .into_iter()
        .map(|((from, reason), fish)| {
            vec![from.to_owned(), reason.to_owned(), fish.len().to_string(), fish.join(", ")]
        })
        .collect();
    let columns =
        [words("Left out of"), words("Reason"), figures("Fish", "number"), words("Which")];
    html! {
        h3 { "Fish left out" }
        @if rows.is_empty() { p { "None." } } @else {
            p { "No fish is left out silently: each is named beside everything it is no part of." }
            (table("", &columns, &rows))
        }
    }
}
