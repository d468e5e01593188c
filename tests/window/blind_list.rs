//! A blind list in the window: nothing of the fish, the scan or the first reading can be found by looking, pointing,
//! undoing, exporting, or reading what was written. The same search finds all of it in an ordinary window.

use std::path::Path;
use std::time::{Duration, Instant};

use egui::{Key, Modifiers};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use jiff::Timestamp;
use tempfile::TempDir;
use winterline::domain::blind::{BlindPolicy, BlindRule, ListName};
use winterline::domain::progress::Progress;
use winterline::domain::reading::{ReaderInitials, ReadingState, Structure};
use winterline::domain::survey::Survey;
use winterline::gui::app::App;
use winterline::imaging::encode::png_bytes;
use winterline::store::blind::close_list;
use winterline::store::blind_readings::{blind_readings_path, load_blind_readings};
use winterline::store::collection::OpenSurvey;
use winterline::store::sidecar::load_sidecar;
use winterline::store::survey_file::write_survey;
use winterline::workbench::action::{Action, Desk as WorkingDesk, Verb};
use winterline::workbench::blind_lists::{NewList, new_list};
use winterline::workbench::report_request::ReportRequest;
use winterline::workbench::session_import::ImportAction;
use winterline::workbench::session_report::ReportAction;
use winterline::workbench::survey_report::gather_report;
use winterline::workbench::workbench::Workbench;

use crate::desk::{Held, open_proposals, started, until};
use crate::pond;
use crate::seeing::{Files, Seen, found_in};

/// Fish, capture date, length, weight, scan: each a text that occurs nowhere else.
const FISH: [(&str, &str, &str, &str, &str); 3] = [
    ("QX7713", "2019-10-17", "287.25", "311.75", "platte-QX7713.png"),
    ("QX7714", "2019-10-18", "198.75", "104.5", "platte-QX7714.png"),
    ("QX7715", "2019-10-19", "333.5", "512.625", "platte-QX7715.png"),
];

/// The age the first reading gave, far from anything the second will say.
const FIRST_AGES: [u32; 3] = [37, 41, 53];

fn secrets() -> Vec<String> {
    let mut all: Vec<String> = Vec::new();
    for (fish, date, length, weight, scan) in FISH {
        all.extend([fish, date, length, weight, scan].map(str::to_owned));
    }
    all.extend(FIRST_AGES.iter().map(|age| format!("age {age}")));
    all.extend(FIRST_AGES.iter().map(|age| format!("\"age\": {age}")));
    let more =
        ["Alder Pond", "alder-pond", "2019", "287 mm", "platte", " µm", " mm", "um_per_px\": 5"];
    all.extend(more.map(str::to_owned));
    all
}

/// A survey whose first reader kb has read everything, with a list for mt drawn over it.
fn survey(policy: BlindPolicy, species: &str) -> TempDir {
    let folder = tempfile::Builder::new().prefix("alder-pond-2019-").tempdir().unwrap();
    let path = folder.path();
    let mut survey = Survey::new("Alder Pond 2019", "Alder Pond", Structure::Scale);
    survey.readers = vec![reader("kb"), reader("mt")];
    write_survey(path, &survey, None).unwrap();
    let mut sheet = "fish,species,capture_date,length,length_type,weight,scans\n".to_owned();
    let picture = png_bytes(&pond::picture(), Some([pond::UM_PER_PX; 2])).unwrap();
    for (fish, date, length, weight, scan) in FISH {
        sheet += &format!("{fish},{species},{date},{length},total,{weight},{scan}\n");
        std::fs::write(path.join("scans").join(scan), &picture).unwrap();
    }
    std::fs::write(path.join("fish.csv"), sheet).unwrap();
    for ((fish, .., scan), age) in FISH.iter().zip(FIRST_AGES) {
        let radii = [511.0, 903.0];
        pond::confirm_as(path, "kb", scan, fish, &radii, 1377.0, age);
    }
    draw(path, "june", policy);
    folder
}

fn draw(path: &Path, name: &str, policy: BlindPolicy) {
    let open = OpenSurvey::open(path).unwrap();
    let readings = open.load_readings(&Progress::new()).unwrap();
    let new = NewList {
        name: ListName::new(name).unwrap(),
        seed: 11,
        rule: BlindRule::All,
        n_references: 0,
        policy,
        by: Some(reader("kb")),
    };
    new_list(&open, &readings, &new, Timestamp::UNIX_EPOCH, &Progress::new()).unwrap();
}

fn reader(text: &str) -> ReaderInitials {
    ReaderInitials::new(text).unwrap()
}

