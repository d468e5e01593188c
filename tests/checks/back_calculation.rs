//! Back-calculated lengths by every method, against values computed from the published formulas with numpy, scipy
//! and statsmodels (Lea 1910; Lee 1920; Hile 1941; Whitney & Carlander 1956; Francis 1990; Monastyrsky 1930;
//! Campana 1990; Vigliola and others 2000; Morita & Matsuishi 2001).

use serde_json::Value;
use winterline::analysis::back_calculation::{
    Direction, Intercept, InterceptLine, LengthsResult, Method, Options, Origin, SampleFish,
    back_calculate, fit_fry_curve,
};
use winterline::domain::units::{Micrometres, Millimetres};
use winterline::report::lengths_json::lengths_json;
use winterline::store::radii_table::parse_radii;

use crate::published::{Comparison, Published, floats};

/// The files give radii in mm on the structure.
pub const UM_PER_MM: f64 = 1000.0;

pub fn sample(fish: &Value) -> Vec<SampleFish> {
    let fish = fish.as_array().unwrap();
    fish.iter()
        .map(|fish| {
            let um = |mm: f64| Micrometres(mm * UM_PER_MM);
            let year = i16::try_from(fish["capture_year"].as_i64().unwrap()).unwrap();
            SampleFish {
                capture_date: Some(jiff::civil::date(year, 9, 15)),
                ..SampleFish::new(
                    fish["id"].as_str().unwrap(),
                    Some(Millimetres(fish["length_mm"].as_f64().unwrap())),
                    Some(um(fish["radius_mm"].as_f64().unwrap())),
                    floats(&fish["annulus_radii_mm"]).into_iter().map(um).collect(),
                )
            }
        })
        .collect()
}

pub fn given(mm: f64) -> Method {
    Method::FraserLee(Intercept::Given { length: Millimetres(mm), source: "check".to_owned() })
}

fn linear() -> (Published, Vec<SampleFish>) {
    let published = Published::open("01_backcalc_linear");
    let sample = sample(&published.case("regressions")["input"]["fish"]);
    (published, sample)
}

fn nonlinear() -> (Published, Vec<SampleFish>) {
    let published = Published::open("02_backcalc_nonlinear");
    let sample = sample(&published.case("fish_table")["input"]["fish"]);
    (published, sample)
}

fn run(sample: &[SampleFish], method: Method) -> LengthsResult {
    let result = back_calculate(sample, method, &Options::default()).unwrap();
    assert_eq!(result.excluded, []);
    result
}

/// Every length of every fish; returns how many were compared.
fn compare_lengths(published: &Published, case: &str, result: &LengthsResult) -> usize {
    let case = published.case(case);
    let mut c = Comparison::within(published.relative(case));
    let expected = case["expected"].as_object().unwrap();
    assert_eq!(result.fish.len(), expected.len());
    for fish in &result.fish {
        let what = format!("{} {}", case["name"], fish.key);
        c.numbers(&what, &fish.lengths_mm, &expected[&fish.key]);
    }
    c.compared
}

fn fitted(line: InterceptLine) -> Method {
    Method::FraserLee(Intercept::Fitted(line))
}

#[test]
fn linear_forms() {
    let (published, sample) = linear();
    let mut compared = 0;
    for (case, method) in [
        ("direct_proportion", Method::DirectProportion),
        ("fraser_lee_standard_intercept", given(55.0)),
        ("fraser_lee_intercept_from_L_on_S", fitted(InterceptLine::LeastSquares)),
        ("fraser_lee_intercept_from_GM", fitted(InterceptLine::GeometricMean)),
        ("scale_proportional_linear_S_on_L", Method::ScaleProportional),
        ("body_proportional_linear_L_on_S", Method::BodyProportional),
    ] {
        compared += compare_lengths(&published, case, &run(&sample, method));
    }
    assert_eq!(compared, 6 * 60);
}

