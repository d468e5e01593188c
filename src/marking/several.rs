//! Several impressions on a scan, and several axes on one structure: what the commands for them do to a document.

use kurbo::Rect;

use crate::domain::axis::Axis;
use crate::domain::reading::{ImpressionReading, Mark, OtherAxis, ReadingState};
use crate::domain::several::FishChoice;
use crate::domain::units::Pixels;

use super::command::CommandError;
use super::document::{Document, is_same_place};

/// Shortest side of an impression's box, pixels.
pub const LEAST_BOX_PX: f64 = 8.0;

impl Document {
    /// True where marks or a confirmed reading stand on an impression, so that its number must stay its own.
    fn is_begun(&self, reading: &ImpressionReading) -> bool {
        reading.state == ReadingState::Confirmed
            || !reading.marks.is_empty()
            || self.standing.contains(&reading.number)
    }

    /// Gives the scan the boxes in order: the impressions there are keep number and fish and take them one by one;
    /// further boxes become impressions without a fish, and impressions for which no box is left go if they have no
    /// fish.
    pub(super) fn split(&mut self, boxes: &[Rect]) -> Result<(), CommandError> {
        if let Some(begun) = self.reading.impressions.iter().find(|one| self.is_begun(one)) {
            return Err(CommandError::Begun(begun.number));
        }
        if let Some(bad) = boxes.iter().find(|bounds| !is_box(**bounds)) {
            return Err(CommandError::BadBox(bad.width().abs().min(bad.height().abs())));
        }
        let Some(pattern) = self.reading.impressions.first().cloned() else { return Ok(()) };
        let mut next = self.reading.impressions.iter().map(|one| one.number).max().unwrap_or(0);
        while self.reading.impressions.len() < boxes.len() {
            next += 1;
            let mut one = ImpressionReading::new(next, "", pattern.structure);
            (one.light, one.started) = (pattern.light, pattern.started);
            self.reading.impressions.push(one);
        }
        let mut boxes = boxes.iter();
        for one in &mut self.reading.impressions {
            one.bounds = boxes.next().copied();
            (one.axis, one.edge) = (None, None);
            one.other_axes.clear();
        }
        self.reading
            .impressions
            .retain(|one| one.bounds.is_some() || !one.fish.is_empty() || one.number == 1);
        self.proposals.clear();
        Ok(())
    }

    pub(super) fn set_bounds(
        &mut self,
        number: u32,
        bounds: Option<Rect>,
    ) -> Result<(), CommandError> {
        if let Some(bad) = bounds.filter(|bounds| !is_box(*bounds)) {
            return Err(CommandError::BadBox(bad.width().abs().min(bad.height().abs())));
        }
        self.draft(number)?.bounds = bounds;
        Ok(())
    }

    pub(super) fn remove_impression(&mut self, number: u32) -> Result<(), CommandError> {
        let reading = self.draft(number)?;
        if !reading.marks.is_empty() {
            return Err(CommandError::HasMarks(number));
        }
        if self.standing.contains(&number) {
            return Err(CommandError::Begun(number));
        }
        if self.reading.impressions.len() < 2 {
            return Err(CommandError::LastImpression);
        }
        self.reading.impressions.retain(|one| one.number != number);
        self.proposals.remove(&number);
        Ok(())
    }

    /// Gives an impression another number; the one that has it takes the old one. Fish stay with the numbers, since
    /// these follow the order of the slide; boxes and what lies in them change places.
    pub(super) fn renumber(&mut self, from: u32, to: u32) -> Result<(), CommandError> {
        for number in [from, to] {
            match self.impression(number) {
                None => return Err(CommandError::NoImpression(number)),
                Some(one) if one.state == ReadingState::Confirmed => {
                    return Err(CommandError::Confirmed);
                }
                Some(_) if self.standing.contains(&number) => {
                    return Err(CommandError::Begun(number));
                }
                Some(_) => {}
            }
        }
        if from == to {
            return Ok(());
        }
        let fish =
            |document: &Self, number| document.impression(number).map(|one| one.fish.clone());
        let (of_from, of_to) = (fish(self, from), fish(self, to));
        for one in &mut self.reading.impressions {
            if one.number == from {
                one.number = to;
                one.fish = of_to.clone().unwrap_or_default();
            } else if one.number == to {
                one.number = from;
                one.fish = of_from.clone().unwrap_or_default();
            }
        }
        self.reading.impressions.sort_by_key(|one| one.number);
        let (a, b) = (self.proposals.remove(&from), self.proposals.remove(&to));
        self.proposals.extend(a.map(|open| (to, open)));
        self.proposals.extend(b.map(|open| (from, open)));
        Ok(())
    }

