//! The growth curve, growth against the standard, and condition.

use maud::{Markup, html};

use super::figures::length_at_age;
use super::lengths::limits;
use super::parts::{absent, caution, figure, figures, heading, remarks, table, user, words};
use crate::analysis::growth::{FittedGrowth, GroupGrowth, GrowthStudy, predict};
use crate::domain::reference::LengthBasis;
use crate::report::compare_json::ComparedAges;
use crate::report::report_units::{ReportUnits, counted, fixed, or_dash, probability, signed};
use crate::report::survey_report::{Chapter, SurveyReport};

pub(super) fn growth(report: &SurveyReport) -> Markup {
    let chapter = Chapter::Growth;
    html! {
        (heading(chapter.word(), chapter.title()))
        h3 { "Growth against the standard" }
        @match &report.against {
            Err(reason) => (absent("comparison with a standard", reason)),
            Ok(compared) => (against(report, compared)),
        }
        h3 { "Growth curve" }
        @match &report.growth {
            Err(reason) => (absent("growth curve", reason)),
            Ok(study) => (curve(report, study)),
        }
        (condition(report))
    }
}

fn basis_words(basis: LengthBasis) -> &'static str {
    match basis {
        LengthBasis::Capture => "length at capture",
        LengthBasis::Annulus => "back-calculated length at the annulus",
    }
}

fn against(report: &SurveyReport, compared: &ComparedAges) -> Markup {
    let units = report.units;
    let unit = units.length_unit();
    let rows: Vec<Vec<String>> = compared
        .index
        .ages
        .iter()
        .map(|age| {
            let standing = age.standing.as_ref();
            let reference = compared.standard.iter().find(|row| row.age == age.age);
            let mut row =
                vec![age.age.to_string(), age.n.to_string(), units.length_text(age.mean_mm)];
            row.push(or_dash(reference.map(|row| units.length_text(row.mean.value()))));
            row.push(or_dash(standing.map(|one| units.fine_text(one.deviation_mm))));
            row.push(or_dash(standing.map(|one| fixed(one.percent, 1))));
            row.push(or_dash(standing.and_then(|one| one.percentile).map(|one| one.to_string())));
            row.push(or_dash(standing.and_then(|one| one.z).map(|z| fixed(z, 2))));
            row.push(if age.is_used { "yes" } else { "no" }.to_owned());
            row
        })
        .collect();
    let columns = [
        figures("Age", "years"),
        figures("Fish", "number"),
        figures("Mean length", unit),
        figures("Standard", unit),
        figures("Difference", unit),
        figures("Share of standard", "%"),
        figures("Percentile", "%"),
        figures("z", ""),
        words("In the index"),
    ];
    let mut sources: Vec<&str> = compared.standard.iter().map(|row| row.source.trim()).collect();
    sources.sort_unstable();
    sources.dedup();
    let months: Vec<String> = compared.months.iter().map(u8::to_string).collect();
    let index = &compared.index;
    html! {
        p { "Basis: " (basis_words(report.basis)) @if !months.is_empty() { ", months " (months.join(", ")) } "; " (counted(compared.n_fish as u64, "fish")) "." }
        p { "Source of the standard: " (user(&if sources.is_empty() { "none given".to_owned() } else { sources.join("; ") })) "." }
        (table("Mean length at age against the standard", &columns, &rows))
        p {
            "Growth index: "
            (or_dash(index.mean_deviation_mm.map(|mm| signed(units.length(mm), 1)))) " " (unit)
            " (95 % interval " (limits(units, index.ci95_mm)) " " (unit) "), the plain mean of the differences over the ages with "
            (index.minimum_per_age) " fish or more."
        }
        (caution(&[
            "A standard must suit: species, sex, length type, structure, season, and whether lengths are at capture or at the annulus. \
             Growth against a table that does not suit is a number without a meaning.",
        ]))
    }
}

fn curve(report: &SurveyReport, study: &GrowthStudy) -> Markup {
    let units = report.units;
    let fitted = study.whole.outcome.as_ref().ok();
    let standard: Vec<(f64, f64)> = report.against.as_ref().map_or_else(
        |_| Vec::new(),
        |compared| {
            compared.standard.iter().map(|row| (f64::from(row.age), row.mean.value())).collect()
        },
    );
    let plot = length_at_age(report, &report.curve_points, fitted.map(|one| &one.fit), &standard);
    let data = fitted.map_or_else(|| html! {}, |fitted| curve_table(units, fitted));
    html! {
        p { "Fitted to the " (basis_words(report.basis)) " of each fish (its last annulus, or capture with a decimal age), in " (units.length_unit()) ": " code { (study.curve.formula()) } " (" (study.curve.source()) ")." }
        (figure("Length at age", &plot, "", &data))
        (group(units, "All fish", &study.whole))
        @for one in &study.groups {
            (group(units, &format!("{}: {}", study.grouped_by.as_deref().unwrap_or("group"), if one.group.is_empty() { "not known" } else { &one.group }), one))
        }
        (comparison(study))
    }
}

