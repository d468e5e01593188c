//! Joining what a reader has now with what the sidecar on disk holds, so that nothing confirmed and nothing
//! unknown is lost.

use serde_json::{Map, Value};

use crate::domain::calibration::Calibration;
use crate::domain::reading::{ReadingState, ScanReading};

use super::sidecar_v1::{ImpressionV1, MarkV1, SidecarV1};

/// The file to write for `reading`, given what is `on_disk`.
///
/// - A confirmed reading on disk that `reading` lacks is kept beside its draft.
/// - A confirmed reading replaced by another confirmed one moves to `earlier`.
/// - A draft on disk that `reading` lacks was confirmed or given up, and goes.
/// - Unknown keys are kept at every level: in an impression by its number, in a mark by kind and position.
pub(super) fn merged(reading: &ScanReading, on_disk: Option<SidecarV1>) -> SidecarV1 {
    let mut new = SidecarV1::from_reading(reading);
    if let Some(old) = on_disk {
        new.other = old.other;
        new.scan.other = old.scan.other;
        if let (Some(new), Some(old)) = (&mut new.calibration, old.calibration) {
            new.other = old.other;
        }
        for impression in &mut new.impressions {
            if let Some(old) = counterpart(&old.impressions, impression) {
                keep_unknown(impression, old);
            }
        }
        new.earlier = old.earlier;
        for old in old.impressions {
            keep_confirmed(&mut new, old, reading.calibration.as_ref());
        }
    }
    new.impressions
        .sort_by_key(|impression| (impression.number, impression.state.0 == ReadingState::Draft));
    new
}

fn keep_confirmed(new: &mut SidecarV1, old: ImpressionV1, calibration: Option<&Calibration>) {
    if old.state.0 != ReadingState::Confirmed {
        return;
    }
    let same_place =
        |new: &&ImpressionV1| new.number == old.number && new.state.0 == ReadingState::Confirmed;
    match new.impressions.iter().find(same_place) {
        None => new.impressions.push(with_micrometres(old, calibration)),
        Some(new) if reads_alike(new, &old) => {}
        Some(_) => new.earlier.push(old),
    }
}

/// True where two confirmed readings say the same of the impression. A choice among the impressions of a fish is no
/// reading: a new one replaces the old.
fn reads_alike(new: &ImpressionV1, old: &ImpressionV1) -> bool {
    let plain = |file: &ImpressionV1| {
        let mut reading = file.to_reading();
        if let Ok(reading) = &mut reading {
            reading.choice = None;
        }
        reading
    };
    plain(new) == plain(old)
}

/// The same impression with micrometres by the calibration of today; its pixels and unknown keys are untouched.
fn with_micrometres(old: ImpressionV1, calibration: Option<&Calibration>) -> ImpressionV1 {
    let Ok(reading) = old.to_reading() else { return old };
    let mut kept = ImpressionV1::from_reading(&reading, calibration);
    keep_unknown(&mut kept, &old);
    kept
}

/// The impression on disk that `new` continues: the same number, in the same state if there is one.
fn counterpart<'a>(old: &'a [ImpressionV1], new: &ImpressionV1) -> Option<&'a ImpressionV1> {
    let same_number = |old: &&ImpressionV1| old.number == new.number;
    old.iter()
        .filter(same_number)
        .find(|old| old.state == new.state)
        .or_else(|| old.iter().find(same_number))
}

fn keep_unknown(new: &mut ImpressionV1, old: &ImpressionV1) {
    new.other = old.other.clone();
    if let (Some(new), Some(old)) = (&mut new.box_px, &old.box_px) {
        new.other = old.other.clone();
    }
    if let (Some(new), Some(old)) = (&mut new.margin, &old.margin) {
        new.other = old.other.clone();
    }
    if let (Some(new), Some(old)) = (&mut new.choice, &old.choice) {
        new.other = old.other.clone();
    }
    for (new, old) in new.other_axes.iter_mut().zip(&old.other_axes) {
        new.other = old.other.clone();
        keep_unknown_of_marks(&mut new.marks, &old.marks);
    }
    keep_unknown_of_marks(&mut new.marks, &old.marks);
}

fn keep_unknown_of_marks(new: &mut [MarkV1], old: &[MarkV1]) {
    for mark in new {
        let same =
            old.iter().find(|old| old.kind == mark.kind && old.position_px == mark.position_px);
        mark.other = same.map_or_else(Map::<String, Value>::new, |old| old.other.clone());
    }
}
