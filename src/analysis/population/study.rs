//! Ages of a whole sample in one go: key, composition, catch per hour, mortality, year classes.

use crate::domain::fish::Sex;
use crate::domain::progress::{Progress, Stopped};

use super::PopulationError;
use super::age_length_key::{AgeLengthKey, EmptyGroups};
use super::assignment::{AssignedAge, AssignmentRule, assign_ages};
use super::catch_curve::{CatchCurve, FirstAge, Withheld};
use super::catch_per_effort::{CatchPerHour, Effort, catch_per_hour};
use super::composition::{Composition, CompositionBootstrap, bootstrap_composition, composition};
use super::length_groups::LengthGroups;
use super::sample::SampledFish;
use super::warning::{FEWEST_AGES, FEWEST_FISH, Warning};
use super::weighted_regression::CatchLine;
use super::year_class_strength::{StockedYears, YearClassRow, year_class_rows};

/// Most over least fish stocked a year beyond which stocking counts as uneven (common practice, no source).
pub const EVEN_STOCKING: u64 = 2;

/// What is to be worked out, and how.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// How lengths are grouped.
    pub groups: LengthGroups,
    /// What to do with groups without aged fish.
    pub empty: EmptyGroups,
    /// Also a key and composition for each sex; fish of unknown sex are a group of their own.
    pub by_sex: bool,
    /// How and from which seed unaged fish get ages; `None` for no assignment.
    pub assignment: Option<(AssignmentRule, u64)>,
    /// Samples drawn anew for errors where fish are unaged; 0 for none.
    pub replicates: usize,
    /// Their seed.
    pub bootstrap_seed: u64,
    /// First age of both mortality estimates; `None` for each one's own rule.
    pub first_age: Option<u32>,
    /// The user states that recruitment was even, whatever was stocked.
    pub even_recruitment: bool,
}

impl Settings {
    /// The usual settings for these length groups: nothing merged or borrowed, no assignment, 1000 samples drawn anew.
    pub const fn new(groups: LengthGroups) -> Self {
        Self {
            groups,
            empty: EmptyGroups::Refuse,
            by_sex: false,
            assignment: None,
            replicates: 1000,
            bootstrap_seed: 1,
            first_age: None,
            even_recruitment: false,
        }
    }
}

/// What is known beside the fish.
#[derive(Debug, Clone, Default)]
pub struct Background<'a> {
    /// Calendar year of the last birthday before capture.
    pub year: Option<i16>,
    /// Species, to leave out runs on which it was not picked up; empty for any.
    pub species: String,
    /// Effort.
    pub effort: Option<Effort<'a>>,
    /// What was stocked.
    pub stocked: Option<StockedYears>,
}

/// Key and composition of one sex.
#[derive(Debug, Clone, PartialEq)]
pub struct SexAges {
    /// The sex.
    pub sex: Sex,
    /// Fish measured.
    pub n: u64,
    /// Its key and composition, or why there is none.
    pub outcome: Result<(AgeLengthKey, Composition), PopulationError>,
}

/// Ages given to unaged fish.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Assignment {
    /// How.
    pub rule: AssignmentRule,
    /// The seed.
    pub seed: u64,
    /// One for each fish, in the order of the sample.
    pub ages: Vec<AssignedAge>,
}

/// Everything about the ages of a sample.
#[derive(Debug, Clone, PartialEq)]
pub struct AgeStudy {
    /// The key.
    pub key: AgeLengthKey,
    /// Composition of the whole sample.
    pub composition: Composition,
    /// Its errors over samples drawn anew; `None` where every fish was aged or none were asked for.
    pub bootstrap: Option<CompositionBootstrap>,
    /// The same by sex, where asked for.
    pub by_sex: Vec<SexAges>,
    /// Ages given to unaged fish, where asked for.
    pub assignment: Option<Assignment>,
    /// Catch per hour, where effort is known.
    pub catch_per_hour: Option<CatchPerHour>,
    /// Mortality, or why it is withheld.
    pub catch_curve: Result<CatchCurve, Withheld>,
    /// Year classes.
    pub year_classes: Vec<YearClassRow>,
    /// Remarks.
    pub warnings: Vec<Warning>,
}