fn june() -> ListName {
    ListName::new("june").unwrap()
}

/// The window of mt on the list, with settings kept beside the survey.
fn window_on(folder: &Path, settings: &Path) -> Harness<'static, Held> {
    let (folder, settings) = (folder.to_owned(), settings.to_owned());
    let mut window = started(move |context| {
        let app = App::on_list(context, pond::services(), (folder, &june()), &reader("mt"));
        app.with_settings(Some(settings))
    });
    until(&mut window, "the picture", |workbench| {
        workbench.scan().is_some_and(|scan| !scan.is_proposing())
    });
    window
}

fn settle(window: &mut Harness<'static, Held>) {
    for _ in 0..6 {
        window.step();
    }
}

fn press(window: &mut Harness<'static, Held>, modifiers: Modifiers, key: Key) {
    window.key_press_modifiers(modifiers, key);
    settle(window);
}

/// Tries every key the window has and every way out of the list that is not leaving it, marking meanwhile, and looks
/// at each step.
fn walk(window: &mut Harness<'static, Held>) -> Seen {
    let mut seen = Seen::default();
    seen.look_everywhere(window);
    // Focus, axis, two marks, one taken back and made again, margin, confidence.
    for key in [Key::F, Key::I, Key::I, Key::K, Key::S, Key::ArrowRight, Key::Num3, Key::Num7] {
        press(window, Modifiers::NONE, key);
        seen.look(window);
    }
    let redo = Modifiers { shift: true, ..Modifiers::COMMAND };
    for (modifiers, key) in [
        (Modifiers::COMMAND, Key::Z),
        (redo, Key::Z),
        (Modifiers::COMMAND, Key::E),
        (Modifiers::COMMAND, Key::Num2),
        (Modifiers::COMMAND, Key::Num3),
        (Modifiers::COMMAND, Key::Num4),
        (Modifiers::COMMAND, Key::Num5),
        (Modifiers::COMMAND, Key::M),
        (Modifiers::COMMAND, Key::L),
        (Modifiers::COMMAND, Key::U),
        (Modifiers::NONE, Key::L),
        (Modifiers::NONE, Key::Z),
        (Modifiers::NONE, Key::P),
        (Modifiers::NONE, Key::H),
        (Modifiers::NONE, Key::Q),
    ] {
        press(window, modifiers, key);
        seen.look(window);
    }
    for (modifiers, key) in [
        (Modifiers::NONE, Key::F1),
        (Modifiers::NONE, Key::F2),
        (Modifiers::NONE, Key::E),
        (Modifiers::COMMAND, Key::K),
        (Modifiers::COMMAND, Key::O),
    ] {
        press(window, modifiers, key);
        seen.look_everywhere(window);
        press(window, Modifiers::NONE, Key::Escape);
        press(window, Modifiers::NONE, Key::Escape);
    }
    seen
}

#[test]
fn nothing_of_the_fish_can_be_found_in_the_window_or_in_what_it_writes() {
    let folder = survey(BlindPolicy::default(), "walleye");
    let settings = tempfile::tempdir().unwrap();
    let files = Files::remember(folder.path());
    let mut window = window_on(folder.path(), &settings.path().join("settings.json"));
    let mut seen = walk(&mut window);
    confirm(&mut window);
    seen.look_everywhere(&mut window);
    press(&mut window, Modifiers::NONE, Key::N);
    until(&mut window, "the next picture", |w| w.scan().is_some_and(|scan| scan.place() == 1));
    press(&mut window, Modifiers::COMMAND, Key::Z);
    seen.look_everywhere(&mut window);
    assert!(seen.text().contains("Blind list june"), "the search sees the window");
    assert!(seen.text().contains("October"), "the list shows the month");
    assert_eq!(found_in(&seen.text(), &secrets()), Vec::<String>::new());
    let written = files.written();
    let names: Vec<String> = written.keys().map(|name| name.display().to_string()).collect();
    assert_eq!(names, ["lists/june.mt.json"]);
    assert_eq!(found_in(&files.text(), &secrets()), Vec::<String>::new());
    let kept: String =
        std::fs::read_to_string(settings.path().join("settings.json")).unwrap_or_default();
    assert_eq!(found_in(&kept, &secrets()), Vec::<String>::new());
}

fn confirm(window: &mut Harness<'static, Held>) {
    press(window, Modifiers::NONE, Key::C);
    until(window, "the confirmation", |workbench| {
        workbench.scan().is_some_and(|scan| scan.is_confirmed_on_disk())
    });
}

