//! Back-calculated lengths: the relation they rest on, the tables, and Lee's phenomenon.

use maud::{Markup, html};

use super::figures::length_on_radius;
use super::parts::{absent, caution, figure, figures, heading, range, remarks, table, words};
use crate::analysis::back_calculation::{CAUSES, LeeRow, LengthsResult, Relation, Shape};
use crate::report::report_units::{ReportUnits, fixed, or_dash, probability};
use crate::report::survey_report::{Chapter, SurveyReport};

pub(super) fn lengths(report: &SurveyReport) -> Markup {
    let chapter = Chapter::Lengths;
    html! {
        (heading(chapter.word(), chapter.title()))
        (caution(&[
            "A back-calculated length rests on an assumed relation between the growth of the structure and of the fish; two methods on the \
             same radii give different lengths. Lengths at age of old fish are those of survivors.",
        ]))
        @match &report.lengths {
            Err(reason) => (absent("back-calculated lengths", reason)),
            Ok(result) => (worked_out(report, result)),
        }
    }
}

fn worked_out(report: &SurveyReport, result: &LengthsResult) -> Markup {
    let units = report.units;
    let warnings: Vec<String> = result.warnings.iter().map(ToString::to_string).collect();
    html! {
        (relation(report, result))
        (remarks("Mind:", &warnings))
        (by_age(units, result))
        (by_year_class(units, result))
        (hypotheses(report))
        (lee(units, result))
    }
}

/// The name of a method as people write it.
pub(super) fn method_name(word: &str) -> String {
    if word == "fraser-lee" { "Fraser-Lee".to_owned() } else { word.replace('-', " ") }
}

fn relation(report: &SurveyReport, result: &LengthsResult) -> Markup {
    let units = report.units;
    let fitted = result.relation.as_ref();
    let rows: Vec<Vec<String>> = fitted.map(|one| relation_rows(units, one)).unwrap_or_default();
    let data = table("", &[words("Figure"), figures("Value", ""), words("Unit")], &rows);
    html! {
        @if let Some(mm) = result.intercept_mm {
            p { "Lengths by " (method_name(result.method.word())) " with an intercept of " (units.fine_text(mm)) " " (units.length_unit()) "." }
        }
        @match length_on_radius(report, fitted) {
            Some(plot) => (figure("Length on radius", &plot, "", &html! {
                (data)
                p class="note" { "The length and radius of every fish stand on its reading card and in the data files." }
            })),
            None => (data),
        }
    }
}

/// Coefficients are kept in mm and µm; with inches the line is turned into inches per µm.
fn relation_rows(units: ReportUnits, relation: &Relation) -> Vec<Vec<String>> {
    let row = |what: &str, value: Option<String>, unit: &str| {
        vec![what.to_owned(), or_dash(value), unit.to_owned()]
    };
    let unit = units.length_unit();
    let mut rows = vec![row("Fish in the relation", Some(relation.n.to_string()), "")];
    if relation.shape == Shape::Line {
        let slope = |value: f64| fixed(units.length(value), 5);
        rows.push(row("Slope", Some(slope(relation.slope)), &format!("{unit} per µm")));
        rows.push(row(
            "\u{2003}its standard error",
            relation.slope_se.map(slope),
            &format!("{unit} per µm"),
        ));
        rows.push(row("Intercept", Some(units.fine_text(relation.intercept)), unit));
        rows.push(row(
            "\u{2003}its standard error",
            relation.intercept_se.map(|se| units.fine_text(se)),
            unit,
        ));
        rows.push(row("Residual SD", relation.residual_sd.map(|sd| units.fine_text(sd)), unit));
    }
    rows.push(row(
        "Share of the spread explained",
        relation.r_squared.map(|r2| fixed(100.0 * r2, 1)),
        "%",
    ));
    let [low, high] = relation.length_range_mm.map(|mm| units.length_text(mm));
    rows.push(row("Lengths", Some(format!("{low} to {high}")), unit));
    let [low, high] = relation.radius_range_um.map(|um| fixed(um, 0));
    rows.push(row("Radii", Some(format!("{low} to {high}")), "µm"));
    rows
}

fn by_age(units: ReportUnits, result: &LengthsResult) -> Markup {
    let unit = units.length_unit();
    let increments = &result.tables.increments_mm;
    let rows: Vec<Vec<String>> = result
        .tables
        .by_age
        .iter()
        .enumerate()
        .map(|(index, row)| {
            let fine = |mm: Option<f64>| or_dash(mm.map(|mm| units.fine_text(mm)));
            vec![
                row.age.to_string(),
                row.n.to_string(),
                units.length_text(row.mean_mm),
                fine(row.sd_mm),
                fine(row.se_mm),
                or_dash(increments.get(index).map(|mm| units.length_text(*mm))),
            ]
        })
        .collect();
    let columns = [
        figures("Age", "years"),
        figures("Fish", "number"),
        figures("Mean length", unit),
        figures("SD", unit),
        figures("SE", unit),
        figures("Mean increment", unit),
    ];
    html! { @if !rows.is_empty() { (table("Length at each annulus, all fish", &columns, &rows)) } }
}

