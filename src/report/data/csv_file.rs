//! One table as CSV by RFC 4180, UTF-8 without a byte-order mark.

use super::table::{Cell, DataTable};

/// Signs at the start of text that make a spreadsheet take it for a formula (common practice, no source).
const FORMULA_SIGNS: [char; 6] = ['=', '+', '-', '@', '\t', '\n'];

/// The table as CSV. Text that starts with `=`, `+`, `-`, `@`, a tab or a new line gets an apostrophe before it, full
/// width forms of the signs too; numbers stay as they are, so that `-3.5` is still a number.
///
/// # Errors
/// Where the writer fails, which memory does not.
pub fn table_csv(table: &DataTable) -> Result<String, csv::Error> {
    let mut writer =
        csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
    writer.write_record(table.columns.iter().map(|column| column.name.as_str()))?;
    for row in &table.rows {
        writer.write_record(row.iter().map(shown))?;
    }
    let bytes = writer.into_inner().map_err(|error| error.into_error())?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

fn shown(cell: &Cell) -> String {
    match cell {
        Cell::Missing => String::new(),
        Cell::Whole(value) => value.to_string(),
        Cell::Number(value) => value.to_string(),
        Cell::Text(text) if is_formula_like(text) => format!("'{text}"),
        Cell::Text(text) => text.clone(),
    }
}

/// True for text a spreadsheet could take for a formula. Blanks before the sign do not make it harmless.
fn is_formula_like(text: &str) -> bool {
    let is_sign = |c: char| FORMULA_SIGNS.contains(&c) || matches!(c, '＝' | '＋' | '－' | '＠');
    text.starts_with(is_sign) || text.trim_start().starts_with(is_sign)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::data::{DataColumn, Kind};

    #[test]
    fn text_is_guarded_and_numbers_are_not() {
        let cells = [
            (Cell::text("=1+1"), "'=1+1"),
            (Cell::text("  @x"), "'  @x"),
            (Cell::text("-3"), "'-3"),
            (Cell::text("\u{ff1d}1"), "'\u{ff1d}1"),
            (Cell::text("a=1"), "a=1"),
            (Cell::number(-3.5), "-3.5"),
            (Cell::number(f64::NAN), ""),
            (Cell::whole(-2), "-2"),
            (Cell::text(""), ""),
            (Cell::text("nul\0"), "nul\u{fffd}"),
        ];
        for (cell, wanted) in cells {
            assert_eq!(shown(&cell), wanted);
        }
    }

    #[test]
    fn a_table_is_written_by_rfc_4180() {
        let column = DataColumn { name: "note".into(), unit: "", kind: Kind::Text, meaning: "" };
        let rows = vec![vec![Cell::text("say \"x\", please\r\ntwice")]];
        let table = DataTable { name: "t", one_row_for: "row", columns: vec![column], rows };
        assert_eq!(table_csv(&table).unwrap(), "note\r\n\"say \"\"x\"\", please\ntwice\"\r\n");
    }
}
