//! The growth desk: its numbers, its fish by name, leaving a fish out with a reason, and the same without a window.

use std::sync::Arc;
use std::time::{Duration, Instant};

use egui::{Key, Modifiers};
use winterline::analysis::back_calculation::Method;
use winterline::domain::reading::ReaderInitials;
use winterline::domain::reference::LengthBasis;
use winterline::store::collection::OpenSurvey;
use winterline::store::exclusion_file::load_exclusions;
use winterline::workbench::action::{Action, Desk as WorkingDesk, Verb};
use winterline::workbench::session_growth::GrowthAction;
use winterline::workbench::session_lengths::LengthsRequest;
use winterline::workbench::survey_growth::{LengthsWanted, survey_lengths_at_age};
use winterline::workbench::workbench::Workbench;

use crate::desk::Desk;
use crate::pond;

/// Twelve fish of four ages, read by kb, half of them by mt as well.
pub fn lake() -> tempfile::TempDir {
    let folder = pond::survey_of(12);
    let mut sheet = "fish,species,capture_date,length,length_type,weight_g,scans\n".to_owned();
    for i in 1..=12u32 {
        let (scan, fish) = (format!("AP-{i:03}.png"), format!("{i:03}"));
        let age = 1 + i % 4;
        let total = 620.0 + 190.0 * f64::from(age) + 3.0 * f64::from(i % 5);
        let length = (25.0 + total / 4.0 + f64::from(i % 3)).round();
        sheet += &format!("{fish},walleye,2025-10-04,{length},total,{},{scan}\n", length * 0.9);
        let at =
            |year: u32| total * f64::from(year) / (f64::from(age) + 0.6) + 2.0 * f64::from(i % 3);
        let radii: Vec<f64> = (1..=age).map(at).collect();
        pond::confirm_on_disk(folder.path(), "kb", &scan, &fish, &radii, total);
        if i % 2 == 0 {
            let theirs: Vec<f64> = radii.iter().map(|um| um + 5.0).collect();
            pond::confirm_on_disk(folder.path(), "mt", &scan, &fish, &theirs, total);
        }
    }
    std::fs::write(folder.path().join("fish.csv"), sheet).unwrap();
    folder
}

fn on_growth() -> Desk {
    let mut desk = Desk::over(lake(), pond::services());
    desk.until("a scan", |workbench| workbench.scan().is_some());
    desk.key_with(Modifiers::COMMAND, Key::Num4);
    if desk.has("Show lengths anyway") {
        desk.click("Show lengths anyway");
    }
    desk.until("growth", |workbench| workbench.growth().found().is_some());
    desk
}

#[test]
fn the_desk_says_what_it_rests_on() {
    let desk = on_growth();
    assert_eq!(desk.workbench().desk(), WorkingDesk::Growth);
    let found = desk.workbench().growth().found().unwrap().unwrap();
    assert_eq!(found.paths.len(), 12);
    for words in
        ["Length at age", "Growth by calendar year", "Where the uncertainty comes from", "For"]
    {
        assert!(desk.has(words) || desk.has_containing(words), "{words}");
    }
    assert!(desk.has("Plot of length at age of 12 fish"));
    assert!(desk.has("disagreement of readers"));
    // Nobody measured a fish twice, so that error is named as unknown and not taken as 0.
    assert!(desk.has("not known"));
    assert!(desk.has_containing("The survey has no reference.csv"));
}

#[test]
fn a_fish_is_left_out_by_name_and_taken_in_again() {
    let mut desk = on_growth();
    desk.window_click_containing("003  age");
    assert!(desk.has("Fish 003"));
    assert!(desk.is_disabled("Leave out of growth"));
    desk.type_into("Reason", "margin torn");
    desk.click("Leave out of growth");
    desk.until("the new findings", |workbench| {
        workbench.growth().found().is_some_and(|found| found.unwrap().excluded.len() == 1)
    });
    assert_eq!(desk.workbench().growth().found().unwrap().unwrap().paths.len(), 11);
    assert!(desk.has("Left out by hand: 1"));
    let kept = load_exclusions(desk.folder.path()).exclusions;
    assert_eq!(
        (kept[0].fish.as_str(), kept[0].why.as_str(), kept[0].by.as_str()),
        ("003", "margin torn", "kb")
    );
    desk.type_into("Reason", "margin is whole on the second scale");
    desk.click("Take in again");
    desk.until("the fish again", |workbench| {
        workbench.growth().found().is_some_and(|found| found.unwrap().paths.len() == 12)
    });
    assert_eq!(load_exclusions(desk.folder.path()).exclusions.len(), 2);
}

#[test]
fn the_scan_of_a_fish_opens() {
    let mut desk = on_growth();
    desk.window_click_containing("005  age");
    desk.click("Open its scan");
    desk.until("the fifth scan", |workbench| {
        workbench.scan().is_some_and(|scan| scan.place() == 4)
    });
    assert_eq!(desk.workbench().desk(), WorkingDesk::Read);
}

/// Without a window: two methods side by side, and the command line's own lengths honour the decision.
#[test]
fn the_workbench_alone_does_the_same() {
    let folder = lake();
    let mut bench = Workbench::new(pond::services(), Arc::new(|| {}));
    bench.perform(Action::SetReader("kb".to_owned()));
    bench.perform(Action::Open(folder.path().to_owned()));
    until(&mut bench, |bench| bench.survey().is_some());
    bench.perform(Verb::GoToGrowth.into());
    bench.perform(Action::Growth(GrowthAction::SetBeside(Some(LengthsRequest::DirectProportion))));
    until(&mut bench, |bench| bench.scan().is_some() || !bench.is_opening());
    bench.perform(Verb::ShowLength.into());
    until(&mut bench, |bench| {
        bench.growth().found().is_some_and(|found| found.unwrap().beside.is_some())
    });
    let compared = bench.growth().found().unwrap().unwrap().beside.clone().unwrap().unwrap();
    assert!(compared.largest.unwrap().difference_mm().abs() > 0.1);
    let out = GrowthAction::LeaveOut { fish: "007".to_owned(), why: "not a walleye".to_owned() };
    bench.perform(Action::Growth(out));
    until(&mut bench, |bench| {
        bench.growth().found().is_some_and(|found| found.unwrap().paths.len() == 11)
    });

    let survey = OpenSurvey::open(folder.path()).unwrap();
    let readings = survey.load_readings(&winterline::domain::progress::Progress::new()).unwrap();
    let wanted = LengthsWanted {
        basis: LengthBasis::Annulus,
        species: None,
        method: Method::DirectProportion,
    };
    let reader = ReaderInitials::new("kb").unwrap();
    let lengths = survey_lengths_at_age(&survey, &readings, &reader, &wanted).unwrap();
    assert_eq!((lengths.fish.len(), lengths.n_left_out_by_hand), (11, 1));
    assert!(
        lengths
            .left_out
            .iter()
            .any(|one| one.fish == "007" && one.reason == "left out by kb: not a walleye")
    );
}

fn until(bench: &mut Workbench, done: impl Fn(&Workbench) -> bool) {
    let start = Instant::now();
    while !done(bench) {
        assert!(start.elapsed() < Duration::from_secs(30), "waited too long");
        bench.poll();
        std::thread::sleep(Duration::from_millis(3));
    }
}