    pub(super) fn match_fish(&mut self, fish: &[(u32, String)]) -> Result<(), CommandError> {
        for (number, key) in fish {
            if self.impression(*number).is_some_and(|one| one.fish != *key) {
                self.draft(*number)?.fish.clone_from(key);
            }
        }
        Ok(())
    }

    /// A choice among the impressions of a fish is no part of a reading: it may be made on a confirmed one.
    pub(super) fn choose(&mut self, number: u32, choice: FishChoice) -> Result<(), CommandError> {
        self.any_state(number)?.choice = Some(choice);
        Ok(())
    }

    /// Sets axis and margin, and each mark at its own new place.
    pub(super) fn carry_axis(
        &mut self,
        number: u32,
        axis: &Axis,
        edge: Pixels,
        places: &[Pixels],
    ) -> Result<(), CommandError> {
        let reading = self.draft(number)?;
        if places.len() != reading.marks.len() {
            return Err(CommandError::OutsideStructure);
        }
        let stretch = reading.edge.map_or(1.0, |old| edge / old);
        for (mark, place) in reading.marks.iter_mut().zip(places) {
            mark.position = *place;
        }
        refuse_bad_marks(&mut reading.marks, edge)?;
        reading.axis = Some(axis.clone());
        reading.edge = Some(edge);
        for proposal in self.proposals.entry(number).or_default() {
            proposal.position = Pixels(proposal.position.0 * stretch);
        }
        Ok(())
    }

    /// Sets the primary axis aside with its marks and begins another.
    pub(super) fn add_axis(
        &mut self,
        number: u32,
        axis: &Axis,
        edge: Pixels,
        marks: &[Mark],
    ) -> Result<(), CommandError> {
        let mut marks = marks.to_vec();
        refuse_bad_marks(&mut marks, edge)?;
        let reading = self.draft(number)?;
        let before = primary(reading).ok_or(CommandError::NoAxis)?;
        reading.other_axes.push(before);
        make_primary(reading, OtherAxis { axis: axis.clone(), edge, marks });
        self.proposals.remove(&number);
        Ok(())
    }

    pub(super) fn turn_primary(&mut self, number: u32, index: usize) -> Result<(), CommandError> {
        let reading = self.draft(number)?;
        if index >= reading.other_axes.len() {
            return Err(CommandError::NoOtherAxis(index));
        }
        let before = primary(reading).ok_or(CommandError::NoAxis)?;
        // In the place of the first, so that asking again goes round them.
        let next = reading.other_axes.remove(index);
        reading.other_axes.push(before);
        make_primary(reading, next);
        self.proposals.remove(&number);
        Ok(())
    }

    pub(super) fn remove_axis(&mut self, number: u32) -> Result<(), CommandError> {
        let reading = self.draft(number)?;
        let next = reading.other_axes.pop().ok_or(CommandError::NoOtherAxis(0))?;
        make_primary(reading, next);
        self.proposals.remove(&number);
        Ok(())
    }
}

fn is_box(bounds: Rect) -> bool {
    bounds.is_finite() && bounds.width() >= LEAST_BOX_PX && bounds.height() >= LEAST_BOX_PX
}

fn primary(reading: &ImpressionReading) -> Option<OtherAxis> {
    let (axis, edge) = (reading.axis.clone()?, reading.edge?);
    Some(OtherAxis { axis, edge, marks: reading.marks.clone() })
}

