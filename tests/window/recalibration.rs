//! What this survey's readings say of the program's probabilities: shown in place of words, worked out when asked for.

use egui::{Key, Modifiers};
use winterline::domain::reading::Structure;
use winterline::proposing::recalibration::{JudgedProposal, Recalibration};
use winterline::workbench::recalibrate::{Gathered, file_of, refit};

use crate::desk::{Desk, open_proposals};
use crate::pond;

/// Decisions on 400 proposals of 80 fish, such that of those called 0.92 about three in four were confirmed.
fn judged() -> Vec<JudgedProposal> {
    (0..400)
        .map(|k| {
            let said = if k % 2 == 0 { 0.92 } else { 0.2 };
            let confirmed = if k % 2 == 0 { k % 8 != 0 } else { k % 10 == 1 };
            JudgedProposal { fish: (k % 80).to_string(), said, confirmed }
        })
        .collect()
}

/// A window on a survey that keeps such a line.
fn desk_with_a_line() -> (Desk, Recalibration) {
    let folder = pond::survey();
    let gathered = Gathered { structure: Structure::Scale, judged: judged(), left_out: Vec::new() };
    let own = refit(folder.path(), &gathered).unwrap();
    let mut desk = Desk::over(folder, pond::services());
    desk.until("the proposals", |workbench| !open_proposals(workbench).is_empty());
    (desk, own)
}

#[test]
fn without_own_readings_proposals_have_words() {
    let desk = Desk::open();
    assert!(desk.has("strong") && desk.has("weak"));
    assert!(!desk.has("92 %") && !desk.has_containing("Probabilities"));
    assert!(desk.workbench().own_line().is_none());
}

#[test]
fn with_enough_own_readings_proposals_have_probabilities_and_say_what_they_rest_on() {
    let (desk, own) = desk_with_a_line();
    assert_eq!(desk.workbench().own_line(), Some(&own));
    // 150 of the 200 called 0.92 were confirmed, and 40 of the 200 called 0.2 (counted by hand).
    assert!((own.applied(0.92) - 0.75).abs() < 0.02, "{}", own.applied(0.92));
    assert!((own.applied(0.2) - 0.2).abs() < 0.02, "{}", own.applied(0.2));
    assert!(desk.has("75 %") && desk.has("20 %"));
    assert!(!desk.has("strong") && !desk.has("weak"));
    assert!(
        desk.has_containing(
            "400 proposals on 80 fish confirmed here; the readers saw the proposals"
        )
    );
}

/// Recalibrating compares the readings as they are now: with too few of them the line goes, and the words are back.
#[test]
fn recalibrating_rests_on_the_readings_of_now() {
    let (mut desk, _) = desk_with_a_line();
    assert!(file_of(desk.folder.path()).exists());
    desk.key_with(Modifiers::COMMAND | Modifiers::SHIFT, Key::P);
    assert!(!desk.has_containing("cannot"));
    desk.until("the comparison", |workbench| !workbench.is_recalibrating());
    assert!(
        desk.has_containing("0 judged proposals from 0 fish are too few to show probabilities")
    );
    assert!(desk.has("strong") && !desk.has("75 %"));
    assert!(desk.workbench().own_line().is_none());
}
