use super::*;
use crate::analysis::back_calculation::{
    InputErrors, Intercept, InterceptLine, Method, Options, SampleFish, back_calculate,
    fraser_lee_variance,
};
use crate::analysis::growth::{Curve, FitSettings};
use crate::domain::progress::Progress;
use crate::domain::units::{Micrometres, Millimetres};

fn lake() -> Vec<UncertainFish> {
    (0..60u32)
        .map(|number| {
            let age = 1 + number % 7;
            let wobble = f64::from((number * 37) % 23) - 11.0;
            let length = |t: f64| 480.0 * (1.0 - (-0.35 * (t + 0.3)).exp()) + wobble;
            let radius = |mm: f64| (mm - 25.0) * 7.5;
            let captured = length(f64::from(age) + 0.6);
            let annuli = (1..=age).map(|t| Micrometres(radius(length(f64::from(t))))).collect();
            UncertainFish::once(SampleFish::new(
                number.to_string(),
                Some(Millimetres(captured)),
                Some(Micrometres(radius(captured) * (1.0 + 0.004 * wobble))),
                annuli,
            ))
        })
        .collect()
}

fn errors() -> ErrorInputs {
    let sd = |sd| Known::Sd { sd, origin: "made for the test".to_owned() };
    ErrorInputs {
        marks_um: sd(8.0),
        focus_um: sd(5.0),
        length_mm: sd(1.0),
        ..ErrorInputs::unknown()
    }
}

const FITTED: Method = Method::FraserLee(Intercept::Fitted(InterceptLine::LeastSquares));

fn wanted(rows: CurveRows) -> CurveWanted {
    CurveWanted { curve: Curve::VonBertalanffy, settings: FitSettings::default(), rows }
}

fn run(fish: &[UncertainFish], method: &Method, scope: Scope, seed: u64) -> Propagated {
    let settings = Settings { replicates: 400, seed, scope };
    let curve = wanted(CurveRows::LastAnnulus);
    propagate(fish, method, &errors(), Some(&curve), settings, &Progress::new()).unwrap()
}

#[test]
fn means_are_those_of_back_calculation_and_shares_add_up() {
    let fish = lake();
    let found = run(&fish, &FITTED, Scope::Population, 3);
    let sample: Vec<SampleFish> = fish.iter().map(|one| one.fish.clone()).collect();
    let calculated = back_calculate(&sample, FITTED, &Options::default()).unwrap();
    for (age, row) in found.by_age.iter().zip(&calculated.tables.by_age) {
        assert_eq!((age.age, age.n), (row.age, row.n));
        assert!((age.mean_mm - row.mean_mm).abs() < 1e-9);
        // Everything known makes the error larger than scatter alone over the square root of n, by the relation.
        assert!(age.se_mm.unwrap() > 0.7 * row.se_mm.unwrap());
        let sum: f64 = age.shares.iter().map(|(_, share)| share).sum();
        assert!((sum - 1.0).abs() < 1e-12);
    }
    assert_eq!(found.parameters.len(), 3);
    for parameter in &found.parameters {
        let [low, high] = parameter.ci95.unwrap();
        assert!(low < parameter.estimate && parameter.estimate < high, "{parameter:?}");
    }
    let state = |source| found.sources.iter().find(|one| one.source == source).unwrap();
    assert_eq!(state(Source::Readers).share, None);
    assert!(state(Source::Readers).note.contains("second reader"));
    assert_eq!(state(Source::Calibration).share, None);
    assert!(state(Source::Sampling).share.unwrap() > 0.2);
    assert!(found.warnings()[0].contains("disagreement of readers"));
}

#[test]
fn threads_do_not_change_the_result_and_seeds_do() {
    let fish = lake();
    let on = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| run(&fish, &FITTED, Scope::Population, 9))
    };
    assert_eq!(on(1), on(3));
    assert_ne!(on(1).by_age, run(&fish, &FITTED, Scope::Population, 10).by_age);
}

/// For one fish, simulation must agree with first order (JCGM 100:2008): formulas of another file of this room.
#[test]
fn one_fish_agrees_with_first_order() {
    let annuli = [980.0, 1779.0, 2372.0].map(Micrometres);
    let one = SampleFish::new(
        "F04",
        Some(Millimetres(368.0)),
        Some(Micrometres(2752.0)),
        annuli.to_vec(),
    );
    let method =
        Method::FraserLee(Intercept::Given { length: Millimetres(55.0), source: String::new() });
    let inputs =
        ErrorInputs { intercept_mm: Known::Sd { sd: 6.0, origin: String::new() }, ..errors() };
    let settings = Settings { replicates: 20_000, seed: 4, scope: Scope::TheseFish };
    let fish = [UncertainFish::once(one)];
    let found = propagate(&fish, &method, &inputs, None, settings, &Progress::new()).unwrap();
    let first = fraser_lee_variance(
        (Millimetres(368.0), Micrometres(2752.0)),
        &annuli,
        Millimetres(55.0),
        &InputErrors {
            mark: Micrometres(8.0),
            focus: Micrometres(5.0),
            length: Millimetres(1.0),
            intercept: Millimetres(6.0),
        },
    );
    for (age, expected) in found.by_age.iter().zip(&first) {
        let (found, expected) = (age.se_mm.unwrap(), expected.standard_error().value());
        assert!((found / expected - 1.0).abs() < 0.02, "{found} {expected}");
    }
}

#[test]
fn a_second_reader_brings_a_share() {
    let mut fish = lake();
    for one in fish.iter_mut().step_by(2) {
        let mut structures = one.fish.structures.clone();
        for radii in &mut structures {
            radii.annuli.iter_mut().for_each(|radius| radius.0 *= 0.93);
        }
        one.others.push(OtherReading { structures, edge_counted: false });
    }
    let found = run(&fish, &FITTED, Scope::Population, 3);
    let readers = found.sources.iter().find(|one| one.source == Source::Readers).unwrap();
    assert!(readers.share.unwrap() > 0.0);
    assert!(readers.note.contains("fish read more than once"), "{}", readers.note);
}

#[test]
fn what_cannot_be_done_is_said() {
    let curve = wanted(CurveRows::LastAnnulus);
    let go = |fish: &[UncertainFish], replicates, progress: &Progress| {
        let settings = Settings { replicates, seed: 1, scope: Scope::Population };
        propagate(fish, &FITTED, &errors(), Some(&curve), settings, progress)
    };
    assert_eq!(go(&[], 200, &Progress::new()), Err(UncertaintyError::NoFish));
    assert!(matches!(
        go(&lake(), 5, &Progress::new()),
        Err(UncertaintyError::TooFewReplicates { .. })
    ));
    assert!(matches!(go(&lake()[..2], 200, &Progress::new()), Err(UncertaintyError::Method(_))));
    let stopped = Progress::new();
    stopped.stop();
    assert!(matches!(go(&lake(), 200, &stopped), Err(UncertaintyError::Stopped(_))));
    let young: Vec<UncertainFish> =
        lake().into_iter().filter(|one| one.fish.structures[0].annuli.len() < 3).collect();
    let found = go(&young, 200, &Progress::new()).unwrap();
    assert!(found.parameters.is_empty() && found.curve_error.is_some());
}
