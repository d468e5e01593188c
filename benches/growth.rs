//! How fast refits are: 1,000 bootstrap refits of 500 fish, and 10,000 samples with errors drawn onto every mark.
//!
//! `cargo bench --bench growth -- --export DIR` writes the same fish for `growth_baseline.py`; `growth.sh` runs both and
//! prints the ratios. Refits start from the one fit, warm, as those of the baseline do.
#![allow(missing_docs)]
#![allow(clippy::print_stdout, clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::fmt::Write as _;
use std::time::Instant;

use winterline::analysis::back_calculation::{Intercept, InterceptLine, Method, SampleFish};
use winterline::analysis::growth::{Curve, FitSettings, Observation, bootstrap, fit};
use winterline::analysis::numerics::splitmix::SplitMix64;
use winterline::analysis::uncertainty::{
    CurveRows, CurveWanted, ErrorInputs, Known, Scope, Settings, UncertainFish, propagate,
};
use winterline::domain::progress::Progress;
use winterline::domain::units::{Micrometres, Millimetres};

const FISH: usize = 500;
const REFITS: usize = 1000;
/// Four runs (all errors, marks, focus, relation) of so many samples: 10,000 in all.
const SAMPLES: usize = 2500;

struct One {
    age: u32,
    part: f64,
    length_mm: f64,
    radius_um: f64,
    annuli_um: Vec<f64>,
}

fn fish() -> Vec<One> {
    let mut random = SplitMix64::new(11);
    (0..FISH)
        .map(|_| {
            let mut age = 1;
            while age < 10 && random.next_unit() < 0.75 {
                age += 1;
            }
            let (u, v) = (1.0 + 0.08 * random.next_normal(), 1.0 + 0.03 * random.next_normal());
            let size = |t: f64| (520.0 * (1.0 - (-0.3 * (t + 0.4)).exp()) - 25.0) * u;
            let part = random.next_unit();
            let captured = size(f64::from(age) + 0.3 + 0.5 * part);
            One {
                age,
                part,
                length_mm: 25.0 + captured * v,
                radius_um: 7.5 * captured,
                annuli_um: (1..=age).map(|t| 7.5 * size(f64::from(t))).collect(),
            }
        })
        .collect()
}

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    let fish = fish();
    if let Some(place) = arguments.iter().position(|argument| argument == "--export") {
        export(&fish, &arguments[place + 1]);
    }
    for (name, decimal) in [("refits_whole_ages", false), ("refits_decimal_ages", true)] {
        let rows: Vec<Observation> = fish
            .iter()
            .enumerate()
            .map(|(number, one)| {
                let age = f64::from(one.age) + if decimal { one.part } else { 0.0 };
                Observation::single(age, one.length_mm, number)
            })
            .collect();
        let first = fit(Curve::VonBertalanffy, &rows, &FitSettings::default()).unwrap();
        let start = Instant::now();
        let found = bootstrap(&first, REFITS, 1, &Progress::new()).unwrap();
        println!("{name} {:.6}", start.elapsed().as_secs_f64());
        assert!(found.failed < REFITS / 10);
    }
    let sample: Vec<UncertainFish> = fish
        .iter()
        .enumerate()
        .map(|(number, one)| {
            UncertainFish::once(SampleFish::new(
                number.to_string(),
                Some(Millimetres(one.length_mm)),
                Some(Micrometres(one.radius_um)),
                one.annuli_um.iter().copied().map(Micrometres).collect(),
            ))
        })
        .collect();
    let sd = |sd| Known::Sd { sd, origin: "made for the bench".to_owned() };
    let errors = ErrorInputs { marks_um: sd(20.0), focus_um: sd(15.0), ..ErrorInputs::unknown() };
    let wanted = CurveWanted {
        curve: Curve::VonBertalanffy,
        settings: FitSettings::default(),
        rows: CurveRows::LastAnnulus,
    };
    let method = Method::FraserLee(Intercept::Fitted(InterceptLine::LeastSquares));
    let settings = Settings { replicates: SAMPLES, seed: 1, scope: Scope::TheseFish };
    let start = Instant::now();
    let found =
        propagate(&sample, &method, &errors, Some(&wanted), settings, &Progress::new()).unwrap();
    println!("propagation {:.6}", start.elapsed().as_secs_f64());
    println!("K_sd {:.6}", found.parameters[1].se.unwrap());
}

fn export(fish: &[One], folder: &str) {
    let mut table = String::from("age,part,length_mm,radius_um,annuli_um\n");
    for one in fish {
        let annuli: Vec<String> = one.annuli_um.iter().map(ToString::to_string).collect();
        let (age, part, length, radius) = (one.age, one.part, one.length_mm, one.radius_um);
        writeln!(table, "{age},{part},{length},{radius},{}", annuli.join(" ")).unwrap();
    }
    std::fs::write(std::path::Path::new(folder).join("fish.csv"), table).unwrap();
}
