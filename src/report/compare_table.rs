//! Length at age against a standard as plain text and as comma-separated values.

use std::fmt::Write as _;

use super::compare_json::{ComparedAges, ComparedWater};
use crate::domain::reference::LengthBasis;

/// The comparison for a terminal.
pub fn compare_text(waters: &[ComparedWater], basis: LengthBasis, standard: &str) -> String {
    let what = match basis {
        LengthBasis::Capture => "length at capture",
        LengthBasis::Annulus => "back-calculated length at the annulus",
    };
    let mut text = format!("Mean {what} against {standard}\n");
    for water in waters {
        // Writing to a string cannot fail.
        let _ = writeln!(text, "\n{} ({})", water.survey, water.water);
        match (&water.compared, &water.error) {
            (Some(compared), _) => text.push_str(&against_text(compared)),
            (None, Some(error)) => {
                let _ = writeln!(text, "  {error}");
            }
            (None, None) => {}
        }
    }
    text.push_str(
        "\nMind: growth differs with gear, season, sex and the reader; compare waters sampled and read alike.\n",
    );
    text
}

/// One sample against its standard for a terminal.
pub fn against_text(compared: &ComparedAges) -> String {
    let index = &compared.index;
    let mut text = format!("  {} fish", compared.n_fish);
    if !compared.left_out.is_empty() {
        let _ = write!(text, ", {} left out", compared.left_out.len());
    }
    if !compared.months.is_empty() {
        let months: Vec<String> = compared.months.iter().map(u8::to_string).collect();
        let _ = write!(text, ", months {}", months.join(", "));
    }
    text.push_str("\n   age     n   mean mm   standard  percent  percentile       z\n");
    for age in &index.ages {
        let reference = compared.standard.iter().find(|row| row.age == age.age);
        let standing = age.standing.as_ref();
        let percentile =
            standing.and_then(|s| s.percentile).map_or("-".to_owned(), |p| p.to_string());
        let thin =
            if age.is_used || standing.is_none() { "" } else { "  too few fish for the index" };
        let _ = writeln!(
            text,
            "{:>6}{:>6}{:>10.1}{:>11}{:>9}{percentile:>12}{:>8}{thin}",
            age.age,
            age.n,
            age.mean_mm,
            number(reference.map(|row| row.mean.value()), 1),
            number(standing.map(|s| s.percent), 1),
            number(standing.and_then(|s| s.z), 2)
        );
    }
    let range = index
        .ci95_mm
        .map_or_else(String::new, |[low, high]| format!(" (95 % {low:.1} to {high:.1})"));
    let used = index.ages.iter().filter(|age| age.is_used).count();
    let _ = writeln!(
        text,
        "  growth index {} mm{range} over {used} ages of {} fish or more",
        number(index.mean_deviation_mm, 1),
        index.minimum_per_age
    );
    text
}

fn number(value: Option<f64>, decimals: usize) -> String {
    value.map_or("-".to_owned(), |value| format!("{value:.decimals$}"))
}

/// The comparison as CSV, one row for each survey and age.
///
/// # Errors
/// When the text cannot be put together.
pub fn compare_csv(waters: &[ComparedWater], basis: LengthBasis) -> csv::Result<String> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record([
        "survey",
        "water",
        "species",
        "basis",
        "age",
        "n",
        "mean_mm",
        "reference_mm",
        "percent_of_reference",
        "percentile",
        "z",
        "in_index",
        "growth_index_mm",
        "index_low_mm",
        "index_high_mm",
    ])?;
    let cell = |value: Option<f64>| value.map_or_else(String::new, |value| value.to_string());
    for water in waters {
        let Some(compared) = &water.compared else { continue };
        let index = &compared.index;
        for age in &index.ages {
            let reference = compared.standard.iter().find(|row| row.age == age.age);
            let standing = age.standing.as_ref();
            writer.write_record([
                water.survey.clone(),
                water.water.clone(),
                water.species.clone(),
                basis.word().to_owned(),
                age.age.to_string(),
                age.n.to_string(),
                age.mean_mm.to_string(),
                cell(reference.map(|row| row.mean.value())),
                cell(standing.map(|s| s.percent)),
                standing.and_then(|s| s.percentile).map_or_else(String::new, |p| p.to_string()),
                cell(standing.and_then(|s| s.z)),
                age.is_used.to_string(),
                cell(index.mean_deviation_mm),
                cell(index.ci95_mm.map(|limits| limits[0])),
                cell(index.ci95_mm.map(|limits| limits[1])),
            ])?;
        }
    }
    let bytes = writer.into_inner().map_err(|error| error.into_error())?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}
