//! One fish on which two readings are laid over each other: the scan, both readers' marks aligned ring by ring, and in
//! words where they part.

use std::sync::Arc;

use crate::analysis::agreement::alignment::{AlignedMark, USUAL_TOLERANCE, align_marks};
use crate::analysis::agreement::matching::Side;
use crate::domain::calibration::Calibration;
use crate::domain::fish::Fish;
use crate::domain::reading::{ImpressionReading, Mark, MarkKind, ReadingState, ScanReading};
use crate::domain::several::readings_that_count;
use crate::domain::units::Pixels;
use crate::imaging::decode::{Limits, decode_bytes};
use crate::imaging::raster::Raster;
use crate::store::collection::OpenSurvey;
use crate::store::survey_check::SurveyReadings;

use super::agree_figures::ColumnSummary;
use super::session_evidence::{Evidence, gather, reach};

/// One reader's reading of the fish.
#[derive(Debug, Clone, PartialEq)]
pub struct SideReading {
    /// Name of the column it belongs to.
    pub name: String,
    /// File name of the scan it was made on.
    pub scan: String,
    /// The reading, in pixels of that scan.
    pub reading: ImpressionReading,
    /// Pixel size as that reader had it.
    pub calibration: Option<Calibration>,
}

/// A fish opened on the Agree desk.
#[derive(Debug, Clone)]
pub struct OpenedFish {
    /// The fish.
    pub fish: Fish,
    /// The two readings.
    pub sides: [SideReading; 2],
    /// The first reading's scan.
    pub raster: Arc<Raster>,
    /// Strip and profile along the first reading's axis; `None` without one.
    pub evidence: Option<Evidence>,
    /// The marks of both, from the focus out.
    pub aligned: Vec<AlignedMark>,
    /// Where they part, one sentence each; empty where they do not.
    pub words: Vec<String>,
    /// Both readings are of the same impression, so that their marks can be drawn over each other.
    pub is_same_picture: bool,
}

/// Opens a fish as two columns read it.
///
/// # Errors
/// One plain line: a fish or reading that is not there any more, or a scan that cannot be opened.
pub fn open_fish(
    survey: &OpenSurvey,
    readings: &SurveyReadings,
    key: &str,
    columns: [&ColumnSummary; 2],
) -> Result<OpenedFish, String> {
    let fish = survey.fish.iter().find(|fish| fish.key == key);
    let fish = fish.ok_or_else(|| format!("fish {key} is not on the field sheet any more"))?;
    let [first, second] = columns.map(|column| readings_of(readings, key, column));
    let (first, second) = same_impression(first, second)
        .ok_or_else(|| format!("a reading of fish {key} is not there any more: look again"))?;
    let path = survey.scan_path(&first.scan).map_err(|error| error.to_string())?;
    let shown = path.display();
    let bytes = std::fs::read(&path).map_err(|error| format!("{error}: '{shown}'"))?;
    let scan =
        decode_bytes(&bytes, &Limits::default()).map_err(|error| format!("{error}: '{shown}'"))?;
    let raster = Arc::new(scan.raster);
    let evidence = first
        .reading
        .axis
        .as_ref()
        .and_then(|axis| gather(&raster, axis, reach(axis, first.reading.edge)).ok());
    let is_same_picture =
        first.scan == second.scan && first.reading.number == second.reading.number;
    let sides = [first, second];
    let (aligned, words) = parted(&sides, is_same_picture);
    Ok(OpenedFish { fish: fish.clone(), sides, raster, evidence, aligned, words, is_same_picture })
}

fn readings_of(readings: &SurveyReadings, key: &str, column: &ColumnSummary) -> Vec<SideReading> {
    let theirs = readings.sidecars.iter().filter(|one| one.reading.reader == column.reader);
    let (scans, read): (Vec<&ScanReading>, Vec<&ImpressionReading>) = theirs
        .flat_map(|sidecar| {
            let counts = |one: &&ImpressionReading| {
                one.fish == key
                    && one.state == ReadingState::Confirmed
                    && one.structure == column.structure
                    && one.conditions.proposals_shown == column.is_aided
            };
            let of_fish = sidecar.reading.impressions.iter().filter(counts);
            of_fish.map(|one| (&sidecar.reading, one))
        })
        .unzip();
    let counting = readings_that_count(&read).into_iter();
    counting.filter_map(|at| Some(side(scans.get(at)?, read.get(at)?, &column.name))).collect()
}

fn side(scan: &ScanReading, one: &ImpressionReading, name: &str) -> SideReading {
    SideReading {
        name: name.to_owned(),
        scan: scan.scan.file.clone(),
        reading: one.clone(),
        calibration: scan.calibration.clone(),
    }
}

/// Two readings of the same impression where there are such, else the first of each.
fn same_impression(
    first: Vec<SideReading>,
    second: Vec<SideReading>,
) -> Option<(SideReading, SideReading)> {
    let pair = first.iter().find_map(|a| {
        let same = |b: &&SideReading| b.scan == a.scan && b.reading.number == a.reading.number;
        Some((a.clone(), second.iter().find(same)?.clone()))
    });
    pair.or_else(|| Some((first.into_iter().next()?, second.into_iter().next()?)))
}

