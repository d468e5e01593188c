//! Numbers under stress: no fish, one fish, all fish alike, ages from 0 to 120, wrong units, numbers that are none, very
//! many fish. Every verb gives a result or a reason in one line; never a panic, never NaN.

use std::fmt::Write;
use std::time::{Duration, Instant};

use serde_json::Value;

use crate::run::{Run, text, winterline};

/// Runs a verb on a file and holds what it printed against the contract.
fn try_verb(verb: &[&str], flag: &str, name: &str, bytes: &[u8]) -> Run {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("t.csv");
    std::fs::write(&path, bytes).unwrap();
    let mut arguments: Vec<String> = verb.iter().map(|word| (*word).to_owned()).collect();
    arguments.extend([flag.to_owned(), text(&path)]);
    let what = format!("{} on {name}", arguments.join(" "));
    judge(&winterline(&arguments), &what, false);
    arguments.push("--json".to_owned());
    let run = winterline(&arguments);
    judge(&run, &what, true);
    run
}

fn judge(run: &Run, what: &str, is_json: bool) {
    assert!(matches!(run.status, 0..=2), "{what}: status {}", run.status);
    assert!(!run.err.contains("panicked"), "{what}: {}", run.err);
    for line in run.err.lines() {
        assert!(line.starts_with("winterline: "), "{what}: more than one line: {line}");
    }
    let is_number_word = |word: &str| {
        matches!(word.trim_start_matches('-'), "NaN" | "nan" | "inf" | "infinity" | "Infinity")
    };
    // What was put in may be quoted; JSON has no such number, so parsing it is enough there.
    let was_put_in = what.split('\'').any(is_number_word);
    let mut words = run.out.split(|c: char| !(c.is_alphanumeric() || c == '-'));
    assert!(is_json || was_put_in || !words.any(is_number_word), "{what}: {}", run.out);
    if run.status != 0 {
        assert!(!(run.err.is_empty() && run.out.is_empty()), "{what}: a failure without a word");
    }
    if is_json && (run.status == 0 || !run.out.is_empty()) {
        assert!(serde_json::from_str::<Value>(&run.out).is_ok(), "{what}: {}", run.out);
    }
}

/// Cells that are numbers, are none, or are far out.
const CELLS: [&str; 14] = [
    "",
    "0",
    "-0",
    "-5",
    "NaN",
    "nan",
    "inf",
    "-Infinity",
    "1e308",
    "1e-308",
    "1e999",
    "0.0028",
    "12 mm",
    "2,8",
];

/// Tables from rows of cells: as they are, none, one, all alike, and each odd cell in each column of the second row.
fn variants(heading: &str, rows: &[Vec<String>]) -> Vec<(String, String)> {
    let table = |rows: &[Vec<String>]| {
        let mut text = format!("{heading}\n");
        rows.iter().for_each(|row| text.push_str(&(row.join(",") + "\n")));
        text
    };
    let alike: Vec<Vec<String>> = (0..rows.len())
        .map(|index| {
            let mut row = rows[0].clone();
            row[0] = if heading.starts_with("fish") { index.to_string() } else { row[0].clone() };
            row
        })
        .collect();
    let mut all = vec![
        ("all".to_owned(), table(rows)),
        ("none".to_owned(), table(&[])),
        ("empty".to_owned(), String::new()),
        ("one".to_owned(), table(&rows[..1])),
        ("two".to_owned(), table(&rows[..2])),
        ("alike".to_owned(), table(&alike)),
    ];
    for column in 0..rows[0].len() {
        for cell in CELLS {
            let mut odd = rows.to_vec();
            odd[1][column] = format!("\"{cell}\"");
            all.push((format!("column {column} '{cell}'"), table(&odd)));
        }
        for cell in ["1e308", "1e-308", "0", "NaN"] {
            let mut odd = rows.to_vec();
            odd.iter_mut().for_each(|row| row[column] = cell.to_owned());
            all.push((format!("all of column {column} '{cell}'"), table(&odd)));
        }
    }
    all
}

fn radii(n_fish: usize) -> Vec<Vec<String>> {
    let row = |fish: usize| {
        let length = 150 + fish * 37 % 250;
        let radius = 9 * length - fish * 13 % 60;
        let annuli = (1..4).map(|annulus| (radius * annulus / 4).to_string());
        [format!("f{fish}"), length.to_string(), radius.to_string()]
            .into_iter()
            .chain(annuli)
            .collect()
    };
    (0..n_fish).map(row).collect()
}

