//! Focus and axis together, and how far they can be relied on.
//!
//! Confidences are shares of right suggestions among invented pictures of easy, medium and hard grade with the same
//! evidence, by logistic regression on training seeds; what they are worth on a laboratory's own scans is not known.

use kurbo::Point;

use crate::domain::axis::Axis;
use crate::domain::reading::Structure;

use super::nested::NestedRings;
use super::outline::Outline;
use super::plane::Plane;
use super::suggest::{Grain, suggest_axis, suggest_focus};

/// Probabilities, 0 to 1, that what was suggested is right; `None` for what the reader gave or what was not sought.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Suggested {
    /// The focus lies within 2 % of the radius of the true one.
    pub focus: Option<f64>,
    /// The axis lies within 35 degrees of one that a reader would choose. `None` on otoliths, where readers differ.
    pub axis: Option<f64>,
    /// The margin lies within 1 % of the radius of the true one.
    pub margin: Option<f64>,
}

/// A suggested axis and what is known of it.
#[derive(Debug, Clone)]
pub struct Suggestion {
    /// From the focus to just beyond the margin.
    pub axis: Axis,
    /// See [`Suggested::focus`].
    pub focus_confidence: Option<f64>,
    /// See [`Suggested::axis`].
    pub axis_confidence: Option<f64>,
    /// True where the lines round the focus all run one way, so that they cannot be rings.
    pub runs_one_way: bool,
}

/// A confidence below which the reader is asked to look.
const DOUBTFUL: f64 = 0.8;
/// Share of scales whose suggested axis lay in the anterior field.
const AXIS_ON_SCALES: f64 = 0.88;
/// Lines round the focus that run one way more than this are no rings: the most on a readable invented scale is 0.74,
/// the least on a hopeless one 0.78.
const ONE_WAY: f64 = 0.76;

impl Suggestion {
    /// Suggests an axis, and the focus where none is given. `rings`: of an otolith.
    pub(super) fn make(
        plane: &Plane,
        outline: &Outline,
        rings: Option<&NestedRings>,
        focus: Option<Point>,
    ) -> Option<Self> {
        let is_scale = rings.is_none();
        let apart = if is_scale { 1 } else { (plane.width.min(plane.height) / 250).max(2) };
        let grain = Grain::measure(plane, apart);
        let structure = if is_scale { Structure::Scale } else { Structure::Otolith };
        let (at, focus_confidence, runs_one_way) = match (focus, rings) {
            (Some(at), _) => (at, None, false),
            (None, Some(rings)) => {
                let found = rings.best();
                (found.at, Some(likely(4.862 + 3.373 * found.agreement.max(0.05).ln())), false)
            }
            (None, None) => {
                let found = suggest_focus(plane, &grain, outline);
                let unrest = 100.0 * found.unrest.min(0.08);
                (found.at, Some(likely(5.684 - 1.862 * unrest)), found.one_way > ONE_WAY)
            }
        };
        let axis = suggest_axis(&grain, outline, at, structure)?;
        let axis_confidence = is_scale.then_some(AXIS_ON_SCALES);
        Some(Self { axis, focus_confidence, axis_confidence, runs_one_way })
    }

    /// What the reader should be told, if anything.
    pub fn warning(&self) -> Option<String> {
        self.focus_confidence.filter(|p| *p < DOUBTFUL).map(|_| {
            "the suggested focus is doubtful: check it, and set it by hand where it is off"
                .to_owned()
        })
    }
}

/// See [`Suggested::margin`]. `clarity`: how clearly the structure stands out, 0 to 1.
pub(super) fn margin_confidence(structure: Structure, clarity: f64) -> f64 {
    match structure {
        Structure::Scale => likely(0.435 + 1.288 * clarity),
        _ => likely(1.132 + 1.412 * clarity),
    }
}

fn likely(log_odds: f64) -> f64 {
    1.0 / (1.0 + (-log_odds).exp())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::imaging::raster::{Raster, Samples};

    fn plane(shade: impl Fn(f64, f64) -> f64) -> Plane<'static> {
        let values =
            (0..400 * 400).map(|i| shade((i % 400) as f64, (i / 400) as f64) as u8).collect();
        Plane::new(&Raster::new(400, 400, Samples::Eight(values)).unwrap(), None).into_owned()
    }

    fn suggested(plane: &Plane) -> Suggestion {
        let outline = Outline::find(plane, None).unwrap();
        Suggestion::make(plane, &outline, None, None).unwrap()
    }

    #[test]
    fn rings_off_the_middle_are_found_with_confidence_and_the_axis_runs_the_longer_way() {
        let focus = Point::new(200.0, 240.0);
        let found = suggested(&plane(|x, y| {
            let inside = ((x - 200.0) / 120.0).powi(2) + ((y - 200.0) / 150.0).powi(2) < 1.0;
            let wave = 40.0 * (0.8 * (x - focus.x).hypot(y - focus.y)).sin();
            if inside { 120.0 + wave } else { 120.0 }
        }));
        assert!((found.axis.focus() - focus).hypot() < 2.0, "{:?}", found.axis.focus());
        assert!(found.focus_confidence.unwrap() > 0.9 && found.warning().is_none());
        assert!(!found.runs_one_way);
        let along = found.axis.end() - found.axis.focus();
        assert!(along.y < -2.0 * along.x.abs(), "{along:?}");
    }

    #[test]
    fn straight_streaks_are_no_rings() {
        let found = suggested(&plane(|x, y| {
            let inside = (x - 200.0).hypot(y - 200.0) < 130.0;
            if inside { 120.0 + 40.0 * (0.8 * x).sin() } else { 120.0 }
        }));
        assert!(found.runs_one_way);
    }
}
