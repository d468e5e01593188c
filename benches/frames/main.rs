//! Frame times of the real window on a large scan and during batch proposing, time to the first overview, peak memory.
//!
//! Needs a display: `bash benches/frames.sh` starts a virtual one (Xvfb, software rendering) and runs
//! `cargo bench --bench frames -- [--batch 200] [--size 10000]`. `WINTERLINE_PROGRAM`: a program built before, in place of
//! the one this bench comes with.
#![allow(missing_docs)]
#![allow(
    clippy::print_stdout,
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]

use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::{Duration, Instant};

use winterline::domain::reading::{ReaderInitials, Structure};
use winterline::domain::survey::Survey;
use winterline::imaging::decode::{Limits, decode_file};
use winterline::imaging::encode::{
    TiffCompression, TiffLayout, TiffOptions, png_bytes, tiff_bytes,
};
use winterline::imaging::raster::{Raster, Samples};
use winterline::simulate::picture::draw;
use winterline::simulate::spec::draw_spec;
use winterline::simulate::truth::Difficulty;
use winterline::store::survey_file::write_survey;

fn main() {
    let number = |name: &str, usual: usize| {
        let mut words = std::env::args().skip_while(|word| word != name).skip(1);
        words.next().and_then(|word| word.parse().ok()).unwrap_or(usual)
    };
    if std::env::var_os("DISPLAY").is_none() {
        println!("no display: run `bash benches/frames.sh`");
        return;
    }
    let side = number("--size", 10_000);
    for (name, compression, layout) in [
        ("uncompressed, tiled", TiffCompression::None, TiffLayout::Tiles(256)),
        ("LZW, strips of 64 rows", TiffCompression::Lzw, TiffLayout::Strips(64)),
    ] {
        large(name, side, TiffOptions { compression, layout });
    }
    batch(number("--batch", 200));
}

/// A survey of one large scan in a folder that goes when this is over.
fn large(name: &str, side: usize, options: TiffOptions) {
    let folder = tempfile::tempdir().unwrap();
    survey(folder.path(), &["large.tif".to_owned()]);
    let path = folder.path().join("scans/large.tif");
    std::fs::write(&path, tiff_bytes(&rings(side), Some([5.0; 2]), options).unwrap()).unwrap();
    let began = Instant::now();
    let limits = Limits::default();
    drop(decode_file(&path, &limits).unwrap());
    let decode_ms = began.elapsed().as_millis();
    println!("\n{side} x {side}, 16 bits, {name}");
    println!("  decoding alone: {decode_ms} ms");
    let run = Run::of(folder.path(), "view");
    let first = |phase: &str| run.frames.iter().find(|f| f.phase == phase).map(|f| f.ms);
    let opening = first("opening").unwrap_or(0);
    let shown = ["overview", "ready", "pan"].iter().find_map(|phase| first(phase));
    match (first("arriving").or(shown), shown) {
        (Some(rows), Some(whole)) => println!(
            "  first rows: {} ms after the first frame, the whole: {} ms",
            rows - opening,
            whole - opening
        ),
        _ => println!("  the scan was never shown"),
    }
    for phase in ["pan", "zoom"] {
        run.print(phase);
    }
    let decoded_mb = side * side * 2 / 1_000_000;
    println!(
        "  peak memory: {} MB; decoded picture {decoded_mb} MB, goal {} MB",
        run.peak_mb,
        decoded_mb * 3 / 2 + 300
    );
}

/// A survey of many small scans, proposed on while the window draws without rest.
fn batch(n: usize) {
    let folder = tempfile::tempdir().unwrap();
    let names: Vec<String> = (0..n + 1).map(|i| format!("s-{i:03}.png")).collect();
    survey(folder.path(), &names);
    // Ten pictures, each under many names: what takes time is the looking, not the drawing.
    let pictures: Vec<Vec<u8>> = (0..10)
        .map(|seed| {
            let spec = draw_spec(Structure::Scale, Difficulty::Medium, None, seed);
            let picture = draw(&spec).unwrap();
            png_bytes(&picture.raster, Some([spec.um_per_px; 2])).unwrap()
        })
        .collect();
    for (name, picture) in names.iter().zip(pictures.iter().cycle()) {
        std::fs::write(folder.path().join("scans").join(name), picture).unwrap();
    }
    println!("\nproposing on {n} scans meanwhile");
    let run = Run::of(folder.path(), "batch");
    run.print("batch");
    let own = run.frames.iter().filter(|f| f.phase == "batch").map(|f| f.own_us).max();
    println!(
        "  longest time the window's thread was busy: {} ms, goal 50 ms",
        own.unwrap_or(0) as f64 / 1e3
    );
}

