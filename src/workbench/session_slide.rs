//! A slide with several impressions: finding their boxes, correcting them, and whose each is.

use std::sync::Arc;

use jiff::Timestamp;
use kurbo::Rect;

use crate::domain::fish::Fish;
use crate::domain::progress::{Progress, Stopped};
use crate::domain::reading::{ImpressionReading, ReadingState};
use crate::domain::several::{FishChoice, Way, chosen, readings_that_count};
use crate::marking::command::Command;
use crate::proposing::slide::{find_impressions, in_reading_order};

use super::job::{Job, Polled};
use super::session::Sibling;
use super::session_scan::OpenScan;
use super::workbench::Workbench;

/// Something asked about the boxes of a slide.
#[derive(Debug, Clone, PartialEq)]
pub enum SlideAction {
    /// Moves or resizes the box of an impression, or takes it away.
    SetBox(u32, Option<Rect>),
    /// Adds an impression with this box.
    Add(Rect),
    /// Takes the impression on show off the scan.
    Remove,
    /// Gives the impression on show the number before (`false`) or after (`true`) its own.
    Renumber(bool),
    /// Gives the boxes to the fish of this scan in the order of the field sheet.
    MatchBySheet,
    /// Gives the boxes to the fish of this scan in the order of their numbers.
    MatchByNumber,
    /// Names the fish of an impression by its key.
    SetFish(u32, String),
}

/// The boxes being looked for.
pub(super) type SlideJob = Job<Result<Vec<Rect>, Stopped>>;

/// One impression of the fish on show, on this scan or another.
#[derive(Debug, Clone, PartialEq)]
pub struct FishImpression {
    /// File name of its scan.
    pub scan: String,
    /// Place of the scan on the reading list.
    pub place: usize,
    /// The reading; an empty draft where there is none.
    pub reading: ImpressionReading,
    /// It is the one on show.
    pub is_here: bool,
    /// The lengths of the fish rest on it, alone or with others.
    pub is_counted: bool,
    /// The reader chose it to stand alone.
    pub is_alone: bool,
}

impl Workbench {
    pub(super) fn do_slide(&mut self, action: SlideAction) {
        let Some(scan) = &self.scan else {
            self.notices.say("no scan is open");
            return;
        };
        let impression = scan.impression();
        let command = match action {
            SlideAction::SetBox(impression, bounds) => {
                let bounds = bounds.map(|bounds| bounds.abs().intersect(scan.raster().area()));
                Command::SetBounds { impression, bounds }
            }
            SlideAction::Add(bounds) => self.addition(scan, bounds),
            SlideAction::Remove => Command::RemoveImpression { impression },
            SlideAction::Renumber(up) => match neighbour(scan, up) {
                Some(to) => Command::Renumber { from: impression, to },
                None => {
                    self.notices.say("there is no impression to change places with");
                    return;
                }
            },
            SlideAction::MatchBySheet => matched(scan, self.fish_on_scan()),
            SlideAction::MatchByNumber => {
                let mut fish = self.fish_on_scan();
                fish.sort_by(|a, b| by_number(&a.number, &b.number));
                matched(scan, fish)
            }
            SlideAction::SetFish(impression, fish) => Command::SetFish { impression, fish },
        };
        let followed = match &command {
            Command::AddImpression { number, .. } => Some(*number),
            Command::Renumber { to, .. } => Some(*to),
            _ => None,
        };
        self.edit(&command);
        if let Some(scan) = &mut self.scan {
            let first = scan.document().reading.impressions.first().map(|one| one.number);
            match (followed, scan.reading().is_none()) {
                (Some(number), _) => scan.turn_to(number),
                (None, true) => scan.turn_to(first.unwrap_or(1)),
                (None, false) => {}
            }
        }
    }

    /// A new impression: the next number, and the first fish of this scan that has none.
    fn addition(&self, scan: &OpenScan, bounds: Rect) -> Command {
        let impressions = &scan.document().reading.impressions;
        let number = impressions.iter().map(|one| one.number).max().unwrap_or(0) + 1;
        let fish = self.fish_on_scan();
        let has_none = |fish: &&Fish| impressions.iter().all(|one| one.fish != fish.key);
        let fish = fish.iter().find(has_none).map_or_else(String::new, |fish| fish.key.clone());
        let structure = scan.reading().map(|one| one.structure).unwrap_or_default();
        let bounds = Some(bounds.abs().intersect(scan.raster().area()));
        Command::AddImpression { number, bounds, fish, structure }
    }

    /// The fish on the open scan by the field sheet, in the order of its rows.
    pub fn fish_on_scan(&self) -> Vec<Fish> {
        let entries = self.survey.as_ref().map(|survey| survey.entries());
        let entry = self.place().and_then(|place| entries?.get(place));
        entry.map_or_else(Vec::new, |entry| entry.fish.clone())
    }

