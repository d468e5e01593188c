//! How long proposing takes on a scan of two megapixels.
//!
//! `cargo bench --bench propose` times a whole proposal and a moved axis on an opened scan. Budgets: a moved axis 5 ms; a
//! whole proposal no longer than the plain scipy pipeline takes on the same picture along an axis that is given to it:
//! `bash benches/propose.sh` times both beside each other.
#![allow(missing_docs)]
#![allow(clippy::print_stdout, clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::fmt::Write as _;
use std::path::Path;
use std::time::Instant;

use divan::Bencher;
use kurbo::Vec2;
use winterline::domain::axis::Axis;
use winterline::domain::calibration::{Calibration, CalibrationSource};
use winterline::domain::progress::Progress;
use winterline::domain::reading::{Light, Structure};
use winterline::imaging::encode::png_bytes;
use winterline::proposing::{Prepared, Request, propose};
use winterline::simulate::picture::{Picture, draw, extent_um};
use winterline::simulate::spec::draw_spec;
use winterline::simulate::truth::{Difficulty, Style};

const STYLES: [Style; 2] = [Style::PerchScale, Style::SectionReflected];

fn main() {
    match std::env::var("WINTERLINE_BENCH_FOLDER") {
        Ok(folder) => beside_the_baseline(Path::new(&folder)),
        Err(_) => divan::main(),
    }
}

/// A picture of two megapixels within a tenth.
fn picture(style: Style) -> Picture {
    let mut spec = draw_spec(style.structure(), Difficulty::Medium, Some(style), 11);
    let (width_um, height_um) = extent_um(&spec).expect("has a size");
    spec.um_per_px = (width_um * height_um / 1.8e6).sqrt();
    draw(&spec).expect("can be drawn")
}

fn request(picture: &Picture, axis: Option<Axis>) -> Request<'_> {
    let um = picture.truth.um_per_px;
    Request {
        raster: &picture.raster,
        calibration: Calibration::new(um, um, CalibrationSource::Stated).expect("positive"),
        structure: picture.truth.structure,
        light: None,
        bounds: None,
        focus: axis.as_ref().map(Axis::focus),
        axis,
    }
}

/// The true axis turned by an angle, radians.
fn turned(picture: &Picture, by: f64) -> Axis {
    let [focus, end] = picture.truth.axis_px;
    let v = end - focus;
    Axis::straight(focus, focus + Vec2::from_angle(v.atan2() + by) * v.hypot()).expect("has length")
}

#[divan::bench(args = STYLES.map(Style::word))]
fn everything_suggested(bencher: Bencher, word: &str) {
    let picture = picture(Style::from_word(word).expect("known"));
    bencher.bench_local(|| propose(&request(&picture, None), &Progress::new()));
}

#[divan::bench(args = STYLES.map(Style::word))]
fn axis_given(bencher: Bencher, word: &str) {
    let picture = picture(Style::from_word(word).expect("known"));
    let axis = turned(&picture, 0.0);
    bencher.bench_local(|| propose(&request(&picture, Some(axis.clone())), &Progress::new()));
}

#[divan::bench(args = STYLES.map(Style::word))]
fn axis_moved(bencher: Bencher, word: &str) {
    let picture = picture(Style::from_word(word).expect("known"));
    let prepared = Prepared::new(&request(&picture, None), &Progress::new()).expect("not stopped");
    let axis = turned(&picture, 0.05);
    bencher.bench_local(|| prepared.propose_on(&axis, true, &Progress::new()));
}

/// Writes the pictures with the table that the baseline reads, and prints medians of eleven runs.
fn beside_the_baseline(folder: &Path) {
    std::fs::create_dir_all(folder).expect("folder can be made");
    let mut table = String::from(
        "file,structure,style,difficulty,light,um_per_px,fx,fy,ex,ey,edge_um,readable,annuli_um\n",
    );
    for style in STYLES {
        let picture = picture(style);
        let truth = &picture.truth;
        let file = format!("{}.png", style.word());
        let bytes = png_bytes(&picture.raster, None).expect("can be encoded");
        std::fs::write(folder.join(&file), bytes).expect("can be written");
        let structure = if truth.structure == Structure::Scale { "scale" } else { "otolith" };
        let light = if truth.light == Light::Reflected { "reflected" } else { "transmitted" };
        let [f, e] = truth.axis_px;
        let annuli: Vec<String> = truth.annuli_um().iter().map(|um| format!("{um:.2}")).collect();
        writeln!(
            table,
            "{file},{structure},{},medium,{light},{},{},{},{},{},{},true,{}",
            style.word(),
            truth.um_per_px,
            f.x,
            f.y,
            e.x,
            e.y,
            truth.edge_um,
            annuli.join(" ")
        )
        .expect("text grows");
        let axis = turned(&picture, 0.0);
        let prepared =
            Prepared::new(&request(&picture, None), &Progress::new()).expect("not stopped");
        let moved = turned(&picture, 0.05);
        let times = [
            ("suggested", median_ms(|| drop(propose(&request(&picture, None), &Progress::new())))),
            (
                "given",
                median_ms(|| {
                    drop(propose(&request(&picture, Some(axis.clone())), &Progress::new()));
                }),
            ),
            ("moved", median_ms(|| drop(prepared.propose_on(&moved, true, &Progress::new())))),
        ];
        for (what, ms) in times {
            println!("{structure} {what} {ms:.2}");
        }
    }
    std::fs::write(folder.join("truth.csv"), table).expect("can be written");
}

fn median_ms(mut work: impl FnMut()) -> f64 {
    work();
    let mut times: Vec<f64> = (0..11)
        .map(|_| {
            let start = Instant::now();
            work();
            start.elapsed().as_secs_f64() * 1e3
        })
        .collect();
    times.sort_by(f64::total_cmp);
    times[times.len() / 2]
}
