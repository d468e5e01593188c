//! Everything a reader can do to a document. Applying a command is pure: no clock, no disk, no screen.

use jiff::Timestamp;
use kurbo::Rect;

use super::document::{Document, OpenProposal, is_same_place};
use crate::domain::axis::Axis;
use crate::domain::calibration::Calibration;
use crate::domain::reading::{
    Certainty, Confidence, EdgeCondition, ImpressionReading, Light, Mark, MarkKind, MarkOrigin,
    Outcome, ReadingState, Structure,
};
use crate::domain::several::FishChoice;
use crate::domain::units::Pixels;

/// One edit. `impression` is the impression's number; `mark` and `proposal` are indices in order of distance.
#[derive(Debug, Clone, PartialEq)]
#[expect(missing_docs, reason = "the fields are named by the words of the domain")]
pub enum Command {
    /// Sets the pixel size of the scan.
    SetCalibration(Calibration),
    /// Adds an impression with its box and fish.
    AddImpression { number: u32, bounds: Option<Rect>, fish: String, structure: Structure },
    /// Sets the box of an impression.
    SetBounds { impression: u32, bounds: Option<Rect> },
    /// Gives the scan its boxes, in the order of the slide; refused once anything is read.
    Split { boxes: Vec<Rect> },
    /// Takes an impression without marks off the scan.
    RemoveImpression { impression: u32 },
    /// Gives an impression another number; the one that has it takes the old one.
    Renumber { from: u32, to: u32 },
    /// Names the fish of several impressions at once.
    MatchFish { fish: Vec<(u32, String)> },
    /// Says how the impressions of this fish are taken together.
    Choose { impression: u32, choice: FishChoice },
    /// Names the fish an impression belongs to.
    SetFish { impression: u32, fish: String },
    /// Sets focus, axis and margin at once; marks keep their share of the radius.
    SetAxis { impression: u32, axis: Axis, edge: Pixels },
    /// Sets focus, axis and margin, and where each mark lies on the new axis.
    CarryAxis { impression: u32, axis: Axis, edge: Pixels, marks: Vec<Pixels> },
    /// Sets the primary axis aside with its marks and begins another with these.
    AddAxis { impression: u32, axis: Axis, edge: Pixels, marks: Vec<Mark> },
    /// Makes another axis the primary one, on which age and lengths rest.
    TurnPrimary { impression: u32, other: usize },
    /// Drops the primary axis with its marks for the one set aside last.
    RemoveAxis { impression: u32 },
    /// Moves the margin along the axis; marks stay.
    SetEdge { impression: u32, edge: Pixels },
    /// Replaces the undecided proposals (never touches a mark).
    SetProposals { impression: u32, proposals: Vec<OpenProposal> },
    /// Makes a mark of a proposal where it stands.
    AcceptProposal { impression: u32, proposal: usize },
    /// Makes marks of all proposals the program puts forward.
    AcceptAllProposals { impression: u32 },
    /// Makes a mark of a proposal at another place.
    MoveProposal { impression: u32, proposal: usize, to: Pixels },
    /// Sets a proposal aside.
    RejectProposal { impression: u32, proposal: usize },
    /// Adds a mark by hand.
    AddMark { impression: u32, at: Pixels, kind: MarkKind },
    /// Moves a mark.
    MoveMark { impression: u32, mark: usize, to: Pixels },
    /// Deletes a mark.
    DeleteMark { impression: u32, mark: usize },
    /// Turns an annulus into a check or back.
    SetMarkKind { impression: u32, mark: usize, kind: MarkKind },
    /// Says how sure the reader is of a mark.
    SetCertainty { impression: u32, mark: usize, certainty: Certainty },
    /// Judges the margin.
    SetEdgeCondition { impression: u32, edge_condition: EdgeCondition },
    /// States the light.
    SetLight { impression: u32, light: Option<Light> },
    /// States the confidence in the whole reading.
    SetConfidence { impression: u32, confidence: Option<Confidence> },
    /// Replaces the note.
    SetNote { impression: u32, note: String },
    /// Records that proposals or lengths were on screen. Kept by undo: what was seen cannot be unseen.
    RecordShown { impression: u32, proposals: bool, length: bool },
    /// Confirms the reading with its outcome, age and time.
    Confirm { impression: u32, outcome: Outcome, age: Option<u32>, at: Timestamp },
    /// Opens a confirmed reading for further work.
    Reopen { impression: u32 },
}

