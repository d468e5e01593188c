//! First-order error of back-calculated lengths (JCGM 100:2008), and the same by simulation (JCGM 101:2008), against
//! values computed with numpy.

use winterline::analysis::back_calculation::{
    InputErrors, Intercept, Method, SampleFish, fraser_lee_variance,
};
use winterline::analysis::growth::{Curve, FitSettings};
use winterline::analysis::uncertainty::{
    CurveRows, CurveWanted, ErrorInputs, Known, Scope, Settings, UncertainFish, propagate,
};
use winterline::domain::progress::Progress;
use winterline::domain::units::{Micrometres, Millimetres};

use crate::published::{Comparison, Published, floats};

#[test]
fn fraser_lee_errors_and_their_shares() {
    let published = Published::open("26_uncertainty");
    let case = published.case("fraser_lee_first_order");
    let (input, expected) = (&case["input"], case["expected"].as_array().unwrap());
    let number = |name: &str| input[name].as_f64().unwrap();
    let errors = InputErrors {
        mark: Micrometres(1000.0 * number("sd_mark_mm")),
        focus: Micrometres(1000.0 * number("sd_focus_mm")),
        length: Millimetres(number("sd_length_mm")),
        intercept: Millimetres(number("sd_intercept_mm")),
    };
    let annuli: Vec<Micrometres> =
        floats(&input["radii"]).into_iter().map(|mm| Micrometres(1000.0 * mm)).collect();
    let capture = (Millimetres(number("L")), Micrometres(1000.0 * number("S")));
    let found = fraser_lee_variance(capture, &annuli, Millimetres(number("a")), &errors);
    assert_eq!(found.len(), expected.len());
    let mut c = Comparison::within(1e-8);
    for (variance, expected) in found.iter().zip(expected) {
        c.number("se", variance.standard_error().value(), &expected["se"]);
        let shares = ["annulus_mark", "edge_mark", "focus", "length", "intercept"];
        for ((_, share), name) in variance.shares().unwrap().iter().zip(shares) {
            c.number(name, *share, &expected[format!("share_{name}")]);
        }
    }
    assert_eq!(c.compared, 18);
    // The simulation of a million draws agrees with first order within its stated 2 percent.
    let simulated = published.case("fraser_lee_monte_carlo")["expected"].as_array().unwrap();
    let mut c = Comparison::within(0.02);
    for (variance, expected) in found.iter().zip(simulated) {
        c.number("simulated sd", variance.standard_error().value(), &expected["sd"]);
    }
    assert_eq!(c.compared, 3);
}

/// Growth parameters of 14 fish whose marks, foci and lengths carry stated errors: all lengths, whole ages, additive error.
#[test]
fn growth_parameters_by_simulation() {
    let published = Published::open("26_uncertainty");
    let case = published.case("growth_parameters_monte_carlo");
    let (input, expected) = (&case["input"], &case["expected"]);
    let fish: Vec<UncertainFish> = input["fish"]
        .as_array()
        .unwrap()
        .iter()
        .map(|fish| {
            let mm = |value: f64| Micrometres(1000.0 * value);
            let annuli = floats(&fish["annulus_radii_mm"]).into_iter().map(mm).collect();
            UncertainFish::once(SampleFish::new(
                fish["id"].as_str().unwrap(),
                fish["length_mm"].as_f64().map(Millimetres),
                fish["radius_mm"].as_f64().map(mm),
                annuli,
            ))
        })
        .collect();
    let sd = |name: &str, factor: f64| Known::Sd {
        sd: factor * input[name].as_f64().unwrap(),
        origin: "check 26".to_owned(),
    };
    let errors = ErrorInputs {
        marks_um: sd("sd_mark_mm", 1000.0),
        focus_um: sd("sd_focus_mm", 1000.0),
        length_mm: sd("sd_length_mm", 1.0),
        ..ErrorInputs::unknown()
    };
    let method = Method::FraserLee(Intercept::Given {
        length: Millimetres(input["a_mm"].as_f64().unwrap()),
        source: "check 26".to_owned(),
    });
    let wanted = CurveWanted {
        curve: Curve::VonBertalanffy,
        settings: FitSettings::default(),
        rows: CurveRows::AllAnnuli,
    };
    let settings = Settings { replicates: 4000, seed: 26, scope: Scope::TheseFish };
    let found =
        propagate(&fish, &method, &errors, Some(&wanted), settings, &Progress::new()).unwrap();
    let mut point = Comparison::within(1e-6);
    let mut spread = Comparison::within(0.1);
    for one in &found.parameters {
        point.number(one.name, one.estimate, &expected["point"][one.name]);
        spread.number(one.name, one.se.unwrap(), &expected["sd"][one.name]);
        let [low, high] = one.ci95.unwrap();
        let (mean, sd) = (
            expected["mean"][one.name].as_f64().unwrap(),
            expected["sd"][one.name].as_f64().unwrap(),
        );
        assert!((0.5 * (low + high) - mean).abs() < 0.2 * sd, "{}: {low} {high} {mean}", one.name);
        assert!(((high - low) / (2.0 * 1.96 * sd) - 1.0).abs() < 0.1, "{}", one.name);
    }
    assert_eq!((point.compared, spread.compared), (3, 3));
}
