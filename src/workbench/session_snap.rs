//! Where a mark let go near a crest or trough of the profile comes to lie.

use super::session_evidence::Evidence;
use crate::domain::units::Pixels;
use crate::imaging::peaks::{PeakRules, find_dips, find_peaks};

/// Share of the profile's range a crest or trough must stand out by (common practice, no source).
const LEAST_PROMINENCE: f64 = 0.12;

/// The crest or trough of the profile nearest to `at`, if one lies within `reach`; else `at` itself.
pub fn snapped(evidence: &Evidence, at: Pixels, reach: Pixels) -> Pixels {
    let values = &evidence.profile.values;
    let finite = values.iter().filter(|value| value.is_finite());
    let (low, high) = finite.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
        (low.min(*value), high.max(*value))
    });
    let prominence = (high - low) * LEAST_PROMINENCE;
    if prominence.is_nan() || prominence <= 0.0 {
        return at;
    }
    let rules = PeakRules { min_prominence: prominence, ..PeakRules::default() };
    let places = find_peaks(values, rules).into_iter().chain(find_dips(values, rules));
    let places = places.map(|peak| evidence.profile.distance_at(peak.position));
    let nearest = places.min_by(|a, b| (a.0 - at.0).abs().total_cmp(&(b.0 - at.0).abs()));
    nearest.filter(|found| (found.0 - at.0).abs() <= reach.0).unwrap_or(at)
}

#[cfg(test)]
mod tests {
    use kurbo::Point;

    use super::super::session_evidence::gather;
    use super::*;
    use crate::domain::axis::Axis;
    use crate::imaging::raster::{Raster, Samples};

    #[test]
    fn a_mark_goes_to_the_crest_in_reach_and_no_farther() {
        let value =
            |x: usize| if (48..=52).contains(&x) { 200 - 10 * x.abs_diff(50) as u8 } else { 90 };
        let values = (0..120 * 30).map(|i| value(i % 120)).collect();
        let raster = Raster::new(120, 30, Samples::Eight(values)).unwrap();
        let axis = Axis::straight(Point::new(0.0, 15.0), Point::new(110.0, 15.0)).unwrap();
        let evidence = gather(&raster, &axis, Pixels(110.0)).unwrap();
        let to = |at| snapped(&evidence, Pixels(at), Pixels(6.0)).0;
        assert!((to(46.0) - 50.0).abs() < 0.5, "{}", to(46.0));
        assert!((to(55.0) - 50.0).abs() < 0.5);
        assert_eq!(to(30.0), 30.0);
    }
}