    /// Looks for the impressions of the open scan.
    pub(super) fn find_boxes(&mut self) {
        let Some(scan) = &mut self.scan else {
            self.notices.say("no scan is open");
            return;
        };
        let raster = Arc::clone(scan.raster());
        let work = move |progress: &Progress| find_impressions(&raster, progress);
        match Job::start("find the impressions", &self.wake, work) {
            Ok(job) => {
                scan.proposing = None;
                scan.splitting = Some(job);
                self.notices.say("looking for the impressions of this slide");
            }
            Err(error) => self.notices.report(format!("cannot start looking: {error}")),
        }
    }

    pub(super) fn poll_boxes(&mut self) {
        let Some(scan) = &mut self.scan else { return };
        let Some(job) = &scan.splitting else { return };
        let result = match job.poll() {
            Polled::Pending => return,
            Polled::Done(result) => result.ok(),
            Polled::Lost => None,
        };
        scan.splitting = None;
        let Some(boxes) = result else {
            self.notices.say("stopped looking for impressions");
            return;
        };
        if boxes.is_empty() {
            self.notices.say("no impression stands out: draw the boxes yourself (Boxes)");
            return;
        }
        let boxes = in_reading_order(boxes);
        let n_fish = self.fish_on_scan().len();
        let n = boxes.len();
        let command = Command::Split { boxes };
        let Some(scan) = &mut self.scan else { return };
        // What arrives by itself leaves no step and no file: the reader's own corrections do.
        if let Err(error) = scan.history.amend(&command) {
            self.notices.say(error.to_string());
            return;
        }
        let first = scan.document().reading.impressions.first().map_or(1, |one| one.number);
        scan.turn_to(first);
        let words = if n == n_fish {
            format!("{n} impressions, one for each fish of this slide: check boxes and order")
        } else {
            format!("{n} impressions for {n_fish} fish: add, remove or match boxes before reading")
        };
        self.notices.say(words);
        if n == n_fish {
            self.start_first_proposal();
        }
    }

    /// True where several fish lie on the scan and no box tells them apart yet.
    pub(super) fn needs_boxes(&self) -> bool {
        let Some(scan) = &self.scan else { return false };
        let impressions = &scan.document().reading.impressions;
        impressions.len() > 1
            && impressions.iter().all(|one| one.bounds.is_none() && one.marks.is_empty())
            && impressions.iter().all(|one| one.state == ReadingState::Draft)
    }

    /// The impressions of the fish on show: on this scan, then on its other scans.
    pub fn impressions_of_fish(&self) -> Vec<FishImpression> {
        let Some(scan) = &self.scan else { return Vec::new() };
        let Some(fish) = scan.reading().map(|one| &one.fish).filter(|fish| !fish.is_empty()) else {
            return Vec::new();
        };
        let file = &scan.document().reading.scan.file;
        let here = scan.document().reading.impressions.iter().filter(|one| one.fish == *fish);
        let here = here.map(|one| (file.clone(), scan.place(), one.clone()));
        let others = scan.siblings.iter().filter(|one| one.reading.fish == *fish);
        let others = others.map(|one| (one.scan.clone(), one.place, one.reading.clone()));
        let all: Vec<_> = here.chain(others).collect();
        let confirmed = all.iter().enumerate();
        let confirmed: Vec<usize> = confirmed
            .filter(|(_, (_, _, one))| one.state == ReadingState::Confirmed)
            .map(|(index, _)| index)
            .collect();
        let readings: Vec<&ImpressionReading> =
            confirmed.iter().filter_map(|index| all.get(*index)).map(|(_, _, one)| one).collect();
        let count = readings_that_count(&readings);
        let everyone: Vec<&ImpressionReading> = all.iter().map(|(_, _, one)| one).collect();
        let alone = chosen(&everyone);
        let shown = (scan.place(), scan.impression());
        all.iter()
            .enumerate()
            .map(|(index, (scan, place, reading))| FishImpression {
                scan: scan.clone(),
                place: *place,
                is_here: (*place, reading.number) == shown,
                is_counted: count.iter().any(|at| confirmed.get(*at) == Some(&index)),
                is_alone: alone == Some(index),
                reading: reading.clone(),
            })
            .collect()
    }

    /// Makes the impression on show stand alone for its fish, or takes the mean of all again.
    pub(super) fn prefer(&mut self) {
        let all = self.impressions_of_fish();
        let Some(here) = all.iter().find(|one| one.is_here).filter(|_| all.len() > 1) else {
            self.notices.say("this fish has no other impression or scan");
            return;
        };
        let impression = here.reading.number;
        let way = if here.is_alone { Way::Mean } else { Way::Alone };
        let choice = FishChoice { way, at: Timestamp::now() };
        self.edit(&Command::Choose { impression, choice });
        self.lengths_are_stale();
        self.notices.say(match way {
            Way::Alone => "lengths of this fish rest on this impression alone",
            Way::Mean => "lengths of this fish rest on the mean ratios of all its impressions",
        });
    }

