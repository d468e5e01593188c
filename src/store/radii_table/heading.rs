//! Which column holds what.

use std::collections::HashSet;

use csv::StringRecord;

use super::RadiiTableError;

/// Columns found by heading.
pub(super) struct Headings {
    pub(super) fish: usize,
    pub(super) length: usize,
    pub(super) radius: usize,
    /// Column of annulus 1, 2 and so on.
    pub(super) annuli: Vec<usize>,
    pub(super) species: Option<usize>,
    pub(super) sex: Option<usize>,
    pub(super) water: Option<usize>,
    pub(super) capture_date: Option<usize>,
    pub(super) year_class: Option<usize>,
    unused: Vec<String>,
    count: usize,
}

impl Headings {
    pub(super) fn read(record: &StringRecord) -> Result<Self, RadiiTableError> {
        let names: Vec<String> =
            record.iter().map(|name| name.trim().to_ascii_lowercase()).collect();
        if let Some(column) = repeated(&names) {
            return Err(RadiiTableError::RepeatedColumn { column: column.clone() });
        }
        let find = |name: &str| names.iter().position(|found| found == name);
        let required = |name: &str| {
            find(name).ok_or_else(|| RadiiTableError::MissingColumn {
                column: name.to_owned(),
                found: names.join(", "),
            })
        };
        let highest = names.iter().filter_map(|name| annulus_number(name)).max().unwrap_or(1);
        // A gap in the numbers would move every later annulus by a year.
        let annuli = (1..=highest)
            .map(|annulus| required(&format!("a{annulus}_um")))
            .collect::<Result<Vec<_>, _>>()?;
        let known = [
            "fish",
            "length_mm",
            "radius_um",
            "species",
            "sex",
            "water",
            "capture_date",
            "year_class",
        ];
        let unused = record
            .iter()
            .zip(&names)
            .filter(|(_, name)| !known.contains(&name.as_str()) && annulus_number(name).is_none())
            .map(|(written, _)| written.to_owned())
            .filter(|written| !written.is_empty())
            .collect();
        Ok(Self {
            fish: required("fish")?,
            length: required("length_mm")?,
            radius: required("radius_um")?,
            annuli,
            species: find("species"),
            sex: find("sex"),
            water: find("water"),
            capture_date: find("capture_date"),
            year_class: find("year_class"),
            unused,
            count: names.len(),
        })
    }

    /// Headings that were not understood, as written.
    pub(super) fn unused(&self) -> &[String] {
        &self.unused
    }

    /// Number of columns.
    pub(super) fn count(&self) -> usize {
        self.count
    }
}

fn repeated(names: &[String]) -> Option<&String> {
    let mut seen = HashSet::new();
    names.iter().find(|name| !name.is_empty() && !seen.insert(name.as_str()))
}

/// 3 for `a3_um`, in the plain form without leading zeros.
fn annulus_number(name: &str) -> Option<usize> {
    let digits = name.strip_prefix('a')?.strip_suffix("_um")?;
    let number: usize = digits.parse().ok()?;
    // A heading such as a1000000_um is no annulus: no fish is that old.
    (number > 0 && number <= 500 && number.to_string() == digits).then_some(number)
}
