//! Profiles against scikit-image 0.26.0 `measure.profile_line` and scipy 1.17.1 `ndimage.map_coordinates`, and cubic
//! convolution by Keys 1981: fixtures/published/23_profile_sampling.json, tolerance 1e-8.

use kurbo::Point;
use serde_json::Value;
use winterline::domain::axis::Axis;
use winterline::imaging::profile::{Band, Interpolation, along_axis, along_line};
use winterline::imaging::raster::{Raster, Samples};

use crate::published::{Published, compare, floats};

const TOLERANCE: f64 = 1e-8;

fn fixture() -> Published {
    Published::open("23_profile_sampling")
}

fn picture(fixture: &Published) -> Raster {
    let rows = fixture.case("image")["input"]["rows_top_to_bottom"].as_array().unwrap();
    let values: Vec<u16> = rows.iter().flat_map(floats).map(|value| value as u16).collect();
    Raster::new(16, 14, Samples::Sixteen(values)).unwrap()
}

/// The fixture gives row before column.
fn point(value: &Value) -> Point {
    let [row, column] = floats(value)[..] else { panic!("a point has two numbers") };
    Point::new(column, row)
}

fn line(fixture: &Published, case: &str, band: Band) -> Vec<f64> {
    let input = &fixture.case(case)["input"];
    let (start, end) = (point(&input["start_row_col"]), point(&input["end_row_col"]));
    along_line(&picture(fixture), start, end, 16, band).unwrap().values
}

#[test]
fn a_straight_line_by_three_interpolations() {
    let fixture = fixture();
    let case = "straight_line_endpoints_included";
    let expected = &fixture.case(case)["expected"];
    let mut compared = 0;
    for (key, interpolation) in [
        ("bilinear", Interpolation::Bilinear),
        ("nearest", Interpolation::Nearest),
        ("cubic_convolution_a_minus_half", Interpolation::CubicConvolution),
    ] {
        let found = line(&fixture, case, Band::mean(1).with_interpolation(interpolation));
        compared += compare(key, &found, &floats(&expected[key]), TOLERANCE);
    }
    let input = &fixture.case(case)["input"];
    let (start, end) = (point(&input["start_row_col"]), point(&input["end_row_col"]));
    let points = along_line(&picture(&fixture), start, end, 16, Band::mean(1)).unwrap().points;
    let (columns, rows): (Vec<f64>, Vec<f64>) = points.iter().map(|p| (p.x, p.y)).unzip();
    compared += compare("row", &rows, &floats(&expected["row"]), TOLERANCE);
    compared += compare("col", &columns, &floats(&expected["col"]), TOLERANCE);
    assert_eq!(compared, 80);
}

#[test]
fn bands_of_three_and_five_pixels() {
    let fixture = fixture();
    let mut compared = 0;
    for (case, width_px) in [("band_mean_width_3", 3), ("band_mean_width_5", 5)] {
        let found = line(&fixture, case, Band::mean(width_px));
        compared += compare(case, &found, &floats(&fixture.case(case)["expected"]), TOLERANCE);
    }
    assert_eq!(compared, 32);
}

#[test]
fn equal_arc_steps_along_a_bent_axis() {
    let fixture = fixture();
    let case = fixture.case("polyline_equal_arc_spacing");
    let vertices = case["input"]["vertices_row_col"].as_array().unwrap();
    let axis = Axis::new(vertices.iter().map(point)).unwrap();
    let expected = &case["expected"];
    let profile = along_axis(&picture(&fixture), &axis, 0.75, Band::mean(1)).unwrap();
    let length = expected["total_length_px"].as_f64().unwrap();
    let mut compared = compare("length", &[axis.length_px().0], &[length], TOLERANCE);
    let points = expected["points_row_col"].as_array().unwrap();
    assert_eq!(points.len(), profile.len());
    for (found, value) in profile.points.iter().zip(points) {
        compared += compare("point", &[found.y, found.x], &floats(value), TOLERANCE);
    }
    compared += compare("bilinear", &profile.values, &floats(&expected["bilinear"]), TOLERANCE);
    assert_eq!(compared, 1 + 44 + 22);
}
