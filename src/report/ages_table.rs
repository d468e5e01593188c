//! Ages of a whole sample as plain text for a terminal, and as comma-separated values.

use std::fmt::Write as _;

use crate::analysis::population::age_length_key::AgeLengthKey;
use crate::analysis::population::catch_curve::CatchCurve;
use crate::analysis::population::catch_per_effort::RateOverRuns;
use crate::analysis::population::composition::Composition;
use crate::analysis::population::study::AgeStudy;
use crate::analysis::population::year_class_strength::YearClassRow;

use super::ages_json::{ASSUMPTIONS, AgesNotes};

/// A key wider than this does not fit a terminal.
const MOST_AGES_SHOWN: usize = 20;

/// The study as plain text: key, composition, mortality, year classes, cautions.
pub fn ages_text(study: &AgeStudy, notes: &AgesNotes) -> String {
    let mut text = String::new();
    let (n, aged) = (study.key.n_sampled(), study.key.n_aged());
    put(&mut text, format_args!("{n} fish measured, {aged} aged\n"));
    key(&mut text, &study.key);
    let rates = study.catch_per_hour.as_ref().map_or(&[][..], |rates| rates.by_age.as_slice());
    composition(&mut text, "Age composition", &study.composition, rates);
    if let Some(rates) = &study.catch_per_hour {
        let all = &rates.all_ages;
        put(&mut text, format_args!("All ages: {} fish an hour", number(all.mean, 2)));
        match all.se {
            Some(se) => {
                put(&mut text, format_args!(" (SE {} over {} runs)\n", number(se, 2), all.n_runs))
            }
            None => put(
                &mut text,
                format_args!(" over {} hours, without error\n", number(rates.hours, 2)),
            ),
        }
    }
    for one in &study.by_sex {
        let title = format!("Sex {}: {} fish", one.sex.word(), one.n);
        match &one.outcome {
            Ok((_, rows)) => composition(&mut text, &title, rows, &[]),
            Err(error) => put(&mut text, format_args!("\n{title}\n  no key: {error}\n")),
        }
    }
    match &study.catch_curve {
        Ok(curve) => mortality(&mut text, curve),
        Err(reason) => put(&mut text, format_args!("\nMortality is withheld: {reason}\n")),
    }
    year_classes(&mut text, &study.year_classes);
    if let Some(assignment) = &study.assignment {
        let n = assignment.ages.len();
        put(
            &mut text,
            format_args!(
                "\n{n} unaged fish were given ages from the key, seed {}\n",
                assignment.seed
            ),
        );
    }
    list(&mut text, "Mind", study.warnings.iter().map(ToString::to_string));
    list(
        &mut text,
        "Left out",
        notes.left_out.iter().map(|(fish, row, reason)| {
            if fish.is_empty() {
                format!("row {row}: {reason}")
            } else {
                format!("{fish} (row {row}): {reason}")
            }
        }),
    );
    list(&mut text, "This holds only if", ASSUMPTIONS.iter().map(ToString::to_string));
    text
}

/// The composition as comma-separated values, one row for each age.
///
/// # Errors
/// What the writer says, which for memory is nothing but a fault of the program.
pub fn ages_csv(study: &AgeStudy) -> Result<String, csv::Error> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record([
        "age",
        "n_aged",
        "n_expected",
        "proportion",
        "se",
        "mean_length_mm",
        "catch_per_hour",
        "catch_per_hour_se",
        "n_runs",
    ])?;
    let rates = study.catch_per_hour.as_ref().map_or(&[][..], |rates| rates.by_age.as_slice());
    let cell = |value: Option<f64>| value.map_or_else(String::new, |value| value.to_string());
    for (at, row) in study.composition.rows.iter().enumerate() {
        let rate = rates.get(at);
        writer.write_record([
            row.age.to_string(),
            row.n_aged.to_string(),
            row.n_expected.to_string(),
            row.proportion.to_string(),
            row.se.to_string(),
            cell(row.mean_length_mm),
            cell(rate.map(|rate| rate.mean)),
            cell(rate.and_then(|rate| rate.se)),
            rate.map_or_else(String::new, |rate| rate.n_runs.to_string()),
        ])?;
    }
    let bytes = writer.into_inner().map_err(|error| csv::Error::from(error.into_error()))?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

fn put(text: &mut String, arguments: std::fmt::Arguments<'_>) {
    // Writing to a String cannot fail.
    let _ = text.write_fmt(arguments);
}

fn number(value: f64, digits: usize) -> String {
    format!("{value:.digits$}")
}

fn optional(value: Option<f64>, digits: usize) -> String {
    value.map_or_else(|| "-".to_owned(), |value| number(value, digits))
}

