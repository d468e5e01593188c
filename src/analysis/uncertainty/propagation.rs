//! The whole propagation: limits with all sources together, and the share of each by itself.

use rayon::prelude::*;

use crate::analysis::back_calculation::{Intercept, Method};
use crate::analysis::growth::{Fit, Observation, Refit, Row, Support, fit, supports};
use crate::analysis::numerics::bootstrap::percentile;
use crate::analysis::numerics::distribution::t_quantile;
use crate::analysis::numerics::splitmix::SplitMix64;
use crate::domain::progress::{Progress, Stopped};

use super::UncertaintyError;
use super::inputs::{CurveRows, ErrorInputs, Scope, Source, UncertainFish};
use super::perturbed::{On, SoundFish};
use super::propagated::{
    CurveWanted, Propagated, Settings, SourceShare, UncertainAge, UncertainParameter,
};
use super::replicate::{Drawn, Material, refitted};
use super::shares::{shares, variance};
use super::states::states;

/// Fewest replicates from which limits are given.
const LEAST_REPLICATES: usize = 100;

/// Carries errors from marks to lengths at age and to a curve. Pure: the same seed gives the same result on any number of
/// threads.
///
/// # Errors
/// [`UncertaintyError`]: no sound fish, a method that cannot be used on them, too few replicates, or a stop.
pub fn propagate(
    fish: &[UncertainFish],
    method: &Method,
    errors: &ErrorInputs,
    wanted: Option<&CurveWanted>,
    settings: Settings,
    progress: &Progress,
) -> Result<Propagated, UncertaintyError> {
    if settings.replicates < LEAST_REPLICATES {
        let (found, least) = (settings.replicates, LEAST_REPLICATES);
        return Err(UncertaintyError::TooFewReplicates { found, least });
    }
    let sound: Vec<SoundFish> = fish.iter().filter_map(|one| SoundFish::of(one).ok()).collect();
    if sound.is_empty() {
        return Err(UncertaintyError::NoFish);
    }
    let material = Material {
        oldest: sound.iter().map(SoundFish::oldest).max().unwrap_or(0),
        n_groups: fish.iter().map(|one| one.calibration_group + 1).max().unwrap_or(1),
        rows: wanted.map_or(CurveRows::LastAnnulus, |wanted| wanted.rows),
        fish: &sound,
        method,
        errors,
    };
    let base = material.draw(On::default(), &mut SplitMix64::new(settings.seed))?;
    let (first, curve_error) = match wanted.map(|wanted| first_fit(wanted, &base)) {
        None => (None, None),
        Some(Ok(fit)) => (Some(fit), None),
        Some(Err(reason)) => (None, Some(reason)),
    };
    let refit = first.as_ref().map(Refit::new);
    let states = states(&material, settings.scope);
    let joint: Vec<Source> =
        states.iter().filter(|state| state.is_joint(settings.scope)).map(|s| s.source).collect();
    let alone: Vec<Source> =
        states.iter().filter(|state| state.is_drawn).map(|s| s.source).collect();
    progress.set_total(settings.replicates * (alone.len() + 1));
    let run = |sources: &[Source], number: u64| {
        let seed = settings.seed.wrapping_add(number.wrapping_mul(0x9E37_79B9));
        runs(&material, refit.as_ref(), On::of(sources), settings.replicates, seed, progress)
    };
    let together = run(&joint, 0)?;
    let apart: Vec<(Source, Run)> = alone
        .iter()
        .zip(1..)
        .map(|(source, number)| Ok((*source, run(&[*source], number)?)))
        .collect::<Result<_, Stopped>>()?;
    let names: Vec<(usize, &'static str, f64)> = first.as_ref().map_or_else(Vec::new, |fit| {
        let free = fit.parameters.iter().enumerate().filter(|(_, one)| !one.is_fixed);
        free.map(|(index, one)| (index, one.name, one.estimate)).collect()
    });
    let held = first.as_ref().map_or_else(Vec::new, |fit| supports(fit, &base.rows));
    let parameters: Vec<UncertainParameter> = names
        .into_iter()
        .enumerate()
        .map(|(place, (index, name, estimate))| {
            let at = |row: &Row| row.get(index).copied().unwrap_or(f64::NAN);
            let values: Vec<f64> = together.rows.iter().flatten().map(at).collect();
            let alone = apart.iter().filter_map(|(source, run)| {
                Some((*source, variance(run.rows.iter().flatten().map(at))?))
            });
            UncertainParameter {
                name,
                estimate,
                se: variance(values.iter().copied()).map(f64::sqrt),
                ci95: match settings.scope {
                    Scope::Population => {
                        held.get(place).and_then(|held| stretched(estimate, values, *held))
                    }
                    Scope::TheseFish => stretched(estimate, values, NOTHING_TO_MEND),
                },
                shares: shares(&alone.collect::<Vec<_>>()),
            }
        })
        .collect();
    let by_age = ages(&material, &base, &together, &apart, settings.scope);
    let sources = states
        .into_iter()
        .map(|state| SourceShare {
            source: state.source,
            share: state.is_drawn.then(|| over_all(state.source, &parameters, &by_age)).flatten(),
            note: state.note,
        })
        .collect();
    Ok(Propagated {
        replicates: settings.replicates,
        seed: settings.seed,
        scope: settings.scope,
        n_fish: sound.len(),
        failed_relations: settings.replicates - together.means.len(),
        failed_curves: together.rows.iter().filter(|row| first.is_some() && row.is_none()).count(),
        by_age,
        parameters,
        curve_error,
        sources,
        other_hypothesis: other_hypothesis(&material, &base, settings.seed),
    })
}

