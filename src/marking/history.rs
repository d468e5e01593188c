//! Undo and redo: past, present and future documents, whole. They are small; pixels are not in them.

use super::command::{Command, CommandError};
use super::document::Document;

#[derive(Debug, Clone, PartialEq)]
struct Step {
    document: Document,
    name: String,
}

/// A document with its unlimited undo and redo.
#[derive(Debug, Clone, PartialEq)]
pub struct History {
    past: Vec<Step>,
    present: Document,
    future: Vec<Step>,
    saved: Document,
}

impl History {
    /// Starts at `document`, as it is on disk.
    pub fn new(document: Document) -> Self {
        Self { past: Vec::new(), saved: document.clone(), present: document, future: Vec::new() }
    }

    /// The document as it stands.
    pub fn present(&self) -> &Document {
        &self.present
    }

    /// Applies a command. An edit that changes nothing leaves no step; any other clears the redo steps.
    ///
    /// # Errors
    /// As [`Document::applied`]; the history is then unchanged.
    pub fn perform(&mut self, command: &Command) -> Result<(), CommandError> {
        let next = self.present.applied(command)?;
        if next == self.present {
            return Ok(());
        }
        let name = command.name(&self.present);
        let before = std::mem::replace(&mut self.present, next);
        self.past.push(Step { document: before, name });
        self.future.clear();
        Ok(())
    }

    /// Applies a command to the present without leaving a step: for results that arrive by themselves (proposals)
    /// and for facts that undo must not take back (what was shown). Redo steps stay.
    ///
    /// # Errors
    /// As [`Document::applied`].
    pub fn amend(&mut self, command: &Command) -> Result<(), CommandError> {
        self.present = self.present.applied(command)?;
        Ok(())
    }

    /// Applies what arrived by itself to every document of past and future that it fits, so that undo takes back the
    /// reader's edits and never what arrived. `made`: the command for a document; `None` where it does not fit.
    pub fn amend_others(&mut self, made: impl Fn(&Document) -> Option<Command>) {
        for step in self.past.iter_mut().chain(&mut self.future) {
            let next = made(&step.document).map(|command| step.document.applied(&command));
            // Refused, as on a confirmed reading: that document stays as it was.
            if let Some(Ok(next)) = next {
                step.document = next;
            }
        }
    }

    /// Takes back the last edit; `false` if there is none. What was shown to the reader stays on record.
    pub fn undo(&mut self) -> bool {
        let Some(step) = self.past.pop() else { return false };
        let undone = std::mem::replace(&mut self.present, step.document);
        keep_what_was_shown(&mut self.present, &undone);
        self.future.push(Step { document: undone, name: step.name });
        true
    }

    /// Does the last undone edit again; `false` if there is none.
    pub fn redo(&mut self) -> bool {
        let Some(step) = self.future.pop() else { return false };
        let before = std::mem::replace(&mut self.present, step.document);
        keep_what_was_shown(&mut self.present, &before);
        self.past.push(Step { document: before, name: step.name });
        true
    }

    /// Name of the edit that [`History::undo`] would take back.
    pub fn undo_name(&self) -> Option<&str> {
        self.past.last().map(|step| step.name.as_str())
    }

    /// Name of the edit that [`History::redo`] would do again.
    pub fn redo_name(&self) -> Option<&str> {
        self.future.last().map(|step| step.name.as_str())
    }

    /// True while the reading differs from what is on disk. Open proposals do not count: they are never saved.
    pub fn is_unsaved(&self) -> bool {
        self.present.reading != self.saved.reading
    }

    /// Notes that `document` is now on disk.
    pub fn mark_saved(&mut self, document: Document) {
        self.saved = document;
    }
}

fn keep_what_was_shown(into: &mut Document, from: &Document) {
    for impression in &mut into.reading.impressions {
        if let Some(other) = from.impression(impression.number) {
            impression.conditions.proposals_shown |= other.conditions.proposals_shown;
            impression.conditions.length_shown |= other.conditions.length_shown;
        }
    }
}

#[cfg(test)]
mod tests {
    use kurbo::Point;

    use super::*;
    use crate::domain::axis::Axis;
    use crate::domain::calibration::{Calibration, CalibrationSource};
    use crate::domain::reading::{
        EdgeCondition, MarkKind, MarkOrigin, Outcome, ReaderInitials, ReadingState, ScanIdentity,
        ScanReading, Structure,
    };
    use crate::domain::units::Pixels;
    use crate::marking::document::OpenProposal;

    fn start() -> Document {
        let scan = ScanIdentity {
            file: "a.tif".into(),
            width_px: 100,
            height_px: 100,
            blake3: String::new(),
        };
        let reader = ReaderInitials::new("kb").unwrap();
        let reading = ScanReading { scan, reader, calibration: None, impressions: Vec::new() };
        let mut document = Document::new(reading);
        let axis = Axis::straight(Point::new(10.0, 10.0), Point::new(90.0, 10.0)).unwrap();
        for command in [
            Command::AddImpression {
                number: 1,
                bounds: None,
                fish: "7".into(),
                structure: Structure::Scale,
            },
            Command::SetAxis { impression: 1, axis, edge: Pixels(80.0) },
        ] {
            document = document.applied(&command).unwrap();
        }
        document
    }

