//! The marking document under random edits: it equals a plain list of states, undo and redo restore exactly, a refused
//! edit changes nothing, and whatever happens the marks stay in order inside the structure and can be saved.

use jiff::Timestamp;
use kurbo::{Point, Rect};
use proptest::prelude::*;
use winterline::domain::axis::Axis;
use winterline::domain::calibration::{Calibration, CalibrationSource};
use winterline::domain::reading::{
    Certainty, EdgeCondition, ImpressionReading, MarkKind, Outcome, ReadingState, ScanIdentity,
    ScanReading, Structure,
};
use winterline::domain::units::Pixels;
use winterline::marking::command::Command;
use winterline::marking::document::{Document, OpenProposal};
use winterline::marking::history::History;
use winterline::store::sidecar::{load_sidecar, save_reading};

use crate::bench::{Bench, reader};
use crate::cases;

/// What a reader, or the program beside the reader, may do next.
#[derive(Debug, Clone)]
enum Deed {
    Edit(Command),
    /// Arrives by itself and leaves no step.
    Amend(Command),
    Undo,
    Redo,
}

fn start() -> Document {
    let scan = ScanIdentity {
        file: "MH-0012.tif".into(),
        width_px: 900,
        height_px: 700,
        blake3: String::new(),
    };
    let reading =
        ScanReading { scan, reader: reader("kb"), calibration: None, impressions: Vec::new() };
    Document::new(reading)
}

fn places() -> impl Strategy<Value = f64> {
    prop_oneof![
        8 => 0.0..500.0,
        1 => -10.0..1e6,
        1 => proptest::sample::select(vec![
            0.0, -0.0, f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 1e308, 1e-320, 0.4, 1.0, -1.0,
        ]),
    ]
}

fn proposals() -> impl Strategy<Value = Vec<OpenProposal>> {
    let one =
        (places(), 0.0..1.0, any::<bool>()).prop_map(|(position, probability, put_forward)| {
            OpenProposal { position: Pixels(position), probability, put_forward, ring: None }
        });
    proptest::collection::vec(one, 0..5)
}

fn axes() -> impl Strategy<Value = Axis> {
    let point = (places(), places()).prop_map(|(x, y)| Point::new(x, y));
    proptest::collection::vec(point, 2..5)
        .prop_filter_map("no axis", |points| Axis::new(points).ok())
}

fn place_of_marks() -> impl Strategy<Value = Command> {
    let kind = proptest::sample::select(vec![MarkKind::Annulus, MarkKind::Check]);
    let certainty = proptest::sample::select(vec![Certainty::Clear, Certainty::Doubtful]);
    let impression = prop_oneof![9 => 1..3_u32, 1 => any::<u32>()];
    (impression, 0..6_usize, places(), kind, certainty, 0..8_u8).prop_map(
        |(impression, mark, at, kind, certainty, what)| {
            let to = Pixels(at);
            match what {
                0..=2 => Command::AddMark { impression, at: to, kind },
                3 => Command::MoveMark { impression, mark, to },
                4 => Command::DeleteMark { impression, mark },
                5 => Command::SetMarkKind { impression, mark, kind },
                6 => Command::SetCertainty { impression, mark, certainty },
                _ => Command::MoveProposal { impression, proposal: mark, to },
            }
        },
    )
}

fn other_edits() -> impl Strategy<Value = Command> {
    let number = prop_oneof![9 => 1..3_u32, 1 => any::<u32>()];
    let bounds = proptest::option::of((places(), places(), places(), places()));
    let parts = (number, axes(), places(), proposals(), bounds, any::<u32>(), 0..16_u8);
    parts.prop_map(|(impression, axis, at, proposals, bounds, seed, what)| {
        let outcome = if seed % 3 == 0 { Outcome::Unreadable } else { Outcome::Aged };
        let bounds = bounds.map(|(x0, y0, x1, y1)| Rect::new(x0, y0, x1, y1));
        match what {
            0 | 1 => Command::AddImpression {
                number: impression,
                bounds,
                fish: format!("fish {}", seed % 4),
                structure: Structure::Scale,
            },
            2 | 3 => Command::SetAxis { impression, axis, edge: Pixels(at) },
            4 => Command::SetEdge { impression, edge: Pixels(at) },
            5 => Command::SetProposals { impression, proposals },
            6 => Command::AcceptProposal { impression, proposal: seed as usize % 4 },
            7 => Command::AcceptAllProposals { impression },
            8 => Command::RejectProposal { impression, proposal: seed as usize % 4 },
            9 => Command::SetEdgeCondition { impression, edge_condition: EdgeCondition::Narrow },
            10 => Command::SetBounds {
                impression,
                bounds: bounds.filter(|bounds| bounds.is_finite()),
            },
            11 => Command::SetNote { impression, note: format!("note {}", seed % 3) },
            12 | 13 => Command::Confirm {
                impression,
                outcome,
                age: Some(seed % 30),
                at: Timestamp::UNIX_EPOCH,
            },
            14 => Command::Reopen { impression },
            _ => Command::SetCalibration(
                Calibration::new(5.3, 5.4, CalibrationSource::Stated).unwrap(),
            ),
        }
    })
}

