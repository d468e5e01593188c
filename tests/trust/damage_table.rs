//! Damage to a table that leaves most of it a table: cells, rows and columns dropped, doubled and filled with nonsense.

use crate::cases::{Op, pick, place};
use crate::damage::{NASTY, damage_bytes};

/// A damaged copy of a sound table. Steps of a low number change cells, then come separators, then bytes.
pub fn damage_table(sound: &[u8], ops: &[Op]) -> Vec<u8> {
    let mut rows = cells_of(sound);
    for op in ops.iter().filter(|op| op.0 < 192) {
        damage_cells(&mut rows, *op);
    }
    let separator = ops
        .iter()
        .find(|op| (192..208).contains(&op.0))
        .map_or(',', |op| *pick(&[',', ';', '\t', '|'], op.1).unwrap());
    let mut bytes = text_of(&rows, separator).into_bytes();
    for op in ops.iter().filter(|op| op.0 >= 208) {
        damage_bytes(&mut bytes, *op);
    }
    bytes
}

fn cells_of(sound: &[u8]) -> Vec<Vec<String>> {
    let mut reader = csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(sound);
    let row = |record: csv::StringRecord| record.iter().map(str::to_owned).collect();
    reader.records().map(|record| row(record.unwrap())).collect()
}

fn text_of(rows: &[Vec<String>], separator: char) -> String {
    let cell = |cell: &String| {
        if cell.contains([separator, '"', '\n', '\r']) {
            format!("\"{}\"", cell.replace('"', "\"\""))
        } else {
            cell.clone()
        }
    };
    let line = |row: &Vec<String>| {
        row.iter().map(cell).collect::<Vec<_>>().join(&separator.to_string()) + "\r\n"
    };
    rows.iter().map(line).collect()
}

fn damage_cells(rows: &mut Vec<Vec<String>>, (what, at, with): Op) {
    let Some(row) = place(rows.len(), at) else { return };
    let column = (at >> 16) as usize;
    let other = |row: &[String]| place(row.len(), at >> 16);
    let nasty = pick(&NASTY, with).unwrap();
    match what % 12 {
        0..=3 => {
            if let Some(column) = other(&rows[row]) {
                rows[row][column] = (*nasty).to_owned();
            }
        }
        4 => {
            if let Some(column) = other(&rows[row]) {
                rows[row][column].push_str(nasty);
            }
        }
        5 => drop(rows.remove(row)),
        6 => {
            let twin = rows[row].clone();
            rows.push(twin);
        }
        7 => {
            for row in rows.iter_mut() {
                if let Some(place) = column.checked_rem(row.len()) {
                    row.remove(place);
                }
            }
        }
        8 => {
            for row in rows.iter_mut() {
                if let Some(cell) = pick(row, at >> 16).cloned() {
                    row.push(cell);
                }
            }
        }
        9 => rows[row].push((*nasty).to_owned()),
        10 => {
            if let (Some(to), Some(from)) = (other(&rows[row]), place(rows[row].len(), with)) {
                rows[row].swap(to, from);
            }
        }
        _ => rows[row].truncate(with as usize % 4),
    }
}
