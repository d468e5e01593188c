//! Practice on simulated structures of known age: read one, then see the truth. Nothing is written anywhere.

use std::path::PathBuf;
use std::sync::Arc;

use jiff::civil::date;

use crate::domain::calibration::{Calibration, CalibrationSource};
use crate::domain::fish::Fish;
use crate::domain::progress::Progress;
use crate::domain::reading::{
    ImpressionReading, Outcome, ReaderInitials, ScanIdentity, ScanReading, Structure,
};
use crate::domain::survey::Survey;
use crate::marking::document::Document;
use crate::simulate::picture::draw;
use crate::simulate::spec::{PictureSpec, draw_spec};
use crate::simulate::truth::{Difficulty, PictureTruth};
use crate::store::collection::OpenSurvey;
use crate::store::fingerprint::Fingerprint;

use super::action::Desk;
use super::job::Job;
use super::session::{ListEntry, Opened, Opening, SurveySession};
use super::session_save::ListState;
use super::workbench::Workbench;

/// Structures in one round of practice.
const N_PICTURES: usize = 30;

/// Seed of the first structure: an easy scale with plain annuli.
const FIRST_SEED: u64 = 41;

/// A round of practice, and what it put aside.
pub(super) struct Practice {
    kept: Option<SurveySession>,
    kept_place: Option<usize>,
    kept_reader: Option<ReaderInitials>,
    with_proposals: bool,
    score: Score,
}

/// How a reader has done in this round.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Score {
    /// Structures read.
    pub read: u32,
    /// With the true age, or rightly called unreadable or regenerated.
    pub right: u32,
    /// Within one year of the true age, those right included.
    pub within_one: u32,
}

/// A reading of practice against the truth.
#[derive(Debug, Clone, PartialEq)]
pub struct Verdict {
    /// The outcome and age read.
    pub read: (Outcome, Option<u32>),
    /// The outcome and age there were.
    pub truth: (Outcome, Option<u32>),
    /// Mean distance of the annuli marked from the true ones nearest to them, µm along the true axis.
    pub mean_off_um: Option<f64>,
    /// True where outcome and age are those of the truth.
    pub is_right: bool,
}

impl Workbench {
    /// True while practising.
    pub fn is_practising(&self) -> bool {
        self.practice.is_some()
    }

    /// True where annuli are proposed in practice.
    pub fn practises_with_proposals(&self) -> bool {
        self.practice.as_ref().is_some_and(|practice| practice.with_proposals)
    }

    /// The score of this round.
    pub fn score(&self) -> Option<Score> {
        self.practice.as_ref().map(|practice| practice.score)
    }

    /// What the truth says of the reading on show, once it is confirmed.
    pub fn verdict(&self) -> Option<Verdict> {
        let scan = self.scan.as_ref()?;
        Some(verdict(scan.reading()?, scan.truth()?))
    }

    /// Begins a round of practice, or ends it and comes back to the survey.
    pub(super) fn toggle_practice(&mut self) {
        if self.practice.is_some() {
            self.end_practice();
            return;
        }
        let kept_place = self.place();
        self.close_scan();
        self.stop_quietly();
        self.practice = Some(Practice {
            kept: self.survey.take(),
            kept_place,
            kept_reader: self.reader.clone(),
            with_proposals: true,
            score: Score::default(),
        });
        self.desk = Desk::Read;
        self.survey = Some(practice_session());
        if self.reader.is_none() {
            self.reader = ReaderInitials::new("practice").ok();
        }
        self.notices.say("practice: nothing you do here is written to any survey");
        self.open_scan(0);
    }

    pub(super) fn end_practice(&mut self) {
        let Some(practice) = self.practice.take() else { return };
        self.close_scan();
        self.survey = practice.kept;
        self.reader = practice.kept_reader;
        self.failed_place = None;
        self.notices.say("practice is over");
        if let (Some(place), Some(_)) = (practice.kept_place, &self.survey) {
            self.open_scan(place);
        }
    }