fn curve_table(units: ReportUnits, fitted: &FittedGrowth) -> Markup {
    let (_, oldest) = fitted.fit.age_range();
    let rows: Vec<Vec<String>> = (1..=200_u32)
        .map(f64::from)
        .take_while(|age| *age <= oldest.ceil())
        .filter_map(|age| predict(&fitted.fit, age))
        .map(|band| {
            vec![
                fixed(band.age, 0),
                units.length_text(band.mean),
                limits(units, band.ci95),
                limits(units, band.pi95),
            ]
        })
        .collect();
    let unit = units.length_unit();
    let columns = [
        figures("Age", "years"),
        figures("Curve", unit),
        figures("95 % of the mean", unit),
        figures("95 % of single fish", unit),
    ];
    table("", &columns, &rows)
}

/// Parameters that are lengths turn into the units of the report; rates and ages do not.
fn parameter_text(units: ReportUnits, name: &str, value: f64) -> (String, &'static str) {
    match name {
        "Linf" | "L0" | "L1" | "L2" | "L3" => (units.fine_text(value), units.length_unit()),
        "K" => (fixed(value, 4), "per year"),
        "t0" | "ti" => (fixed(value, 3), "years"),
        _ => (fixed(value, 4), ""),
    }
}

fn group(units: ReportUnits, name: &str, group: &GroupGrowth) -> Markup {
    let fitted = match &group.outcome {
        Ok(fitted) => fitted,
        Err(error) => {
            return html! { p class="note" { (user(name)) ": no curve, " (user(&error.to_string())) "." } };
        }
    };
    let rows: Vec<Vec<String>> = fitted
        .fit
        .parameters
        .iter()
        .zip(&fitted.profiles)
        .map(|(parameter, profile)| {
            let show = |value: f64| parameter_text(units, parameter.name, value).0;
            let side = |value: Option<f64>| value.map_or("open".to_owned(), show);
            let unit = parameter_text(units, parameter.name, 0.0).1;
            vec![
                if unit.is_empty() {
                    parameter.name.to_owned()
                } else {
                    format!("{}, {unit}", parameter.name)
                },
                show(parameter.estimate),
                or_dash(parameter.se.map(show)),
                or_dash(profile.map(|[low, high]| format!("{} to {}", side(low), side(high)))),
            ]
        })
        .collect();
    let columns = [
        words("Parameter"),
        figures("Estimate", ""),
        figures("SE", ""),
        figures("95 % interval", "profile"),
    ];
    let title =
        format!("{name}: {} rows of {}", fitted.fit.n, counted(fitted.fit.n_fish as u64, "fish"));
    html! {
        (table(&title, &columns, &rows))
        (remarks("", &fitted.warnings()))
    }
}

fn comparison(study: &GrowthStudy) -> Markup {
    let Some(compared) = &study.comparison else { return html! {} };
    let rows: Vec<Vec<String>> = compared
        .comparisons
        .iter()
        .map(|test| {
            vec![
                test.hypothesis.clone(),
                fixed(test.chi2, 2),
                test.df.to_string(),
                probability(test.p),
            ]
        })
        .collect();
    let columns =
        [words("Hypothesis"), figures("Chi-square", ""), figures("df", ""), figures("p", "")];
    html! {
        (table("Do the groups grow alike? (Kimura 1980, from memory; one residual variance assumed)", &columns, &rows))
    }
}

fn condition(report: &SurveyReport) -> Markup {
    let Some(found) = &report.condition else { return html! {} };
    let rows: Vec<Vec<String>> = report
        .condition_by_length
        .iter()
        .map(|(name, n, mean, se)| {
            vec![name.clone(), n.to_string(), fixed(*mean, 3), or_dash(se.map(|se| fixed(se, 3)))]
        })
        .collect();
    let columns = [
        words("Length group"),
        figures("Fish", "number"),
        figures("Condition factor", "100 000 g/mm³"),
        figures("SE", "100 000 g/mm³"),
    ];
    html! {
        h3 { "Condition" }
        p { (counted(found.n_weighed as u64, "fish")) " measured and weighed." }
        @if let (Some(standard), Some(mean)) = (&found.standard, found.mean_relative_weight) {
            p { "Mean relative weight " (fixed(mean, 1)) " of " (found.n_relative) " fish, by the standard of " (user(&standard.source)) "." }
        } @else {
            p class="note" { "No standard-weight equation was entered, so there is no relative weight; the factor below compares fish of like length only." }
        }
        (table("Condition factor 100 000 W/L³ by length group (weights in g, lengths in mm)", &columns, &rows))
        p class="note" { "All fish together: " (or_dash(found.mean_fulton_k.map(|k| fixed(k, 3)))) "." }
    }
}