fn key(text: &mut String, key: &AgeLengthKey) {
    text.push_str("\nAge-length key (share of each age; the lower bound belongs to the group)\n");
    if key.ages.len() > MOST_AGES_SHOWN {
        put(text, format_args!("{} ages: too wide to show here\n", key.ages.len()));
        return;
    }
    put(text, format_args!("{:>16}{:>9}{:>6}", "length", "measured", "aged"));
    for age in &key.ages {
        put(text, format_args!("{age:>6}"));
    }
    text.push('\n');
    let mut gaps = key.gaps.iter().peekable();
    for row in &key.rows {
        while let Some(gap) = gaps.next_if(|gap| **gap < row.first) {
            put(text, format_args!("{:>16}{:>9}\n", key.groups.name(*gap, *gap), "no fish"));
        }
        let aged = if row.is_borrowed() { "lent".to_owned() } else { row.aged().to_string() };
        put(text, format_args!("{:>16}{:>9}{aged:>6}", key.name_of(row), row.sampled));
        for share in row.shares() {
            if share > 0.0 {
                put(text, format_args!("{share:>6.2}"));
            } else {
                put(text, format_args!("{:>6}", "."));
            }
        }
        text.push('\n');
    }
}

fn composition(text: &mut String, title: &str, found: &Composition, rates: &[RateOverRuns]) {
    put(text, format_args!("\n{title}\n"));
    text.push_str("   age   aged  expected   share      se   mean mm");
    text.push_str(if rates.is_empty() { "\n" } else { "   per hour      se\n" });
    for (at, row) in found.rows.iter().enumerate() {
        let mean = optional(row.mean_length_mm, 0);
        put(
            text,
            format_args!(
                "{:>6}{:>7}{:>10.1}{:>8.3}{:>8.3}{mean:>10}",
                row.age, row.n_aged, row.n_expected, row.proportion, row.se
            ),
        );
        if let Some(rate) = rates.get(at) {
            put(text, format_args!("{:>11.2}{:>8}", rate.mean, optional(rate.se, 2)));
        }
        text.push('\n');
    }
}

fn ages_of(ages: &[u32]) -> String {
    match (ages.first(), ages.last()) {
        (Some(first), Some(last)) => format!("ages {first} to {last}"),
        _ => "no ages".to_owned(),
    }
}

fn mortality(text: &mut String, curve: &CatchCurve) {
    text.push_str("\nMortality\n");
    match &curve.chapman_robson {
        None => text.push_str("  Chapman-Robson has no value: too few fish older than the peak\n"),
        Some(found) => {
            put(
                text,
                format_args!(
                    "  Chapman-Robson, {}: S {:.3}, A {:.3}, Z {:.3}; c-hat {}\n",
                    ages_of(&found.ages),
                    found.survival,
                    found.annual_mortality(),
                    found.z,
                    optional(found.c_hat, 2)
                ),
            );
            let inflated = found.inflation().map(|factor| factor * found.z_se);
            put(
                text,
                format_args!(
                    "    SE of Z: binomial {:.3}, inflated by c-hat {}",
                    found.z_se,
                    optional(inflated, 3)
                ),
            );
            match &curve.bootstrap {
                Some(drawn) => put(
                    text,
                    format_args!(
                        ", bootstrap over fish {} (use this one: the numbers come from a key)\n",
                        optional(drawn.z_se, 3)
                    ),
                ),
                None => text.push('\n'),
            }
        }
    }
    match &curve.regression {
        None => text.push_str("  The weighted line needs 3 ages with catch from the peak on\n"),
        Some(line) => put(
            text,
            format_args!(
                "  Weighted line, {}: Z {:.3} (SE {:.3}), A {:.3}\n",
                ages_of(&line.ages),
                line.z,
                line.z_se,
                line.annual_mortality()
            ),
        ),
    }
}

fn year_classes(text: &mut String, rows: &[YearClassRow]) {
    if rows.is_empty() {
        return;
    }
    text.push_str("\nYear classes\n");
    text.push_str("  year class   age       n  by line  residual       t   stocked  strength\n");
    for row in rows {
        let class = row.year_class.map_or_else(|| "-".to_owned(), |class| class.to_string());
        let stocked = row.stocked.map_or_else(|| "-".to_owned(), |number| number.to_string());
        put(
            text,
            format_args!(
                "{class:>12}{:>6}{:>8.1}{:>9}{:>10}{:>8}{stocked:>10}  {}\n",
                row.age,
                row.n,
                optional(row.n_by_line, 1),
                optional(row.residual, 2),
                optional(row.studentised, 2),
                row.strength.word()
            ),
        );
    }
}

fn list(text: &mut String, title: &str, lines: impl Iterator<Item = String>) {
    let mut lines = lines.peekable();
    if lines.peek().is_some() {
        put(text, format_args!("\n{title}\n"));
        lines.for_each(|line| put(text, format_args!("  {line}\n")));
    }
}
