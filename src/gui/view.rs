//! What the window remembers for itself: places of views, open panels, half-typed words.

use std::sync::Arc;

use egui::{Id, TextureHandle};

use crate::domain::axis::Axis;
use crate::domain::units::Pixels;
use crate::imaging::raster::Raster;
use crate::workbench::action::{Action, Verb};
use crate::workbench::session_lengths::LengthsRequest;
use crate::workbench::session_selection::Handle;
use crate::workbench::workbench::Workbench;

use super::canvas::model::{AlongView, Drag, ScanView};
use super::canvas::picture::ScanPicture;

/// State of the window that is neither undone nor saved with a reading.
pub struct View {
    /// The view of the scan.
    pub scan: ScanView,
    /// Where the scan was drawn last.
    pub scan_rect: egui::Rect,
    /// The stretch of the axis on show.
    pub along: AlongView,
    /// A drag in progress.
    pub drag: Option<Drag>,
    /// Textures of the scan on show.
    pub picture: Option<ScanPicture>,
    /// The strip's texture, with the axis and reach it belongs to.
    pub strip: Option<(Axis, Pixels, TextureHandle)>,
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
    /// What stands in the field for the pixel size, micrometres.
    pub pixel_size: String,
    /// Ids of the marks and handles drawn last: the arrow keys belong to them.
    pub canvas_ids: Vec<Id>,
    /// The keyboard is to go to what is selected.
    pub wants_focus: bool,
    /// The window waits for the last save before it closes.
    pub is_closing: bool,
    last_selected: Option<Handle>,
    last_shown: Option<(usize, u32)>,
    last_place: Option<usize>,
    /// The list is to scroll to the open scan.
    pub wants_scroll: bool,
}

impl Default for View {
    fn default() -> Self {
        Self {
            scan: ScanView::default(),
            scan_rect: egui::Rect::ZERO,
            along: AlongView::default(),
            drag: None,
            picture: None,
            strip: None,
            is_keys_shown: false,
            is_path_shown: false,
            path: String::new(),
            is_changing_reader: false,
            initials: String::new(),
            note: Note::default(),
            intercept_mm: 0.0,
            pixel_size: String::new(),
            canvas_ids: Vec::new(),
            wants_focus: false,
            is_closing: false,
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
        let scan = workbench.scan();
        let shown = scan.map(|scan| (scan.place(), scan.impression()));
        if shown != self.last_shown {
            self.last_shown = shown;
            self.scan.fit();
            self.along.fit();
            self.drag = None;
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

    /// The textures for `raster`.
    pub fn picture_of(&mut self, raster: &Arc<Raster>) -> &mut ScanPicture {
        let kept = self.picture.take().filter(|picture| picture.is_of(raster));
        self.picture.insert(kept.unwrap_or_else(|| ScanPicture::new(Arc::clone(raster))))
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
                context.set_theme(if is_dark { egui::Theme::Light } else { egui::Theme::Dark });
            }
            _ => {}
        }
    }

    /// The request for lengths with the intercept that is typed now.
    pub fn given_intercept(&self) -> LengthsRequest {
        LengthsRequest::FraserLeeGiven(self.intercept_mm)
    }
}

/// A button for a verb: its words and tooltip from the one table.
pub fn verb_button(
    ui: &mut egui::Ui,
    verb: Verb,
    is_enabled: bool,
    actions: &mut Vec<Action>,
) -> egui::Response {
    let button = ui.add_enabled(is_enabled, egui::Button::new(verb.label()));
    let button = button.on_hover_text(verb.tooltip()).on_disabled_hover_text(verb.tooltip());
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
    let button = button.on_hover_text(verb.tooltip()).on_disabled_hover_text(verb.tooltip());
    if button.clicked() {
        actions.push(verb.into());
    }
    button
}
