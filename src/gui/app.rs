//! The window: takes in keys and what has finished, draws the desk on show, hands the actions to the workbench.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Instant;

use egui::{
    CentralPanel, Context, Frame, Margin, Panel, ThemePreference, Ui, ViewportCommand, vec2,
};
use kurbo::Vec2;

use crate::domain::blind::ListName;
use crate::domain::reading::ReaderInitials;
use crate::workbench::action::{Action, Desk, Verb};
use crate::workbench::axis_moved_to;
use crate::workbench::job::Wake;
use crate::workbench::session_lists::ListsAction;
use crate::workbench::session_selection::Handle;
use crate::workbench::settings::Settings;
use crate::workbench::workbench::{Services, Workbench};

use super::canvas::arriving::arriving_ui;
use super::canvas::layout::parts;
use super::dialogs::{FolderDialog, path_window_ui, unsaved_window_ui};
use super::dropping::{starting_ui, take_dropped};
use super::frame_log::FrameLog;
use super::keys::verbs_pressed;
use super::lettering::lettering;
use super::panels;
use super::panels::boxes::box_action;
use super::settings_keeper::SettingsKeeper;
use super::state_log::StateLog;
use super::theme;
use super::view::{View, publish_keys};

/// The window's state.
pub struct App {
    workbench: Workbench,
    view: View,
    dialog: FolderDialog,
    keeper: SettingsKeeper,
    /// The survey that was put among the recent ones last.
    remembered: Option<PathBuf>,
    /// The survey the window was started on.
    started_with: Option<PathBuf>,
    wake: Wake,
    is_asking_to_close: bool,
    frame_log: Option<FrameLog>,
    state_log: Option<StateLog>,
}

impl App {
    /// A window on `services`, with a survey to open and a reader where they are known.
    pub fn new(
        context: &Context,
        services: Services,
        survey: Option<PathBuf>,
        reader: Option<ReaderInitials>,
    ) -> Self {
        theme::install(context);
        // The window has its own keys for it, and remembers the size.
        context.options_mut(|options| options.zoom_with_keyboard = false);
        let waking = context.clone();
        let wake: Wake = Arc::new(move || waking.request_repaint());
        let mut workbench = Workbench::new(services, Arc::clone(&wake));
        if let Some(reader) = reader {
            workbench.perform(Action::SetReader(reader.to_string()));
        }
        let started_with = survey.clone();
        if let Some(survey) = survey {
            workbench.perform(Action::Open(survey));
        }
        Self { started_with, ..Self::around(workbench, wake) }
    }

    /// A window on a blind list of the survey in `folder`, for `reader`.
    pub fn on_list(
        context: &Context,
        services: Services,
        (folder, list): (PathBuf, &ListName),
        reader: &ReaderInitials,
    ) -> Self {
        let mut app = Self::new(context, services, None, Some(reader.clone()));
        let open = ListsAction::OpenIn(folder, list.to_string());
        app.workbench.perform(Action::Lists(open));
        app
    }

    fn around(workbench: Workbench, wake: Wake) -> Self {
        Self {
            workbench,
            view: View::default(),
            dialog: FolderDialog::default(),
            keeper: SettingsKeeper::default(),
            remembered: None,
            started_with: None,
            wake,
            is_asking_to_close: false,
            frame_log: FrameLog::from_environment(),
            state_log: StateLog::from_environment(),
        }
    }

    /// The same window with the settings kept at `path`.
    pub fn with_settings(mut self, path: Option<PathBuf>) -> Self {
        let (keeper, settings, problems) = SettingsKeeper::open(path);
        self.keeper = keeper;
        self.workbench.remember_sheets(settings.sheets.clone());
        self.view.settings = settings;
        if let Some(folder) = &self.started_with {
            let scan = self.view.settings.place_of(folder).map(str::to_owned);
            self.workbench.come_back_to(scan);
        }
        for problem in problems {
            self.workbench.report(problem);
        }
        self
    }

    /// What the window shows.
    pub fn workbench(&self) -> &Workbench {
        &self.workbench
    }

    /// Takes in what has finished. Draws nothing.
    pub fn update(&mut self, context: &Context) {
        self.workbench.poll();
        if let Some(folder) = self.dialog.poll() {
            self.view.is_path_shown = false;
            self.perform(Action::Open(folder), context);
        }
        self.keep_settings(context);
        if let Some(soon) = self.workbench.next_poll() {
            context.request_repaint_after(soon);
        }
        self.close_when_saved(context);
    }

