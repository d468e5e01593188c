//! `effort.csv`: a row for each run of the gear, runs without a catch included.
//!
//! | column | holds |
//! |---|---|
//! | `run` | name of the run, as on the field sheet; needed |
//! | `date` | the day, as 2025-04-03 |
//! | `gear` | text |
//! | `hours` (or `current_hours`) | hours of current on, or of gear in the water; needed |
//! | `shore_m` | length of shore, metres |
//! | `species_sought` | species picked up, several separated by `|` or `;`; empty for all |

use std::collections::{BTreeMap, HashMap};
use std::path::Path;

use crate::domain::dates::Date;
use crate::domain::effort::EffortRun;

use super::cells::{Cells, Column, Need, Numbers};
use super::error::StoreError;
use super::fingerprint::Fingerprint;
use super::sheet::{Sheet, read_sheet, separated};
use super::table_writer::{cell, write_table};

/// Name of the file in the survey folder.
pub const EFFORT_FILE: &str = "effort.csv";

const COLUMNS: [Column; 6] = [
    Column::new("run", Need::Always),
    Column::new("date", Need::Optional),
    Column::new("gear", Need::Optional),
    Column::new("hours", Need::Always).or(&["current_hours"]),
    Column::new("shore_m", Need::Optional).or(&["shore_length_m"]),
    Column::new("species_sought", Need::Optional),
];

/// Reads runs from the file at `path`, which messages call `name`; `None` where there is none.
///
/// # Errors
/// [`StoreError::Io`] when the file cannot be read; all else is a problem in the result.
pub fn read_effort(path: &Path, name: &str) -> Result<Option<Sheet<EffortRun>>, StoreError> {
    let mut row_of: HashMap<(String, Option<Date>), usize> = HashMap::new();
    read_sheet(path, name, &COLUMNS, &BTreeMap::new(), |cells| {
        let run = run_from(cells)?;
        if let Some(first) = row_of.insert((run.run.clone(), run.date), run.row) {
            cells.error(
                "run",
                format!(
                    "expected each run once on a day, found '{}' again (it stands in row {first}): correct or remove one",
                    run.run
                ),
            );
        }
        Some(run)
    })
}

/// Writes runs to the file at `path`. `expected` is what was loaded, `None` for a new file.
///
/// # Errors
/// As [`write_table`].
pub fn write_effort(
    path: &Path,
    runs: &[EffortRun],
    expected: Option<&Fingerprint>,
) -> Result<Fingerprint, StoreError> {
    let headings = ["run", "date", "gear", "hours", "shore_m", "species_sought"];
    let rows = runs.iter().map(|run| {
        [
            run.run.clone(),
            cell(run.date),
            run.gear.clone(),
            run.hours.to_string(),
            cell(run.shore_m),
            run.species_sought.join(" | "),
        ]
    });
    write_table(path, &headings, rows, expected)
}

fn run_from(cells: &mut Cells<'_>) -> Option<EffortRun> {
    let run = cells.required_text("run", "the name of a run").to_owned();
    let date = cells.date("date");
    let hours = cells.required_number("hours", Numbers::Positive);
    let shore_m = cells.number("shore_m", Numbers::Positive);
    Some(EffortRun {
        run,
        date,
        gear: cells.text("gear").to_owned(),
        hours: hours?,
        shore_m,
        species_sought: separated(cells.text("species_sought")),
        row: cells.row_number(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn effort(text: &str) -> (Vec<EffortRun>, Vec<String>) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join(EFFORT_FILE);
        std::fs::write(&path, text).unwrap();
        let sheet = read_effort(&path, EFFORT_FILE).unwrap().unwrap();
        (sheet.rows, sheet.problems.iter().map(ToString::to_string).collect())
    }

    #[test]
    fn runs_are_read_with_and_without_a_catch() {
        let (runs, told) = effort(
            "Run;Date;Gear;Hours;Shore_m;Species sought\n1;2025-04-03;boat;0.5;800;walleye | yellow perch\n2;2025-04-03;boat;0.25;;\n",
        );
        assert_eq!(told, Vec::<String>::new());
        assert_eq!(runs.len(), 2);
        assert_eq!(runs[0].species_sought, ["walleye", "yellow perch"]);
        assert_eq!((runs[1].hours, runs[1].shore_m, runs[1].row), (0.25, None, 3));

        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join(EFFORT_FILE);
        write_effort(&path, &runs, None).unwrap();
        assert_eq!(read_effort(&path, EFFORT_FILE).unwrap().unwrap().rows, runs);
    }

    #[test]
    fn each_slip_has_its_message() {
        let headings = "run,date,gear,hours,shore_m,species_sought\n1,2025-04-03,boat,0.5,800,\n";
        for (bad, column, expected) in [
            ("2,2025-04-03,boat,0,,", "hours", "expected a number above 0, found '0'"),
            ("2,2025-04-03,boat,,,", "hours", "expected a number above 0, found an empty cell"),
            ("2,2025-04-31,boat,1,,", "date", "no such day"),
            (",2025-04-03,boat,1,,", "run", "expected the name of a run"),
            ("2,2025-04-03,boat,1,-4,", "shore_m", "found '-4'"),
            ("1,2025-04-03,boat,1,,", "run", "it stands in row 2"),
        ] {
            let (runs, told) = effort(&format!("{headings}{bad}\n"));
            assert_eq!((runs.len(), told.len()), (1, 1), "{told:?}");
            assert!(
                told[0].starts_with(&format!("error: effort.csv, row 3, column '{column}': ")),
                "{told:?}"
            );
            assert!(told[0].contains(expected), "{told:?}");
        }
        let (_, told) = effort("run,hour\n");
        assert!(told[0].contains("rename the column 'hour'"), "{told:?}");
    }

    #[test]
    fn no_file_is_no_problem() {
        let folder = tempfile::tempdir().unwrap();
        assert_eq!(read_effort(&folder.path().join(EFFORT_FILE), EFFORT_FILE).unwrap(), None);
    }
}
