//! The whole job on a table of lengths at age: the curve, its intervals, groups, their comparison, other curves.

use std::collections::BTreeMap;

use crate::domain::length_at_age::{LengthAtAge, LengthAtAgeTable};
use crate::domain::progress::{Progress, Stopped};

use super::GrowthError;
use super::cells::Observation;
use super::curve::Curve;
use super::fit::{Fit, FitSettings, fit};
use super::groups::{GroupComparison, compare_groups};
use super::profile::profile_interval;
use super::resample::{Bootstrap, bootstrap};
use super::selection::{Ranked, rank_curves};

/// Resampling wanted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BootstrapSettings {
    /// Replicates; 1000 or more for limits that are reported.
    pub replicates: usize,
    /// The seed, kept in the result.
    pub seed: u64,
}

/// A fit with its profile limits and resampling.
#[derive(Debug, Clone, PartialEq)]
pub struct FittedGrowth {
    /// The fit.
    pub fit: Fit,
    /// Profile limits of each parameter, in the order of the curve.
    pub profiles: Vec<Option<[Option<f64>; 2]>>,
    /// Resampling, where asked for.
    pub bootstrap: Option<Bootstrap>,
}

impl FittedGrowth {
    /// All that should be known before using the fit or its resampled limits, each one plain sentence.
    pub fn warnings(&self) -> Vec<String> {
        let of_fit = self.fit.warnings.iter().map(|warning| warning.message());
        of_fit.chain(self.bootstrap.as_ref().and_then(Bootstrap::warning)).collect()
    }
}

/// One group's growth, or why there is none.
#[derive(Debug, Clone, PartialEq)]
pub struct GroupGrowth {
    /// Value of the grouping column; empty where missing.
    pub group: String,
    /// Rows.
    pub n: usize,
    /// The result.
    pub outcome: Result<FittedGrowth, GrowthError>,
}

/// Everything about growth in one table.
#[derive(Debug, Clone, PartialEq)]
pub struct GrowthStudy {
    /// The curve asked for.
    pub curve: Curve,
    /// How it was fitted.
    pub settings: FitSettings,
    /// All rows together.
    pub whole: GroupGrowth,
    /// The grouping column, where asked for.
    pub grouped_by: Option<String>,
    /// Each group by itself.
    pub groups: Vec<GroupGrowth>,
    /// Tests of shared parameters over the groups that could be fitted; `None` without two of them.
    pub comparison: Option<GroupComparison>,
    /// The usual curves ranked on the same rows.
    pub ranking: Vec<Ranked>,
}

/// Rows as observations: rows of one fish share a number, rows without a fish stand alone.
pub fn observations_of<'a>(rows: impl IntoIterator<Item = &'a LengthAtAge>) -> Vec<Observation> {
    let mut numbers: BTreeMap<&str, usize> = BTreeMap::new();
    let mut next = 0;
    rows.into_iter()
        .map(|row| {
            let mut fresh = || {
                next += 1;
                next - 1
            };
            let fish = match &row.fish {
                Some(name) => *numbers.entry(name.as_str()).or_insert_with(fresh),
                None => fresh(),
            };
            Observation { age: row.age, length: row.length, weight: row.weight, fish }
        })
        .collect()
}

/// Runs the whole job. `by` is the position of a grouping column; groups come in alphabetical order.
///
/// # Errors
/// [`Stopped`] when someone asked to stop. What cannot be fitted stands in the result with its reason.
pub fn study_growth(
    curve: Curve,
    table: &LengthAtAgeTable,
    by: Option<usize>,
    settings: &FitSettings,
    resampling: Option<BootstrapSettings>,
    progress: &Progress,
) -> Result<GrowthStudy, Stopped> {
    let all = observations_of(&table.rows);
    let run = |group: String, rows: &[Observation]| {
        progress.checkpoint()?;
        let outcome = match fit(curve, rows, settings) {
            Ok(fit) => Ok(with_intervals(fit, resampling, progress)?),
            Err(error) => Err(error),
        };
        Ok(GroupGrowth { group, n: rows.len(), outcome })
    };
    let whole = run(String::new(), &all)?;
    let split = by.map_or_else(BTreeMap::new, |column| split_by(table, column));
    let groups = split
        .iter()
        .map(|(name, rows)| run(name.clone(), rows))
        .collect::<Result<Vec<GroupGrowth>, Stopped>>()?;
    let usable: Vec<Vec<Observation>> = split
        .values()
        .zip(&groups)
        .filter(|(_, group)| group.outcome.is_ok())
        .map(|(rows, _)| rows.clone())
        .collect();
    Ok(GrowthStudy {
        curve,
        settings: settings.clone(),
        whole,
        grouped_by: by.and_then(|column| table.group_columns.get(column).cloned()),
        groups,
        comparison: compare_groups(curve, &usable, settings).ok(),
        ranking: rank_usual_curves(&all, settings),
    })
}

