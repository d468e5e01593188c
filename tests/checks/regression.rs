//! Regressions: NIST Statistical Reference Datasets (Norris, Pontius, NoInt1), and a length-radius line with its
//! diagnostics (Ricker 1973; Jolicoeur & Mosimann 1968; Cook 1977; Koenker 1981).

use serde_json::Value;
use winterline::analysis::numerics::diagnostics::{breusch_pagan, line_diagnostics};
use winterline::analysis::numerics::geometric_mean::GeometricMeanLine;
use winterline::analysis::numerics::quadratic::{Quadratic, lack_of_fit};
use winterline::analysis::numerics::regression::{Line, LineThroughOrigin};
use winterline::analysis::numerics::shapiro_wilk::shapiro_wilk;

use crate::published::{Comparison, Published, floats};

fn nist(name: &str) -> (Published, Vec<f64>, Vec<f64>) {
    let published = Published::open("06_regression_nist");
    let input = &published.case(name)["input"];
    let (x, y) = (floats(&input["x"]), floats(&input["y"]));
    (published, x, y)
}

/// NIST StRD Norris, certified values.
#[test]
fn nist_norris() {
    let (published, x, y) = nist("Norris");
    let (case, line) = (published.case("Norris"), Line::fit(&x, &y).unwrap());
    let expected = &case["expected"];
    let mut c = Comparison::within(published.relative(case));
    c.number("B0", line.intercept, &expected["B0"]);
    c.number("B1", line.slope, &expected["B1"]);
    c.number("se B0", line.intercept_se, &expected["se_B0"]);
    c.number("se B1", line.slope_se, &expected["se_B1"]);
    c.number("residual sd", line.residual_sd, &expected["residual_sd"]);
    c.number("r2", line.r_squared.unwrap(), &expected["r2"]);
    c.number("regression", line.syy - line.rss, &expected["ss_regression"]);
    c.number("residual", line.rss, &expected["ss_residual"]);
    c.number("F", line.slope_t().unwrap().powi(2), &expected["F"]);
    c.number("df", line.df(), &expected["df_residual"]);
    assert_eq!(c.compared, 10);
}

/// NIST StRD Pontius, certified values: x up to 3 million, so that normal equations in raw powers lose the digits.
#[test]
fn nist_pontius() {
    let (published, x, y) = nist("Pontius");
    let (case, curve) = (published.case("Pontius"), Quadratic::fit(&x, &y).unwrap());
    let expected = &case["expected"];
    let mut c = Comparison::within(published.relative(case));
    for (i, (b, se)) in curve.coefficients.iter().zip(curve.standard_errors).enumerate() {
        c.number("coefficient", *b, &expected[format!("B{i}")]);
        c.number("standard error", se, &expected[format!("se_B{i}")]);
    }
    c.number("residual sd", curve.residual_sd, &expected["residual_sd"]);
    c.number("residual", curve.rss, &expected["ss_residual"]);
    c.count("df", curve.n - 3, &expected["df_residual"]);
    assert_eq!(c.compared, 9);
}

/// NIST StRD NoInt1, certified values.
#[test]
fn nist_no_intercept() {
    let (published, x, y) = nist("NoInt1");
    let (case, line) = (published.case("NoInt1"), LineThroughOrigin::fit(&x, &y).unwrap());
    let expected = &case["expected"];
    let mut c = Comparison::within(published.relative(case));
    c.number("B1", line.slope, &expected["B1"]);
    c.number("se B1", line.slope_se, &expected["se_B1"]);
    c.number("residual sd", line.residual_sd, &expected["residual_sd"]);
    c.number("r2", line.r_squared_about_zero, &expected["r2_about_zero"]);
    c.count("df", line.n - 1, &expected["df_residual"]);
    assert_eq!(c.compared, 5);
}

fn structure_length() -> (Published, Vec<f64>, Vec<f64>) {
    let published = Published::open("07_regression_structure_length");
    let input = &published.case("L_on_S")["input"];
    let (x, y) = (floats(&input["x_radius_mm"]), floats(&input["y_length_mm"]));
    (published, x, y)
}

fn compare_line(c: &mut Comparison, line: &Line, expected: &Value) {
    c.count("n", line.n, &expected["n"]);
    c.number("intercept", line.intercept, &expected["intercept"]);
    c.number("slope", line.slope, &expected["slope"]);
    c.number("se intercept", line.intercept_se, &expected["se_intercept"]);
    c.number("se slope", line.slope_se, &expected["se_slope"]);
    c.number("r", line.r.unwrap(), &expected["r"]);
    c.number("r2", line.r_squared.unwrap(), &expected["r2"]);
    c.number("adjusted r2", line.adjusted_r_squared().unwrap(), &expected["adj_r2"]);
    c.number("rss", line.rss, &expected["rss"]);
    c.number("residual sd", line.residual_sd, &expected["residual_sd"]);
    c.number("df", line.df(), &expected["df"]);
    c.number("F", line.slope_t().unwrap().powi(2), &expected["F"]);
    c.number("p", line.slope_p().unwrap(), &expected["p_slope"]);
    let limits = line.limits95().unwrap();
    c.numbers("limits of slope", &limits.slope, &expected["ci95_slope"]);
    c.numbers("limits of intercept", &limits.intercept, &expected["ci95_intercept"]);
}