fn survey(folder: &Path, scans: &[String]) {
    let mut survey = Survey::new("Frames", "nowhere", Structure::Scale);
    survey.readers = vec![ReaderInitials::new("kb").unwrap()];
    write_survey(folder, &survey, None).unwrap();
    let rows: Vec<String> =
        (1..).zip(scans).map(|(i, scan)| format!("{i},,2025-10-04,300,total,{scan}\n")).collect();
    let sheet = "fish,species,capture_date,length,length_type,scans\n".to_owned() + &rows.concat();
    std::fs::write(folder.join("fish.csv"), sheet).unwrap();
}

/// Rings with noise, as on a scan.
fn rings(side: usize) -> Raster {
    let half = side as f64 / 2.0;
    let mut noise = 1_u32;
    let values = (0..side * side).map(|i| {
        noise = noise.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let (x, y) = ((i % side) as f64 - half, (i / side) as f64 - half);
        let wave = ((x.hypot(y * 1.2)) / 9.0).sin();
        (32_000.0 + 14_000.0 * wave) as u16 + (noise >> 20) as u16
    });
    Raster::new(side, side, Samples::Sixteen(values.collect())).unwrap()
}

/// No run takes longer on any machine worth measuring.
const LONGEST: Duration = Duration::from_secs(7_200);

struct Frame {
    ms: u64,
    phase: String,
    own_us: u64,
    frame_us: u64,
    interval_us: u64,
}

struct Run {
    frames: Vec<Frame>,
    peak_mb: u64,
}

impl Run {
    /// Runs the window on a survey until it closes itself.
    fn of(survey: &Path, drive: &str) -> Self {
        let log: PathBuf = survey.join("frames.csv");
        let program = std::env::var_os("WINTERLINE_PROGRAM")
            .unwrap_or_else(|| env!("CARGO_BIN_EXE_winterline").into());
        let mut window = Command::new(program)
            .arg("read")
            .arg(survey)
            .args(["--reader", "kb"])
            .env("WINTERLINE_FRAME_LOG", &log)
            .env("WINTERLINE_FRAME_DRIVE", drive)
            .env("XDG_CONFIG_HOME", survey.join("config"))
            .env("XDG_DATA_HOME", survey.join("data"))
            .spawn()
            .unwrap();
        // As long as the window draws it is at work, however slow the machine is.
        let written = || std::fs::metadata(&log).map_or(0, |about| about.len());
        let began = Instant::now();
        let (mut grew, mut length, mut peak_mb) = (began, 0, 0);
        while window.try_wait().unwrap().is_none() {
            peak_mb = peak_mb.max(peak(window.id()).unwrap_or(0));
            if written() != length {
                (grew, length) = (Instant::now(), written());
            }
            if grew.elapsed() > Duration::from_secs(300) || began.elapsed() > LONGEST {
                window.kill().unwrap();
                println!("  the window stood still");
                break;
            }
            std::thread::sleep(Duration::from_millis(50));
        }
        let text = std::fs::read_to_string(&log).unwrap_or_default();
        let frames = text.lines().skip(1).filter_map(|line| {
            let cells: Vec<&str> = line.split(',').collect();
            let number = |i: usize| cells.get(i)?.parse().ok();
            Some(Frame {
                ms: number(0)?,
                phase: (*cells.get(1)?).to_owned(),
                own_us: number(2)?,
                frame_us: number(3)?,
                interval_us: number(4)?,
            })
        });
        let frames = frames.collect();
        Self { frames, peak_mb }
    }

    fn print(&self, phase: &str) {
        let of = |what: fn(&Frame) -> u64| {
            let mut all: Vec<u64> =
                self.frames.iter().filter(|f| f.phase == phase).skip(1).map(what).collect();
            all.sort_unstable();
            let at =
                |share: f64| all.get((all.len() as f64 * share) as usize).copied().unwrap_or(0);
            (all.len(), at(0.5) as f64 / 1e3, at(0.99) as f64 / 1e3)
        };
        let (n, own, own_99) = of(|f| f.own_us);
        let (_, frame, frame_99) = of(|f| f.frame_us);
        let (_, interval, interval_99) = of(|f| f.interval_us);
        println!(
            "  {phase}, {n} frames: our own work median {own:.2} ms, 99th {own_99:.2} ms; \
             drawing median {frame:.1} ms, 99th {frame_99:.1} ms; frame to frame median {interval:.1} ms, 99th {interval_99:.1} ms"
        );
    }
}

/// Peak of the memory a process has had, MB.
fn peak(process: u32) -> Option<u64> {
    let text = std::fs::read_to_string(format!("/proc/{process}/status")).ok()?;
    let line = text.lines().find(|line| line.starts_with("VmHWM:"))?;
    Some(line.split_whitespace().nth(1)?.parse::<u64>().ok()? / 1000)
}
