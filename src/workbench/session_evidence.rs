//! What is shown under the scan: the straightened strip and the intensity profile of one axis.

use crate::domain::axis::Axis;
use crate::domain::units::Pixels;
use crate::imaging::profile::{Band, Profile, ProfileError, along_axis_to};
use crate::imaging::raster::Raster;
use crate::imaging::strip::{Strip, straightened};

/// Strip and profile of an axis, both from the focus to [`Evidence::end`] and with the same step.
#[derive(Debug, Clone, PartialEq)]
pub struct Evidence {
    /// The axis they were taken along.
    pub axis: Axis,
    /// How far they reach along it, pixels.
    pub end: Pixels,
    /// The band around the axis, made straight.
    pub strip: Strip,
    /// Grey values along the axis, averaged over [`BAND_PX`].
    pub profile: Profile,
}

/// Width of the band the profile is averaged over, pixels.
pub const BAND_PX: usize = 11;

/// A longer axis is sampled more coarsely: finer detail than this is lost on any screen.
const MAX_COLUMNS: f64 = 6000.0;

/// Share of the radius shown beyond the margin, so that the margin can be judged and moved outwards.
const BEYOND_MARGIN: f64 = 1.06;

/// How far strip and profile should reach for a margin at `edge`.
pub fn reach(axis: &Axis, edge: Option<Pixels>) -> Pixels {
    let edge = edge.unwrap_or_else(|| axis.length_px());
    Pixels((edge.0 * BEYOND_MARGIN).max(2.0))
}

/// Takes strip and profile along `axis` from the focus to `end`.
///
/// # Errors
/// As [`straightened`] and [`along_axis_to`].
pub fn gather(raster: &Raster, axis: &Axis, end: Pixels) -> Result<Evidence, ProfileError> {
    let step_px = (end.0 / MAX_COLUMNS).max(1.0);
    let height_px = ((end.0 * 0.1) as usize).clamp(31, 201) | 1;
    let strip = straightened(raster, axis, end, step_px, height_px)?;
    let profile = along_axis_to(raster, axis, end, step_px, Band::mean(BAND_PX))?;
    Ok(Evidence { axis: axis.clone(), end, strip, profile })
}
