//! A sheet on its way into a survey: what each heading means, which cells are changed, and the table that makes.
//!
//! A plain model. Nothing is written until [`super::sheet_taking`] is asked to, and the sheet itself never is.

use std::collections::{BTreeMap, HashMap};
use std::path::PathBuf;
use std::sync::Arc;

use crate::domain::survey::Survey;
use crate::store::cells::same_heading;
use crate::store::field_sheet::FIELD_COLUMNS;
use crate::store::raw_sheet::{RawRow, RawSheet};
use crate::store::table::{Table, TableRow};

use super::sheet_meaning::{SheetKind, guess};
use super::sheet_radii::RadiiScale;
use super::sheet_scans::KnownScans;

/// A cell that is taken otherwise than it stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CellChange {
    /// What it is taken as.
    pub text: String,
    /// Why, for the note that stays with the row.
    pub why: String,
}

/// A change of the import that is offered with one click.
#[derive(Debug, Clone, PartialEq)]
pub enum Fix {
    /// Gives a column another meaning.
    Meaning(usize, Option<String>),
    /// Takes cells otherwise than they stand: row and column from 0, the text, and why.
    Cells(Vec<(usize, usize, String)>, String),
}

/// A sheet being taken in.
#[derive(Debug, Clone, PartialEq)]
pub struct SheetImport {
    /// The file.
    pub path: PathBuf,
    /// The sheet as it stands.
    pub sheet: Arc<RawSheet>,
    /// What kind of table it is.
    pub kind: SheetKind,
    /// What each column means, in the order of the headings; `None`: left out.
    pub meanings: Vec<Option<String>>,
    /// Cells taken otherwise, by row and column from 0.
    pub changes: BTreeMap<(usize, usize), CellChange>,
    /// How radii were measured.
    pub scale: RadiiScale,
    /// Settings of the survey it goes into; those of a new one where none is open.
    pub survey: Survey,
    /// What is known of the scans of fish, for a sheet that names none.
    pub scans: Arc<KnownScans>,
}

impl SheetImport {
    /// A sheet with its headings matched as far as they tell: as remembered, by the survey's own settings, by name.
    pub fn new(
        path: PathBuf,
        sheet: RawSheet,
        survey: Survey,
        remembered: Option<&HashMap<String, String>>,
        scans: Arc<KnownScans>,
    ) -> Self {
        let mut import = Self {
            path,
            sheet: Arc::new(sheet),
            kind: SheetKind::Field,
            meanings: Vec::new(),
            changes: BTreeMap::new(),
            scale: RadiiScale::default(),
            survey,
            scans,
        };
        import.match_headings(remembered);
        import
    }

    /// Turns to another kind of table and matches the headings anew.
    pub fn set_kind(&mut self, kind: SheetKind) {
        if self.kind != kind {
            self.kind = kind;
            self.changes.clear();
            self.match_headings(None);
        }
    }

    fn match_headings(&mut self, remembered: Option<&HashMap<String, String>>) {
        self.meanings = vec![None; self.sheet.headings.len()];
        let known = self.kind.meanings();
        let headings = self.sheet.headings.clone();
        if let Some(remembered) = remembered {
            for (index, heading) in headings.iter().enumerate() {
                self.mean(
                    index,
                    remembered.get(heading).filter(|one| known.contains(one)).cloned(),
                );
            }
            return;
        }
        if self.kind == SheetKind::Field {
            for (ours, theirs) in self.survey.column_map.clone() {
                let place = headings.iter().position(|heading| same_heading(heading, &theirs));
                if let Some(place) = place.filter(|_| known.contains(&ours)) {
                    self.mean(place, Some(ours));
                }
            }
        }
        // Plain names before what only sounds like one.
        for is_plain in [true, false] {
            for (index, heading) in headings.iter().enumerate() {
                let found = guess(self.kind, heading);
                let is_own = found.as_deref().is_some_and(|name| same_heading(name, heading));
                let is_free = found.as_ref().is_some_and(|one| !self.is_taken(one));
                let is_open = self.meanings.get(index).is_some_and(Option::is_none);
                if is_own == is_plain && is_free && is_open {
                    self.mean(index, found);
                }
            }
        }
    }

