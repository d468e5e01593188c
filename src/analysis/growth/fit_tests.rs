//! Fits in and at the edge of what data can say.

use crate::domain::progress::Progress;

use super::{
    Curve, ErrorModel, FitSettings, GrowthError, Observation, Warning, bootstrap, compare_groups,
    fit, predict, profile_interval,
};

/// Lengths on a von Bertalanffy curve with scatter that repeats on every machine.
fn scattered(n: u32, oldest: u32) -> Vec<Observation> {
    (0..n)
        .map(|fish| {
            let age = f64::from(1 + fish % oldest);
            let scatter = f64::from((fish * 37) % 23) - 11.0;
            let length = 500.0 * (1.0 - (-0.3 * (age + 0.4)).exp()) + scatter;
            Observation::single(age, length, fish as usize)
        })
        .collect()
}

#[test]
fn means_weighted_by_number_give_the_curve_of_the_fish() {
    let fish = scattered(90, 9);
    let means: Vec<Observation> = (1..=9u32)
        .map(|age| {
            let at: Vec<f64> =
                fish.iter().filter(|o| o.age == f64::from(age)).map(|o| o.length).collect();
            let mean = at.iter().sum::<f64>() / at.len() as f64;
            let row = Observation::single(f64::from(age), mean, age as usize);
            Observation { weight: at.len() as f64, ..row }
        })
        .collect();
    let settings = FitSettings::default();
    let whole = fit(Curve::VonBertalanffy, &fish, &settings).unwrap();
    let by_age = fit(Curve::VonBertalanffy, &means, &settings).unwrap();
    for (a, b) in whole.parameters.iter().zip(&by_age.parameters) {
        assert!((a.estimate - b.estimate).abs() < 1e-9 * a.estimate.abs().max(1.0), "{}", a.name);
    }
    assert_eq!((whole.df, by_age.df), (87, 6));
}

#[test]
fn a_fixed_parameter_stays_and_has_no_error() {
    let fix = |names: &[(&str, f64)]| FitSettings {
        fixed: names.iter().map(|(name, value)| ((*name).to_owned(), *value)).collect(),
        ..FitSettings::default()
    };
    let rows = scattered(60, 8);
    let found = fit(Curve::VonBertalanffy, &rows, &fix(&[("t0", -0.4)])).unwrap();
    let t0 = found.parameter("t0").unwrap();
    assert_eq!((t0.estimate, t0.se, t0.is_fixed), (-0.4, None, true));
    assert_eq!((found.n_free(), found.df), (2, 58));
    assert!(profile_interval(&found, 2).is_none());
    assert!(profile_interval(&found, 0).is_some());
    let only_k = fit(Curve::VonBertalanffy, &rows, &fix(&[("t0", -0.4), ("Linf", 500.0)])).unwrap();
    let [low, high] = profile_interval(&only_k, 1).unwrap().map(|limit| limit.unwrap());
    assert!(low < 0.3 && 0.3 < high, "{low} {high}");
}

#[test]
fn wrong_requests_are_refused_in_words() {
    let rows = scattered(60, 8);
    let refused = |name: &str, value: f64| {
        let fixed = vec![(name.to_owned(), value)];
        fit(Curve::Gompertz, &rows, &FitSettings { fixed, ..FitSettings::default() }).unwrap_err()
    };
    assert!(refused("t0", 0.0).to_string().contains("Linf, K, ti"));
    assert!(matches!(refused("K", -1.0), GrowthError::BadFixedValue { .. }));
    let settings = FitSettings::default();
    assert!(fit(Curve::Francis { young: 3.0, old: 3.0 }, &rows, &settings).is_err());
    let two_ages = fit(Curve::VonBertalanffy, &scattered(30, 2), &settings);
    assert!(matches!(two_ages, Err(GrowthError::TooFewAges { found: 2, .. })));
    let empty = fit(Curve::VonBertalanffy, &[], &settings);
    assert!(matches!(empty, Err(GrowthError::TooFewAges { .. })));
    assert!(compare_groups(Curve::VonBertalanffy, &[rows], &settings).is_err());
}