fn make_primary(reading: &mut ImpressionReading, next: OtherAxis) {
    reading.axis = Some(next.axis);
    reading.edge = Some(next.edge);
    reading.marks = next.marks;
}

/// Puts marks in order; refuses what could not have been placed one by one.
fn refuse_bad_marks(marks: &mut [Mark], edge: Pixels) -> Result<(), CommandError> {
    if !(edge.0.is_finite() && edge.0 > 0.0) {
        return Err(CommandError::EdgeInsideMarks);
    }
    let is_outside = |mark: &Mark| {
        !(mark.position.0.is_finite() && mark.position.0 > 0.0 && mark.position <= edge)
    };
    if marks.iter().any(is_outside) {
        return Err(CommandError::OutsideStructure);
    }
    marks.sort_by(|a, b| a.position.0.total_cmp(&b.position.0));
    let is_double = |pair: &[Mark]| match pair {
        [a, b] => is_same_place(a.position, b.position),
        _ => false,
    };
    if marks.windows(2).any(is_double) { Err(CommandError::PlaceTaken) } else { Ok(()) }
}

#[cfg(test)]
mod tests {
    use jiff::Timestamp;
    use kurbo::Point;

    use super::*;
    use crate::domain::reading::{
        MarkKind, Outcome, ReaderInitials, ScanIdentity, ScanReading, Structure,
    };
    use crate::domain::several::Way;
    use crate::marking::command::Command;

    fn slide(fish: &[&str]) -> Document {
        let scan = ScanIdentity {
            file: "s.tif".into(),
            width_px: 900,
            height_px: 900,
            blake3: String::new(),
        };
        let reader = ReaderInitials::new("kb").unwrap();
        let impressions = (1..).zip(fish);
        let impressions = impressions
            .map(|(number, fish)| ImpressionReading::new(number, *fish, Structure::Scale))
            .collect();
        Document::new(ScanReading { scan, reader, calibration: None, impressions })
    }

    fn boxes(n: u32) -> Vec<Rect> {
        (0..n)
            .map(|i| Rect::new(f64::from(i) * 100.0, 0.0, f64::from(i) * 100.0 + 90.0, 90.0))
            .collect()
    }

    fn fish_of(document: &Document) -> Vec<(u32, String)> {
        document.reading.impressions.iter().map(|one| (one.number, one.fish.clone())).collect()
    }

    fn after(document: &Document, commands: &[Command]) -> Document {
        commands.iter().fold(document.clone(), |at, command| at.applied(command).unwrap())
    }

    #[test]
    fn boxes_go_to_the_fish_in_order_and_surplus_ones_have_none() {
        let document = after(&slide(&["a", "b"]), &[Command::Split { boxes: boxes(3) }]);
        let named = |pairs: &[(u32, &str)]| -> Vec<(u32, String)> {
            pairs.iter().map(|(n, f)| (*n, (*f).to_owned())).collect()
        };
        assert_eq!(fish_of(&document), named(&[(1, "a"), (2, "b"), (3, "")]));
        assert_eq!(document.impression(3).unwrap().bounds, Some(boxes(3)[2]));
        let fewer = after(&document, &[Command::Split { boxes: boxes(1) }]);
        assert_eq!(fish_of(&fewer), named(&[(1, "a"), (2, "b")]));
        assert_eq!(fewer.impression(2).unwrap().bounds, None);
    }

    #[test]
    fn renumbering_moves_boxes_and_leaves_the_fish_in_the_order_of_the_slide() {
        let document = after(
            &slide(&["a", "b"]),
            &[Command::Split { boxes: boxes(2) }, Command::Renumber { from: 1, to: 2 }],
        );
        assert_eq!(document.impression(1).unwrap().fish, "a");
        assert_eq!(document.impression(1).unwrap().bounds, Some(boxes(2)[1]));
        let back = after(&document, &[Command::Renumber { from: 2, to: 1 }]);
        assert_eq!(back.impression(1).unwrap().bounds, Some(boxes(2)[0]));
    }