    /// Turns to the next or previous impression of the open scan.
    pub(super) fn turn_impression(&mut self, forward: bool) {
        let Some(scan) = &mut self.scan else { return };
        match neighbour(scan, forward) {
            Some(number) => {
                scan.turn_to(number);
                self.notices.say(format!("impression {number}"));
                self.start_first_proposal();
            }
            None => self.notices.say("there is no further impression on this scan"),
        }
    }

    /// The next impression of the open scan that is not confirmed.
    pub(super) fn unread_impression(&self) -> Option<u32> {
        let scan = self.scan.as_ref()?;
        let all = &scan.document().reading.impressions;
        let here = scan.impression();
        let open = |one: &&ImpressionReading| {
            one.state == ReadingState::Draft && one.number != here && !one.fish.is_empty()
        };
        let after = all.iter().filter(|one| one.number > here).find(open);
        after.or_else(|| all.iter().find(open)).map(|one| one.number)
    }
}

/// The impression that follows or precedes the one on show.
fn neighbour(scan: &OpenScan, forward: bool) -> Option<u32> {
    let mut numbers = scan.document().reading.impressions.iter().map(|one| one.number);
    let here = scan.impression();
    if forward {
        numbers.find(|number| *number > here)
    } else {
        numbers.rfind(|number| *number < here)
    }
}

/// The fish for the impressions, one after the other; impressions beyond the last fish have none. Confirmed ones keep
/// theirs, and no other gets it.
fn matched(scan: &OpenScan, fish: Vec<Fish>) -> Command {
    let all = &scan.document().reading.impressions;
    let is_settled = |one: &&ImpressionReading| one.state == ReadingState::Confirmed;
    let taken: Vec<&str> = all.iter().filter(is_settled).map(|one| one.fish.as_str()).collect();
    let mut fish = fish.into_iter().filter(|fish| !taken.contains(&fish.key.as_str()));
    let open = all.iter().filter(|one| !is_settled(one));
    let pairs = open.map(|one| (one.number, fish.next().map_or_else(String::new, |fish| fish.key)));
    Command::MatchFish { fish: pairs.collect() }
}

/// The order of fish and envelope numbers as people count: digits by value, the rest by letters.
fn by_number(a: &str, b: &str) -> std::cmp::Ordering {
    let parts = |text: &str| -> (String, u64, String) {
        let head: String = text.chars().take_while(|c| !c.is_ascii_digit()).collect();
        let digits: String =
            text.chars().skip(head.chars().count()).take_while(char::is_ascii_digit).collect();
        (head, digits.parse().unwrap_or(u64::MAX), text.to_owned())
    };
    parts(a).cmp(&parts(b))
}

/// The other scans of the fish on a scan, as one reader has read them. A scan without a reading counts as one unread
/// impression.
pub(super) fn siblings(
    folder: &std::path::Path,
    reader: &crate::domain::reading::ReaderInitials,
    keys: &[String],
    others: &[(usize, String)],
) -> Vec<Sibling> {
    use crate::store::file_name::sidecar_path;
    use crate::store::sidecar::load_sidecar;
    let mut found = Vec::new();
    for (place, scan) in others {
        let path = sidecar_path(folder, scan, reader).ok().filter(|path| path.exists());
        let loaded = path.and_then(|path| load_sidecar(&path).ok());
        let readings = loaded.map_or_else(Vec::new, |loaded| loaded.reading.impressions);
        let mine: Vec<&ImpressionReading> =
            readings.iter().filter(|one| keys.contains(&one.fish)).collect();
        for one in &mine {
            let is_double = one.state == ReadingState::Draft
                && mine.iter().any(|other| other.number == one.number && other.state != one.state);
            if !is_double {
                let (scan, reading) = (scan.clone(), (*one).clone());
                found.push(Sibling { scan, place: *place, reading });
            }
        }
        if mine.is_empty() {
            let key = keys.first().cloned().unwrap_or_default();
            let reading = ImpressionReading::new(1, key, Default::default());
            found.push(Sibling { scan: scan.clone(), place: *place, reading });
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_ordered_as_people_count() {
        let mut numbers = ["10", "9", "b2", "a11", "a2", "002"];
        numbers.sort_by(|a, b| by_number(a, b));
        assert_eq!(numbers, ["002", "9", "10", "a2", "a11", "b2"]);
    }
}