/// The search must find a leak that is put in: here the lead shows a species that holds a length.
#[test]
fn the_search_finds_a_length_that_is_shown_on_purpose() {
    let folder = survey(BlindPolicy::default(), "walleye of 287.25");
    let settings = tempfile::tempdir().unwrap();
    let mut window = window_on(folder.path(), &settings.path().join("settings.json"));
    let mut seen = Seen::default();
    seen.look_everywhere(&mut window);
    assert_eq!(found_in(&seen.text(), &secrets()), ["287.25"]);
    drop(window);
    let policy = BlindPolicy { species: false, ..BlindPolicy::default() };
    let folder = survey(policy, "walleye of 287.25");
    let mut window = window_on(folder.path(), &settings.path().join("settings.json"));
    let mut seen = Seen::default();
    seen.look_everywhere(&mut window);
    assert_eq!(found_in(&seen.text(), &secrets()), Vec::<String>::new());
}

/// The same search over an ordinary window: it finds numbers, names under the pointer, dates, lengths, earlier ages, and
/// what is written.
#[test]
fn the_search_finds_everything_in_an_ordinary_window() {
    let folder = survey(BlindPolicy::default(), "walleye");
    let path = folder.path().to_owned();
    let files = Files::remember(folder.path());
    let mut window =
        started(move |context| App::new(context, pond::services(), Some(path), Some(reader("kb"))));
    until(&mut window, "the scan", |workbench| workbench.scan().is_some());
    let mut seen = Seen::default();
    seen.look_everywhere(&mut window);
    press(&mut window, Modifiers::NONE, Key::L);
    seen.look_everywhere(&mut window);
    press(&mut window, Modifiers::COMMAND, Key::E);
    until(&mut window, "the card", |workbench| workbench.notices().status().contains("written"));
    seen.look(&window);
    let found = found_in(&seen.text(), &secrets());
    for secret in ["QX7713", "platte-QX7713.png", "2019-10-17", "Alder Pond", "age 37", " µm"] {
        assert!(found.contains(&secret.to_owned()), "{secret} among {found:?}");
    }
    assert!(found_in(&files.text(), &secrets()).contains(&"platte-QX7713.png".to_owned()));
}

#[test]
fn proposals_come_only_where_the_list_shows_them_and_the_reading_says_so() {
    for shows in [false, true] {
        let policy = BlindPolicy { proposals: shows, ..BlindPolicy::default() };
        let folder = survey(policy, "walleye");
        let settings = tempfile::tempdir().unwrap();
        let mut window = window_on(folder.path(), &settings.path().join("settings.json"));
        if shows {
            until(&mut window, "proposals", |workbench| !open_proposals(workbench).is_empty());
            let mut seen = Seen::default();
            seen.look_everywhere(&mut window);
            assert_eq!(found_in(&seen.text(), &secrets()), Vec::<String>::new());
            press(&mut window, Modifiers::SHIFT, Key::A);
        } else {
            assert!(open_proposals(window.state().workbench()).is_empty());
            press(&mut window, Modifiers::NONE, Key::P);
            assert!(window.state().workbench().notices().status().contains("off on this list"));
            for key in [Key::F, Key::I] {
                press(&mut window, Modifiers::NONE, key);
            }
        }
        press(&mut window, Modifiers::NONE, Key::Num3);
        confirm(&mut window);
        let path = blind_readings_path(folder.path(), &june(), &reader("mt"));
        let read = load_blind_readings(&path).unwrap();
        let (_, reading) = read.confirmed().next().unwrap();
        assert_eq!(reading.conditions.proposals_shown, shows);
        assert_eq!(reading.conditions.blind_list.as_deref(), Some("june"));
        assert!(!reading.conditions.length_shown);
    }
}

/// A list that is closed and not yet filed: the report counts its readings all the same, and names the file.
fn reported_before_filing(folder: &Path) {
    for (.., scan) in FISH {
        assert!(!folder.join(format!("scans/{scan}.mt.json")).exists());
    }
    let request = ReportRequest { reader: Some(reader("mt")), ..ReportRequest::default() };
    let gathered = gather_report(folder, &request, &Progress::new()).unwrap();
    assert_eq!(gathered.report.counts.aged, 1);
    assert_eq!(gathered.report.counts.blind, 1);
    let inputs = &gathered.report.provenance.inputs;
    assert!(inputs.iter().any(|input| input.name == "lists/june.mt.json"), "{inputs:?}");
}

