//! Everything that can be asked of the program, and one table with the words and keys for it.
//!
//! Menu, button, help and test take label, tooltip and shortcut from [`VERBS`] and from nowhere else.

use std::path::PathBuf;

use crate::domain::reading::{Confidence, EdgeCondition, Outcome};
use crate::marking::command::Command;

use super::session_agree::AgreeAction;
use super::session_growth::GrowthAction;
use super::session_import::ImportAction;
use super::session_lengths::LengthsRequest;
use super::session_lists::ListsAction;
use super::session_report::ReportAction;
use super::session_selection::Handle;
use super::session_slide::SlideAction;
use super::start_survey::NewSurvey;
use super::survey_readings::AgesFrom;

/// One of the working desks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Desk {
    /// Marking scans.
    #[default]
    Read,
    /// Lengths at earlier ages.
    Lengths,
    /// How well readers agree.
    Agree,
    /// Curves, growth years and the standard.
    Growth,
    /// The report and the data out.
    Report,
}

impl Desk {
    /// The desks that work, in the order of the bar.
    pub const ALL: [Self; 5] = [Self::Read, Self::Lengths, Self::Agree, Self::Growth, Self::Report];

    /// The verb that goes there.
    pub fn verb(self) -> Verb {
        match self {
            Self::Read => Verb::GoToRead,
            Self::Lengths => Verb::GoToLengths,
            Self::Agree => Verb::GoToAgree,
            Self::Growth => Verb::GoToGrowth,
            Self::Report => Verb::GoToReport,
        }
    }
}

/// Something asked of the program.
#[derive(Debug, Clone, PartialEq)]
pub enum Action {
    /// Something that needs no more words: see [`VERBS`].
    Do(Verb),
    /// Opens the survey in a folder.
    Open(PathBuf),
    /// Opens the survey in a folder at one of its scans.
    OpenScan(PathBuf, String),
    /// Starts a survey from pictures or a field sheet, and opens it.
    StartSurvey(Box<NewSurvey>),
    /// Says who reads.
    SetReader(String),
    /// Opens the scan at a place of the reading list.
    SelectScan(usize),
    /// Turns to an impression of the open scan.
    SelectImpression(u32),
    /// An edit of the open reading.
    Edit(Command),
    /// Something about the boxes of a slide.
    Slide(SlideAction),
    /// Takes hold of a mark or handle, or of none.
    Select(Option<Handle>),
    /// States the age where the reader differs from the rule or the rule gives none; `None` goes back to the rule.
    StateAge(Option<u32>),
    /// Chooses what Confirm will say.
    ChooseOutcome(Outcome),
    /// Chooses how lengths are worked out.
    SetLengths(LengthsRequest),
    /// Chooses whose ages analyses use.
    SetAgesFrom(AgesFrom),
    /// Something on the desks of lengths and growth.
    Growth(GrowthAction),
    /// Something on the Report desk.
    Report(ReportAction),
    /// Something while a field sheet is taken in.
    Import(ImportAction),
    /// Takes a problem off the screen.
    Dismiss(u64),
    /// Something with blind lists.
    Lists(ListsAction),
    /// Something on the Agree desk.
    Agree(AgreeAction),
}

impl From<Verb> for Action {
    fn from(verb: Verb) -> Self {
        Self::Do(verb)
    }
}

