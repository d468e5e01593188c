//! NIST Statistical Reference Datasets, nonlinear least squares: Misra1a, BoxBOD, Rat42, Rat43, which are growth curves.

use serde_json::Value;
use winterline::analysis::growth::{Curve, Fit, FitSettings, Observation, fit};

use crate::published::{Published, floats};

/// A NIST form as one of our curves: how to start, and how to turn the result into its parameters.
struct Form {
    curve: Curve,
    fixed: Vec<(String, f64)>,
    start: fn(&[f64]) -> Vec<f64>,
    back: fn(&Fit) -> NistParameters,
}

/// NIST parameters with their derivatives to our free parameters.
type NistParameters = Vec<(f64, Vec<f64>)>;

fn form(name: &str) -> Form {
    match name {
        "Misra1a" | "BoxBOD" => Form {
            curve: Curve::VonBertalanffy,
            fixed: vec![("t0".to_owned(), 0.0)],
            start: |b| vec![b[0], b[1], 0.0],
            back: |fit| {
                let row = fit.row();
                vec![(row[0], vec![1.0, 0.0]), (row[1], vec![0.0, 1.0])]
            },
        },
        // b1/(1 + exp(b2 - b3 x)): Linf = b1, K = b3, ti = b2/b3.
        "Rat42" => Form {
            curve: Curve::Logistic,
            fixed: Vec::new(),
            start: |b| vec![b[0], b[2], b[1] / b[2]],
            back: |fit| {
                let [linf, k, ti, ..] = fit.row();
                vec![
                    (linf, vec![1.0, 0.0, 0.0]),
                    (k * ti, vec![0.0, ti, k]),
                    (k, vec![0.0, 1.0, 0.0]),
                ]
            },
        },
        // b1/(1 + exp(b2 - b3 x))^(1/b4): Linf = b1, K = b3, d = 1 + b4, ti = (b2 - ln b4)/b3.
        "Rat43" => Form {
            curve: Curve::Richards,
            fixed: Vec::new(),
            start: |b| vec![b[0], b[2], (b[1] - b[3].ln()) / b[2], 1.0 + b[3]],
            back: |fit| {
                let [linf, k, ti, d, ..] = fit.row();
                vec![
                    (linf, vec![1.0, 0.0, 0.0, 0.0]),
                    (k * ti + (d - 1.0).ln(), vec![0.0, ti, k, 1.0 / (d - 1.0)]),
                    (k, vec![0.0, 1.0, 0.0, 0.0]),
                    (d - 1.0, vec![0.0, 0.0, 0.0, 1.0]),
                ]
            },
        },
        other => panic!("no form for {other}"),
    }
}

/// Correct digits, as NIST counts them: minus the logarithm of the relative error, at most 11, the digits printed.
fn digits(found: f64, expected: f64) -> f64 {
    (-((found - expected) / expected).abs().log10()).min(11.0)
}

/// Least number of digits over everything certified, and how many values were compared.
fn least_digits(label: &str, fit: &Fit, form: &Form, expected: &Value) -> (f64, usize) {
    assert!(fit.converged, "{label} did not converge");
    let mut pairs = Vec::new();
    let values = (form.back)(fit);
    let (parameters, errors) =
        (floats(&expected["parameters"]), floats(&expected["standard_errors"]));
    assert_eq!(values.len(), parameters.len());
    for (((value, gradient), certified), se) in values.iter().zip(parameters).zip(errors) {
        pairs.push((*value, certified));
        pairs.push((fit.delta_variance(gradient).unwrap().sqrt(), se));
    }
    pairs.push((fit.rss, expected["rss"].as_f64().unwrap()));
    pairs.push((fit.residual_sd.unwrap(), expected["residual_sd"].as_f64().unwrap()));
    assert_eq!(fit.df as u64, expected["df"].as_u64().unwrap(), "{label}");
    let found: Vec<f64> = pairs.iter().map(|(found, wanted)| digits(*found, *wanted)).collect();
    let least = found.iter().copied().fold(f64::INFINITY, f64::min);
    eprintln!("{label}: least {least:.1} digits of {found:.1?}");
    (least, pairs.len())
}

/// Each set from both published starts alone, and from the starts the program finds by itself: at least 8 digits of every
/// parameter, standard error, sum of squares and residual SD.
#[test]
fn certified_fits_from_every_start() {
    let file = Published::open("08_growth_nist");
    let (mut compared, mut fits) = (0, 0);
    for case in file.cases() {
        let name = case["name"].as_str().unwrap();
        let form = form(name);
        let input = &case["input"];
        let observations: Vec<Observation> = floats(&input["x"])
            .iter()
            .zip(floats(&input["y"]))
            .enumerate()
            .map(|(index, (x, y))| Observation::single(*x, y, index))
            .collect();
        let mut starts: Vec<Option<Vec<f64>>> = input["starts"]
            .as_array()
            .unwrap()
            .iter()
            .map(|start| Some((form.start)(&floats(start))))
            .collect();
        starts.push(None);
        for (number, start) in starts.into_iter().enumerate() {
            let guarded = start.is_none();
            let settings =
                FitSettings { start, guarded, fixed: form.fixed.clone(), ..FitSettings::default() };
            let found = fit(form.curve, &observations, &settings).unwrap();
            let label = format!("{name} start {}", number + 1);
            let (least, count) = least_digits(&label, &found, &form, &case["expected"]);
            assert!(least >= 8.0, "{label}: {least}");
            compared += count;
            fits += 1;
        }
    }
    assert_eq!((fits, compared), (12, 3 * (6 + 6 + 8 + 10)));
}
