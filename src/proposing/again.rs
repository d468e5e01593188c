//! Proposing again on the scan of the last time, as while an axis is moved: what does not depend on the axis is kept.

use std::sync::{Arc, Mutex};

use kurbo::{Point, Rect};

use crate::domain::calibration::Calibration;
use crate::domain::progress::{Progress, Stopped};
use crate::domain::reading::{Light, Structure};
use crate::imaging::raster::{Raster, Samples};

use super::plane::MOST_COPIED_PX;
use super::prepared::propose_prepared;
use super::{Prepared, Proposals, Request, propose};

/// Proposes, and keeps the impression of the last time where it is not large. Gives what [`propose`] gives.
#[derive(Debug, Default)]
pub struct Again {
    last: Mutex<Option<(Key, Arc<Prepared<'static>>)>>,
}

/// All that an impression made ready depends on.
#[derive(Debug, Clone, PartialEq)]
struct Key {
    size: (usize, usize),
    /// Of the samples.
    mixed: u64,
    calibration: Calibration,
    structure: Structure,
    light: Option<Light>,
    bounds: Option<Rect>,
    focus: Option<Point>,
}

impl Again {
    /// Proposes annuli on one impression, quicker where it is that of the last time with another axis from the same
    /// focus.
    ///
    /// # Errors
    /// [`Stopped`] when the work was stopped through `progress`.
    pub fn propose(&self, request: &Request, progress: &Progress) -> Result<Proposals, Stopped> {
        if !matches!(request.structure, Structure::Scale | Structure::Otolith) {
            return propose(request, progress);
        }
        let key = Key {
            size: (request.raster.width(), request.raster.height()),
            mixed: mixed(request.raster),
            calibration: request.calibration.clone(),
            structure: request.structure,
            light: request.light,
            bounds: request.bounds,
            focus: request.focus.or_else(|| request.axis.as_ref().map(|axis| axis.focus())),
        };
        // Held only to look and to put back: a newer request never waits for an older one.
        let last = self.last.lock().ok().and_then(|last| last.clone());
        let prepared = match last {
            Some((known, prepared)) if known == key => prepared,
            _ => {
                let fresh = Prepared::new(request, progress)?;
                if fresh.size() > MOST_COPIED_PX {
                    return propose_prepared(&fresh, request, progress);
                }
                Arc::new(fresh.into_owned())
            }
        };
        if let Ok(mut last) = self.last.lock() {
            *last = Some((key, Arc::clone(&prepared)));
        }
        propose_prepared(&prepared, request, progress)
    }
}

/// All samples mixed into one number, so that another scan in the same place in memory is not taken for this one.
fn mixed(raster: &Raster) -> u64 {
    // Four chains side by side; odd multipliers lose nothing (FNV's prime, from memory).
    let mut chains = [0xcbf2_9ce4_8422_2325_u64, 1, 2, 3];
    let mut add = |eight: [u64; 4]| {
        for (chain, value) in chains.iter_mut().zip(eight) {
            *chain = (*chain ^ value).wrapping_mul(0x0000_0100_0000_01b3).rotate_left(29);
        }
    };
    match raster.samples() {
        Samples::Eight(all) => {
            for part in all.chunks(32) {
                let mut words = [0u64; 4];
                for (word, bytes) in words.iter_mut().zip(part.chunks(8)) {
                    let mut eight = [0u8; 8];
                    for (to, from) in eight.iter_mut().zip(bytes) {
                        *to = *from;
                    }
                    *word = u64::from_le_bytes(eight);
                }
                add(words);
            }
        }
        Samples::Sixteen(all) => {
            for part in all.chunks(16) {
                let mut words = [0u64; 4];
                for (word, four) in words.iter_mut().zip(part.chunks(4)) {
                    *word = four.iter().fold(0, |word, v| (word << 16) | u64::from(*v));
                }
                add(words);
            }
        }
    }
    chains.iter().fold(0, |all, chain| (all ^ chain).wrapping_mul(0x0000_0100_0000_01b3))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::axis::Axis;
    use crate::domain::calibration::CalibrationSource;
    use crate::simulate::picture::{Picture, draw, extent_um};
    use crate::simulate::spec::draw_spec;
    use crate::simulate::truth::Difficulty;

    fn small(structure: Structure) -> Picture {
        let mut spec = draw_spec(structure, Difficulty::Easy, None, 5);
        let (wide, high) = extent_um(&spec).unwrap();
        spec.um_per_px = wide.max(high) / 420.0;
        draw(&spec).unwrap()
    }

    #[test]
    fn a_kept_impression_gives_what_a_fresh_one_gives_and_another_scan_is_not_mistaken_for_it() {
        let again = Again::default();
        for picture in [small(Structure::Scale), small(Structure::Otolith)] {
            let um = picture.truth.um_per_px;
            let [focus, end] = picture.truth.axis_px;
            for turn in [0.0, 0.1, 0.0] {
                let along = kurbo::Vec2::from_angle((end - focus).atan2() + turn);
                let axis = Axis::straight(focus, focus + along * (end - focus).hypot()).unwrap();
                let request = Request {
                    raster: &picture.raster,
                    calibration: Calibration::new(um, um, CalibrationSource::Stated).unwrap(),
                    structure: picture.truth.structure,
                    light: None,
                    bounds: None,
                    focus: Some(focus),
                    axis: Some(axis),
                };
                let (kept, fresh) = (
                    again.propose(&request, &Progress::new()).unwrap(),
                    propose(&request, &Progress::new()).unwrap(),
                );
                assert_eq!(kept.annuli, fresh.annuli);
                assert_eq!((kept.refused, kept.edge), (fresh.refused, fresh.edge));
            }
        }
    }
}
