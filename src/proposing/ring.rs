//! A ring as a path on the scan.

use kurbo::BezPath;

use super::fan::Fan;
use super::frame::Frame;

/// The ring that crosses the axis at `sample` of the fan, within `half_angle` of it, image pixels; `None` where
/// fewer than three rays hold it.
pub fn traced(fan: &Fan, frame: &Frame, sample: f64, half_angle: f64) -> Option<BezPath> {
    let mut path = BezPath::new();
    let mut count = 0;
    for k in fan.rays_near(0.0, half_angle) {
        let places = fan.ray_places(k);
        let index = sample.clamp(0.0, (places.len() - 2) as f64);
        let (low, f) = (index as usize, index - index.floor());
        let steps = f64::from(places[low]) * (1.0 - f) + f64::from(places[low + 1]) * f;
        let angle = fan.angles[k];
        let at = frame.place((angle.cos(), angle.sin()), steps);
        if count == 0 {
            path.move_to(at);
        } else {
            path.line_to(at);
        }
        count += 1;
    }
    (count >= 3).then_some(path)
}
