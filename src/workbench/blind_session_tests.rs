//! Nothing leaks: all that a reader's window holds of a list, and all that it writes before closing, is searched for
//! what would tell the fish.

use std::path::Path;

use jiff::Timestamp;
use kurbo::{Point, Rect};

use crate::domain::axis::Axis;
use crate::domain::blind::{BlindPolicy, BlindRule, ListName};
use crate::domain::calibration::{Calibration, CalibrationSource};
use crate::domain::progress::Progress;
use crate::domain::reading::{
    Certainty, ImpressionReading, Mark, MarkKind, MarkOrigin, Outcome, ReaderInitials,
    ReadingState, ScanIdentity, ScanReading, Structure,
};
use crate::domain::resolution::{Rule, ages_by_rule};
use crate::domain::survey::Survey;
use crate::domain::units::Pixels;
use crate::imaging::encode::png_bytes;
use crate::imaging::raster::{Raster, Samples};
use crate::store::blind::{close_list, load_list};
use crate::store::blind_error::BlindError;
use crate::store::blind_filing::file_closed_lists;
use crate::store::blind_pack::parts_of;
use crate::store::blind_take_in::take_in;
use crate::store::collection::OpenSurvey;
use crate::store::fingerprint::Fingerprint;
use crate::store::sidecar::save_reading;
use crate::store::survey_file::write_survey;

use super::blind_lists::{DrawnList, NewList, new_list, pack_list};
use super::blind_session::{BlindSession, open_blind, open_blind_pack};
use super::resolve_readings::readings_and_resolutions;

/// Fish, capture date, length, weight, age so far, scan; each of them a text that occurs nowhere else.
const FISH: [(&str, &str, &str, &str, u32, &str); 4] = [
    ("0412", "2025-04-17", "287.5", "311.75", 37, "slide-A7.png"),
    ("0413", "2025-04-18", "198.25", "104.25", 41, "slide-A7.png"),
    ("0977", "2024-11-26", "333.75", "512.625", 53, "MH-0977.png"),
    ("0978", "2024-11-27", "402.5", "777.25", 61, "MH-0978.png"),
];

/// What must not be found: fish numbers, file names, lengths, weights, days and years, earlier ages, boxes, hashes.
fn secrets(pond: &Pond) -> Vec<String> {
    let mut all: Vec<String> = Vec::new();
    for (fish, date, length, weight, age, scan) in FISH {
        let hash = Fingerprint::of_file(&pond.path().join("scans").join(scan))
            .unwrap()
            .unwrap()
            .blake3_hex();
        let words = [fish, date, length, weight, scan, &scan[..scan.len() - 4], &hash];
        all.extend(words.map(str::to_owned));
        all.push(format!("\"age\": {age}"));
        all.push(format!("age: Some({age})"));
    }
    all.extend(
        ["2024-", "slide", "MH-", ".png", "um_per_px", "8.125", "Maple Hollow", "987654321"]
            .map(str::to_owned),
    );
    all
}

fn leaks(text: &str, secrets: &[String]) -> Vec<String> {
    secrets.iter().filter(|secret| text.contains(secret.as_str())).cloned().collect()
}

struct Pond(tempfile::TempDir);

impl Pond {
    fn new() -> Self {
        let pond = Self(tempfile::Builder::new().prefix("maple-hollow-2024-").tempdir().unwrap());
        let mut survey =
            Survey::new("Maple Hollow Pond 2025", "Maple Hollow Pond", Structure::Scale);
        survey.species = "yellow perch".to_owned();
        survey.readers = vec![reader("kb"), reader("tv")];
        write_survey(pond.path(), &survey, None).unwrap();
        let mut sheet = "fish,capture_date,length,weight,scans,known_year_class\n".to_owned();
        for (fish, date, length, weight, _, scan) in FISH {
            let known = if fish == "0977" { "2021" } else { "" };
            sheet += &format!("{fish},{date},{length},{weight},{scan},{known}\n");
        }
        std::fs::write(pond.path().join("fish.csv"), sheet).unwrap();
        for (number, (_, _, _, _, _, scan)) in FISH.iter().enumerate().skip(1) {
            let png = png_bytes(&picture(number as u8), Some([8.125, 8.125])).unwrap();
            std::fs::write(pond.path().join("scans").join(scan), png).unwrap();
        }
        for scan in ["slide-A7.png", "MH-0977.png"] {
            pond.read_by_kb(scan);
        }
        pond
    }

