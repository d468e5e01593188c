//! `stocking.csv`: a row for each stocking.
//!
//! | column | holds |
//! |---|---|
//! | `water` | text; where empty, the survey's |
//! | `date` | the day, as 2021-05-20, or the year alone; needed |
//! | `species` | text; needed |
//! | `life_stage` | text, such as fry or fingerling |
//! | `number` | number of fish; needed |
//! | `size_mm` | mean length, millimetres; or `size_in`, inches |
//! | `strain` | text |
//! | `mark_given` | text; empty for none |
//! | `percent_marked` | 0 to 100 |

use std::collections::BTreeMap;
use std::path::Path;

use crate::domain::dates::Date;
use crate::domain::stocking::Stocking;
use crate::domain::survey::{LengthUnit, Survey};

use super::cells::{Cells, Column, Need, Numbers};
use super::error::StoreError;
use super::fingerprint::Fingerprint;
use super::sheet::{Sheet, read_sheet};
use super::table_writer::{cell, write_table};

/// Name of the file in the survey folder.
pub const STOCKING_FILE: &str = "stocking.csv";

const COLUMNS: [Column; 10] = [
    Column::new("water", Need::Optional),
    Column::new("date", Need::Always),
    Column::new("species", Need::Always),
    Column::new("life_stage", Need::Optional),
    Column::new("number", Need::Always),
    Column::new("size_mm", Need::Judged),
    Column::new("size_in", Need::Judged),
    Column::new("strain", Need::Optional),
    Column::new("mark_given", Need::Optional),
    Column::new("percent_marked", Need::Optional),
];

/// Reads stockings from the file at `path`, which messages call `name`; `None` where there is none.
///
/// # Errors
/// [`StoreError::Io`] when the file cannot be read; all else is a problem in the result.
pub fn read_stocking(
    path: &Path,
    name: &str,
    survey: &Survey,
) -> Result<Option<Sheet<Stocking>>, StoreError> {
    read_sheet(path, name, &COLUMNS, &BTreeMap::new(), |cells| stocking_from(cells, survey))
}

/// Writes stockings to the file at `path`. `expected` is what was loaded, `None` for a new file.
///
/// # Errors
/// As [`write_table`].
pub fn write_stocking(
    path: &Path,
    stockings: &[Stocking],
    expected: Option<&Fingerprint>,
) -> Result<Fingerprint, StoreError> {
    let headings = [
        "water",
        "date",
        "species",
        "life_stage",
        "number",
        "size_mm",
        "strain",
        "mark_given",
        "percent_marked",
    ];
    let rows = stockings.iter().map(|stocking| {
        [
            stocking.water.clone(),
            stocking.date.map_or(stocking.year.to_string(), |date| date.to_string()),
            stocking.species.clone(),
            stocking.life_stage.clone(),
            stocking.number.to_string(),
            cell(stocking.size.map(|size| size.0)),
            stocking.strain.clone(),
            stocking.mark_given.clone(),
            cell(stocking.percent_marked),
        ]
    });
    write_table(path, &headings, rows, expected)
}

fn stocking_from(cells: &mut Cells<'_>, survey: &Survey) -> Option<Stocking> {
    let when = cells.required_text("date", "a date or a year");
    let is_year = when.len() == 4 && when.bytes().all(|byte| byte.is_ascii_digit());
    let date = if is_year { None } else { cells.date("date") };
    let year = if is_year { cells.whole("date", 1800..=2200) } else { None };
    let species = cells.required_text("species", "a species").to_owned();
    cells.required_text("number", "a number of fish");
    let number = cells.whole("number", 1..=u32::MAX);
    let size_mm = cells.number("size_mm", Numbers::Positive);
    let size_in = cells.number("size_in", Numbers::Positive);
    let percent_marked = cells.number("percent_marked", Numbers::Percent);
    let mark_given = cells.text("mark_given").to_owned();
    if mark_given.is_empty() && percent_marked.is_some_and(|percent| percent > 0.0) {
        cells.error(
            "mark_given",
            "expected the mark, since fish were marked, found an empty cell: fill it in",
        );
    }
    let water = cells.text("water");
    Some(Stocking {
        water: if water.is_empty() { survey.water.clone() } else { water.to_owned() },
        year: date.map(Date::year).or_else(|| i16::try_from(year?).ok())?,
        date,
        species,
        life_stage: cells.text("life_stage").to_owned(),
        number: number?,
        size: size_mm
            .map(|mm| LengthUnit::Millimetre.millimetres_from(mm))
            .or(size_in.map(|inches| LengthUnit::Inch.millimetres_from(inches))),
        strain: cells.text("strain").to_owned(),
        mark_given,
        percent_marked,
        row: cells.row_number(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::reading::Structure;
    use crate::domain::units::Millimetres;

    fn stocking(text: &str) -> (Vec<Stocking>, Vec<String>) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join(STOCKING_FILE);
        std::fs::write(&path, text).unwrap();
        let survey = Survey::new("x", "Maple Hollow Pond", Structure::Scale);
        let sheet = read_stocking(&path, STOCKING_FILE, &survey).unwrap().unwrap();
        (sheet.rows, sheet.problems.iter().map(ToString::to_string).collect())
    }

    #[test]
    fn days_and_years_are_taken() {
        let (rows, told) = stocking(
            "date,species,number,size_in,mark_given,percent_marked\n2021-05-20,walleye,12000,2,left ventral clip,100\n2019,walleye,5000,,,\n",
        );
        assert_eq!(told, Vec::<String>::new());
        assert_eq!(
            (rows[0].year, rows[0].size, rows[0].all_marked()),
            (2021, Some(Millimetres(50.8)), true)
        );
        assert_eq!((rows[1].year, rows[1].date, rows[1].all_marked()), (2019, None, false));
        assert_eq!(rows[1].water, "Maple Hollow Pond");

        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join(STOCKING_FILE);
        write_stocking(&path, &rows, None).unwrap();
        let survey = Survey::new("x", "", Structure::Scale);
        assert_eq!(read_stocking(&path, STOCKING_FILE, &survey).unwrap().unwrap().rows, rows);
    }

    #[test]
    fn each_slip_has_its_message() {
        let headings = "date,species,number,mark_given,percent_marked\n2021,walleye,100,,\n";
        for (bad, column, expected) in [
            ("20/5/2021,walleye,100,,", "date", "write 2021-05-20"),
            (",walleye,100,,", "date", "expected a date or a year"),
            ("2021,,100,,", "species", "expected a species"),
            ("2021,walleye,,,", "number", "expected a number of fish"),
            ("2021,walleye,many,,", "number", "found 'many'"),
            (
                "2021,walleye,100,clip,140",
                "percent_marked",
                "expected a number from 0 to 100, found '140'",
            ),
            ("2021,walleye,100,,50", "mark_given", "expected the mark"),
        ] {
            let (rows, told) = stocking(&format!("{headings}{bad}\n"));
            assert_eq!((rows.len(), told.len()), (1, 1), "{told:?}");
            assert!(
                told[0].starts_with(&format!("error: stocking.csv, row 3, column '{column}': ")),
                "{told:?}"
            );
            assert!(told[0].contains(expected), "{told:?}");
        }
    }
}
