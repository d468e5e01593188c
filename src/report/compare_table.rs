//! Length at age against a standard as plain text and as comma-separated values.

use std::fmt::Write as _;

use super::compare_json::{ComparedAges, ComparedWater, Comparison, RankedWater};
use crate::analysis::numerics::p_words;
use crate::domain::fish::Sex;
use crate::domain::reference::{LengthBasis, ReferenceLength};

/// Surveys up to which each has its own table on a terminal.
const MOST_TABLES: usize = 20;

/// The comparison for a terminal; of a single water with its years where one is named.
pub fn compare_text(comparison: &Comparison, is_one_water: bool) -> String {
    let what = match comparison.basis {
        LengthBasis::Capture => "length at capture",
        LengthBasis::Annulus => "back-calculated length at the annulus",
    };
    let mut text = format!("Mean {what} against {}\n", comparison.standard);
    if comparison.surveys.len() <= MOST_TABLES {
        comparison.surveys.iter().for_each(|survey| text.push_str(&survey_text(survey)));
    } else {
        // Writing to a string cannot fail.
        let _ = writeln!(
            text,
            "\n{} surveys; for those of one water use --water NAME, for all --csv or --json",
            comparison.surveys.len()
        );
    }
    if is_one_water {
        comparison.waters.iter().for_each(|water| text.push_str(&years_text(water)));
    }
    if is_one_water || comparison.waters.len() > 1 {
        text.push_str(&ranking_text(&comparison.waters));
    }
    text.push_str(&standard_text(&comparison.standard_ages));
    text.push_str(
        "\nMind: growth differs with gear, season, sex and the reader; compare waters sampled and read alike.\n",
    );
    text
}

fn survey_text(survey: &ComparedWater) -> String {
    let mut text = format!("\n{} ({})\n", survey.survey, survey.water);
    match (&survey.compared, &survey.error) {
        (Some(compared), _) => {
            let n_left_out = survey.left_out_by_reason.iter().map(|(_, n)| n).sum();
            text.push_str(&against_counted(compared, n_left_out));
        }
        (None, Some(error)) => {
            let _ = writeln!(text, "  {error}");
        }
        (None, None) => {}
    }
    text
}

fn ranking_text(waters: &[RankedWater]) -> String {
    let mut text = "\nWaters by growth\n  rank  water                    surveys    fish  index mm             95 %  overlaps  mm a year\n".to_owned();
    for water in waters {
        let index = &water.compared.index;
        let _ = writeln!(
            text,
            "{:>6}  {:<24}{:>8}{:>8}{:>10}{:>17}{:>10}{:>11}",
            water.rank.map_or("-".to_owned(), |rank| rank.to_string()),
            water.water,
            water.surveys.len(),
            water.compared.n_fish,
            number(index.mean_deviation_mm, 1),
            limits(index.ci95_mm),
            water.n_overlapping.map_or("-".to_owned(), |n| n.to_string()),
            number(water.trend.map(|trend| trend.slope_mm_per_year), 1)
        );
    }
    text.push_str(
        "  overlaps: other waters whose intervals overlap, so that the order among them may be chance\n",
    );
    text
}

fn years_text(water: &RankedWater) -> String {
    let mut text = format!(
        "\n{} by year of capture\n  year    fish  index mm             95 %\n",
        water.water
    );
    for year in &water.years {
        let _ = writeln!(
            text,
            "{:>6}{:>8}{:>10}{:>17}",
            year.year,
            year.n_fish,
            number(year.index_mm, 1),
            limits(year.ci95_mm)
        );
    }
    match &water.trend {
        Some(trend) => {
            let [low, high] = trend.ci95;
            let p = trend.p.map(|p| format!(", {}", p_words(p))).unwrap_or_default();
            let _ = writeln!(
                text,
                "  {:+.1} mm a year against the standard (95 % {low:.1} to {high:.1}{p}); a line through the years, no cause",
                trend.slope_mm_per_year
            );
        }
        None => text.push_str("  no trend: it needs three years with enough fish\n"),
    }
    text
}

fn standard_text(ages: &[ReferenceLength]) -> String {
    let Some(first) = ages.first() else { return String::new() };
    let of_sex: Vec<&ReferenceLength> = ages.iter().filter(|age| age.sex == first.sex).collect();
    let sex = match first.sex {
        Sex::Unknown => "both sexes",
        sex => sex.word(),
    };
    let mut text = format!(
        "\nThe standard all waters make ({}, {sex}; no water left out)\n   age  waters   mean mm      sd     p10     p25     p50     p75     p90\n",
        first.species
    );
    for age in of_sex {
        let at = |percent: f64| {
            let found = age.percentiles.iter().find(|(known, _)| *known == percent);
            number(found.map(|(_, length)| length.value()), 1)
        };
        let _ = writeln!(
            text,
            "{:>6}{:>8}{:>10.1}{:>8}{:>8}{:>8}{:>8}{:>8}{:>8}",
            age.age,
            age.n.unwrap_or_default(),
            age.mean.value(),
            number(age.sd.map(|sd| sd.value()), 1),
            at(10.0),
            at(25.0),
            at(50.0),
            at(75.0),
            at(90.0)
        );
    }
    text
}

fn limits(ci95: Option<[f64; 2]>) -> String {
    ci95.map_or("-".to_owned(), |[low, high]| format!("{low:.1} to {high:.1}"))
}

/// One sample against its standard for a terminal.
pub fn against_text(compared: &ComparedAges) -> String {
    against_counted(compared, compared.left_out.len())
}

fn against_counted(compared: &ComparedAges, n_left_out: usize) -> String {
    let index = &compared.index;
    let mut text = format!("  {} fish", compared.n_fish);
    if n_left_out > 0 {
        let _ = write!(text, ", {n_left_out} left out");
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
