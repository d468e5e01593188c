//! Agreement beyond chance: Cohen's kappa, unweighted and weighted by how far the ages part.
//!
//! Sources: Cohen 1960 (Educ. Psychol. Meas. 20:37-46) and 1968 (Psychol. Bull. 70:213-220); both standard errors by
//! Fleiss, Cohen & Everitt 1969 (Psychol. Bull. 72:323-327).

use statrs::function::erf::erfc;

use super::matrix::AgeMatrix;

/// How much a disagreement counts as agreement, by the gap between the ages over the largest gap m.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum KappaWeights {
    /// Equal or not.
    Unweighted,
    /// 1 - gap/m.
    Linear,
    /// 1 - gap²/m².
    Quadratic,
}

impl KappaWeights {
    /// All three.
    pub const ALL: [Self; 3] = [Self::Unweighted, Self::Linear, Self::Quadratic];

    /// The word used in files: `unweighted`, `linear`, `quadratic`.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Unweighted => "unweighted",
            Self::Linear => "linear",
            Self::Quadratic => "quadratic",
        }
    }

    fn weight(self, gap: usize, largest: usize) -> f64 {
        let share = gap as f64 / (largest as f64).max(1.0);
        match self {
            Self::Unweighted => f64::from(u8::from(gap == 0)),
            Self::Linear => 1.0 - share,
            Self::Quadratic => 1.0 - share * share,
        }
    }
}

/// The standard normal quantile at 97.5 %.
const Z_95: f64 = 1.959_963_984_540_054;

/// A kappa with its errors.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Kappa {
    /// The (weighted) share of agreement observed.
    pub observed: f64,
    /// The share expected by chance from the margins.
    pub expected: f64,
    /// Kappa.
    pub estimate: f64,
    /// Large-sample standard error.
    pub se: f64,
    /// 95 % interval by the normal distribution.
    pub ci95: [f64; 2],
    /// Standard error where agreement is by chance alone.
    pub se_null: f64,
    /// Estimate over `se_null`; `None` where that is 0.
    pub z: Option<f64>,
    /// Two-sided p of z.
    pub p: Option<f64>,
}

/// Kappa with standard weights; `None` without fish or where every fish has one and the same age.
pub fn kappa(matrix: &AgeMatrix, weights: KappaWeights) -> Option<Kappa> {
    let largest = matrix.size().saturating_sub(1);
    kappa_with(matrix, |row, column| weights.weight(row.abs_diff(column), largest))
}

/// Kappa with any agreement weights, 1 on the diagonal, given by row and column from 0.
pub fn kappa_with(matrix: &AgeMatrix, weight: impl Fn(usize, usize) -> f64) -> Option<Kappa> {
    let n = matrix.n() as f64;
    let chance = Chance::of(matrix, n, &weight);
    let beyond_chance = 1.0 - chance.expected;
    // One age only: the margins leave nothing that chance would not give.
    if n == 0.0 || beyond_chance <= 1e-12 {
        return None;
    }
    let mut observed = 0.0;
    each_cell(matrix, |row, column, count| observed += weight(row, column) * count / n);
    let estimate = (observed - chance.expected) / beyond_chance;
    let variance = chance.variance(matrix, n, observed, &weight);
    // Rounding can leave a variance of 0 a hair below it.
    let se = (variance.max(0.0) / n).sqrt() / beyond_chance.powi(2);
    let se_null = (chance.null_variance(&weight).max(0.0) / n).sqrt() / beyond_chance;
    let z = (se_null > 0.0).then(|| estimate / se_null);
    Some(Kappa {
        observed,
        expected: chance.expected,
        estimate,
        se,
        ci95: [estimate - Z_95 * se, estimate + Z_95 * se],
        se_null,
        z,
        p: z.and_then(normal_two_sided),
    })
}

/// What the margins give by chance: shares of each age by each reader, and the mean weight of each row and column.
struct Chance {
    rows: Vec<f64>,
    columns: Vec<f64>,
    row_weights: Vec<f64>,
    column_weights: Vec<f64>,
    expected: f64,
}

