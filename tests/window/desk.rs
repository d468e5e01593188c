//! The window under test, and how to work at it: by the names of its controls, by pointer and by key.

use std::time::{Duration, Instant};

use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use tempfile::TempDir;
use winterline::domain::reading::{ImpressionReading, ReaderInitials};
use winterline::gui::app::App;
use winterline::workbench::workbench::{Services, Workbench};

use crate::pond;

/// A window on a survey that lives as long as the window.
pub struct Desk {
    pub window: Harness<'static, Held>,
    pub folder: TempDir,
}

impl Desk {
    /// The window with the first scan of the invented survey open and its proposals on show.
    pub fn open() -> Self {
        let mut desk = Self::over(pond::survey(), pond::services());
        desk.until("the proposals", |workbench| !open_proposals(workbench).is_empty());
        desk.until("the strip", |workbench| {
            workbench.scan().is_some_and(|s| s.evidence().is_some())
        });
        desk
    }

    /// The window with the first scan open and nothing proposed.
    pub fn open_by_hand() -> Self {
        let mut desk = Self::over(pond::survey(), pond::services_by_hand());
        desk.until("the scan", |workbench| workbench.scan().is_some_and(|s| !s.is_proposing()));
        desk
    }

    /// A window on `folder` as reader kb.
    pub fn over(folder: TempDir, services: Services) -> Self {
        let path = folder.path().to_owned();
        let reader = ReaderInitials::new("kb").unwrap();
        Self { window: window(services, Some(path), Some(reader)), folder }
    }

    /// Draws until `done`, for as long as jobs may take.
    pub fn until(&mut self, what: &str, done: impl Fn(&Workbench) -> bool) {
        until(&mut self.window, what, done);
    }

    /// Draws a few frames: enough for clicks and focus to arrive.
    pub fn settle(&mut self) {
        for _ in 0..4 {
            self.window.step();
        }
    }

    pub fn workbench(&self) -> &Workbench {
        self.window.state().workbench()
    }

    pub fn reading(&self) -> ImpressionReading {
        self.workbench().scan().unwrap().reading().unwrap().clone()
    }

    pub fn click(&mut self, label: &str) {
        self.window.get_by_label(label).click();
        self.settle();
    }

    /// Clicks the first control whose name contains `words`.
    pub fn window_click_containing(&mut self, words: &str) {
        self.window.query_all_by_label_contains(words).next().expect(words).click();
        self.settle();
    }

    /// Writes `words` into the field called `label`.
    pub fn type_into(&mut self, label: &str, words: &str) {
        self.window.get_by_role_and_label(egui::accesskit::Role::TextInput, label).focus();
        self.settle();
        self.window.event(egui::Event::Text(words.to_owned()));
        self.settle();
    }

    pub fn key(&mut self, key: egui::Key) {
        self.window.key_press(key);
        self.settle();
    }

    pub fn key_with(&mut self, modifiers: egui::Modifiers, key: egui::Key) {
        self.window.key_press_modifiers(modifiers, key);
        self.settle();
    }

    pub fn has(&self, label: &str) -> bool {
        self.window.query_all_by_label(label).next().is_some()
    }

    pub fn has_containing(&self, words: &str) -> bool {
        self.window.query_all_by_label_contains(words).next().is_some()
    }

    pub fn is_disabled(&self, label: &str) -> bool {
        use egui_kittest::kittest::NodeT;
        self.window.get_by_label(label).accesskit_node().is_disabled()
    }

    /// Drags what is called `label` by `delta` screen points.
    pub fn drag(&mut self, label: &str, delta: egui::Vec2) {
        let from = self.window.get_by_label(label).rect().center();
        self.window.hover_at(from);
        self.settle();
        self.window.drag_at(from);
        self.settle();
        for step in 1..=6 {
            self.window.hover_at(from + delta * (step as f32 / 6.0));
            self.settle();
        }
        self.window.drop_at(from + delta);
        self.settle();
    }

    /// The names of all marks along the axis, from the strip's left to its right.
    pub fn annuli(&self) -> Vec<f64> {
        self.reading().annuli().map(|mark| mark.position.0).collect()
    }
}

/// A window on `services`.
pub fn window(
    services: Services,
    survey: Option<std::path::PathBuf>,
    reader: Option<ReaderInitials>,
) -> Harness<'static, Held> {
    started(move |context: &egui::Context| App::new(context, services, survey, reader))
}

/// A window of reader kb whose settings are kept in `file`.
pub fn window_with_settings(
    services: Services,
    survey: Option<std::path::PathBuf>,
    file: &std::path::Path,
) -> Harness<'static, Held> {
    let reader = ReaderInitials::new("kb").unwrap();
    let file = file.to_owned();
    started(move |context: &egui::Context| {
        App::new(context, services, survey, Some(reader)).with_settings(Some(file))
    })
}

/// A window of reader kb with so many screen points, drawn `scale` pixels to the point.
pub fn window_of_size(
    size: egui::Vec2,
    scale: f32,
    services: Services,
    survey: std::path::PathBuf,
) -> Harness<'static, Held> {
    let reader = ReaderInitials::new("kb").unwrap();
    let start =
        move |context: &egui::Context| App::new(context, services, Some(survey), Some(reader));
    let state = Held { app: None, start: Some(Box::new(start)) };
    Harness::builder()
        .with_size(size)
        .with_pixels_per_point(scale)
        .with_step_dt(1.0 / 60.0)
        .build_ui_state(|ui, held: &mut Held| held.app(ui.ctx()).window_ui(ui), state)
}

/// A window whose app `start` makes in the first frame.
pub fn started(start: impl FnOnce(&egui::Context) -> App + 'static) -> Harness<'static, Held> {
    let state = Held { app: None, start: Some(Box::new(start)) };
    Harness::builder()
        .with_size(egui::vec2(1280.0, 800.0))
        .with_step_dt(1.0 / 60.0)
        .build_ui_state(|ui, held: &mut Held| held.app(ui.ctx()).window_ui(ui), state)
}

/// The app, made in the first frame: it sets fonts, for which it needs the window's context.
pub struct Held {
    app: Option<App>,
    start: Option<Start>,
}

type Start = Box<dyn FnOnce(&egui::Context) -> App>;

impl Held {
    fn app(&mut self, context: &egui::Context) -> &mut App {
        if let Some(start) = self.start.take() {
            self.app = Some(start(context));
        }
        self.app.as_mut().unwrap()
    }

    pub fn workbench(&self) -> &Workbench {
        self.app.as_ref().unwrap().workbench()
    }
}

/// Draws until `done`.
pub fn until(window: &mut Harness<'static, Held>, what: &str, done: impl Fn(&Workbench) -> bool) {
    let start = Instant::now();
    loop {
        window.step();
        if done(window.state().workbench()) {
            break;
        }
        assert!(start.elapsed() < Duration::from_secs(90), "waited too long for {what}");
        std::thread::sleep(Duration::from_millis(4));
    }
    for _ in 0..4 {
        window.step();
    }
}

/// Positions of the open proposals, pixels.
pub fn open_proposals(workbench: &Workbench) -> Vec<f64> {
    workbench.scan().map_or_else(Vec::new, |scan| {
        let open = scan.document().open_proposals(scan.impression());
        open.iter().map(|open| open.position.0).collect()
    })
}
