//! The demo survey is the one kept under `fixtures/`. (That its pictures and readings are too is compared by `.ci/run`,
//! since drawing 120 scans takes its time.)

use winterline::domain::reading::Structure;
use winterline::domain::survey::Survey;
use winterline::simulate::lake::{draw_lake, maple_hollow};
use winterline::store::field_sheet_writer::write_field_sheet;

fn fixture(name: &str) -> String {
    let path = format!("{}/fixtures/maple-hollow-2025/{name}", env!("CARGO_MANIFEST_DIR"));
    std::fs::read_to_string(path).unwrap()
}

#[test]
fn the_field_sheet_of_the_lake_is_as_kept() {
    let folder = tempfile::tempdir().unwrap();
    let plan = maple_hollow();
    let fish: Vec<_> = draw_lake(&plan).into_iter().map(|one| one.fish).collect();
    let survey = Survey::new("a lake", plan.water, Structure::Scale);
    write_field_sheet(folder.path(), &survey, &fish, None).unwrap();
    assert_eq!(
        std::fs::read_to_string(folder.path().join("fish.csv")).unwrap(),
        fixture("fish.csv")
    );
}

#[test]
fn both_readers_readings_are_kept() {
    let kept: serde_json::Value = serde_json::from_str(&fixture("readings.json")).unwrap();
    let readings = kept["readings"].as_array().unwrap();
    let n_of = |reader: &str| readings.iter().filter(|reading| reading["reader"] == reader).count();
    assert_eq!((n_of("kb"), n_of("ml")), (108, 100));
}
