//! The sample, and every fish that is no part of something, with its reason.

use std::collections::BTreeMap;

use maud::{Markup, html};

use super::parts::{capital, figures, heading, remarks, table, user, words};
use crate::report::report_units::{counted, fixed, or_dash};
use crate::report::survey_report::{Exclusion, SurveyReport};

pub(super) fn sample(report: &SurveyReport) -> Markup {
    let counts = &report.counts;
    let step = |what: &str, n: String| vec![what.to_owned(), n];
    let mut rows = vec![
        step("On the field sheet, all species", counts.on_sheet.to_string()),
        step("Of the species", counts.of_species.to_string()),
        step("Measured", counts.measured.to_string()),
        step("Weighed", counts.weighed.to_string()),
        step(&read_by(report), counts.read.to_string()),
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

fn read_by(report: &SurveyReport) -> String {
    if report.facts.ages.is_one_reader {
        format!("Read and confirmed by {}", report.facts.reader)
    } else {
        "With a confirmed reading that counts".to_owned()
    }
}

/// Fish that are left out for one reason, and everything they are left out of.
#[derive(Debug, PartialEq)]
struct LeftOutGroup<'a> {
    from: Vec<&'a str>,
    reason: &'a str,
    fish: Vec<&'a str>,
}

/// Fish with the same reason stand together, and so do things that the same fish are left out of; every fish is named.
fn groups(exclusions: &[Exclusion]) -> Vec<LeftOutGroup<'_>> {
    let mut by_thing: BTreeMap<(&str, &str), Vec<&str>> = BTreeMap::new();
    for one in exclusions {
        by_thing.entry((one.from, &one.reason)).or_default().push(&one.fish);
    }
    let mut groups: Vec<LeftOutGroup<'_>> = Vec::new();
    for ((from, reason), fish) in by_thing {
        match groups.iter_mut().find(|group| group.reason == reason && group.fish == fish) {
            Some(group) => group.from.push(from),
            None => groups.push(LeftOutGroup { from: vec![from], reason, fish }),
        }
    }
    groups
}

/// The names run over the whole width and on to the next page: hundreds of fish can be left out for one reason, and a row
/// of a table that must not break would leave a page empty or run off it.
fn exclusions(report: &SurveyReport) -> Markup {
    let groups = groups(&report.exclusions);
    html! {
        h3 { "Fish left out" }
        @if groups.is_empty() { p { "None." } } @else {
            p { "No fish is left out silently: each is named below everything it is no part of." }
            @for group in &groups { div class="leftout" {
                p class="head" {
                    b { (user(&capital(&group.from.join(", ")))) } ": " (user(group.reason)) ". "
                    (counted(group.fish.len() as u64, "fish")) ":"
                }
                p class="names" { @for (index, name) in group.fish.iter().enumerate() {
                    @if index > 0 { ", " } (user(name))
                } }
            } }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_fish_left_out_of_several_things_for_one_reason_stand_once() {
        let one = |from: &'static str, fish: &str, reason: &str| Exclusion {
            from,
            fish: fish.to_owned(),
            row: None,
            reason: reason.to_owned(),
        };
        let all = [
            one("curve", "1", "no length"),
            one("curve", "2", "no length"),
            one("lengths", "1", "no length"),
            one("lengths", "2", "no length"),
            one("lengths", "3", "torn"),
        ];
        let found = groups(&all);
        assert_eq!(found.len(), 2);
        assert_eq!(found[0].from, ["curve", "lengths"]);
        assert_eq!(found[0].fish, ["1", "2"]);
        assert_eq!(
            (found[1].from.as_slice(), found[1].fish.as_slice()),
            (&["lengths"][..], &["3"][..])
        );
    }
}
