//! Catch per hour by age: the mean over runs of the gear, with its error.

use std::collections::HashMap;

use crate::analysis::numerics::{mean, standard_deviation};
use crate::domain::effort::EffortRun;

use super::PopulationError;
use super::age_length_key::AgeLengthKey;
use super::sample::SampledFish;

/// How hard the crew fished.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Effort<'a> {
    /// One total, hours.
    Total(f64),
    /// Each run by itself, runs without catch included.
    Runs(&'a [EffortRun]),
}

/// Mean catch per hour over runs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RateOverRuns {
    /// Mean of the runs' rates; of one total the rate itself.
    pub mean: f64,
    /// Standard error over runs; `None` for one total or one run.
    pub se: Option<f64>,
    /// Runs, those without catch included; 1 for one total.
    pub n_runs: usize,
}

impl RateOverRuns {
    /// The mean of rates, one for each run; `None` without runs.
    pub fn of(rates: &[f64]) -> Option<Self> {
        let se = standard_deviation(rates).map(|sd| sd / (rates.len() as f64).sqrt());
        Some(Self { mean: mean(rates)?, se, n_runs: rates.len() })
    }

    /// Relative standard error, percent; `None` for a mean of 0 or without an error.
    pub fn rse_percent(&self) -> Option<f64> {
        self.se.filter(|_| self.mean > 0.0).map(|se| 100.0 * se / self.mean)
    }
}

/// Catch per hour of a sample.
#[derive(Debug, Clone, PartialEq)]
pub struct CatchPerHour {
    /// One rate for each age of the key.
    pub by_age: Vec<RateOverRuns>,
    /// All ages together.
    pub all_ages: RateOverRuns,
    /// Hours fished.
    pub hours: f64,
    /// Fish of the sample whose run is not among the runs: they are in no rate.
    pub n_without_run: u64,
    /// Runs left out because this species was not picked up.
    pub n_not_sought: usize,
    /// Gears among the runs, where there are several.
    pub gears: Vec<String>,
    /// True where the fish name no run that is known, so that one total had to do.
    pub runs_unknown: bool,
}

/// Catch per hour by age. Aged fish count at their age, others by the shares of the key. Runs on which `species` was not
/// picked up are left out; empty takes every run.
///
/// # Errors
/// [`PopulationError::BadEffort`] where no hours are left.
pub fn catch_per_hour(
    key: &AgeLengthKey,
    fish: &[SampledFish],
    effort: Effort<'_>,
    species: &str,
) -> Result<CatchPerHour, PopulationError> {
    let whole = numbers(key, fish.iter());
    match effort {
        Effort::Total(hours) => one_total(&whole, hours),
        Effort::Runs(runs) => {
            let sought: Vec<&EffortRun> =
                runs.iter().filter(|run| is_sought(run, species)).collect();
            let hours: f64 = sought.iter().map(|run| run.hours).sum();
            let (by_run, n_without_run) = sorted_into(&sought, fish);
            let mut found = one_total(&whole, hours)?;
            found.n_not_sought = runs.len() - sought.len();
            found.gears = gears(&sought);
            if by_run.iter().all(Vec::is_empty) {
                found.runs_unknown = true;
                return Ok(found);
            }
            found.n_without_run = n_without_run;
            let rates: Vec<Vec<f64>> = sought
                .iter()
                .zip(by_run)
                .map(|(run, fish)| {
                    numbers(key, fish.into_iter()).iter().map(|n| n / run.hours).collect()
                })
                .collect();
            over_runs(&mut found, &rates);
            Ok(found)
        }
    }
}

fn one_total(numbers: &[f64], hours: f64) -> Result<CatchPerHour, PopulationError> {
    if !(hours.is_finite() && hours > 0.0) {
        return Err(PopulationError::BadEffort { found: hours });
    }
    let rate = |n: f64| RateOverRuns { mean: n / hours, se: None, n_runs: 1 };
    Ok(CatchPerHour {
        by_age: numbers.iter().map(|n| rate(*n)).collect(),
        all_ages: rate(numbers.iter().sum()),
        hours,
        n_without_run: 0,
        n_not_sought: 0,
        gears: Vec::new(),
        runs_unknown: false,
    })
}

