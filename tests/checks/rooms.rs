//! The table of rooms in DEVELOPERS.md holds: no room uses a room or a package that its row does not name.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

/// Packages any room may use.
const ANYWHERE: &[&str] = &["kurbo", "rayon", "thiserror"];

struct Room {
    imports: BTreeSet<String>,
    packages: BTreeSet<String>,
}

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// Names between backquotes.
fn quoted(cell: &str) -> BTreeSet<String> {
    cell.split('`')
        .skip(1)
        .step_by(2)
        .map(|name| name.trim_end_matches('/').replace('-', "_"))
        .collect()
}

/// Rows `| `room/` | holds | rooms | packages |` of DEVELOPERS.md, in order.
fn table() -> Vec<(String, Room)> {
    let text = fs::read_to_string(root().join("DEVELOPERS.md")).unwrap();
    let rows: Vec<(String, Room)> = text
        .lines()
        .filter(|line| line.starts_with("| `") && line.contains("/` |"))
        .map(|line| {
            let cells: Vec<&str> = line.trim_matches('|').split('|').collect();
            assert_eq!(cells.len(), 4, "a row of the room table has four cells: {line}");
            let name = quoted(cells[0]).into_iter().next().unwrap();
            (name, Room { imports: quoted(cells[2]), packages: quoted(cells[3]) })
        })
        .collect();
    assert!(rows.len() >= 11, "DEVELOPERS.md has the table of rooms, found {} rows", rows.len());
    rows
}

fn rust_files(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            rust_files(&path, found);
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            found.push(path);
        }
    }
}

fn dependencies() -> BTreeSet<String> {
    let text = fs::read_to_string(root().join("Cargo.toml")).unwrap();
    text.lines()
        .skip_while(|line| line.trim() != "[dependencies]")
        .skip(1)
        .take_while(|line| !line.starts_with('['))
        .filter_map(|line| line.split_once('=').map(|(name, _)| name.trim().replace('-', "_")))
        .collect()
}

/// Code without comments, and without the tests at the foot of a file (tests may use any room).
fn code_of(text: &str) -> String {
    let body = text.split("#[cfg(test)]\nmod tests").next().unwrap_or_default();
    body.lines()
        .map(|line| line.split("//").next().unwrap_or_default())
        .collect::<Vec<_>>()
        .join("\n")
}

/// Names that stand before `::` at the start of a path.
fn path_heads(code: &str) -> BTreeSet<String> {
    let is_word = |c: char| c.is_alphanumeric() || c == '_';
    let mut heads = BTreeSet::new();
    for (at, _) in code.match_indices("::") {
        let before = &code[..at];
        let start = before.rfind(|c: char| !is_word(c)).map_or(0, |i| i + 1);
        let (outer, word) = before.split_at(start);
        if !word.is_empty() && !outer.ends_with("::") {
            heads.insert(word.to_owned());
        }
    }
    heads
}

fn rooms_used(code: &str) -> BTreeSet<String> {
    code.match_indices("crate::")
        .map(|(at, found)| {
            let rest = &code[at + found.len()..];
            rest.chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect()
        })
        .collect()
}

/// All breaches in one file, as sentences.
fn breaches(
    room: &str,
    row: &Room,
    file: &str,
    code: &str,
    packages: &BTreeSet<String>,
) -> Vec<String> {
    let mut found = Vec::new();
    if code.contains("use crate::{") {
        found.push(format!(
            "{file}: one `use crate::room::…` for each room, never `use crate::{{…}}`"
        ));
    }
    if code.contains("super::super") {
        found.push(format!("{file}: no `super::super`"));
    }
    for used in rooms_used(code) {
        if used != room && !row.imports.contains(&used) {
            found.push(format!("{file}: `{room}` may not use `{used}`"));
        }
    }
    for head in path_heads(code) {
        let allowed = ANYWHERE.contains(&head.as_str()) || row.packages.contains(&head);
        if packages.contains(&head) && !allowed {
            found.push(format!("{file}: `{room}` may not use the package `{head}`"));
        }
    }
    found
}

#[test]
fn every_room_uses_only_what_its_row_allows() {
    let table = table();
    let names: Vec<&String> = table.iter().map(|(name, _)| name).collect();
    let rooms: BTreeMap<&String, &Room> = table.iter().map(|(name, room)| (name, room)).collect();
    for (index, (name, room)) in table.iter().enumerate() {
        for import in &room.imports {
            let place = names.iter().position(|other| *other == import);
            assert!(
                place.is_some_and(|place| place < index),
                "row {name}: {import} does not stand above it"
            );
        }
    }
    let packages = dependencies();
    let mut files = Vec::new();
    rust_files(&root().join("src"), &mut files);
    assert!(files.len() > 20, "found only {} files under src", files.len());
    let mut found = Vec::new();
    for path in files {
        let inside = path.strip_prefix(root().join("src")).unwrap().to_owned();
        let file = inside.display().to_string();
        let Some(room) =
            inside.components().next().map(|part| part.as_os_str().to_string_lossy().into_owned())
        else {
            continue;
        };
        if room == "lib.rs" || room == "main.rs" {
            continue;
        }
        let row =
            rooms.get(&room).unwrap_or_else(|| panic!("src/{room} is not in the table of rooms"));
        found.extend(breaches(
            &room,
            row,
            &file,
            &code_of(&fs::read_to_string(&path).unwrap()),
            &packages,
        ));
    }
    assert!(found.is_empty(), "{}", found.join("\n"));
}

#[test]
fn a_breach_is_seen() {
    let row = Room { imports: ["domain".to_owned()].into(), packages: BTreeSet::new() };
    let packages = ["egui".to_owned(), "csv".to_owned()].into();
    let seen = |code: &str| breaches("store", &row, "x.rs", &code_of(code), &packages).len();
    assert_eq!(seen("use crate::domain::fish::Fish;\nuse std::fs;"), 0);
    assert_eq!(seen("// use egui::Ui;\nuse crate::store::table::Row;"), 0);
    assert_eq!(seen("use egui::Ui;"), 1);
    assert_eq!(seen("fn f() { let x = csv::Reader::from_path(p); }"), 1);
    assert_eq!(seen("use crate::gui::app::App;"), 1);
    assert_eq!(seen("use crate::{domain::fish::Fish};"), 2);
    assert_eq!(seen("use super::super::x;"), 1);
}
