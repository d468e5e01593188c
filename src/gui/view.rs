//! What the window remembers for itself: places of views, open panels, half-typed words.

use std::sync::Arc;

use egui::{Id, TextureHandle};

use crate::domain::axis::Axis;
use crate::domain::units::Pixels;
use crate::imaging::enhance::Tone;
use crate::imaging::raster::Raster;
use crate::workbench::action::{Action, Verb};
use crate::workbench::session_lengths::LengthsRequest;
use crate::workbench::session_scan::OpenScan;
use crate::workbench::session_selection::Handle;
use crate::workbench::settings::Settings;
use crate::workbench::settings_keys::KeyMap;
use crate::workbench::settings_tone::ScanTone;
use crate::workbench::workbench::Workbench;

use super::canvas::arriving::ArrivingPicture;
use super::canvas::model::{AlongView, Drag, ScanView};
use super::canvas::picture::ScanPicture;
use super::dropping::Starting;
use super::panels::agree::AgreeView;
use super::panels::boxes::Boxes;
use super::panels::calibrate::Calibrating;
use super::panels::commands::Commands;
use super::panels::growth::GrowthView;
use super::panels::guide::Guide;
use super::panels::import::ImportView;
use super::panels::list_filter::ListFilter;
use super::panels::lists::ListsWindow;
use super::panels::report::ReportView;

/// State of the window that is neither undone nor saved with a reading.
pub struct View {
    /// The window on blind lists.
    pub lists: ListsWindow,
    /// What is chosen on the Agree desk.
    pub agree: AgreeView,
    /// The view of the scan.
    pub scan: ScanView,
    /// Where the scan was drawn last.
    pub scan_rect: egui::Rect,
    /// The stretch of the axis on show.
    pub along: AlongView,
    /// A drag in progress.
    pub drag: Option<Drag>,
    /// The scan that is being read, as far as it is there.
    pub arriving: Option<ArrivingPicture>,
    /// Textures of the scan on show.
    pub picture: Option<ScanPicture>,
    /// The strip's texture, with the axis, reach and tone it belongs to.
    pub strip: Option<(Axis, Pixels, Tone, TextureHandle)>,
    /// What the person wishes, as remembered.
    pub settings: Settings,
    /// How the scan on show is shown.
    pub tone: ScanTone,
    /// The tone panel is open.
    pub is_tone_shown: bool,
    /// The view is to be turned so that the axis points up.
    pub is_axis_up: bool,
    /// How far it is turned for that, radians clockwise; `None` until the axis is there.
    pub turn: Option<f64>,
    /// The loupe follows the pointer.
    pub is_loupe_shown: bool,
    /// Which scans the list shows.
    pub filter: ListFilter,
    /// The list of commands.
    pub commands: Commands,
    /// The settings are open.
    pub is_settings_shown: bool,
    /// The help is open.
    pub is_keys_shown: bool,
    /// The field for a survey's folder is open.
    pub is_path_shown: bool,
    /// What stands in it.
    pub path: String,
    /// The reader is being changed.
    pub is_changing_reader: bool,
    /// What stands in the field for initials.
    pub initials: String,
    /// What stands in the note.
    pub note: Note,
    /// The intercept typed on the lengths desk, millimetres.
    pub intercept_mm: f64,
    /// What is chosen and typed on the growth desk.
    pub growth: GrowthView,
    /// What is typed while a sheet is taken in.
    pub import: ImportView,
    /// What is typed on the Report desk.
    pub report: ReportView,
    /// The pixel size being given or measured.
    pub calibrating: Calibrating,
    /// The boxes of the slide on show.
    pub boxes: Boxes,
    /// The guided reading.
    pub guide: Guide,
    /// A survey about to be started.
    pub starting: Starting,
    /// The reading list and the fish card, where the person has chosen against what the window's width suggests.
    pub is_list_shown: Option<bool>,
    /// As for the list.
    pub is_card_shown: Option<bool>,
    /// The window is too narrow for all of them side by side.
    pub is_narrow: bool,
    /// Ids of the marks and handles drawn last: the arrow keys belong to them.
    pub canvas_ids: Vec<Id>,
    /// The keyboard is to go to what is selected.
    pub wants_focus: bool,
    /// The window waits for the last save before it closes.
    pub is_closing: bool,
    /// What the text fields keep for undoing is to be forgotten.
    pub forgets_typing: bool,
    was_blind: bool,
    last_selected: Option<Handle>,
    last_shown: Option<(usize, u32)>,
    last_place: Option<usize>,
    /// The list is to scroll to the open scan.
    pub wants_scroll: bool,
}

