//! What a lead does with blind lists: draw one, send it to another office. Closing and taking in are the store's.

use std::path::{Path, PathBuf};

use jiff::Timestamp;
use kurbo::{Rect, Vec2};
use rayon::prelude::*;

use crate::domain::blind::{BlindPolicy, BlindRule, Candidate, Drawn, ListName, draw, jitter};
use crate::domain::calibration::{Calibration, CalibrationSource};
use crate::domain::progress::Progress;
use crate::domain::reading::{ReaderInitials, ScanIdentity};
use crate::domain::survey::Survey;
use crate::imaging::decode::{Limits, decode_bytes};
use crate::imaging::encode::png_bytes;
use crate::proposing::outline::Outline;
use crate::proposing::plane::Plane;
use crate::store::blind::{
    BlindEntry, BlindList, create_list, list_path, load_list, on_pixel_borders,
};
use crate::store::blind_candidates::{ListedImpression, NotListed, blind_candidates};
use crate::store::blind_error::BlindError;
use crate::store::blind_pack::write_pack;
use crate::store::collection::OpenSurvey;
use crate::store::fingerprint::Fingerprint;
use crate::store::survey_check::SurveyReadings;

use super::blind_picture::cropped_scan;
use super::blind_session::masked_list;

/// A list to be drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct NewList {
    /// Its name.
    pub name: ListName,
    /// The seed: the same survey, rule and seed give the same list.
    pub seed: u64,
    /// Which fish.
    pub rule: BlindRule,
    /// Fish of known age slipped in beside them.
    pub n_references: usize,
    /// What the reader is shown.
    pub policy: BlindPolicy,
    /// Who draws it, where stated.
    pub by: Option<ReaderInitials>,
}

/// A list that was drawn.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DrawnList {
    /// Its file.
    pub path: PathBuf,
    /// Impressions on it.
    pub n_entries: usize,
    /// Impressions whose whole scan is shown, because no box is known: labels and rulers may betray them.
    pub n_whole_scans: usize,
    /// Fish that cannot be put on any list.
    pub left_out: Vec<NotListed>,
}

/// Draws a list and writes it.
///
/// # Errors
/// [`BlindError::Taken`] for a name that is used, [`BlindError::List`] for a rule that finds nothing,
/// [`BlindError::BadScan`] for a scan that cannot be opened, [`BlindError::Stopped`].
pub fn new_list(
    survey: &OpenSurvey,
    readings: &SurveyReadings,
    new: &NewList,
    drawn: Timestamp,
    watch: &Progress,
) -> Result<DrawnList, BlindError> {
    let path = list_path(&survey.folder, &new.name);
    if path.exists() {
        return Err(BlindError::Taken { path, advice: "choose another name for the new list" });
    }
    let (listed, left_out) = blind_candidates(survey, &readings.sidecars);
    let candidates: Vec<Candidate> = listed.iter().map(|one| one.candidate.clone()).collect();
    let places = draw(&candidates, &new.rule, new.n_references, new.seed)?;
    watch.set_total(places.len());
    let entries: Vec<(BlindEntry, bool)> = places
        .par_iter()
        .enumerate()
        .filter_map(|(place, drawn)| Some((place, drawn, listed.get(drawn.candidate)?)))
        .map(|(place, drawn, one)| {
            watch.checkpoint()?;
            let entry = entry(survey, one, drawn, jitter(new.seed, place));
            watch.step();
            entry
        })
        .collect::<Result<_, BlindError>>()?;
    let n_whole_scans = entries.iter().filter(|(_, is_whole)| *is_whole).count();
    let tags: Vec<String> = entries.iter().map(|(entry, _)| entry.tag.clone()).collect();
    let list = BlindList {
        name: new.name.clone(),
        id: BlindList::id_of(&survey.survey.name, &new.name, drawn, &tags),
        seed: new.seed,
        rule: new.rule.clone(),
        policy: new.policy,
        drawn_by: new.by.clone(),
        drawn,
        closed: None,
        entries: entries.into_iter().map(|(entry, _)| entry).collect(),
    };
    let path = create_list(&survey.folder, &list)?;
    Ok(DrawnList { path, n_entries: list.entries.len(), n_whole_scans, left_out })
}

/// Writes a list as a pack for another office: pictures and what the list shows, without the mapping.
///
/// # Errors
/// [`BlindError::Closed`], [`BlindError::Taken`] for a file that is there, [`BlindError::BadScan`],
/// [`BlindError::Stopped`].
pub fn pack_list(
    survey: &OpenSurvey,
    name: &ListName,
    file: &Path,
    watch: &Progress,
) -> Result<(), BlindError> {
    let list = load_list(&survey.folder, name)?.list;
    if list.closed.is_some() {
        return Err(BlindError::Closed { name: list.name.to_string() });
    }
    watch.set_total(list.entries.len());
    write_pack(file, &masked_list(survey, &list), |tag| {
        watch.checkpoint()?;
        let picture = cropped_scan(&survey.folder, name, tag)?;
        let png = png_bytes(&picture, None)
            .map_err(|error| BlindError::BadScan { reason: error.to_string() })?;
        watch.step();
        Ok(png)
    })
}

