//! What a reader of a fitted curve should know before using it.

use crate::analysis::numerics::distribution::chi_squared_upper;
use crate::analysis::numerics::p_words;
use crate::analysis::numerics::regression::Line;

use super::conversions::von_bertalanffy_of;
use super::fit::Fit;

/// Something that weakens a fit. Limits are common practice, no source.
#[derive(Debug, Clone, PartialEq)]
pub enum Warning {
    /// Fewer than four ages.
    FewAges {
        /// Distinct ages.
        found: usize,
    },
    /// A parameter ended on a guard.
    NotIdentified {
        /// Its name.
        name: &'static str,
        /// Where it ended.
        bound: f64,
    },
    /// The equations for the standard errors are singular.
    Singular,
    /// The search did not end on a minimum.
    NotConverged,
    /// The starts led to different minima; the lowest is reported.
    StartsDisagree {
        /// Starts that reached the lowest.
        agreeing: usize,
        /// Starts followed.
        tried: usize,
    },
    /// The Ford-Walford slope is 1 or more.
    NoAsymptote,
    /// The oldest fish have not reached three quarters of the limiting length.
    AsymptoteNotReached {
        /// Oldest age.
        oldest: f64,
        /// Share of the limiting length the curve has reached by then.
        share: f64,
    },
    /// Few fish are old enough to show the limiting length.
    FewOldFish {
        /// Fish at ages where the curve has passed three quarters of it.
        found: usize,
    },
    /// The limiting length lies far above the largest fish.
    LargeLinf {
        /// Limiting length.
        linf: f64,
        /// Largest length.
        largest: f64,
    },
    /// Two parameters can hardly be told apart.
    HighCorrelation {
        /// One.
        first: &'static str,
        /// The other.
        second: &'static str,
        /// Their correlation.
        correlation: f64,
    },
    /// Some fish enter more than once.
    RepeatedFish {
        /// Rows.
        rows: usize,
        /// Fish.
        fish: usize,
    },
    /// Lengths scatter more at some ages than at others.
    UnevenScatter {
        /// Probability of so uneven a scatter by chance.
        p: f64,
    },
    /// The seasonal wave would shrink fish.
    ShrinkingSeason {
        /// The amplitude C.
        amplitude: f64,
    },
}

impl Warning {
    /// One plain sentence: what was found and what to do.
    pub fn message(&self) -> String {
        match self {
            Self::FewAges { found } => {
                format!("only {found} ages: a curve wants at least 4, so read its parameters as a summary of these ages alone")
            }
            Self::NotIdentified { name, bound } => {
                format!("{name} is not identified: it ran to its guard at {bound:.4}; fix it, use a simpler curve or add ages")
            }
            Self::Singular => {
                "standard errors do not exist: the data cannot tell the parameters apart; fix one or use a simpler curve".to_owned()
            }
            Self::NotConverged => "the search did not end on a minimum: do not use these values".to_owned(),
            Self::StartsDisagree { agreeing, tried } => {
                format!("only {agreeing} of {tried} starts reached the best fit: compare with the profile intervals")
            }
            Self::NoAsymptote => {
                "length does not level off from year to year (Ford-Walford slope 1 or more): the limiting length is a guess".to_owned()
            }
            Self::AsymptoteNotReached { oldest, share } => {
                format!("at the oldest age ({oldest}) the curve has reached {:.0} % of its limiting length, less than 75 %: older fish are needed", 100.0 * share)
            }
            Self::FewOldFish { found } => {
                format!("only {found} fish are at ages where the curve has passed 75 % of its limiting length: they alone carry it")
            }
            Self::LargeLinf { linf, largest } => {
                format!("the limiting length {linf:.1} is more than 1.5 times the largest fish ({largest:.1}): do not read it as a size fish reach")
            }
            Self::HighCorrelation { first, second, correlation } => {
                format!("{first} and {second} are correlated at {correlation:.4}: compare curves, not these parameters alone")
            }
            Self::RepeatedFish { rows, fish } => {
                format!("{rows} rows come from {fish} fish: standard errors treat them as independent and are too small; use the bootstrap, which resamples whole fish")
            }
            Self::UnevenScatter { p } => {
                format!("scatter changes along the curve ({}), so Wald and profile limits are too narrow (in invented lakes of that kind they held the truth in 87 to 91 of 100): use the limits with all errors, resampling of fish, or multiplicative error", p_words(*p))
            }
            Self::ShrinkingSeason { amplitude } => {
                format!("seasonal amplitude C = {amplitude:.2} is above 1, so the curve shrinks in winter: sample more months or use the plain curve")
            }
        }
    }
}

