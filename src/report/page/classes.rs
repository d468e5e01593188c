//! Age composition, year classes beside what was stocked, and mortality where the rules allow it.

use maud::{Markup, html};

use super::figures::{age_composition, catch_curve};
use super::parts::{absent, caution, figure, figures, heading, range, remarks, table, user, words};
use crate::analysis::population::catch_curve::CatchCurve;
use crate::analysis::population::study::AgeStudy;
use crate::report::report_units::{ReportUnits, fixed, or_dash};
use crate::report::survey_report::{Chapter, SurveyReport};

pub(super) fn classes(report: &SurveyReport) -> Markup {
    let chapter = Chapter::YearClasses;
    html! {
        (heading(chapter.word(), chapter.title()))
        (caution(&[
            "Ages from scales of old fish run low, which makes the oldest year classes look weak, and mortality too high. A year class \
             that gear does not catch is not a year class that is missing.",
        ]))
        @match &report.ages {
            Err(reason) => (absent("age composition", reason)),
            Ok(study) => (study_of(report, study)),
        }
        (stocking(report))
    }
}

fn study_of(report: &SurveyReport, study: &AgeStudy) -> Markup {
    let warnings: Vec<String> = study.warnings.iter().map(ToString::to_string).collect();
    html! {
        p { (study.key.n_sampled()) " fish in length groups, " (study.key.n_aged()) " of them aged." }
        (figure("Age composition", &age_composition(&study.composition), "", &composition(report.units, study)))
        (remarks("Mind:", &warnings))
        (key(study))
        h3 { "Year classes" }
        (year_classes(study))
        h3 { "Mortality" }
        @match &study.catch_curve {
            Err(withheld) => { p { b { "Withheld: " } (user(&withheld.to_string())) "." } }
            Ok(curve) => (mortality(study, curve)),
        }
    }
}

fn composition(units: ReportUnits, study: &AgeStudy) -> Markup {
    let rates = study.catch_per_hour.as_ref();
    let rows: Vec<Vec<String>> = study
        .composition
        .rows
        .iter()
        .enumerate()
        .map(|(index, row)| {
            let rate = rates.and_then(|rates| rates.by_age.get(index));
            vec![
                row.age.to_string(),
                row.n_aged.to_string(),
                fixed(row.n_expected, 1),
                fixed(100.0 * row.proportion, 1),
                fixed(100.0 * row.se, 1),
                or_dash(row.mean_length_mm.map(|mm| units.length_text(mm))),
                or_dash(rate.map(|rate| fixed(rate.mean, 2))),
                or_dash(rate.and_then(|rate| rate.se).map(|se| fixed(se, 2))),
            ]
        })
        .collect();
    let columns = [
        figures("Age", "years"),
        figures("Aged", "number"),
        figures("Expected", "number"),
        figures("Share", "%"),
        figures("SE", "%"),
        figures("Mean length", units.length_unit()),
        figures("Catch", "fish per hour"),
        figures("SE over runs", "fish per hour"),
    ];
    table("", &columns, &rows)
}

fn key(study: &AgeStudy) -> Markup {
    let mut columns =
        vec![words("Length group"), figures("Fish", "number"), figures("Aged", "number")];
    columns.extend(study.key.ages.iter().map(|age| figures(&format!("Age {age}"), "")));
    let rows: Vec<Vec<String>> = study
        .key
        .rows
        .iter()
        .map(|row| {
            let head = [study.key.name_of(row), row.sampled.to_string(), row.aged().to_string()];
            let cells = row
                .by_age
                .iter()
                .map(|n| if *n == 0 { "\u{b7}".to_owned() } else { n.to_string() });
            head.into_iter().chain(cells).collect()
        })
        .collect();
    html! { details open { summary { "The age-length key" } (table("Number of aged fish by length group and age", &columns, &rows)) } }
}

