//! Good and poor growth years.

use maud::{Markup, html};

use super::figures::growth_years;
use super::parts::{absent, caution, figure, figures, heading, range, remarks, table, words};
use crate::analysis::year_effects::{FishEffect, YearEffects};
use crate::report::report_units::{counted, fixed, or_dash, probability, signed};
use crate::report::survey_report::{Chapter, SurveyReport};

pub(super) fn years(report: &SurveyReport) -> Markup {
    let chapter = Chapter::Years;
    html! {
        (heading(chapter.word(), chapter.title()))
        (caution(&[
            "Early years are seen only through fish that lived to be caught: selective survival can make a trend where there was none. A low \
             year over several ages and year classes speaks for weather or forage; a low value within one year class does not.",
        ]))
        @if report.year_effects.is_empty() {
            (absent("growth years", report.year_notes.first().map_or("too few increments", String::as_str)))
        }
        @for (index, effects) in report.year_effects.iter().enumerate() { (piece(effects, index)) }
        (remarks("Mind:", &report.year_notes))
    }
}

fn piece(effects: &YearEffects, index: usize) -> Markup {
    let model = match effects.fish_effect {
        FishEffect::Random => "with a random effect for each fish",
        FishEffect::None => "without an effect for each fish",
    };
    html! {
        p {
            (effects.n) " increments of " (counted(effects.n_fish as u64, "fish")) " at " (counted(effects.ages.len() as u64, "age"))
            ", " (model) "; effects are given age, and sum to zero over the years."
            @if let Some((f, df, p)) = effects.f_year {
                " Years differ: F = " (fixed(f, 2)) " on " (df[0]) " and " (df[1]) " degrees of freedom, p " (probability(Some(p))) "."
            }
        }
        (figure("Growth by calendar year", &growth_years(effects, &format!("growth-years-{index}")), "", &year_table(effects)))
    }
}

fn year_table(effects: &YearEffects) -> Markup {
    let percent = |value: f64| 100.0 * (value.exp() - 1.0);
    let rows: Vec<Vec<String>> = effects
        .years
        .iter()
        .map(|year| {
            let shown = |value: f64| if year.percent.is_some() { percent(value) } else { value };
            let verdict = match (year.is_thin, year.is_poor(), year.is_good()) {
                (true, _, _) => "not judged: few increments",
                (_, true, _) => "poor",
                (_, _, true) => "good",
                _ => "average",
            };
            vec![
                year.year.to_string(),
                year.n.to_string(),
                or_dash(Some(signed(shown(year.effect), 1))),
                range(Some(signed(shown(year.ci95[0]), 1)), Some(signed(shown(year.ci95[1]), 1))),
                verdict.to_owned(),
            ]
        })
        .collect();
    let unit = if effects.years.iter().all(|year| year.percent.is_some()) {
        "% of an average year"
    } else {
        "mm"
    };
    let columns = [
        figures("Year", ""),
        figures("Increments", "number"),
        figures("Effect", unit),
        figures("95 % interval", unit),
        words("Judged"),
    ];
    table("", &columns, &rows)
}
