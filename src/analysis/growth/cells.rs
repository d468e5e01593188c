//! Lengths gathered by age, so that a fit visits each age once however many fish there are.

use super::GrowthError;

/// One length at one age. Rows of one fish carry the same `fish` and are resampled together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Observation {
    /// Age, years.
    pub age: f64,
    /// Length, in any one unit.
    pub length: f64,
    /// Weight in the sum of squares: 1, or the number of fish behind a mean.
    pub weight: f64,
    /// Which fish, any numbering.
    pub fish: usize,
}

impl Observation {
    /// One fish seen once.
    pub const fn single(age: f64, length: f64, fish: usize) -> Self {
        Self { age, length, weight: 1.0, fish }
    }
}

/// How lengths scatter about the curve.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum ErrorModel {
    /// Normal with one SD at all ages: least squares on lengths.
    #[default]
    Additive,
    /// Log-normal, the same share at all ages: least squares on their logarithms.
    Multiplicative,
}

impl ErrorModel {
    /// The command-line word.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Additive => "additive",
            Self::Multiplicative => "multiplicative",
        }
    }

    /// The value for a word.
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::Additive, Self::Multiplicative].into_iter().find(|model| model.word() == word)
    }

    /// A length on the scale that is fitted.
    pub(super) fn response(self, length: f64) -> f64 {
        match self {
            Self::Additive => length,
            Self::Multiplicative => length.ln(),
        }
    }
}

/// Total weight and weighted mean response at each distinct age.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Cells {
    pub(super) ages: Vec<f64>,
    pub(super) weights: Vec<f64>,
    pub(super) means: Vec<f64>,
    /// Sum of squares of the responses about the mean of their age.
    pub(super) within: f64,
}

/// A checked sample, ready for fitting and resampling.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Sample {
    pub(super) cells: Cells,
    pub(super) n: usize,
    pub(super) n_fish: usize,
    pub(super) largest: f64,
    /// Sum of the logarithms of the weights, for the likelihood.
    pub(super) log_weights: f64,
    /// (cell, response, weight), rows of one fish together.
    pub(super) rows: Vec<(u32, f64, f64)>,
    /// Where each fish's rows end.
    pub(super) fish_ends: Vec<u32>,
}

impl Sample {
    /// Checks and gathers observations.
    pub(crate) fn new(
        observations: &[Observation],
        error: ErrorModel,
    ) -> Result<Self, GrowthError> {
        for (index, observation) in observations.iter().enumerate() {
            check(index, observation)?;
        }
        let mut ages: Vec<f64> = observations.iter().map(|observation| observation.age).collect();
        ages.sort_by(f64::total_cmp);
        ages.dedup();
        let mut sorted: Vec<&Observation> = observations.iter().collect();
        sorted.sort_by_key(|observation| observation.fish);
        let (mut rows, mut fish_ends) = (Vec::with_capacity(sorted.len()), Vec::new());
        let mut last = None;
        for observation in sorted {
            if last.is_some_and(|fish| fish != observation.fish) {
                fish_ends.push(rows.len() as u32);
            }
            last = Some(observation.fish);
            let cell = ages.partition_point(|age| *age < observation.age) as u32;
            rows.push((cell, error.response(observation.length), observation.weight));
        }
        if !rows.is_empty() {
            fish_ends.push(rows.len() as u32);
        }
        Ok(Self {
            n: observations.len(),
            n_fish: fish_ends.len(),
            largest: observations.iter().map(|o| o.length).fold(0.0, f64::max),
            log_weights: observations.iter().map(|o| o.weight.ln()).sum(),
            cells: Cells::gather(ages, &rows),
            rows,
            fish_ends,
        })
    }

    /// The rows of fish `index`.
    pub(super) fn fish_rows(&self, index: usize) -> &[(u32, f64, f64)] {
        let end = self.fish_ends.get(index).map_or(0, |end| *end as usize);
        let start = index
            .checked_sub(1)
            .and_then(|before| self.fish_ends.get(before))
            .map_or(0, |start| *start as usize);
        self.rows.get(start..end).unwrap_or(&[])
    }
}

fn check(index: usize, observation: &Observation) -> Result<(), GrowthError> {
    let problem = if !observation.age.is_finite() || observation.age < 0.0 {
        Some(("age", observation.age))
    } else if !(observation.length.is_finite() && observation.length > 0.0) {
        Some(("length", observation.length))
    } else if !(observation.weight.is_finite() && observation.weight > 0.0) {
        Some(("weight", observation.weight))
    } else {
        None
    };
    problem.map_or(Ok(()), |(what, found)| {
        Err(GrowthError::BadObservation { position: index + 1, what, found })
    })
}

impl Cells {
    fn gather(ages: Vec<f64>, rows: &[(u32, f64, f64)]) -> Self {
        let n = ages.len();
        let (mut weights, mut means) = (vec![0.0; n], vec![0.0; n]);
        for &(cell, response, weight) in rows {
            weights[cell as usize] += weight;
            means[cell as usize] += weight * response;
        }
        for (mean, weight) in means.iter_mut().zip(&weights) {
            *mean /= weight;
        }
        let within = rows
            .iter()
            .map(|&(cell, response, weight)| weight * (response - means[cell as usize]).powi(2))
            .sum();
        Self { ages, weights, means, within }
    }

    /// Youngest and oldest age.
    pub(super) fn age_range(&self) -> (f64, f64) {
        (
            self.ages.first().copied().unwrap_or(f64::NAN),
            self.ages.last().copied().unwrap_or(f64::NAN),
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_of_a_fish_stay_together() {
        let observations = [
            Observation::single(1.0, 100.0, 7),
            Observation::single(1.0, 120.0, 3),
            Observation::single(2.0, 200.0, 7),
        ];
        let sample = Sample::new(&observations, ErrorModel::Additive).unwrap();
        assert_eq!(sample.n_fish, 2);
        assert_eq!(sample.fish_rows(0), [(0, 120.0, 1.0)]);
        assert_eq!(sample.fish_rows(1), [(0, 100.0, 1.0), (1, 200.0, 1.0)]);
        assert_eq!(sample.cells.means, [110.0, 200.0]);
        assert_eq!(sample.cells.within, 200.0);
    }

    #[test]
    fn a_bad_row_is_named() {
        let bad = [Observation::single(1.0, 100.0, 0), Observation::single(2.0, -1.0, 1)];
        let message = Sample::new(&bad, ErrorModel::Additive).unwrap_err().to_string();
        assert!(message.contains("row 2") && message.contains("length"), "{message}");
    }
}