macro_rules! verbs {
    ($($(#[$doc:meta])* $verb:ident: $group:ident, $label:literal, $tooltip:literal, [$($key:expr),* $(,)?];)+) => {
        /// Something a button or key asks for, complete in itself.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
        pub enum Verb {
            $($(#[$doc])* #[doc = $tooltip] $verb,)+
        }

        /// The one table of words and keys, in the order the help shows them.
        pub const VERBS: &[Entry] = &[
            $(Entry {
                verb: Verb::$verb,
                group: Group::$group,
                label: $label,
                tooltip: $tooltip,
                shortcuts: &[$($key),*],
            },)+
        ];
    };
}

/// What a verb is about; the headings of the help.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Group {
    /// Survey and scans.
    Scans,
    /// Marks.
    Marks,
    /// The fish card.
    Card,
    /// The view and the window.
    View,
}

impl Group {
    /// All groups, in the order of the help.
    pub const ALL: [Self; 4] = [Self::Scans, Self::Marks, Self::Card, Self::View];

    /// The heading.
    pub fn heading(self) -> &'static str {
        match self {
            Self::Scans => "Survey and scans",
            Self::Marks => "Marks",
            Self::Card => "Fish card",
            Self::View => "View",
        }
    }
}

/// One row of the table.
#[derive(Debug, Clone, Copy)]
pub struct Entry {
    /// The verb.
    pub verb: Verb,
    /// What it is about.
    pub group: Group,
    /// Words on its button.
    pub label: &'static str,
    /// One plain sentence.
    pub tooltip: &'static str,
    /// Keys that ask for it; the first is the one shown.
    pub shortcuts: &'static [Shortcut],
}

/// A key of the keyboard, apart from its modifiers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[expect(missing_docs, reason = "the names are those on the keys")]
pub enum Key {
    Letter(char),
    Digit(u8),
    BracketLeft,
    BracketRight,
    Plus,
    Minus,
    Question,
    Left,
    Right,
    Up,
    Down,
    PageUp,
    PageDown,
    Delete,
    Backspace,
    Insert,
    Escape,
    F1,
    F2,
    F3,
}

/// A key with its modifiers. `ctrl` is the command key where a keyboard has one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Shortcut {
    /// The key.
    pub key: Key,
    /// With Ctrl.
    pub ctrl: bool,
    /// With Shift.
    pub shift: bool,
}

const fn plain(key: Key) -> Shortcut {
    Shortcut { key, ctrl: false, shift: false }
}

const fn letter(letter: char) -> Shortcut {
    plain(Key::Letter(letter))
}

const fn digit(digit: u8) -> Shortcut {
    plain(Key::Digit(digit))
}

const fn shift(key: Key) -> Shortcut {
    Shortcut { key, ctrl: false, shift: true }
}

const fn ctrl(key: Key) -> Shortcut {
    Shortcut { key, ctrl: true, shift: false }
}

const fn ctrl_shift(key: Key) -> Shortcut {
    Shortcut { key, ctrl: true, shift: true }
}

verbs! {
    OpenSurvey: Scans, "Open survey", "Choose the folder of a survey to open", [ctrl(Key::Letter('O'))];
    ImportSheet: Scans, "Take in a sheet", "Match the columns of a field sheet (CSV or XLSX) and take it in, or radii from an old projector sheet", [ctrl(Key::Letter('M'))];
    TryDemo: Scans, "Try the demo", "Draw the invented survey of Maple Hollow Pond in this folder and open it", [ctrl(Key::Letter('D'))];
    Practise: Scans, "Practise", "Read simulated structures of known age and see how you do, or come back to the survey; nothing is written", [ctrl(Key::Letter('T'))];
    PractiseUnaided: Scans, "With proposals", "Practise with proposed annuli or without", [shift(Key::Letter('T'))];
    ShowGuide: Scans, "Guided reading", "Read one structure step by step", [plain(Key::F3)];
    NextScan: Scans, "Next scan", "Go to the next scan of the list", [letter('N'), plain(Key::PageDown)];
    PreviousScan: Scans, "Previous scan", "Go to the previous scan of the list", [letter('B'), plain(Key::PageUp)];
    NextUnread: Scans, "Next unread scan", "Go to the next scan that you have not confirmed", [letter('J')];
    FindScan: Scans, "Find", "Find a scan by the number of its fish or its file name", [ctrl(Key::Letter('F'))];
    FindImpressions: Scans, "Find impressions", "Look for the impressions of this slide and put a numbered box round each", [ctrl(Key::Letter('I'))];
    NextImpression: Scans, "Next impression", "Go to the next impression of this scan", [shift(Key::Letter('N'))];
    PreviousImpression: Scans, "Previous impression", "Go to the previous impression of this scan", [shift(Key::Letter('B'))];
    RenumberUp: Scans, "Later on the slide", "Let the impression on show change places with the next one", [shift(Key::PageDown)];
    RenumberDown: Scans, "Earlier on the slide", "Let the impression on show change places with the one before", [shift(Key::PageUp)];
    MatchBySheet: Scans, "Match by sheet", "Give the boxes to the fish of this slide in the order of the field sheet", [shift(Key::Letter('M'))];
    MatchByNumber: Scans, "Match by number", "Give the boxes to the fish of this slide in the order of their envelope numbers", [shift(Key::Letter('E'))];
    Propose: Scans, "Propose annuli", "Look for annuli along the axis again", [letter('P')];
    ProposeUnread: Scans, "Propose on unread", "Look for annuli on all unread scans while you go on", [ctrl(Key::Letter('U'))];
    StopUnread: Scans, "Stop proposing", "Stop looking for annuli on unread scans; what was found stays", [ctrl_shift(Key::Letter('U'))];
    Recalibrate: Scans, "Recalibrate", "Work out from the confirmed readings of this survey what proposals are worth here, and show probabilities in place of words", [ctrl_shift(Key::Letter('P'))];
    ShowLists: Scans, "Blind lists", "Blind re-read lists of this survey: draw, open, close, send, take in", [ctrl(Key::Letter('L'))];
    LeaveList: Scans, "Leave the list", "Leave the blind list; what you read of it is saved", [ctrl_shift(Key::Letter('L'))];
    Reload: Scans, "Read again from disk", "Drop what is not saved on this scan and open it again as it is on disk", [ctrl(Key::Letter('R'))];
    CancelJob: Scans, "Stop", "Stop the work in progress, or let go of the selected mark", [plain(Key::Escape)];

    NextMark: Marks, "Next mark", "Take hold of the next mark outwards", [plain(Key::BracketRight)];
    PreviousMark: Marks, "Previous mark", "Take hold of the next mark inwards", [plain(Key::BracketLeft)];
    SelectFocus: Marks, "Focus", "Take hold of the focus (set it in the middle where there is none)", [letter('F')];
    SelectAxis: Marks, "Axis end", "Take hold of the outer end of the axis; again for its bends", [letter('X')];
    BendAxis: Marks, "Bend the axis", "Put a bend into the axis at the selected mark or in its middle, and take hold of it", [shift(Key::Letter('X'))];
    AddAxis: Marks, "Another axis", "Set this axis aside with its marks and begin another from the same focus; the new one is the primary one", [shift(Key::Letter('F'))];
    NextAxis: Marks, "Next axis", "Make the next axis of this structure the primary one, on which age and lengths rest", [shift(Key::Letter('G'))];
    RemoveAxis: Marks, "Remove axis", "Drop the primary axis with its marks for the one set aside last", [shift(Key::Letter('D'))];
    SelectMargin: Marks, "Margin", "Take hold of the margin", [letter('M')];
    NudgeOut: Marks, "Move outwards", "Move what is selected one pixel outwards (the focus and the axis end: to the right)", [plain(Key::Right)];
    NudgeIn: Marks, "Move inwards", "Move what is selected one pixel inwards (the focus and the axis end: to the left)", [plain(Key::Left)];
    LeapOut: Marks, "Move far outwards", "Move what is selected ten pixels outwards", [shift(Key::Right)];
    LeapIn: Marks, "Move far inwards", "Move what is selected ten pixels inwards", [shift(Key::Left)];
    NudgeUp: Marks, "Move up", "Move the selected focus or axis end one pixel up", [plain(Key::Up)];
    NudgeDown: Marks, "Move down", "Move the selected focus or axis end one pixel down", [plain(Key::Down)];
    Accept: Marks, "Accept", "Make an annulus of the selected proposal", [letter('A')];
    AcceptAll: Marks, "Accept all", "Make annuli of all proposals put forward", [shift(Key::Letter('A'))];
    Insert: Marks, "Add annulus", "Add an annulus half-way to the next mark outwards (or double-click the place)", [letter('I'), plain(Key::Insert)];
    Delete: Marks, "Delete", "Delete the selected mark, or set the selected proposal aside", [plain(Key::Delete), plain(Key::Backspace), letter('D')];
    ToggleKind: Marks, "Annulus or check", "Turn the selected annulus into a check, or back", [letter('K')];
    CycleCertainty: Marks, "Certainty", "Say how sure you are of the selected mark: clear, faint, doubtful", [letter('S')];
    Undo: Marks, "Undo", "Take back the last edit", [ctrl(Key::Letter('Z'))];
    Redo: Marks, "Redo", "Do the edit again that was taken back", [ctrl_shift(Key::Letter('Z')), ctrl(Key::Letter('Y'))];

    Calibrate: Card, "Pixel size", "Give, measure or check the pixel size of this scan", [letter('Z')];
    EdgeAtEdge: Card, "At edge", "An annulus lies at the very margin and is counted", [digit(1)];
    EdgeNarrow: Card, "Narrow", "Plus growth below a third of the last increment", [digit(2)];
    EdgeMedium: Card, "Medium", "Plus growth of a third to two thirds of the last increment", [digit(3)];
    EdgeWide: Card, "Wide", "Plus growth above two thirds of the last increment", [digit(4)];
    ConfidenceGood: Card, "Good", "Good confidence in the whole reading", [digit(7)];
    ConfidenceFair: Card, "Fair", "Fair confidence in the whole reading", [digit(8)];
    ConfidencePoor: Card, "Poor", "Poor confidence in the whole reading", [digit(9)];
    OutcomeAged: Card, "Aged", "The reading gives an age", [letter('G')];
    OutcomeUnreadable: Card, "Unreadable", "The structure cannot be read", [letter('U')];
    OutcomeRegenerated: Card, "Regenerated", "A regenerated scale: the early record is lost", [letter('R')];
    OutcomeWrongStructure: Card, "Wrong structure", "The picture shows another structure than stated", [letter('W')];
    ShowLength: Card, "Show length", "Show the length at capture; the reading records that you looked", [letter('L')];
    EditNote: Card, "Note", "Write a note on this reading", [letter('T')];
    Confirm: Card, "Confirm", "Put your name to this reading and save it", [letter('C')];
    Prefer: Card, "Prefer this one", "Let the lengths of this fish rest on this impression alone, or again on the mean of all", [shift(Key::Letter('P'))];
    Reopen: Card, "Reopen", "Open this confirmed reading for further work", [letter('O')];

    ExportCard: Card, "Reading card", "Write the marked picture with its scale bar as SVG and PNG into the survey's results", [ctrl(Key::Letter('E'))];

    ZoomIn: View, "Closer", "Show the scan larger", [plain(Key::Plus)];
    ZoomOut: View, "Farther", "Show the scan smaller", [plain(Key::Minus)];
    Fit: View, "Fit", "Fit the whole scan into its place", [letter('V')];
    PanLeft: View, "Left", "Look at what lies to the left", [ctrl(Key::Left)];
    PanRight: View, "Right", "Look at what lies to the right", [ctrl(Key::Right)];
    PanUp: View, "Up", "Look at what lies above", [ctrl(Key::Up)];
    PanDown: View, "Down", "Look at what lies below", [ctrl(Key::Down)];
    ShowList: View, "List", "Show or hide the reading list", [shift(Key::Letter('L'))];
    ShowCard: View, "Card", "Show or hide the fish card", [shift(Key::Letter('C'))];
    ShowTone: View, "Tone", "Black and white point, gamma, inversion and local contrast of this scan", [letter('E')];
    ShowBoxes: View, "Boxes", "Show the whole slide with the boxes of its impressions, to add, move, remove and number them", [ctrl(Key::Letter('B'))];
    TurnAxisUp: View, "Axis up", "Turn the view so that the axis points up, or back", [letter('H')];
    ShowLoupe: View, "Loupe", "Enlarge what is under the pointer", [letter('Q')];
    LargerInterface: View, "Larger words", "Make words and controls larger", [ctrl(Key::Plus)];
    SmallerInterface: View, "Smaller words", "Make words and controls smaller", [ctrl(Key::Minus)];
    ShowCommands: View, "Commands", "Find anything the program does by its name", [ctrl(Key::Letter('K'))];
    ShowSettings: View, "Settings", "Size of words, theme, keys, and where the settings lie", [plain(Key::F2)];
    GoToRead: View, "Read", "Mark scans", [ctrl(Key::Digit(1))];
    GoToLengths: View, "Lengths", "Lengths at earlier ages from confirmed readings", [ctrl(Key::Digit(2))];
    GoToAgree: View, "Agree", "How well readers agree, and what to do where they part", [ctrl(Key::Digit(3))];
    GoToGrowth: View, "Growth", "Growth curves, good and poor years, and the standard", [ctrl(Key::Digit(4))];
    GoToReport: View, "Report", "The report a manager signs, and the data as tables", [ctrl(Key::Digit(5))];
    SwitchTheme: View, "Light or dark", "Switch between the light and the dark window", [letter('Y')];
    ShowKeys: View, "Keys", "Show all keys", [plain(Key::Question), plain(Key::F1)];
}

impl Verb {
    /// Its row of the table.
    pub fn entry(self) -> Option<&'static Entry> {
        VERBS.iter().find(|entry| entry.verb == self)
    }

    /// Words on its button.
    pub fn label(self) -> &'static str {
        self.entry().map_or("", |entry| entry.label)
    }

    /// True for verbs that concern only the window: they change nothing that is read or saved.
    pub fn is_view(self) -> bool {
        matches!(
            self,
            Self::OpenSurvey
                | Self::ZoomIn
                | Self::ZoomOut
                | Self::Fit
                | Self::PanLeft
                | Self::PanRight
                | Self::PanUp
                | Self::PanDown
                | Self::FindScan
                | Self::ShowBoxes
                | Self::ShowList
                | Self::ShowCard
                | Self::ExportCard
                | Self::ShowTone
                | Self::TurnAxisUp
                | Self::ShowLoupe
                | Self::Calibrate
                | Self::LargerInterface
                | Self::SmallerInterface
                | Self::ShowCommands
                | Self::ShowSettings
                | Self::SwitchTheme
                | Self::ShowKeys
                | Self::EditNote
        )
    }

    /// True for verbs that read or write the files of a survey: they rest while practising.
    pub fn needs_survey(self) -> bool {
        matches!(
            self,
            Self::GoToLengths
                | Self::GoToAgree
                | Self::GoToGrowth
                | Self::GoToReport
                | Self::ShowLists
                | Self::ImportSheet
                | Self::ProposeUnread
                | Self::Recalibrate
                | Self::Reload
                | Self::ExportCard
                | Self::Prefer
        )
    }

    /// The verb that judges the margin so.
    pub fn of_edge(edge: EdgeCondition) -> Self {
        match edge {
            EdgeCondition::AtEdge => Self::EdgeAtEdge,
            EdgeCondition::Narrow => Self::EdgeNarrow,
            EdgeCondition::Medium => Self::EdgeMedium,
            EdgeCondition::Wide => Self::EdgeWide,
        }
    }

    /// The verb that states this confidence.
    pub fn of_confidence(confidence: Confidence) -> Self {
        match confidence {
            Confidence::Good => Self::ConfidenceGood,
            Confidence::Fair => Self::ConfidenceFair,
            Confidence::Poor => Self::ConfidencePoor,
        }
    }

    /// The verb that chooses this outcome.
    pub fn of_outcome(outcome: Outcome) -> Self {
        match outcome {
            Outcome::Aged => Self::OutcomeAged,
            Outcome::Unreadable => Self::OutcomeUnreadable,
            Outcome::Regenerated => Self::OutcomeRegenerated,
            Outcome::WrongStructure => Self::OutcomeWrongStructure,
        }
    }
}

