//! Pixel size from dots per inch, magnification and a stage micrometer: fixtures/published/22_calibration.json (the
//! international inch of 1959; textbook statistics by numpy, scipy and statsmodels; JCGM 100:2008), tolerance 1e-9.

use kurbo::Vec2;
use serde_json::Value;
use winterline::domain::calibration::{Calibration, CalibrationSource};
use winterline::domain::calibration_fit::{SpanFit, TickFit, length_with_error};

use crate::published::{Comparison, Published, floats};

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap()
}

fn pairs(a: &Value, b: &Value) -> Vec<(f64, f64)> {
    floats(a).into_iter().zip(floats(b)).collect()
}

#[test]
fn pixel_sizes_and_their_errors() {
    let fixture = Published::open("22_calibration");
    let mut check = Comparison::within(1e-9);

    let case = fixture.case("dpi");
    let inputs = case["input"].as_array().unwrap();
    for (input, expected) in inputs.iter().zip(case["expected"].as_array().unwrap()) {
        let (dpi, by) = (number(&input["dpi"]), number(&input["print_magnification"]));
        let found = Calibration::from_dpi(dpi, by, CalibrationSource::Magnification).unwrap();
        check.number("dpi", found.x_um_per_px(), expected);
    }

    let case = fixture.case("repeated_micrometer_spans");
    let spans = pairs(&case["input"]["known_um"], &case["input"]["pixels"]);
    let (found, expected) = (SpanFit::of(&spans).unwrap(), &case["expected"]);
    check.number("mean", found.um_per_px, &expected["um_per_px"]);
    check.number("sd", found.sd_um_per_px.unwrap(), &expected["sd"]);
    check.number("se", found.se_um_per_px.unwrap(), &expected["se"]);
    check.number("relative se", found.relative_se().unwrap(), &expected["relative_se"]);
    check.number("ratio", found.ratio_of_means_um_per_px, &expected["ratio_of_means"]);

    let case = fixture.case("micrometer_ticks_regression");
    let ticks = pairs(&case["input"]["pixel"], &case["input"]["um"]);
    let (found, expected) = (TickFit::of(&ticks).unwrap(), &case["expected"]);
    check.number("slope", found.px_per_um, &expected["px_per_um"]);
    check.number("size", found.um_per_px, &expected["um_per_px"]);
    check.number("slope se", found.se_px_per_um, &expected["se_px_per_um"]);
    check.number("size se", found.se_um_per_px, &expected["se_um_per_px"]);
    check.number("residual sd", found.residual_sd_px, &expected["residual_sd_px"]);
    check.number("residual", found.max_abs_residual_px, &expected["max_abs_residual_px"]);

    let case = fixture.case("unequal_axis_scales");
    let input = |name: &str| number(&case["input"][name]);
    let (x, y) = (input("um_per_px_x"), input("um_per_px_y"));
    let scale = Calibration::new(x, y, CalibrationSource::Stated).unwrap();
    let by = Vec2::new(input("dx_px"), input("dy_px"));
    let found = scale.micrometres_from_displacement(by);
    check.number("length", found.0, &case["expected"]["length_um"]);

    let case = fixture.case("length_error");
    let input = |name: &str| number(&case["input"][name]);
    let (scale, se) = (input("um_per_px"), input("se_um_per_px"));
    let (length, error) = length_with_error(input("length_px"), scale, se, input("mark_sd_px"));
    check.number("length", length, &case["expected"]["length_um"]);
    check.number("error", error, &case["expected"]["se_um"]);

    assert_eq!(check.compared, 19);
}