#[test]
fn a_seasonal_wave_is_recovered() {
    let truth = [500.0, 0.4, -0.2, 0.7, 0.3];
    let rows: Vec<Observation> = (0..80)
        .map(|fish| {
            let age = 0.5 + 0.1 * f64::from(fish);
            Observation::single(age, Curve::Somers.value(age, &truth), fish as usize)
        })
        .collect();
    let found = fit(Curve::Somers, &rows, &FitSettings::default()).unwrap();
    for (value, wanted) in found.row().iter().zip(truth) {
        assert!((value - wanted).abs() < 1e-7, "{:?}", found.row());
    }
    assert!(found.converged);
}

#[test]
fn several_lengths_of_a_fish_are_resampled_together() {
    // Each fish gives four lengths that are all too long or all too short.
    let rows: Vec<Observation> = (0..30usize)
        .flat_map(|fish| (1..=4u32).map(move |step| (fish, step)))
        .map(|(fish, step)| {
            let age = f64::from(step) + (fish % 3) as f64 * 2.0;
            let own = ((fish * 13) % 11) as f64 * 6.0 - 30.0;
            Observation::single(age, 500.0 * (1.0 - (-0.3 * (age + 0.4)).exp()) + own, fish)
        })
        .collect();
    let apart: Vec<Observation> =
        rows.iter().enumerate().map(|(fish, row)| Observation { fish, ..*row }).collect();
    let width = |rows: &[Observation]| {
        let found = fit(Curve::VonBertalanffy, rows, &FitSettings::default()).unwrap();
        let repeated = found.warnings.iter().any(|w| matches!(w, Warning::RepeatedFish { .. }));
        let mut at_three: Vec<f64> = bootstrap(&found, 400, 3, &Progress::new())
            .unwrap()
            .rows
            .iter()
            .map(|row| Curve::VonBertalanffy.value(3.0, row))
            .collect();
        at_three.sort_by(f64::total_cmp);
        (repeated, at_three[at_three.len() * 39 / 40] - at_three[at_three.len() / 40])
    };
    let ((repeated, whole_fish), (single, rows_alone)) = (width(&rows), width(&apart));
    assert!(repeated && !single);
    assert!(whole_fish > 1.2 * rows_alone, "{whole_fish} {rows_alone}");
}

#[test]
fn multiplicative_bands_are_those_of_the_logarithm() {
    let settings = FitSettings { error: ErrorModel::Multiplicative, ..FitSettings::default() };
    let found = fit(Curve::VonBertalanffy, &scattered(60, 8), &settings).unwrap();
    let band = predict(&found, 4.0).unwrap();
    let ([low, high], [below, above]) = (band.ci95.unwrap(), band.pi95.unwrap());
    assert!((low * high - band.mean * band.mean).abs() < 1e-6 * band.mean * band.mean);
    assert!(below < low && high < above);
}

/// Young fish only: the sum of squares is a long flat valley, on which a limit must not stop at the estimate.
#[test]
fn profile_limits_of_a_flat_valley() {
    let rows: Vec<Observation> = VALLEY
        .iter()
        .enumerate()
        .map(|(fish, (age, length))| Observation::single(f64::from(*age), *length, fish))
        .collect();
    let found = fit(Curve::Logistic, &rows, &FitSettings::default()).unwrap();
    let [low, high] = profile_interval(&found, 0).unwrap();
    let linf = found.row()[0];
    assert!(low.unwrap() < 0.7 * linf && high.unwrap() > 1.3 * linf, "{low:?} {linf} {high:?}");
    assert!(found.warnings.iter().any(|w| matches!(w, Warning::LargeLinf { .. })));
    assert!(found.warnings.iter().any(|w| matches!(w, Warning::HighCorrelation { .. })));
    let resampled = bootstrap(&found, 200, 1, &Progress::new()).unwrap();
    assert!(resampled.failed > 10 && resampled.warning().is_some());
}

const VALLEY: [(u8, f64); 30] = [
    (4, 341.3),
    (3, 347.5),
    (6, 340.7),
    (4, 313.2),
    (2, 308.3),
    (1, 301.5),
    (5, 344.7),
    (3, 350.5),
    (1, 293.2),
    (6, 388.2),
    (4, 348.2),
    (3, 298.8),
    (5, 331.0),
    (1, 297.1),
    (2, 306.7),
    (2, 311.3),
    (3, 365.5),
    (5, 363.8),
    (4, 332.2),
    (4, 361.8),
    (1, 285.9),
    (1, 294.0),
    (4, 311.9),
    (4, 357.4),
    (1, 290.6),
    (4, 335.2),
    (1, 257.7),
    (3, 326.9),
    (6, 423.5),
    (1, 299.9),
];