    #[test]
    fn what_is_read_already_keeps_its_number() {
        let mut document = after(&slide(&["a", "b", "c"]), &[Command::Split { boxes: boxes(3) }]);
        let confirm = Command::Confirm {
            impression: 2,
            outcome: Outcome::Unreadable,
            age: None,
            at: Timestamp::UNIX_EPOCH,
        };
        document = document.applied(&confirm).unwrap();
        let refused = |command: Command| document.applied(&command).unwrap_err();
        assert_eq!(refused(Command::Split { boxes: boxes(2) }), CommandError::Begun(2));
        assert_eq!(refused(Command::RemoveImpression { impression: 2 }), CommandError::Confirmed);
        assert_eq!(refused(Command::Renumber { from: 1, to: 2 }), CommandError::Confirmed);
        let open = document.applied(&Command::Reopen { impression: 2 }).unwrap();
        let refused = |command: Command| open.applied(&command).unwrap_err();
        assert_eq!(refused(Command::RemoveImpression { impression: 2 }), CommandError::Begun(2));
        assert_eq!(refused(Command::Renumber { from: 2, to: 3 }), CommandError::Begun(2));
        let fewer = open.applied(&Command::RemoveImpression { impression: 3 }).unwrap();
        assert_eq!(fewer.reading.impressions.len(), 2);
        let bad = Rect::new(0.0, 0.0, 3.0, 90.0);
        let bad = Command::SetBounds { impression: 1, bounds: Some(bad) };
        assert_eq!(open.applied(&bad).unwrap_err(), CommandError::BadBox(3.0));
        let choice = FishChoice { way: Way::Alone, at: Timestamp::UNIX_EPOCH };
        let chosen = document.applied(&Command::Choose { impression: 2, choice }).unwrap();
        assert_eq!(chosen.impression(2).unwrap().choice, Some(choice));
    }

    #[test]
    fn axes_change_places_with_their_marks() {
        let straight = |x: f64, y: f64| Axis::straight(Point::ORIGIN, Point::new(x, y)).unwrap();
        let mut document = after(
            &slide(&["a"]),
            &[
                Command::SetAxis { impression: 1, axis: straight(100.0, 0.0), edge: Pixels(90.0) },
                Command::AddMark { impression: 1, at: Pixels(40.0), kind: MarkKind::Annulus },
            ],
        );
        let marks = document.impression(1).unwrap().marks.clone();
        let second = Command::AddAxis {
            impression: 1,
            axis: straight(0.0, 200.0),
            edge: Pixels(180.0),
            marks: marks.iter().map(|mark| Mark { position: Pixels(80.0), ..*mark }).collect(),
        };
        document = document.applied(&second).unwrap();
        let primary = |document: &Document| {
            let one = document.impression(1).unwrap();
            (one.edge.unwrap().0, one.marks[0].position.0, one.other_axes.len())
        };
        assert_eq!(primary(&document), (180.0, 80.0, 1));
        let turned = document.applied(&Command::TurnPrimary { impression: 1, other: 0 }).unwrap();
        assert_eq!(primary(&turned), (90.0, 40.0, 1));
        let single = turned.applied(&Command::RemoveAxis { impression: 1 }).unwrap();
        assert_eq!(primary(&single), (180.0, 80.0, 0));
        let carried = Command::CarryAxis {
            impression: 1,
            axis: straight(150.0, 0.0),
            edge: Pixels(140.0),
            marks: vec![Pixels(77.0)],
        };
        assert_eq!(primary(&single.applied(&carried).unwrap()), (140.0, 77.0, 0));
        let outside = Command::CarryAxis {
            impression: 1,
            axis: straight(150.0, 0.0),
            edge: Pixels(70.0),
            marks: vec![Pixels(77.0)],
        };
        assert_eq!(single.applied(&outside).unwrap_err(), CommandError::OutsideStructure);
    }
}