fn year_classes(study: &AgeStudy) -> Markup {
    let rows: Vec<Vec<String>> = study
        .year_classes
        .iter()
        .map(|row| {
            vec![
                or_dash(row.year_class.map(|year| year.to_string())),
                row.age.to_string(),
                fixed(row.n, 1),
                or_dash(row.n_by_line.map(|n| fixed(n, 1))),
                or_dash(row.residual.map(|value| fixed(value, 2))),
                or_dash(row.stocked.map(|n| n.to_string())),
                row.strength.word().to_owned(),
            ]
        })
        .collect();
    let columns = [
        figures("Year class", ""),
        figures("Age", "years"),
        figures("Catch", "fish"),
        figures("By the line", "fish"),
        figures("Residual", "ln fish"),
        figures("Stocked", "fish"),
        words("Judged"),
    ];
    html! {
        (table("Year classes beside what was stocked", &columns, &rows))
        p class="note" { "A dash under Stocked means that nothing is on record; 0 means that the record begins earlier and holds no stocking of that year." }
    }
}

fn mortality(study: &AgeStudy, curve: &CatchCurve) -> Markup {
    let drawn = curve.bootstrap.as_ref();
    let mut rows: Vec<Vec<String>> = Vec::new();
    if let Some(found) = &curve.chapman_robson {
        let factor = found.inflation().unwrap_or(1.0);
        let se = drawn.and_then(|drawn| drawn.z_se).unwrap_or(found.z_se * factor);
        let limits = drawn.and_then(|drawn| drawn.z).map(|limits| limits.ci95);
        rows.push(vec![
            "Chapman-Robson".to_owned(),
            ages(&found.ages),
            fixed(found.z, 3),
            fixed(se, 3),
            range(limits.map(|ci| fixed(ci[0], 3)), limits.map(|ci| fixed(ci[1], 3))),
            fixed(100.0 * found.annual_mortality(), 1),
        ]);
    }
    if let Some(line) = &curve.regression {
        let se = drawn.and_then(|drawn| drawn.regression_z_se).unwrap_or(line.z_se);
        rows.push(vec![
            "Weighted regression".to_owned(),
            ages(&line.ages),
            fixed(line.z, 3),
            fixed(se, 3),
            range(line.z_ci95.map(|ci| fixed(ci[0], 3)), line.z_ci95.map(|ci| fixed(ci[1], 3))),
            fixed(100.0 * line.annual_mortality(), 1),
        ]);
    }
    let columns = [
        words("Method"),
        words("Ages used"),
        figures("Z", "per year"),
        figures("SE", "per year"),
        figures("95 % interval", "per year"),
        figures("Die in a year", "%"),
    ];
    let data = table("", &columns, &rows);
    let note = if drawn.is_some() {
        "Errors are over samples of fish drawn anew, since the numbers at age come from a key."
    } else {
        "Every fish was aged; the error of Chapman-Robson is widened by the overdispersion of the catch."
    };
    html! {
        @match catch_curve(&study.composition, curve) {
            Some(plot) => (figure("Catch curve", &plot, note, &data)),
            None => { (data) p class="note" { (note) } }
        }
    }
}

fn ages(ages: &[u32]) -> String {
    match (ages.first(), ages.last()) {
        (Some(first), Some(last)) => format!("{first} to {last}"),
        _ => String::new(),
    }
}

fn stocking(report: &SurveyReport) -> Markup {
    let rows: Vec<Vec<String>> = report
        .stocking
        .iter()
        .map(|one| {
            vec![
                one.date.map_or_else(|| one.year.to_string(), |date| date.to_string()),
                one.life_stage.clone(),
                one.number.to_string(),
                or_dash(one.size.map(|size| report.units.length_text(size.value()))),
                one.strain.clone(),
                one.mark_given.clone(),
                or_dash(one.percent_marked.map(|percent| fixed(percent, 0))),
            ]
        })
        .collect();
    let columns = [
        words("Date"),
        words("Life stage"),
        figures("Number", "fish"),
        figures("Size", report.units.length_unit()),
        words("Strain"),
        words("Mark"),
        figures("Marked", "%"),
    ];
    html! { @if !rows.is_empty() { h3 { "Stocking on record" } (table("", &columns, &rows)) } }
}