    fn keep_settings(&mut self, context: &Context) {
        if self.workbench.folder() != self.remembered.as_deref() {
            self.remembered = self.workbench.folder().map(Path::to_owned);
            if let Some(folder) = &self.remembered {
                self.view.settings.opened(folder);
            }
        }
        let scan = self.workbench.scan().map(|scan| scan.document().reading.scan.file.clone());
        if let (Some(folder), Some(scan)) = (self.workbench.folder(), scan) {
            self.view.settings.set_place(folder, &scan);
        }
        if self.view.settings.sheets != *self.workbench.import().memory() {
            self.view.settings.sheets = self.workbench.import().memory().clone();
        }
        let settings = &self.view.settings;
        apply_settings(context, settings);
        let (problem, soon) = self.keeper.keep(settings, &self.wake);
        if let Some(problem) = problem {
            self.workbench.report(problem);
        }
        if let Some(soon) = soon {
            context.request_repaint_after(soon);
        }
    }

    /// Draws one frame and does what was asked in it.
    pub fn window_ui(&mut self, ui: &mut Ui) {
        self.update(&ui.ctx().clone());
        let context = ui.ctx().clone();
        self.view.follow(&self.workbench);
        if std::mem::take(&mut self.view.forgets_typing) {
            // A text field's own undo would bring back what was typed before.
            context.data_mut(|data| data.remove_by_type::<egui::text_edit::TextEditState>());
        }
        let mut actions = self.asked_by_key(&context);
        take_dropped(&context, &self.workbench, &mut self.view, &mut actions);
        self.view.canvas_ids.clear();
        self.panels_ui(ui, &mut actions);
        path_window_ui(&context, &mut self.view, &mut actions);
        starting_ui(&context, &self.workbench, &mut self.view, &mut actions);
        let path = self.keeper.path();
        panels::keys_help::keys_ui(&context, &mut self.view.is_keys_shown, path);
        panels::commands::commands_ui(&context, &mut self.view.commands, &mut actions);
        panels::settings_window::settings_ui(&context, &mut self.view, path);
        panels::lists::lists_ui(&context, &self.workbench, &mut self.view, &mut actions);
        if self.workbench.desk() == Desk::Read {
            let (workbench, view) = (&self.workbench, &mut self.view);
            panels::tone::tone_ui(&context, workbench, view);
            panels::calibrate::calibrate_ui(&context, workbench, view, &mut actions);
            panels::boxes::boxes_ui(&context, workbench, view, &mut actions);
            panels::guide::guide_ui(&context, workbench, view, &mut actions);
        }
        if self.is_asking_to_close {
            self.ask_to_close(&context);
        }
        for action in actions {
            self.perform(action, &context);
        }
    }

    fn asked_by_key(&self, context: &Context) -> Vec<Action> {
        let focused = context.memory(|memory| memory.focused());
        let arrows_are_free = focused.is_none_or(|id| self.view.canvas_ids.contains(&id));
        let keys = &self.view.settings.keys;
        verbs_pressed(context, keys, arrows_are_free).into_iter().map(Action::Do).collect()
    }

    fn perform(&mut self, action: Action, context: &Context) {
        // What is shut while a blind list is open is refused by the workbench, in words.
        let is_free = self.workbench.is_free(&action);
        if let (true, Action::Do(verb)) = (is_free, &action) {
            let verb = *verb;
            if self.view.boxes.is_shown
                && let Some(action) = box_action(verb, &self.workbench, &self.view)
            {
                self.workbench.perform(action);
                return;
            }
            match verb {
                Verb::OpenSurvey => {
                    self.dialog.open(&self.wake, "Choose the folder of a survey");
                }
                Verb::ZoomIn | Verb::ZoomOut => self.zoom(verb == Verb::ZoomIn),
                Verb::CancelJob if self.view.close_top() => return,
                Verb::PanLeft | Verb::PanRight | Verb::PanUp | Verb::PanDown => self.pan(verb),
                Verb::ExportCard => self.workbench.export_card(self.view.tone, lettering()),
                _ if self.nudge_turned(verb) => return,
                _ => {}
            }
            self.view.do_verb(verb, context);
        }
        if let Action::Open(folder) = &action {
            let scan = self.view.settings.place_of(folder).map(str::to_owned);
            self.workbench.come_back_to(scan);
        }
        self.workbench.perform(action);
        context.request_repaint();
    }