impl std::fmt::Display for Shortcut {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        if self.ctrl {
            f.write_str("Ctrl+")?;
        }
        if self.shift {
            f.write_str("Shift+")?;
        }
        match self.key {
            Key::Letter(letter) => write!(f, "{letter}"),
            Key::Digit(digit) => write!(f, "{digit}"),
            Key::BracketLeft => f.write_str("["),
            Key::BracketRight => f.write_str("]"),
            Key::Plus => f.write_str("+"),
            Key::Minus => f.write_str("-"),
            Key::Question => f.write_str("?"),
            Key::PageUp => f.write_str("Page Up"),
            Key::PageDown => f.write_str("Page Down"),
            other => write!(f, "{other:?}"),
        }
    }
}

#[cfg(test)]
mod tests {
    use std::collections::HashMap;

    use super::*;

    #[test]
    fn no_two_verbs_share_a_key() {
        let mut owners: HashMap<Shortcut, Verb> = HashMap::new();
        for entry in VERBS {
            for key in entry.shortcuts {
                let earlier = owners.insert(*key, entry.verb);
                assert_eq!(earlier, None, "{key} asks for two things");
            }
        }
        assert!(owners.len() > 40);
    }

    #[test]
    fn every_verb_has_words_and_a_key() {
        for entry in VERBS {
            assert!(!entry.label.is_empty() && entry.tooltip.len() > 8, "{:?}", entry.verb);
            assert!(!entry.shortcuts.is_empty(), "{:?}", entry.verb);
        }
    }

    #[test]
    fn keys_are_written_as_on_the_keyboard() {
        let shown = |verb: Verb| verb.entry().unwrap().shortcuts[0].to_string();
        assert_eq!(shown(Verb::Redo), "Ctrl+Shift+Z");
        assert_eq!(shown(Verb::NextMark), "]");
        assert_eq!(shown(Verb::LeapOut), "Shift+Right");
    }
}