/// Why a command was refused. The document is then unchanged.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum CommandError {
    /// No such impression on this scan.
    #[error("there is no impression {0} on this scan")]
    NoImpression(u32),
    /// The impression exists already.
    #[error("impression {0} exists already")]
    ImpressionExists(u32),
    /// Marks or a confirmed reading stand on the impression.
    #[error(
        "impression {0} is read already: its box and number stay; add or correct boxes one by one"
    )]
    Begun(u32),
    /// An impression with marks is not removed with them.
    #[error("impression {0} has marks: delete them first")]
    HasMarks(u32),
    /// A scan has at least one impression.
    #[error("a scan keeps at least one impression")]
    LastImpression,
    /// A box too small to hold a structure, or not of numbers.
    #[error("a box of {0:.0} pixels is too small for an impression: draw it larger")]
    BadBox(f64),
    /// No such further axis.
    #[error("this structure has no other axis: add one first")]
    NoOtherAxis(usize),
    /// A mark index that does not exist.
    #[error("there is no mark {} here", .0 + 1)]
    NoMark(usize),
    /// A proposal index that does not exist.
    #[error("there is no proposal {} here", .0 + 1)]
    NoProposal(usize),
    /// Marks need an axis first.
    #[error("set the focus and the axis first")]
    NoAxis,
    /// A place before the focus, beyond the margin, or not a number.
    #[error("a mark must lie between the focus and the margin")]
    OutsideStructure,
    /// Another mark is there already.
    #[error("there is a mark at this place already")]
    PlaceTaken,
    /// The margin would leave a mark outside, or lie before the focus.
    #[error("the margin must lie beyond the last mark: move or delete that mark first")]
    EdgeInsideMarks,
    /// The reading is confirmed.
    #[error("this reading is confirmed: reopen it to change it")]
    Confirmed,
    /// Something an aged reading needs is missing.
    #[error("cannot confirm an age yet: {0}")]
    NotReady(&'static str),
}

impl Command {
    /// The name of the edit for "Undo …", in plain words.
    pub fn name(&self, before: &Document) -> String {
        match self {
            Self::SetCalibration(_) => "calibration".into(),
            Self::AddImpression { number, .. } => format!("new impression {number}"),
            Self::SetBounds { impression, .. } => format!("box of impression {impression}"),
            Self::Split { .. } => "boxes of the slide".into(),
            Self::RemoveImpression { impression } => format!("removal of impression {impression}"),
            Self::Renumber { from, to } => format!("change of impression {from} to {to}"),
            Self::MatchFish { .. } => "match of fish".into(),
            Self::Choose { .. } => "choice of impression".into(),
            Self::CarryAxis { .. } => "focus and axis".into(),
            Self::AddAxis { .. } => "new axis".into(),
            Self::TurnPrimary { .. } => "change of the primary axis".into(),
            Self::RemoveAxis { .. } => "removal of an axis".into(),
            Self::SetFish { .. } => "choice of fish".into(),
            Self::SetAxis { .. } => "focus and axis".into(),
            Self::SetEdge { .. } => "move of the margin".into(),
            Self::SetProposals { .. } => "new proposals".into(),
            Self::AcceptProposal { .. } => "acceptance of a proposal".into(),
            Self::AcceptAllProposals { .. } => "acceptance of all proposals".into(),
            Self::MoveProposal { .. } => "move of a proposal".into(),
            Self::RejectProposal { .. } => "rejection of a proposal".into(),
            Self::AddMark { kind, .. } => format!("new {}", kind.word()),
            Self::MoveMark { impression, mark, .. } => {
                format!("move of {}", mark_name(before, *impression, *mark))
            }
            Self::DeleteMark { impression, mark } => {
                format!("deletion of {}", mark_name(before, *impression, *mark))
            }
            Self::SetMarkKind { impression, mark, kind } => {
                format!("change of {} to {}", mark_name(before, *impression, *mark), kind.word())
            }
            Self::SetCertainty { impression, mark, .. } => {
                format!("certainty of {}", mark_name(before, *impression, *mark))
            }
            Self::SetEdgeCondition { .. } => "margin condition".into(),
            Self::SetLight { .. } => "light".into(),
            Self::SetConfidence { .. } => "confidence".into(),
            Self::SetNote { .. } => "note".into(),
            Self::RecordShown { .. } => "record of what was shown".into(),
            Self::Confirm { .. } => "confirmation".into(),
            Self::Reopen { .. } => "reopening".into(),
        }
    }
}