    fn add(at: f64) -> Command {
        Command::AddMark { impression: 1, at: Pixels(at), kind: MarkKind::Annulus }
    }

    #[test]
    fn marks_stay_in_order_and_inside_the_structure() {
        let mut history = History::new(start());
        for at in [50.0, 20.0, 35.0] {
            history.perform(&add(at)).unwrap();
        }
        let positions: Vec<f64> = history
            .present()
            .impression(1)
            .unwrap()
            .marks
            .iter()
            .map(|mark| mark.position.0)
            .collect();
        assert_eq!(positions, [20.0, 35.0, 50.0]);
        assert_eq!(history.perform(&add(81.0)), Err(CommandError::OutsideStructure));
        assert_eq!(history.perform(&add(f64::NAN)), Err(CommandError::OutsideStructure));
        assert_eq!(history.perform(&add(35.4)), Err(CommandError::PlaceTaken));
        assert_eq!(history.undo_name(), Some("new annulus"));
    }

    #[test]
    fn a_moved_acceptance_is_recorded_as_moved() {
        let proposal = OpenProposal {
            position: Pixels(30.0),
            probability: 0.9,
            put_forward: true,
            ring: None,
        };
        let mut history = History::new(start());
        history.amend(&Command::SetProposals { impression: 1, proposals: vec![proposal] }).unwrap();
        assert_eq!(history.undo_name(), None);
        history.perform(&Command::AcceptAllProposals { impression: 1 }).unwrap();
        history.perform(&Command::MoveMark { impression: 1, mark: 0, to: Pixels(31.0) }).unwrap();
        assert_eq!(history.undo_name(), Some("move of annulus 1"));
        let mark = history.present().impression(1).unwrap().marks[0];
        assert_eq!((mark.position, mark.origin), (Pixels(31.0), MarkOrigin::MovedProposal));
    }

    #[test]
    fn a_new_axis_keeps_each_marks_share_of_the_radius() {
        let mut history = History::new(start());
        history.perform(&add(40.0)).unwrap();
        let axis = Axis::straight(Point::new(10.0, 10.0), Point::new(10.0, 90.0)).unwrap();
        history.perform(&Command::SetAxis { impression: 1, axis, edge: Pixels(40.0) }).unwrap();
        assert_eq!(history.present().impression(1).unwrap().marks[0].position, Pixels(20.0));
    }

    #[test]
    fn a_confirmed_reading_is_closed_to_edits_until_reopened() {
        let mut history = History::new(start());
        let confirm = Command::Confirm {
            impression: 1,
            outcome: Outcome::Aged,
            age: Some(1),
            at: jiff::Timestamp::UNIX_EPOCH,
        };
        assert!(matches!(history.perform(&confirm), Err(CommandError::NotReady(_))));
        let scale = Calibration::new(5.0, 5.0, CalibrationSource::Stated).unwrap();
        let edge_condition = EdgeCondition::Wide;
        history.perform(&Command::SetEdgeCondition { impression: 1, edge_condition }).unwrap();
        history.perform(&Command::SetCalibration(scale)).unwrap();
        history.perform(&confirm).unwrap();
        assert_eq!(history.present().impression(1).unwrap().state, ReadingState::Confirmed);
        assert_eq!(history.perform(&add(20.0)), Err(CommandError::Confirmed));
        history.perform(&Command::Reopen { impression: 1 }).unwrap();
        history.perform(&add(20.0)).unwrap();
    }

    #[test]
    fn what_was_shown_survives_undo() {
        let mut history = History::new(start());
        history.perform(&add(20.0)).unwrap();
        history
            .amend(&Command::RecordShown { impression: 1, proposals: true, length: false })
            .unwrap();
        assert!(history.undo());
        assert!(history.present().impression(1).unwrap().conditions.proposals_shown);
    }

    /// Draws undo, redo and edits from one random stream and compares with a plain list of states.
    #[test]
    fn undo_and_redo_agree_with_a_plain_list_of_states() {
        for seed in 1..200_u64 {
            let mut random = seed;
            let mut next = move || {
                random = random
                    .wrapping_mul(6_364_136_223_846_793_005)
                    .wrapping_add(1_442_695_040_888_963_407);
                random >> 33
            };
            let mut history = History::new(start());
            let (mut states, mut here) = (vec![start()], 0_usize);
            for _ in 0..60 {
                match next() % 4 {
                    0 => {
                        assert_eq!(history.undo(), here > 0, "seed {seed}");
                        here = here.saturating_sub(1);
                    }
                    1 => {
                        let can = here + 1 < states.len();
                        assert_eq!(history.redo(), can, "seed {seed}");
                        here += usize::from(can);
                    }
                    _ => {
                        if history.perform(&add((next() % 90) as f64)).is_ok() {
                            states.truncate(here + 1);
                            states.push(history.present().clone());
                            here += 1;
                        }
                    }
                }
                assert_eq!(history.present(), &states[here], "seed {seed}");
            }
        }
    }
}
