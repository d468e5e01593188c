//! Where to start a fit: the Ford-Walford line, and a grid on which the limiting length is solved for.

use super::cells::{ErrorModel, Sample};
use super::conversions::VonBertalanffy;
use super::curve::{Curve, MAX_PARAMETERS, Row};
use super::ford_walford::{ford_walford, line};

/// Starts from the grid that are followed up.
const KEPT: usize = 6;

/// Mean lengths and weights by age, in length units whatever the error model.
struct Means {
    ages: Vec<f64>,
    lengths: Vec<f64>,
    weights: Vec<f64>,
}

/// All starts worth following, fixed parameters at their values. Also tells whether Ford-Walford found no asymptote.
pub(super) fn starts(
    curve: Curve,
    error: ErrorModel,
    sample: &Sample,
    fixed: &[Option<f64>; MAX_PARAMETERS],
) -> (Vec<Row>, bool) {
    let means = Means {
        ages: sample.cells.ages.clone(),
        lengths: match error {
            ErrorModel::Additive => sample.cells.means.clone(),
            ErrorModel::Multiplicative => sample.cells.means.iter().map(|m| m.exp()).collect(),
        },
        weights: sample.cells.weights.clone(),
    };
    let mut out = match curve {
        Curve::Francis { .. } => grid(Curve::VonBertalanffy, &means, &[None; MAX_PARAMETERS])
            .iter()
            .filter_map(|row| VonBertalanffy { linf: row[0], k: row[1], t0: row[2] }.to_form(curve))
            .collect(),
        _ => grid(curve, &means, fixed),
    };
    let (walford, no_asymptote) = walford_starts(curve, &means, sample.largest);
    out.extend(walford);
    for row in &mut out {
        for (value, given) in row.iter_mut().zip(fixed) {
            if let Some(given) = given {
                *value = *given;
            }
        }
    }
    (out, no_asymptote)
}

/// The best points of a grid over the shape parameters, the first parameter solved for: every curve but the Francis
/// form is linear in it, so that it takes two values of the curve to know them all.
fn grid(curve: Curve, means: &Means, fixed: &[Option<f64>; MAX_PARAMETERS]) -> Vec<Row> {
    let axes: Vec<Vec<f64>> = (1..curve.n_parameters())
        .map(|index| match fixed[index] {
            Some(value) => vec![value],
            None => curve.parameter_names().get(index).map_or(vec![0.0], |name| axis(name, means)),
        })
        .collect();
    let total: usize = axes.iter().map(Vec::len).product();
    let mut scored: Vec<(f64, Row)> = (0..total)
        .filter_map(|mut number| {
            let mut row = [0.0; MAX_PARAMETERS];
            for (index, axis) in axes.iter().enumerate() {
                row[index + 1] = axis[number % axis.len()];
                number /= axis.len();
            }
            solve_first(curve, means, row, fixed[0])
        })
        .collect();
    scored.sort_by(|a, b| a.0.total_cmp(&b.0));
    scored.truncate(KEPT);
    scored.into_iter().map(|(_, row)| row).collect()
}

fn axis(name: &str, means: &Means) -> Vec<f64> {
    let youngest = means.ages.first().copied().unwrap_or(0.0);
    let oldest = means.ages.last().copied().unwrap_or(1.0).max(1e-3);
    let steps = |n: usize| (0..n).map(move |i| i as f64 / (n - 1) as f64);
    match name {
        "K" => steps(18).map(|share| 0.05 / oldest * 600f64.powf(share)).collect(),
        "t0" => {
            let low = (youngest - 0.6 * oldest).max(-9.9);
            let high = youngest - 0.02 * (oldest - youngest).max(0.1);
            steps(10).map(|share| low + share * (high - low)).collect()
        }
        "ti" => {
            let low = youngest - 0.3 * oldest;
            steps(12).map(|share| low + share * (oldest - low)).collect()
        }
        "L0" => {
            let smallest = means.lengths.iter().copied().fold(f64::INFINITY, f64::min);
            steps(6).map(|share| smallest * (share - 0.1)).collect()
        }
        "C" => vec![0.2, 0.7],
        "ts" => vec![0.05, 0.3, 0.55, 0.8],
        "d" => vec![0.1, 0.6, 1.2, 2.0, 4.0],
        _ => vec![0.0],
    }
}

