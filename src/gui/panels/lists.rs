//! The window on blind lists: which there are and how far their readers are, without any fish; drawing, opening,
//! closing, sending to another office, taking in.

use std::path::PathBuf;

use egui::{Context, DragValue, Grid, RichText, TextEdit, Ui, Window, vec2};

use crate::domain::blind::{BlindPolicy, BlindRule};
use crate::domain::units::Millimetres;
use crate::gui::theme::{heading, problem, quiet};
use crate::gui::view::View;
use crate::workbench::action::Action;
use crate::workbench::session_lists::{DrawRequest, ListSummary, ListsAction};
use crate::workbench::workbench::Workbench;

/// How fish are chosen for a list that is being drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Choice {
    #[default]
    All,
    Share,
    PerAge,
    PerLength,
    Doubtful,
    /// The fish that were listed on the Agree desk.
    Listed,
}

const CHOICES: [(Choice, &str); 5] = [
    (Choice::All, "All fish"),
    (Choice::Share, "A random share"),
    (Choice::PerAge, "So many of each age"),
    (Choice::PerLength, "So many of each length group"),
    (Choice::Doubtful, "Only doubtful"),
];

/// What stands in the window on lists.
#[derive(Debug)]
pub struct ListsWindow {
    /// The window is open.
    pub is_shown: bool,
    name: String,
    choice: Choice,
    percent: f64,
    n_each: usize,
    width_mm: f64,
    n_references: usize,
    seed: u64,
    policy: BlindPolicy,
    /// Keys of the fish that were listed on the Agree desk.
    listed: Vec<String>,
    pack: String,
    returned: String,
}

impl Default for ListsWindow {
    fn default() -> Self {
        Self {
            is_shown: false,
            name: String::new(),
            choice: Choice::All,
            percent: 20.0,
            n_each: 5,
            width_mm: 25.0,
            n_references: 0,
            seed: 1,
            policy: BlindPolicy::default(),
            listed: Vec::new(),
            pack: String::new(),
            returned: String::new(),
        }
    }
}

impl ListsWindow {
    /// Prepares a list of the fish with these keys, as for a third reading.
    pub fn choose(&mut self, keys: Vec<String>) {
        self.listed = keys;
        self.choice = Choice::Listed;
    }

    fn request(&self) -> DrawRequest {
        let rule = match self.choice {
            Choice::All => BlindRule::All,
            Choice::Share => BlindRule::Share(self.percent / 100.0),
            Choice::PerAge => BlindRule::PerAge(self.n_each),
            Choice::PerLength => {
                BlindRule::PerLength { n: self.n_each, width: Millimetres(self.width_mm) }
            }
            Choice::Doubtful => BlindRule::Doubtful,
            Choice::Listed => BlindRule::Fish(self.listed.clone()),
        };
        DrawRequest {
            name: self.name.trim().to_owned(),
            rule,
            seed: self.seed,
            n_references: self.n_references,
            policy: self.policy,
        }
    }
}

/// Draws the window while it is open and an ordinary survey is.
pub fn lists_ui(
    context: &Context,
    workbench: &Workbench,
    view: &mut View,
    actions: &mut Vec<Action>,
) {
    if workbench.survey().is_none() || workbench.blind().is_some() {
        view.lists.is_shown = false;
    }
    if !view.lists.is_shown {
        return;
    }
    let height = (context.content_rect().height() - 190.0).max(200.0);
    let mut is_open = true;
    Window::new("Blind lists")
        .open(&mut is_open)
        .collapsible(false)
        .resizable(false)
        .default_height(height + 90.0)
        .anchor(egui::Align2::CENTER_CENTER, vec2(0.0, 0.0))
        .show(context, |ui| {
            ui.set_width(540.0);
            let words = "A blind list has fish read again without telling the reader which they are. Opening one lets go of the survey until you leave the list.";
            ui.label(RichText::new(words).color(quiet(ui.visuals().dark_mode)));
            egui::ScrollArea::vertical().max_height(height).show(ui, |ui| {
                there_ui(ui, workbench, &mut view.lists, actions);
                ui.separator();
                draw_ui(ui, workbench, &mut view.lists, actions);
                ui.separator();
                offices_ui(ui, workbench, &mut view.lists, actions);
            });
        });
    view.lists.is_shown &= is_open;
}

