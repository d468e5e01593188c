//! All tables as one JSON document: a list of objects for each table, keys in the order of the columns.

use serde_json::{Map, Number, Value, json};

use super::table::{Cell, DataTable, dictionary};

/// The tables as one document, with their dictionary.
pub fn tables_json(tables: &[DataTable]) -> Value {
    let mut document = Map::new();
    document.insert("format".to_owned(), json!("winterline-data"));
    document.insert("version".to_owned(), json!(1));
    for table in tables.iter().chain([&dictionary(tables)]) {
        document.insert(table.name.to_owned(), rows(table));
    }
    Value::Object(document)
}

fn rows(table: &DataTable) -> Value {
    let object = |row: &Vec<Cell>| {
        let pairs = table.columns.iter().zip(row);
        Value::Object(pairs.map(|(column, cell)| (column.name.clone(), value(cell))).collect())
    };
    table.rows.iter().map(object).collect()
}

fn value(cell: &Cell) -> Value {
    match cell {
        Cell::Missing => Value::Null,
        Cell::Text(text) => json!(text),
        Cell::Whole(whole) => json!(whole),
        Cell::Number(number) => Number::from_f64(*number).map_or(Value::Null, Value::Number),
    }
}