/// Ordinary least squares both ways, checked with R 4.2.2 and statsmodels 0.15.0.
#[test]
fn lines_both_ways() {
    let (published, x, y) = structure_length();
    let mut c = Comparison::within(1e-8);
    let forward = Line::fit(&x, &y).unwrap();
    compare_line(&mut c, &forward, &published.case("L_on_S")["expected"]);
    compare_line(&mut c, &Line::fit(&y, &x).unwrap(), &published.case("S_on_L")["expected"]);
    assert_eq!(c.compared, 34);
}

/// Leverage, studentised residuals and Cook's distance (Cook 1977), checked with R 4.2.2.
#[test]
fn diagnostics_of_each_fish() {
    let (published, x, y) = structure_length();
    let expected = &published.case("L_on_S")["expected"];
    let line = Line::fit(&x, &y).unwrap();
    let pairs = line_diagnostics(&line, &x, &y);
    let column =
        |value: fn(&winterline::analysis::numerics::diagnostics::PairDiagnostics) -> f64| {
            pairs.iter().map(value).collect::<Vec<_>>()
        };
    let mut c = Comparison::within(1e-8);
    c.numbers("residual", &line.residuals(&x, &y), &expected["residuals"]);
    c.numbers("leverage", &column(|p| p.leverage), &expected["leverage"]);
    c.numbers(
        "internal",
        &column(|p| p.internally_studentised.unwrap()),
        &expected["internally_studentized"],
    );
    c.numbers(
        "external",
        &column(|p| p.externally_studentised.unwrap()),
        &expected["externally_studentized"],
    );
    c.numbers("Cook", &column(|p| p.cooks_distance.unwrap()), &expected["cooks_distance"]);
    assert_eq!(c.compared, 70);
}

/// Geometric-mean line (Ricker 1973), limits of Jolicoeur & Mosimann 1968.
#[test]
fn geometric_mean_line() {
    let (published, x, y) = structure_length();
    let expected = &published.case("geometric_mean")["expected"];
    let line = GeometricMeanLine::fit(&x, &y).unwrap();
    let mut c = Comparison::within(1e-8);
    c.number("slope", line.slope, &expected["slope"]);
    c.number("intercept", line.intercept, &expected["intercept"]);
    c.number("se", line.slope_se, &expected["se_slope_ricker"]);
    c.numbers("limits", &line.slope_limits95.unwrap(), &expected["ci95_slope"]);
    assert_eq!(c.compared, 5);
}

/// The line between logarithms, and the quadratic lack-of-fit test.
#[test]
fn logarithms_and_lack_of_fit() {
    let (published, x, y) = structure_length();
    let ln = |values: &[f64]| values.iter().map(|value| value.ln()).collect::<Vec<_>>();
    let line = Line::fit(&ln(&x), &ln(&y)).unwrap();
    let expected = &published.case("ln_ln")["expected"];
    let mut c = Comparison::within(1e-8);
    c.number("intercept", line.intercept, &expected["intercept"]);
    c.number("slope", line.slope, &expected["slope"]);
    c.number("se intercept", line.intercept_se, &expected["se_intercept"]);
    c.number("se slope", line.slope_se, &expected["se_slope"]);
    c.number("r2", line.r_squared.unwrap(), &expected["r2"]);
    c.number("rss", line.rss, &expected["rss"]);
    c.number("residual sd", line.residual_sd, &expected["residual_sd"]);

    let expected = &published.case("quadratic_lack_of_fit")["expected"];
    let curve = Quadratic::fit(&x, &y).unwrap();
    c.numbers("parabola", &curve.coefficients, &expected["coef"]);
    c.number("rss", curve.rss, &expected["rss"]);
    let test = lack_of_fit(&x, &y).unwrap();
    c.number("F", test.f, &expected["F"]);
    c.count("df", test.df, &expected["df"][1]);
    c.number("p", test.p, &expected["p"]);
    assert_eq!(c.compared, 14);
}

/// Breusch & Pagan 1979 in the form of Koenker 1981; Shapiro & Wilk 1965.
#[test]
fn residual_spread_and_normality() {
    let (published, x, y) = structure_length();
    let case = published.case("residual_tests");
    let line = Line::fit(&x, &y).unwrap();
    let test = breusch_pagan(&line, &x, &y).unwrap();
    let mut c = Comparison::within(published.relative(case));
    c.number("LM", test.lm, &case["expected"]["breusch_pagan_koenker_LM"]);
    c.number("p", test.p, &case["expected"]["breusch_pagan_koenker_p"]);
    let normality = shapiro_wilk(&line.residuals(&x, &y)).unwrap();
    c.number("W", normality.w, &case["expected"]["shapiro_W"]);
    c.number("p of W", normality.p, &case["expected"]["shapiro_p"]);
    assert_eq!(c.compared, 4);
}
