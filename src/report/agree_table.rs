//! Agreement of readers as plain text for a terminal.

use std::fmt::Write as _;

use crate::analysis::agreement::bias::BiasRow;
use crate::analysis::agreement::comparison::{Comparison, PairComparison, Settings};
use crate::analysis::agreement::kappa::KappaWeights;
use crate::analysis::agreement::matrix::AgeMatrix;
use crate::analysis::agreement::precision::{MeanAgeZero, Precision};
use crate::analysis::agreement::verdict::{Verdict, p_text};

/// A table of agreement wider than this does not fit a terminal.
const MOST_AGES_SHOWN: usize = 24;

/// The comparison as plain text: precision over the set, then each pair with its tables, then what follows.
pub fn agree_text(comparison: &Comparison) -> String {
    let mut text = String::new();
    if comparison.readers.len() > 2 {
        put(&mut text, format_args!("Readers {}\n", comparison.readers.join(", ")));
        fish(&mut text, comparison.precision.n, comparison.left_out);
        precision(&mut text, &comparison.precision, comparison.settings);
        verdict(&mut text, &comparison.verdict);
    }
    for pair in &comparison.pairs {
        if !text.is_empty() {
            text.push('\n');
        }
        pair_text(&mut text, pair, comparison.settings);
    }
    text
}

fn pair_text(text: &mut String, pair: &PairComparison, settings: Settings) {
    let [first, second] = &pair.readers;
    put(text, format_args!("{first} and {second}\n"));
    fish(text, pair.precision.n, pair.left_out);
    precision(text, &pair.precision, settings);
    if let Some(table) = &pair.matrix {
        matrix(text, table, &pair.readers);
    }
    bias(text, first, second, &pair.bias_on_first);
    bias(text, second, first, &pair.bias_on_second);
    tests(text, pair);
    verdict(text, &pair.verdict);
}

fn fish(text: &mut String, n: u64, left_out: usize) {
    put(text, format_args!("{n} fish read by all"));
    if left_out > 0 {
        put(text, format_args!("; {left_out} left out for want of a reading"));
    }
    text.push('\n');
}

fn precision(text: &mut String, precision: &Precision, settings: Settings) {
    let percent =
        |value: Option<f64>| value.map_or("-".to_owned(), |value| format!("{value:.1} %"));
    put(
        text,
        format_args!(
            "Agreement: exact {}, within 1 year {}, within 2 years {}\n",
            percent(precision.exact),
            percent(precision.within_1),
            percent(precision.within_2)
        ),
    );
    let errors = precision.percent_errors(settings.mean_age_zero);
    let number = |value: Option<f64>| value.map_or("-".to_owned(), |value| format!("{value:.2} %"));
    put(
        text,
        format_args!(
            "Average percent error {}, mean CV {}, mean D {}\n",
            number(errors.average_percent_error),
            number(errors.mean_cv),
            number(errors.mean_d)
        ),
    );
    if precision.n_mean_age_zero > 0 {
        let way = match settings.mean_age_zero {
            MeanAgeZero::Zero => "count as 0 in these three",
            MeanAgeZero::LeftOut => "are left out of these three",
        };
        put(text, format_args!("{} fish of mean age 0 {way}\n", precision.n_mean_age_zero));
    }
}

fn matrix(text: &mut String, matrix: &AgeMatrix, [first, second]: &[String; 2]) {
    put(text, format_args!("\nAges by {first} (down) and {second} (across)\n"));
    if matrix.size() > MOST_AGES_SHOWN {
        put(text, format_args!("{} ages: too wide to show here\n", matrix.size()));
        return;
    }
    let widest = matrix.cells().map(|(_, _, count)| count).max().unwrap_or(0);
    let width = widest.to_string().len().max(3) + 1;
    text.push_str("     ");
    for age in matrix.ages() {
        put(text, format_args!("{age:>width$}"));
    }
    text.push('\n');
    for (row, age) in matrix.rows().zip(matrix.ages()) {
        put(text, format_args!("{age:>5}"));
        for count in row {
            if *count == 0 {
                put(text, format_args!("{:>width$}", "."));
            } else {
                put(text, format_args!("{count:>width$}"));
            }
        }
        text.push('\n');
    }
}

fn bias(text: &mut String, reference: &str, reader: &str, rows: &[BiasRow]) {
    put(text, format_args!("\nMean age by {reader} of the fish that {reference} called\n"));
    text.push_str("  age     n    mean      sd   95 % interval        p   p (Holm)\n");
    let cell = |value: Option<f64>| value.map_or("-".to_owned(), |value| format!("{value:.2}"));
    let chance = |value: Option<f64>| match value {
        Some(p) if p < 0.001 => "<0.001".to_owned(),
        Some(p) => format!("{p:.3}"),
        None => "-".to_owned(),
    };
    for row in rows {
        let interval =
            row.ci95.map_or("-".to_owned(), |[low, high]| format!("{low:.2} to {high:.2}"));
        put(
            text,
            format_args!(
                "{:>5}{:>6}{:>8.2}{:>8}{:>16}{:>9}{:>11}\n",
                row.age,
                row.n,
                row.mean,
                cell(row.sd),
                interval,
                chance(row.p),
                chance(row.p_holm)
            ),
        );
    }
}