    fn path(&self) -> &Path {
        self.0.path()
    }

    fn open(&self) -> OpenSurvey {
        OpenSurvey::open(self.path()).unwrap()
    }

    /// The first reading: two boxes on the slide, an axis without a box on the other scan.
    fn read_by_kb(&self, scan: &str) {
        let fish: Vec<_> = FISH.iter().filter(|fish| fish.5 == scan).collect();
        let impressions = (1..).zip(&fish).map(|(number, fish)| {
            let left = f64::from(number - 1) * 60.0;
            let mut one = ImpressionReading::new(number, fish.0, Structure::Scale);
            one.bounds =
                (fish.5 == "slide-A7.png").then_some(Rect::new(left + 3.5, 9.5, left + 53.5, 69.5));
            one.axis = Some(
                Axis::straight(Point::new(left + 30.0, 40.0), Point::new(left + 30.0, 20.0))
                    .unwrap(),
            );
            one.edge = Some(Pixels(18.0));
            one.outcome = Some(Outcome::Aged);
            one.age = Some(fish.4);
            one.state = ReadingState::Confirmed;
            one.note = format!("fish {} looks old", fish.0);
            one
        });
        let hash = Fingerprint::of_file(&self.path().join("scans").join(scan)).unwrap().unwrap();
        let scan = ScanIdentity {
            file: scan.to_owned(),
            width_px: 120,
            height_px: 80,
            blake3: hash.blake3_hex(),
        };
        let calibration = Calibration::new(8.125, 8.125, CalibrationSource::FileTag).ok();
        let reading = ScanReading {
            scan,
            reader: reader("kb"),
            calibration,
            impressions: impressions.collect(),
        };
        save_reading(self.path(), &reader("kb"), &reading, None).unwrap();
    }

    fn draw(&self, name: &str, policy: BlindPolicy) -> DrawnList {
        let survey = self.open();
        let readings = survey.load_readings(&Progress::new()).unwrap();
        let new = NewList {
            name: ListName::new(name).unwrap(),
            seed: 987_654_321,
            rule: BlindRule::All,
            n_references: 0,
            policy,
            by: Some(reader("lead")),
        };
        new_list(&survey, &readings, &new, Timestamp::UNIX_EPOCH, &Progress::new()).unwrap()
    }
}

/// 120 x 80 pixels, each with a value that tells column, row and scan.
fn picture(number: u8) -> Raster {
    let values =
        (0..80_u16).flat_map(|y| (0..120_u16).map(move |x| x + 256 * y + u16::from(number) * 128));
    Raster::new(120, 80, Samples::Sixteen(values.collect())).unwrap()
}

fn reader(text: &str) -> ReaderInitials {
    ReaderInitials::new(text).unwrap()
}

fn june() -> ListName {
    ListName::new("june").unwrap()
}

fn marked(age: u32) -> ImpressionReading {
    let mut one = ImpressionReading::new(1, "", Structure::Scale);
    one.axis = Some(Axis::straight(Point::new(20.0, 30.0), Point::new(20.0, 4.0)).unwrap());
    one.edge = Some(Pixels(22.0));
    let mark = |px| Mark {
        kind: MarkKind::Annulus,
        position: Pixels(px),
        origin: MarkOrigin::ByHand,
        certainty: Certainty::Clear,
    };
    one.marks = vec![mark(7.0), mark(15.0)];
    one.outcome = Some(Outcome::Aged);
    one.age = Some(age);
    one.state = ReadingState::Confirmed;
    one.confirmed = Some("2026-01-05T10:00:00Z".parse().unwrap());
    one
}

fn read_all(session: &mut BlindSession) {
    let tags: Vec<String> = session.items().iter().map(|item| item.tag.clone()).collect();
    for tag in tags {
        session.save(&tag, marked(2)).unwrap();
    }
}

