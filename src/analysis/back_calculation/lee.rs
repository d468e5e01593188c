//! Lee's phenomenon: are back-calculated lengths at an annulus smaller in older fish?
//!
//! For each annulus the lengths are regressed on age at capture (Lee 1912, 1920; Ricker 1969, cited from memory),
//! with Holm's adjustment over the annuli tested.

use std::collections::BTreeSet;

use crate::analysis::numerics::holm::holm;
use crate::analysis::numerics::regression::Line;

use super::FishLengths;

/// Fish an annulus needs for the test.
pub const FEWEST_FISH: usize = 4;
/// Ages at capture an annulus needs for the test.
pub const FEWEST_AGES: usize = 2;

/// What a slope may come from, for the report that shows it.
pub const CAUSES: &str = "size-selective sampling, size-selective mortality, a wrong body-structure relation, or a wrong annulus";

/// The test of one annulus.
#[derive(Debug, Clone, PartialEq)]
pub struct LeeRow {
    /// Annulus from 1.
    pub annulus: usize,
    /// Fish.
    pub n: usize,
    /// Slope, mm per year of age at capture: negative is Lee's phenomenon, positive its reverse.
    pub slope: f64,
    /// Standard error of the slope.
    pub se: f64,
    /// Slope over its standard error, on n - 2 degrees of freedom; `None` where the line fits exactly.
    pub t: Option<f64>,
    /// Two-sided p of no slope.
    pub p: Option<f64>,
    /// The same, adjusted over the annuli tested.
    pub p_holm: Option<f64>,
}

/// Tests every annulus with at least 4 fish of at least 2 ages at capture.
pub fn lee_phenomenon(fish: &[FishLengths]) -> Vec<LeeRow> {
    let oldest = fish.iter().map(|fish| fish.lengths_mm.len()).max().unwrap_or(0);
    let mut rows: Vec<LeeRow> = (1..=oldest).filter_map(|annulus| row(fish, annulus)).collect();
    let adjusted = holm(&rows.iter().map(|row| row.p).collect::<Vec<_>>());
    for (row, p_holm) in rows.iter_mut().zip(adjusted) {
        row.p_holm = p_holm;
    }
    rows
}

fn row(fish: &[FishLengths], annulus: usize) -> Option<LeeRow> {
    let with_annulus = || fish.iter().filter(|fish| fish.lengths_mm.len() >= annulus);
    let ages: Vec<f64> = with_annulus().map(|fish| fish.lengths_mm.len() as f64).collect();
    let lengths_mm: Vec<f64> =
        with_annulus().filter_map(|fish| fish.lengths_mm.get(annulus - 1).copied()).collect();
    let distinct: BTreeSet<usize> = with_annulus().map(|fish| fish.lengths_mm.len()).collect();
    if ages.len() < FEWEST_FISH || distinct.len() < FEWEST_AGES {
        return None;
    }
    let line = Line::fit(&ages, &lengths_mm).ok()?;
    Some(LeeRow {
        annulus,
        n: line.n,
        slope: line.slope,
        se: line.slope_se,
        t: line.slope_t(),
        p: line.slope_p(),
        p_holm: None,
    })
}