impl SideReading {
    /// Where a mark lies as a share of the way from the focus to the margin; `None` without a margin.
    pub fn share(&self, at: Pixels) -> Option<f64> {
        let share = at.0 / self.reading.edge?.0;
        share.is_finite().then_some(share)
    }

    /// A distance from the focus in words: millimetres where the pixel size is known.
    pub fn distance(&self, at: Pixels) -> String {
        match (&self.reading.axis, &self.calibration) {
            (Some(axis), Some(scale)) => {
                format!("{:.2} mm", axis.micrometres_at(at, scale).0 / 1000.0)
            }
            _ => format!("{:.0} px", at.0),
        }
    }

    fn shares(&self) -> Vec<f64> {
        let share = |mark: &Mark| self.share(mark.position).unwrap_or(f64::NAN);
        self.reading.marks.iter().map(share).collect()
    }

    fn mark(&self, index: Option<usize>) -> Option<&Mark> {
        self.reading.marks.get(index?)
    }
}

/// The marks of both readings aligned, and in words where they part.
///
/// Aligned as shares of the way to the margin, so that two axes of different direction can be compared.
fn parted(sides: &[SideReading; 2], is_same_picture: bool) -> (Vec<AlignedMark>, Vec<String>) {
    let [first, second] = sides;
    let aligned = align_marks(&first.shares(), &second.shares(), USUAL_TOLERANCE);
    if !is_same_picture {
        let words = "the two were read on different pictures: marks are compared by their share of the way to the margin";
        let mut all = vec![words.to_owned()];
        all.extend(aligned.iter().filter_map(|one| sentence_on(one, sides)));
        return (aligned, all);
    }
    let words = aligned.iter().filter_map(|one| sentence_on(one, sides)).collect();
    (aligned, words)
}

/// What there is to say of one place: who alone marked it, or that the two call it by different names.
fn sentence_on(at: &AlignedMark, [first, second]: &[SideReading; 2]) -> Option<String> {
    let (a, b) = (first.mark(at.first), second.mark(at.second));
    match (a, b, at.alone()) {
        (Some(mark), _, Some(Side::First)) => Some(only(first, second, mark)),
        (_, Some(mark), Some(Side::Second)) => Some(only(second, first, mark)),
        (Some(a), Some(b), None) if a.kind != b.kind => {
            let (annulus, check) = match a.kind {
                MarkKind::Annulus => (first, second),
                MarkKind::Check => (second, first),
            };
            Some(format!(
                "{} counts the mark at {} as an annulus, {} as a check",
                annulus.name,
                first.distance(a.position),
                check.name
            ))
        }
        _ => None,
    }
}

fn only(who: &SideReading, other: &SideReading, mark: &Mark) -> String {
    let at = who.distance(mark.position);
    match mark.kind {
        MarkKind::Annulus => {
            format!("{} counts a mark at {at} that {} does not", who.name, other.name)
        }
        MarkKind::Check => {
            format!("{} has a check at {at}, {} has nothing there", who.name, other.name)
        }
    }
}

#[cfg(test)]
mod tests {
    use kurbo::Point;

    use super::*;
    use crate::domain::axis::Axis;
    use crate::domain::calibration::CalibrationSource;
    use crate::domain::reading::{Certainty, MarkOrigin, Structure};

    fn side_with(name: &str, marks: &[(f64, MarkKind)]) -> SideReading {
        let mut reading = ImpressionReading::new(1, "7", Structure::Scale);
        reading.axis = Axis::straight(Point::new(0.0, 0.0), Point::new(600.0, 0.0)).ok();
        reading.edge = Some(Pixels(500.0));
        reading.marks = marks
            .iter()
            .map(|(px, kind)| Mark {
                kind: *kind,
                position: Pixels(*px),
                origin: MarkOrigin::ByHand,
                certainty: Certainty::Clear,
            })
            .collect();
        SideReading {
            name: name.to_owned(),
            scan: "a.tif".to_owned(),
            reading,
            calibration: Calibration::new(5.0, 5.0, CalibrationSource::Stated).ok(),
        }
    }

    #[test]
    fn the_words_name_reader_place_and_what_the_other_has() {
        use MarkKind::{Annulus, Check};
        let sides = [
            side_with("kb", &[(100.0, Annulus), (250.0, Annulus), (384.0, Annulus)]),
            side_with("ml", &[(104.0, Annulus), (252.0, Check), (450.0, Check)]),
        ];
        let (aligned, words) = parted(&sides, true);
        assert_eq!(aligned.len(), 4);
        assert_eq!(
            words,
            [
                "kb counts the mark at 1.25 mm as an annulus, ml as a check",
                "kb counts a mark at 1.92 mm that ml does not",
                "ml has a check at 2.25 mm, kb has nothing there",
            ]
        );
        let (_, other) = parted(&sides, false);
        assert!(other[0].contains("different pictures"));
    }
}