#[test]
fn nothing_that_a_session_holds_or_writes_tells_the_fish() {
    let pond = Pond::new();
    let drawn = pond.draw("june", BlindPolicy::default());
    assert_eq!((drawn.n_entries, drawn.n_whole_scans, drawn.left_out.len()), (4, 1, 0));
    let secrets = secrets(&pond);
    let before: Vec<_> = std::fs::read_dir(pond.path().join("lists")).unwrap().collect();
    let mut session = open_blind(&pond.open(), &june(), &reader("tv")).unwrap();
    assert_eq!(before.len(), 1);
    // The window may hand over more than it should; none of it is kept.
    let mut careless = marked(2);
    careless.fish = "0412".to_owned();
    careless.bounds = Some(Rect::new(3.5, 9.5, 53.5, 69.5));
    let first = session.items()[0].tag.clone();
    session.save(&first, careless).unwrap();
    read_all(&mut session);
    assert_eq!(session.progress(), (4, 4));
    let written = std::fs::read_to_string(session.path()).unwrap();
    let held = format!("{session:?} {session:#?} {:?} {:?}", session.pictures(), session.items());
    for text in [&written, &held] {
        assert_eq!(leaks(text, &secrets), Vec::<String>::new(), "{text}");
        assert!(text.contains(&first));
    }
    assert_eq!(std::fs::read_dir(pond.path().join("lists")).unwrap().count(), 2);

    // The search finds what it is meant to find: every secret, in the list with the mapping or planted by hand.
    let mapping = std::fs::read_to_string(&drawn.path).unwrap();
    for planted in ["0412", "slide-A7.png", "MH-0977.png", "0413"] {
        assert!(leaks(&mapping, &secrets).iter().any(|leak| leak == planted), "{planted}");
    }
    for secret in &secrets {
        assert!(!leaks(&format!("{held}{secret}"), &secrets).is_empty());
    }
    let mut noted = marked(2);
    noted.note = "same as fish 0978".to_owned();
    session.save(&first, noted).unwrap();
    assert_eq!(leaks(&format!("{session:?}"), &secrets), ["0978"]);
}

#[test]
fn the_policy_decides_what_is_shown() {
    let pond = Pond::new();
    pond.draw("june", BlindPolicy::default());
    let hidden =
        BlindPolicy { species: false, structure: false, capture_month: false, proposals: true };
    pond.draw("bare", hidden);
    let shown = open_blind(&pond.open(), &june(), &reader("tv")).unwrap();
    assert!(!shown.shows_proposals());
    let mut months: Vec<Option<i8>> = shown.items().iter().map(|item| item.capture_month).collect();
    months.sort_unstable();
    assert_eq!(months, [Some(4), Some(4), Some(11), Some(11)]);
    assert!(shown.items().iter().all(|item| item.species.as_deref() == Some("yellow perch")));
    let bare = open_blind(&pond.open(), &ListName::new("bare").unwrap(), &reader("tv")).unwrap();
    assert!(bare.shows_proposals());
    for item in bare.items() {
        assert_eq!(
            (&item.species, item.structure, item.light, item.capture_month),
            (&None, None, None, None)
        );
    }
}

