//! From back-calculated lengths to increments by age and calendar year, and what they say of growth years.

use crate::analysis::back_calculation::FishLengths;
use crate::analysis::year_effects::{
    FishEffect, Increment, Scale, YearEffects, year_effects_by_piece, year_of_growth,
};

/// The increments of a sample.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SampleIncrements {
    /// Closed zones, mm of length.
    pub increments: Vec<Increment>,
    /// Fish without a year class: their zones have no calendar year.
    pub without_year_class: usize,
    /// Zones in which the fish did not grow by its lengths: left out, since they have no logarithm.
    pub not_positive: usize,
}

/// Increments of fish with a year class. The zone beyond the last annulus is left out as incomplete; where the edge
/// counts as this year's annulus, it closes that zone.
pub fn increments_of(fish: &[FishLengths]) -> SampleIncrements {
    let mut found = SampleIncrements::default();
    for (number, one) in fish.iter().enumerate() {
        let Some(year_class) = one.year_class else {
            found.without_year_class += usize::from(!one.lengths_mm.is_empty());
            continue;
        };
        let mut before_mm = 0.0;
        for (length_mm, age) in one.lengths_mm.iter().zip(1u32..) {
            let size = length_mm - before_mm;
            before_mm = *length_mm;
            if size > 0.0 {
                let year = year_of_growth(i32::from(year_class), age);
                found.increments.push(Increment { fish: number, age, year, size });
            } else {
                found.not_positive += 1;
            }
        }
    }
    found
}

/// Year effects of ln increments for each piece in which ages and years hang together, and why others have none.
pub fn growth_years(sample: &SampleIncrements) -> (Vec<YearEffects>, Vec<String>) {
    let mut notes = Vec::new();
    if sample.without_year_class > 0 {
        notes.push(format!(
            "{} fish have no year class (no capture date): their increments have no year and are left out",
            sample.without_year_class
        ));
    }
    if sample.not_positive > 0 {
        notes.push(format!(
            "{} increments of 0 or less are left out: check those annuli",
            sample.not_positive
        ));
    }
    let mut fish: Vec<usize> = sample.increments.iter().map(|increment| increment.fish).collect();
    fish.dedup();
    // With one increment per fish nothing tells fish from chance.
    let effect =
        if sample.increments.len() > fish.len() { FishEffect::Random } else { FishEffect::None };
    let mut effects = Vec::new();
    for (piece, found) in year_effects_by_piece(&sample.increments, Scale::Log, effect) {
        match found {
            Ok(found) => effects.push(found),
            Err(error) => {
                notes.push(format!("growth years of {} increments: {error}", piece.len()))
            }
        }
    }
    (effects, notes)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::back_calculation::{Method, Options, SampleFish, back_calculate};
    use crate::domain::units::{Micrometres, Millimetres};

    fn fish(edge_counted: bool) -> FishLengths {
        let annuli = vec![Micrometres(500.0), Micrometres(800.0)];
        let mut fish =
            SampleFish::new("1", Some(Millimetres(300.0)), Some(Micrometres(1000.0)), annuli);
        (fish.year_class, fish.edge_counted) = (Some(2020), edge_counted);
        back_calculate(&[fish], Method::DirectProportion, &Options::default())
            .unwrap()
            .fish
            .remove(0)
    }

    #[test]
    fn the_edge_zone_counts_only_where_the_edge_is_counted() {
        let open = increments_of(&[fish(false)]).increments;
        let found: Vec<_> = open.iter().map(|i| (i.age, i.year, i.size.round() as i32)).collect();
        assert_eq!(found, [(1, 2020, 150), (2, 2021, 90)]);
        let closed = increments_of(&[fish(true)]).increments;
        assert_eq!((closed.len(), closed[2].year, closed[2].size.round() as i32), (3, 2022, 60));
    }

    #[test]
    fn fish_without_year_class_are_counted() {
        let mut unknown = fish(false);
        unknown.year_class = None;
        let found = increments_of(&[unknown]);
        assert_eq!((found.increments.len(), found.without_year_class), (0, 1));
        assert!(growth_years(&found).1[0].contains("1 fish have no year class"));
    }
}
