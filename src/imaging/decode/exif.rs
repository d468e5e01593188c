//! Resolution and orientation tags, which TIFF files and the EXIF block of JPEG files share.

use crate::imaging::decode::directory::Directory;
use crate::imaging::resolution::{DensityUnit, Resolution, ResolutionTag};

const ORIENTATION: u16 = 274;
const X_RESOLUTION: u16 = 282;
const Y_RESOLUTION: u16 = 283;
const RESOLUTION_UNIT: u16 = 296;

/// The stated pixel size; a notice where it is unusable, nothing where none is stated or its unit is "none".
pub(crate) fn resolution(
    directory: &Directory<'_>,
    tag: ResolutionTag,
) -> Option<Result<Resolution, String>> {
    let x = directory.fraction(X_RESOLUTION);
    let y = directory.fraction(Y_RESOLUTION);
    let (x, y) = (x.or(y)?, y.or(x)?);
    // The unit is inches where it is left out (TIFF 6.0, page 38).
    let unit = match directory.number(RESOLUTION_UNIT).unwrap_or(2) {
        2 => DensityUnit::Inch,
        3 => DensityUnit::Centimetre,
        _ => return None,
    };
    Some(Resolution::from_density([x, y], unit, tag))
}

/// A notice where the file asks to be shown turned or mirrored: positions stay those of the stored pixels.
pub(crate) fn orientation_notice(directory: &Directory<'_>) -> Option<String> {
    let stored = directory.number(ORIENTATION).unwrap_or(1);
    (2..=8).contains(&stored).then(|| {
        "the file asks to be shown turned or mirrored: it is shown as it is stored".to_owned()
    })
}