fn by_year_class(units: ReportUnits, result: &LengthsResult) -> Markup {
    let groups = &result.tables.by_year_class;
    let oldest = groups.iter().map(|group| group.means_mm.len()).max().unwrap_or(0);
    if oldest == 0 {
        return html! {};
    }
    let unit = units.length_unit();
    let mut columns = vec![figures("Year class", ""), figures("Fish", "number")];
    columns.extend((1..=oldest).map(|age| figures(&format!("Age {age}"), unit)));
    let means = |means: &[f64]| -> Vec<String> {
        (0..oldest).map(|age| or_dash(means.get(age).map(|mm| units.length_text(*mm)))).collect()
    };
    let mut rows: Vec<Vec<String>> = groups
        .iter()
        .map(|group| {
            let head = [group.group.to_string(), group.n.to_string()];
            head.into_iter().chain(means(&group.means_mm)).collect()
        })
        .collect();
    let grand = &result.tables.grand_means;
    for (name, values) in
        [("mean of fish", &grand.over_fish), ("mean of classes", &grand.over_year_classes)]
    {
        if !values.is_empty() {
            let head = [name.to_owned(), String::new()];
            rows.push(head.into_iter().chain(means(values)).collect());
        }
    }
    table("Mean length at each annulus by year class", &columns, &rows)
}

fn hypotheses(report: &SurveyReport) -> Markup {
    let units = report.units;
    let Some(compared) = &report.hypotheses else { return html! {} };
    let unit = units.length_unit();
    let rows: Vec<Vec<String>> = compared
        .by_age
        .iter()
        .map(|row| {
            vec![
                row.age.to_string(),
                row.n.to_string(),
                units.length_text(row.first_mm),
                units.length_text(row.second_mm),
                units.fine_text(row.first_mm - row.second_mm),
            ]
        })
        .collect();
    let columns = [
        figures("Age", "years"),
        figures("Fish", "number"),
        figures("Scale-proportional", unit),
        figures("Body-proportional", unit),
        figures("Difference", unit),
    ];
    html! {
        h3 { "How much the method matters" }
        p { "The two hypotheses bracket what the choice of method can do; their gap is the least uncertainty of every length above." }
        (table("Mean length by either hypothesis", &columns, &rows))
        @if let Some(largest) = &compared.largest {
            p class="note" { "Largest difference of a single fish: " (units.fine_text(largest.difference_mm().abs())) " " (unit) " at annulus " (largest.annulus) "." }
        }
    }
}

fn lee(units: ReportUnits, result: &LengthsResult) -> Markup {
    let unit = units.length_unit();
    let rows: Vec<Vec<String>> = result
        .lee
        .iter()
        .map(|row| {
            vec![
                row.annulus.to_string(),
                row.n.to_string(),
                units.fine_text(row.slope),
                units.fine_text(row.se),
                probability(row.p_holm),
            ]
        })
        .collect();
    if rows.is_empty() {
        return html! {};
    }
    let falling = result
        .lee
        .iter()
        .filter(|row| row.slope < 0.0 && row.p_holm.is_some_and(|p| p < 0.05))
        .count();
    let is_rising = |row: &&LeeRow| row.slope > 0.0 && row.p_holm.is_some_and(|p| p < 0.05);
    let rising = result.lee.iter().filter(is_rising).count();
    let columns = [
        figures("Annulus", ""),
        figures("Fish", "number"),
        figures("Slope", &format!("{unit} per year of age")),
        figures("SE", &format!("{unit} per year of age")),
        figures("p (Holm)", ""),
    ];
    html! {
        h3 { "Do early lengths fall with age at capture?" }
        p {
            @if falling == 0 { "No annulus shows Lee's phenomenon by a test with Holm's adjustment." }
            @else { "Lee's phenomenon shows at " (falling) " of " (rows.len()) " annuli. Causes to weigh: " (CAUSES) "." }
            @if rising > 0 { " The reverse, early lengths that rise with age at capture, shows at " (rising) " of " (rows.len()) " annuli" "; the same causes can be behind it." }
        }
        (table("Length at each annulus on age at capture", &columns, &rows))
    }
}

/// Limits in the units of the report.
pub(super) fn limits(units: ReportUnits, ci95: Option<[f64; 2]>) -> String {
    range(ci95.map(|ci| units.fine_text(ci[0])), ci95.map(|ci| units.fine_text(ci[1])))
}