impl Default for View {
    fn default() -> Self {
        Self {
            lists: ListsWindow::default(),
            agree: AgreeView::default(),
            scan: ScanView::default(),
            scan_rect: egui::Rect::ZERO,
            along: AlongView::default(),
            drag: None,
            arriving: None,
            picture: None,
            strip: None,
            settings: Settings::default(),
            tone: ScanTone::default(),
            is_tone_shown: false,
            is_axis_up: false,
            turn: None,
            is_loupe_shown: false,
            filter: ListFilter::default(),
            commands: Commands::default(),
            is_settings_shown: false,
            is_keys_shown: false,
            is_path_shown: false,
            path: String::new(),
            is_changing_reader: false,
            initials: String::new(),
            note: Note::default(),
            intercept_mm: 0.0,
            growth: GrowthView::default(),
            import: ImportView::default(),
            report: ReportView::default(),
            calibrating: Calibrating::default(),
            boxes: Boxes::default(),
            guide: Guide::default(),
            starting: Starting::default(),
            is_list_shown: None,
            is_card_shown: None,
            is_narrow: false,
            canvas_ids: Vec::new(),
            wants_focus: false,
            is_closing: false,
            forgets_typing: false,
            was_blind: false,
            last_selected: None,
            last_shown: None,
            last_place: None,
            wants_scroll: false,
        }
    }
}

/// The note field: what is typed, and what of it the reading has.
#[derive(Debug, Default)]
pub struct Note {
    /// What stands in the field.
    pub text: String,
    /// What the reading said when it was last looked at.
    pub known: String,
    /// The field is to get the keyboard.
    pub wants_focus: bool,
}

impl View {
    /// Follows what has changed in the workbench since the last frame.
    pub fn follow(&mut self, workbench: &Workbench) {
        let is_blind = workbench.blind().is_some();
        if is_blind != self.was_blind {
            self.was_blind = is_blind;
            self.forget_words();
        }
        let scan = workbench.scan();
        let shown = scan.map(|scan| (scan.place(), scan.impression()));
        if shown != self.last_shown {
            let is_same_scan =
                shown.map(|(place, _)| place) == self.last_shown.map(|(place, _)| place);
            self.last_shown = shown;
            if !(self.boxes.is_shown && is_same_scan) {
                self.scan.fit();
            }
            self.boxes.is_shown &= is_same_scan;
            self.along.fit();
            self.drag = None;
            self.turn = None;
            self.calibrating.forget();
            if let Some(scan) = scan {
                let is_blind = workbench.blind().is_some();
                let known = self.settings.tone_of(&scan.document().reading.scan.blake3);
                self.tone = if is_blind { ScanTone::default() } else { known };
            }
        }
        if workbench.place() != self.last_place {
            self.last_place = workbench.place();
            self.wants_scroll = true;
        }
        let selected = scan.and_then(|scan| scan.selected());
        if selected != self.last_selected {
            self.last_selected = selected;
            self.wants_focus = selected.is_some();
        }
        let note = scan.and_then(|scan| scan.reading()).map_or("", |reading| &reading.note);
        if self.note.known != note {
            note.clone_into(&mut self.note.known);
            note.clone_into(&mut self.note.text);
        }
    }

    /// The part of a scan the view keeps to, image pixels: the impression, or the whole where boxes are shown.
    pub fn area_of(&self, scan: &OpenScan) -> kurbo::Rect {
        let bounds = scan.reading().and_then(|reading| reading.bounds);
        bounds.filter(|_| !self.boxes.is_shown).unwrap_or_else(|| scan.raster().area())
    }

    /// What was typed or shown before a blind list was opened, or in it, does not outlive it.
    fn forget_words(&mut self) {
        self.path.clear();
        self.initials.clear();
        self.note = Note::default();
        self.filter = ListFilter::default();
        self.lists = ListsWindow::default();
        self.agree = AgreeView::default();
        self.report = ReportView::default();
        self.import = ImportView::default();
        (self.picture, self.strip, self.arriving) = (None, None, None);
        self.forgets_typing = true;
    }

    /// The textures for `raster`.
    pub fn picture_of(
        &mut self,
        raster: &Arc<Raster>,
        context: &egui::Context,
    ) -> &mut ScanPicture {
        let kept = self.picture.take().filter(|picture| picture.is_of(raster));
        let (tone, arrived) = (self.tone, self.arriving.take());
        let picture = self.picture.insert(kept.unwrap_or_else(|| {
            let coarse = arrived.and_then(|arrived| arrived.whole_of(raster));
            ScanPicture::new(Arc::clone(raster), tone, coarse, context)
        }));
        picture.set_tone(tone);
        picture
    }

    /// Shows the open scan with another tone, and remembers it for this scan.
    pub fn set_tone(&mut self, workbench: &Workbench, tone: ScanTone) {
        self.tone = tone;
        // A picture of a blind list has no name to remember it by.
        let named = workbench.scan().filter(|_| workbench.blind().is_none());
        if let Some(scan) = named {
            self.settings.set_tone(&scan.document().reading.scan.blake3, tone);
        }
    }

    /// The reading list is on show: always where there is room, unless it was put away.
    pub fn shows_list(&self) -> bool {
        self.is_list_shown.unwrap_or(!self.is_narrow)
    }

