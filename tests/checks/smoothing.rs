//! Smoothing and peaks against scipy 1.17.1 (`gaussian_filter1d`, `savgol_filter`, `find_peaks`, `peak_prominences`,
//! `peak_widths`); Savitzky & Golay 1964: fixtures/published/24_smoothing_and_peaks.json, tolerance 1e-9, indices exact.

use winterline::imaging::peaks::{Peak, PeakRules, find_dips, find_peaks};
use winterline::imaging::smoothing::{Edges, gaussian, savitzky_golay};

use crate::published::{Published, compare, floats, indices};

const TOLERANCE: f64 = 1e-9;

fn fixture() -> Published {
    Published::open("24_smoothing_and_peaks")
}

fn signal(fixture: &Published) -> Vec<f64> {
    floats(&fixture.case("signal")["input"])
}

fn places(peaks: &[Peak]) -> Vec<usize> {
    peaks.iter().map(|peak| peak.index).collect()
}

#[test]
fn gaussian_with_nearest_and_reflected_edges() {
    let fixture = fixture();
    let signal = signal(&fixture);
    let case = fixture.case("gaussian");
    let mut compared = 0;
    for (sigma, expected) in
        floats(&case["input"]["sigma"]).iter().zip(case["expected"].as_array().unwrap())
    {
        let found = gaussian(&signal, *sigma, Edges::Nearest);
        compared += compare("nearest", &found, &floats(expected), TOLERANCE);
    }
    let case = fixture.case("gaussian_reflect");
    let found = gaussian(&signal, case["input"]["sigma"].as_f64().unwrap(), Edges::Reflect);
    compared += compare("reflect", &found, &floats(&case["expected"]), TOLERANCE);
    assert_eq!(compared, 180);
}

#[test]
fn savitzky_golay_and_its_first_derivative() {
    let fixture = fixture();
    let signal = signal(&fixture);
    let mut compared = 0;
    for (name, derivative) in [("savitzky_golay", 0), ("savitzky_golay_first_derivative", 1)] {
        let case = fixture.case(name);
        let whole = |key: &str| case["input"][key].as_u64().unwrap() as usize;
        let found = savitzky_golay(&signal, whole("window"), whole("degree"), derivative, 1.0);
        let expected = floats(&case["expected"]);
        compared += compare(name, &found.unwrap(), &expected, TOLERANCE);
    }
    assert_eq!(compared, 120);
}

#[test]
fn every_peak_with_its_prominence_bases_and_width() {
    let fixture = fixture();
    let expected = &fixture.case("all_local_maxima")["expected"];
    let peaks = find_peaks(&signal(&fixture), PeakRules::default());
    let mut compared = 0;
    for (key, found) in [
        ("index", places(&peaks)),
        ("left_base", peaks.iter().map(|p| p.bases.0).collect()),
        ("right_base", peaks.iter().map(|p| p.bases.1).collect()),
        ("plateau_size", peaks.iter().map(Peak::top_samples).collect()),
    ] {
        assert_eq!(found, indices(&expected[key]), "{key}");
        compared += found.len();
    }
    type Measure = fn(&Peak) -> f64;
    let measures: [(&str, Measure); 4] = [
        ("prominence", |p| p.prominence),
        ("width_at_half_prominence", Peak::width),
        ("left_ip", |p| p.crossings.0),
        ("right_ip", |p| p.crossings.1),
    ];
    for (key, measure) in measures {
        let found: Vec<f64> = peaks.iter().map(measure).collect();
        compared += compare(key, &found, &floats(&expected[key]), TOLERANCE);
    }
    assert_eq!(compared, 56);
}

#[test]
fn rules_of_prominence_and_distance_and_dips() {
    let fixture = fixture();
    let signal = signal(&fixture);
    let high = PeakRules { min_prominence: 15.0, ..PeakRules::default() };
    let expected = &fixture.case("prominence_at_least_15")["expected"];
    let peaks = find_peaks(&signal, high);
    assert_eq!(places(&peaks), indices(&expected["index"]));
    let prominences: Vec<f64> = peaks.iter().map(|p| p.prominence).collect();
    let mut compared = peaks.len();
    compared += compare("prominence", &prominences, &floats(&expected["prominence"]), TOLERANCE);

    let apart = PeakRules { min_distance: 6, ..PeakRules::default() };
    let found = places(&find_peaks(&signal, apart));
    assert_eq!(found, indices(&fixture.case("distance_6")["expected"]));
    compared += found.len();

    let found = places(&find_dips(&signal, high));
    assert_eq!(found, indices(&fixture.case("minima_prominence_15")["expected"]));
    compared += found.len();
    assert_eq!(compared, 23);
}