#[test]
fn lengths_of_odd_radii() {
    let heading = "fish,length_mm,radius_um,a1_um,a2_um,a3_um";
    for method in ["fraser-lee", "power-scale-proportional", "quadratic-body-proportional"] {
        for (name, table) in
            variants(heading, &radii(9)).iter().step_by(if method == "fraser-lee" { 1 } else { 5 })
        {
            try_verb(&["lengths", "--method", method], "--radii", name, table.as_bytes());
        }
    }
    for method in ["modified-fry", "biological-intercept"] {
        for origin in [["20", "100"], ["0", "0"], ["-1", "5"], ["1e308", "1e-308"], ["NaN", "inf"]]
        {
            let verb = [
                "lengths",
                "--method",
                method,
                &format!("--origin-length={}", origin[0]),
                &format!("--origin-radius={}", origin[1]),
            ];
            let table = format!(
                "{heading}\n{}\n",
                radii(9).iter().map(|row| row.join(",")).collect::<Vec<_>>().join("\n")
            );
            try_verb(&verb, "--radii", &origin.join(" "), table.as_bytes());
        }
    }
}

#[test]
fn lengths_at_ages_up_to_120() {
    let annuli: Vec<String> = (1..=120).map(|annulus| format!("a{annulus}_um")).collect();
    let mut table = format!("fish,length_mm,radius_um,{}\n", annuli.join(","));
    for age in 0..=120_usize {
        let cells: Vec<String> = (1..=120)
            .map(|annulus| if annulus <= age { (annulus * 20).to_string() } else { String::new() })
            .collect();
        let _ = writeln!(table, "f{age},{},{},{}", 100 + 5 * age, 2500 + 9 * age, cells.join(","));
    }
    let run = try_verb(&["lengths"], "--radii", "ages 0 to 120", table.as_bytes());
    assert_eq!(run.status, 0, "{}", run.err);
    let found = run.json();
    assert_eq!(found["by_age"].as_array().unwrap().len(), 120);
    let wrong_unit =
        table.lines().skip(1).fold(format!("{}\n", table.lines().next().unwrap()), |text, line| {
            let cells: Vec<String> = line
                .split(',')
                .enumerate()
                .map(|(column, cell)| match cell.parse::<f64>() {
                    Ok(um) if column > 1 => (um / 1000.0).to_string(),
                    _ => cell.to_owned(),
                })
                .collect();
            text + &cells.join(",") + "\n"
        });
    try_verb(&["lengths"], "--radii", "millimetres for micrometres", wrong_unit.as_bytes());
}

#[test]
fn agreement_of_odd_ages() {
    let rows: Vec<Vec<String>> = (0..12_usize)
        .map(|fish| {
            vec![format!("f{fish}"), (fish % 5).to_string(), (fish % 4 + fish / 9).to_string()]
        })
        .collect();
    for (name, table) in variants("fish,kb,tv", &rows) {
        try_verb(&["agree"], "--ages", &name, table.as_bytes());
    }
    let mut table = "fish,kb,tv,ml\n".to_owned();
    for age in 0..=120 {
        let _ = writeln!(table, "f{age},{age},{},{}", 120 - age, age);
    }
    try_verb(&["agree"], "--ages", "ages 0 to 120", table.as_bytes());
}

#[test]
fn growth_of_odd_lengths() {
    let rows: Vec<Vec<String>> = (1..14_usize)
        .map(|age| vec![(age % 9).to_string(), (400 - 300 / (1 + age % 9) + age).to_string()])
        .collect();
    for (name, table) in variants("age,length", &rows).iter().step_by(2) {
        for curve in ["von-bertalanffy", "gompertz"] {
            try_verb(&["growth", "--curve", curve], "--length-at-age", name, table.as_bytes());
        }
    }
    let mut table = "age,length\n".to_owned();
    for age in 0..=120 {
        let _ = writeln!(table, "{age},{}", 500.0 * (1.0 - (-0.1 * (f64::from(age) + 0.5)).exp()));
    }
    for curve in ["von-bertalanffy", "logistic", "richards", "francis"] {
        try_verb(
            &["growth", "--curve", curve],
            "--length-at-age",
            "ages 0 to 120 without scatter",
            table.as_bytes(),
        );
    }
}