    /// The part of the scan the view keeps to, image pixels.
    fn area(&self) -> Option<kurbo::Rect> {
        self.workbench.scan().map(|scan| self.view.area_of(scan))
    }

    fn zoom(&mut self, closer: bool) {
        let factor = if closer { 1.25 } else { 0.8 };
        let Some(area) = self.area() else { return };
        let rect = self.view.scan_rect;
        self.view.scan.zoom_about(rect.center(), factor, rect, area);
    }

    fn pan(&mut self, verb: Verb) {
        let Some(area) = self.area() else { return };
        let delta = match verb {
            Verb::PanLeft => vec2(PAN_STEP, 0.0),
            Verb::PanRight => vec2(-PAN_STEP, 0.0),
            Verb::PanUp => vec2(0.0, PAN_STEP),
            _ => vec2(0.0, -PAN_STEP),
        };
        self.view.scan.pan(delta, area);
    }

    /// In a turned view the arrow keys move the focus and the axis end as the screen shows it. True where that was done.
    fn nudge_turned(&mut self, verb: Verb) -> bool {
        let Some(turn) = self.view.turn else { return false };
        let by = match verb {
            Verb::NudgeOut => Vec2::new(1.0, 0.0),
            Verb::NudgeIn => Vec2::new(-1.0, 0.0),
            Verb::LeapOut => Vec2::new(10.0, 0.0),
            Verb::LeapIn => Vec2::new(-10.0, 0.0),
            Verb::NudgeUp => Vec2::new(0.0, -1.0),
            Verb::NudgeDown => Vec2::new(0.0, 1.0),
            _ => return false,
        };
        let Some(scan) = self.workbench.scan() else { return false };
        let axis = scan.reading().and_then(|reading| reading.axis.as_ref());
        let (Some(axis), Some(handle)) = (axis, scan.selected()) else { return false };
        let from = match handle {
            Handle::Focus => axis.focus(),
            Handle::AxisEnd => axis.end(),
            Handle::Bend(index) => axis.point_at(axis.length_to(index)),
            _ => return false,
        };
        let Some(command) = axis_moved_to(scan, handle, from + turned_by(by, -turn)) else {
            return false;
        };
        self.workbench.perform(Action::Edit(command));
        true
    }

    fn panels_ui(&mut self, ui: &mut Ui, actions: &mut Vec<Action>) {
        let (workbench, view) = (&self.workbench, &mut self.view);
        view.is_narrow = ui.available_width() < NARROW;
        let bar = Frame::side_top_panel(ui.style()).inner_margin(Margin::symmetric(10, 4));
        Panel::top("bar")
            .exact_size(40.0)
            .frame(bar)
            .show(ui, |ui| panels::bar::bar_ui(ui, workbench, view, actions));
        let foot = Frame::side_top_panel(ui.style()).inner_margin(Margin::symmetric(10, 5));
        Panel::bottom("status")
            .frame(foot)
            .show(ui, |ui| panels::status::status_ui(ui, workbench, actions));
        if workbench.import().is_shown() {
            CentralPanel::default()
                .show(ui, |ui| panels::import::import_ui(ui, workbench, view, actions));
            return;
        }
        if workbench.survey().is_none() {
            CentralPanel::default()
                .show(ui, |ui| panels::empty::empty_ui(ui, workbench, view, actions));
            return;
        }
        match workbench.desk() {
            Desk::Read => read_desk_ui(ui, workbench, view, actions),
            Desk::Agree => {
                CentralPanel::default()
                    .show(ui, |ui| panels::agree::agree_ui(ui, workbench, view, actions));
            }
            Desk::Growth => {
                CentralPanel::default()
                    .show(ui, |ui| panels::growth::growth_ui(ui, workbench, view, actions));
            }
            Desk::Report => {
                CentralPanel::default()
                    .show(ui, |ui| panels::report::report_ui(ui, workbench, view, actions));
            }
            Desk::Lengths => {
                CentralPanel::default()
                    .show(ui, |ui| panels::lengths::lengths_ui(ui, workbench, view, actions));
            }
        }
    }

