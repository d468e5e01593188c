//! What stands in the place of a survey while a blind list is open, and what may be asked meanwhile.

use std::path::PathBuf;
use std::sync::Arc;

use crate::domain::fish::Fish;
use crate::domain::reading::{ReadingState, Structure};
use crate::domain::survey::Survey;
use crate::store::blind_pack::BlindItem;
use crate::store::collection::OpenSurvey;
use crate::store::fingerprint::Fingerprint;

use super::action::Verb;
use super::blind_session::BlindSession;
use super::session::{ListEntry, SurveySession};
use super::session_save::ListState;

impl Verb {
    /// True for what may be asked while a blind list is open.
    pub fn is_free_while_blind(self) -> bool {
        use super::action::Group;
        let group = self.entry().map(|entry| entry.group);
        match group {
            Some(Group::Marks) => true,
            Some(Group::Scans) => matches!(
                self,
                Self::NextScan
                    | Self::PreviousScan
                    | Self::NextUnread
                    | Self::FindScan
                    | Self::Propose
                    | Self::Reload
                    | Self::CancelJob
                    | Self::LeaveList
            ),
            Some(Group::Card) => matches!(
                self,
                Self::EdgeAtEdge
                    | Self::EdgeNarrow
                    | Self::EdgeMedium
                    | Self::EdgeWide
                    | Self::ConfidenceGood
                    | Self::ConfidenceFair
                    | Self::ConfidencePoor
                    | Self::OutcomeAged
                    | Self::OutcomeUnreadable
                    | Self::OutcomeRegenerated
                    | Self::OutcomeWrongStructure
                    | Self::EditNote
                    | Self::Confirm
                    | Self::Reopen
            ),
            Some(Group::View) => matches!(
                self,
                Self::ZoomIn
                    | Self::ZoomOut
                    | Self::Fit
                    | Self::PanLeft
                    | Self::PanRight
                    | Self::PanUp
                    | Self::PanDown
                    | Self::ShowTone
                    | Self::TurnAxisUp
                    | Self::ShowLoupe
                    | Self::LargerInterface
                    | Self::SmallerInterface
                    | Self::ShowCommands
                    | Self::ShowSettings
                    | Self::GoToRead
                    | Self::SwitchTheme
                    | Self::ShowKeys
            ),
            None => false,
        }
    }
}

/// A survey made up of tags. Of the true one it takes the birthday rule and the direction of the axis.
pub(super) fn masked_survey(session: &BlindSession, known: &Survey) -> SurveySession {
    let first = session.items().iter().find_map(|item| item.structure);
    let name = format!("Blind list {}", session.list());
    let mut survey = Survey::new(name, "", first.unwrap_or(Structure::Scale));
    survey.birthday_rule = known.birthday_rule;
    survey.axis_degrees = known.axis_degrees;
    survey.readers = vec![session.reader().clone()];
    let fish: Vec<Fish> = session.items().iter().map(masked_fish).collect();
    let entries = session.items().iter().zip(&fish).map(|(item, fish)| {
        let reading = session.reading(&item.tag);
        ListEntry {
            scan: item.tag.clone(),
            fish: vec![fish.clone()],
            state: match reading.map(|reading| reading.state) {
                None => ListState::Unread,
                Some(ReadingState::Draft) => ListState::Draft,
                Some(ReadingState::Confirmed) => ListState::Confirmed,
            },
            is_doubtful: reading.is_some_and(super::session_list::is_doubtful_impression),
            is_disputed: false,
        }
    });
    let entries = entries.collect();
    let files = OpenSurvey {
        folder: PathBuf::new(),
        survey,
        survey_fingerprint: Fingerprint::of(b""),
        fish,
        faulty_fish: Vec::new(),
        scans: Vec::new(),
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

fn masked_fish(item: &BlindItem) -> Fish {
    Fish { species: item.species.clone().unwrap_or_default(), ..Fish::named(&item.tag) }
}
