//! `reference.csv`: the regional standard, a row for each species, sex, age and basis.
//!
//! | column | holds |
//! |---|---|
//! | `species` | text; needed |
//! | `sex` | female, male, or empty for both together |
//! | `age` | whole years, or the number of the annulus; needed |
//! | `basis` | `capture` (length at capture) or `annulus` (back-calculated length); needed |
//! | `months` | months of capture, as `4 to 6` or `9` |
//! | `length_type` | total, fork, standard |
//! | `structure` | scale, otolith, ... |
//! | `mean_mm` (or `mean_in`) | mean length; needed |
//! | `sd_mm` (or `sd_in`) | standard deviation |
//! | `n` | number of fish or waters |
//! | `p10_mm`, `p25_mm`, ... (or `p10_in`, ...) | percentiles |
//! | `source` | where it was published |

use std::collections::{BTreeMap, HashMap};
use std::path::Path;

use crate::domain::fish::{LengthType, Sex};
use crate::domain::reading::Structure;
use crate::domain::reference::{LengthBasis, ReferenceLength};
use crate::domain::survey::LengthUnit;
use crate::domain::units::Millimetres;

use super::cells::{Cells, Column, Columns, Need, Numbers, missing_column};
use super::error::StoreError;
use super::fingerprint::Fingerprint;
use super::problem::Problem;
use super::sheet::{Sheet, sheet_from};
use super::table::{Table, read_table};
use super::table_writer::{cell, write_table};

/// Name of the file in the survey folder.
pub const REFERENCE_FILE: &str = "reference.csv";

const COLUMNS: [Column; 13] = [
    Column::new("species", Need::Always),
    Column::new("sex", Need::Optional),
    Column::new("age", Need::Always),
    Column::new("basis", Need::Always),
    Column::new("months", Need::Optional),
    Column::new("length_type", Need::Optional),
    Column::new("structure", Need::Optional),
    Column::new("mean_mm", Need::Judged),
    Column::new("mean_in", Need::Judged),
    Column::new("sd_mm", Need::Judged),
    Column::new("sd_in", Need::Judged),
    Column::new("n", Need::Optional),
    Column::new("source", Need::Optional),
];

/// Reads a standard from the file at `path`, which messages call `name`; `None` where there is none.
///
/// # Errors
/// [`StoreError::Io`] when the file cannot be read; all else is a problem in the result.
pub fn read_reference(
    path: &Path,
    name: &str,
) -> Result<Option<Sheet<ReferenceLength>>, StoreError> {
    match read_table(path, name) {
        Ok(table) => Ok(table.map(reference_from)),
        Err(StoreError::BadTable(problem)) => {
            Ok(Some(Sheet { rows: Vec::new(), problems: vec![problem] }))
        }
        Err(error) => Err(error),
    }
}

/// Writes a standard to the file at `path`, in millimetres. `expected` is what was loaded, `None` for a new file.
///
/// # Errors
/// As [`write_table`].
pub fn write_reference(
    path: &Path,
    lengths: &[ReferenceLength],
    expected: Option<&Fingerprint>,
) -> Result<Fingerprint, StoreError> {
    let mut percents: Vec<f64> = lengths
        .iter()
        .flat_map(|length| &length.percentiles)
        .map(|(percent, _)| *percent)
        .collect();
    percents.sort_by(f64::total_cmp);
    percents.dedup();
    let percentile_headings: Vec<String> = percents.iter().map(|p| format!("p{p}_mm")).collect();
    let mut headings = vec![
        "species",
        "sex",
        "age",
        "basis",
        "months",
        "length_type",
        "structure",
        "mean_mm",
        "sd_mm",
        "n",
        "source",
    ];
    headings.extend(percentile_headings.iter().map(String::as_str));
    let rows = lengths.iter().map(|length| cells_of(length, &percents));
    write_table(path, &headings, rows, expected)
}

fn cells_of(length: &ReferenceLength, percents: &[f64]) -> Vec<String> {
    let months = match length.months.as_slice() {
        [] => String::new(),
        [only] => only.to_string(),
        [first, .., last] => format!("{first} to {last}"),
    };
    let mut cells = vec![
        length.species.clone(),
        if length.sex == Sex::Unknown { String::new() } else { length.sex.word().to_owned() },
        length.age.to_string(),
        length.basis.word().to_owned(),
        months,
        length.length_type.word().to_owned(),
        length.structure.map(|structure| structure.word().to_owned()).unwrap_or_default(),
        length.mean.0.to_string(),
        cell(length.sd.map(|sd| sd.0)),
        cell(length.n),
        length.source.clone(),
    ];
    cells.extend(percents.iter().map(|wanted| {
        let found = length.percentiles.iter().find(|(percent, _)| percent == wanted);
        cell(found.map(|(_, length)| length.0))
    }));
    cells
}

/// A column of percentiles: its heading, the percent, and the unit.
type Percentile = (String, f64, LengthUnit);

