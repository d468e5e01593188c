//! Writes an invented archive: many surveys, each with a field sheet of many fish, some of them aged with a scan's name
//! and a sidecar. The scans themselves are empty files: comparing waters opens none.
//!
//! `cargo bench --bench archive -- DIR [SURVEYS FISH AGED]` (1000, 1000 and 200 where nothing is said); `archive.sh`
//! writes one and times `compare` on it.
#![allow(missing_docs)]
#![allow(clippy::print_stdout, clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::fmt::Write as _;
use std::path::Path;

use kurbo::Point;
use rayon::prelude::*;
use winterline::analysis::numerics::splitmix::SplitMix64;
use winterline::domain::axis::Axis;
use winterline::domain::calibration::{Calibration, CalibrationSource};
use winterline::domain::reading::{
    Certainty, EdgeCondition, ImpressionReading, Light, Mark, MarkKind, MarkOrigin, Outcome,
    ReaderInitials, ReadingState, ScanIdentity, ScanReading, Structure,
};
use winterline::domain::units::Pixels;
use winterline::store::sidecar::sidecar_text;

/// Surveys of one water, in as many years.
const YEARS: usize = 4;
const UM_PER_PX: f64 = 5.0;

fn main() {
    let words: Vec<String> = std::env::args().skip(1).filter(|word| word != "--bench").collect();
    let Some(folder) = words.first() else {
        println!("name a folder to write the archive into; nothing was written");
        return;
    };
    let number = |place: usize, usual: usize| {
        words.get(place).map_or(usual, |word| word.parse().expect("a whole number"))
    };
    let (surveys, fish, aged) = (number(1, 1000), number(2, 1000), number(3, 200));
    let folder = Path::new(folder);
    (0..surveys).into_par_iter().for_each(|index| write_survey(folder, index, fish, aged));
    println!("{surveys} surveys of {fish} fish, {aged} aged, in {}", folder.display());
}

/// A fish as it grew: length at each annulus and at capture.
struct Grown {
    at_annuli_mm: Vec<f64>,
    length_mm: f64,
}

fn grown(random: &mut SplitMix64, largest_mm: f64, rate: f64) -> Grown {
    let mut age = 1;
    while age < 9 && random.next_unit() < 0.7 {
        age += 1;
    }
    let own = largest_mm * (0.9 + 0.2 * random.next_unit());
    let at = |years: f64| own * (1.0 - (-rate * (years + 0.4)).exp());
    let at_annuli_mm = (1..=age).map(|year| at(f64::from(year))).collect();
    Grown { at_annuli_mm, length_mm: at(f64::from(age) + 0.6) }
}

fn write_survey(archive: &Path, index: usize, n_fish: usize, n_aged: usize) {
    let (water, year) = (index / YEARS + 1, 2022 + index % YEARS);
    let name = format!("water-{water:04}-{year}");
    let folder = archive.join(format!("region-{}", water % 10)).join(&name);
    let scans = folder.join("scans");
    std::fs::create_dir_all(&scans).unwrap();
    let settings = format!(
        r#"{{"format": "winterline-survey", "version": 1, "name": "{name}", "water": "Water {water:04}", "species": "walleye",
  "structure": "scale", "readers": ["kb"]}}"#
    );
    std::fs::write(folder.join("survey.json"), settings).unwrap();
    let mut random = SplitMix64::stream(7, index as u64);
    let mut of_water = SplitMix64::stream(8, water as u64);
    let (largest_mm, rate) =
        (600.0 + 150.0 * of_water.next_unit(), 0.2 + 0.1 * of_water.next_unit());
    let mut sheet = "fish,species,capture_date,run,length_mm,weight_g,sex,scans\n".to_owned();
    for number in 1..=n_fish {
        let one = grown(&mut random, largest_mm, rate);
        let is_aged = number <= n_aged;
        let scan = if is_aged { format!("F-{number:04}.tif") } else { String::new() };
        let (day, sex) = (1 + number % 28, ["f", "m", ""][number % 3]);
        let weight_g = 1.1e-5 * one.length_mm.powf(3.0);
        writeln!(
            sheet,
            "F-{number:04},walleye,{year}-10-{day:02},{},{:.0},{weight_g:.0},{sex},{scan}",
            1 + number % 6,
            one.length_mm
        )
        .unwrap();
        if is_aged {
            std::fs::write(scans.join(&scan), b"").unwrap();
            let text = sidecar(&format!("F-{number:04}"), &scan, &one, &mut random);
            std::fs::write(scans.join(format!("{scan}.kb.json")), text).unwrap();
        }
    }
    std::fs::write(folder.join("fish.csv"), sheet).unwrap();
}

fn sidecar(fish: &str, scan: &str, grown: &Grown, random: &mut SplitMix64) -> String {
    // The scale grows with the fish from a length of 40 mm on.
    let px = |mm: f64| (mm - 40.0) * 6.0 / UM_PER_PX * (0.98 + 0.04 * random.next_unit());
    let mut places: Vec<f64> =
        grown.at_annuli_mm.iter().chain([&grown.length_mm]).copied().map(px).collect();
    places.sort_by(f64::total_cmp);
    let edge = places.pop().unwrap_or_default();
    let mut reading = ImpressionReading::new(1, fish, Structure::Scale);
    let (focus, slope) = (Point::new(680.937_533_174_755, 738.792_487_941_54), 0.6_f64);
    let along =
        |length: f64| focus + kurbo::Vec2::new(-length * slope.cos(), -length * slope.sin());
    reading.axis = Axis::new(vec![focus, along(edge + 40.0)]).ok();
    reading.edge = Some(Pixels(edge));
    let mark = |place: &f64| Mark {
        kind: MarkKind::Annulus,
        position: Pixels(*place),
        origin: MarkOrigin::ByHand,
        certainty: Certainty::Clear,
    };
    reading.marks = places.iter().map(mark).collect();
    reading.light = Some(Light::Transmitted);
    reading.edge_condition = Some(EdgeCondition::Wide);
    reading.outcome = Some(Outcome::Aged);
    reading.age = u32::try_from(places.len()).ok();
    reading.state = ReadingState::Confirmed;
    reading.started = "2025-11-02T09:14:05Z".parse().ok();
    reading.confirmed = "2025-11-02T09:15:41Z".parse().ok();
    let blake3 = "58560f53a11c9c4cee1b581ed735d0a912b3f841a324fae261341714f643a8c1".to_owned();
    sidecar_text(&ScanReading {
        scan: ScanIdentity { file: scan.to_owned(), width_px: 1242, height_px: 1192, blake3 },
        reader: ReaderInitials::new("kb").unwrap(),
        calibration: Calibration::new(UM_PER_PX, UM_PER_PX, CalibrationSource::FileTag).ok(),
        impressions: vec![reading],
    })
    .unwrap()
}