fn tests(text: &mut String, pair: &PairComparison) {
    text.push_str("\nSymmetry\n");
    for result in &pair.symmetry {
        put(
            text,
            format_args!(
                "  {:<16}chi-square {:.2}, {} df, {}",
                result.test.title(),
                result.chi2,
                result.df,
                p_text(result.p)
            ),
        );
        if let Some(p) = result.p_exact {
            put(text, format_args!("; exact {}", p_text(Some(p))));
        }
        if let Some(simulated) = result.simulated {
            let p = p_text(Some(simulated.p));
            put(
                text,
                format_args!(
                    "; simulated {p} ({} draws, seed {})",
                    simulated.draws, simulated.seed
                ),
            );
        }
        text.push('\n');
    }
    if let Some(difference) = &pair.difference {
        let [first, second] = &pair.readers;
        put(
            text,
            format_args!(
                "Mean difference {second} minus {first}: {:.3} years, paired t {}\n",
                difference.mean,
                p_text(difference.p)
            ),
        );
    }
    for (weights, kappa) in KappaWeights::ALL.iter().zip(&pair.kappa) {
        match kappa {
            Some(kappa) => {
                let [low, high] = kappa.ci95;
                put(
                    text,
                    format_args!(
                        "Kappa {}: {:.3} (95 % {low:.3} to {high:.3})\n",
                        weights.word(),
                        kappa.estimate
                    ),
                );
            }
            None => put(text, format_args!("Kappa {}: no value\n", weights.word())),
        }
    }
    if let Some(limits) = &pair.limits {
        put(
            text,
            format_args!("Limits of agreement: {:.2} to {:.2} years\n", limits.lower, limits.upper),
        );
    }
}

fn verdict(text: &mut String, verdict: &Verdict) {
    text.push_str("\nWhat the numbers say\n");
    for statement in &verdict.statements {
        put(text, format_args!("  {} [{}", statement.text, statement.basis.words()));
        if !statement.source.is_empty() {
            put(text, format_args!(": {}", statement.source));
        }
        text.push_str("]\n");
    }
    text.push_str("Next\n");
    for step in &verdict.next {
        put(text, format_args!("  {step}\n"));
    }
    text.push_str("Mind\n");
    for caution in &verdict.cautions {
        put(text, format_args!("  {caution}\n"));
    }
}

fn put(text: &mut String, arguments: std::fmt::Arguments<'_>) {
    // Writing to a string cannot fail.
    let _ = text.write_fmt(arguments);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::agreement::comparison::compare;
    use crate::analysis::agreement::readings::ReaderAges;

    fn text(columns: Vec<Vec<Option<u32>>>) -> String {
        let names = ["kb", "rt", "mo"].iter().take(columns.len()).map(|name| (*name).to_owned());
        let ages = ReaderAges::new(names.collect(), columns).unwrap();
        agree_text(&compare(&ages, Settings::default()))
    }

    #[test]
    fn two_readers_get_one_block() {
        let found = text(vec![
            vec![Some(1), Some(2), Some(3), Some(3), None, Some(0)],
            vec![Some(1), Some(3), Some(3), Some(2), Some(4), Some(0)],
        ]);
        for expected in [
            "kb and rt\n5 fish read by all; 1 left out for want of a reading\n",
            "exact 60.0 %, within 1 year 100.0 %",
            "1 fish of mean age 0 count as 0",
            "    3   .   .   1   1\n",
            "Mean age by rt of the fish that kb called",
            "Mean age by kb of the fish that rt called",
            "agreement is precision, not accuracy",
        ] {
            assert!(found.contains(expected), "{expected}\n{found}");
        }
        assert!(found.lines().all(|line| line.trim_end() == line));
    }

    #[test]
    fn three_readers_get_the_set_and_each_pair() {
        let column = |ages: [u32; 4]| ages.map(Some).to_vec();
        let found = text(vec![column([1, 2, 3, 3]), column([1, 3, 3, 2]), column([1, 2, 4, 3])]);
        assert!(found.starts_with("Readers kb, rt, mo\n4 fish"));
        for pair in ["\nkb and rt\n", "\nkb and mo\n", "\nrt and mo\n"] {
            assert_eq!(found.matches(pair).count(), 1, "{pair}");
        }
    }

    #[test]
    fn without_fish_the_text_still_reads() {
        assert!(text(vec![vec![None], vec![Some(3)]]).contains("0 fish read by all; 1 left out"));
    }
}