fn over_runs(found: &mut CatchPerHour, rates: &[Vec<f64>]) {
    for (at, by_age) in found.by_age.iter_mut().enumerate() {
        let of_age: Vec<f64> = rates.iter().filter_map(|run| run.get(at).copied()).collect();
        if let Some(rate) = RateOverRuns::of(&of_age) {
            *by_age = rate;
        }
    }
    let whole: Vec<f64> = rates.iter().map(|run| run.iter().sum()).collect();
    if let Some(rate) = RateOverRuns::of(&whole) {
        found.all_ages = rate;
    }
}

/// Fish at each age of the key.
fn numbers<'a>(key: &AgeLengthKey, fish: impl Iterator<Item = &'a SampledFish>) -> Vec<f64> {
    let mut numbers = vec![0.0; key.ages.len()];
    for one in fish {
        let count = f64::from(one.count);
        if let Some(age) = one.age {
            let place = key.ages.binary_search(&age).ok();
            if let Some(number) = place.and_then(|place| numbers.get_mut(place)) {
                *number += count;
            }
        } else if let Some(row) = key.row_of(one) {
            for (number, share) in numbers.iter_mut().zip(row.shares()) {
                *number += count * share;
            }
        }
    }
    numbers
}

fn is_sought(run: &EffortRun, species: &str) -> bool {
    species.is_empty()
        || run.species_sought.is_empty()
        || run.species_sought.iter().any(|one| one.to_lowercase() == species.to_lowercase())
}

/// The fish of each run. A run's name that stands for several days needs the day of the fish too.
fn sorted_into<'a>(
    runs: &[&EffortRun],
    fish: &'a [SampledFish],
) -> (Vec<Vec<&'a SampledFish>>, u64) {
    let mut places: HashMap<&str, Vec<usize>> = HashMap::new();
    for (at, run) in runs.iter().enumerate() {
        places.entry(run.run.as_str()).or_default().push(at);
    }
    let mut by_run: Vec<Vec<&SampledFish>> = vec![Vec::new(); runs.len()];
    let mut n_without_run = 0;
    for one in fish {
        let named = places.get(one.run.as_str()).map_or(&[][..], Vec::as_slice);
        let place = match named {
            [only] => Some(*only),
            several => several.iter().copied().find(|at| {
                one.captured.is_some() && runs.get(*at).is_some_and(|run| run.date == one.captured)
            }),
        };
        match place.and_then(|place| by_run.get_mut(place)) {
            Some(of_run) => of_run.push(one),
            None => n_without_run += u64::from(one.count),
        }
    }
    (by_run, n_without_run)
}