    /// With or without proposals, from the structure on show on.
    pub(super) fn toggle_practice_proposals(&mut self) {
        let Some(practice) = &mut self.practice else {
            self.notices.say("this is for practice: start it first");
            return;
        };
        practice.with_proposals = !practice.with_proposals;
        let with = practice.with_proposals;
        self.notices.say(if with {
            "practice with proposals"
        } else {
            "practice without proposals"
        });
        if let (Some(place), true) =
            (self.place(), self.scan.as_ref().is_some_and(|s| s.is_draft()))
        {
            self.open_scan(place);
        }
    }

    pub(super) fn open_practice(&mut self, place: usize) {
        let reader = self.reader.clone();
        let work = move |_: &Progress| {
            let reader = reader.ok_or("practice needs initials")?;
            let spec = spec_of(place);
            let picture = draw(&spec).map_err(|error| error.to_string())?;
            let truth = picture.truth;
            let mut impression = ImpressionReading::new(1, number_of(place), truth.structure);
            impression.light = Some(truth.light);
            let scale =
                Calibration::new(truth.um_per_px, truth.um_per_px, CalibrationSource::Stated);
            let reading = ScanReading {
                scan: ScanIdentity {
                    file: number_of(place),
                    width_px: u32::try_from(picture.raster.width()).unwrap_or(u32::MAX),
                    height_px: u32::try_from(picture.raster.height()).unwrap_or(u32::MAX),
                    blake3: String::new(),
                },
                reader,
                calibration: scale.ok(),
                impressions: vec![impression],
            };
            Ok(Box::new(Opened {
                raster: Arc::new(picture.raster),
                resolution: None,
                document: Document::new(reading),
                on_disk: None,
                warning: None,
                siblings: Vec::new(),
                truth: Some(Box::new(truth)),
            }))
        };
        match Job::start("draw a structure", &self.wake, work) {
            Ok(job) => {
                self.opening = Some(Opening { place, job, watch: None });
                self.notices.say("drawing a structure of known age");
            }
            Err(error) => self.notices.report(format!("cannot draw a structure: {error}")),
        }
    }

    /// Counts the reading just confirmed, once.
    pub(super) fn score_practice(&mut self) {
        let Some(scan) = &mut self.scan else { return };
        let (Some(truth), Some(reading)) = (scan.truth(), scan.reading()) else { return };
        let verdict = verdict(reading, truth);
        if std::mem::replace(&mut scan.is_scored, true) {
            return;
        }
        let Some(practice) = &mut self.practice else { return };
        practice.score.read += 1;
        practice.score.right += u32::from(verdict.is_right);
        let near = match (verdict.read.1, verdict.truth.1) {
            (Some(read), Some(truth)) => read.abs_diff(truth) <= 1,
            _ => verdict.is_right,
        };
        practice.score.within_one += u32::from(near);
        self.notices.say(verdict.words());
    }

    fn stop_quietly(&mut self) {
        self.forget_batch();
        self.comparing = None;
        self.exporting = None;
    }
}

impl Practice {
    /// Who read before the practice.
    pub(super) fn reader_before(self) -> Option<ReaderInitials> {
        self.kept_reader
    }
}

impl Verdict {
    /// The truth in one sentence.
    pub fn words(&self) -> String {
        let name = |(outcome, age): (Outcome, Option<u32>)| match age {
            Some(age) => format!("age {age}"),
            None => outcome.word().to_owned(),
        };
        if self.is_right {
            format!("right: {}", name(self.truth))
        } else {
            format!("you read {}, the truth is {}", name(self.read), name(self.truth))
        }
    }
}

fn verdict(reading: &ImpressionReading, truth: &PictureTruth) -> Verdict {
    let n = u32::try_from(truth.annuli.len()).unwrap_or(u32::MAX);
    let true_outcome = match (truth.readable, truth.regenerated) {
        (false, _) => (Outcome::Unreadable, None),
        (true, true) => (Outcome::Regenerated, None),
        (true, false) => (Outcome::Aged, Some(n + u32::from(truth.edge_annulus))),
    };
    let outcome = reading.outcome.unwrap_or(Outcome::Aged);
    let read = (outcome, reading.age);
    // Radii on another axis differ; their share of the total radius is what can be compared.
    let off = reading.edge.map(|edge| {
        let offs: Vec<f64> = reading
            .annuli()
            .map(|mark| mark.position / edge * truth.edge_um)
            .filter_map(|um| {
                truth.annuli.iter().map(|one| (one.um - um).abs()).min_by(f64::total_cmp)
            })
            .collect();
        offs.iter().sum::<f64>() / offs.len() as f64
    });
    Verdict {
        is_right: read == true_outcome,
        read,
        truth: true_outcome,
        mean_off_um: off.filter(|off| off.is_finite()),
    }
}

