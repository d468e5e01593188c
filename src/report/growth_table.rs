//! Growth for people: plain text for a terminal.

use std::fmt::Write as _;

use crate::analysis::growth::{
    Bootstrap, FittedGrowth, GroupComparison, GroupGrowth, GrowthStudy, Ranked, predict,
};
use crate::analysis::population::weighted_lengths::WeightedAge;
use crate::analysis::year_effects::{FishEffect, Scale, YearEffects};

use super::growth_json::{GrowthExtras, whole_ages};
use super::uncertainty_table::propagated_text;

/// The study as plain text: each fit with its intervals and warnings, the groups compared, the years, the cautions.
pub fn growth_text(study: &GrowthStudy, extras: &GrowthExtras) -> String {
    let mut text = String::new();
    line(&mut text, format_args!("{}  ({})", study.curve.formula(), study.curve.source()));
    line(
        &mut text,
        format_args!("{} error; least squares from several starts", study.settings.error.word()),
    );
    group_text(&mut text, "All rows", &study.whole);
    for group in &study.groups {
        let column = study.grouped_by.as_deref().unwrap_or("group");
        let name = if group.group.is_empty() { "(empty)" } else { &group.group };
        group_text(&mut text, &format!("{column} = {name}"), group);
    }
    if let Some(comparison) = &study.comparison {
        comparison_text(&mut text, comparison);
    }
    ranking_text(&mut text, &study.ranking);
    for effects in &extras.year_effects {
        years_text(&mut text, effects);
    }
    if let Some(rows) = &extras.by_key {
        by_key_text(&mut text, rows);
    }
    if let Some(found) = &extras.uncertainty {
        text.push_str(&propagated_text(found));
    }
    line(
        &mut text,
        format_args!(
            "\nMind: a curve holds for the ages and the gear it was fitted to. Gear that misses small or large fish of an age bends it, \
             and ages from scales are too low in old, slow fish."
        ),
    );
    text
}

fn line(text: &mut String, arguments: std::fmt::Arguments<'_>) {
    // Writing to a string cannot fail.
    let _ = text.write_fmt(arguments);
    text.push('\n');
}

fn group_text(text: &mut String, title: &str, group: &GroupGrowth) {
    line(text, format_args!("\n{title}"));
    match &group.outcome {
        Ok(fitted) => fitted_text(text, fitted),
        Err(error) => line(text, format_args!("  {} rows, no curve: {error}", group.n)),
    }
}

fn fitted_text(text: &mut String, fitted: &FittedGrowth) {
    let fit = &fitted.fit;
    let sd = number(fit.residual_sd);
    let aicc = number(fit.aicc);
    line(
        text,
        format_args!(
            "  {} rows of {} fish, {} ages; residual SD {sd}, AICc {aicc}",
            fit.n,
            fit.n_fish,
            fit.n_ages()
        ),
    );
    line(
        text,
        format_args!(
            "  {:<8}{:>12}{:>12}  {:<25}  {}",
            "", "estimate", "SE", "95 % (Wald)", "95 % (profile)"
        ),
    );
    for (parameter, profile) in fit.parameters.iter().zip(&fitted.profiles) {
        let note = match (parameter.is_fixed, parameter.on_bound) {
            (true, _) => "  fixed",
            (_, true) => "  not identified",
            _ => "",
        };
        line(
            text,
            format_args!(
                "  {:<8}{:>12}{:>12}  {:<25}  {}{note}",
                parameter.name,
                number(Some(parameter.estimate)),
                number(parameter.se),
                range(parameter.ci95.map(|limits| limits.map(Some))),
                range(*profile)
            ),
        );
    }
    if let Some(bootstrap) = &fitted.bootstrap {
        bootstrap_text(text, bootstrap);
    }
    curve_text(text, fitted);
    for warning in fitted.warnings() {
        line(text, format_args!("  ! {warning}"));
    }
}

fn curve_text(text: &mut String, fitted: &FittedGrowth) {
    line(
        text,
        format_args!(
            "  {:>6}{:>12}  {:<25}  {}",
            "age", "length", "95 % of the mean", "95 % of single fish"
        ),
    );
    for band in whole_ages(&fitted.fit).filter_map(|age| predict(&fitted.fit, age)) {
        line(
            text,
            format_args!(
                "  {:>6}{:>12}  {:<25}  {}",
                band.age,
                number(Some(band.mean)),
                range(band.ci95.map(|limits| limits.map(Some))),
                range(band.pi95.map(|limits| limits.map(Some)))
            ),
        );
    }
}

