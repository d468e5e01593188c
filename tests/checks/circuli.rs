//! Circulus spacing, centred spacing and the crowding score by the definitions of
//! fixtures/published/25_circulus_spacing.json (values made with numpy 2.4.6; relative tolerance 1e-8). Signs of
//! crowding as an annulus: Jearld 1983; DeVries & Frie 1996 (from memory, textbook level).

use winterline::imaging::peaks::{PeakRules, find_peaks};
use winterline::proposing::circuli::{centred_spacing, crowding_score, spacing};

use crate::published::{Published, compare, floats, indices};

fn fixture() -> Published {
    Published::open("25_circulus_spacing")
}

fn positions(fixture: &Published) -> Vec<f64> {
    floats(&fixture.case("spacing")["input"]["circulus_position_mm"])
}

#[test]
fn spacing_and_centred_spacing() {
    let fixture = fixture();
    let positions = positions(&fixture);
    let expected = &fixture.case("spacing")["expected"];
    let plain = floats(&expected["spacing_mm"]);
    let centred = floats(&expected["centred_spacing_mm"]);
    let compared = compare("spacing", &spacing(&positions), &plain, 1e-9)
        + compare("centred", &centred_spacing(&positions), &centred, 1e-9);
    assert_eq!(compared, 60 + 59);
}

#[test]
fn crowding_score_and_its_peaks_at_the_planted_annuli() {
    let fixture = fixture();
    let positions = positions(&fixture);
    let case = fixture.case("crowding_score");
    let half_window = case["input"]["half_window"].as_u64().unwrap() as usize;
    let expected = &case["expected"];
    let first = expected["first_index"].as_u64().unwrap() as usize;
    assert_eq!(first, half_window);
    let score = crowding_score(&positions, half_window);
    assert_eq!(compare("score", &score, &floats(&expected["score"]), 1e-8), 53);
    let peaks: Vec<usize> = find_peaks(&score, PeakRules { min_prominence: 0.15, min_distance: 1 })
        .iter()
        .map(|peak| peak.index + first)
        .collect();
    assert_eq!(peaks, indices(&expected["peak_circulus_index"]));
    let places: Vec<f64> = peaks.iter().filter_map(|i| positions.get(*i)).copied().collect();
    assert_eq!(compare("places", &places, &floats(&expected["peak_position_mm"]), 1e-12), 3);
}
