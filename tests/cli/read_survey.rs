//! Surveys with readings, for verbs that work on them.

use std::path::{Path, PathBuf};

use winterline::domain::axis::Axis;
use winterline::domain::calibration::{Calibration, CalibrationSource};
use winterline::domain::reading::{
    Certainty, EdgeCondition, ImpressionReading, Mark, MarkKind, MarkOrigin, Outcome,
    ReaderInitials, ReadingState, ScanIdentity, ScanReading, Structure,
};
use winterline::domain::units::Pixels;
use winterline::imaging::encode::png_bytes;
use winterline::store::sidecar::save_reading;

use crate::run::slope;

/// A fish as it is read.
#[derive(Clone)]
pub struct ReadFish {
    pub length_mm: f64,
    pub captured: &'static str,
    pub sex: &'static str,
    pub year_class: Option<i16>,
    pub radius_um: f64,
    pub annuli_um: Vec<f64>,
}

/// A fish of this length with annuli at equal steps, the age of `n` annuli in autumn.
pub fn fish(length_mm: f64, n: u32) -> ReadFish {
    let annuli_um = (1..=n).map(|i| 400.0 * f64::from(i)).collect();
    let radius_um = 400.0 * f64::from(n) + 200.0;
    ReadFish { length_mm, captured: "2025-10-06", sex: "", year_class: None, radius_um, annuli_um }
}

/// Writes a survey of fish 1, 2, ... all on one scan, read by nobody yet.
pub fn survey(folder: &Path, name: &str, water: &str, fish: &[ReadFish]) -> PathBuf {
    let survey = folder.join(name);
    std::fs::create_dir_all(survey.join("scans")).unwrap();
    let settings = format!(
        r#"{{"format": "winterline-survey", "version": 1, "name": "{name}", "water": "{water}", "species": "yellow perch",
            "structure": "scale", "readers": ["kb", "rt"]}}"#
    );
    std::fs::write(survey.join("survey.json"), settings).unwrap();
    let mut rows = "fish,capture_date,length,sex,known_year_class,scans\n".to_owned();
    for (number, one) in (1..).zip(fish) {
        let year_class = one.year_class.map(|year| year.to_string()).unwrap_or_default();
        rows.push_str(&format!(
            "{number},{},{},{},{year_class},S.png\n",
            one.captured, one.length_mm, one.sex
        ));
    }
    std::fs::write(survey.join("fish.csv"), rows).unwrap();
    std::fs::write(survey.join("scans/S.png"), png_bytes(&slope(), Some([10.0, 10.0])).unwrap())
        .unwrap();
    survey
}

/// Saves confirmed readings of all fish by one reader, whose ages are the number of annuli of `fish`.
pub fn read_by(survey: &Path, reader: &str, fish: &[ReadFish], aided: bool) {
    let reader = ReaderInitials::new(reader).unwrap();
    let bytes = std::fs::read(survey.join("scans/S.png")).unwrap();
    let scan = ScanIdentity {
        file: "S.png".into(),
        width_px: 64,
        height_px: 48,
        blake3: blake3::hash(&bytes).to_hex().to_string(),
    };
    let impressions = (1..).zip(fish).map(|(number, one)| impression(number, one, aided)).collect();
    let calibration = Calibration::new(10.0, 10.0, CalibrationSource::FileTag).ok();
    let reading = ScanReading { scan, reader: reader.clone(), calibration, impressions };
    save_reading(survey, &reader, &reading, None).unwrap();
}

fn impression(number: u32, fish: &ReadFish, aided: bool) -> ImpressionReading {
    let mut reading = ImpressionReading::new(number, number.to_string(), Structure::Scale);
    let at = |um: f64| Pixels(um / 10.0);
    let end = at(fish.radius_um).0 + 10.0;
    reading.axis = Axis::new(vec![kurbo::Point::new(0.0, 20.0), kurbo::Point::new(end, 20.0)]).ok();
    reading.edge = Some(at(fish.radius_um));
    reading.marks = fish
        .annuli_um
        .iter()
        .map(|um| Mark {
            kind: MarkKind::Annulus,
            position: at(*um),
            origin: MarkOrigin::ByHand,
            certainty: Certainty::Clear,
        })
        .collect();
    reading.edge_condition = Some(EdgeCondition::Narrow);
    reading.outcome = Some(Outcome::Aged);
    reading.age = Some(fish.annuli_um.len() as u32);
    reading.state = ReadingState::Confirmed;
    reading.conditions.proposals_shown = aided;
    reading
}
