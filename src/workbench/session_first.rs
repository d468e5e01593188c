//! After a reading is confirmed: is its first annulus where the others' is? Never asked of a blind list, where the
//! answer would give the sample away.

use std::sync::Arc;

use crate::domain::axis::Axis;
use crate::domain::progress::Progress;
use crate::domain::reading::{ImpressionReading, Outcome, ReadingState, ScanReading};
use crate::store::file_name::sidecar_path;
use crate::store::sidecar::load_sidecar;

use super::job::{Job, Polled};
use super::session_save::ListState;
use super::workbench::Workbench;

/// A first radius this many robust standard deviations from the median is flagged (common practice, no source).
const MOST_Z: f64 = 2.5;

/// Fewer other fish than this say nothing (common practice, no source).
const LEAST_OTHERS: usize = 8;

/// 1 / Φ⁻¹(3/4): makes the median absolute deviation of a normal sample its standard deviation.
const MAD_TO_SD: f64 = 1.482_602_218_505_602;

/// A first radius far from the sample's.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FarFirst {
    /// The sample's median, µm.
    pub median_um: f64,
    /// Robust z: the difference from the median over 1.4826 times the median absolute deviation.
    pub z: f64,
    /// Fish in the sample.
    pub n: usize,
}

/// Compares a first radius with those of other fish, µm; `None` where it is not far off, or nothing can be said.
pub fn far_first(radius_um: f64, others_um: &[f64]) -> Option<FarFirst> {
    let others: Vec<f64> = others_um.iter().copied().filter(|um| um.is_finite()).collect();
    if others.len() < LEAST_OTHERS {
        return None;
    }
    let median_um = median(others.clone())?;
    let spread = median(others.iter().map(|um| (um - median_um).abs()).collect())?;
    let z = (radius_um - median_um) / (MAD_TO_SD * spread);
    let far = FarFirst { median_um, z, n: others.len() };
    (z.is_finite() && z.abs() > MOST_Z).then_some(far)
}

fn median(mut values: Vec<f64>) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    let upper = *values.get(values.len() / 2)?;
    let lower = *values.get(values.len().checked_sub(1)? / 2)?;
    Some((lower + upper) / 2.0)
}

/// The first radius of a reading, µm.
fn first_radius_um(reading: &ScanReading, impression: &ImpressionReading) -> Option<f64> {
    let scale = reading.calibration.as_ref()?;
    let axis: &Axis = impression.axis.as_ref()?;
    let first = impression.annuli().next()?;
    Some(axis.micrometres_at(first.position, scale).0)
}

impl Workbench {
    /// Starts the comparison for the impression that has just been confirmed.
    pub(super) fn compare_first(&mut self) {
        if self.is_practising() {
            return;
        }
        let (Some(survey), Some(scan), Some(reader)) = (&self.survey, &self.scan, &self.reader)
        else {
            return;
        };
        let Some(reading) = scan.reading() else { return };
        if reading.conditions.blind_list.is_some() || reading.outcome != Some(Outcome::Aged) {
            return;
        }
        let Some(radius) = first_radius_um(&scan.document().reading, reading) else { return };
        let (structure, fish) = (reading.structure, reading.fish.clone());
        let species = survey.fish(&fish).map(|fish| fish.species.clone());
        let number = survey.fish(&fish).map_or_else(|| fish.clone(), |fish| fish.number.clone());
        let confirmed = survey.entries.iter().filter(|entry| entry.state == ListState::Confirmed);
        let paths: Vec<_> = confirmed
            .filter_map(|entry| sidecar_path(&survey.folder, &entry.scan, reader).ok())
            .collect();
        let files = Arc::clone(&survey.files);
        let work = move |_: &Progress| {
            let is_alike = |other: &ImpressionReading| {
                let its = files.fish.iter().find(|known| known.key == other.fish);
                other.fish != fish
                    && other.structure == structure
                    && other.state == ReadingState::Confirmed
                    && other.outcome == Some(Outcome::Aged)
                    && other.conditions.blind_list.is_none()
                    && its.map(|its| &its.species) == species.as_ref()
            };
            let mut others = Vec::new();
            for loaded in paths.iter().filter_map(|path| load_sidecar(path).ok()) {
                let alike = loaded.reading.impressions.iter().filter(|other| is_alike(other));
                others.extend(alike.filter_map(|other| first_radius_um(&loaded.reading, other)));
            }
            let far = far_first(radius, &others)?;
            Some(words(&number, radius, far))
        };
        self.comparing = Job::start("compare the first radius", &self.wake, work).ok();
    }

    pub(super) fn poll_first(&mut self) {
        let Some(job) = &self.comparing else { return };
        match job.poll() {
            Polled::Pending => return,
            Polled::Done(Some(words)) => self.notices.report(words),
            Polled::Done(None) | Polled::Lost => {}
        }
        self.comparing = None;
    }
}

fn words(number: &str, radius_um: f64, far: FarFirst) -> String {
    let (side, why) = if far.z > 0.0 {
        ("larger", "a first annulus may have been missed near the focus")
    } else {
        ("smaller", "a check before the first annulus may have been counted")
    };
    format!(
        "fish {number}: the first radius of {radius_um:.0} µm is much {side} than the median of {:.0} µm of {} others you confirmed (robust z {:.1}): {why}; look again, and leave it if you are sure",
        far.median_um, far.n, far.z
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_a_first_radius_far_from_enough_others_is_flagged() {
        let others = [480.0, 490.0, 500.0, 500.0, 505.0, 510.0, 515.0, 530.0, 2000.0];
        // Median 505, absolute deviations 0 5 5 5 10 15 25 25 1495, their median 10.
        let far = far_first(560.0, &others).unwrap();
        assert!((far.median_um - 505.0).abs() < 1e-9);
        assert!((far.z - 55.0 / 14.826_022_185_056_02).abs() < 1e-9);
        assert_eq!(far_first(520.0, &others), None);
        assert!(far_first(440.0, &others).unwrap().z < -2.5);
        assert_eq!(far_first(560.0, &others[..7]), None);
        assert_eq!(far_first(560.0, &[500.0; 9]), None);
    }
}