    /// The fish card is on show.
    pub fn shows_card(&self) -> bool {
        self.is_card_shown.unwrap_or(true)
    }

    /// Closes the window on top, if one is open.
    pub fn close_top(&mut self) -> bool {
        if self.calibrating.stop_drawing() {
            return true;
        }
        let is_boxes = self.boxes.is_shown;
        let shown = [
            &mut self.commands.is_shown,
            &mut self.is_keys_shown,
            &mut self.is_path_shown,
            &mut self.is_settings_shown,
            &mut self.is_tone_shown,
            &mut self.lists.is_shown,
            &mut self.calibrating.is_shown,
            &mut self.starting.is_shown,
            &mut self.boxes.is_shown,
        ];
        let closed = shown.into_iter().find(|is_shown| **is_shown).map(std::mem::take).is_some();
        if is_boxes && !self.boxes.is_shown {
            self.scan.fit();
        }
        closed
    }

    /// Does what concerns only the window.
    pub fn do_verb(&mut self, verb: Verb, context: &egui::Context) {
        match verb {
            Verb::OpenSurvey => self.is_path_shown = true,
            Verb::ShowKeys => self.is_keys_shown = !self.is_keys_shown,
            Verb::EditNote => self.note.wants_focus = true,
            Verb::Fit => {
                self.scan.fit();
                self.along.fit();
            }
            Verb::SwitchTheme => {
                let is_dark = context.theme() == egui::Theme::Dark;
                self.settings.is_dark = Some(!is_dark);
            }
            Verb::ShowBoxes => {
                self.boxes.is_shown = !self.boxes.is_shown;
                self.scan.fit();
            }
            Verb::ShowGuide => self.guide.begin(),
            Verb::ShowList => self.is_list_shown = Some(!self.shows_list()),
            Verb::ShowCard => self.is_card_shown = Some(!self.shows_card()),
            Verb::ShowLists => self.lists.is_shown = !self.lists.is_shown,
            Verb::ShowTone => self.is_tone_shown = !self.is_tone_shown,
            Verb::Calibrate => self.calibrating.is_shown = !self.calibrating.is_shown,
            Verb::FindScan => self.filter.wants_focus = true,
            Verb::ShowLoupe => self.is_loupe_shown = !self.is_loupe_shown,
            Verb::TurnAxisUp => {
                self.is_axis_up = !self.is_axis_up;
                self.turn = None;
            }
            Verb::ShowCommands => self.commands.toggle(),
            Verb::ShowSettings => self.is_settings_shown = !self.is_settings_shown,
            Verb::LargerInterface | Verb::SmallerInterface => {
                let factor = if verb == Verb::LargerInterface { 1.1 } else { 1.0 / 1.1 };
                let scale = self.settings.interface_scale * factor;
                self.settings.set_interface_scale((scale * 100.0).round() / 100.0);
            }
            _ => {}
        }
    }

    /// The request for lengths with the intercept that is typed now.
    pub fn given_intercept(&self) -> LengthsRequest {
        LengthsRequest::FraserLeeGiven(self.intercept_mm)
    }
}

const KEYS: &str = "keys of this window";

/// Makes the keys known to everything that is drawn.
pub fn publish_keys(context: &egui::Context, keys: &KeyMap) {
    let id = Id::unique(KEYS);
    context.data_mut(|data| {
        let known: Option<Arc<KeyMap>> = data.get_temp(id);
        if known.as_deref() != Some(keys) {
            data.insert_temp(id, Arc::new(keys.clone()));
        }
    });
}

/// One plain sentence on a verb, with the key that asks for it in this window.
pub fn tooltip(context: &egui::Context, verb: Verb) -> String {
    keys(context).tooltip(verb)
}

/// The keys as they hold in this window.
pub fn keys(context: &egui::Context) -> Arc<KeyMap> {
    context.data_mut(|data| data.get_temp_mut_or_default::<Arc<KeyMap>>(Id::unique(KEYS)).clone())
}

/// A button for a verb: its words and tooltip from the one table.
pub fn verb_button(
    ui: &mut egui::Ui,
    verb: Verb,
    is_enabled: bool,
    actions: &mut Vec<Action>,
) -> egui::Response {
    let button = ui.add_enabled(is_enabled, egui::Button::new(verb.label()));
    let words = tooltip(ui.ctx(), verb);
    let button = button.on_hover_text(&words).on_disabled_hover_text(words);
    if button.clicked() {
        actions.push(verb.into());
    }
    button
}

/// A button for a verb that is one of several choices.
pub fn choice_button(
    ui: &mut egui::Ui,
    verb: Verb,
    is_chosen: bool,
    is_enabled: bool,
    actions: &mut Vec<Action>,
) -> egui::Response {
    let button = ui.add_enabled(is_enabled, egui::Button::selectable(is_chosen, verb.label()));
    let words = tooltip(ui.ctx(), verb);
    let button = button.on_hover_text(&words).on_disabled_hover_text(words);
    if button.clicked() {
        actions.push(verb.into());
    }
    button
}
