//! `docs/checks.md` says how many values each test compares; here its numbers are held against those that the tests
//! themselves insist on. A test that counts and has no row fails here, and so does a row without such a test.

use std::collections::BTreeMap;
use std::path::Path;

fn text_of(path: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(path);
    std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{path:?}: {error}"))
}

/// File and name of every test with the number of values it insists on having compared.
fn insisted() -> BTreeMap<(String, String), i64> {
    let mut found = BTreeMap::new();
    for folder in ["checks", "cli"] {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests").join(folder);
        for entry in std::fs::read_dir(path).unwrap() {
            let name = entry.unwrap().file_name().into_string().unwrap();
            let text = text_of(&format!("tests/{folder}/{name}"));
            for part in text.split("#[test]").skip(1) {
                let Some((_, rest)) = part.split_once("fn ") else { continue };
                let test = rest.split('(').next().unwrap_or_default().to_owned();
                let body = rest.split("\n}\n").next().unwrap_or_default();
                let counts: Vec<i64> = body
                    .split("assert_eq!(")
                    .skip(1)
                    .filter_map(|rest| count_in(rest, body))
                    .collect();
                if !counts.is_empty() {
                    found.insert((format!("{folder}/{name}"), test), counts.iter().sum());
                }
            }
        }
    }
    found
}

/// The number that an assertion asks of a counter; `None` where it is about something else.
fn count_in(after_bracket: &str, body: &str) -> Option<i64> {
    let sides = top_level(after_bracket);
    let (left, right) = (members(sides.first()?), members(sides.get(1)?));
    let is_counter =
        |name: &str| name == "compared" || name.ends_with(".compared") || name == "compared.count";
    let counters: Vec<usize> = (0..left.len()).filter(|at| is_counter(&left[*at])).collect();
    (!counters.is_empty()).then(|| counters.iter().map(|at| value(&right[*at], body)).sum())
}

/// The parts between commas up to the bracket that closes.
fn top_level(text: &str) -> Vec<String> {
    let (mut parts, mut part, mut depth) = (Vec::new(), String::new(), 0);
    for letter in text.chars() {
        match letter {
            '(' | '[' | '{' => depth += 1,
            ')' | ']' | '}' => depth -= 1,
            _ => {}
        }
        if depth < 0 || (depth == 0 && letter == ',') {
            parts.push(part.trim().to_owned());
            part.clear();
            if depth < 0 {
                break;
            }
        } else {
            part.push(letter);
        }
    }
    parts
}

/// The members of a tuple, or the thing itself.
fn members(text: &str) -> Vec<String> {
    let found = text.strip_prefix('(').map(top_level).unwrap_or_default();
    // `(7 + 18) * 2` begins with a bracket and is no tuple.
    if found.len() > 1 { found } else { vec![text.to_owned()] }
}

/// Sums and products of whole numbers, brackets, and names given by `let` in the same test.
fn value(text: &str, body: &str) -> i64 {
    let spaced = text.replace('(', " ( ").replace(')', " ) ");
    let words: Vec<&str> = spaced.split_whitespace().collect();
    let (value, rest) = sum(&words, body);
    assert!(rest.is_empty(), "'{text}' is more than a sum of products of numbers");
    value
}

fn sum<'a>(words: &'a [&'a str], body: &str) -> (i64, &'a [&'a str]) {
    let (mut total, mut rest) = product(words, body);
    while let Some(("+", after)) = rest.split_first().map(|(first, after)| (*first, after)) {
        let (next, after) = product(after, body);
        (total, rest) = (total + next, after);
    }
    (total, rest)
}

fn product<'a>(words: &'a [&'a str], body: &str) -> (i64, &'a [&'a str]) {
    let (mut total, mut rest) = single(words, body);
    while let Some(("*", after)) = rest.split_first().map(|(first, after)| (*first, after)) {
        let (next, after) = single(after, body);
        (total, rest) = (total * next, after);
    }
    (total, rest)
}

fn single<'a>(words: &'a [&'a str], body: &str) -> (i64, &'a [&'a str]) {
    let (first, rest) = words.split_first().expect("a number");
    if *first == "(" {
        let (inner, rest) = sum(rest, body);
        assert_eq!(rest.first(), Some(&")"));
        return (inner, &rest[1..]);
    }
    let number = first.parse().unwrap_or_else(|_| {
        let (_, after) = body
            .split_once(&format!("let {first} = "))
            .unwrap_or_else(|| panic!("'{first}' is no number: write the count in numbers"));
        value(after.split(';').next().unwrap_or_default(), body)
    });
    (number, rest)
}

/// Rows `| check | source | `file` | `test` | values |` of the table.
fn rows() -> BTreeMap<(String, String), i64> {
    let mut found = BTreeMap::new();
    for line in text_of("docs/checks.md").lines().filter(|line| line.contains(".rs` |")) {
        let cells: Vec<&str> =
            line.trim_matches('|').split('|').map(|cell| cell.trim().trim_matches('`')).collect();
        assert_eq!(cells.len(), 5, "five cells: {line}");
        let number = cells[4].replace(' ', "").parse().unwrap_or_else(|_| panic!("{line}"));
        let place = (cells[2].to_owned(), cells[3].to_owned());
        assert_eq!(found.insert(place, number), None, "twice: {line}");
    }
    found
}

#[test]
fn the_table_of_checks_says_what_the_tests_insist_on() {
    let (rows, insisted) = (rows(), insisted());
    for (place, number) in &insisted {
        let (file, test) = place;
        let row = rows.get(place);
        assert_eq!(row, Some(number), "docs/checks.md, row of `{file}` | `{test}`");
    }
    for (file, test) in rows.keys() {
        let is_there = insisted.contains_key(&(file.clone(), test.clone()));
        assert!(is_there, "no test counts its values in `{file}` | `{test}`");
    }
    assert!(insisted.len() > 75, "{}", insisted.len());
}

#[test]
fn every_file_of_check_values_and_the_sum_are_in_the_table() {
    let text = text_of("docs/checks.md");
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/published");
    for entry in std::fs::read_dir(folder).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        let stem = name.trim_end_matches(".json");
        let number = stem.split('_').next().filter(|word| word.parse::<u32>().is_ok());
        let cell = number.map_or(format!("| {stem} |"), |number| format!("| {number} |"));
        assert!(text.contains(&cell), "{name} has no row that begins '{cell}'");
    }
    let sum: i64 = rows().values().sum();
    assert!(text.contains(&format!("{sum} values in all")), "{sum} values in all");
}

#[test]
fn sums_of_products_are_read_as_they_are_written() {
    assert_eq!(value("2 * 8 + 2 + 4 * (5 + 3)", ""), 50);
    assert_eq!(value("2 * common + 7", "let common = 3 + 1;"), 15);
    assert_eq!(count_in("(c.compared, other), (7 + 6, 1), \"x\");", ""), Some(13));
    assert_eq!(count_in("compared.by_age.len(), 3);", ""), None);
}