fn reference_from(mut table: Table) -> Sheet<ReferenceLength> {
    let mut columns = Columns::find(&mut table, &COLUMNS, &BTreeMap::new());
    if !columns.has("mean_mm") && !columns.has("mean_in") {
        let problem = missing_column(&table, "mean_mm", "mean_mm", &COLUMNS);
        table.problems.push(problem);
        columns.set_incomplete();
    }
    let percentiles = percentile_columns(&table);
    let twins = twin_percentiles(&table.file, &percentiles);
    if !twins.is_empty() {
        table.problems.extend(twins);
        columns.set_incomplete();
    }
    for (heading, ..) in &percentiles {
        columns.add(&table, heading);
    }
    let mut row_of: HashMap<String, usize> = HashMap::new();
    sheet_from(table, &columns, |cells| {
        let length = length_from(cells, &percentiles)?;
        let place = format!(
            "{:?}",
            (
                length.species.to_lowercase(),
                length.sex,
                length.age,
                length.basis,
                &length.months,
                length.length_type,
                length.structure,
                &length.source,
            )
        );
        if let Some(first) = row_of.insert(place, length.row) {
            cells.error(
                "age",
                format!(
                    "expected each age once for a species, sex, basis and season, found age {} again (it stands in row \
                     {first}): correct or remove one",
                    length.age
                ),
            );
        }
        Some(length)
    })
}

fn length_from(cells: &mut Cells<'_>, percentiles: &[Percentile]) -> Option<ReferenceLength> {
    let species = cells.required_text("species", "a species").to_owned();
    cells.required_text("age", "a whole number");
    let age = cells.whole("age", 0..=200);
    cells.required_text("basis", "capture or annulus");
    let basis = cells.word("basis", "capture or annulus", LengthBasis::from_word);
    let sex = cells.word("sex", "female, male or nothing", Sex::from_word).unwrap_or_default();
    let length_type = cells
        .word("length_type", "total, fork or standard", LengthType::from_word)
        .unwrap_or_default();
    let structure =
        cells.word("structure", "scale, otolith or another structure", Structure::from_word);
    let mean = in_either_unit(cells, "mean_mm", "mean_in");
    let has_mean_cell = !cells.text("mean_mm").is_empty() || !cells.text("mean_in").is_empty();
    if !has_mean_cell {
        cells.error("mean_mm", "expected a mean length, found an empty cell: fill it in");
    }
    let sd = in_either_unit(cells, "sd_mm", "sd_in");
    let months = months_from(cells);
    Some(ReferenceLength {
        n: cells.whole("n", 1..=u32::MAX),
        percentiles: percentiles_from(cells, percentiles),
        source: cells.text("source").to_owned(),
        row: cells.row_number(),
        age: age?,
        basis: basis?,
        mean: mean?,
        species,
        sex,
        months,
        length_type,
        structure,
        sd,
    })
}

fn in_either_unit(cells: &mut Cells<'_>, mm: &str, inches: &str) -> Option<Millimetres> {
    let in_mm = cells.number(mm, Numbers::Positive).map(Millimetres);
    let in_inches = cells.number(inches, Numbers::Positive);
    in_mm.or(in_inches.map(|value| LengthUnit::Inch.millimetres_from(value)))
}

fn months_from(cells: &mut Cells<'_>) -> Vec<u8> {
    let text = cells.text("months");
    if text.is_empty() {
        return Vec::new();
    }
    let month =
        |text: &str| text.trim().parse::<u8>().ok().filter(|month| (1..=12).contains(month));
    let bounds = match text.split_once("to") {
        Some((first, last)) => month(first).zip(month(last)),
        None => month(text).map(|only| (only, only)),
    };
    let Some((first, last)) = bounds else {
        cells.error(
            "months",
            format!("expected a month or two, as 9 or 4 to 6, found '{text}': write numbers from 1 to 12"),
        );
        return Vec::new();
    };
    // A season may run over New Year.
    let n_months = (last + 12 - first) % 12 + 1;
    (0..n_months).map(|step| (first - 1 + step) % 12 + 1).collect()
}

fn percentile_columns(table: &Table) -> Vec<Percentile> {
    let mut found: Vec<Percentile> =
        table.headings.iter().filter_map(|h| percentile_of(h)).collect();
    found.sort_by(|a, b| a.1.total_cmp(&b.1));
    found
}

/// Two columns of one percentile, as p25_mm and p25_in, leave no way to say which counts.
fn twin_percentiles(file: &str, sorted: &[Percentile]) -> Vec<Problem> {
    let pairs = sorted.iter().zip(sorted.iter().skip(1));
    let twins = pairs.filter(|(before, after)| before.1 == after.1);
    twins
        .map(|(before, after)| {
            let message = format!(
                "expected each percentile once, found '{}' and '{}': remove one of the two columns",
                before.0, after.0
            );
            Problem::error(file, message).at_row(1).in_column(&after.0)
        })
        .collect()
}

