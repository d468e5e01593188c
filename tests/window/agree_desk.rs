//! The Agree desk by the names of its controls: figures, pictures, the fish behind a cell, and deciding on it.

use egui::{Key, Modifiers};
use egui_kittest::kittest::Queryable;
use winterline::domain::resolution::Decision;
use winterline::store::collection::OpenSurvey;
use winterline::store::resolution_file::load_resolutions;
use winterline::workbench::action::Action;
use winterline::workbench::session_agree::AgreeAction;
use winterline::workbench::workbench::Workbench;

use crate::desk::Desk;
use crate::pond;

/// Five fish read by kb and mt: they part on fish 003, where kb counts a mark at 1.15 mm that mt does not.
fn desk() -> Desk {
    let folder = pond::survey_of(5);
    let path = folder.path();
    let three = [500.0, 900.0, 1200.0];
    for (i, kb, mt) in [
        (1, &three[..2], &[505.0, 896.0][..]),
        (2, &three[..1], &[497.0][..]),
        (3, &[500.0, 900.0, 1150.0][..], &[502.0, 905.0][..]),
        (4, &three[..], &[510.0, 890.0, 1205.0][..]),
    ] {
        let (scan, fish) = (format!("AP-{i:03}.png"), format!("{i:03}"));
        pond::confirm_on_disk(path, "kb", &scan, &fish, kb, 1400.0);
        pond::confirm_on_disk(path, "mt", &scan, &fish, mt, 1400.0);
    }
    let mut desk = Desk::over(folder, pond::services());
    desk.until("the scan", |workbench| workbench.scan().is_some());
    desk.key_with(Modifiers::COMMAND, Key::Num3);
    desk.until("the figures", |workbench| workbench.agree().figures().is_some());
    desk
}

/// By hand: 3 of 4 the same age, 4 of 4 within one year. Fish 003 has ages 3 and 2: mean 2.5, mean deviation 0.5, so
/// its percent error is 20 and the average over four fish 5.0 (Beamish & Fournier 1981); its CV is 100 x 0.7071 / 2.5
/// = 28.28 %, the mean over four fish 7.1 % (Chang 1982).
#[test]
fn the_figures_are_those_worked_out_by_hand() {
    let desk = desk();
    for words in ["75.0 %", "100.0 %", "5.0 %", "7.1 %", "Fish both aged"] {
        assert!(desk.has(words), "{words}");
    }
    assert!(desk.has_containing("Published level, from memory, does not decide"));
    assert!(desk.has_containing("Agreement is precision, not accuracy"));
    assert!(desk.has("Fish the two part on: 1"));
    assert!(desk.has("kb 3, mt 2"));
}

#[test]
fn every_picture_can_be_shown_and_a_cell_lists_its_fish() {
    let mut desk = desk();
    for (button, shown) in [
        ("Age bias", "Age bias plot"),
        ("Differences", "Difference plot"),
        ("By age", "Agreement by age"),
        ("Annuli", "Radii by annulus"),
    ] {
        desk.click(button);
        assert!(desk.window.query_all_by_label(shown).next().is_some(), "{shown}");
    }
    assert!(desk.has_containing("Most readings part at annulus 3 (1 fish)"));
    desk.click("Table");
    desk.click("kb 2, mt 2: 1 fish");
    assert!(desk.has("kb 2, mt 2: 1 fish"));
    assert!(desk.has("Open fish 001"));
    desk.click("Show all they part on");
    assert!(desk.has("Open fish 003") && !desk.has("Open fish 001"));
}

#[test]
fn an_opened_fish_tells_where_the_readers_part() {
    let mut desk = desk();
    desk.click("Open fish 003");
    desk.until("the fish", |workbench| workbench.agree().opened().is_some());
    assert!(desk.has("kb counts a mark at 1.15 mm that mt does not"));
    assert!(desk.has("annulus 3, 1.15 mm") && desk.has("nothing"));
    assert!(desk.has("Scan AP-003.png with the marks of both"));
    assert!(desk.has("Strip with the marks of both"));
    desk.click("Back to the figures");
    assert!(desk.workbench().agree().opened().is_none());
}

#[test]
fn a_decision_bears_name_time_and_reason_and_leaves_the_readings_alone() {
    let mut desk = desk();
    let sidecar = desk.folder.path().join("scans/AP-003.png.mt.json");
    let before = std::fs::read(&sidecar).unwrap();
    desk.click("Open fish 003");
    desk.until("the fish", |workbench| workbench.agree().opened().is_some());
    assert!(desk.is_disabled("Decide"), "a reason is asked for first");
    desk.window.get_by_label("Why").focus();
    desk.settle();
    desk.window.event(egui::Event::Text("the third is a check".to_owned()));
    desk.settle();
    desk.click("Decide");
    desk.until("the decision", |workbench| {
        workbench.agree().figures().is_some_and(|figures| figures.resolutions.len() == 1)
    });
    let made = load_resolutions(desk.folder.path()).unwrap().resolutions;
    assert_eq!(made[0].decision, Decision::Consensus(3));
    assert_eq!((made[0].by.as_str(), made[0].why.as_str()), ("kb", "the third is a check"));
    assert_eq!(made[0].considered.len(), 2);
    assert_eq!(std::fs::read(&sidecar).unwrap(), before);
    assert!(desk.has("Decide again"));
    desk.click("Leave the fish out");
    desk.click("Decide again");
    desk.until("the second decision", |workbench| {
        workbench.agree().figures().is_some_and(|figures| figures.resolutions.len() == 2)
    });
    assert!(desk.has_containing("replaced since"));
}

