//! Survey folders as crews leave them, and what is told about each.

use std::path::Path;

use crate::domain::progress::Progress;
use crate::domain::reading::{
    ImpressionReading, Outcome, ReaderInitials, ReadingState, ScanIdentity, ScanReading, Structure,
};
use crate::domain::survey::Survey;

use super::collection::OpenSurvey;
use super::fingerprint::Fingerprint;
use super::sidecar::save_reading;
use super::survey_check::SurveyCheck;
use super::survey_file::write_survey;

struct Pond(tempfile::TempDir);

impl Pond {
    fn new(fish: &str) -> Self {
        let pond = Self(tempfile::tempdir().unwrap());
        let mut survey =
            Survey::new("Maple Hollow Pond 2025", "Maple Hollow Pond", Structure::Scale);
        survey.species = "yellow perch".to_owned();
        survey.readers = vec![ReaderInitials::new("kb").unwrap()];
        write_survey(pond.path(), &survey, None).unwrap();
        pond.file("fish.csv", &format!("fish,capture_date,length,run,scans\n{fish}"));
        pond
    }

    fn path(&self) -> &Path {
        self.0.path()
    }

    fn file(&self, name: &str, text: &str) {
        std::fs::write(self.path().join(name), text).unwrap();
    }

    fn scan(&self, name: &str) {
        self.file(&format!("scans/{name}"), name);
    }

    fn reading(&self, scan: &str, reader: &str, fish: &str) {
        let reader = ReaderInitials::new(reader).unwrap();
        let mut impression = ImpressionReading::new(1, fish, Structure::Scale);
        impression.outcome = Some(Outcome::Unreadable);
        impression.state = ReadingState::Confirmed;
        let reading = ScanReading {
            scan: ScanIdentity {
                file: scan.to_owned(),
                width_px: 10,
                height_px: 10,
                blake3: Fingerprint::of(scan.as_bytes()).blake3_hex(),
            },
            reader: reader.clone(),
            calibration: None,
            impressions: vec![impression],
        };
        save_reading(self.path(), &reader, &reading, None).unwrap();
    }

    fn check(&self) -> (SurveyCheck, Vec<String>) {
        let check = OpenSurvey::open(self.path()).unwrap().check(&Progress::new()).unwrap();
        let told = check.problems.iter().map(ToString::to_string).collect();
        (check, told)
    }

    /// The one problem there is.
    fn only_problem(&self) -> String {
        let (_, told) = self.check();
        assert_eq!(told.len(), 1, "{told:?}");
        told.into_iter().next().unwrap()
    }
}

const ONE_FISH: &str = "001,2025-04-03,200,1,a.tif\n";

fn good() -> Pond {
    let pond = Pond::new(ONE_FISH);
    pond.scan("a.tif");
    pond.reading("a.tif", "kb", "001");
    pond
}

#[test]
fn a_whole_survey_has_no_problems() {
    let pond = good();
    let (check, told) = pond.check();
    assert_eq!(told, Vec::<String>::new());
    assert_eq!((check.n_fish, check.n_scans, check.n_confirmed, check.n_drafts), (1, 1, 1, 0));
    let opened = OpenSurvey::open(pond.path()).unwrap();
    assert_eq!(opened.fish_on("a.tif").count(), 1);
    assert_eq!(opened.sidecars_of(&ReaderInitials::new("KB").unwrap()).count(), 1);
    assert!(opened.scan_path("../survey.json").is_err());
}

#[test]
fn opening_changes_nothing_on_disk() {
    let pond = good();
    pond.file("scans/a.tif.tv.json", "{broken");
    let before = std::fs::read_dir(pond.path().join("scans")).unwrap().count();
    let (_, told) = pond.check();
    assert!(told.iter().any(|text| {
        text.starts_with("error: scans/a.tif.tv.json: the sidecar cannot be read")
    }));
    assert_eq!(std::fs::read_dir(pond.path().join("scans")).unwrap().count(), before);
    assert_eq!(std::fs::read(pond.path().join("scans/a.tif.tv.json")).unwrap(), b"{broken");
}

#[test]
fn files_that_do_not_belong_are_told() {
    for (name, expected) in [
        ("b.tif", "warning: scans/b.tif: no fish claims this scan"),
        ("a.tif.kb (conflicted copy).json", "looks like a second copy"),
        ("a.tif.kb (1).json", "looks like a second copy"),
        ("a (conflicted copy).tif.kb.json", "looks like a second copy"),
        ("notes.json", "not the name of a sidecar"),
        ("a.tif.kb.json.unreadable-1", "name it 'a.tif.kb.json'"),
        (".a.tif.kb.json.Xy12Za", "left over from a save"),
        ("bad..name.tif", "this scan is not read: two dots"),
    ] {
        let pond = good();
        pond.scan(name);
        let told = pond.only_problem();
        assert!(told.starts_with("warning: scans/") && told.contains(expected), "{name}: {told}");
    }
    let pond = good();
    pond.file("fish (conflicted copy).csv", "");
    assert!(
        pond.only_problem().starts_with("warning: fish (conflicted copy).csv: this looks like")
    );
    let pond = good();
    pond.scan("readme.txt");
    pond.scan(".DS_Store");
    assert_eq!(pond.check().1, Vec::<String>::new());
}