fn there_ui(ui: &mut Ui, workbench: &Workbench, form: &mut ListsWindow, actions: &mut Vec<Action>) {
    ui.label(heading("Lists of this survey"));
    let Some(found) = workbench.lists().found() else {
        ui.label("Looking at the lists");
        return;
    };
    if found.lists.is_empty() {
        ui.label("There is none yet");
    }
    let can_read = workbench.reader().is_some();
    // The form below stays in sight however many lists there are.
    let area = egui::ScrollArea::vertical().id_salt("lists").max_height(132.0);
    area.auto_shrink([false, true]).show(ui, |ui| {
        for list in &found.lists {
            list_ui(ui, workbench, form, list, can_read, actions);
        }
    });
    for fault in &found.problems {
        ui.label(RichText::new(fault).color(problem(ui.visuals().dark_mode)));
    }
}

/// One list with what can be done with it.
fn list_ui(
    ui: &mut Ui,
    workbench: &Workbench,
    form: &ListsWindow,
    list: &ListSummary,
    can_read: bool,
    actions: &mut Vec<Action>,
) {
    ui.horizontal_wrapped(|ui| {
        let named = |what: &str| format!("{what} {}", list.name);
        let open = ui.add_enabled(list.is_open && can_read, egui::Button::new(named("Open")));
        let why = if can_read { "Read this list" } else { "Type your initials first" };
        if open.on_hover_text(why).on_disabled_hover_text(why).clicked() {
            actions.push(Action::Lists(ListsAction::Open(list.name.clone())));
        }
        let close = ui.add_enabled(list.is_open, egui::Button::new(named("Close")));
        let why = "From then on it takes no readings, and analyses use those it has";
        if close.on_hover_text(why).clicked() {
            actions.push(Action::Lists(ListsAction::Close(list.name.clone())));
        }
        let pack = ui.add_enabled(list.is_open, egui::Button::new(named("Pack")));
        let why = "Write it as one file for another office; the file is named below";
        if pack.on_hover_text(why).clicked() {
            let file = pack_file(workbench, form, &list.name);
            actions.push(Action::Lists(ListsAction::Pack(list.name.clone(), file)));
        }
        ui.label(in_words(list));
    });
}

/// Where a pack goes: the file typed, or `NAME.zip` beside the survey's lists.
fn pack_file(workbench: &Workbench, form: &ListsWindow, name: &str) -> PathBuf {
    let typed = form.pack.trim();
    if typed.is_empty() {
        let folder = workbench.folder().map(|folder| folder.join("results")).unwrap_or_default();
        folder.join(format!("{name}.zip"))
    } else {
        PathBuf::from(typed)
    }
}

/// A list in words: state, size, how far its readers are.
fn in_words(list: &ListSummary) -> String {
    let state = if list.is_open { "open" } else { "closed" };
    let progress: Vec<String> =
        list.readers.iter().map(|(reader, n)| format!("{reader} {n} of {}", list.n)).collect();
    let progress = if progress.is_empty() { "not begun".to_owned() } else { progress.join(", ") };
    let by = list.drawn_by.as_ref().map_or_else(String::new, |by| format!(" by {by}"));
    let proposals = if list.shows_proposals { ", proposals shown" } else { "" };
    format!("{state}, {} impressions, drawn {}{by}{proposals}: {progress}", list.n, list.drawn)
}

