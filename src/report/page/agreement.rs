//! Agreement of the readers: the verdict first, then the figures it rests on.

use maud::{Markup, html};

use super::figures::age_bias_plot;
use super::parts::{absent, caution, figure, figures, heading, range, remarks, table, user, words};
use crate::analysis::agreement::comparison::{Comparison, PairComparison};
use crate::analysis::agreement::matrix::AgeMatrix;
use crate::analysis::agreement::verdict::Verdict;
use crate::report::report_units::{counted, fixed, or_dash, probability};
use crate::report::survey_report::{Chapter, SurveyReport};

/// A table of agreement with more ages does not fit a page.
const MOST_AGES: usize = 20;

pub(super) fn agreement(report: &SurveyReport) -> Markup {
    let chapter = Chapter::Agreement;
    html! {
        (heading(chapter.word(), chapter.title()))
        (caution(&[
            "Agreement is not accuracy. Two readers who learned from the same person agree on the same mistakes; only fish of known age \
             or another independent validation shows that a count is right (Campana 2001, from memory).",
        ]))
        @match &report.agreement {
            Err(reason) => (absent("comparison of readers", reason)),
            Ok(compared) => (compared_readers(report, compared)),
        }
    }
}

fn compared_readers(report: &SurveyReport, compared: &Comparison) -> Markup {
    html! {
        @for [first, second] in &report.aided_pairs {
            (caution(&["The readings of one pair are not independent: both readers saw proposals while reading."]))
            p class="note" { "Pair: " (user(first)) " and " (user(second)) "." }
        }
        @if compared.pairs.len() > 1 {
            (verdict(&compared.verdict))
        }
        @for (index, pair) in compared.pairs.iter().enumerate() {
            h3 { (user(&pair.readers[0])) " and " (user(&pair.readers[1])) }
            (verdict(&pair.verdict))
            (precision(compared, pair))
            (tests(pair))
            (bias(pair, index))
            @if let Some(matrix) = &pair.matrix { (matrix_table(matrix, &pair.readers)) }
        }
    }
}

fn verdict(verdict: &Verdict) -> Markup {
    html! {
        ul { @for statement in &verdict.statements {
            li { (user(&statement.text)) " " span class="note" {
                "(" (statement.basis.words()) @if !statement.source.is_empty() { "; " (statement.source) } ")"
            } }
        } }
        (remarks("What to do next:", &verdict.next))
    }
}

fn precision(compared: &Comparison, pair: &PairComparison) -> Markup {
    let precision = &pair.precision;
    let errors = precision.percent_errors(compared.settings.mean_age_zero);
    let percent = |value: Option<f64>, decimals| or_dash(value.map(|value| fixed(value, decimals)));
    let row = vec![
        precision.n.to_string(),
        pair.left_out.to_string(),
        percent(precision.exact, 1),
        percent(precision.within_1, 1),
        percent(precision.within_2, 1),
        percent(errors.average_percent_error, 2),
        percent(errors.mean_cv, 2),
    ];
    let columns = [
        figures("Fish read by both", "number"),
        figures("Left out", "number"),
        figures("Same age", "%"),
        figures("Within 1 year", "%"),
        figures("Within 2 years", "%"),
        figures("Percent error", "%"),
        figures("Mean CV", "%"),
    ];
    html! {
        (table("Precision", &columns, &[row]))
        @if precision.n_mean_age_zero > 0 {
            p class="note" { (counted(precision.n_mean_age_zero, "fish")) " of mean age 0 count as " (compared.settings.mean_age_zero.word()) " in percent error and CV." }
        }
    }
}

fn tests(pair: &PairComparison) -> Markup {
    let rows: Vec<Vec<String>> = pair
        .symmetry
        .iter()
        .map(|test| {
            let p = if test.p.is_none() {
                "nothing to test".to_owned()
            } else {
                probability(test.best_p())
            };
            vec![test.test.title().to_owned(), fixed(test.chi2, 2), test.df.to_string(), p]
        })
        .collect();
    let columns =
        [words("Test of symmetry"), figures("Chi-square", ""), figures("df", ""), figures("p", "")];
    html! { @if !rows.is_empty() { (table("Do the readers depart in one direction?", &columns, &rows)) } }
}

fn bias(pair: &PairComparison, index: usize) -> Markup {
    let [first, second] = &pair.readers;
    let rows: Vec<Vec<String>> = pair
        .bias_on_first
        .iter()
        .map(|row| {
            let two = |value: Option<f64>| or_dash(value.map(|value| fixed(value, 2)));
            vec![
                row.age.to_string(),
                row.n.to_string(),
                fixed(row.mean, 2),
                two(row.sd),
                range(
                    row.ci95.map(|limits| fixed(limits[0], 2)),
                    row.ci95.map(|limits| fixed(limits[1], 2)),
                ),
                probability(row.p_holm),
            ]
        })
        .collect();
    let columns = [
        figures(&format!("Age by {first}"), "years"),
        figures("Fish", "number"),
        figures(&format!("Mean age by {second}"), "years"),
        figures("SD", "years"),
        figures("95 % interval", "years"),
        figures("p (Holm)", ""),
    ];
    html! { @if !rows.is_empty() {
        (figure(
            &format!("Mean age by {second} at each age by {first}"),
            &age_bias_plot(pair, &format!("bias-{index}")),
            "The dashed line is equal age. A mean off the line at one end only is the mark of a reader who counts differently in young or old fish.",
            &table("", &columns, &rows),
        ))
    } }
}

fn matrix_table(matrix: &AgeMatrix, [first, second]: &[String; 2]) -> Markup {
    if matrix.size() > MOST_AGES {
        return html! { p class="note" { "The table of agreement has " (matrix.size()) " ages, too many for a page; it stands in the data." } };
    }
    let mut columns = vec![figures(&format!("{first} \\ {second}"), "years")];
    columns.extend(matrix.ages().map(|age| figures(&age.to_string(), "")));
    let rows: Vec<Vec<String>> = matrix
        .rows()
        .zip(matrix.ages())
        .map(|(counts, age)| {
            let cells =
                counts.iter().map(|n| if *n == 0 { "\u{b7}".to_owned() } else { n.to_string() });
            std::iter::once(age.to_string()).chain(cells).collect()
        })
        .collect();
    table(&format!("Number of fish by age: {first} down, {second} across"), &columns, &rows)
}