/// Why there is no study.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum StudyError {
    /// The data do not allow it.
    #[error(transparent)]
    Data(#[from] PopulationError),
    /// Someone asked to stop.
    #[error(transparent)]
    Stopped(#[from] Stopped),
}

/// Works out everything about the ages of `fish`, which are of one species, water, year and season.
///
/// # Errors
/// [`StudyError::Data`] as [`AgeLengthKey::new`] and [`catch_per_hour`]; [`StudyError::Stopped`].
pub fn age_study(
    fish: &[SampledFish],
    settings: &Settings,
    background: &Background<'_>,
    progress: &Progress,
) -> Result<AgeStudy, StudyError> {
    let key = AgeLengthKey::new(fish, settings.groups, settings.empty)?;
    let composition = composition(&key);
    let catch: Vec<(u32, f64)> =
        composition.rows.iter().map(|row| (row.age, row.n_expected)).collect();
    let has_unaged = key.n_aged() < key.n_sampled();
    let bootstrap = match settings.replicates {
        count if has_unaged && count > 0 => {
            Some(bootstrap_composition(&key, count, settings.bootstrap_seed, progress)?)
        }
        _ => None,
    };
    let catch_per_hour = match background.effort {
        Some(effort) => Some(catch_per_hour(&key, fish, effort, &background.species)?),
        None => None,
    };
    let first = settings.first_age.map_or(FirstAge::REGRESSION, FirstAge::At).of(&catch);
    let line = first.and_then(|first| CatchLine::fit(&catch, first).ok());
    let uneven = uneven_stocking(&catch, first, background);
    let mut catch_curve = match &uneven {
        Some(reason) if !settings.even_recruitment => Err(reason.clone()),
        _ => CatchCurve::estimate(&catch, settings.first_age),
    };
    if let (Ok(curve), Some(drawn)) = (&mut catch_curve, &bootstrap) {
        curve.bootstrap = Some(curve.bootstrap_over(&key.ages, &drawn.numbers));
    }
    let year_classes =
        year_class_rows(&catch, line.as_ref(), background.year, background.stocked.as_ref());
    let mut warnings = key_warnings(&key, &composition);
    warnings.extend(catch_per_hour.iter().flat_map(rate_warnings));
    warnings.extend(catch_curve.iter().flat_map(curve_warnings));
    if uneven.is_some() && settings.even_recruitment {
        warnings.push(Warning::EvennessStated);
    }
    warnings.extend(year_warnings(background));
    let assignment = settings.assignment.map(|(rule, seed)| Assignment {
        rule,
        seed,
        ages: assign_ages(&key, fish, rule, seed),
    });
    let by_sex = if settings.by_sex { by_sex(fish, settings) } else { Vec::new() };
    Ok(AgeStudy {
        key,
        composition,
        bootstrap,
        by_sex,
        assignment,
        catch_per_hour,
        catch_curve,
        year_classes,
        warnings,
    })
}

fn by_sex(fish: &[SampledFish], settings: &Settings) -> Vec<SexAges> {
    [Sex::Female, Sex::Male, Sex::Unknown]
        .into_iter()
        .filter_map(|sex| {
            let own: Vec<SampledFish> = fish.iter().filter(|one| one.sex == sex).cloned().collect();
            let n: u64 = own.iter().map(|one| u64::from(one.count)).sum();
            (n > 0).then(|| SexAges {
                sex,
                n,
                outcome: AgeLengthKey::new(&own, settings.groups, settings.empty).map(|key| {
                    let composition = composition(&key);
                    (key, composition)
                }),
            })
        })
        .collect()
}

/// The year classes from `first` to the oldest caught, judged by what is known of their stocking.
fn uneven_stocking(
    catch: &[(u32, f64)],
    first: Option<u32>,
    background: &Background<'_>,
) -> Option<Withheld> {
    let (year, stocked) = (background.year?, background.stocked.as_ref()?);
    let class_of = |age: u32| year.checked_sub(i16::try_from(age).ok()?);
    let oldest = catch.iter().filter(|(_, n)| *n > 0.0).map(|(age, _)| *age).max()?;
    let classes: Vec<i16> = (first?..=oldest).filter_map(class_of).collect();
    let known: Vec<(i16, u64)> =
        classes.iter().filter_map(|class| Some((*class, stocked.number(*class)?))).collect();
    let numbers = || known.iter().map(|(_, number)| *number);
    let (least, most) = (numbers().min()?, numbers().max()?);
    let years = || known.iter().map(|(class, _)| *class);
    (most > EVEN_STOCKING * least).then_some(Withheld::UnevenStocking {
        least,
        most,
        years: [years().min()?, years().max()?],
    })
}

fn key_warnings(key: &AgeLengthKey, composition: &Composition) -> Vec<Warning> {
    let names = |is_meant: fn(&super::age_length_key::KeyGroup) -> bool| -> Vec<String> {
        key.rows.iter().filter(|row| is_meant(row)).map(|row| key.name_of(row)).collect()
    };
    let mut found = Vec::new();
    let merged = names(|row| row.last > row.first);
    if !merged.is_empty() {
        found.push(Warning::Merged { groups: merged });
    }
    let borrowed = names(super::age_length_key::KeyGroup::is_borrowed);
    if !borrowed.is_empty() {
        found.push(Warning::Borrowed { groups: borrowed });
    }
    if composition.n_groups_with_one_aged > 0 {
        found.push(Warning::OneAged { n: composition.n_groups_with_one_aged });
    }
    found
}

fn rate_warnings(rates: &CatchPerHour) -> Vec<Warning> {
    let mut found = Vec::new();
    if rates.runs_unknown {
        found.push(Warning::RunsUnknown);
    }
    if rates.n_without_run > 0 {
        found.push(Warning::FishWithoutRun { n: rates.n_without_run });
    }
    if !rates.gears.is_empty() {
        found.push(Warning::SeveralGears { gears: rates.gears.clone() });
    }
    if rates.n_not_sought > 0 {
        found.push(Warning::NotSought { n: rates.n_not_sought });
    }
    found
}

fn curve_warnings(curve: &CatchCurve) -> Vec<Warning> {
    let mut found = Vec::new();
    if let Some(estimate) = &curve.chapman_robson {
        if estimate.n < FEWEST_FISH {
            found.push(Warning::FewFish { n: estimate.n });
        }
        let n = estimate.observed.iter().filter(|n| **n > 0.0).count();
        if n < FEWEST_AGES {
            found.push(Warning::FewAges { n });
        }
    }
    if curve.regression.as_ref().is_some_and(|line| line.z <= 0.0) {
        found.push(Warning::NotFalling);
    }
    let failing = curve.bootstrap.filter(|drawn| drawn.failed > 0);
    if let Some(drawn) = failing.filter(|_| curve.chapman_robson.is_some()) {
        let (failed, replicates) = (drawn.failed, drawn.replicates);
        found.push(Warning::FailedSamples { failed, replicates });
    }
    found
}

fn year_warnings(background: &Background<'_>) -> Vec<Warning> {
    let mut found = Vec::new();
    if background.year.is_none() {
        found.push(Warning::NoYear);
    }
    let unknown = background.stocked.as_ref().map_or(0, |stocked| stocked.n_of_unknown_class);
    if unknown > 0 {
        found.push(Warning::StockingOfUnknownClass { n: unknown });
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::stocking::Stocking;
    use crate::domain::survey::LengthUnit;
    use crate::domain::units::Millimetres;

    fn sample() -> Vec<SampledFish> {
        let mut fish = Vec::new();
        for (age, n) in [(1, 8), (2, 30), (3, 18), (4, 12), (5, 7), (6, 4)] {
            for i in 0..n {
                let length = Millimetres(100.0 * f64::from(age) + f64::from(i));
                let sex = if i % 3 == 0 { Sex::Unknown } else { Sex::Female };
                fish.push(SampledFish { sex, ..SampledFish::aged(2, length, age) });
            }
        }
        fish.push(SampledFish::unaged(99, Millimetres(310.0)));
        fish
    }

    fn settings() -> Settings {
        let groups = LengthGroups::new(50.0, LengthUnit::Millimetre).unwrap();
        Settings {
            replicates: 50,
            assignment: Some((AssignmentRule::default(), 3)),
            ..Settings::new(groups)
        }
    }

    fn stocked(numbers: &[(i16, u32)]) -> StockedYears {
        let list: Vec<Stocking> = numbers
            .iter()
            .map(|(year, number)| Stocking {
                water: "w".into(),
                year: *year,
                date: None,
                species: "walleye".into(),
                life_stage: "fry".into(),
                number: *number,
                size: None,
                strain: String::new(),
                mark_given: String::new(),
                percent_marked: None,
                row: 2,
            })
            .collect();
        StockedYears::of(&list, "walleye", "w")
    }

    #[test]
    fn mortality_is_withheld_where_stocking_was_uneven() {
        let run = |numbers: &[(i16, u32)], even_recruitment| {
            let background = Background {
                year: Some(2024),
                stocked: Some(stocked(numbers)),
                ..Background::default()
            };
            let settings = Settings { even_recruitment, ..settings() };
            age_study(&sample(), &settings, &background, &Progress::new()).unwrap()
        };
        let uneven = run(&[(2018, 100), (2020, 100), (2022, 100)], false);
        let reason = uneven.catch_curve.unwrap_err().to_string();
        assert!(reason.contains("0 to 100 fish a year from 2018 to 2022"), "{reason}");
        assert!(uneven.year_classes.iter().any(|row| row.residual.is_some()));
        let even = run(&[(2018, 100), (2019, 150), (2020, 120), (2021, 90), (2022, 100)], false);
        assert!(even.catch_curve.is_ok());
        let stated = run(&[(2018, 100), (2020, 100)], true);
        assert!(stated.catch_curve.is_ok() && stated.warnings.contains(&Warning::EvennessStated));
    }

    #[test]
    fn unaged_fish_bring_a_bootstrap_and_assigned_ages() {
        let found =
            age_study(&sample(), &settings(), &Background::default(), &Progress::new()).unwrap();
        assert!(found.bootstrap.is_some());
        let curve = found.catch_curve.unwrap();
        assert!(curve.bootstrap.unwrap().z_se.unwrap() > 0.0);
        let assigned = found.assignment.unwrap().ages;
        assert_eq!((assigned.len(), assigned[0].row, assigned[0].age), (1, 99, 3));
        assert!(found.warnings.contains(&Warning::NoYear));
        let mut all_aged = sample();
        all_aged.pop();
        let found =
            age_study(&all_aged, &settings(), &Background::default(), &Progress::new()).unwrap();
        assert!(found.bootstrap.is_none());
    }

    #[test]
    fn fish_of_unknown_sex_are_a_group_of_their_own() {
        let settings = Settings { by_sex: true, ..settings() };
        let found =
            age_study(&sample(), &settings, &Background::default(), &Progress::new()).unwrap();
        let sexes: Vec<_> = found.by_sex.iter().map(|one| one.sex).collect();
        assert_eq!(sexes, [Sex::Female, Sex::Unknown]);
        let n: u64 = found.by_sex.iter().map(|one| one.n).sum();
        assert_eq!(n, found.composition.n);
    }
}