fn bootstrap_text(text: &mut String, bootstrap: &Bootstrap) {
    line(
        text,
        format_args!(
            "  resampling whole fish: {} replicates, {} failed, seed {}",
            bootstrap.replicates, bootstrap.failed, bootstrap.seed
        ),
    );
    for parameter in &bootstrap.parameters {
        line(
            text,
            format_args!(
                "  {:<8}{:>12}{:>12}  {}",
                parameter.name,
                number(parameter.interval.map(|interval| interval.median)),
                "",
                range(parameter.interval.map(|interval| interval.ci95.map(Some)))
            ),
        );
    }
}

fn comparison_text(text: &mut String, comparison: &GroupComparison) {
    line(
        text,
        format_args!(
            "\nDo the groups grow alike? (Kimura 1980; F of Chen, Jackson & Harvey 1992; one residual variance assumed)"
        ),
    );
    line(
        text,
        format_args!(
            "  {:<16}{:>10}{:>5}{:>10}{:>10}{:>10}",
            "hypothesis", "chi2", "df", "p", "F", "p"
        ),
    );
    for test in &comparison.comparisons {
        let note = if test.converged { "" } else { "  not settled" };
        line(
            text,
            format_args!(
                "  {:<16}{:>10.3}{:>5}{:>10}{:>10}{:>10}{note}",
                test.hypothesis,
                test.chi2,
                test.df,
                probability(test.p),
                number(test.f),
                probability(test.f_p)
            ),
        );
    }
}

fn ranking_text(text: &mut String, ranking: &[Ranked]) {
    if ranking.len() < 2 {
        return;
    }
    line(text, format_args!("\nCurves on all rows, best first (AICc: Burnham & Anderson 2002)"));
    for entry in ranking {
        line(
            text,
            format_args!(
                "  {:<20}{:>10.2}{:>8.2}{:>8.3}",
                entry.curve, entry.aicc, entry.delta, entry.weight
            ),
        );
    }
}

fn by_key_text(text: &mut String, rows: &[WeightedAge]) {
    line(
        text,
        format_args!("\nMean length at age by the age-length key (Bettoli & Miranda 2001), mm"),
    );
    line(
        text,
        format_args!(
            "  {:>6}{:>8}{:>12}{:>12}{:>10}{:>14}",
            "age", "aged", "stand for", "mean", "SE", "aged alone"
        ),
    );
    for row in rows {
        line(
            text,
            format_args!(
                "  {:>6}{:>8}{:>12.1}{:>12.1}{:>10}{:>14.1}",
                row.age,
                row.n_aged,
                row.n_expected,
                row.mean_mm,
                number(row.se_mm),
                row.plain_mean_mm
            ),
        );
    }
}

fn years_text(text: &mut String, effects: &YearEffects) {
    let model = match effects.fish_effect {
        FishEffect::Random => "fish random; Weisberg, Spangler & Richmond 2010",
        FishEffect::None => "Weisberg 1993",
    };
    line(
        text,
        format_args!(
            "\nGrowth years: {} increments of {} fish ({model}); effects sum to zero",
            effects.n, effects.n_fish
        ),
    );
    if let Some((f, df, p)) = effects.f_year {
        line(
            text,
            format_args!(
                "  years differ: F = {f:.2} on {} and {}, p {}",
                df[0],
                df[1],
                probability(Some(p))
            ),
        );
    }
    for year in &effects.years {
        let size = match (effects.scale, year.percent) {
            (Scale::Log, Some(percent)) => format!("{percent:+.1} %"),
            _ => format!("{:+.3}", year.effect),
        };
        let verdict = if year.is_poor() {
            "poor"
        } else if year.is_good() {
            "good"
        } else {
            ""
        };
        let thin = if year.is_thin { "  few increments" } else { "" };
        line(
            text,
            format_args!(
                "  {}{:>6}{:>10}  effect {:+.3} SE {:.3}  {verdict}{thin}",
                year.year, year.n, size, year.effect, year.se
            ),
        );
    }
}

/// Four significant digits and more, never an exponent for the sizes that occur here.
fn number(value: Option<f64>) -> String {
    match value {
        None => "-".to_owned(),
        Some(value) if value.abs() >= 100.0 => format!("{value:.1}"),
        Some(value) if value.abs() >= 1.0 => format!("{value:.3}"),
        Some(value) => format!("{value:.4}"),
    }
}

fn probability(p: Option<f64>) -> String {
    match p {
        None => "-".to_owned(),
        Some(p) if p < 0.0001 => "<0.0001".to_owned(),
        Some(p) => format!("{p:.4}"),
    }
}

fn range(limits: Option<[Option<f64>; 2]>) -> String {
    limits.map_or_else(
        || "-".to_owned(),
        |[low, high]| {
            let side = |value: Option<f64>| value.map_or("open".to_owned(), |v| number(Some(v)));
            format!("{} to {}", side(low), side(high))
        },
    )
}