fn percentile_of(heading: &str) -> Option<Percentile> {
    let lower = heading.to_lowercase();
    let rest = lower.strip_prefix('p')?;
    let (percent, unit) = if let Some(percent) = rest.strip_suffix("_in") {
        (percent, LengthUnit::Inch)
    } else {
        (rest.strip_suffix("_mm").unwrap_or(rest), LengthUnit::Millimetre)
    };
    let percent: f64 = percent.parse().ok()?;
    (percent > 0.0 && percent < 100.0).then(|| (heading.to_owned(), percent, unit))
}

fn percentiles_from(cells: &mut Cells<'_>, columns: &[Percentile]) -> Vec<(f64, Millimetres)> {
    let mut found: Vec<(f64, Millimetres)> = Vec::new();
    for (heading, percent, unit) in columns {
        let Some(value) = cells.number(heading, Numbers::Positive) else { continue };
        let length = unit.millimetres_from(value);
        if found.last().is_some_and(|(_, before)| length < *before) {
            cells.error(
                heading,
                format!("expected a length no shorter than that of the percentile before, found '{value}': correct one"),
            );
        }
        found.push((*percent, length));
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn reference(text: &str) -> (Vec<ReferenceLength>, Vec<String>) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join(REFERENCE_FILE);
        std::fs::write(&path, text).unwrap();
        let sheet = read_reference(&path, REFERENCE_FILE).unwrap().unwrap();
        (sheet.rows, sheet.problems.iter().map(ToString::to_string).collect())
    }

    #[test]
    fn rows_are_read_with_seasons_and_percentiles() {
        let (rows, told) = reference(
            "species,sex,age,basis,months,length_type,structure,mean_in,sd_in,n,p75_in,p25_in,source\n\
             walleye,F,3,capture,11 to 2,total,otolith,15,1,40,16,14,invented\n",
        );
        assert_eq!(told, Vec::<String>::new());
        let row = &rows[0];
        assert_eq!((row.mean, row.sd), (Millimetres(381.0), Some(Millimetres(25.4))));
        assert_eq!(row.months, [11, 12, 1, 2]);
        assert_eq!(
            row.percentiles,
            [(25.0, Millimetres(14.0 * 25.4)), (75.0, Millimetres(16.0 * 25.4))]
        );
        assert_eq!((row.basis, row.structure), (LengthBasis::Capture, Some(Structure::Otolith)));

        let mut bare = row.clone();
        bare.percentiles = vec![(2.5, Millimetres(300.1))];
        (bare.months, bare.sd, bare.n, bare.age) = (vec![9], None, None, 4);
        bare.row = 3;
        let written = vec![row.clone(), bare];
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join(REFERENCE_FILE);
        write_reference(&path, &written, None).unwrap();
        assert_eq!(read_reference(&path, REFERENCE_FILE).unwrap().unwrap().rows, written);
    }

    #[test]
    fn each_slip_has_its_message() {
        let headings =
            "species,age,basis,months,mean_mm,sd_mm,p25,p75\nwalleye,3,annulus,,381,,,\n";
        for (bad, column, expected) in [
            ("walleye,3,annulus,,380,,,", "age", "it stands in row 2"),
            ("walleye,x,annulus,,381,,,", "age", "found 'x'"),
            ("walleye,4,both,,381,,,", "basis", "expected capture or annulus, found 'both'"),
            ("walleye,4,,,381,,,", "basis", "expected capture or annulus, found an empty cell"),
            ("walleye,4,annulus,spring,381,,,", "months", "as 9 or 4 to 6, found 'spring'"),
            ("walleye,4,annulus,0 to 6,381,,,", "months", "found '0 to 6'"),
            ("walleye,4,annulus,,,,,", "mean_mm", "expected a mean length"),
            ("walleye,4,annulus,,381,-1,,", "sd_mm", "found '-1'"),
            ("walleye,4,annulus,,381,,390,380", "p75", "no shorter"),
        ] {
            let (rows, told) = reference(&format!("{headings}{bad}\n"));
            assert_eq!((rows.len(), told.len()), (1, 1), "{told:?}");
            assert!(
                told[0].starts_with(&format!("error: reference.csv, row 3, column '{column}': ")),
                "{told:?}"
            );
            assert!(told[0].contains(expected), "{told:?}");
        }
        let (rows, told) =
            reference("species,age,basis,mean_mm,p25_mm,p25_in\nwalleye,3,annulus,381,300,11.8\n");
        assert_eq!((rows.len(), told.len()), (0, 1), "{told:?}");
        assert!(told[0].contains("found 'p25_mm' and 'p25_in'"), "{told:?}");
        let (_, told) = reference("species,age,basis,mean\nwalleye,3,annulus,381\n");
        assert_eq!(told.len(), 1, "{told:?}");
        assert!(told[0].contains("expected a column 'mean_mm'"), "{told:?}");
    }
}
