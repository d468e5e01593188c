//! Which impressions of a survey can be put on a blind list, and what the readings so far say about them.

use std::collections::{BTreeSet, HashMap};

use kurbo::{Point, Rect};

use crate::domain::age::{BirthdayRule, year_class};
use crate::domain::blind::Candidate;
use crate::domain::calibration::Calibration;
use crate::domain::fish::Fish;
use crate::domain::reading::{
    Certainty, Confidence, ImpressionReading, Light, Outcome, ReaderInitials, ReadingState,
    ScanIdentity, ScanReading, Structure,
};

use super::collection::OpenSurvey;
use super::sidecar::LoadedSidecar;

/// The one impression of a fish that a list shows.
#[derive(Debug, Clone, PartialEq)]
pub struct ListedImpression {
    /// The fish, as the draw sees it.
    pub candidate: Candidate,
    /// File name of the scan.
    pub scan: String,
    /// Number of the impression, from 1.
    pub number: u32,
    /// Its structure.
    pub structure: Structure,
    /// How it was lit, where known.
    pub light: Option<Light>,
    /// Its box, where a reader has drawn one.
    pub bounds: Option<Rect>,
    /// Focus, and the farthest that a reader's axis goes from it, pixels: for a box where none was drawn.
    pub reach: Option<(Point, f64)>,
    /// The scan as a sidecar knows it; `None` while nobody has read it.
    pub identity: Option<ScanIdentity>,
    /// Pixel size as a sidecar has it.
    pub calibration: Option<Calibration>,
}

/// A fish that cannot be put on a list, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NotListed {
    /// Key of the fish.
    pub fish: String,
    /// Why.
    pub reason: String,
}

/// One impression for each fish that has a scan, in the order of the field sheet: the one that was aged, by the first
/// reader of the survey where there are several.
pub fn blind_candidates(
    survey: &OpenSurvey,
    sidecars: &[LoadedSidecar],
) -> (Vec<ListedImpression>, Vec<NotListed>) {
    let mut by_fish: HashMap<&str, Vec<(&ScanReading, &ImpressionReading)>> = HashMap::new();
    let mut numbers: HashMap<&str, BTreeSet<u32>> = HashMap::new();
    for sidecar in sidecars {
        for impression in &sidecar.reading.impressions {
            let scan = &sidecar.reading;
            by_fish.entry(impression.fish.as_str()).or_default().push((scan, impression));
            numbers.entry(scan.scan.file.as_str()).or_default().insert(impression.number);
        }
    }
    let mut claims: HashMap<&str, usize> = HashMap::new();
    for scan in survey.fish.iter().flat_map(|fish| &fish.scans) {
        *claims.entry(scan.as_str()).or_default() += 1;
    }
    let is_alone = |scan: &str| {
        claims.get(scan).is_none_or(|n| *n < 2) && numbers.get(scan).is_none_or(|n| n.len() < 2)
    };
    let mut listed = Vec::new();
    let mut left_out = Vec::new();
    for fish in survey.fish.iter().filter(|fish| fish.count == 1 && !fish.scans.is_empty()) {
        let mut read = by_fish.get(fish.key.as_str()).cloned().unwrap_or_default();
        read.retain(|(scan, _)| survey.scans.binary_search(&scan.scan.file).is_ok());
        read.sort_by_key(|(scan, impression)| rank(survey, scan, impression));
        match listed_impression(survey, fish, &read) {
            Some(one) if one.bounds.is_some() || is_alone(&one.scan) => listed.push(one),
            Some(one) => {
                let reason = format!(
                    "'{}' shows several impressions and none has a box: draw the boxes first",
                    one.scan
                );
                left_out.push(NotListed { fish: fish.key.clone(), reason });
            }
            None => {
                let reason = "its scan is not in the folder scans".to_owned();
                left_out.push(NotListed { fish: fish.key.clone(), reason });
            }
        }
    }
    (listed, left_out)
}

/// The order in which readings are preferred: confirmed and aged, confirmed, draft; then the survey's readers in turn.
fn rank(
    survey: &OpenSurvey,
    scan: &ScanReading,
    impression: &ImpressionReading,
) -> (u8, usize, String, u32) {
    let grade = match (impression.state, impression.outcome) {
        (ReadingState::Confirmed, Some(Outcome::Aged)) => 0,
        (ReadingState::Confirmed, _) => 1,
        (ReadingState::Draft, _) => 2,
    };
    let readers: &[ReaderInitials] = &survey.survey.readers;
    let reader = readers.iter().position(|reader| *reader == scan.reader).unwrap_or(readers.len());
    (grade, reader, scan.scan.file.clone(), impression.number)
}

fn listed_impression(
    survey: &OpenSurvey,
    fish: &Fish,
    read: &[(&ScanReading, &ImpressionReading)],
) -> Option<ListedImpression> {
    let confirmed = || read.iter().filter(|(_, one)| one.state == ReadingState::Confirmed);
    let candidate = Candidate {
        fish: fish.key.clone(),
        age: confirmed().find_map(|(_, one)| one.age),
        length: fish.length,
        is_doubtful: is_doubtful(confirmed().copied()),
        known_age: known_age(fish, &survey.survey.birthday_rule),
    };
    let Some((scan, impression)) = read.first() else {
        let scan = fish.scans.iter().find(|scan| survey.scans.binary_search(scan).is_ok())?;
        return Some(ListedImpression {
            candidate,
            scan: scan.clone(),
            number: 1,
            structure: survey.survey.structure,
            light: survey.survey.light,
            bounds: None,
            reach: None,
            identity: None,
            calibration: None,
        });
    };
    let same = |other: &&(&ScanReading, &ImpressionReading)| {
        other.0.scan.file == scan.scan.file && other.1.number == impression.number
    };
    let whole = !scan.scan.blake3.is_empty() && scan.scan.width_px > 0 && scan.scan.height_px > 0;
    Some(ListedImpression {
        candidate,
        scan: scan.scan.file.clone(),
        number: impression.number,
        structure: impression.structure,
        light: impression.light.or(survey.survey.light),
        bounds: read.iter().filter(same).find_map(|(_, one)| one.bounds),
        reach: read.iter().filter(same).find_map(|(_, one)| reach(one)),
        identity: whole.then(|| scan.scan.clone()),
        calibration: scan.calibration.clone(),
    })
}

fn reach(reading: &ImpressionReading) -> Option<(Point, f64)> {
    let axis = reading.axis.as_ref()?;
    let focus = axis.focus();
    let margin = reading.edge.map(|edge| axis.point_at(edge));
    let far = axis.vertices().iter().copied().chain(margin);
    let px = far.map(|at| (at - focus).hypot()).fold(0.0, f64::max);
    (px > 0.0).then_some((focus, px))
}

fn is_doubtful<'a>(
    read: impl Iterator<Item = (&'a ScanReading, &'a ImpressionReading)> + Clone,
) -> bool {
    let ages: BTreeSet<Option<u32>> = read.clone().map(|(_, one)| one.age).collect();
    let mut single = read.map(|(_, one)| {
        one.confidence == Some(Confidence::Poor)
            || one.marks.iter().any(|mark| mark.certainty != Certainty::Clear)
    });
    ages.len() > 1 || single.any(|is_doubtful| is_doubtful)
}

/// Age at capture of a fish whose year class is known.
fn known_age(fish: &Fish, rule: &BirthdayRule) -> Option<u32> {
    let hatched = fish.known_year_class?;
    let youngest = year_class(0, fish.captured?, rule.birthday)?;
    u32::try_from(i32::from(youngest) - i32::from(hatched)).ok()
}
