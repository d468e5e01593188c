use super::*;
use crate::domain::fish::Sex;
use crate::domain::units::{Micrometres, Millimetres};

fn parse(text: &str) -> RadiiTable {
    parse_radii(text.as_bytes()).unwrap()
}

fn faults(table: &RadiiTable) -> Vec<(usize, &str)> {
    table.faults.iter().map(|fault| (fault.row, fault.column.as_str())).collect()
}

#[test]
fn headings_come_in_any_order_case_and_separator() {
    for (separator, mark) in [(",", ""), (";", "\u{feff}"), ("\t", "")] {
        let text = "A1_um,RADIUS_um,Fish,a2_UM,length_mm,Sex,capture_date\r\n\
             1047,2807,007,1886,385,F,2025-09-14\r\n"
            .replace(',', separator);
        let table = parse(&format!("{mark}{text}"));
        assert_eq!(table.faults, []);
        let row = &table.rows[0];
        assert_eq!((row.fish.as_str(), row.row, row.sex), ("007", 2, Sex::Female));
        assert_eq!(row.length, Some(Millimetres(385.0)));
        assert_eq!(row.annuli, [Micrometres(1047.0), Micrometres(1886.0)]);
        assert_eq!(row.captured.map(|date| date.to_string()).as_deref(), Some("2025-09-14"));
    }
}

#[test]
fn faulty_rows_are_named_and_the_rest_kept() {
    let table = parse(
        "fish,length_mm,radius_um,a1_um,a2_um\n\
         1,385,2807,1047,1886\n\
         2,abc,2807,1047,1886\n\
         3,300,2807,,1886\n\
         ,300,2807,900,\n\
         5,300,2807,nan,\n\
         6,300,2807,900,1000,7\n\
         7,,,,\n\
         8,-3,100,,\n",
    );
    let kept: Vec<&str> = table.rows.iter().map(|row| row.fish.as_str()).collect();
    assert_eq!(kept, ["1", "7"]);
    assert_eq!(table.rows[1].length, None);
    let expected =
        [(3, "length_mm"), (4, "a1_um"), (5, "fish"), (6, "a1_um"), (7, ""), (9, "length_mm")];
    assert_eq!(faults(&table), expected);
    assert_eq!(
        table.faults[0].to_string(),
        "row 3, column length_mm: 'abc' is not a number: correct it, or leave the cell empty"
    );
}

#[test]
fn blank_lines_and_quoted_line_ends_do_not_shift_row_numbers() {
    let table = parse(
        "fish,length_mm,radius_um,a1_um,water\n\n\n1,385,2807,1047,\"Maple\nHollow\"\n\n2,x,2807,1047,\n",
    );
    assert_eq!(table.rows[0].row, 4);
    assert_eq!(faults(&table), [(7, "length_mm")]);
}

#[test]
fn short_rows_have_empty_cells_and_other_columns_are_named() {
    let table = parse("fish,length_mm,radius_um,Note,a1_um,a2_um\n1,385,2807,wet,1047\n");
    assert_eq!(table.rows[0].annuli, [Micrometres(1047.0)]);
    assert_eq!(table.unused_columns, ["Note"]);
}

#[test]
fn several_rows_of_a_fish_must_agree_on_the_fish() {
    let table = parse(
        "fish,length_mm,radius_um,a1_um\n1,385,2807,1047\n1,385,2900,1100\n2,300,2000,900\n2,310,2000,900\n\
         3,200,1500,700\n3,200,1500,700\n",
    );
    let kept: Vec<usize> = table.rows.iter().map(|row| row.row).collect();
    assert_eq!(kept, [2, 3, 6]);
    assert_eq!(faults(&table), [(4, "fish"), (5, "fish"), (7, "")]);
}

#[test]
fn tables_that_cannot_be_read_say_why() {
    let latin1 = b"fish,length_mm,radius_um,a1_um,water\n1,385,2807,1047,\xC9tang\n";
    assert_eq!(parse_radii(latin1), Err(RadiiTableError::NotUtf8 { row: 2, byte: 0xC9 }));
    assert_eq!(parse_radii(b"\xFF\xFEf\0"), Err(RadiiTableError::Utf16));
    assert_eq!(parse_radii(b"\xEF\xBB\xBF\n \n"), Err(RadiiTableError::Empty));
    let missing = |text: &str| match parse_radii(text.as_bytes()) {
        Err(RadiiTableError::MissingColumn { column, .. }) => column,
        other => panic!("{other:?}"),
    };
    assert_eq!(missing("fish,length,radius_um,a1_um\n"), "length_mm");
    assert_eq!(missing("fish,length_mm,radius_um,a1_um,a3_um\n"), "a2_um");
    assert_eq!(missing("fish,length_mm,radius_um\n"), "a1_um");
    assert_eq!(
        parse_radii(b"fish,FISH,length_mm,radius_um,a1_um\n"),
        Err(RadiiTableError::RepeatedColumn { column: "fish".to_owned() })
    );
}

/// Damaged tables give an error or a table, never a panic: every cut, and every byte changed.
#[test]
fn damaged_tables_never_panic() {
    let whole = "fish,length_mm,radius_um,a1_um,capture_date\n1,385,2807,1047,2025-09-14\n\"2\",300,2000,900,\n";
    let mut tried = 0;
    for cut in 0..whole.len() {
        let _ = parse_radii(&whole.as_bytes()[..cut]);
        for byte in [0u8, b'"', b',', b'\n', 0xFF] {
            let mut damaged = whole.as_bytes().to_vec();
            damaged[cut] = byte;
            let _ = parse_radii(&damaged);
            tried += 1;
        }
    }
    assert_eq!(tried, 5 * whole.len());
}
