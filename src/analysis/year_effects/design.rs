//! Reference-coded columns for ages and years, gathered so that no matrix is larger than ages plus years.
//!
//! With V = I + λZZ' and n_f increments of fish f, V⁻¹ = I - λ/(1 + λ n_f) 11' within the fish. So X'V⁻¹X needs only X'X
//! and, for each number of increments, the sum of s s' over the fish that have as many (s: column sums of the fish).

use std::collections::BTreeMap;

use super::{Increment, Scale, YearEffectsError};

/// Sums over the fish that have the same number of increments.
#[derive(Debug, Clone)]
pub(super) struct FishClass {
    pub(super) n_increments: f64,
    pub(super) n_fish: f64,
    /// Sum of s s'.
    pub(super) ss: Vec<f64>,
    /// Sum of s times the sum of y.
    pub(super) sy: Vec<f64>,
    /// Sum of squared sums of y.
    pub(super) yy: f64,
}

/// The gathered sums of a sample.
#[derive(Debug, Clone)]
pub(super) struct Design {
    pub(super) ages: Vec<u32>,
    pub(super) years: Vec<i32>,
    pub(super) n: usize,
    pub(super) n_fish: usize,
    /// Mean of y, taken off before summing so that little is lost by cancellation.
    pub(super) centre: f64,
    pub(super) xx: Vec<f64>,
    pub(super) xy: Vec<f64>,
    pub(super) yy: f64,
    pub(super) classes: Vec<FishClass>,
    /// Increments by year, then age.
    pub(super) counts: Vec<Vec<usize>>,
}

impl Design {
    pub(super) fn new(increments: &[Increment], scale: Scale) -> Result<Self, YearEffectsError> {
        let ages = distinct(increments.iter().map(|increment| increment.age));
        let years = distinct(increments.iter().map(|increment| increment.year));
        match years.as_slice() {
            [] => return Err(YearEffectsError::Empty),
            [year] => return Err(YearEffectsError::OneYear { year: *year }),
            _ => {}
        }
        let p = ages.len() + years.len() - 1;
        if increments.len() <= p {
            return Err(YearEffectsError::TooFew {
                found: increments.len(),
                ages: ages.len(),
                years: years.len(),
            });
        }
        let value = |size: f64| match scale {
            Scale::Log => size.ln(),
            Scale::Raw => size,
        };
        let centre = increments.iter().map(|increment| value(increment.size)).sum::<f64>()
            / increments.len() as f64;
        let mut design = Self {
            n: increments.len(),
            n_fish: 0,
            centre,
            xx: vec![0.0; p * p],
            xy: vec![0.0; p],
            yy: 0.0,
            classes: Vec::new(),
            counts: vec![vec![0; ages.len()]; years.len()],
            ages,
            years,
        };
        let mut by_fish: BTreeMap<usize, Vec<(Vec<usize>, f64)>> = BTreeMap::new();
        for increment in increments {
            let columns = design.count(increment);
            let y = value(increment.size) - centre;
            by_fish.entry(increment.fish).or_default().push((columns, y));
        }
        design.gather(by_fish);
        Ok(design)
    }

    /// Columns.
    pub(super) fn p(&self) -> usize {
        self.ages.len() + self.years.len() - 1
    }

    /// The columns that are 1 for an increment; counts it.
    fn count(&mut self, increment: &Increment) -> Vec<usize> {
        let age = self.ages.partition_point(|age| *age < increment.age);
        let year = self.years.partition_point(|year| *year < increment.year);
        if let Some(count) = self.counts.get_mut(year).and_then(|row| row.get_mut(age)) {
            *count += 1;
        }
        let mut columns = vec![0];
        if age > 0 {
            columns.push(age);
        }
        if year > 0 {
            columns.push(self.ages.len() - 1 + year);
        }
        columns
    }

    fn gather(&mut self, by_fish: BTreeMap<usize, Vec<(Vec<usize>, f64)>>) {
        let p = self.p();
        self.n_fish = by_fish.len();
        let mut classes: BTreeMap<usize, FishClass> = BTreeMap::new();
        let mut sums = vec![0.0; p];
        for rows in by_fish.into_values() {
            let class = classes.entry(rows.len()).or_insert_with(|| FishClass {
                n_increments: rows.len() as f64,
                n_fish: 0.0,
                ss: vec![0.0; p * p],
                sy: vec![0.0; p],
                yy: 0.0,
            });
            let (mut touched, mut total) = (Vec::new(), 0.0);
            for (columns, y) in &rows {
                self.yy += y * y;
                total += y;
                for &i in columns {
                    self.xy[i] += y;
                    if sums[i] == 0.0 {
                        touched.push(i);
                    }
                    sums[i] += 1.0;
                    for &j in columns {
                        self.xx[i * p + j] += 1.0;
                    }
                }
            }
            class.n_fish += 1.0;
            class.yy += total * total;
            for &i in &touched {
                class.sy[i] += sums[i] * total;
                for &j in &touched {
                    class.ss[i * p + j] += sums[i] * sums[j];
                }
            }
            for i in touched {
                sums[i] = 0.0;
            }
        }
        self.classes = classes.into_values().collect();
    }
}

fn distinct<T: Ord>(values: impl Iterator<Item = T>) -> Vec<T> {
    let mut out: Vec<T> = values.collect();
    out.sort();
    out.dedup();
    out
}