#[test]
fn ages_of_odd_lengths() {
    let folder = tempfile::tempdir().unwrap();
    let unaged = folder.path().join("unaged.csv");
    let rows: Vec<Vec<String>> = (0..12_usize)
        .map(|fish| vec![(150 + fish * 23).to_string(), (fish / 2).to_string()])
        .collect();
    let bare = |rows: &str| format!("length_mm\n{rows}");
    for other in ["151\n200\n333\n", "", "1e308\n", "NaN\n-1\n0\n"] {
        std::fs::write(&unaged, bare(other)).unwrap();
        let step = if other.starts_with("151") { 1 } else { 7 };
        for (name, table) in variants("length_mm,age", &rows).iter().step_by(step) {
            let verb = ["ages", "--width", "25", "--unaged", &text(&unaged)];
            try_verb(&verb, "--aged", name, table.as_bytes());
        }
    }
    let sound: String = rows.iter().map(|row| row.join(",") + "\n").collect();
    for width in ["0", "-1", "NaN", "inf", "1e-300", "1e300"] {
        std::fs::write(&unaged, bare("151\n200\n")).unwrap();
        let verb = ["ages", &format!("--width={width}"), "--unaged", &text(&unaged)];
        try_verb(&verb, "--aged", width, format!("length_mm,age\n{sound}").as_bytes());
    }
}

/// A survey whose field sheet holds odd numbers is checked and compared without a panic.
#[test]
fn surveys_of_odd_fish() {
    let heading = "fish,capture_date,length,weight,sex,scans";
    let rows: Vec<Vec<String>> = (0..5_usize)
        .map(|fish| {
            [
                format!("f{fish}"),
                "2025-10-06".into(),
                (180 + 9 * fish).to_string(),
                "60".into(),
                "f".into(),
                String::new(),
            ]
            .to_vec()
        })
        .collect();
    for (name, table) in variants(heading, &rows).iter().step_by(3) {
        let (_folder, survey) = crate::run::survey_with(table);
        for verb in [
            &["check"][..],
            &["compare"],
            &["lengths"],
            &["agree"],
            &["growth"],
            &["ages", "--width", "25"],
            &["read"],
        ] {
            let mut arguments: Vec<String> = verb.iter().map(|word| (*word).to_owned()).collect();
            arguments.extend([text(&survey), "--json".to_owned()]);
            judge(&winterline(&arguments), &format!("{} on {name}", verb.join(" ")), true);
        }
    }
}

/// `WINTERLINE_FISH` fish (20 000 without it) in every table: each verb ends in good time.
#[test]
fn very_many_fish() {
    let n_fish: usize =
        std::env::var("WINTERLINE_FISH").map_or(20_000, |text| text.parse().unwrap());
    let longest = Duration::from_secs(60 + n_fish as u64 / 5_000);
    let table = |heading: &str, row: &dyn Fn(usize) -> String| {
        (0..n_fish).fold(format!("{heading}\n"), |text, fish| text + &row(fish) + "\n")
    };
    let age = |fish: usize| fish * 7 % 11;
    let length =
        |fish: usize| 100.0 + 60.0 * (1.0 + age(fish) as f64).ln() * 2.0 + (fish * 31 % 40) as f64;
    let all_radii = table("fish,length_mm,radius_um,a1_um,a2_um,a3_um", &|fish| {
        let um = length(fish) * 8.0 + (fish * 17 % 90) as f64;
        format!("f{fish},{:.0},{um},{},{},{}", length(fish), um * 0.3, um * 0.55, um * 0.8)
    });
    let one_fish =
        table("fish,length_mm,radius_um,a1_um", &|row| format!("f,200,{},500", 2000 + row));
    let ages = table("fish,kb,tv", &|fish| {
        format!("f{fish},{},{}", age(fish), age(fish) + usize::from(fish % 9 == 0))
    });
    let at_age = table("age,length", &|fish| format!("{},{:.1}", age(fish), length(fish)));
    for (verb, flag, bytes) in [
        (&["lengths"][..], "--radii", &all_radii),
        (&["lengths"], "--radii", &one_fish),
        (&["agree"], "--ages", &ages),
        (&["growth", "--curve", "von-bertalanffy"], "--length-at-age", &at_age),
    ] {
        let began = Instant::now();
        let run = try_verb(verb, flag, "very many fish", bytes.as_bytes());
        let took = began.elapsed();
        eprintln!("{} of {n_fish} fish, twice: {took:?}, status {}", verb[0], run.status);
        assert!(took < longest, "{}: {took:?}", verb[0]);
    }
}