/// The name of a mark as a reader counts: "annulus 3", "check 1".
pub fn mark_name(document: &Document, impression: u32, mark: usize) -> String {
    let marks = document.impression(impression).map_or(&[][..], |found| &found.marks);
    match marks.get(mark) {
        Some(this) => {
            let before = marks.iter().take(mark).filter(|other| other.kind == this.kind).count();
            format!("{} {}", this.kind.word(), before + 1)
        }
        None => format!("mark {}", mark + 1),
    }
}

impl Document {
    /// The document after `command`.
    ///
    /// # Errors
    /// [`CommandError`] when the command does not fit the document, which is then as it was.
    pub fn applied(&self, command: &Command) -> Result<Self, CommandError> {
        let mut next = self.clone();
        next.apply(command)?;
        Ok(next)
    }

    fn apply(&mut self, command: &Command) -> Result<(), CommandError> {
        match command {
            Command::SetCalibration(calibration) => {
                self.reading.calibration = Some(calibration.clone())
            }
            Command::AddImpression { number, bounds, fish, structure } => {
                if self.impression(*number).is_some() {
                    return Err(CommandError::ImpressionExists(*number));
                }
                let mut impression = ImpressionReading::new(*number, fish.clone(), *structure);
                impression.bounds = bounds.filter(|bounds| bounds.is_finite());
                self.reading.impressions.push(impression);
                self.reading.impressions.sort_by_key(|impression| impression.number);
            }
            Command::SetBounds { impression, bounds } => self.set_bounds(*impression, *bounds)?,
            Command::Split { boxes } => self.split(boxes)?,
            Command::RemoveImpression { impression } => self.remove_impression(*impression)?,
            Command::Renumber { from, to } => self.renumber(*from, *to)?,
            Command::MatchFish { fish } => self.match_fish(fish)?,
            Command::Choose { impression, choice } => self.choose(*impression, *choice)?,
            Command::CarryAxis { impression, axis, edge, marks } => {
                self.carry_axis(*impression, axis, *edge, marks)?;
            }
            Command::AddAxis { impression, axis, edge, marks } => {
                self.add_axis(*impression, axis, *edge, marks)?;
            }
            Command::TurnPrimary { impression, other } => self.turn_primary(*impression, *other)?,
            Command::RemoveAxis { impression } => self.remove_axis(*impression)?,
            Command::SetFish { impression, fish } => self.draft(*impression)?.fish.clone_from(fish),
            Command::SetAxis { impression, axis, edge } => {
                self.set_axis(*impression, axis, *edge)?
            }
            Command::SetEdge { impression, edge } => self.set_edge(*impression, *edge)?,
            Command::SetProposals { impression, proposals } => {
                self.draft(*impression)?;
                let is_somewhere = |proposal: &&OpenProposal| proposal.position.0.is_finite();
                let proposals = proposals.iter().filter(is_somewhere).cloned().collect();
                self.proposals.insert(*impression, proposals);
            }
            Command::AcceptProposal { impression, proposal } => {
                let taken = self.take_proposal(*impression, *proposal)?;
                let mark =
                    new_mark(taken.position, MarkKind::Annulus, MarkOrigin::AcceptedProposal);
                self.draft(*impression)?.place(mark)?;
            }
            Command::AcceptAllProposals { impression } => self.accept_all(*impression)?,
            Command::MoveProposal { impression, proposal, to } => {
                self.take_proposal(*impression, *proposal)?;
                let mark = new_mark(*to, MarkKind::Annulus, MarkOrigin::MovedProposal);
                self.draft(*impression)?.place(mark)?;
            }
            Command::RejectProposal { impression, proposal } => {
                self.draft(*impression)?;
                self.take_proposal(*impression, *proposal)?;
            }
            Command::AddMark { impression, at, kind } => {
                self.draft(*impression)?.place(new_mark(*at, *kind, MarkOrigin::ByHand))?;
            }
            Command::MoveMark { impression, mark, to } => {
                self.draft(*impression)?.move_mark(*mark, *to)?
            }
            Command::DeleteMark { impression, mark } => {
                self.draft(*impression)?.take_mark(*mark)?;
            }
            Command::SetMarkKind { impression, mark, kind } => {
                self.mark(*impression, *mark)?.kind = *kind
            }
            Command::SetCertainty { impression, mark, certainty } => {
                self.mark(*impression, *mark)?.certainty = *certainty;
            }
            Command::SetEdgeCondition { impression, edge_condition } => {
                self.draft(*impression)?.edge_condition = Some(*edge_condition);
            }
            Command::SetLight { impression, light } => self.draft(*impression)?.light = *light,
            Command::SetConfidence { impression, confidence } => {
                self.draft(*impression)?.confidence = *confidence;
            }
            Command::SetNote { impression, note } => self.draft(*impression)?.note.clone_from(note),
            Command::RecordShown { impression, proposals, length } => {
                let conditions = &mut self.any_state(*impression)?.conditions;
                conditions.proposals_shown |= proposals;
                conditions.length_shown |= length;
            }
            Command::Confirm { impression, outcome, age, at } => {
                self.confirm(*impression, *outcome, *age, *at)?;
            }
            Command::Reopen { impression } => {
                let reading = self.any_state(*impression)?;
                let is_standing = reading.state == ReadingState::Confirmed;
                reading.state = ReadingState::Draft;
                reading.outcome = None;
                reading.age = None;
                reading.confirmed = None;
                if is_standing && !self.standing.contains(impression) {
                    self.standing.push(*impression);
                }
            }
        }
        Ok(())
    }

