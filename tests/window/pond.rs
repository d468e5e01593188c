//! A small invented survey on disk: ring pictures with known radii, a field sheet, readings where asked for.

use std::path::Path;
use std::sync::Arc;

use jiff::Timestamp;
use kurbo::{BezPath, Ellipse, Point, Shape};
use tempfile::TempDir;
use winterline::domain::axis::Axis;
use winterline::domain::calibration::{Calibration, CalibrationSource};
use winterline::domain::progress::{Progress, Stopped};
use winterline::domain::reading::{
    Certainty, EdgeCondition, ImpressionReading, Mark, MarkKind, MarkOrigin, Outcome,
    ReaderInitials, ReadingState, ScanIdentity, ScanReading, Structure,
};
use winterline::domain::survey::Survey;
use winterline::domain::units::{Micrometres, Pixels};
use winterline::imaging::encode::png_bytes;
use winterline::imaging::raster::{Raster, Samples};
use winterline::proposing::suggestion::Suggested;
use winterline::proposing::{AxisEvidence, Proposal, Proposals, Request};
use winterline::store::sidecar::save_reading;
use winterline::store::survey_file::write_survey;
use winterline::workbench::workbench::Services;

/// Micrometres per pixel of every picture here.
pub const UM_PER_PX: f64 = 5.0;

/// The focus drawn in every picture.
pub const FOCUS: Point = Point::new(300.0, 330.0);

/// Radii of the rings drawn, pixels: three annuli at 500, 900 and 1200 µm, the margin at 1400 µm.
pub const RINGS_PX: [f64; 3] = [100.0, 180.0, 240.0];

/// Radius of the margin drawn, pixels.
pub const MARGIN_PX: f64 = 280.0;

/// A survey of three fish with one scan each, captured in October.
pub fn survey() -> TempDir {
    survey_of(3)
}

/// A survey of `n` walleyes with one scan each, captured in October.
pub fn survey_of(n: usize) -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    let mut survey = Survey::new("Alder Pond 2025", "Alder Pond", Structure::Scale);
    survey.readers = vec![ReaderInitials::new("kb").unwrap(), ReaderInitials::new("mt").unwrap()];
    write_survey(folder.path(), &survey, None).unwrap();
    let mut sheet = "fish,species,capture_date,length,length_type,scans\n".to_owned();
    let picture = png_bytes(&picture(), Some([UM_PER_PX; 2])).unwrap();
    for (i, length) in (1..=n).zip([300, 320, 260].into_iter().cycle()) {
        let day = if i == 3 { 5 } else { 4 };
        sheet += &format!("{i:03},walleye,2025-10-0{day},{length},total,AP-{i:03}.png\n");
        std::fs::write(folder.path().join(format!("scans/AP-{i:03}.png")), &picture).unwrap();
    }
    std::fs::write(folder.path().join("fish.csv"), sheet).unwrap();
    folder
}

/// A survey whose fish 001 has two scans.
pub fn survey_with_two_scans() -> TempDir {
    let folder = survey_of(2);
    let scans = folder.path().join("scans");
    std::fs::copy(scans.join("AP-001.png"), scans.join("AP-001b.png")).unwrap();
    let sheet = "fish,species,capture_date,length,length_type,scans\n\
                 001,walleye,2025-10-04,300,total,AP-001.png;AP-001b.png\n\
                 002,walleye,2025-10-04,320,total,AP-002.png\n";
    std::fs::write(folder.path().join("fish.csv"), sheet).unwrap();
    folder
}

/// Where the six structures of the slide lie, in the order of reading.
pub const SLIDE_CENTRES: [(f64, f64); 6] = [
    (200.0, 210.0),
    (600.0, 195.0),
    (1000.0, 205.0),
    (200.0, 610.0),
    (600.0, 600.0),
    (1000.0, 595.0),
];

/// A survey of one slide with six structures, written up for the fish named, in that order.
pub fn survey_with_a_slide(fish: &[&str]) -> TempDir {
    let folder = survey_of(0);
    let mut sheet = "fish,species,capture_date,length,length_type,scans\n".to_owned();
    for number in fish {
        sheet += &format!("{number},walleye,2025-10-04,300,total,slide-1.png\n");
    }
    std::fs::write(folder.path().join("fish.csv"), sheet).unwrap();
    let (width, height) = (1200_usize, 800_usize);
    let value = |x: usize, y: usize| {
        let at = Point::new(x as f64, y as f64);
        let radius = SLIDE_CENTRES.map(|centre| (at - Point::from(centre)).hypot());
        let radius = radius.into_iter().fold(f64::INFINITY, f64::min);
        let wave = if (radius / 4.0).fract() < 0.4 { 40 } else { 0 };
        if radius < 140.0 { 110 + wave } else { 205 + (x * 7 + y * 13) as u8 % 4 }
    };
    let values = (0..width * height).map(|i| value(i % width, i / width)).collect();
    let picture = Raster::new(width, height, Samples::Eight(values)).unwrap();
    let png = png_bytes(&picture, Some([UM_PER_PX; 2])).unwrap();
    std::fs::write(folder.path().join("scans/slide-1.png"), png).unwrap();
    folder
}