    /// The window stays until the last edit is on disk; if it cannot be written, the person decides.
    fn close_when_saved(&mut self, context: &Context) {
        let is_asked = context.input(|input| input.viewport().close_requested());
        if !is_asked || self.view.is_closing {
            return;
        }
        self.keeper.finish(&self.view.settings);
        if self.workbench.finish_saving() {
            self.view.is_closing = true;
        } else {
            context.send_viewport_cmd(ViewportCommand::CancelClose);
            self.is_asking_to_close = true;
        }
    }

    fn ask_to_close(&mut self, context: &Context) {
        match unsaved_window_ui(context) {
            Some(true) => {
                self.view.is_closing = true;
                context.send_viewport_cmd(ViewportCommand::Close);
            }
            Some(false) => self.is_asking_to_close = false,
            None => {}
        }
    }
}

fn read_desk_ui(ui: &mut Ui, workbench: &Workbench, view: &mut View, actions: &mut Vec<Action>) {
    let is_narrow = view.is_narrow;
    if view.shows_list() {
        Panel::left(if is_narrow { "narrow reading list" } else { "reading list" })
            .default_size(if is_narrow { 160.0 } else { 208.0 })
            .size_range(150.0..=420.0)
            .show(ui, |ui| panels::list::list_ui(ui, workbench, view, actions));
    }
    if view.shows_card() {
        Panel::right(if is_narrow { "narrow fish card" } else { "fish card" })
            .default_size(if is_narrow { 270.0 } else { 292.0 })
            .size_range(270.0..=460.0)
            .show(ui, |ui| panels::card::card_ui(ui, workbench, view, actions));
    }
    CentralPanel::no_frame().show(ui, |ui| {
        let whole = ui.available_rect_before_wrap();
        let Some(scan) = workbench.scan() else {
            ui.painter().rect_filled(whole, 0.0, theme::TABLE);
            view.scan_rect = parts(whole, false).scan;
            arriving_ui(ui, view.scan_rect, workbench.arriving(), &mut view.arriving);
            return;
        };
        ui.painter().rect_filled(whole, 0.0, ui.visuals().panel_fill);
        let has_spacing = scan.found().is_some_and(|found| !found.evidence.spacing_um.is_empty());
        let parts = parts(whole, has_spacing);
        view.scan_rect = parts.scan;
        panels::scan::scan_ui(ui, parts.scan, scan, view, actions);
        panels::curves::curves_ui(ui, &parts, scan, view, actions);
    });
}

/// `by` turned clockwise (in a picture whose y goes down) by `angle`, radians.
fn turned_by(by: Vec2, angle: f64) -> Vec2 {
    let (sin, cos) = angle.sin_cos();
    Vec2::new(by.x * cos - by.y * sin, by.x * sin + by.y * cos)
}

/// A window narrower than this, in screen points, has no room for list, scan and card side by side.
const NARROW: f32 = 860.0;

/// How far a key moves the picture, screen points.
const PAN_STEP: f32 = 90.0;

/// Makes the person's wishes hold.
fn apply_settings(context: &Context, settings: &Settings) {
    publish_keys(context, &settings.keys);
    if (context.zoom_factor() - settings.interface_scale).abs() > 1e-3 {
        context.set_zoom_factor(settings.interface_scale);
    }
    let theme = match settings.is_dark {
        Some(true) => ThemePreference::Dark,
        Some(false) => ThemePreference::Light,
        None => ThemePreference::System,
    };
    if context.options(|options| options.theme_preference) != theme {
        context.set_theme(theme);
    }
}

impl eframe::App for App {
    fn logic(&mut self, context: &Context, _frame: &mut eframe::Frame) {
        let began = Instant::now();
        self.update(context);
        if let Some(log) = &mut self.frame_log {
            log.add_own(began.elapsed());
        }
    }

    fn ui(&mut self, ui: &mut Ui, frame: &mut eframe::Frame) {
        let began = Instant::now();
        self.window_ui(ui);
        if let Some(log) = &mut self.state_log {
            log.note(&self.workbench, &self.view, ui.visuals().dark_mode);
        }
        if let Some(log) = &mut self.frame_log {
            log.add_own(began.elapsed());
            let phase = log.phase(&self.workbench, &self.view);
            log.end_frame(phase, began, frame.info().cpu_usage);
            log.drive(&mut self.workbench, &mut self.view, ui.ctx());
        }
    }
}