    pub(super) fn any_state(
        &mut self,
        number: u32,
    ) -> Result<&mut ImpressionReading, CommandError> {
        self.reading
            .impressions
            .iter_mut()
            .find(|impression| impression.number == number)
            .ok_or(CommandError::NoImpression(number))
    }

    pub(super) fn draft(&mut self, number: u32) -> Result<&mut ImpressionReading, CommandError> {
        let impression = self.any_state(number)?;
        match impression.state {
            ReadingState::Draft => Ok(impression),
            ReadingState::Confirmed => Err(CommandError::Confirmed),
        }
    }

    fn mark(&mut self, impression: u32, mark: usize) -> Result<&mut Mark, CommandError> {
        self.draft(impression)?.marks.get_mut(mark).ok_or(CommandError::NoMark(mark))
    }

    fn take_proposal(
        &mut self,
        impression: u32,
        index: usize,
    ) -> Result<OpenProposal, CommandError> {
        let open = self.proposals.get_mut(&impression).ok_or(CommandError::NoProposal(index))?;
        if index < open.len() {
            Ok(open.remove(index))
        } else {
            Err(CommandError::NoProposal(index))
        }
    }

    fn accept_all(&mut self, impression: u32) -> Result<(), CommandError> {
        self.draft(impression)?;
        let open = self.proposals.remove(&impression).unwrap_or_default();
        let reading = self.draft(impression)?;
        let mut left = Vec::new();
        for proposal in open {
            let mark = new_mark(proposal.position, MarkKind::Annulus, MarkOrigin::AcceptedProposal);
            // One that no longer fits (a mark stands there already) stays open for the reader to see.
            if !proposal.put_forward || reading.place(mark).is_err() {
                left.push(proposal);
            }
        }
        self.proposals.insert(impression, left);
        Ok(())
    }

