//! From a verb to a command: what each key and button does to the open reading.

use jiff::Timestamp;
use kurbo::Vec2;

use crate::domain::axis::Axis;
use crate::domain::reading::{
    Certainty, Confidence, EdgeCondition, MarkKind, Outcome, ReadingState,
};
use crate::domain::units::Pixels;
use crate::marking::command::Command;

use super::action::{Desk, Verb};
use super::session_axis::{another, axis_moved_to, bent, followed, straightened};
use super::session_import::ImportAction;
use super::session_save::{ListState, Pending};
use super::session_scan::OpenScan;
use super::session_selection::{Handle, along_axis, name, neighbour, position};
use super::session_slide::SlideAction;
use super::workbench::Workbench;

/// Pixels of the scan that a far move goes.
const LEAP_PX: f64 = 10.0;

impl Workbench {
    pub(super) fn do_verb(&mut self, verb: Verb) {
        if self.is_practising() && verb.needs_survey() {
            self.notices.say("leave practice first: this belongs to a survey");
            return;
        }
        if Desk::ALL.iter().any(|desk| desk.verb() == verb) {
            self.import.put_away();
        }
        match verb {
            Verb::Practise => self.after_saving(Pending::Practice),
            Verb::PractiseUnaided => self.toggle_practice_proposals(),
            Verb::ShowGuide if !self.is_practising() => self.after_saving(Pending::Practice),
            Verb::ShowLists => self.look_at_lists(),
            Verb::ImportSheet => self.do_import(ImportAction::Begin),
            Verb::LeaveList => self.after_saving(Pending::LeaveBlind),
            Verb::GoToAgree => self.desk = Desk::Agree,
            Verb::TryDemo => self.after_saving(Pending::Demo),
            Verb::NextScan => self.go_by(1),
            Verb::PreviousScan => self.go_by(-1),
            Verb::NextUnread => self.go_to_unread(),
            Verb::Reload => self.reload(),
            Verb::Propose => self.start_proposal(),
            Verb::ProposeUnread => self.start_batch(),
            Verb::StopUnread => self.stop_batch(),
            Verb::Recalibrate => self.start_recalibrating(),
            Verb::CancelJob => self.stop(),
            Verb::Undo => self.undo(),
            Verb::Redo => self.redo(),
            Verb::GoToRead => self.desk = Desk::Read,
            Verb::GoToLengths => self.desk = Desk::Lengths,
            Verb::GoToGrowth => self.desk = Desk::Growth,
            Verb::GoToReport => self.desk = Desk::Report,
            Verb::ShowLength => self.show_length(),
            Verb::Confirm => self.confirm(),
            Verb::NextMark | Verb::PreviousMark => self.walk(verb == Verb::NextMark),
            Verb::SelectFocus => self.take_hold(Handle::Focus),
            Verb::SelectAxis => self.take_hold_of_axis(),
            Verb::BendAxis => self.bend(),
            Verb::FindImpressions => self.find_boxes(),
            Verb::NextImpression => self.turn_impression(true),
            Verb::PreviousImpression => self.turn_impression(false),
            Verb::RenumberUp => self.do_slide(SlideAction::Renumber(true)),
            Verb::RenumberDown => self.do_slide(SlideAction::Renumber(false)),
            Verb::MatchBySheet => self.do_slide(SlideAction::MatchBySheet),
            Verb::MatchByNumber => self.do_slide(SlideAction::MatchByNumber),
            Verb::Prefer => self.prefer(),
            Verb::SelectMargin => self.take_hold(Handle::Margin),
            Verb::OutcomeAged => self.choose_outcome(Outcome::Aged),
            Verb::OutcomeUnreadable => self.choose_outcome(Outcome::Unreadable),
            Verb::OutcomeRegenerated => self.choose_outcome(Outcome::Regenerated),
            Verb::OutcomeWrongStructure => self.choose_outcome(Outcome::WrongStructure),
            _ if verb.is_view() => {}
            _ => self.edit_by_verb(verb),
        }
    }

