//! Tables of back-calculated lengths: by age, by age at capture, by year class, grand means and increments.

use std::collections::BTreeMap;

use crate::analysis::numerics::distribution::t_quantile;
use crate::analysis::numerics::{mean, standard_deviation};

use super::FishLengths;

/// Lengths at one age over all fish.
#[derive(Debug, Clone, PartialEq)]
pub struct AgeRow {
    /// Age, years: the number of the annulus.
    pub age: usize,
    /// Fish.
    pub n: usize,
    /// Mean length, mm.
    pub mean_mm: f64,
    /// Standard deviation over fish, mm; `None` for one fish.
    pub sd_mm: Option<f64>,
    /// Standard error of the mean, mm; `None` for one fish.
    pub se_mm: Option<f64>,
}

impl AgeRow {
    /// 95 % limits of the mean by the scatter among fish, mm, by Student's t; `None` for one fish.
    pub fn ci95_mm(&self) -> Option<[f64; 2]> {
        let half = t_quantile(0.975, self.n as f64 - 1.0)? * self.se_mm?;
        Some([self.mean_mm - half, self.mean_mm + half])
    }
}

/// Mean length at each age for one group of fish.
#[derive(Debug, Clone, PartialEq)]
pub struct GroupRow<K> {
    /// The group: age at capture, or year class.
    pub group: K,
    /// Fish.
    pub n: usize,
    /// Fish behind each mean.
    pub n_by_age: Vec<usize>,
    /// Mean length at age 1, 2 and so on, mm.
    pub means_mm: Vec<f64>,
}

/// Two means of each age, which differ where year classes do.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct GrandMeans {
    /// Over all fish, mm.
    pub over_fish: Vec<f64>,
    /// Over year classes, each counting once, mm; empty where no year class is known.
    pub over_year_classes: Vec<f64>,
}

/// All tables of a result.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LengthTables {
    /// By age.
    pub by_age: Vec<AgeRow>,
    /// By age at capture.
    pub by_age_at_capture: Vec<GroupRow<usize>>,
    /// By year class; fish without one are left out.
    pub by_year_class: Vec<GroupRow<i16>>,
    /// Grand means.
    pub grand_means: GrandMeans,
    /// Mean growth between annuli over fish, mm; the first from 0 to annulus 1.
    pub increments_mm: Vec<f64>,
    /// Their running sum, mm.
    pub increment_sums_mm: Vec<f64>,
}

/// Makes all tables.
pub fn length_tables(fish: &[FishLengths]) -> LengthTables {
    let by_age = by_age(fish);
    let by_year_class = by_group(fish, |fish| fish.year_class);
    let grand_means = GrandMeans {
        over_fish: by_age.iter().map(|row| row.mean_mm).collect(),
        over_year_classes: over_groups(&by_year_class),
    };
    let increments_mm = increments(fish);
    let increment_sums_mm = increments_mm
        .iter()
        .scan(0.0, |sum, increment| {
            *sum += increment;
            Some(*sum)
        })
        .collect();
    LengthTables {
        by_age,
        by_age_at_capture: by_group(fish, |fish| Some(fish.lengths_mm.len())),
        by_year_class,
        grand_means,
        increments_mm,
        increment_sums_mm,
    }
}

/// The values of column after column, until one is empty.
fn columns(value: impl Fn(usize) -> Vec<f64>) -> impl Iterator<Item = Vec<f64>> {
    (0..).map(value).take_while(|column| !column.is_empty())
}

fn at_age<'a>(
    fish: impl Iterator<Item = &'a FishLengths> + Clone,
) -> impl Iterator<Item = Vec<f64>> {
    columns(move |index| {
        fish.clone().filter_map(|fish| fish.lengths_mm.get(index).copied()).collect()
    })
}

fn by_age(fish: &[FishLengths]) -> Vec<AgeRow> {
    at_age(fish.iter())
        .enumerate()
        .filter_map(|(index, lengths)| {
            let sd_mm = standard_deviation(&lengths);
            Some(AgeRow {
                age: index + 1,
                n: lengths.len(),
                mean_mm: mean(&lengths)?,
                sd_mm,
                se_mm: sd_mm.map(|sd| sd / (lengths.len() as f64).sqrt()),
            })
        })
        .collect()
}

fn by_group<K: Ord + Copy>(
    fish: &[FishLengths],
    group: impl Fn(&FishLengths) -> Option<K>,
) -> Vec<GroupRow<K>> {
    let mut groups: BTreeMap<K, Vec<&FishLengths>> = BTreeMap::new();
    for one in fish {
        if let Some(key) = group(one) {
            groups.entry(key).or_default().push(one);
        }
    }
    groups
        .into_iter()
        .map(|(group, members)| {
            let lengths: Vec<Vec<f64>> = at_age(members.iter().copied()).collect();
            GroupRow {
                group,
                n: members.len(),
                n_by_age: lengths.iter().map(Vec::len).collect(),
                means_mm: lengths.iter().filter_map(|column| mean(column)).collect(),
            }
        })
        .collect()
}

fn over_groups<K>(rows: &[GroupRow<K>]) -> Vec<f64> {
    columns(|index| rows.iter().filter_map(|row| row.means_mm.get(index).copied()).collect())
        .filter_map(|column| mean(&column))
        .collect()
}

fn increments(fish: &[FishLengths]) -> Vec<f64> {
    let grown = |fish: &FishLengths, index: usize| {
        let before = match index.checked_sub(1) {
            Some(before) => *fish.lengths_mm.get(before)?,
            None => 0.0,
        };
        Some(fish.lengths_mm.get(index)? - before)
    };
    columns(|index| fish.iter().filter_map(|fish| grown(fish, index)).collect())
        .filter_map(|column| mean(&column))
        .collect()
}