impl Chance {
    fn of(matrix: &AgeMatrix, n: f64, weight: &impl Fn(usize, usize) -> f64) -> Self {
        let share = |totals: Vec<u64>| -> Vec<f64> {
            totals.iter().map(|count| *count as f64 / n).collect()
        };
        let (rows, columns) = (share(matrix.row_totals()), share(matrix.column_totals()));
        let row_weight = |row: usize| -> f64 {
            columns.iter().enumerate().map(|(column, p)| weight(row, column) * p).sum()
        };
        let column_weight = |column: usize| -> f64 {
            rows.iter().enumerate().map(|(row, p)| weight(row, column) * p).sum()
        };
        let row_weights: Vec<f64> = (0..rows.len()).map(row_weight).collect();
        let column_weights = (0..columns.len()).map(column_weight).collect();
        let expected = rows.iter().zip(&row_weights).map(|(p, weight)| p * weight).sum();
        Self { rows, columns, row_weights, column_weights, expected }
    }

    /// The bracket of the large-sample variance.
    fn variance(
        &self,
        matrix: &AgeMatrix,
        n: f64,
        observed: f64,
        weight: &impl Fn(usize, usize) -> f64,
    ) -> f64 {
        let expected = self.expected;
        let mut sum = 0.0;
        each_cell(matrix, |row, column, count| {
            let by_margins = self.row_weights.get(row).unwrap_or(&0.0)
                + self.column_weights.get(column).unwrap_or(&0.0);
            let part = weight(row, column) * (1.0 - expected) - by_margins * (1.0 - observed);
            sum += count / n * part * part;
        });
        sum - (observed * expected - 2.0 * expected + observed).powi(2)
    }

    /// The bracket of the variance where agreement is by chance alone.
    fn null_variance(&self, weight: &impl Fn(usize, usize) -> f64) -> f64 {
        let mut sum = 0.0;
        for ((row, p_row), row_weight) in self.rows.iter().enumerate().zip(&self.row_weights) {
            let columns = self.columns.iter().enumerate().zip(&self.column_weights);
            for ((column, p_column), column_weight) in columns {
                let part = weight(row, column) - (row_weight + column_weight);
                sum += p_row * p_column * part * part;
            }
        }
        sum - self.expected * self.expected
    }
}

/// P(|Z| >= |z|) for the standard normal.
fn normal_two_sided(z: f64) -> Option<f64> {
    z.is_finite().then(|| erfc(z.abs() / std::f64::consts::SQRT_2))
}

fn each_cell(matrix: &AgeMatrix, mut visit: impl FnMut(usize, usize, f64)) {
    for (row, counts) in matrix.rows().enumerate() {
        for (column, count) in counts.iter().enumerate().filter(|(_, count)| **count > 0) {
            visit(row, column, *count as f64);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn full_agreement_is_one_and_one_age_is_no_value() {
        let matrix = AgeMatrix::from_counts(3, &[vec![4, 0], vec![0, 6]]).unwrap();
        for weights in KappaWeights::ALL {
            let found = kappa(&matrix, weights).unwrap();
            assert!((found.estimate - 1.0).abs() < 1e-12);
            assert!(found.se < 1e-7);
        }
        let one_age = AgeMatrix::from_counts(3, &[vec![4]]).unwrap();
        assert!(kappa(&one_age, KappaWeights::Linear).is_none());
        let nobody = AgeMatrix::from_counts(3, &[vec![0, 0], vec![0, 0]]).unwrap();
        assert!(kappa(&nobody, KappaWeights::Linear).is_none());
    }

    #[test]
    fn with_two_ages_the_weights_do_not_matter() {
        let matrix = AgeMatrix::from_counts(1, &[vec![7, 2], vec![3, 8]]).unwrap();
        let plain = kappa(&matrix, KappaWeights::Unweighted).unwrap();
        assert_eq!(Some(plain), kappa(&matrix, KappaWeights::Linear));
    }
}
