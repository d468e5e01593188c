//! Data out: tables with documented columns, the same values as CSV, as a workbook and as JSON.
//!
//! Nothing in a field sheet can become a formula: in the workbook text is stored as text, and in CSV text that a
//! spreadsheet would take for a formula gets an apostrophe before it. Numbers are never touched.

mod csv_file;
mod json_file;
mod results;
mod table;
mod tables;
mod workbook;

pub use csv_file::table_csv;
pub use json_file::tables_json;
pub use table::{Cell, DataColumn, DataTable, Kind};
pub use tables::{FishRow, MarkRow, ReadingRow, SurveyData, data_tables};
pub use workbook::{WorkbookError, workbook_bytes};