fn with_intervals(
    fit: Fit,
    resampling: Option<BootstrapSettings>,
    progress: &Progress,
) -> Result<FittedGrowth, Stopped> {
    let profiles = (0..fit.parameters.len()).map(|index| profile_interval(&fit, index)).collect();
    let bootstrap = match resampling {
        Some(wanted) => Some(bootstrap(&fit, wanted.replicates, wanted.seed, progress)?),
        None => None,
    };
    Ok(FittedGrowth { fit, profiles, bootstrap })
}

fn split_by(table: &LengthAtAgeTable, column: usize) -> BTreeMap<String, Vec<Observation>> {
    let mut rows: BTreeMap<String, Vec<&LengthAtAge>> = BTreeMap::new();
    for row in &table.rows {
        rows.entry(row.groups.get(column).cloned().unwrap_or_default()).or_default().push(row);
    }
    rows.into_iter().map(|(name, rows)| (name, observations_of(rows))).collect()
}

/// Von Bertalanffy, Gompertz and logistic on the same rows with the same error, nothing fixed.
fn rank_usual_curves(rows: &[Observation], settings: &FitSettings) -> Vec<Ranked> {
    let plain = FitSettings { fixed: Vec::new(), start: None, ..settings.clone() };
    let fits: Vec<Fit> = [Curve::VonBertalanffy, Curve::Gompertz, Curve::Logistic]
        .into_iter()
        .filter_map(|curve| fit(curve, rows, &plain).ok())
        .collect();
    rank_curves(&fits)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn table() -> LengthAtAgeTable {
        let mut rows = Vec::new();
        for sex in ["female", "male"] {
            let linf = if sex == "female" { 600.0 } else { 500.0 };
            for fish in 0..40u32 {
                let age = f64::from(1 + fish % 10);
                let scatter = f64::from((fish * 29) % 11) - 5.0;
                rows.push(LengthAtAge {
                    fish: None,
                    age,
                    length: linf * (1.0 - (-0.3 * (age + 0.4)).exp()) + scatter,
                    weight: 1.0,
                    groups: vec![sex.to_owned()],
                    row: rows.len() + 2,
                });
            }
        }
        LengthAtAgeTable { group_columns: vec!["sex".to_owned()], rows }
    }

    #[test]
    fn groups_are_told_apart() {
        let resampling = Some(BootstrapSettings { replicates: 50, seed: 1 });
        let study = study_growth(
            Curve::VonBertalanffy,
            &table(),
            Some(0),
            &FitSettings::default(),
            resampling,
            &Progress::new(),
        )
        .unwrap();
        assert_eq!(
            study.groups.iter().map(|g| g.group.as_str()).collect::<Vec<_>>(),
            ["female", "male"]
        );
        let comparison = study.comparison.unwrap();
        let p = |name: &str| {
            comparison.comparisons.iter().find(|c| c.hypothesis == name).and_then(|c| c.p).unwrap()
        };
        assert!(p("same Linf") < 1e-6 && p("same K") > 0.05, "{:?}", comparison.comparisons);
        assert_eq!(study.whole.n, 80);
        assert_eq!(study.ranking.first().map(|r| r.curve), Some("von-bertalanffy"));
        assert!(study.whole.outcome.unwrap().bootstrap.is_some());
    }

    #[test]
    fn rows_of_a_fish_share_a_number() {
        let mut rows = table().rows;
        rows.truncate(3);
        rows[0].fish = Some("A".to_owned());
        rows[2].fish = Some("A".to_owned());
        let fish: Vec<usize> = observations_of(&rows).iter().map(|o| o.fish).collect();
        assert_eq!(fish, [0, 1, 0]);
    }
}
