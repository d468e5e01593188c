//! Which pairs bend a line, and whether its residuals behave.

use super::NumericsError;
use super::distribution::chi_squared_upper;
use super::regression::Line;

/// How one pair stands to the line (Cook 1977; Belsley, Kuh & Welsch 1980).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PairDiagnostics {
    /// Leverage h = 1/n + (x - mean)^2/Sxx.
    pub leverage: f64,
    /// Internally studentised residual; `None` where the line fits exactly or the pair alone decides it.
    pub internally_studentised: Option<f64>,
    /// Externally studentised residual; `None` also for fewer than 4 pairs.
    pub externally_studentised: Option<f64>,
    /// Cook's distance; `None` with the internally studentised residual.
    pub cooks_distance: Option<f64>,
    /// Worth a look: externally studentised beyond 3, leverage beyond 2 x 2/n, or Cook's distance beyond 4/n
    /// (common practice, no source). Never a reason to remove by itself.
    pub worth_a_look: bool,
}

/// Diagnostics of each pair of a fitted line.
pub fn line_diagnostics(line: &Line, x: &[f64], y: &[f64]) -> Vec<PairDiagnostics> {
    let n = line.n as f64;
    x.iter()
        .zip(line.residuals(x, y))
        .map(|(x, e)| {
            let leverage = 1.0 / n + (x - line.x_mean).powi(2) / line.sxx;
            let room = 1.0 - leverage;
            let has_room = room > 1e-12;
            let internally_studentised =
                (has_room && line.residual_sd > 0.0).then(|| e / (line.residual_sd * room.sqrt()));
            let without = (line.rss - e * e / room) / (n - 3.0);
            let externally_studentised =
                (has_room && line.n > 3 && without > 0.0).then(|| e / (without * room).sqrt());
            let cooks_distance = internally_studentised.map(|r| r * r * leverage / (2.0 * room));
            let beyond = |value: Option<f64>, limit: f64| value.is_some_and(|v| v.abs() > limit);
            PairDiagnostics {
                leverage,
                internally_studentised,
                externally_studentised,
                cooks_distance,
                worth_a_look: beyond(externally_studentised, 3.0)
                    || leverage > 4.0 / n
                    || beyond(cooks_distance, 4.0 / n),
            }
        })
        .collect()
}

/// A test of residual spread changing with x.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BreuschPagan {
    /// Lagrange multiplier, chi-square with 1 degree of freedom.
    pub lm: f64,
    /// P(chi-square >= lm).
    pub p: f64,
}

/// The Breusch-Pagan test in Koenker's studentised form (Koenker 1981, J. Econometrics 17:107-112): n times R
/// squared of the squared residuals on x.
///
/// # Errors
/// As [`Line::fit`]; [`NumericsError::NoSpread`] where all squared residuals are alike.
pub fn breusch_pagan(line: &Line, x: &[f64], y: &[f64]) -> Result<BreuschPagan, NumericsError> {
    let squares: Vec<f64> = line.residuals(x, y).iter().map(|e| e * e).collect();
    let r_squared = Line::fit(x, &squares)?.r_squared.ok_or(NumericsError::NoSpread)?;
    let lm = x.len() as f64 * r_squared.max(0.0);
    Ok(BreuschPagan { lm, p: chi_squared_upper(lm, 1.0).ok_or(NumericsError::NoSpread)? })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn leverages_add_up_to_the_number_of_coefficients() {
        let (x, y) = ([1.0, 2.0, 3.0, 9.0], [1.0, 2.5, 2.0, 8.0]);
        let line = Line::fit(&x, &y).unwrap();
        let pairs = line_diagnostics(&line, &x, &y);
        let total: f64 = pairs.iter().map(|pair| pair.leverage).sum();
        assert!((total - 2.0).abs() < 1e-12);
    }

    #[test]
    fn a_pair_far_off_is_worth_a_look() {
        let x: Vec<f64> = (0..20).map(f64::from).collect();
        let mut y: Vec<f64> = x.iter().map(|x| 2.0 * x + 0.1 * (x * 7.0).sin()).collect();
        y[10] += 5.0;
        let line = Line::fit(&x, &y).unwrap();
        let pairs = line_diagnostics(&line, &x, &y);
        let seen: Vec<usize> = (0..20).filter(|i| pairs[*i].worth_a_look).collect();
        assert_eq!(seen, [10]);
    }
}