    /// Applies an edit, or says why it is refused.
    pub(super) fn edit(&mut self, command: &Command) {
        if self.is_confirming() {
            self.notices.say("this reading is being saved: try again in a moment");
            return;
        }
        let Some(scan) = &mut self.scan else { return };
        let what = match followed(scan, command) {
            Some((on_rings, by_share)) => format!(
                "axis moved: {on_rings} of the marks followed their rings, {by_share} kept their share of the radius"
            ),
            None => command.name(scan.document()),
        };
        match scan.edit(command) {
            Ok(()) => {
                self.notices.say(what);
                if matches!(
                    command,
                    Command::SetAxis { .. }
                        | Command::SetCalibration(_)
                        | Command::SetBounds { .. }
                ) {
                    self.start_first_proposal();
                }
            }
            Err(error) => self.notices.say(error.to_string()),
        }
    }

    pub(super) fn choose_outcome(&mut self, outcome: Outcome) {
        if let Some(scan) = self.scan.as_mut().filter(|scan| scan.is_draft()) {
            scan.outcome = outcome;
            self.notices.say(format!("outcome: {}", outcome.word()));
        }
    }

    fn edit_by_verb(&mut self, verb: Verb) {
        let Some(scan) = &self.scan else {
            self.notices.say("no scan is open");
            return;
        };
        match command_for(scan, verb) {
            Ok(command) => self.edit(&command),
            Err(reason) => self.notices.say(reason),
        }
    }

    fn go_by(&mut self, by: isize) {
        let (Some(survey), Some(here)) = (&self.survey, self.place()) else { return };
        match here.checked_add_signed(by).filter(|place| *place < survey.entries().len()) {
            Some(place) => self.after_saving(Pending::Scan(place)),
            None if by > 0 => self.notices.say("this is the last scan of the list"),
            None => self.notices.say("this is the first scan of the list"),
        }
    }

    fn go_to_unread(&mut self) {
        if self.scan.as_ref().is_some_and(|scan| !scan.is_draft())
            && let Some(number) = self.unread_impression()
        {
            self.perform(super::action::Action::SelectImpression(number));
            return;
        }
        let Some(survey) = &self.survey else { return };
        let here = self.place().map_or(0, |place| place + 1);
        let count = survey.entries().len();
        let around = (here..count).chain(0..here.min(count));
        let open = |place: &usize| {
            survey.entries().get(*place).is_some_and(|entry| entry.state != ListState::Confirmed)
        };
        let next = around.into_iter().find(open);
        match next {
            Some(place) if Some(place) != self.place() => self.after_saving(Pending::Scan(place)),
            Some(_) => self.notices.say("this is the only scan left to read"),
            None => self.notices.say("every scan of this survey is confirmed"),
        }
    }

    fn reload(&mut self) {
        if self.saving.is_none()
            && let Some(place) = self.place()
        {
            self.pending = None;
            self.open_scan(place);
        }
    }

    fn stop(&mut self) {
        if self.is_drawing_demo && self.opening_survey.take().is_some() {
            self.is_drawing_demo = false;
            self.notices.say("stopped drawing the demo survey");
            return;
        }
        if self.desk == Desk::Growth && self.growth.working().is_some() {
            self.stop_growth();
            self.notices.say("stopped working out growth");
            return;
        }
        let is_nearer =
            self.scan.as_ref().is_some_and(|scan| scan.is_proposing() || scan.is_splitting());
        if !is_nearer && self.recalibrating.take().is_some() {
            self.notices.say("stopped working out probabilities; nothing has changed");
            return;
        }
        if self.desk == Desk::Report && self.report.stop() {
            self.notices.say("stopping");
            return;
        }
        let Some(scan) = &mut self.scan else { return };
        if scan.splitting.take().is_some() {
            self.notices.say("stopped looking for impressions");
        } else if scan.proposing.take().is_some() {
            self.notices.say("stopped looking for annuli");
        } else {
            scan.selected = None;
        }
    }