fn deeds() -> impl Strategy<Value = Vec<Deed>> {
    let shown =
        (1..3_u32, any::<bool>(), any::<bool>()).prop_map(|(impression, proposals, length)| {
            Command::RecordShown { impression, proposals, length }
        });
    let arrive = (1..3_u32, proposals())
        .prop_map(|(impression, proposals)| Command::SetProposals { impression, proposals });
    let deed = prop_oneof![
        6 => place_of_marks().prop_map(Deed::Edit),
        6 => other_edits().prop_map(Deed::Edit),
        1 => shown.prop_map(Deed::Amend),
        1 => arrive.prop_map(Deed::Amend),
        3 => Just(Deed::Undo),
        2 => Just(Deed::Redo),
    ];
    proptest::collection::vec(deed, 1..60)
}

/// The marks of an impression are in order, apart, and inside the structure.
fn marks_hold(impression: &ImpressionReading) -> Result<(), TestCaseError> {
    let positions: Vec<f64> = impression.marks.iter().map(|mark| mark.position.0).collect();
    prop_assert!(positions.iter().all(|at| at.is_finite() && *at > 0.0), "{:?}", positions);
    prop_assert!(positions.windows(2).all(|pair| pair[0] < pair[1]), "{:?}", positions);
    if let (Some(last), Some(edge)) = (positions.last(), impression.edge) {
        prop_assert!(*last <= edge.0, "{} beyond {}", last, edge.0);
    }
    prop_assert!(positions.is_empty() || (impression.axis.is_some() && impression.edge.is_some()));
    prop_assert_eq!(impression.state == ReadingState::Confirmed, impression.outcome.is_some());
    Ok(())
}

/// The document without what undo must not take back.
fn without_shown(document: &Document) -> Document {
    let mut plain = document.clone();
    for impression in &mut plain.reading.impressions {
        impression.conditions = winterline::domain::reading::ReadingConditions::default();
    }
    plain
}

#[test]
fn a_history_equals_a_plain_list_of_states() {
    cases::run(&deeds(), |deeds| {
        let mut history = History::new(start());
        let (mut states, mut now) = (vec![start()], 0_usize);
        for deed in &deeds {
            let before = history.present().clone();
            match deed {
                Deed::Edit(command) => match history.perform(command) {
                    Ok(()) if *history.present() == before => {}
                    Ok(()) => {
                        prop_assert_eq!(&before.applied(command).unwrap(), history.present());
                        states.truncate(now + 1);
                        states.push(history.present().clone());
                        now += 1;
                    }
                    Err(error) => {
                        prop_assert_eq!(history.present(), &before);
                        prop_assert!(!error.to_string().contains('\n'));
                    }
                },
                Deed::Amend(command) => {
                    if history.amend(command).is_ok() {
                        states[now] = history.present().clone();
                    }
                }
                Deed::Undo => {
                    prop_assert_eq!(history.undo(), now > 0);
                    now = now.saturating_sub(1);
                }
                Deed::Redo => {
                    let can = now + 1 < states.len();
                    prop_assert_eq!(history.redo(), can);
                    now += usize::from(can);
                }
            }
            prop_assert_eq!(
                without_shown(history.present()),
                without_shown(&states[now]),
                "{:?}",
                deed
            );
            prop_assert_eq!(history.undo_name().is_some(), now > 0);
            for impression in &history.present().reading.impressions {
                marks_hold(impression)?;
            }
        }
        // All the way back and forth again restores the end.
        let end = history.present().clone();
        let n_undone = std::iter::from_fn(|| history.undo().then_some(())).count();
        prop_assert_eq!(n_undone, now);
        prop_assert_eq!(without_shown(history.present()), without_shown(&states[0]));
        for _ in 0..n_undone {
            prop_assert!(history.redo());
        }
        prop_assert_eq!(history.present(), &end);
        Ok(())
    });
}

/// What the document allows, the sidecar can hold; a reading it cannot hold is refused with a reason, and the file
/// stays as it was.
#[test]
fn what_was_edited_can_be_saved() {
    let bench = Bench::new();
    let path = bench.folder().join("scans/MH-0012.tif.kb.json");
    cases::run(&deeds(), |deeds| {
        let _ = std::fs::remove_file(&path);
        let mut history = History::new(start());
        let mut on_disk = None;
        for deed in &deeds {
            match deed {
                Deed::Edit(command) => drop(history.perform(command)),
                Deed::Amend(command) => drop(history.amend(command)),
                Deed::Undo => drop(history.undo()),
                Deed::Redo => drop(history.redo()),
            }
        }
        let reading = &history.present().reading;
        match save_reading(bench.folder(), &reader("kb"), reading, on_disk.as_ref()) {
            Ok(fingerprint) => on_disk = Some(fingerprint),
            Err(error) => {
                crate::messages::judge(&error.to_string(), &["not saved"])?;
                prop_assert!(!path.exists());
                return Ok(());
            }
        }
        let loaded = load_sidecar(&path).unwrap();
        prop_assert_eq!(Some(loaded.fingerprint), on_disk);
        prop_assert_eq!(&loaded.reading, reading);
        prop_assert_eq!(loaded.stale_micrometres, Vec::<String>::new());
        Ok(())
    });
}
