//! Circuli along the axis: wide in summer, crowded towards winter, abruptly wide after it.

use super::chance::{Chance, rise};
use super::growth::Season;

/// How spacing falls within a season.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Fall {
    /// Level, then in a straight line.
    Ramp,
    /// Level, then quickly to the winter spacing, and level again.
    Step,
    /// Rising a little to midsummer, then falling in a smooth curve.
    Curve,
}

/// The spacing law of a fish.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct SpacingLaw {
    /// Summer spacing along the axis, µm.
    pub summer_um: f64,
    /// Winter over summer spacing.
    pub winter_ratio: f64,
    /// Part of the season after which spacing falls.
    pub onset: f64,
    /// How it falls.
    pub fall: Fall,
    /// Irregularity: standard deviation over spacing.
    pub jitter: f64,
}

impl SpacingLaw {
    /// Spacing over summer spacing at part `t` of a season, with the winter at `ratio`.
    pub fn relative(&self, t: f64, ratio: f64) -> f64 {
        let fallen = match self.fall {
            Fall::Ramp => ((t - self.onset) / (0.92 - self.onset)).clamp(0.0, 1.0),
            Fall::Step => rise(self.onset, self.onset + 0.12, t),
            Fall::Curve => rise(self.onset - 0.2, 1.0, t),
        };
        let spring = if self.fall == Fall::Curve { 0.06 * rise(0.0, 0.4, t) - 0.06 } else { 0.0 };
        1.0 + spring - (1.0 - ratio) * fallen
    }
}

/// What one winter does to the circuli.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Winter {
    /// 1 full crowding, 0 none.
    pub strength: f64,
    /// A second gap inside the crowded zone.
    pub split: bool,
}

/// The circuli along the axis.
#[derive(Debug, Clone)]
pub(super) struct Circuli {
    /// Their distances from the focus, µm, in order.
    pub at_um: Vec<f64>,
    /// For each complete season, where its crowded zone begins, µm.
    pub inner_um: Vec<f64>,
    /// For each season, the summer spacing used, µm.
    pub summer_um: Vec<f64>,
}

/// Lays circuli from `first_um` to the margin. Half-way across the gap between the last circulus of a season and
/// the first of the next lies the annulus, exactly.
pub(super) fn lay_circuli(
    seasons: &[Season],
    winters: &[Winter],
    checks_um: &[f64],
    law: &SpacingLaw,
    first_um: f64,
    chance: &mut Chance,
) -> Circuli {
    let mut circuli = Circuli { at_um: Vec::new(), inner_um: Vec::new(), summer_um: Vec::new() };
    let typical_um = seasons.first().map_or(1.0, |season| season.full_um);
    let mut half_gap_um = 0.0;
    for (index, season) in seasons.iter().enumerate() {
        // Slow seasons have somewhat closer circuli, and far fewer of them.
        let slowness = (season.full_um / typical_um).clamp(0.05, 1.6);
        let summer_um = law.summer_um * libm::pow(slowness, 0.22) * chance.factor(0.05);
        let winter = winters.get(index).copied().unwrap_or(Winter { strength: 1.0, split: false });
        let ratio = 1.0 - (1.0 - law.winter_ratio) * winter.strength;
        let width_um = season.end_um - season.start_um;
        let low_um =
            if index == 0 { first_um.min(0.4 * width_um) } else { season.start_um + half_gap_um };
        let gap_um = summer_um * chance.between(0.95, 1.15) * (0.8 + 0.2 * winter.strength);
        half_gap_um = 0.5 * gap_um.min(0.55 * width_um);
        let high_um = if season.complete { season.end_um - half_gap_um } else { season.end_um };
        let density = |um: f64| {
            let t = (um - season.start_um) / season.full_um;
            let mut spacing = summer_um * law.relative(t, ratio);
            for check_um in checks_um {
                let d = (um - check_um) / (1.3 * summer_um);
                spacing *= 1.0 - 0.3 * (1.0 - d * d).max(0.0);
            }
            if winter.split && season.complete {
                let d = (um - (season.end_um - 4.2 * summer_um * ratio)) / (0.5 * summer_um);
                spacing *= 1.0 + 0.75 * (1.0 - d * d).max(0.0);
            }
            1.0 / spacing
        };
        fill(low_um, high_um, season.complete, density, law.jitter, chance, &mut circuli.at_um);
        if season.complete {
            let half = 0.5 * (law.relative(0.3, ratio) + ratio);
            let begins = (0..200)
                .map(|step| f64::from(step) / 200.0)
                .find(|t| *t > 0.4 && law.relative(*t, ratio) < half)
                .unwrap_or(0.8);
            circuli.inner_um.push(season.start_um + begins * season.full_um);
        }
        circuli.summer_um.push(summer_um);
    }
    circuli
}

