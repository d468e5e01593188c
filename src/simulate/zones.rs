//! Opaque and translucent zones along the axis.

use super::chance::rise;
use super::growth::Season;

/// One translucent zone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct ZoneLook {
    /// 1 fully translucent, 0 not to be seen.
    pub strength: f64,
    /// Its width over that of the season.
    pub part: f64,
    /// An opaque line inside it.
    pub split: bool,
    /// How opaque the summer before it is, 0 to 1.
    pub summer: f64,
}

/// A thin false zone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct FalseZone {
    pub um: f64,
    pub width_um: f64,
    pub strength: f64,
}

/// Opacity over distance: 1 opaque, 0 translucent.
#[derive(Debug, Clone)]
pub(super) struct OpacityTable {
    values: Vec<f32>,
    steps_per_um: f64,
}

/// Where a season's translucent zone begins, µm.
pub(super) fn zone_inner_um(season: &Season, look: &ZoneLook) -> f64 {
    season.start_um + season.full_um * (1.0 - look.part)
}

impl OpacityTable {
    const STEPS: usize = 8192;

    /// The table from the core to a quarter beyond the margin.
    pub fn new(seasons: &[Season], looks: &[ZoneLook], checks: &[FalseZone], edge_um: f64) -> Self {
        let steps_per_um = Self::STEPS as f64 / (edge_um * 1.25);
        let opacity = |um: f64| {
            let number = seasons.partition_point(|season| season.end_um <= um);
            let mut value = seasons
                .get(number)
                .or(seasons.last())
                .zip(looks.get(number).or(looks.last()))
                .map_or(1.0, |(season, look)| {
                    let before = number.checked_sub(1).and_then(|i| looks.get(i));
                    season_opacity(um, season, look, before)
                });
            for check in checks {
                let d = (um - check.um) / check.width_um;
                value -= check.strength * (1.0 - d * d).max(0.0);
            }
            value.clamp(0.0, 1.0) as f32
        };
        let values = (0..Self::STEPS).map(|step| opacity(step as f64 / steps_per_um)).collect();
        Self { values, steps_per_um }
    }

    /// Opacity at a distance.
    pub fn at(&self, um: f64) -> f32 {
        let place = (um * self.steps_per_um).clamp(0.0, (Self::STEPS - 2) as f64);
        let index = place as usize;
        match self.values.get(index..index + 2) {
            Some([a, b]) => a + (b - a) * (place - index as f64) as f32,
            _ => 1.0,
        }
    }
}

/// Opacity inside a season. The distal edge of a translucent zone is the middle of a short rise that lies half in
/// this season and half in the next.
fn season_opacity(um: f64, season: &Season, look: &ZoneLook, before: Option<&ZoneLook>) -> f64 {
    let inner_um = zone_inner_um(season, look);
    let zone_um = season.full_um * look.part;
    let edge_um = (0.16 * zone_um).min(14.0);
    let end_um = season.start_um + season.full_um;
    // Gradual from opaque to translucent, quick from translucent to opaque.
    let mut winter = rise(inner_um - 0.35 * zone_um, inner_um + 0.4 * zone_um, um);
    if season.complete {
        winter *= 1.0 - 0.5 * rise(end_um - edge_um, end_um, um);
    }
    if look.split {
        let d = (um - (end_um - 0.5 * zone_um)) / (0.17 * zone_um);
        winter *= 1.0 - 0.8 * (1.0 - d * d).max(0.0);
    }
    let mut spring = 0.0;
    if let Some(before) = before {
        let width_um = (0.16 * before.part * season.full_um).clamp(1e-6, 14.0);
        spring =
            0.5 * before.strength * (1.0 - rise(season.start_um, season.start_um + width_um, um));
    }
    look.summer - (look.summer - 0.06) * (winter * look.strength).max(spring)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::simulate::growth::GrowthRecord;

    #[test]
    fn the_distal_edge_is_half_way_up() {
        let record = GrowthRecord::new(vec![400.0, 640.0, 800.0], 900.0, false);
        let look = ZoneLook { strength: 1.0, part: 0.3, split: false, summer: 0.95 };
        let table = OpacityTable::new(&record.seasons(), &[look; 4], &[], 900.0);
        for um in &record.annuli_um {
            let (low, high) = (table.at(um - 15.0), table.at(um + 15.0));
            let middle = table.at(*um);
            assert!(low < 0.2 && high > 0.9, "{low} {high}");
            assert!((middle - 0.5 * (low + high)).abs() < 0.08, "{low} {middle} {high}");
        }
    }
}