    /// Marks and open proposals keep their share of the radius, since that share is what back-calculation uses.
    fn set_axis(&mut self, number: u32, axis: &Axis, edge: Pixels) -> Result<(), CommandError> {
        if !(edge.0.is_finite() && edge.0 > 0.0) {
            return Err(CommandError::EdgeInsideMarks);
        }
        let impression = self.draft(number)?;
        let old = impression.edge.filter(|old| old.0.is_finite() && old.0 > 0.0);
        let stretch = old.map_or(1.0, |old| edge / old);
        for mark in &mut impression.marks {
            mark.position = Pixels(mark.position.0 * stretch);
        }
        if !are_in_order_within(&impression.marks, edge) {
            return Err(CommandError::EdgeInsideMarks);
        }
        impression.axis = Some(axis.clone());
        impression.edge = Some(edge);
        for proposal in self.proposals.entry(number).or_default() {
            proposal.position = Pixels(proposal.position.0 * stretch);
        }
        self.proposals.entry(number).or_default().retain(|open| open.position.0.is_finite());
        Ok(())
    }

    fn set_edge(&mut self, number: u32, edge: Pixels) -> Result<(), CommandError> {
        let impression = self.draft(number)?;
        if impression.axis.is_none() {
            return Err(CommandError::NoAxis);
        }
        let beyond_marks = impression.marks.last().is_none_or(|mark| mark.position <= edge);
        if !(edge.0.is_finite() && edge.0 > 0.0 && beyond_marks) {
            return Err(CommandError::EdgeInsideMarks);
        }
        impression.edge = Some(edge);
        Ok(())
    }

    fn confirm(
        &mut self,
        number: u32,
        outcome: Outcome,
        age: Option<u32>,
        at: Timestamp,
    ) -> Result<(), CommandError> {
        let has_calibration = self.reading.calibration.is_some();
        let impression = self.draft(number)?;
        if outcome == Outcome::Aged {
            if impression.axis.is_none() || impression.edge.is_none() {
                return Err(CommandError::NotReady("set the focus, the axis and the margin"));
            }
            if impression.edge_condition.is_none() {
                return Err(CommandError::NotReady(
                    "judge the margin: at edge, narrow, medium or wide",
                ));
            }
            // A blind reading is in pixels of its picture: the pixel size would tell how large the fish is.
            if !has_calibration && impression.conditions.blind_list.is_none() {
                return Err(CommandError::NotReady(
                    "the pixel size of this scan is not known: set the calibration",
                ));
            }
            if age.is_none() {
                return Err(CommandError::NotReady(
                    "the rule gives no age here: state it yourself",
                ));
            }
        }
        impression.outcome = Some(outcome);
        impression.age = if outcome == Outcome::Aged { age } else { None };
        impression.state = ReadingState::Confirmed;
        impression.confirmed = Some(at);
        self.proposals.remove(&number);
        self.standing.retain(|standing| *standing != number);
        Ok(())
    }
}

impl ImpressionReading {
    fn place(&mut self, mark: Mark) -> Result<(), CommandError> {
        let Some(edge) = self.edge.filter(|_| self.axis.is_some()) else {
            return Err(CommandError::NoAxis);
        };
        let at = mark.position;
        if !(at.0.is_finite() && at.0 > 0.0 && at <= edge) {
            return Err(CommandError::OutsideStructure);
        }
        if self.marks.iter().any(|other| is_same_place(other.position, at)) {
            return Err(CommandError::PlaceTaken);
        }
        let index = self.marks.partition_point(|other| other.position < at);
        self.marks.insert(index, mark);
        Ok(())
    }

    fn take_mark(&mut self, index: usize) -> Result<Mark, CommandError> {
        if index < self.marks.len() {
            Ok(self.marks.remove(index))
        } else {
            Err(CommandError::NoMark(index))
        }
    }

    fn move_mark(&mut self, index: usize, to: Pixels) -> Result<(), CommandError> {
        let mut mark = self.take_mark(index)?;
        mark.position = to;
        if mark.origin == MarkOrigin::AcceptedProposal {
            mark.origin = MarkOrigin::MovedProposal;
        }
        self.place(mark)
    }
}

/// True where the marks lie one after another between focus and margin; a radius next to nothing would heap them up.
fn are_in_order_within(marks: &[Mark], edge: Pixels) -> bool {
    let positions = || marks.iter().map(|mark| mark.position.0);
    let before = std::iter::once(0.0).chain(positions());
    before.zip(positions()).all(|(before, at)| before < at && at <= edge.0)
}

fn new_mark(position: Pixels, kind: MarkKind, origin: MarkOrigin) -> Mark {
    Mark { kind, position, origin, certainty: Certainty::Clear }
}