#[test]
fn a_picture_is_the_box_and_its_errors_name_no_scan() {
    let pond = Pond::new();
    pond.draw("june", BlindPolicy::default());
    let session = open_blind(&pond.open(), &june(), &reader("tv")).unwrap();
    let list = load_list(pond.path(), &june()).unwrap().list;
    for entry in &list.entries {
        let shown = session.pictures().open(&entry.tag).unwrap();
        let whole = crate::imaging::decode::decode_bytes(
            &std::fs::read(pond.path().join("scans").join(&entry.scan.file)).unwrap(),
            &crate::imaging::decode::Limits::default(),
        );
        let (whole, offset) = (whole.unwrap().raster, entry.scan_from_crop());
        let size = entry.bounds.size();
        assert_eq!((shown.width() as f64, shown.height() as f64), (size.width, size.height));
        for (x, y) in [(0, 0), (7, 3), (shown.width() as isize - 1, shown.height() as isize - 1)] {
            let on_scan = whole.value(x + offset.x as isize, y + offset.y as isize);
            assert_eq!(shown.value(x, y), on_scan, "{x} {y}");
        }
        if entry.fish == "0412" {
            assert_eq!((shown.width(), shown.height()), (50, 60));
        }
    }
    let secrets = secrets(&pond);
    let tag = list
        .entries
        .iter()
        .find(|entry| entry.fish == "0977")
        .map(|entry| entry.tag.clone())
        .unwrap();
    for damaged in [&b"not a picture"[..], b""] {
        std::fs::write(pond.path().join("scans/MH-0977.png"), damaged).unwrap();
        let error = session.pictures().open(&tag).unwrap_err();
        assert_eq!(leaks(&format!("{error} {error:?}"), &secrets), Vec::<String>::new());
    }
    let file = pond.path().join("lists/june.json");
    let text = std::fs::read_to_string(&file).unwrap().replacen("\"scale\"", "\"MH-0977\"", 1);
    std::fs::write(&file, text).unwrap();
    let error = open_blind(&pond.open(), &june(), &reader("tv")).unwrap_err().to_string();
    assert!(error.contains("ask the lead") && !error.contains("0977"), "{error}");
}

#[test]
fn an_unboxed_impression_does_not_give_away_the_earlier_focus() {
    let pond = Pond::new();
    pond.draw("june", BlindPolicy::default());
    let list = load_list(pond.path(), &june()).unwrap().list;
    let entry = list.entries.iter().find(|entry| entry.fish == "0977").unwrap();
    assert!(entry.bounds.area() < 120.0 * 80.0);
    assert!(
        entry.bounds.contains(Point::new(30.0, 40.0))
            && entry.bounds.contains(Point::new(30.0, 22.0))
    );
    assert!((entry.bounds.center() - Point::new(30.0, 40.0)).hypot() > 0.5);
}

#[test]
fn a_list_read_closed_and_filed_gives_the_second_readers_ages() {
    let pond = Pond::new();
    pond.draw("june", BlindPolicy::default());
    let mut session = open_blind(&pond.open(), &june(), &reader("tv")).unwrap();
    read_all(&mut session);
    let tag = session.items()[0].tag.clone();
    let mut draft = marked(3);
    draft.state = ReadingState::Draft;
    session.save(&tag, draft).unwrap();
    let again = open_blind(&pond.open(), &june(), &reader("TV")).unwrap();
    assert_eq!(again.reading(&tag).unwrap().age, Some(3));
    assert_eq!(again.progress(), (4, 4));

    close_list(pond.path(), &june(), None, Timestamp::UNIX_EPOCH).unwrap();
    assert!(matches!(session.save(&tag, marked(4)), Err(BlindError::Closed { .. })));
    assert!(matches!(
        open_blind(&pond.open(), &june(), &reader("tv")),
        Err(BlindError::Closed { .. })
    ));
    let gather = || {
        let survey = pond.open();
        let readings = survey.load_readings(&Progress::new()).unwrap();
        readings_and_resolutions(&survey, &readings).unwrap()
    };
    let meanwhile = gather();
    let by_tv = ages_by_rule(&meanwhile.readings, &[], &Rule::OneReader(reader("tv")));
    assert_eq!(
        by_tv.ages.iter().map(|one| (one.fish.as_str(), one.age)).collect::<Vec<_>>(),
        [("0412", 2), ("0413", 2), ("0977", 2), ("0978", 2)]
    );
    let filed = file_closed_lists(pond.path(), &reader("tv")).unwrap();
    assert_eq!((filed.n_readings, filed.problems.len()), (4, 0));
    // Filing changes where they lie, not what they are.
    let sorted = |mut all: Vec<_>| {
        all.sort_by_key(|one: &crate::domain::resolution::FishReading| {
            (one.fish.clone(), one.reader.to_string())
        });
        all
    };
    assert_eq!(sorted(gather().readings), sorted(meanwhile.readings));
}