fn draw_ui(ui: &mut Ui, workbench: &Workbench, form: &mut ListsWindow, actions: &mut Vec<Action>) {
    ui.label(heading("Draw a list"));
    Grid::new("draw a list").num_columns(2).spacing([12.0, 5.0]).show(ui, |ui| {
        let label = ui.label("Name");
        let field = TextEdit::singleline(&mut form.name).desired_width(160.0);
        ui.add(field.hint_text("e.g. june")).labelled_by(label.id);
        ui.end_row();
        ui.label("Fish");
        ui.vertical(|ui| {
            for (choice, words) in CHOICES {
                ui.horizontal(|ui| choice_ui(ui, form, choice, words));
            }
            if !form.listed.is_empty() {
                let words = format!("The {} fish listed on the Agree desk", form.listed.len());
                ui.radio_value(&mut form.choice, Choice::Listed, words);
            }
        });
        ui.end_row();
        let label = ui.label("Known ages");
        ui.horizontal(|ui| {
            let field = DragValue::new(&mut form.n_references).range(0..=500).suffix(" fish");
            ui.add(field).labelled_by(label.id);
            ui.label("slipped in among the others");
        });
        ui.end_row();
        let label = ui.label("Seed");
        ui.add(DragValue::new(&mut form.seed).range(0..=u64::MAX)).labelled_by(label.id);
        ui.end_row();
        ui.label("The reader sees");
        ui.horizontal_wrapped(|ui| {
            ui.checkbox(&mut form.policy.species, "Species");
            ui.checkbox(&mut form.policy.structure, "Structure");
            ui.checkbox(&mut form.policy.capture_month, "Month of capture");
            ui.checkbox(&mut form.policy.proposals, "Proposals");
        });
        ui.end_row();
    });
    let is_ready = !form.name.trim().is_empty() && !workbench.lists().is_working();
    ui.horizontal(|ui| {
        if ui.add_enabled(is_ready, egui::Button::new("Draw the list")).clicked() {
            actions.push(Action::Lists(ListsAction::Draw(form.request())));
        }
        if workbench.lists().is_working() {
            ui.spinner();
        }
    });
}

fn choice_ui(ui: &mut Ui, form: &mut ListsWindow, choice: Choice, words: &str) {
    ui.radio_value(&mut form.choice, choice, words);
    if form.choice != choice {
        return;
    }
    match choice {
        Choice::Share => {
            ui.add(DragValue::new(&mut form.percent).range(1.0..=100.0).suffix(" %"));
        }
        Choice::PerAge => {
            ui.add(DragValue::new(&mut form.n_each).range(1..=500).suffix(" fish"));
        }
        Choice::PerLength => {
            ui.add(DragValue::new(&mut form.n_each).range(1..=500).suffix(" fish"));
            ui.add(DragValue::new(&mut form.width_mm).range(1.0..=500.0).suffix(" mm wide"));
        }
        Choice::All | Choice::Doubtful | Choice::Listed => {}
    }
}

/// Sending to another office and taking in what comes back.
fn offices_ui(
    ui: &mut Ui,
    workbench: &Workbench,
    form: &mut ListsWindow,
    actions: &mut Vec<Action>,
) {
    ui.label(heading("Other offices"));
    let path_field = |ui: &mut Ui, words: &str, text: &mut String, hint: &str| {
        let label = ui.label(words);
        ui.add_sized([270.0, 24.0], TextEdit::singleline(text).hint_text(hint))
            .labelled_by(label.id);
    };
    Grid::new("offices").num_columns(3).spacing([12.0, 5.0]).show(ui, |ui| {
        path_field(ui, "Packs go to", &mut form.pack, "results/NAME.zip in the survey");
        ui.label("");
        ui.end_row();
        path_field(ui, "File", &mut form.returned, "NAME.READER.json that came back, or a pack");
        let file = PathBuf::from(form.returned.trim());
        let is_pack =
            file.extension().is_some_and(|extension| extension.eq_ignore_ascii_case("zip"));
        let is_named = !form.returned.trim().is_empty() && !workbench.lists().is_working();
        ui.horizontal(|ui| {
            if ui.add_enabled(is_named && !is_pack, egui::Button::new("Take in")).clicked() {
                actions.push(Action::Lists(ListsAction::TakeIn(file.clone())));
            }
            let can_read = is_named && is_pack && workbench.reader().is_some();
            if ui.add_enabled(can_read, egui::Button::new("Read the pack")).clicked() {
                actions.push(Action::Lists(ListsAction::OpenPack(file)));
            }
        });
        ui.end_row();
    });
}
