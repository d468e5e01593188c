//! Proposals on invented pictures whose truth is known (tolerance: METHODS of matching in `benches/truth`, 3 percent
//! of the radius; common practice, no source).

use winterline::domain::axis::Axis;
use winterline::domain::calibration::{Calibration, CalibrationSource};
use winterline::domain::progress::{Progress, Stopped};
use winterline::domain::reading::Structure;
use winterline::proposing::{Prepared, Proposals, Refusal, Request, propose};
use winterline::simulate::picture::{Picture, draw};
use winterline::simulate::spec::draw_spec;
use winterline::simulate::truth::{Difficulty, Style};

fn picture(style: Style, difficulty: Difficulty, seed: u64) -> Picture {
    draw(&draw_spec(style.structure(), difficulty, Some(style), seed)).unwrap()
}

fn request(picture: &Picture) -> Request<'_> {
    let truth = &picture.truth;
    let [focus, end] = truth.axis_px;
    Request {
        raster: &picture.raster,
        calibration: Calibration::new(truth.um_per_px, truth.um_per_px, CalibrationSource::Stated)
            .unwrap(),
        structure: truth.structure,
        light: Some(truth.light),
        bounds: None,
        focus: Some(focus),
        axis: Some(Axis::straight(focus, end).unwrap()),
    }
}

/// Annuli found, and marks put where none is.
fn counted(found: &Proposals, picture: &Picture) -> (usize, usize) {
    let near = |a: f64, b: f64| (a - b).abs() <= 0.03 * picture.truth.edge_um;
    let truth = picture.truth.annuli_um();
    let hits = truth.iter().filter(|t| found.annuli.iter().any(|a| near(a.radius.0, **t))).count();
    (hits, found.annuli.len().saturating_sub(hits))
}

#[test]
fn most_annuli_of_easy_pictures_are_found_and_little_else() {
    for (styles, least) in [
        (&[Style::PikeScale, Style::SunfishScale, Style::TroutScale], 0.75),
        (&[Style::SectionReflected, Style::SectionTransmitted, Style::WholeReflected], 0.85),
    ] {
        let (mut hits, mut extra, mut truth) = (0, 0, 0);
        for style in styles {
            for seed in 50..52 {
                let picture = picture(*style, Difficulty::Easy, seed);
                let found = propose(&request(&picture), &Progress::new()).unwrap();
                let edge = found.evidence.intensity.len() as f64 * picture.truth.um_per_px;
                assert!((edge / picture.truth.edge_um - 1.0).abs() < 0.05, "{style:?} {seed}");
                let (h, e) = counted(&found, &picture);
                hits += h;
                extra += e;
                truth += picture.truth.annuli.len();
            }
        }
        assert!(truth >= 10, "{truth} annuli are too few to judge by");
        let f1 = 2.0 * hits as f64 / (truth + hits + extra) as f64;
        assert!(f1 >= least, "{styles:?}: F1 {f1} of {truth} annuli, {extra} too many");
    }
}

#[test]
fn the_same_picture_gives_the_same_proposals_on_any_number_of_threads() {
    let picture = picture(Style::PikeScale, Difficulty::Medium, 7);
    let run = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| propose(&request(&picture), &Progress::new()).unwrap())
    };
    // NaN marks where spacing cannot be told, so the text is compared.
    assert_eq!(format!("{:?}", run(1)), format!("{:?}", run(3)));
}

#[test]
fn an_empty_picture_and_a_blank_centre_are_refused() {
    let even = winterline::imaging::raster::Samples::Eight(vec![120; 400 * 300]);
    let raster = winterline::imaging::raster::Raster::new(400, 300, even).unwrap();
    let request_on_even = Request {
        raster: &raster,
        calibration: Calibration::new(5.0, 5.0, CalibrationSource::Stated).unwrap(),
        structure: Structure::Scale,
        light: None,
        bounds: None,
        focus: None,
        axis: None,
    };
    let found = propose(&request_on_even, &Progress::new()).unwrap();
    assert_eq!(found.refused, Some(Refusal::Empty));
    let fin = Request { structure: Structure::FinRay, ..request_on_even };
    assert_eq!(propose(&fin, &Progress::new()).unwrap().refused, Some(Refusal::StructureByHand));

    let mut spec = draw_spec(Structure::Scale, Difficulty::Easy, Some(Style::TroutScale), 50);
    spec.regenerated_um = Some(0.4 * spec.growth.edge_um);
    let regrown = draw(&spec).unwrap();
    let found = propose(&request(&regrown), &Progress::new()).unwrap();
    assert_eq!(found.refused, Some(Refusal::Regenerated));
    assert!(found.annuli.is_empty());
}

#[test]
fn work_stops_when_asked() {
    let picture = picture(Style::SectionReflected, Difficulty::Easy, 50);
    let progress = Progress::new();
    progress.stop();
    assert_eq!(propose(&request(&picture), &progress), Err(Stopped));
    assert!(Prepared::new(&request(&picture), &progress).is_err());
}
