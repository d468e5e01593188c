//! The growth index of one water over the years.
//!
//! The line is that of ordinary least squares through one index a year, with Student's t on n - 2 years; common practice,
//! no source. It says whether growth rose or fell against the standard, not why.

use super::numerics::regression::Line;

/// Years a line needs.
pub const FEWEST_YEARS: usize = 3;

/// How the growth index of a water changed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WaterTrend {
    /// Change of the index, mm a year.
    pub slope_mm_per_year: f64,
    /// Its standard error.
    pub slope_se: f64,
    /// Its 95 % interval.
    pub ci95: [f64; 2],
    /// Two-sided probability of a slope as steep where there is none; `None` where all points lie on the line.
    pub p: Option<f64>,
}

/// The trend through (year, index mm) pairs; `None` for fewer than [`FEWEST_YEARS`] different years.
pub fn water_trend(years: &[(i16, f64)]) -> Option<WaterTrend> {
    if years.len() < FEWEST_YEARS {
        return None;
    }
    let x: Vec<f64> = years.iter().map(|(year, _)| f64::from(*year)).collect();
    let y: Vec<f64> = years.iter().map(|(_, index)| *index).collect();
    let line = Line::fit(&x, &y).ok()?;
    Some(WaterTrend {
        slope_mm_per_year: line.slope,
        slope_se: line.slope_se,
        ci95: line.limits95()?.slope,
        p: line.slope_p(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: x = -1, 0, 1 about 2020, y = 0, 3, 3: slope 1.5, residuals -0.5, 1, -0.5, their sum of squares 1.5 on one
    /// degree of freedom; t(0.975, 1) = 12.7062 (any table of Student's t).
    #[test]
    fn three_years_give_a_wide_interval() {
        let trend = water_trend(&[(2019, 0.0), (2020, 3.0), (2021, 3.0)]).unwrap();
        assert!((trend.slope_mm_per_year - 1.5).abs() < 1e-12);
        let half = 12.706_205 * (1.5_f64 / 2.0).sqrt();
        assert!((trend.ci95[0] - (1.5 - half)).abs() < 1e-4, "{trend:?}");
        assert!((trend.ci95[1] - (1.5 + half)).abs() < 1e-4, "{trend:?}");
    }

    #[test]
    fn fewer_years_have_no_trend() {
        assert_eq!(water_trend(&[(2019, 0.0), (2020, 3.0)]), None);
        assert_eq!(water_trend(&[(2019, 0.0), (2019, 3.0), (2019, 1.0)]), None);
    }
}