    fn undo(&mut self) {
        if self.is_confirming() {
            return;
        }
        let Some(scan) = &mut self.scan else { return };
        let what = scan.history().undo_name().map(str::to_owned);
        if scan.step_back()
            && let Some(what) = what
        {
            self.notices.say(format!("undone: {what}"));
        }
    }

    fn redo(&mut self) {
        if self.is_confirming() {
            return;
        }
        let Some(scan) = &mut self.scan else { return };
        let what = scan.history().redo_name().map(str::to_owned);
        if scan.step_forward()
            && let Some(what) = what
        {
            self.notices.say(format!("done again: {what}"));
        }
    }

    fn show_length(&mut self) {
        let Some(scan) = &mut self.scan else { return };
        let impression = scan.impression();
        scan.length_asked = true;
        // A confirmed reading was made without it: nothing to record any more.
        if scan.is_draft() {
            let shown = Command::RecordShown { impression, proposals: false, length: true };
            if scan.history.amend(&shown).is_ok() {
                scan.touch();
            }
            self.notices.say("length shown; this reading records that you looked");
        }
    }

    fn confirm(&mut self) {
        if self.is_confirming() {
            return;
        }
        let Some(scan) = &self.scan else { return };
        let captured = self.captured();
        let by_rule = self
            .survey
            .as_ref()
            .and_then(|survey| scan.age_by_rule(captured, survey.survey()))
            .and_then(|assigned| assigned.age);
        let command = Command::Confirm {
            impression: scan.impression(),
            outcome: scan.outcome(),
            age: scan.stated_age().or(by_rule),
            at: Timestamp::now(),
        };
        // Refused here rather than by the writer, so that the reader hears at once.
        match scan.document().applied(&command) {
            Ok(_) => self.after_saving(Pending::Confirm(command)),
            Err(error) => self.notices.say(error.to_string()),
        }
    }

    fn walk(&mut self, outwards: bool) {
        let Some(scan) = &mut self.scan else { return };
        scan.selected = neighbour(scan.document(), scan.impression(), scan.selected, outwards);
        self.say_selected();
    }

    fn take_hold(&mut self, handle: Handle) {
        let Some(scan) = &mut self.scan else { return };
        if position(scan.document(), scan.impression(), handle).is_some() {
            scan.selected = Some(handle);
            self.say_selected();
            return;
        }
        let degrees = self.survey.as_ref().map_or(0.0, |survey| survey.survey().axis_degrees);
        let Some(command) = first_axis(scan, degrees) else { return };
        self.edit(&command);
        if let Some(scan) = &mut self.scan {
            scan.selected = Some(handle);
            scan.keep_selection_valid();
        }
    }

    /// The outer end first, then the bends from there inwards, and round again.
    fn take_hold_of_axis(&mut self) {
        let Some(scan) = &self.scan else { return };
        let axis = scan.reading().and_then(|reading| reading.axis.as_ref());
        let n = axis.map_or(0, |axis| axis.vertices().len());
        let next = match scan.selected() {
            Some(Handle::AxisEnd) if n > 2 => Handle::Bend(n - 2),
            Some(Handle::Bend(index)) if index > 1 => Handle::Bend(index - 1),
            _ => Handle::AxisEnd,
        };
        self.take_hold(next);
    }

    fn bend(&mut self) {
        let Some(scan) = &self.scan else { return };
        let held =
            scan.selected().filter(|held| matches!(held, Handle::Mark(_) | Handle::Proposal(_)));
        let at = held.and_then(|held| position(scan.document(), scan.impression(), held));
        match bent(scan, at) {
            Some((command, index)) => {
                self.edit(&command);
                self.take_hold(Handle::Bend(index));
            }
            None => self.notices.say("set the focus and the axis first"),
        }
    }