/// Warnings on the data and on the shape of a finished fit.
pub(super) fn of_fit(fit: &Fit, no_asymptote: bool) -> Vec<Warning> {
    let mut out = Vec::new();
    let sample = &fit.sample;
    let n_ages = sample.cells.ages.len();
    if n_ages < 4 {
        out.push(Warning::FewAges { found: n_ages });
    }
    if !fit.converged {
        out.push(Warning::NotConverged);
    }
    if no_asymptote {
        out.push(Warning::NoAsymptote);
    }
    for parameter in fit.parameters.iter().filter(|parameter| parameter.on_bound) {
        out.push(Warning::NotIdentified { name: parameter.name, bound: parameter.estimate });
    }
    if fit.covariance.is_none() && out.iter().all(|w| !matches!(w, Warning::NotIdentified { .. })) {
        out.push(Warning::Singular);
    }
    if fit.starts_tried > 1 && fit.starts_agreeing < 2 {
        out.push(Warning::StartsDisagree {
            agreeing: fit.starts_agreeing,
            tried: fit.starts_tried,
        });
    }
    of_asymptote(fit, &mut out);
    of_correlation(fit, &mut out);
    if sample.n_fish < sample.n {
        out.push(Warning::RepeatedFish { rows: sample.n, fish: sample.n_fish });
    }
    out.extend(uneven_scatter(fit));
    if let Some(c) = fit.parameters.iter().find(|parameter| parameter.name == "C")
        && c.estimate.abs() > 1.0
    {
        out.push(Warning::ShrinkingSeason { amplitude: c.estimate });
    }
    out
}

/// Squared residuals on fitted lengths (Koenker's form of Breusch & Pagan 1979, from memory), at 1 in 100.
fn uneven_scatter(fit: &Fit) -> Option<Warning> {
    let row = fit.row();
    let is_single = fit.sample.rows.iter().all(|(_, _, weight)| *weight == 1.0);
    let (fitted, squares): (Vec<f64>, Vec<f64>) = fit
        .sample
        .rows
        .iter()
        .filter_map(|(cell, observed, _)| {
            let length = fit.curve.value(*fit.sample.cells.ages.get(*cell as usize)?, &row);
            Some((length, (observed - fit.error.response(length)).powi(2)))
        })
        .unzip();
    let r_squared = Line::fit(&fitted, &squares).ok().filter(|_| is_single)?.r_squared?;
    let p = chi_squared_upper(fitted.len() as f64 * r_squared.max(0.0), 1.0)?;
    (p < 0.01).then_some(Warning::UnevenScatter { p })
}

fn of_asymptote(fit: &Fit, out: &mut Vec<Warning>) {
    let row = fit.row();
    let linf = match von_bertalanffy_of(fit.curve, &row) {
        Some(found) => Some(found.linf),
        None => fit.curve.asymptote(&row),
    };
    let Some(linf) = linf.filter(|linf| *linf > 0.0) else {
        if !out.contains(&Warning::NoAsymptote) {
            out.push(Warning::NoAsymptote);
        }
        return;
    };
    let largest = fit.sample.largest;
    if linf > 1.5 * largest {
        out.push(Warning::LargeLinf { linf, largest });
    }
    let (_, oldest) = fit.sample.cells.age_range();
    let share = fit.curve.value(oldest, &row) / linf;
    if share < 0.75 {
        out.push(Warning::AsymptoteNotReached { oldest, share });
        return;
    }
    let old: usize = fit
        .sample
        .rows
        .iter()
        .filter(|(cell, _, _)| {
            let age = fit.sample.cells.ages.get(*cell as usize).copied().unwrap_or(0.0);
            fit.curve.value(age, &row) >= 0.75 * linf
        })
        .count();
    if old < 5 && fit.sample.rows.iter().all(|(_, _, weight)| *weight == 1.0) {
        out.push(Warning::FewOldFish { found: old });
    }
}

fn of_correlation(fit: &Fit, out: &mut Vec<Warning>) {
    let free: Vec<&'static str> =
        fit.parameters.iter().filter(|p| !p.is_fixed).map(|p| p.name).collect();
    for (i, first) in free.iter().enumerate() {
        for (j, second) in free.iter().enumerate().skip(i + 1) {
            if let Some(correlation) = fit.correlation(i, j).filter(|r| r.abs() > 0.99) {
                out.push(Warning::HighCorrelation { first, second, correlation });
            }
        }
    }
}
