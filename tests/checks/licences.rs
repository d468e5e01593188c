//! Every package in Cargo.lock may be used under a permissive licence, comes from the public registry with its checksum,
//! and every direct one is explained in DEVELOPERS.md. Offline: `.ci/licences` wrote the list that is judged here.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

/// Licences that ask for no more than notices (SPDX identifiers; the SPDX licence list, version 3).
const PERMISSIVE: [&str; 15] = [
    "0BSD",
    "Apache-2.0",
    "Apache-2.0 WITH LLVM-exception",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "BSL-1.0",
    "CC0-1.0",
    "ISC",
    "MIT",
    "MIT-0",
    "NCSA",
    "Unicode-3.0",
    "Unlicense",
    "Zlib",
    // Fonts inside the window's toolkit; free to bundle.
    "OFL-1.1 AND Ubuntu-font-1.0",
];

fn read(name: &str) -> String {
    std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(name)).unwrap()
}

/// True where a licence expression can be met by permissive licences alone. `OR`, or the old `/`, is a choice; all sides
/// of an `AND` must hold.
fn is_permissive(expression: &str) -> bool {
    let expression = expression.trim();
    if PERMISSIVE.contains(&expression) {
        return true;
    }
    let split = |words: &[&str]| words.iter().find_map(|word| at_top(expression, word));
    if let Some((left, right)) = split(&[" AND "]) {
        return is_permissive(left) && is_permissive(right);
    }
    if let Some((left, right)) = split(&[" OR ", " / ", "/"]) {
        return is_permissive(left) || is_permissive(right);
    }
    let inner = expression.strip_prefix('(').and_then(|rest| rest.strip_suffix(')'));
    inner.is_some_and(is_permissive)
}

/// The two sides of a word that stands outside all brackets.
fn at_top<'a>(expression: &'a str, word: &str) -> Option<(&'a str, &'a str)> {
    let places = expression.match_indices(word).map(|(place, _)| place);
    places
        .filter(|place| {
            let before = &expression[..*place];
            before.matches('(').count() == before.matches(')').count()
        })
        .map(|place| (&expression[..place], &expression[place + word.len()..]))
        .next()
}

/// Packages of Cargo.lock: name and version, and whether source and checksum are those of the public registry.
fn locked() -> BTreeMap<(String, String), bool> {
    let value = |block: &str, key: &str| {
        let line = block.lines().find(|line| line.starts_with(&format!("{key} = ")))?;
        line.split('"').nth(1).map(str::to_owned)
    };
    let text = read("Cargo.lock");
    let blocks = text.split("[[package]]").skip(1);
    blocks
        .filter_map(|block| {
            let (name, version) = (value(block, "name")?, value(block, "version")?);
            let is_public = value(block, "source")
                .is_some_and(|source| source.starts_with("registry+https://github.com/"))
                && value(block, "checksum").is_some_and(|sum| sum.len() == 64);
            (name != "winterline").then_some(((name, version), is_public))
        })
        .collect()
}

#[test]
fn expressions_are_judged_as_spdx_means_them() {
    for good in
        ["MIT", "MIT OR GPL-3.0-only", "(MIT OR Apache-2.0) AND Unicode-3.0", "MIT/Apache-2.0"]
    {
        assert!(is_permissive(good), "{good}");
    }
    for bad in [
        "GPL-3.0-only",
        "MIT AND GPL-3.0-only",
        "(MIT AND LGPL-2.1-only) OR GPL-2.0-only",
        "none stated",
        "",
    ] {
        assert!(!is_permissive(bad), "{bad}");
    }
}

#[test]
fn every_package_is_permissive_and_from_the_public_registry() {
    let list = read(".ci/licences.txt");
    let listed: BTreeMap<(String, String), &str> = list
        .lines()
        .map(|line| {
            let mut parts = line.splitn(3, ' ');
            let mut next = || parts.next().unwrap();
            ((next().to_owned(), next().to_owned()), next())
        })
        .collect();
    let locked = locked();
    assert!(locked.len() > 300, "{}", locked.len());
    let unlisted: Vec<_> = locked.keys().filter(|package| !listed.contains_key(*package)).collect();
    assert!(unlisted.is_empty(), "run .ci/licences and read the difference: {unlisted:?}");
    let others: Vec<_> = listed.iter().filter(|(_, licence)| !is_permissive(licence)).collect();
    assert!(others.is_empty(), "not permissive: {others:?}");
    let strangers: Vec<_> = locked.iter().filter(|(_, is_public)| !**is_public).collect();
    assert!(
        strangers.is_empty(),
        "not from the public registry, or without checksum: {strangers:?}"
    );
}

/// Each direct dependency has a row in DEVELOPERS.md that says what it is for and why it and not our own code.
#[test]
fn every_direct_dependency_is_explained() {
    let manifest = read("Cargo.toml");
    let mut direct = BTreeSet::new();
    let mut is_dependency = false;
    for line in manifest.lines() {
        if line.starts_with('[') {
            is_dependency = line.contains("dependencies]");
        } else if let (true, Some((name, _))) = (is_dependency, line.split_once(" = ")) {
            direct.insert(name.trim().to_owned());
        }
    }
    assert!(direct.len() > 20, "{direct:?}");
    let guide = read("DEVELOPERS.md");
    let rows: Vec<&str> = guide.lines().filter(|line| line.starts_with("| ")).collect();
    for name in direct {
        let row = rows.iter().find(|row| row.starts_with(&format!("| `{name}` |")));
        let cells = row.map_or(0, |row| {
            row.trim_matches('|').split('|').filter(|cell| !cell.trim().is_empty()).count()
        });
        assert_eq!(
            cells, 5,
            "DEVELOPERS.md: a row for {name} with package, version, what, why, licence"
        );
    }
}
