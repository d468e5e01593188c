//! Condition and size structure: relative weight, Fulton's factor, proportional size distribution.
//!
//! Standard-weight equations and length categories are entered with their source by the person who uses them; none is
//! built in.

use crate::analysis::numerics::quantiles::{beta_quantile, normal_quantile};
use crate::domain::units::{GRAMS_PER_POUND, MM_PER_INCH};

/// log10 Ws = intercept + slope log10 TL, in grams and millimetres.
#[derive(Debug, Clone, PartialEq)]
pub struct StandardWeight {
    /// Species.
    pub species: String,
    /// Intercept (g, mm, log10).
    pub intercept: f64,
    /// Slope.
    pub slope: f64,
    /// Shortest total length the equation holds for, mm; a fish of exactly this length counts in.
    pub minimum_mm: f64,
    /// Publication.
    pub source: String,
}

/// Why a condition cannot be worked out. Both values must be finite and above 0.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ConditionError {
    /// A weight or length not above 0.
    #[error("{what} is {found}, but must be above 0: correct the field sheet")]
    NotPositive {
        /// Which value.
        what: &'static str,
        /// The value.
        found: f64,
    },
    /// Length categories that do not rise.
    #[error("length categories must rise, found {lower} mm before {upper} mm: put them in order")]
    NotRising {
        /// The earlier bound.
        lower: f64,
        /// The later bound.
        upper: f64,
    },
}

impl StandardWeight {
    /// Standard weight in grams at a total length in mm.
    pub fn standard_weight_g(&self, length_mm: f64) -> f64 {
        10f64.powf(self.intercept + self.slope * length_mm.log10())
    }

    /// Relative weight 100 W/Ws; `None` below the minimum length (Wege & Anderson 1978, from memory).
    ///
    /// # Errors
    /// [`ConditionError::NotPositive`].
    pub fn relative_weight(
        &self,
        length_mm: f64,
        weight_g: f64,
    ) -> Result<Option<f64>, ConditionError> {
        positive("length", length_mm)?;
        positive("weight", weight_g)?;
        Ok((length_mm >= self.minimum_mm)
            .then(|| 100.0 * weight_g / self.standard_weight_g(length_mm)))
    }

    /// The intercept for pounds and inches: a + b log10 25.4 - log10 453.59237.
    pub fn inch_pound_intercept(&self) -> f64 {
        self.intercept + self.slope * MM_PER_INCH.log10() - GRAMS_PER_POUND.log10()
    }
}

/// Fulton's factor 10^5 W/L³, grams and millimetres.
///
/// # Errors
/// [`ConditionError::NotPositive`].
pub fn fulton_k(length_mm: f64, weight_g: f64) -> Result<f64, ConditionError> {
    positive("length", length_mm)?;
    positive("weight", weight_g)?;
    Ok(1e5 * weight_g / length_mm.powi(3))
}

fn positive(what: &'static str, found: f64) -> Result<(), ConditionError> {
    if found > 0.0 && found.is_finite() {
        Ok(())
    } else {
        Err(ConditionError::NotPositive { what, found })
    }
}

/// Least lengths of the five categories, mm (Gabelhouse 1984); a fish of exactly a bound counts in.
#[derive(Debug, Clone, PartialEq)]
pub struct LengthCategories {
    /// Stock, quality, preferred, memorable, trophy.
    pub bounds_mm: [f64; 5],
    /// Publication.
    pub source: String,
}

/// Names of the categories.
pub const CATEGORY_NAMES: [&str; 5] = ["stock", "quality", "preferred", "memorable", "trophy"];

/// A percentage with its interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Percentage {
    /// Percent.
    pub percent: f64,
    /// Wilson 1927, 95 %.
    pub wilson95: [f64; 2],
    /// Clopper & Pearson 1934, 95 %.
    pub clopper_pearson95: [f64; 2],
}

/// Proportional size distribution of a sample.
#[derive(Debug, Clone, PartialEq)]
pub struct SizeStructure {
    /// Fish measured.
    pub n: usize,
    /// Fish of at least stock, quality, preferred, memorable, trophy length.
    pub at_least: [usize; 5],
    /// Percent of stock-length fish of at least quality, preferred, memorable, trophy length; `None` without stock fish.
    pub psd: Option<[Percentage; 4]>,
    /// Percent of stock-length fish in each step (S-Q, Q-P, P-M, M-T, T), which sum to 100.
    pub increments: Option<[f64; 5]>,
}

