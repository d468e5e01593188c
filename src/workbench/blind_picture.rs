//! The pictures of a blind list: each is the impression's box cut out of its scan, and nothing else.

use std::path::{Path, PathBuf};

use kurbo::Rect;

use crate::domain::axis::Axis;
use crate::domain::blind::ListName;
use crate::domain::progress::{Progress, Stopped};
use crate::domain::units::Micrometres;
use crate::imaging::decode::{Limits, decode_bytes};
use crate::imaging::raster::{Raster, Samples};
use crate::proposing::{Proposals, Refusal, Request};
use crate::store::blind::load_list;
use crate::store::blind_error::BlindError;
use crate::store::blind_pack::read_pack_picture;
use crate::store::file_name::SCANS_FOLDER;
use crate::store::fingerprint::Fingerprint;

use super::session_propose::ProposeFn;

/// Where the pictures of a list come from.
#[derive(Clone)]
pub(super) enum Source {
    /// A survey folder.
    Survey(PathBuf),
    /// A blind pack.
    Pack(PathBuf),
}

/// Opens the pictures of a list by their tags. Knows no scan: each tag is looked up on disk and forgotten again.
#[derive(Clone)]
pub struct BlindPictures {
    source: Source,
    list: ListName,
}

impl std::fmt::Debug for BlindPictures {
    /// Says nothing of where the pictures lie: a folder's name may tell water and year.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("BlindPictures").finish_non_exhaustive()
    }
}

impl BlindPictures {
    pub(super) fn new(source: Source, list: ListName) -> Self {
        Self { source, list }
    }

    /// The picture of a tag, in its own pixels from (0, 0); its scale is not told.
    ///
    /// # Errors
    /// [`BlindError::NoPicture`], whatever the cause: the cause could name the scan.
    pub fn open(&self, tag: &str) -> Result<Raster, BlindError> {
        let opened = match &self.source {
            Source::Survey(folder) => cropped_scan(folder, &self.list, tag).ok(),
            Source::Pack(path) => read_pack_picture(path, tag)
                .ok()
                .and_then(|bytes| decode_bytes(&bytes, &Limits::default()).ok())
                .map(|scan| scan.raster),
        };
        opened.ok_or_else(|| BlindError::NoPicture {
            tag: tag.to_owned(),
            name: self.list.to_string(),
        })
    }
}

impl BlindPictures {
    /// Looks for annuli on the picture of a tag. The pixel size is looked up for it and taken out of what was found:
    /// radii are then shares of the way to the margin, and the spacing has no unit.
    ///
    /// # Errors
    /// [`Stopped`] when asked to stop. Where the pixel size is not known nothing is proposed.
    pub(super) fn propose(
        &self,
        tag: &str,
        raster: &Raster,
        axis: Option<Axis>,
        propose: &ProposeFn,
        progress: &Progress,
    ) -> Result<Proposals, Stopped> {
        let entry = match &self.source {
            Source::Survey(folder) => load_list(folder, &self.list)
                .ok()
                .and_then(|loaded| loaded.list.entry(tag).cloned()),
            Source::Pack(_) => None,
        };
        let known =
            entry.and_then(|entry| Some((entry.calibration?, entry.structure, entry.light)));
        let Some((calibration, structure, light)) = known else {
            return Ok(Proposals::refused(Refusal::NoEvidence));
        };
        let focus = axis.as_ref().map(Axis::focus);
        let request = Request { raster, calibration, structure, light, bounds: None, focus, axis };
        propose(&request, progress).map(without_scale)
    }
}

fn without_scale(mut found: Proposals) -> Proposals {
    let edge = found.edge.map_or(f64::NAN, |edge| edge.0);
    let all = found.annuli.iter_mut().chain(&mut found.checks).chain(&mut found.alternatives);
    for one in all {
        one.radius = Micrometres(one.position.0 / edge);
        one.inner_radius = one.radius;
    }
    let spacing = &mut found.evidence.spacing_um;
    let most = spacing.iter().copied().filter(|um| um.is_finite()).fold(0.0, f64::max);
    spacing.iter_mut().for_each(|um| *um /= most);
    // Warnings may name lengths.
    found.warnings.clear();
    found
}

/// The picture of a tag of a survey's list; errors name the scan and are for the lead.
///
/// # Errors
/// [`BlindError::BadScan`], and as [`load_list`].
pub(super) fn cropped_scan(
    survey: &Path,
    list: &ListName,
    tag: &str,
) -> Result<Raster, BlindError> {
    let list = load_list(survey, list)?.list;
    let bad = |reason: String| BlindError::BadScan { reason };
    let entry = list.entry(tag).ok_or_else(|| bad(format!("the list has no tag {tag}")))?;
    let path = survey.join(SCANS_FOLDER).join(&entry.scan.file);
    let shown = path.display();
    let bytes = std::fs::read(&path).map_err(|error| bad(format!("{error}: '{shown}'")))?;
    if Fingerprint::of(&bytes).blake3_hex() != entry.scan.blake3 {
        return Err(bad(format!(
            "it is another picture than when the list was drawn: bring that one back, or draw a new list: '{shown}'"
        )));
    }
    let scan = decode_bytes(&bytes, &Limits::default())
        .map_err(|error| bad(format!("{error}: '{shown}'")))?;
    cropped(&scan.raster, entry.bounds)
        .ok_or_else(|| bad(format!("its box does not lie on it: '{shown}'")))
}

/// The pixels of `raster` inside `bounds`, which lie on the borders of pixels; `None` where there are none.
pub fn cropped(raster: &Raster, bounds: Rect) -> Option<Raster> {
    let side = |low: f64, high: f64, size: usize| {
        let (first, end) =
            ((low + 0.5).round().max(0.0) as usize, (high + 0.5).round().max(0.0) as usize);
        (first < end.min(size)).then_some(first..end.min(size))
    };
    let columns = side(bounds.x0, bounds.x1, raster.width())?;
    let rows = side(bounds.y0, bounds.y1, raster.height())?;
    let (width, height) = (columns.len(), rows.len());
    let samples = match raster.samples() {
        Samples::Eight(values) => Samples::Eight(block(values, raster.width(), columns, rows)),
        Samples::Sixteen(values) => Samples::Sixteen(block(values, raster.width(), columns, rows)),
    };
    Raster::new(width, height, samples).ok()
}

fn block<T: Copy>(
    values: &[T],
    width: usize,
    columns: std::ops::Range<usize>,
    rows: std::ops::Range<usize>,
) -> Vec<T> {
    values
        .chunks(width)
        .skip(rows.start)
        .take(rows.len())
        .filter_map(|row| row.get(columns.clone()))
        .flatten()
        .copied()
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_crop_holds_the_pixels_of_its_box() {
        let values: Vec<u8> = (0..30).collect();
        let raster = Raster::new(6, 5, Samples::Eight(values)).unwrap();
        let crop = cropped(&raster, Rect::new(0.5, 1.5, 3.5, 3.5)).unwrap();
        assert_eq!((crop.width(), crop.height()), (3, 2));
        assert_eq!(crop.samples(), &Samples::Eight(vec![13, 14, 15, 19, 20, 21]));
        assert!(cropped(&raster, Rect::new(6.5, 0.0, 9.0, 9.0)).is_none());
        assert_eq!(cropped(&raster, raster.area()).unwrap(), raster);
    }
}