/// The weighted least-squares value of the first parameter, with the sum of squares it leaves.
fn solve_first(
    curve: Curve,
    means: &Means,
    mut row: Row,
    fixed: Option<f64>,
) -> Option<(f64, Row)> {
    let (mut top, mut bottom) = (0.0, 0.0);
    let mut lines = Vec::with_capacity(means.ages.len());
    for ((&age, &length), &weight) in means.ages.iter().zip(&means.lengths).zip(&means.weights) {
        row[0] = 0.0;
        let base = curve.value(age, &row);
        row[0] = 1.0;
        let slope = curve.value(age, &row) - base;
        top += weight * slope * (length - base);
        bottom += weight * slope * slope;
        lines.push((base, slope, length, weight));
    }
    let first = fixed.unwrap_or(top / bottom);
    if !(first > 0.0 && first.is_finite()) {
        return None;
    }
    row[0] = first;
    let rss: f64 = lines
        .iter()
        .map(|(base, slope, length, weight)| weight * (length - base - slope * first).powi(2))
        .sum();
    rss.is_finite().then_some((rss, row))
}

/// Nine starts about the Ford-Walford values (0.8, 1 and 1.25 times Linf and K).
fn walford_starts(curve: Curve, means: &Means, largest: f64) -> (Vec<Row>, bool) {
    let (ages, lengths) = whole_year_means(means);
    let walford = ford_walford(&ages, &lengths);
    let (linf, k) = match walford.and_then(|found| found.linf.zip(found.k)) {
        Some(found) => found,
        // Without an asymptote: common practice, no source.
        None => (1.05 * largest, 0.3),
    };
    let mut out = Vec::with_capacity(9);
    for linf_factor in [0.8, 1.0, 1.25] {
        for k_factor in [0.8, 1.0, 1.25] {
            out.extend(shape_start(curve, means, linf * linf_factor, k * k_factor));
        }
    }
    (out, walford.is_some_and(|found| found.linf.is_none()))
}

fn shape_start(curve: Curve, means: &Means, linf: f64, k: f64) -> Option<Row> {
    let below = |share: fn(f64) -> f64| -> Vec<(f64, f64)> {
        means
            .ages
            .iter()
            .zip(&means.lengths)
            .filter(|(_, length)| **length < linf && **length > 0.0)
            .map(|(age, length)| (*age, share(*length / linf)))
            .collect()
    };
    let sigmoid = |points: Vec<(f64, f64)>| {
        let (slope, intercept) = line(&points)?;
        (slope < 0.0).then(|| [linf, -slope, -intercept / slope, 2.0, 0.0])
    };
    match curve {
        Curve::Gompertz => sigmoid(below(|share| (-share.ln()).ln())),
        Curve::Logistic | Curve::Richards => sigmoid(below(|share| (1.0 / share - 1.0).ln())),
        _ => {
            let points = below(|share| (-share).ln_1p());
            let t0 = points.iter().map(|(age, log)| age + log / k).sum::<f64>()
                / points.len().max(1) as f64;
            let mut row = VonBertalanffy { linf, k, t0 }.to_form(curve)?;
            if curve == Curve::Somers {
                (row[3], row[4]) = (0.3, 0.3);
            }
            Some(row)
        }
    }
}

/// Means over fish of one whole year of age.
fn whole_year_means(means: &Means) -> (Vec<f64>, Vec<f64>) {
    let mut years: Vec<(f64, f64, f64)> = Vec::new();
    for ((&age, &length), &weight) in means.ages.iter().zip(&means.lengths).zip(&means.weights) {
        let year = age.floor();
        match years.last_mut() {
            Some(last) if last.0 == year => {
                last.1 += weight * length;
                last.2 += weight;
            }
            _ => years.push((year, weight * length, weight)),
        }
    }
    years.into_iter().map(|(year, sum, weight)| (year, sum / weight)).unzip()
}