/// The entry of a place, and whether its whole scan is shown.
fn entry(
    survey: &OpenSurvey,
    one: &ListedImpression,
    drawn: &Drawn,
    jitter: [f64; 3],
) -> Result<(BlindEntry, bool), BlindError> {
    let has_box = one.bounds.is_some() || one.reach.is_some();
    let looked_at = match (&one.identity, has_box) {
        (Some(_), true) => None,
        _ => Some(looked_at(survey, &one.scan)?),
    };
    let outline = looked_at.as_ref().and_then(|looked| looked.outline);
    let (scan, calibration) = match (&one.identity, looked_at) {
        (Some(identity), _) => (identity.clone(), one.calibration.clone()),
        (None, Some(looked)) => (looked.identity, looked.calibration),
        (None, None) => {
            let reason = format!("nothing is known of '{}'", one.scan);
            return Err(BlindError::BadScan { reason });
        }
    };
    let whole =
        Rect::new(-0.5, -0.5, f64::from(scan.width_px) - 0.5, f64::from(scan.height_px) - 0.5);
    let wished = one
        .bounds
        .or_else(|| box_around(one, jitter))
        .or_else(|| outline.map(|outline| widened(outline, jitter)));
    let bounds = wished.and_then(|bounds| on_pixel_borders(bounds, scan.width_px, scan.height_px));
    let entry = BlindEntry {
        tag: drawn.tag.clone(),
        fish: one.candidate.fish.clone(),
        scan,
        impression: one.number,
        structure: one.structure,
        light: one.light,
        bounds: bounds.unwrap_or(whole),
        calibration,
        is_reference: drawn.is_reference,
        known_age: one.candidate.known_age,
    };
    Ok((entry, bounds.is_none()))
}

/// A box for an impression without one, from the axis of an earlier reading: wide, and with a random size and place,
/// so that neither the focus nor the radius of that reading can be told from it.
fn box_around(one: &ListedImpression, [size, right, down]: [f64; 3]) -> Option<Rect> {
    let (focus, reach_px) = one.reach?;
    let half_px = reach_px * (1.5 + 0.5 * size);
    let shift = Vec2::new(right - 0.5, down - 0.5) * (0.6 * reach_px);
    Some(Rect::from_center_size(focus + shift, (2.0 * half_px, 2.0 * half_px)))
}

/// A box around the structure itself, a little wider and shifted at random: all of the structure, and none of the label.
fn widened(outline: Rect, [size, right, down]: [f64; 3]) -> Rect {
    let room = outline.width().max(outline.height()) * (0.02 + 0.03 * size);
    let shift = Vec2::new(right - 0.5, down - 0.5) * room;
    outline.inflate(room, room) + shift
}

/// What a scan itself tells that has no box: size, hash, pixel size, and where the structure lies on it.
struct LookedAt {
    identity: ScanIdentity,
    calibration: Option<Calibration>,
    outline: Option<Rect>,
}

fn looked_at(survey: &OpenSurvey, name: &str) -> Result<LookedAt, BlindError> {
    let path = survey.scan_path(name)?;
    let bad =
        |reason: String| BlindError::BadScan { reason: format!("{reason}: '{}'", path.display()) };
    let bytes = std::fs::read(&path).map_err(|error| bad(error.to_string()))?;
    let scan = decode_bytes(&bytes, &Limits::default()).map_err(|error| bad(error.to_string()))?;
    let side = |px: usize| u32::try_from(px).unwrap_or(u32::MAX);
    let identity = ScanIdentity {
        file: name.to_owned(),
        width_px: side(scan.raster.width()),
        height_px: side(scan.raster.height()),
        blake3: Fingerprint::of(&bytes).blake3_hex(),
    };
    let tag = scan.resolution.filter(|resolution| !resolution.common_default);
    let outline = Outline::find(&Plane::new(&scan.raster, None), None);
    Ok(LookedAt {
        identity,
        calibration: calibration(&survey.survey, tag.map(|tag| tag.um_per_px)),
        outline: outline.and_then(|outline| outline.bounds()),
    })
}

/// The file's own resolution where it is a measurement, else the survey's default.
fn calibration(survey: &Survey, tag: Option<[f64; 2]>) -> Option<Calibration> {
    let of = |size: Option<[f64; 2]>, source| {
        size.and_then(|[x, y]| Calibration::new(x, y, source).ok())
    };
    of(tag, CalibrationSource::FileTag)
        .or_else(|| of(survey.default_um_per_px, CalibrationSource::Survey))
}
