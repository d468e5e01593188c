//! Writing tables as RFC 4180 asks: commas, CRLF, quotes where needed, a heading row.

use std::path::Path;

use super::error::StoreError;
use super::fingerprint::Fingerprint;
use super::safe_write::{Expected, write_whole};

/// Writes a table whole. `expected` is what was loaded, `None` for a new file.
///
/// # Errors
/// [`StoreError::ChangedByOther`] when the file is not the expected one, [`StoreError::Io`], also for a row that has
/// not as many cells as there are headings.
pub fn write_table<R: AsRef<[String]>>(
    path: &Path,
    headings: &[&str],
    rows: impl IntoIterator<Item = R>,
    expected: Option<&Fingerprint>,
) -> Result<Fingerprint, StoreError> {
    let bytes = table_bytes(headings, rows)
        .map_err(|error| StoreError::io("save the table", path)(std::io::Error::other(error)))?;
    write_whole(path, &bytes, Expected::from(expected))
}

/// The text of a table.
///
/// # Errors
/// For a row that has not as many cells as there are headings.
pub fn table_bytes<R: AsRef<[String]>>(
    headings: &[&str],
    rows: impl IntoIterator<Item = R>,
) -> Result<Vec<u8>, csv::Error> {
    let mut writer =
        csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
    writer.write_record(headings)?;
    for row in rows {
        writer.write_record(row.as_ref())?;
    }
    writer.into_inner().map_err(|error| error.into_error().into())
}

/// A value as a cell; empty where there is none.
pub fn cell<T: ToString>(value: Option<T>) -> String {
    value.map(|value| value.to_string()).unwrap_or_default()
}

/// The shortest decimal that `convert` turns into `wanted` exactly; failing that, the nearest double.
pub(super) fn number_that_gives(wanted: f64, convert: impl Fn(f64) -> f64) -> String {
    let guess = wanted / convert(1.0);
    (0..12)
        .map(|digits| format!("{guess:.digits$}"))
        .find(|text| text.parse().is_ok_and(|number| convert(number) == wanted))
        .unwrap_or_else(|| guess.to_string())
}
