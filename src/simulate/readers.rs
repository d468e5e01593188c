//! Invented readers with known error: what they would have marked on a picture of known truth.

use kurbo::Point;

use super::chance::Chance;
use super::truth::PictureTruth;
use crate::domain::age::{BirthdayRule, assign_age, edge_by_thirds, marginal_increment_ratio};
use crate::domain::axis::{Axis, AxisError};
use crate::domain::calibration::Calibration;
use crate::domain::reading::{
    Certainty, Confidence, ImpressionReading, Mark, MarkKind, MarkOrigin, Outcome, ReadingState,
};
use crate::domain::units::{Micrometres, Pixels};

/// How a reader errs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReaderHabits {
    /// Standard deviation of the place of a mark, µm.
    pub mark_sd_um: f64,
    /// Chance of passing over one of the outermost annuli of a fish older than 4.
    pub passes_over_outer: f64,
    /// Chance of counting a check as an annulus.
    pub counts_check: f64,
    /// Chance of taking a picture for unreadable when it is hard.
    pub gives_up_on_hard: f64,
}

impl ReaderHabits {
    /// A reader of many seasons.
    pub const SEASONED: Self = Self {
        mark_sd_um: 9.0,
        passes_over_outer: 0.08,
        counts_check: 0.15,
        gives_up_on_hard: 0.02,
    };
    /// A reader in the second season.
    pub const NEWER: Self = Self {
        mark_sd_um: 17.0,
        passes_over_outer: 0.30,
        counts_check: 0.30,
        gives_up_on_hard: 0.10,
    };
}

/// What is known to the reader besides the picture.
#[derive(Debug, Clone)]
pub struct ReadingTask<'a> {
    /// Key of the fish.
    pub fish: &'a str,
    /// The picture's truth.
    pub truth: &'a PictureTruth,
    /// Pixel size.
    pub calibration: &'a Calibration,
    /// Capture date.
    pub captured: jiff::civil::Date,
    /// The birthday rule.
    pub rule: BirthdayRule,
    /// When the reading was begun.
    pub started: jiff::Timestamp,
}

/// The confirmed reading that a reader with these habits leaves.
///
/// # Errors
/// [`AxisError`] when the truth's axis is not one.
pub fn read_picture(
    task: &ReadingTask<'_>,
    habits: ReaderHabits,
    chance: &mut Chance,
) -> Result<ImpressionReading, AxisError> {
    let truth = task.truth;
    let mut reading = ImpressionReading::new(1, task.fish, truth.structure);
    reading.light = Some(truth.light);
    reading.started = Some(task.started);
    reading.confirmed = task
        .started
        .checked_add(jiff::SignedDuration::from_secs(i64::from(chance.whole(25, 140))))
        .ok();
    reading.state = ReadingState::Confirmed;
    reading.conditions.proposals_shown = false;
    if truth.regenerated
        || !truth.readable
        || (is_hard(truth) && chance.happens(habits.gives_up_on_hard))
    {
        reading.outcome =
            Some(if truth.regenerated { Outcome::Regenerated } else { Outcome::Unreadable });
        return Ok(reading);
    }
    let [focus, end] = truth.axis_px;
    let wobble = |chance: &mut Chance| habits.mark_sd_um / truth.um_per_px * chance.normal();
    let focus = Point::new(focus.x + 0.6 * wobble(chance), focus.y + 0.6 * wobble(chance));
    let axis = Axis::straight(focus, end)?;
    let edge = axis.pixels_at(Micrometres(truth.edge_um), task.calibration);
    reading.marks = marks_of(truth, habits, chance, &axis, task.calibration, edge);
    reading.axis = Some(axis);
    reading.edge = Some(edge);
    judge(&mut reading, task);
    Ok(reading)
}

fn is_hard(truth: &PictureTruth) -> bool {
    truth.difficulty == super::truth::Difficulty::Hard
}

fn marks_of(
    truth: &PictureTruth,
    habits: ReaderHabits,
    chance: &mut Chance,
    axis: &Axis,
    calibration: &Calibration,
    edge: Pixels,
) -> Vec<Mark> {
    let n = truth.annuli.len();
    let mut places: Vec<(f64, MarkKind)> = Vec::new();
    for (index, annulus) in truth.annuli.iter().enumerate() {
        let is_outer = n > 4 && index + 2 >= n;
        if is_outer && chance.happens(habits.passes_over_outer / 2.0) {
            continue;
        }
        places.push((annulus.um + habits.mark_sd_um * chance.normal(), MarkKind::Annulus));
    }
    for check in &truth.checks {
        if chance.happens(habits.counts_check) {
            places.push((check.um + habits.mark_sd_um * chance.normal(), MarkKind::Annulus));
        } else if chance.happens(0.5) {
            places.push((check.um + habits.mark_sd_um * chance.normal(), MarkKind::Check));
        }
    }
    places.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut marks: Vec<Mark> = Vec::new();
    for (um, kind) in places {
        let position = axis.pixels_at(Micrometres(um), calibration);
        let apart = marks.last().is_none_or(|last| position.0 - last.position.0 > 2.0);
        if position.0 > 2.0 && position < edge && apart {
            let certainty =
                if kind == MarkKind::Check { Certainty::Doubtful } else { Certainty::Clear };
            marks.push(Mark { kind, position, origin: MarkOrigin::ByHand, certainty });
        }
    }
    marks
}

/// Edge by thirds of the last increment, then the age by rule; where the rule cannot decide the reader takes the
/// count.
fn judge(reading: &mut ImpressionReading, task: &ReadingTask<'_>) {
    let radii: Vec<f64> = reading.annulus_radii(task.calibration).iter().map(|um| um.0).collect();
    let total = reading.total_radius(task.calibration).map_or(0.0, |um| um.0);
    let edge = edge_by_thirds(marginal_increment_ratio(&radii, total));
    reading.edge_condition = Some(edge);
    let counted = reading.annuli_counted();
    reading.age = assign_age(counted, edge, task.captured, &task.rule).age.or(Some(counted));
    reading.outcome = Some(Outcome::Aged);
    reading.confidence =
        Some(if is_hard(task.truth) { Confidence::Fair } else { Confidence::Good });
}