#[test]
fn relations_behind_the_linear_forms() {
    let (published, sample) = linear();
    let expected = &published.case("regressions")["expected"];
    let relation = |method| run(&sample, method).relation.unwrap();
    let mut c = Comparison::within(1e-9);
    let r = relation(Method::ScaleProportional);
    assert_eq!(r.direction, Direction::RadiusOnLength);
    c.number("S on L", r.intercept / UM_PER_MM, &expected["S_on_L"]["a"]);
    c.number("S on L", r.slope / UM_PER_MM, &expected["S_on_L"]["b"]);
    c.number("S on L", r.r_squared.unwrap(), &expected["S_on_L"]["r2"]);
    for method in [Method::BodyProportional, fitted(InterceptLine::LeastSquares)] {
        let r = relation(method);
        assert_eq!(r.direction, Direction::LengthOnRadius);
        c.number("L on S", r.intercept, &expected["L_on_S"]["c"]);
        c.number("L on S", r.slope * UM_PER_MM, &expected["L_on_S"]["d"]);
        c.number("L on S", r.r_squared.unwrap(), &expected["L_on_S"]["r2"]);
    }
    let r = relation(fitted(InterceptLine::GeometricMean));
    c.number("GM", r.intercept, &expected["GM_L_on_S"]["intercept"]);
    c.number("GM", r.slope * UM_PER_MM, &expected["GM_L_on_S"]["slope"]);
    // ln of radii in micrometres: the slope stays, the constant moves by ln 1000 (times the slope).
    let ln_1000 = UM_PER_MM.ln();
    let r = relation(Method::PowerScaleProportional);
    c.number("ln S on ln L", r.intercept - ln_1000, &expected["lnS_on_lnL"]["ln_u"]);
    c.number("ln S on ln L", r.slope, &expected["lnS_on_lnL"]["v"]);
    let r = relation(Method::PowerBodyProportional);
    c.number("ln L on ln S", r.intercept + r.slope * ln_1000, &expected["lnL_on_lnS"]["ln_u"]);
    c.number("ln L on ln S", r.slope, &expected["lnL_on_lnS"]["v"]);
    assert_eq!(c.compared, 15);
}

fn origin() -> Origin {
    Origin { length: Millimetres(40.0), radius: Micrometres(120.0) }
}

#[test]
fn nonlinear_forms() {
    let (published, sample) = nonlinear();
    let mut compared = 0;
    let fry = Method::ModifiedFry { origin: origin(), intercept: Some(Millimetres(12.0)) };
    for (case, method) in [
        ("scale_proportional_power", Method::PowerScaleProportional),
        ("body_proportional_power_Monastyrsky", Method::PowerBodyProportional),
        ("body_proportional_quadratic", Method::QuadraticBodyProportional),
        ("scale_proportional_quadratic", Method::QuadraticScaleProportional),
        ("biological_intercept", Method::BiologicalIntercept(origin())),
        ("modified_fry_a_given", fry),
        ("age_effect_linear", Method::AgeEffect),
    ] {
        compared += compare_lengths(&published, case, &run(&sample, method));
    }
    assert_eq!(compared, 7 * 60);
}

/// Vigliola & Meekan 2009 (from memory): the start of the curve, fitted on the sample.
#[test]
fn modified_fry_curve() {
    let (published, sample) = nonlinear();
    let case = published.case("modified_fry_fit_of_a");
    let expected = &case["expected"];
    let mut c = Comparison::within(published.relative(case));
    let lengths: Vec<f64> = sample.iter().map(|fish| fish.length.unwrap().value()).collect();
    let radii: Vec<f64> =
        sample.iter().map(|fish| fish.structures[0].total.unwrap().value()).collect();
    let curve = fit_fry_curve(&lengths, &radii, (40.0, 120.0)).unwrap();
    c.number("b", curve.b * UM_PER_MM.powf(curve.c), &expected["b"]);
    c.number("c", curve.c, &expected["c"]);
    c.number("a", curve.intercept_mm, &expected["a"]);
    c.number("rss", curve.rss, &expected["rss"]);
    assert_eq!(c.compared, 4);
    let result = run(&sample, Method::ModifiedFry { origin: origin(), intercept: None });
    assert_eq!(result.fry_curve, Some(curve));
    assert_eq!(result.intercept_mm, Some(curve.intercept_mm));
}

/// Facts that follow from the formulas alone.
#[test]
fn methods_meet_where_their_formulas_say_so() {
    let (_, sample) = linear();
    let lengths = |method| -> Vec<f64> {
        run(&sample, method).fish.into_iter().flat_map(|fish| fish.lengths_mm).collect()
    };
    let mut compared = 0;
    let mut same = |a: Vec<f64>, b: Vec<f64>| {
        assert_eq!(a.len(), b.len());
        for (a, b) in a.iter().zip(&b) {
            assert!((a - b).abs() < 1e-9 * b.abs(), "{a} {b}");
            compared += 1;
        }
    };
    same(lengths(given(0.0)), lengths(Method::DirectProportion));
    let scale = run(&sample, Method::ScaleProportional).relation.unwrap();
    same(lengths(Method::ScaleProportional), lengths(given(-scale.intercept / scale.slope)));
    let at_zero = Origin { length: Millimetres(40.0), radius: Micrometres(0.0) };
    same(lengths(Method::BiologicalIntercept(at_zero)), lengths(given(40.0)));
    assert_eq!(compared, 3 * 60);
}