/// Two leads with the same fish on screen: the second is refused in words, and nothing is overwritten.
#[test]
fn two_leads_at_once_one_is_refused() {
    let mut desk = desk();
    desk.click("Open fish 003");
    desk.until("the fish", |workbench| workbench.agree().opened().is_some());
    let mut other = Workbench::new(pond::services(), std::sync::Arc::new(|| ()));
    let poll = |other: &mut Workbench, done: &dyn Fn(&Workbench) -> bool| {
        let began = std::time::Instant::now();
        while !done(other) {
            other.poll();
            assert!(began.elapsed().as_secs() < 20, "{:?}", other.notices());
            std::thread::sleep(std::time::Duration::from_millis(3));
        }
    };
    other.perform(Action::SetReader("mt".to_owned()));
    other.perform(Action::Open(desk.folder.path().to_owned()));
    poll(&mut other, &|w| w.scan().is_some());
    other.perform(winterline::workbench::action::Verb::GoToAgree.into());
    poll(&mut other, &|w| w.agree().figures().is_some());
    other.perform(Action::Agree(AgreeAction::OpenFish("003".to_owned())));
    poll(&mut other, &|w| w.agree().opened().is_some());
    let decide = |decision, why: &str| Action::Agree(AgreeAction::Decide(decision, why.to_owned()));
    other.perform(decide(Decision::Discard, "torn"));
    poll(&mut other, &|w| w.agree().figures().is_some_and(|f| f.resolutions.len() == 1));
    // The window still shows the fish as undecided.
    desk.window.get_by_label("Why").focus();
    desk.settle();
    desk.window.event(egui::Event::Text("looked together".to_owned()));
    desk.settle();
    desk.click("Decide");
    desk.until("the refusal", |workbench| {
        let problems = workbench.notices().problems();
        problems.iter().any(|notice| notice.text.contains("mt decided on this fish meanwhile"))
    });
    desk.until("the other's decision", |workbench| {
        workbench.agree().figures().is_some_and(|figures| figures.resolutions.len() == 1)
    });
    let made = load_resolutions(desk.folder.path()).unwrap().resolutions;
    assert_eq!(
        (made.len(), made[0].decision, made[0].why.as_str()),
        (1, Decision::Discard, "torn")
    );
}

#[test]
fn the_list_can_be_narrowed_to_scans_on_which_readers_differ() {
    let mut desk = desk();
    desk.key_with(Modifiers::COMMAND, Key::Num1);
    desk.click("Differ");
    assert!(desk.has("1 of 5 shown"));
    assert!(desk.has("Fish 003, confirmed"));
    let survey = OpenSurvey::open(desk.folder.path()).unwrap();
    let found = winterline::workbench::session_disputed::disputed_scans(&survey);
    assert_eq!(found.into_iter().collect::<Vec<_>>(), ["AP-003.png"]);
}

/// From the fish they part on to a list for a third reader, and from that reader's age to a decision.
#[test]
fn the_fish_they_part_on_go_to_a_third_reader() {
    let mut desk = desk();
    desk.click("Blind list of these");
    desk.until("the lists", |workbench| workbench.lists().found().is_some());
    assert!(desk.has("The 1 fish listed on the Agree desk"));
    desk.window.get_by_label("Name").focus();
    desk.settle();
    desk.window.event(egui::Event::Text("third".to_owned()));
    desk.settle();
    desk.click("Draw the list");
    desk.until("the list", |workbench| {
        workbench.lists().found().is_some_and(|found| found.lists.len() == 1)
    });
    let name = winterline::domain::blind::ListName::new("third").unwrap();
    let list = winterline::store::blind::load_list(desk.folder.path(), &name).unwrap().list;
    assert_eq!(list.entries.len(), 1);
    assert_eq!(list.entries[0].fish, "003");
}

/// What the others said of a fish must not sway whoever is reading it: ages, pictures and the opened fish are gone.
#[test]
fn the_desk_is_hidden_while_a_fish_that_another_has_read_is_being_read() {
    let mut desk = desk();
    // Fish 005 is open, which nobody has read: nothing to hide.
    assert!(desk.has("Fish both aged") && desk.has("kb 3, mt 2"));
    desk.click("Open fish 003");
    desk.until("the fish", |workbench| workbench.agree().opened().is_some());
    desk.key_with(Modifiers::COMMAND, Key::Num1);
    desk.click("Fish 003, confirmed");
    desk.until("the scan", |workbench| {
        workbench.scan().is_some_and(|scan| scan.document().reading.scan.file == "AP-003.png")
    });
    desk.key_with(Modifiers::COMMAND, Key::Num3);
    assert!(
        desk.has("Scan AP-003.png with the marks of both"),
        "a confirmed reading hides nothing"
    );
    desk.key_with(Modifiers::COMMAND, Key::Num1);
    desk.key(Key::O);
    desk.until("the draft", |workbench| workbench.scan().is_some_and(|scan| scan.is_draft()));
    desk.key_with(Modifiers::COMMAND, Key::Num3);
    assert!(desk.has("Other readers' ages are hidden while you read a fish they have read"));
    for words in
        ["Fish both aged", "kb 3, mt 2", "Decide", "Scan AP-003.png with the marks of both"]
    {
        assert!(!desk.has(words), "{words}");
    }
    assert!(!desk.has_containing("mt"), "nothing of the other reader");
}