    fn say_selected(&mut self) {
        let Some(scan) = &self.scan else { return };
        let Some(handle) = scan.selected else { return };
        let Some(at) = position(scan.document(), scan.impression(), handle) else { return };
        let label = super::session_selection::label(scan.document(), scan.impression(), handle, at);
        self.notices.say(label);
    }
}

/// An axis to begin with: from the middle of the impression in the survey's direction towards its border.
fn first_axis(scan: &OpenScan, degrees: f64) -> Option<Command> {
    let reading = scan.reading()?;
    let area = reading.bounds.unwrap_or_else(|| scan.raster().area());
    let angle = degrees.to_radians();
    let direction = Vec2::new(angle.sin(), -angle.cos());
    let half = Vec2::new(area.width() / 2.0, area.height() / 2.0);
    let room =
        |along: f64, half: f64| if along.abs() < 1e-9 { f64::INFINITY } else { half / along.abs() };
    let length = room(direction.x, half.x).min(room(direction.y, half.y)) * 0.95;
    let axis = Axis::straight(area.center(), area.center() + direction * length).ok()?;
    let edge = Pixels(axis.length_px().0 * 0.85);
    Some(Command::SetAxis { impression: scan.impression(), axis, edge })
}

/// The command a verb stands for now, or why there is none.
fn command_for(scan: &OpenScan, verb: Verb) -> Result<Command, String> {
    let impression = scan.impression();
    let edge = |edge_condition| Ok(Command::SetEdgeCondition { impression, edge_condition });
    let sure = |confidence| Ok(Command::SetConfidence { impression, confidence: Some(confidence) });
    match verb {
        Verb::EdgeAtEdge => edge(EdgeCondition::AtEdge),
        Verb::EdgeNarrow => edge(EdgeCondition::Narrow),
        Verb::EdgeMedium => edge(EdgeCondition::Medium),
        Verb::EdgeWide => edge(EdgeCondition::Wide),
        Verb::ConfidenceGood => sure(Confidence::Good),
        Verb::ConfidenceFair => sure(Confidence::Fair),
        Verb::ConfidencePoor => sure(Confidence::Poor),
        Verb::AcceptAll => Ok(Command::AcceptAllProposals { impression }),
        Verb::AddAxis => another(scan).ok_or_else(|| "set the focus and the axis first".to_owned()),
        Verb::NextAxis => Ok(Command::TurnPrimary { impression, other: 0 }),
        Verb::RemoveAxis => Ok(Command::RemoveAxis { impression }),
        Verb::Reopen if scan.reading().is_some_and(|r| r.state == ReadingState::Confirmed) => {
            Ok(Command::Reopen { impression })
        }
        Verb::Reopen => Err("this reading is open already".to_owned()),
        Verb::Insert => {
            insertion(scan).ok_or_else(|| "set the focus and the axis first".to_owned())
        }
        Verb::NudgeOut => moved(scan, 1.0, Vec2::new(1.0, 0.0)),
        Verb::NudgeIn => moved(scan, -1.0, Vec2::new(-1.0, 0.0)),
        Verb::LeapOut => moved(scan, LEAP_PX, Vec2::new(LEAP_PX, 0.0)),
        Verb::LeapIn => moved(scan, -LEAP_PX, Vec2::new(-LEAP_PX, 0.0)),
        Verb::NudgeUp => moved(scan, 0.0, Vec2::new(0.0, -1.0)),
        Verb::NudgeDown => moved(scan, 0.0, Vec2::new(0.0, 1.0)),
        _ => on_selected(scan, verb),
    }
}

