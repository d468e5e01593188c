//! Files of the workbench: jobs files and a person's settings, damaged in every way.

use std::path::Path;

use proptest::prelude::*;
use serde_json::{Value, json};
use winterline::workbench::propose_jobs::parse_jobs;
use winterline::workbench::settings::Settings;

use crate::bench::Bench;
use crate::cases::{self, damaged};
use crate::damage_json::damage_json;
use crate::messages::{judge, judge_all};

fn jobs() -> Value {
    json!([
        {"image": "scans/MH-0012.tif", "structure": "scale", "um_per_px": 5.29, "box": [10, 20, 300.5, 400],
         "light": "reflected", "focus": [100.5, 200], "axis": [[100.5, 200], [180, 260], [300, 300]]},
        {"image": "b.png", "structure": "otolith", "um_per_px": [2, 2.5], "light": "transmitted"},
        {"image": "c.png", "structure": "scale", "um_per_px": null, "box": null, "focus": null, "axis": null},
    ])
}

/// The command line puts the name of the file before these.
#[test]
fn jobs_files() {
    let sound = jobs().to_string();
    cases::run(&damaged(), |(_, ops)| {
        let bytes = damage_json(sound.as_bytes(), &ops);
        let Ok(text) = String::from_utf8(bytes) else { return Ok(()) };
        let entries = match parse_jobs(&text, Path::new("folder")) {
            Ok(entries) => entries,
            Err(message) => return judge(&format!("jobs.json: {message}"), &["jobs.json"]),
        };
        for entry in entries {
            match entry {
                Ok(job) => {
                    let box_sides = job.bounds.map_or([0.0; 4], |b| [b.x0, b.y0, b.x1, b.y1]);
                    let points = job.axis.iter().flatten().chain(&job.focus);
                    let coordinates = points.flat_map(|point| [point.x, point.y]);
                    let sizes = job.um_per_px.iter().flatten().copied();
                    let mut numbers = coordinates.chain(box_sides).chain(sizes);
                    prop_assert!(numbers.all(f64::is_finite));
                }
                Err(bad) => {
                    prop_assert!(!ops.is_empty(), "a sound job was refused: {}", bad);
                    judge(&format!("jobs.json: {bad}"), &["jobs.json"])?;
                }
            }
        }
        Ok(())
    });
}

#[test]
fn settings_of_a_person() {
    let bench = Bench::new();
    let sound = json!({"interface_scale": 1.25, "theme": "dark", "recent_surveys": ["/a/b", "c"], "guide_done": true,
        "scan_tones": {"MH-1.tif": {"low": 0.1, "high": 0.9, "gamma": 1.2}}, "keys": {"undo": ["Ctrl+Z"]}, "other": [1]})
    .to_string();
    cases::run(&damaged(), |(_, ops)| {
        let bytes = damage_json(sound.as_bytes(), &ops);
        let path = bench.put("settings.json", &bytes);
        match Settings::load(&path) {
            Ok((settings, problems)) => {
                prop_assert!(settings.interface_scale.is_finite());
                settings.save(&path).unwrap();
                let (again, _) = Settings::load(&path).unwrap();
                prop_assert_eq!(again.to_json(), settings.to_json());
                let shown: Vec<String> = problems
                    .iter()
                    .map(|problem| format!("settings.json: look: {problem}"))
                    .collect();
                judge_all(&shown, &["settings.json"])
            }
            Err(message) => {
                prop_assert_eq!(std::fs::read(&path).unwrap(), bytes);
                judge(&message, &["settings.json"])
            }
        }
    });
}