/// The same fish by the regression of the other direction.
fn other_hypothesis(material: &Material<'_>, base: &Drawn, seed: u64) -> Option<(usize, f64)> {
    let other = match material.method {
        Method::FraserLee(Intercept::Fitted(_)) | Method::BodyProportional => {
            Method::ScaleProportional
        }
        Method::ScaleProportional => Method::BodyProportional,
        _ => return None,
    };
    let other = Material { method: &other, ..*material };
    let drawn = other.draw(On::default(), &mut SplitMix64::new(seed)).ok()?;
    let gaps = drawn.means_mm.iter().zip(&base.means_mm).zip(1..);
    gaps.map(|((theirs, ours), age)| (age, theirs - ours))
        .filter(|(_, gap): &(usize, f64)| gap.is_finite())
        .max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))
}

/// Means and curves of all replicates whose relation could be fitted.
struct Run {
    means: Vec<Vec<f64>>,
    rows: Vec<Option<Row>>,
}

/// The replicates of one run, on all cores, in order.
fn runs(
    material: &Material<'_>,
    refit: Option<&Refit<'_>>,
    on: On,
    count: usize,
    seed: u64,
    progress: &Progress,
) -> Result<Run, Stopped> {
    let drawn: Vec<Option<(Vec<f64>, Option<Row>)>> = (0..count)
        .into_par_iter()
        .map(|index| {
            progress.checkpoint()?;
            let drawn = material.draw(on, &mut SplitMix64::stream(seed, index as u64)).ok();
            progress.step();
            Ok(drawn.map(|drawn| {
                let row = refitted(refit, &drawn);
                (drawn.means_mm, row)
            }))
        })
        .collect::<Result<_, Stopped>>()?;
    let (means, rows) = drawn.into_iter().flatten().unzip();
    Ok(Run { means, rows })
}

fn first_fit(wanted: &CurveWanted, base: &Drawn) -> Result<Fit, String> {
    let rows: Vec<Observation> = base
        .rows
        .iter()
        .enumerate()
        .map(|(fish, (age, length, weight))| Observation {
            weight: *weight,
            ..Observation::single(*age, *length, fish)
        })
        .collect();
    fit(wanted.curve, &rows, &wanted.settings).map_err(|error| error.to_string())
}

/// Percentile limits about the estimate, widened for few fish: resampling takes the fish at hand for the population, so its
/// spread is too small and its tails are normal, where a parameter that rests on a few old fish has Student's.
fn stretched(estimate: f64, mut values: Vec<f64>, held: Support) -> Option<[f64; 2]> {
    values.retain(|value| value.is_finite());
    values.sort_by(f64::total_cmp);
    let t = if held.df.is_finite() { t_quantile(0.975, held.df)? } else { NORMAL_975 };
    let factor = t / NORMAL_975 * held.inflation;
    let side = |p| Some(estimate + factor * (percentile(&values, p)? - estimate));
    Some([side(0.025)?, side(0.975)?])
}

/// Limits that speak of these fish alone need no widening.
const NOTHING_TO_MEND: Support = Support { df: f64::INFINITY, inflation: 1.0 };

/// The 97.5 percentile of the normal distribution.
const NORMAL_975: f64 = 1.959_963_984_540_054;

fn ages(
    material: &Material<'_>,
    base: &Drawn,
    together: &Run,
    apart: &[(Source, Run)],
    scope: Scope,
) -> Vec<UncertainAge> {
    let at = |index: usize| move |means: &Vec<f64>| means.get(index).copied().unwrap_or(f64::NAN);
    base.means_mm
        .iter()
        .enumerate()
        .filter(|(_, mean)| mean.is_finite())
        .map(|(index, mean_mm)| {
            let n = material.fish.iter().filter(|fish| fish.age() > index).count();
            let spread = variance(together.means.iter().map(at(index))).map(f64::sqrt);
            let (few, t) = match scope {
                Scope::Population => {
                    ((n as f64 / (n as f64 - 1.0)).sqrt(), t_quantile(0.975, n as f64 - 1.0))
                }
                Scope::TheseFish => (1.0, Some(NORMAL_975)),
            };
            let se_mm = spread.map(|sd| sd * few).filter(|se| se.is_finite());
            let half = se_mm.zip(t).map(|(se, t)| se * t);
            let alone = apart.iter().filter_map(|(source, run)| {
                Some((*source, variance(run.means.iter().map(at(index)))?))
            });
            UncertainAge {
                age: index + 1,
                n,
                mean_mm: *mean_mm,
                se_mm,
                ci95_mm: half.map(|half| [mean_mm - half, mean_mm + half]),
                shares: shares(&alone.collect::<Vec<_>>()),
            }
        })
        .collect()
}

fn over_all(
    source: Source,
    parameters: &[UncertainParameter],
    by_age: &[UncertainAge],
) -> Option<f64> {
    let of = |shares: &[(Source, f64)]| {
        shares.iter().find(|(one, _)| *one == source).map(|(_, share)| *share)
    };
    let mut all: Vec<f64> = parameters.iter().filter_map(|one| of(&one.shares)).collect();
    if all.is_empty() {
        all = by_age.iter().filter_map(|one| of(&one.shares)).collect();
    }
    crate::analysis::numerics::mean(&all)
}