fn on_selected(scan: &OpenScan, verb: Verb) -> Result<Command, String> {
    let impression = scan.impression();
    let marks = scan.reading().map_or(&[][..], |reading| &reading.marks);
    match (verb, scan.selected()) {
        (Verb::Accept, Some(Handle::Proposal(proposal))) => {
            Ok(Command::AcceptProposal { impression, proposal })
        }
        // With nothing in hand, the innermost: so that one key, pressed again and again, goes through them.
        (Verb::Accept, None) if !scan.document().open_proposals(impression).is_empty() => {
            Ok(Command::AcceptProposal { impression, proposal: 0 })
        }
        (Verb::Delete, Some(Handle::Proposal(proposal))) => {
            Ok(Command::RejectProposal { impression, proposal })
        }
        (Verb::Delete, Some(Handle::Bend(bend))) => {
            straightened(scan, bend).ok_or_else(|| "this bend is gone".to_owned())
        }
        (Verb::Delete, Some(Handle::Mark(mark))) => Ok(Command::DeleteMark { impression, mark }),
        (Verb::ToggleKind, Some(Handle::Mark(mark))) => {
            let kind = match marks.get(mark).map(|mark| mark.kind) {
                Some(MarkKind::Annulus) => MarkKind::Check,
                _ => MarkKind::Annulus,
            };
            Ok(Command::SetMarkKind { impression, mark, kind })
        }
        (Verb::CycleCertainty, Some(Handle::Mark(mark))) => {
            let certainty = match marks.get(mark).map(|mark| mark.certainty) {
                Some(Certainty::Clear) => Certainty::Faint,
                Some(Certainty::Faint) => Certainty::Doubtful,
                _ => Certainty::Clear,
            };
            Ok(Command::SetCertainty { impression, mark, certainty })
        }
        (Verb::Accept, _) => {
            Err("take hold of a proposal first: [ and ] go from one to the next".into())
        }
        _ => Err("take hold of a mark first: [ and ] go from one to the next".into()),
    }
}

/// An annulus half-way between what is selected and what comes next outwards.
fn insertion(scan: &OpenScan) -> Option<Command> {
    let (document, impression) = (scan.document(), scan.impression());
    let from =
        scan.selected().filter(|handle| matches!(handle, Handle::Mark(_) | Handle::Proposal(_)));
    let start =
        from.and_then(|handle| position(document, impression, handle)).unwrap_or(Pixels(0.0));
    let all = along_axis(document, impression);
    let next = all.iter().map(|(at, _)| *at).find(|at| *at > start)?;
    let at = Pixels((start.0 + next.0) / 2.0);
    Some(Command::AddMark { impression, at, kind: MarkKind::Annulus })
}

/// Moves what is selected: along the axis, or freely for the focus and the end of the axis.
fn moved(scan: &OpenScan, along_px: f64, free_px: Vec2) -> Result<Command, String> {
    let none = || "take hold of a mark first: [ and ] go from one to the next".to_owned();
    let handle = scan.selected().ok_or_else(none)?;
    let at = position(scan.document(), scan.impression(), handle).ok_or_else(none)?;
    if let Handle::Focus | Handle::AxisEnd | Handle::Bend(_) = handle {
        let axis = scan.reading().and_then(|reading| reading.axis.as_ref()).ok_or_else(none)?;
        let from = axis.point_at(at);
        return axis_moved_to(scan, handle, from + free_px).ok_or_else(none);
    }
    if along_px == 0.0 {
        return Err(format!(
            "{} moves along the axis only",
            name(scan.document(), scan.impression(), handle)
        ));
    }
    moved_to(scan, handle, Pixels(at.0 + along_px)).ok_or_else(none)
}

/// The command that moves a mark, proposal or the margin to a place along the axis; `None` for other handles.
pub fn moved_to(scan: &OpenScan, handle: Handle, to: Pixels) -> Option<Command> {
    let impression = scan.impression();
    match handle {
        Handle::Mark(mark) => Some(Command::MoveMark { impression, mark, to }),
        Handle::Proposal(proposal) => Some(Command::MoveProposal { impression, proposal, to }),
        Handle::Margin => Some(Command::SetEdge { impression, edge: to }),
        Handle::Focus | Handle::AxisEnd | Handle::Bend(_) => None,
    }
}