/// Counts fish by category.
///
/// # Errors
/// [`ConditionError`]: categories that do not rise, or a length not above 0.
pub fn size_structure(
    lengths_mm: &[f64],
    categories: &LengthCategories,
) -> Result<SizeStructure, ConditionError> {
    for pair in categories.bounds_mm.windows(2) {
        if let [lower, upper] = pair
            && (lower >= upper || lower.is_nan() || upper.is_nan())
        {
            return Err(ConditionError::NotRising { lower: *lower, upper: *upper });
        }
    }
    for length in lengths_mm {
        positive("length", *length)?;
    }
    let at_least =
        categories.bounds_mm.map(|bound| lengths_mm.iter().filter(|l| **l >= bound).count());
    let [stock, quality, preferred, memorable, trophy] = at_least;
    let share = |count: usize| 100.0 * count as f64 / stock as f64;
    let psd = (stock > 0)
        .then(|| {
            Some([
                percentage(quality, stock)?,
                percentage(preferred, stock)?,
                percentage(memorable, stock)?,
                percentage(trophy, stock)?,
            ])
        })
        .flatten();
    let increments = (stock > 0).then(|| {
        [
            share(stock - quality),
            share(quality - preferred),
            share(preferred - memorable),
            share(memorable - trophy),
            share(trophy),
        ]
    });
    Ok(SizeStructure { n: lengths_mm.len(), at_least, psd, increments })
}

/// `count` of `n` in percent with both intervals; `None` when `n` is 0 or less than `count`.
pub fn percentage(count: usize, n: usize) -> Option<Percentage> {
    if n == 0 || count > n {
        return None;
    }
    let (x, total) = (count as f64, n as f64);
    let (p, z) = (x / total, normal_quantile(0.975)?);
    let grown = 1.0 + z * z / total;
    let middle = (p + z * z / (2.0 * total)) / grown;
    let half = z / grown * (p * (1.0 - p) / total + z * z / (4.0 * total * total)).sqrt();
    let low = if count == 0 { 0.0 } else { beta_quantile(0.025, x, total - x + 1.0)? };
    let high = if count == n { 1.0 } else { beta_quantile(0.975, x + 1.0, total - x)? };
    Some(Percentage {
        percent: 100.0 * p,
        wilson95: [100.0 * (middle - half).max(0.0), 100.0 * (middle + half).min(1.0)],
        clopper_pearson95: [100.0 * low, 100.0 * high],
    })
}

/// Mean relative weight within one length category.
#[derive(Debug, Clone, PartialEq)]
pub struct CategoryCondition {
    /// "below stock", or the category the fish have reached.
    pub category: &'static str,
    /// Fish.
    pub n: usize,
    /// Mean relative weight.
    pub mean: f64,
    /// Its standard error; `None` for a single fish.
    pub se: Option<f64>,
}

/// Mean relative weight by length category: a mean over all sizes hides thin large fish behind plump small ones. Fish are
/// (length mm, relative weight); empty categories are left out.
pub fn relative_weight_by_category(
    fish: &[(f64, f64)],
    categories: &LengthCategories,
) -> Vec<CategoryCondition> {
    let reached = |length: f64| categories.bounds_mm.iter().filter(|b| length >= **b).count();
    (0..=5usize)
        .filter_map(|step| {
            let values: Vec<f64> =
                fish.iter().filter(|(length, _)| reached(*length) == step).map(|f| f.1).collect();
            let n = values.len();
            if n == 0 {
                return None;
            }
            let mean = values.iter().sum::<f64>() / n as f64;
            let squares: f64 = values.iter().map(|value| (value - mean).powi(2)).sum();
            let category = step
                .checked_sub(1)
                .and_then(|index| CATEGORY_NAMES.get(index).copied())
                .unwrap_or("below stock");
            let se = (n > 1).then(|| (squares / (n - 1) as f64 / n as f64).sqrt());
            Some(CategoryCondition { category, n, mean, se })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn categories() -> LengthCategories {
        LengthCategories {
            bounds_mm: [250.0, 380.0, 510.0, 630.0, 760.0],
            source: "test".to_owned(),
        }
    }

    #[test]
    fn a_fish_exactly_at_a_bound_counts_in() {
        let found = size_structure(&[250.0, 380.0, 249.9], &categories()).unwrap();
        assert_eq!(found.at_least, [2, 1, 0, 0, 0]);
        assert_eq!(found.increments.unwrap().iter().sum::<f64>(), 100.0);
    }

    #[test]
    fn no_stock_fish_no_value() {
        let found = size_structure(&[100.0], &categories()).unwrap();
        assert!(found.psd.is_none() && found.increments.is_none());
    }

    #[test]
    fn means_keep_to_their_category() {
        let means = relative_weight_by_category(
            &[(240.0, 80.0), (260.0, 90.0), (300.0, 100.0), (520.0, 70.0)],
            &categories(),
        );
        let found: Vec<(&str, usize, f64)> =
            means.iter().map(|m| (m.category, m.n, m.mean)).collect();
        assert_eq!(found, [("below stock", 1, 80.0), ("stock", 2, 95.0), ("preferred", 1, 70.0)]);
        assert_eq!(means[1].se, Some(5.0));
    }

    #[test]
    fn bad_input_is_refused() {
        assert!(fulton_k(0.0, 1.0).is_err());
        let mut wrong = categories();
        wrong.bounds_mm[1] = 200.0;
        assert!(size_structure(&[300.0], &wrong).is_err());
    }
}