/// The structure at a place of the list: easy ones first, then easy, medium and hard in turn, scales and otoliths.
fn spec_of(place: usize) -> PictureSpec {
    let difficulty = match place {
        0..3 => Difficulty::Easy,
        _ => [Difficulty::Easy, Difficulty::Medium, Difficulty::Hard]
            .into_iter()
            .nth(place % 3)
            .unwrap_or(Difficulty::Easy),
    };
    let structure = if place.is_multiple_of(2) { Structure::Scale } else { Structure::Otolith };
    draw_spec(structure, difficulty, None, FIRST_SEED + place as u64)
}

fn number_of(place: usize) -> String {
    format!("practice-{:02}", place + 1)
}

/// A survey that lies nowhere.
fn practice_session() -> SurveySession {
    let survey = Survey::new("Practice", "simulated structures of known age", Structure::Scale);
    let fish: Vec<Fish> = (0..N_PICTURES).map(fish_of).collect();
    let entries = fish.iter().map(|fish| ListEntry {
        scan: fish.key.clone(),
        fish: vec![fish.clone()],
        state: ListState::Unread,
        is_doubtful: false,
        is_disputed: false,
    });
    let entries = entries.collect();
    let scans = fish.iter().map(|fish| fish.key.clone()).collect();
    let files = OpenSurvey {
        folder: PathBuf::new(),
        survey,
        survey_fingerprint: Fingerprint::of(b""),
        fish,
        faulty_fish: Vec::new(),
        scans,
        sidecars: Vec::new(),
        problems: Vec::new(),
    };
    SurveySession {
        folder: PathBuf::new(),
        files: Arc::new(files),
        entries,
        filing_problems: Vec::new(),
        own_lines: Default::default(),
    }
}

/// Fish with an annulus forming at the margin are caught in spring, the others in autumn, as their scales show.
fn fish_of(place: usize) -> Fish {
    let spring = spec_of(place).growth.edge_annulus;
    let captured = if spring { date(2025, 5, 20) } else { date(2025, 10, 4) };
    Fish {
        number: (place + 1).to_string(),
        species: "simulated".to_owned(),
        captured: Some(captured),
        ..Fish::named(&number_of(place))
    }
}

#[cfg(test)]
mod tests {
    use kurbo::Point;

    use super::*;
    use crate::domain::axis::Axis;
    use crate::domain::reading::{Certainty, Mark, MarkKind, MarkOrigin};
    use crate::domain::units::Pixels;

    #[test]
    fn a_reading_with_the_true_marks_is_right_and_one_short_of_one_is_not() {
        let picture = draw(&spec_of(0)).unwrap();
        let truth = &picture.truth;
        assert!(truth.readable && !truth.regenerated && truth.annuli.len() >= 2);
        let mut reading = ImpressionReading::new(1, "1", truth.structure);
        let [focus, end] = truth.axis_px;
        reading.axis = Some(Axis::straight(focus, end).unwrap());
        reading.edge = Some(Pixels(truth.edge_um / truth.um_per_px));
        reading.marks = truth
            .annuli
            .iter()
            .map(|one| Mark {
                kind: MarkKind::Annulus,
                position: Pixels(one.um / truth.um_per_px),
                origin: MarkOrigin::ByHand,
                certainty: Certainty::Clear,
            })
            .collect();
        let age = u32::try_from(truth.annuli.len()).unwrap() + u32::from(truth.edge_annulus);
        (reading.outcome, reading.age) = (Some(Outcome::Aged), Some(age));
        let right = verdict(&reading, truth);
        assert!(right.is_right && right.mean_off_um.unwrap() < 1e-6, "{right:?}");
        reading.age = Some(age - 1);
        let wrong = verdict(&reading, truth);
        assert!(!wrong.is_right);
        assert_eq!(wrong.words(), format!("you read age {}, the truth is age {age}", age - 1));
        assert_ne!(focus, Point::ZERO);
    }
}