#[test]
fn fish_and_scans_that_miss_each_other_are_told() {
    let pond = good();
    pond.file("fish.csv", "fish,capture_date,length,scans\n001,2025-04-03,200,a.tif | c.tif\n");
    let told = pond.only_problem();
    assert!(
        told.starts_with("error: fish.csv, row 2, column 'scans': fish '001' has a scan 'c.tif'"),
        "{told}"
    );

    pond.file(
        "fish.csv",
        "fish,capture_date,length,scans\n001,2025-04-03,200,a.tif\n002,2025-04-03,210,\n",
    );
    let told = pond.only_problem();
    assert!(
        told.starts_with("warning: fish.csv, row 3, column 'scans': fish '002' has no scan"),
        "{told}"
    );

    pond.file("fish.csv", "fish,capture_date,length,scans\n001,2025-04-03,200,A.TIF\n");
    let told = pond.only_problem();
    assert!(told.contains("'A.TIF' is named 'a.tif' on disk"), "{told}");
    assert_eq!(OpenSurvey::open(pond.path()).unwrap().fish[0].scans, ["a.tif"]);
}

#[test]
fn sidecars_that_do_not_fit_are_told() {
    let pond = good();
    std::fs::rename(pond.path().join("scans/a.tif"), pond.path().join("scans/z.tif")).unwrap();
    let (_, told) = pond.check();
    assert!(
        told.iter().any(|text| text.starts_with(
            "error: scans/a.tif.kb.json: the scan 'a.tif' of this sidecar is missing"
        )),
        "{told:?}"
    );

    let pond = good();
    pond.file("scans/a.tif", "another picture");
    let told = pond.only_problem();
    assert!(told.starts_with("error: scans/a.tif.kb.json, column 'scan.blake3': "), "{told}");

    let pond = good();
    pond.reading("a.tif", "tv", "001");
    let told = pond.only_problem();
    assert!(told.contains("reader 'tv' is not among the readers in survey.json"), "{told}");

    let pond = good();
    pond.file("fish.csv", "fish,capture_date,length,scans\n1,2025-04-03,200,a.tif\n");
    let told = pond.only_problem();
    assert!(
        told.contains("column 'impressions[0].fish': impression 1 belongs to fish '001'"),
        "{told}"
    );
}

#[test]
#[cfg(target_os = "linux")]
fn two_files_of_one_reader_are_told() {
    let pond = good();
    let sidecar = std::fs::read_to_string(pond.path().join("scans/a.tif.kb.json")).unwrap();
    pond.file("scans/a.tif.KB.json", &sidecar);
    let told = pond.only_problem();
    assert!(
        told.starts_with("error: scans/a.tif.kb.json: initials that differ only in letter case"),
        "{told}"
    );
    assert!(told.contains("'a.tif.KB.json'"), "{told}");
}

#[test]
fn micrometres_changed_by_hand_are_told() {
    use crate::domain::axis::Axis;
    use crate::domain::calibration::{Calibration, CalibrationSource};
    use crate::domain::units::Pixels;
    use kurbo::Point;

    let pond = Pond::new(ONE_FISH);
    pond.scan("a.tif");
    let kb = ReaderInitials::new("kb").unwrap();
    let mut impression = ImpressionReading::new(1, "001", Structure::Scale);
    impression.axis = Some(Axis::straight(Point::ORIGIN, Point::new(0.0, 9.0)).unwrap());
    impression.edge = Some(Pixels(8.0));
    let reading = ScanReading {
        scan: ScanIdentity {
            file: "a.tif".to_owned(),
            width_px: 9,
            height_px: 9,
            blake3: String::new(),
        },
        reader: kb.clone(),
        calibration: Some(Calibration::new(2.0, 2.0, CalibrationSource::Stated).unwrap()),
        impressions: vec![impression],
    };
    save_reading(pond.path(), &kb, &reading, None).unwrap();
    assert_eq!(pond.check().1, Vec::<String>::new());
    let path = pond.path().join("scans/a.tif.kb.json");
    let text = std::fs::read_to_string(&path).unwrap();
    std::fs::write(&path, text.replace("\"position_um\": 16.0", "\"position_um\": 17.0")).unwrap();
    let told = pond.only_problem();
    assert!(
        told.contains("column 'impressions[0].margin.position_um': the micrometres do not fit"),
        "{told}"
    );
}

#[test]
fn the_other_tables_are_checked_too() {
    let pond = good();
    pond.file("effort.csv", "run,date,hours\n2,2025-04-03,1\n3,2025-04-03,-1\n");
    let (_, told) = pond.check();
    assert_eq!(told.len(), 2, "{told:?}");
    assert!(told[0].starts_with("error: effort.csv, row 3, column 'hours'"), "{told:?}");
    assert!(told[1].contains("row 2, column 'run': run '1' is not in effort.csv"), "{told:?}");
}

#[test]
fn a_check_can_be_stopped() {
    let progress = Progress::new();
    progress.stop();
    assert!(OpenSurvey::open(good().path()).unwrap().check(&progress).is_err());
}

#[test]
fn many_files_are_sorted_into_scans_and_sidecars() {
    let pond = Pond::new("");
    for number in 0..3000 {
        pond.scan(&format!("MH-{number:04}.tif"));
        pond.scan(&format!("MH-{number:04}.tif.kb.json"));
    }
    let opened = OpenSurvey::open(pond.path()).unwrap();
    assert_eq!((opened.scans.len(), opened.sidecars.len()), (3000, 3000));
    assert_eq!(opened.scans[17], "MH-0017.tif");
    assert_eq!(opened.problems.len(), 3000);
}

#[test]
fn a_faulty_row_still_claims_its_scan_and_its_readings() {
    let pond = good();
    pond.file("fish.csv", "fish,capture_date,length,scans\n001,2025-04-03,-5,a.tif\n");
    let told = pond.only_problem();
    assert!(told.starts_with("error: fish.csv, row 2, column 'length'"), "{told}");
    let opened = OpenSurvey::open(pond.path()).unwrap();
    assert_eq!((opened.fish.len(), opened.faulty_fish.len()), (0, 1));
}