fn gears(runs: &[&EffortRun]) -> Vec<String> {
    let mut gears: Vec<String> = Vec::new();
    for run in runs.iter().filter(|run| !run.gear.is_empty()) {
        if !gears.iter().any(|gear| gear.eq_ignore_ascii_case(&run.gear)) {
            gears.push(run.gear.clone());
        }
    }
    if gears.len() > 1 { gears } else { Vec::new() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::population::age_length_key::EmptyGroups;
    use crate::analysis::population::length_groups::LengthGroups;
    use crate::domain::dates::Date;
    use crate::domain::survey::LengthUnit;
    use crate::domain::units::Millimetres;

    fn run(name: &str, hours: f64) -> EffortRun {
        EffortRun {
            run: name.into(),
            date: None,
            gear: "boat".into(),
            hours,
            shore_m: None,
            species_sought: Vec::new(),
            row: 2,
        }
    }

    fn sample() -> (AgeLengthKey, Vec<SampledFish>) {
        let on = |run: &str, fish: SampledFish| SampledFish { run: run.into(), ..fish };
        let mm = Millimetres(210.0);
        let fish = vec![
            on("a", SampledFish::aged(2, mm, 1)),
            on("a", SampledFish::aged(3, mm, 2)),
            on("b", SampledFish { count: 4, ..SampledFish::unaged(4, mm) }),
        ];
        let groups = LengthGroups::new(25.0, LengthUnit::Millimetre).unwrap();
        (AgeLengthKey::new(&fish, groups, EmptyGroups::Refuse).unwrap(), fish)
    }

    #[test]
    fn a_run_without_catch_counts_as_zero() {
        let (key, fish) = sample();
        let runs = [run("a", 1.0), run("b", 2.0), run("c", 0.5)];
        let found = catch_per_hour(&key, &fish, Effort::Runs(&runs), "").unwrap();
        // Rates of each age: 1, 1 and 0 fish an hour.
        for rate in &found.by_age {
            assert!((rate.mean - 2.0 / 3.0).abs() < 1e-12);
            assert!((rate.se.unwrap() - 1.0 / 3.0).abs() < 1e-12);
            assert_eq!(rate.n_runs, 3);
        }
        assert_eq!((found.hours, found.n_without_run), (3.5, 0));
    }

    #[test]
    fn one_total_has_no_error() {
        let (key, fish) = sample();
        let found = catch_per_hour(&key, &fish, Effort::Total(2.0), "").unwrap();
        assert_eq!(found.by_age[0], RateOverRuns { mean: 1.5, se: None, n_runs: 1 });
        assert_eq!(found.all_ages.mean, 3.0);
        for hours in [0.0, -1.0, f64::NAN] {
            assert!(catch_per_hour(&key, &fish, Effort::Total(hours), "").is_err());
        }
    }

    #[test]
    fn runs_that_did_not_seek_the_species_are_left_out() {
        let (key, fish) = sample();
        let mut other = run("c", 1.0);
        other.species_sought = vec!["Northern Pike".into()];
        other.gear = "fyke net".into();
        let runs = [run("a", 1.0), run("b", 1.0), other];
        let found = catch_per_hour(&key, &fish, Effort::Runs(&runs), "walleye").unwrap();
        assert_eq!((found.n_not_sought, found.all_ages.n_runs, found.gears.len()), (1, 2, 0));
        let found = catch_per_hour(&key, &fish, Effort::Runs(&runs), "northern pike").unwrap();
        assert_eq!((found.n_not_sought, found.gears.len()), (0, 2));
    }

    #[test]
    fn fish_of_no_known_run_are_counted_and_not_spread() {
        let (key, fish) = sample();
        let found = catch_per_hour(&key, &fish, Effort::Runs(&[run("a", 1.0)]), "").unwrap();
        assert_eq!((found.n_without_run, found.runs_unknown), (4, false));
        assert_eq!(found.all_ages.mean, 2.0);
        let found = catch_per_hour(&key, &fish, Effort::Runs(&[run("z", 3.0)]), "").unwrap();
        assert_eq!((found.runs_unknown, found.all_ages.mean), (true, 2.0));
        assert_eq!(found.all_ages.se, None);
    }

    #[test]
    fn a_name_used_on_two_days_goes_by_the_day() {
        let (key, mut fish) = sample();
        let days = [Date::constant(2025, 10, 6), Date::constant(2025, 10, 7)];
        let mut runs = [run("a", 1.0), run("a", 1.0)];
        for (run, day) in runs.iter_mut().zip(days) {
            run.date = Some(day);
        }
        for (one, day) in fish.iter_mut().zip([days[0], days[1], days[1]]) {
            one.run = "a".into();
            one.captured = Some(day);
        }
        let found = catch_per_hour(&key, &fish, Effort::Runs(&runs), "").unwrap();
        assert_eq!((found.n_without_run, found.all_ages.mean), (0, 3.0));
        assert_eq!(found.all_ages.se, Some(2.0));
    }
}