/// After closing, the reader's program files the readings at its next opening, and they come up beside the scans.
#[test]
fn a_closed_list_is_filed_when_its_reader_opens_the_survey() {
    let folder = survey(BlindPolicy::default(), "walleye");
    let settings = tempfile::tempdir().unwrap();
    let mut window = window_on(folder.path(), &settings.path().join("settings.json"));
    for key in [Key::F, Key::I, Key::Num3] {
        press(&mut window, Modifiers::NONE, key);
    }
    confirm(&mut window);
    close_list(folder.path(), &june(), None, Timestamp::now()).unwrap();
    // A closed list takes no more readings, and says so.
    press(&mut window, Modifiers::NONE, Key::N);
    until(&mut window, "the next picture", |w| w.scan().is_some_and(|scan| scan.place() == 1));
    for key in [Key::F, Key::I] {
        press(&mut window, Modifiers::NONE, key);
    }
    until(&mut window, "the refusal", |workbench| {
        workbench.notices().problems().iter().any(|notice| notice.text.contains("is closed"))
    });
    drop(window);
    reported_before_filing(folder.path());
    let path = folder.path().to_owned();
    let mut window =
        started(move |context| App::new(context, pond::services(), Some(path), Some(reader("mt"))));
    until(&mut window, "the survey", |workbench| workbench.scan().is_some());
    let filed: Vec<_> = FISH
        .iter()
        .filter_map(|(.., scan)| {
            load_sidecar(&folder.path().join(format!("scans/{scan}.mt.json"))).ok()
        })
        .collect();
    assert_eq!(filed.len(), 1);
    let reading = &filed[0].reading.impressions[0];
    assert_eq!(reading.state, ReadingState::Confirmed);
    assert_eq!(reading.conditions.blind_list.as_deref(), Some("june"));
}

#[test]
fn leaving_a_list_brings_the_survey_back() {
    let folder = survey(BlindPolicy::default(), "walleye");
    let settings = tempfile::tempdir().unwrap();
    let mut window = window_on(folder.path(), &settings.path().join("settings.json"));
    assert!(window.query_by_label("Blind lists").is_none());
    window.get_by_label("Leave the list").click();
    until(&mut window, "the survey", |w| w.blind().is_none() && w.scan().is_some());
    assert!(window.query_by_label("Fish QX7713, unread").is_some());
}

/// A lead draws lists of every kind by the window's own controls, opens, packs, closes and takes in.
#[test]
fn a_lead_draws_packs_closes_and_takes_in() {
    let folder = survey(BlindPolicy::default(), "walleye");
    let path = folder.path().to_owned();
    let mut window =
        started(move |context| App::new(context, pond::services(), Some(path), Some(reader("kb"))));
    until(&mut window, "the survey", |workbench| workbench.scan().is_some());
    window.get_by_label("Blind lists").click();
    until(&mut window, "the lists", |workbench| workbench.lists().found().is_some());
    assert!(window.query_all_by_label_contains("open, 3 impressions").next().is_some());
    let choices =
        ["All fish", "A random share", "So many of each age", "So many of each length group"];
    for (number, choice) in choices.iter().enumerate() {
        window.get_by_label("Name").focus();
        settle(&mut window);
        press(&mut window, Modifiers::COMMAND, Key::A);
        window.event(egui::Event::Text(format!("july-{number}")));
        settle(&mut window);
        window.get_by_label(choice).click();
        settle(&mut window);
        window.get_by_label("Draw the list").click();
        let n = number + 2;
        until(&mut window, "the new list", |workbench| {
            assert_eq!(workbench.notices().problems(), []);
            workbench.lists().found().is_some_and(|found| found.lists.len() == n)
        });
    }
    window.get_by_label("Pack july-0").click();
    let pack = folder.path().join("results/july-0.zip");
    waits(&mut window, "the pack", || pack.exists());
    // The other office: its own folder, its own reader.
    let office = tempfile::tempdir().unwrap();
    let there = office.path().join("july-0.zip");
    std::fs::copy(&pack, &there).unwrap();
    let returned = read_a_pack(&there);
    until(&mut window, "the lists again", |workbench| !workbench.lists().is_working());
    let field = window.get_by_label("File");
    field.focus();
    settle(&mut window);
    window.event(egui::Event::Text(returned.display().to_string()));
    settle(&mut window);
    window.get_by_label("Take in").click();
    until(&mut window, "the readings", |workbench| {
        let lists = workbench.lists().found().map(|found| found.lists.clone()).unwrap_or_default();
        lists.iter().any(|list| list.name == "july-0" && list.readers.len() == 1)
    });
    window.get_by_label("Close july-0").click();
    until(&mut window, "the closed list", |workbench| {
        let lists = workbench.lists().found().map(|found| found.lists.clone()).unwrap_or_default();
        lists.iter().any(|list| list.name == "july-0" && !list.is_open)
    });
    let mut seen = Seen::default();
    seen.look(&window);
    let lists: Vec<&str> =
        seen.text().leak().lines().filter(|line| line.contains("impressions")).collect();
    let identities: Vec<String> = FISH.iter().map(|fish| fish.0.to_owned()).collect();
    assert_eq!(found_in(&lists.join("\n"), &identities), Vec::<String>::new());
}