    /// Says what a column means. Another column of that meaning is left out: two cannot both be the length.
    pub fn mean(&mut self, column: usize, meaning: Option<String>) {
        if meaning.is_some() {
            for other in &mut self.meanings {
                if *other == meaning {
                    *other = None;
                }
            }
        }
        if let Some(place) = self.meanings.get_mut(column) {
            *place = meaning;
        }
    }

    /// True where one of several columns that say the same in different units, or this very one, is matched.
    fn is_taken(&self, meaning: &str) -> bool {
        let base = |name: &str| name.split('_').next().unwrap_or(name).to_owned();
        let is_measure = |name: &str| {
            ["length", "weight"].contains(&base(name).as_str()) && name != "length_type"
        };
        self.meanings.iter().flatten().any(|taken| {
            taken == meaning
                || (is_measure(taken) && is_measure(meaning) && base(taken) == base(meaning))
        })
    }

    /// Does what was offered.
    pub fn apply(&mut self, fix: &Fix) {
        match fix {
            Fix::Meaning(column, meaning) => self.mean(*column, meaning.clone()),
            Fix::Cells(cells, why) => {
                for (row, column, text) in cells {
                    let change = CellChange { text: text.clone(), why: why.clone() };
                    self.changes.insert((*row, *column), change);
                }
            }
        }
    }

    /// Takes all cells of a column as they stand again.
    pub fn take_back(&mut self, column: usize) {
        self.changes.retain(|(_, of), _| *of != column);
    }

    /// The column with a meaning.
    pub fn column_of(&self, meaning: &str) -> Option<usize> {
        self.meanings.iter().position(|one| one.as_deref() == Some(meaning))
    }

    /// A cell as it will be taken; row and column from 0.
    pub fn text(&self, row: usize, column: usize) -> &str {
        if let Some(change) = self.changes.get(&(row, column)) {
            return &change.text;
        }
        let cell = self.sheet.rows.get(row).and_then(|row| row.cells.get(column));
        cell.map_or("", |cell| cell.text.as_str())
    }

    /// Headings and what they mean, to be remembered.
    pub fn matching(&self) -> HashMap<String, String> {
        let pairs = self.sheet.headings.iter().zip(&self.meanings);
        pairs.filter_map(|(heading, meaning)| Some((heading.clone(), meaning.clone()?))).collect()
    }

    /// Headings as they are written: as they stand, unless one reads like a column it is not.
    pub(super) fn written_headings(&self) -> Vec<String> {
        let pairs = self.sheet.headings.iter().zip(&self.meanings);
        pairs.map(|(heading, meaning)| written_heading(heading, meaning.as_deref())).collect()
    }

    /// Settings of the survey with the headings of this sheet.
    pub fn prepared_survey(&self) -> Survey {
        let mut survey = self.survey.clone();
        let is_ours =
            |name: &str| FIELD_COLUMNS.iter().any(|column| same_heading(column.name, name));
        survey.column_map.retain(|ours, _| !is_ours(ours));
        for (heading, meaning) in self.written_headings().into_iter().zip(&self.meanings) {
            if let Some(meaning) = meaning.as_ref().filter(|one| !same_heading(one, &heading)) {
                survey.column_map.insert(meaning.clone(), heading);
            }
        }
        survey
    }

    /// The table as it would be written, with the rows numbered as in the sheet.
    pub fn table(&self) -> Table {
        let number = |row: &RawRow| row.number;
        let cells = |row: usize| -> Vec<String> {
            (0..self.sheet.headings.len()).map(|column| self.text(row, column).to_owned()).collect()
        };
        let rows = self.sheet.rows.iter().enumerate();
        Table {
            file: self.sheet.name.clone(),
            headings: self.written_headings(),
            rows: rows
                .map(|(row, raw)| TableRow { number: number(raw), cells: cells(row) })
                .collect(),
            problems: self.sheet.problems.clone(),
        }
    }
}

fn written_heading(heading: &str, meaning: Option<&str>) -> String {
    let names = |name: &str| {
        let known = FIELD_COLUMNS.iter().filter(|column| Some(column.name) != meaning);
        known
            .flat_map(|column| std::iter::once(&column.name).chain(column.also))
            .any(|one| same_heading(one, name))
    };
    match meaning {
        _ if !names(heading) => heading.to_owned(),
        Some(meaning) => format!("{heading} (as {meaning})"),
        None => format!("{heading} (left out)"),
    }
}