/// Bright rings round the focus on a structure a little lighter than its ground.
pub fn picture() -> Raster {
    let (width, height) = (600_usize, 640_usize);
    let value = |x: usize, y: usize| {
        let radius = (Point::new(x as f64, y as f64) - FOCUS).hypot();
        let ring = RINGS_PX.iter().any(|ring| (radius - ring).abs() < 2.5);
        let circuli = if (radius / 4.0).fract() < 0.4 { 18 } else { 0 };
        match (radius > MARGIN_PX, ring) {
            (true, _) => 40,
            (false, true) => 220,
            (false, false) => 110 + circuli,
        }
    };
    let values = (0..width * height).map(|i| value(i % width, i / width)).collect();
    Raster::new(width, height, Samples::Eight(values)).unwrap()
}

/// The axis from the focus straight up, ending at the margin.
pub fn axis() -> Axis {
    Axis::straight(FOCUS, Point::new(FOCUS.x, FOCUS.y - MARGIN_PX)).unwrap()
}

/// Proposes the rings drawn, as the true finder would, and one alternative.
pub fn propose(request: &Request<'_>, progress: &Progress) -> Result<Proposals, Stopped> {
    progress.checkpoint()?;
    let axis = request.axis.clone().unwrap_or_else(axis);
    let proposal = |px: f64, probability: f64| Proposal {
        position: Pixels(px),
        radius: Micrometres(px * UM_PER_PX),
        inner_radius: Micrometres((px - 6.0) * UM_PER_PX),
        at: axis.point_at(Pixels(px)),
        probability,
        ring: Some(ring(px)),
        continuity: 0.9,
    };
    Ok(Proposals {
        edge: Some(Pixels(MARGIN_PX)),
        light: None,
        annuli: RINGS_PX.iter().map(|px| proposal(*px, 0.92)).collect(),
        checks: Vec::new(),
        alternatives: vec![proposal(140.0, 0.2)],
        edge_annulus: Some(0.1),
        refused: None,
        warnings: Vec::new(),
        suggested: Suggested::default(),
        evidence: AxisEvidence {
            step_px: 1.0,
            intensity: vec![0.5; 290],
            spacing_um: (0..290).map(|i| 20.0 + f64::from(i % 40)).collect(),
        },
        axis: Some(axis),
    })
}

/// A ring traced round the focus, a little oval: its radius differs with the direction, as on a true scale.
fn ring(px: f64) -> BezPath {
    // Through the place proposed, straight up from the focus, and a tenth wider to the sides.
    Ellipse::new(FOCUS, (px * RING_WIDTH, px), 0.0).to_path(0.01)
}

/// How much wider than high the rings traced are.
pub const RING_WIDTH: f64 = 1.1;

/// The program's own services, with the finder above.
pub fn services() -> Services {
    Services::new(Arc::new(propose))
}

/// Services whose finder finds nothing, for reading by hand.
pub fn services_by_hand() -> Services {
    Services::new(Arc::new(|_, _| {
        Ok(Proposals::refused(winterline::proposing::Refusal::NoEvidence))
    }))
}

/// Writes a confirmed reading of `reader` on a scan: annuli at `radii_um`, margin at `total_um`.
pub fn confirm_on_disk(
    folder: &Path,
    reader: &str,
    scan: &str,
    fish: &str,
    radii_um: &[f64],
    total_um: f64,
) {
    confirm_as(folder, reader, scan, fish, radii_um, total_um, radii_um.len() as u32);
}

/// The same with another age than the count of annuli.
pub fn confirm_as(
    folder: &Path,
    reader: &str,
    scan: &str,
    fish: &str,
    radii_um: &[f64],
    total_um: f64,
    age: u32,
) {
    let reader = ReaderInitials::new(reader).unwrap();
    let mut impression = ImpressionReading::new(1, fish, Structure::Scale);
    impression.axis = Some(axis());
    impression.edge = Some(Pixels(total_um / UM_PER_PX));
    impression.marks = radii_um
        .iter()
        .map(|um| Mark {
            kind: MarkKind::Annulus,
            position: Pixels(um / UM_PER_PX),
            origin: MarkOrigin::ByHand,
            certainty: Certainty::Clear,
        })
        .collect();
    impression.edge_condition = Some(EdgeCondition::Medium);
    impression.outcome = Some(Outcome::Aged);
    impression.age = Some(age);
    impression.state = ReadingState::Confirmed;
    impression.confirmed = Some(Timestamp::UNIX_EPOCH);
    let bytes = std::fs::read(folder.join("scans").join(scan)).unwrap();
    let reading = ScanReading {
        scan: ScanIdentity {
            file: scan.to_owned(),
            width_px: 600,
            height_px: 640,
            blake3: winterline::store::fingerprint::Fingerprint::of(&bytes).blake3_hex(),
        },
        reader: reader.clone(),
        calibration: Some(
            Calibration::new(UM_PER_PX, UM_PER_PX, CalibrationSource::FileTag).unwrap(),
        ),
        impressions: vec![impression],
    };
    save_reading(folder, &reader, &reading, None).unwrap();
}