/// Reads one impression of a pack as reader zo; the file that goes back.
fn read_a_pack(pack: &Path) -> std::path::PathBuf {
    let mut workbench = Workbench::new(pond::services(), std::sync::Arc::new(|| ()));
    use winterline::workbench::action::{Action, Verb};
    use winterline::workbench::session_lists::ListsAction;
    workbench.perform(Action::SetReader("zo".to_owned()));
    workbench.perform(Action::Lists(ListsAction::OpenPack(pack.to_owned())));
    poll(&mut workbench, |workbench| workbench.scan().is_some());
    for verb in [Verb::SelectFocus, Verb::Insert, Verb::EdgeMedium, Verb::Confirm] {
        workbench.perform(verb.into());
    }
    poll(&mut workbench, |workbench| {
        workbench.scan().is_some_and(|scan| scan.is_confirmed_on_disk())
    });
    pack.with_file_name("july-0.zo.json")
}

fn poll(workbench: &mut Workbench, done: impl Fn(&Workbench) -> bool) {
    let began = Instant::now();
    while !done(workbench) {
        workbench.poll();
        assert!(began.elapsed() < Duration::from_secs(20), "{:?}", workbench.notices());
        std::thread::sleep(Duration::from_millis(3));
    }
}

fn waits(window: &mut Harness<'static, Held>, what: &str, done: impl Fn() -> bool) {
    let began = Instant::now();
    while !done() {
        window.step();
        assert!(began.elapsed() < Duration::from_secs(20), "waited too long for {what}");
        std::thread::sleep(Duration::from_millis(4));
    }
}

/// What was on screen and typed before the list was opened does not come back: no note by undo in its field, no folder,
/// no search, no message.
#[test]
fn nothing_from_before_the_list_was_opened_comes_back() {
    let folder = survey(BlindPolicy::default(), "walleye");
    let path = folder.path().to_owned();
    let mut window =
        started(move |context| App::new(context, pond::services(), Some(path), Some(reader("mt"))));
    until(&mut window, "the scan", |workbench| workbench.scan().is_some());
    window.get_by_label("Find a scan").focus();
    settle(&mut window);
    window.event(egui::Event::Text("QX7714".to_owned()));
    settle(&mut window);
    window.get_by_label("Note").focus();
    settle(&mut window);
    window.event(egui::Event::Text("QX7713 looks old".to_owned()));
    settle(&mut window);
    let mut seen = Seen::default();
    seen.look(&window);
    assert!(seen.text().contains("QX7713 looks old"));
    press(&mut window, Modifiers::NONE, Key::Escape);
    window.get_by_label("Blind lists").click();
    until(&mut window, "the lists", |workbench| workbench.lists().found().is_some());
    window.get_by_label("Open june").click();
    until(&mut window, "the list", |w| w.blind().is_some() && w.scan().is_some());
    let mut seen = Seen::default();
    seen.look_everywhere(&mut window);
    for label in ["Note", "Find a scan"] {
        window.get_by_label(label).focus();
        settle(&mut window);
        for _ in 0..3 {
            press(&mut window, Modifiers::COMMAND, Key::Z);
            seen.look(&window);
        }
        press(&mut window, Modifiers::NONE, Key::Escape);
    }
    assert_eq!(found_in(&seen.text(), &secrets()), Vec::<String>::new());
    assert!(!seen.text().contains("looks old"));
}

#[test]
fn the_report_and_sheets_are_shut_while_a_list_is_open() {
    let folder = survey(BlindPolicy::default(), "walleye");
    let settings = tempfile::tempdir().unwrap();
    let mut window = window_on(folder.path(), &settings.path().join("settings.json"));
    press(&mut window, Modifiers::COMMAND, Key::Num5);
    press(&mut window, Modifiers::COMMAND, Key::M);
    let workbench = window.state().workbench();
    assert_eq!(workbench.desk(), WorkingDesk::Read);
    assert!(!workbench.import().is_shown());
    let shut = [
        Verb::GoToReport.into(),
        Verb::ImportSheet.into(),
        Action::Report(ReportAction::Write),
        Action::Import(ImportAction::Begin),
    ];
    for action in shut {
        assert!(!workbench.is_free(&action), "{action:?}");
    }
}
