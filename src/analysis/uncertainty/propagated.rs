//! What a propagation is asked for and what it gives.

use crate::analysis::growth::{Curve, FitSettings};

use super::inputs::{CurveRows, Scope, Source};

/// How to propagate.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Settings {
    /// Replicates of each run; 1000 or more for limits that are reported.
    pub replicates: usize,
    /// The seed, kept in the result.
    pub seed: u64,
    /// What the limits speak of.
    pub scope: Scope,
}

/// A curve to carry errors to.
#[derive(Debug, Clone, PartialEq)]
pub struct CurveWanted {
    /// The curve.
    pub curve: Curve,
    /// How it is fitted.
    pub settings: FitSettings,
    /// Which lengths it is fitted to.
    pub rows: CurveRows,
}

/// Mean length at one age.
#[derive(Debug, Clone, PartialEq)]
pub struct UncertainAge {
    /// Age, years.
    pub age: usize,
    /// Fish.
    pub n: usize,
    /// Mean, mm.
    pub mean_mm: f64,
    /// Standard error with all sources, mm; `None` for one fish.
    pub se_mm: Option<f64>,
    /// 95 % limits, mm, by Student's t on fish less one; `None` for one fish.
    pub ci95_mm: Option<[f64; 2]>,
    /// Share of the variance of each source that could be drawn.
    pub shares: Vec<(Source, f64)>,
}

/// One parameter of the curve.
#[derive(Debug, Clone, PartialEq)]
pub struct UncertainParameter {
    /// Its name.
    pub name: &'static str,
    /// Value fitted.
    pub estimate: f64,
    /// Standard error with all sources.
    pub se: Option<f64>,
    /// 95 % limits.
    pub ci95: Option<[f64; 2]>,
    /// Share of the variance of each source that could be drawn.
    pub shares: Vec<(Source, f64)>,
}

/// What one source contributes over all.
#[derive(Debug, Clone, PartialEq)]
pub struct SourceShare {
    /// The source.
    pub source: Source,
    /// Mean over the parameters of the curve of its share of the variance; over the ages without a curve. `None` where the
    /// error is not known.
    pub share: Option<f64>,
    /// Where the size of the error came from, or why it is not known.
    pub note: String,
}

/// A finished propagation.
#[derive(Debug, Clone, PartialEq)]
pub struct Propagated {
    /// Replicates of each run.
    pub replicates: usize,
    /// The seed.
    pub seed: u64,
    /// What the limits speak of.
    pub scope: Scope,
    /// Fish drawn from.
    pub n_fish: usize,
    /// Replicates of the joint run in which the relation could not be fitted.
    pub failed_relations: usize,
    /// Replicates of the joint run in which the curve could not be refitted, of those with a relation.
    pub failed_curves: usize,
    /// Mean length at each age.
    pub by_age: Vec<UncertainAge>,
    /// Parameters of the curve, free ones.
    pub parameters: Vec<UncertainParameter>,
    /// Why the curve has no parameters, where it was asked for and has none.
    pub curve_error: Option<String>,
    /// Every source, drawn or not.
    pub sources: Vec<SourceShare>,
    /// The age at which the other hypothesis puts the mean length farthest away, and by how much, mm (Francis 1990); `None`
    /// for methods without a fitted line.
    pub other_hypothesis: Option<(usize, f64)>,
}

impl Propagated {
    /// What a reader must know before using the limits, each one plain sentence.
    pub fn warnings(&self) -> Vec<String> {
        let mut found = Vec::new();
        let missing: Vec<&str> = self
            .sources
            .iter()
            .filter(|one| one.share.is_none())
            .map(|one| one.source.name())
            .collect();
        if !missing.is_empty() {
            found.push(format!(
                "not in the limits, since nothing tells how large they are or they do not apply: {}",
                missing.join(", ")
            ));
        }
        if (self.failed_relations + self.failed_curves) * 20 > self.replicates {
            found.push(format!(
                "{} of {} replicates failed and are left out: the limits are too narrow; add fish or fix a parameter",
                self.failed_relations + self.failed_curves,
                self.replicates
            ));
        }
        if let Some((age, mm)) = self.other_hypothesis {
            found.push(format!(
                "the limits do not hold the choice of hypothesis: the other regression moves the mean length at age {age} by {mm:+.1} \
                 mm (in invented lakes where the other one was right, limits of this kind held the truth in 90 of 100)"
            ));
        }
        let few = self.by_age.iter().filter(|row| row.n < FEW_FISH).count();
        if few > 0 {
            found.push(format!(
                "{few} ages have fewer than {FEW_FISH} fish: their limits hold only if lengths at an age scatter about normally"
            ));
        }
        found
    }
}

/// Fish below which limits of a mean lean on the normal distribution (common practice, no source).
const FEW_FISH: usize = 5;
