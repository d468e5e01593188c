//! First-order error of back-calculated lengths (JCGM 100:2008), and the same by simulation (JCGM 101:2008), against
//! values computed with numpy.

use winterline::analysis::back_calculation::{InputErrors, fraser_lee_variance};
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