#[test]
fn a_pack_goes_to_another_office_and_comes_back() {
    let pond = Pond::new();
    pond.draw("june", BlindPolicy::default());
    let away = tempfile::tempdir().unwrap();
    let pack = away.path().join("june.zip");
    let survey = pond.open();
    pack_list(&survey, &june(), &pack, &Progress::new()).unwrap();
    let taken = pack_list(&survey, &june(), &pack, &Progress::new());
    assert!(matches!(taken, Err(BlindError::Taken { .. })));
    let parts = parts_of(&pack);
    assert_eq!(parts.len(), 5);
    let mut told = String::new();
    for (name, is_timeless, bytes) in parts {
        assert!(is_timeless, "{name}");
        told += name.trim_end_matches(".png");
        if name.ends_with(".png") {
            for chunk in [&b"pHYs"[..], b"tEXt", b"iTXt", b"zTXt", b"tIME", b"eXIf"] {
                assert!(!bytes.windows(4).any(|window| window == chunk));
            }
        } else {
            // The hash of a picture is of the picture in the pack, and its digits mean nothing.
            let text = String::from_utf8(bytes).unwrap();
            assert_eq!(text.matches("picture_blake3").count(), 4);
            let lines = text.lines().filter(|line| !line.contains("picture_blake3"));
            told += &lines.collect::<Vec<_>>().join("\n");
            let hashes: Vec<String> =
                secrets(&pond).into_iter().filter(|secret| secret.len() == 64).collect();
            assert_eq!((hashes.len(), leaks(&text, &hashes).len()), (4, 0));
        }
    }
    assert_eq!(leaks(&told, &secrets(&pond)), Vec::<String>::new(), "{told}");

    let mut theirs = open_blind_pack(&pack, &reader("mo")).unwrap();
    let ours = open_blind(&survey, &june(), &reader("mo")).unwrap();
    assert_eq!(theirs.items(), ours.items());
    for item in ours.items() {
        assert_eq!(
            theirs.pictures().open(&item.tag).unwrap(),
            ours.pictures().open(&item.tag).unwrap()
        );
    }
    read_all(&mut theirs);
    assert_eq!(theirs.path(), away.path().join("june.mo.json"));
    let written = take_in(pond.path(), &theirs.path(), Timestamp::UNIX_EPOCH).unwrap();
    assert_eq!(written, Some(pond.path().join("lists/june.mo.json")));
    close_list(pond.path(), &june(), None, Timestamp::UNIX_EPOCH).unwrap();
    let readings = survey.load_readings(&Progress::new()).unwrap();
    let all = readings_and_resolutions(&survey, &readings).unwrap();
    let by_mo = ages_by_rule(&all.readings, &all.resolutions, &Rule::OneReader(reader("mo")));
    assert_eq!(by_mo.ages.len(), 4);
}

#[test]
fn a_damaged_pack_is_told() {
    let pond = Pond::new();
    pond.draw("june", BlindPolicy::default());
    let pack = pond.path().join("june.zip");
    pack_list(&pond.open(), &june(), &pack, &Progress::new()).unwrap();
    let good = std::fs::read(&pack).unwrap();
    let mut n_told = 0;
    for at in (0..good.len() - 1).step_by(101) {
        let mut flipped = good.clone();
        flipped[at] ^= 0x41;
        for damaged in [good[..at].to_vec(), flipped] {
            std::fs::write(&pack, damaged).unwrap();
            let opened = open_blind_pack(&pack, &reader("mo"));
            let is_whole = opened.is_ok_and(|session| {
                session.items().iter().all(|item| session.pictures().open(&item.tag).is_ok())
            });
            n_told += usize::from(!is_whole);
        }
    }
    assert!(n_told > good.len() / 101, "{n_told}");
}

#[test]
fn a_list_that_cannot_be_packed_leaves_no_part_of_a_pack() {
    let pond = Pond::new();
    pond.draw("june", BlindPolicy::default());
    std::fs::remove_file(pond.path().join("scans/MH-0978.png")).unwrap();
    let away = tempfile::tempdir().unwrap();
    let result = pack_list(&pond.open(), &june(), &away.path().join("june.zip"), &Progress::new());
    assert!(matches!(result, Err(BlindError::BadScan { .. })));
    assert_eq!(std::fs::read_dir(away.path()).unwrap().count(), 0);
}
