//! Growth of the structure along the axis: where the winters lie, and the seasons between them.

use crate::domain::reading::Structure;

use super::chance::Chance;
use super::truth::{Difficulty, Style};

/// Growth along the axis, µm on the structure.
#[derive(Debug, Clone, PartialEq)]
pub struct GrowthRecord {
    /// Outer edges of the winter zones, in order, each inside the margin.
    pub annuli_um: Vec<f64>,
    /// Focus to margin.
    pub edge_um: f64,
    /// True where a winter ends exactly at the margin.
    pub edge_annulus: bool,
    /// How much of the season's growth the plus growth is, 0 to 1; `None`: judged from the season before.
    pub plus_fraction: Option<f64>,
}

impl GrowthRecord {
    /// A record with the plus growth judged from the season before it.
    pub fn new(annuli_um: Vec<f64>, edge_um: f64, edge_annulus: bool) -> Self {
        Self { annuli_um, edge_um, edge_annulus, plus_fraction: None }
    }

    /// The growing seasons, first to last.
    pub(super) fn seasons(&self) -> Vec<Season> {
        let mut seasons = Vec::new();
        let mut start_um = 0.0;
        for &end_um in &self.annuli_um {
            seasons.push(Season { start_um, end_um, full_um: end_um - start_um, complete: true });
            start_um = end_um;
        }
        let plus_um = self.edge_um - start_um;
        let before_um =
            seasons.last().map_or(self.edge_um * 1.25, |season: &Season| season.full_um);
        let full_um = match self.plus_fraction {
            Some(fraction) => plus_um / fraction.clamp(0.02, 1.0),
            None => (before_um * 0.9).max(plus_um * 1.1),
        };
        let full_um = if self.edge_annulus { plus_um } else { full_um };
        seasons.push(Season {
            start_um,
            end_um: self.edge_um,
            full_um,
            complete: self.edge_annulus,
        });
        seasons
    }
}

/// One growing season along the axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Season {
    /// Focus, or the annulus before it.
    pub start_um: f64,
    /// The annulus that ends it, or the margin.
    pub end_um: f64,
    /// Its width had the fish lived to the end of it.
    pub full_um: f64,
    /// True where it ends in a winter.
    pub complete: bool,
}

/// Random growth for a style: radii after the growth curve of von Bertalanffy (1938) with good and bad years.
pub fn draw_growth(style: Style, difficulty: Difficulty, chance: &mut Chance) -> GrowthRecord {
    let scale = style.structure() == Structure::Scale;
    let annuli = draw_annuli(scale, difficulty, chance);
    let (largest_um, least_um) = match style {
        Style::TroutScale | Style::CiscoScale => (chance.between(1500.0, 3400.0), 85.0),
        _ if scale => (chance.between(1900.0, 4800.0), 110.0),
        Style::WholeReflected | Style::WholeTransmitted => (chance.between(1400.0, 3200.0), 26.0),
        _ => (chance.between(700.0, 2000.0), 17.0),
    };
    let bend = if annuli > 12 { chance.between(0.10, 0.22) } else { chance.between(0.18, 0.5) };
    let before_hatching = chance.between(0.0, 0.45);
    let radius = |years: f64| largest_um * (1.0 - libm::exp(-bend * (years + before_hatching)));
    // Easy: no years out of the ordinary, and a season under way that shows plainly inside the margin.
    let easy = difficulty == Difficulty::Easy;
    let good_and_bad = chance.between(0.08, if easy { 0.14 } else { 0.26 });
    let slow_years = if chance.happens(0.12) && !easy { chance.whole(1, 3) } else { 0 };
    // Few circuli between winters make a picture nobody reads from one axis: they are left to the hard ones.
    let least_um = match difficulty {
        Difficulty::Easy => 2.0 * least_um,
        Difficulty::Medium => 1.8 * least_um,
        _ => 1.5 * least_um,
    };
    let slow = chance.between(0.4, 0.65);
    let mut increments: Vec<f64> = (0..=annuli)
        .map(|year| {
            let start = if year == 0 { 0.0 } else { radius(f64::from(year)) };
            let grown = radius(f64::from(year) + 1.0) - start;
            let held_back = if year < slow_years { slow } else { 1.0 };
            (grown * held_back * chance.factor(good_and_bad)).max(least_um * chance.factor(0.1))
        })
        .collect();
    let edge_annulus = chance.happens(0.08) && !easy;
    let least_fraction = if easy { 0.4 } else { 0.08 };
    let fraction = if edge_annulus { 1.0 } else { chance.between(least_fraction, 0.97) };
    let season_um = increments.pop().unwrap_or(largest_um);
    let mut annuli_um = Vec::new();
    let mut at_um = 0.0;
    for increment in increments {
        at_um += increment;
        annuli_um.push(at_um);
    }
    // A fish of its first summer still needs a structure large enough to show.
    let smallest_um = if scale { 350.0 } else { 180.0 };
    let mut plus_um = season_um * fraction;
    if annuli_um.is_empty() {
        plus_um = plus_um.max(smallest_um);
    }
    // A mark is seen by what follows it: two or three circuli of a scale at the least, where there is no annulus at
    // the very margin.
    let seen_um = if scale { 0.45 * least_um } else { 0.25 * least_um };
    let edge_um = at_um + plus_um.max(seen_um);
    GrowthRecord { annuli_um, edge_um, edge_annulus, plus_fraction: Some(fraction) }
}

/// Number of winters: young fish are the most common, old fish the hardest.
fn draw_annuli(scale: bool, difficulty: Difficulty, chance: &mut Chance) -> u32 {
    let oldest = match (scale, difficulty) {
        (true, Difficulty::Easy) => 6.0,
        (true, Difficulty::Medium) => 8.0,
        (true, _) => 11.0,
        (false, Difficulty::Easy) => 12.0,
        (false, Difficulty::Medium) => 19.0,
        (false, _) => 27.0,
    };
    let share = chance.unit();
    (oldest * share * (0.45 + 0.55 * share) + chance.between(0.0, 1.5)) as u32
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn seasons_tile_the_axis() {
        let record = GrowthRecord::new(vec![400.0, 700.0], 800.0, false);
        let seasons = record.seasons();
        assert_eq!(seasons.len(), 3);
        assert!(seasons.windows(2).all(|pair| pair[0].end_um == pair[1].start_um));
        assert_eq!(seasons[2].full_um, 270.0);
        assert!(!seasons[2].complete);
    }

    #[test]
    fn drawn_growth_reaches_old_age_and_stays_in_order() {
        let mut oldest = 0;
        let mut youngest = usize::MAX;
        for seed in 0..300 {
            let record = draw_growth(
                Style::SectionReflected,
                Difficulty::Hard,
                &mut Chance::new(seed, "growth"),
            );
            assert!(
                record.annuli_um.windows(2).all(|pair| pair[0] + 10.0 < pair[1]),
                "seed {seed}"
            );
            assert!(record.annuli_um.last().is_none_or(|last| *last < record.edge_um));
            oldest = oldest.max(record.annuli_um.len());
            youngest = youngest.min(record.annuli_um.len());
        }
        assert!(oldest >= 25 && youngest == 0, "{youngest} to {oldest}");
    }
}