/// Adds circuli from `low_um` on; with `to_end` the last lies exactly at `high_um`.
fn fill(
    low_um: f64,
    high_um: f64,
    to_end: bool,
    density: impl Fn(f64) -> f64,
    jitter: f64,
    chance: &mut Chance,
    at_um: &mut Vec<f64>,
) {
    const PARTS: usize = 400;
    let step_um = (high_um - low_um) / PARTS as f64;
    if step_um <= 0.0 {
        return;
    }
    let mut sums = vec![0.0];
    let mut sum = 0.0;
    for part in 0..PARTS {
        sum += density(low_um + (part as f64 + 0.5) * step_um) * step_um;
        sums.push(sum);
    }
    if to_end && sum < 0.5 {
        at_um.push(0.5 * (low_um + high_um));
        return;
    }
    let spaces = if to_end { sum.round().max(1.0) } else { sum };
    let mut part = 0;
    let mut number = 0.0;
    while number <= spaces + 1e-9 {
        let wanted = (number * sum / spaces.max(1e-9)).min(sum);
        while part + 1 < PARTS && sums.get(part + 1).is_some_and(|s| *s < wanted) {
            part += 1;
        }
        let (before, after) = match sums.get(part..part + 2) {
            Some([a, b]) => (*a, *b),
            _ => (0.0, 1.0),
        };
        let f = ((wanted - before) / (after - before).max(1e-12)).clamp(0.0, 1.0);
        let exact_um = low_um + (part as f64 + f) * step_um;
        // First and last circulus of a season stand exactly: the annulus is measured between them.
        let fixed = number == 0.0 || (to_end && number + 0.5 > spaces);
        let stray = if fixed { 0.0 } else { (chance.normal() * jitter).clamp(-0.22, 0.22) };
        at_um.push(exact_um + stray / density(exact_um));
        number += 1.0;
    }
}

/// Phase over distance: whole numbers at circuli, straight between.
#[derive(Debug, Clone)]
pub(super) struct PhaseTable {
    phases: Vec<f32>,
    spacings: Vec<f32>,
    steps_per_um: f64,
}

impl PhaseTable {
    /// Entries of the table.
    const STEPS: usize = 8192;

    /// The table from the focus to a quarter beyond the margin. Before the first circulus the phase is negative.
    pub fn new(at_um: &[f64], edge_um: f64) -> Self {
        let steps_per_um = Self::STEPS as f64 / (edge_um * 1.25);
        let mut phases = Vec::with_capacity(Self::STEPS);
        let mut spacings = Vec::with_capacity(Self::STEPS);
        let mut next = 0;
        for step in 0..Self::STEPS {
            let um = step as f64 / steps_per_um;
            while at_um.get(next).is_some_and(|at| *at <= um) {
                next += 1;
            }
            let before = next.checked_sub(1).and_then(|i| at_um.get(i).copied());
            let last_um = match at_um {
                [.., a, b] => b - a,
                _ => 40.0,
            };
            let (phase, spacing) = match (before, at_um.get(next).copied()) {
                (Some(a), Some(b)) => ((next - 1) as f64 + (um - a) / (b - a), b - a),
                (Some(a), None) => ((next - 1) as f64 + (um - a) / last_um, last_um),
                (None, Some(b)) => ((um - b) / 40.0, 40.0),
                (None, None) => (-1.0, 40.0),
            };
            phases.push(phase as f32);
            spacings.push(spacing as f32);
        }
        Self { phases, spacings, steps_per_um }
    }

    /// Phase and local spacing (µm) at a distance.
    pub fn at(&self, um: f64) -> (f32, f32) {
        let place = (um * self.steps_per_um).clamp(0.0, (Self::STEPS - 2) as f64);
        let index = place as usize;
        let f = (place - index as f64) as f32;
        let phase = match self.phases.get(index..index + 2) {
            Some([a, b]) => a + (b - a) * f,
            _ => 0.0,
        };
        (phase, self.spacings.get(index).copied().unwrap_or(40.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::simulate::growth::GrowthRecord;

    fn law(fall: Fall) -> SpacingLaw {
        SpacingLaw { summer_um: 36.0, winter_ratio: 0.6, onset: 0.6, fall, jitter: 0.05 }
    }

    #[test]
    fn the_annulus_is_half_way_between_crowded_and_wide() {
        let record = GrowthRecord::new(vec![700.0, 1250.0, 1600.0], 1800.0, false);
        for fall in [Fall::Ramp, Fall::Step, Fall::Curve] {
            let seasons = record.seasons();
            let mut chance = Chance::new(2, "circuli");
            let laid = lay_circuli(&seasons, &[], &[], &law(fall), 60.0, &mut chance);
            assert!(laid.at_um.windows(2).all(|pair| pair[0] < pair[1]));
            for (number, annulus) in record.annuli_um.iter().enumerate() {
                let after = laid.at_um.partition_point(|at| at < annulus);
                let (last, first) = (laid.at_um[after - 1], laid.at_um[after]);
                assert!((0.5 * (last + first) - annulus).abs() < 1e-9);
                let crowded = (last - laid.at_um[after - 4]) / 3.0;
                let wide = (laid.at_um[after + 3] - first) / 3.0;
                let summer = laid.summer_um[number];
                assert!(crowded < 0.78 * wide, "{fall:?} {crowded} {wide}");
                assert!((crowded / summer - 0.6).abs() < 0.12, "{fall:?} {crowded} of {summer}");
            }
        }
    }

    #[test]
    fn phase_is_whole_at_circuli() {
        let at = [50.0, 90.0, 120.0, 141.0];
        let table = PhaseTable::new(&at, 160.0);
        for (number, um) in at.iter().enumerate() {
            assert!((table.at(*um).0 - number as f32).abs() < 0.02);
        }
        assert!(table.at(20.0).0 < 0.0);
    }
}