/// On lengths exactly in proportion to radii the linear, power and parabolic forms are all direct proportion.
#[test]
fn proportional_fish_give_direct_proportion_by_all_fitted_methods() {
    let sample: Vec<SampleFish> = (1..=12)
        .map(|i| {
            let total = 400.0 * f64::from(i);
            let annuli = [0.3, 0.55, 0.8].map(|share| Micrometres(share * total)).to_vec();
            let length = Some(Millimetres(0.15 * total));
            SampleFish::new(format!("{i}"), length, Some(Micrometres(total)), annuli)
        })
        .collect();
    let direct = run(&sample, Method::DirectProportion);
    let mut compared = 0;
    for method in [
        fitted(InterceptLine::LeastSquares),
        fitted(InterceptLine::GeometricMean),
        Method::ScaleProportional,
        Method::BodyProportional,
        Method::PowerScaleProportional,
        Method::PowerBodyProportional,
    ] {
        let result = run(&sample, method);
        for (found, expected) in result.fish.iter().zip(&direct.fish) {
            for (found, expected) in found.lengths_mm.iter().zip(&expected.lengths_mm) {
                assert!((found - expected).abs() < 1e-8 * expected, "{:?}", result.method);
                compared += 1;
            }
        }
    }
    assert_eq!(compared, 6 * 36);
}

/// By every method an annulus on the edge has the length at capture, exactly.
#[test]
fn an_annulus_on_the_edge_has_the_length_at_capture() {
    let (_, mut sample) = linear();
    for fish in &mut sample {
        let radii = &mut fish.structures[0];
        radii.annuli.push(radii.total.unwrap());
    }
    let fry = Method::ModifiedFry { origin: origin(), intercept: Some(Millimetres(12.0)) };
    let mut compared = 0;
    for method in [
        Method::DirectProportion,
        given(55.0),
        fitted(InterceptLine::LeastSquares),
        fitted(InterceptLine::GeometricMean),
        Method::ScaleProportional,
        Method::BodyProportional,
        Method::PowerScaleProportional,
        Method::PowerBodyProportional,
        Method::QuadraticScaleProportional,
        Method::QuadraticBodyProportional,
        Method::BiologicalIntercept(origin()),
        fry,
        Method::AgeEffect,
    ] {
        for fish in run(&sample, method).fish {
            assert_eq!(fish.lengths_mm.last(), Some(&fish.length_at_capture_mm));
            compared += 1;
        }
    }
    assert_eq!(compared, 13 * 14);
}

/// The way of a spreadsheet: text to rows, rows to fish, fish to the document others read. The reference lengths come
/// out of it as they went in.
#[test]
fn a_table_of_radii_gives_the_reference_lengths_as_json() {
    let published = Published::open("01_backcalc_linear");
    let fish = published.case("regressions")["input"]["fish"].as_array().unwrap().clone();
    let mut text = String::from("Fish;Length_mm;radius_um");
    (1..=9).for_each(|annulus| text.push_str(&format!(";A{annulus}_um")));
    for one in &fish {
        let radii = floats(&one["annulus_radii_mm"]);
        let cell = |index: usize| {
            radii.get(index).map_or(String::new(), |mm| (mm * UM_PER_MM).to_string())
        };
        let annuli: Vec<String> = (0..9).map(cell).collect();
        let total = one["radius_mm"].as_f64().unwrap() * UM_PER_MM;
        let key = one["id"].as_str().unwrap();
        text.push_str(&format!("\n{key};{};{total};{}", one["length_mm"], annuli.join(";")));
    }
    text.push_str("\nF15;-;2000;900;;;;;;;;\n");
    let table = parse_radii(text.as_bytes()).unwrap();
    assert_eq!(table.faults.len(), 1);
    let result = run(&SampleFish::from_rows(&table.rows), Method::ScaleProportional);
    let fault = table.faults[0].to_string();
    let document: Value =
        serde_json::from_str(&lengths_json(&result, Some(&fault)).to_string()).unwrap();
    let expected = &published.case("scale_proportional_linear_S_on_L")["expected"];
    let mut c = Comparison::within(1e-9);
    for one in document["fish"].as_array().unwrap() {
        let key = one["fish"].as_str().unwrap();
        c.numbers(key, &floats(&one["lengths_mm"]), &expected[key]);
    }
    assert_eq!(c.compared, 60);
    assert_eq!(document["regression"]["direction"], "radius-on-length");
    assert!(document["error"].as_str().unwrap().starts_with("row 16, column length_mm"));
}
