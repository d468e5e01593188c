//! Which year classes are strong, weak or missing, beside what was stocked.
//!
//! The residual of the weighted catch line at each age, labelled by year class (Maceina 1997, Fish. Res. 32:115-121, from
//! memory): positive is strong. Several sampling years are averaged, each with its own line.

use std::collections::BTreeMap;

use crate::domain::stocking::Stocking;

use super::catch_curve::FirstAge;
use super::weighted_regression::CatchLine;

/// Externally studentised residual beyond which a year class is called strong or weak (common practice, no source).
pub const FLAG_BEYOND: f64 = 2.0;

/// Fish the line must expect before none at all counts as a missing year class. With 5 expected a random catch is empty
/// once in about 150 times (Poisson); the rest is room for uneven catches (common practice, no source).
pub const FEWEST_EXPECTED: f64 = 5.0;

/// What a year class is judged to be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Strength {
    /// More fish than the line expects.
    Strong,
    /// About as many.
    AsExpected,
    /// Fewer.
    Weak,
    /// None, where enough were expected.
    Missing,
    /// Too young for full catch, too few expected, or no line.
    NotJudged,
}

impl Strength {
    /// The word used in files and on screen.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Strong => "strong",
            Self::AsExpected => "as expected",
            Self::Weak => "weak",
            Self::Missing => "missing",
            Self::NotJudged => "not judged",
        }
    }
}

/// One year class in the catch of one year.
#[derive(Debug, Clone, PartialEq)]
pub struct YearClassRow {
    /// The year class; `None` where the year of capture is not known.
    pub year_class: Option<i16>,
    /// Its age.
    pub age: u32,
    /// Fish expected in the sample.
    pub n: f64,
    /// Fish the line expects; `None` below the first age of the line or without one.
    pub n_by_line: Option<f64>,
    /// ln(catch) less the line; `None` also without catch.
    pub residual: Option<f64>,
    /// Externally studentised residual.
    pub studentised: Option<f64>,
    /// What follows.
    pub strength: Strength,
    /// Fish stocked; `None` where nothing is known.
    pub stocked: Option<u64>,
}

/// Rows for every age from the youngest to the oldest caught, and for older year classes that were stocked.
/// `year` is the calendar year of the last birthday before capture.
pub fn year_class_rows(
    catch: &[(u32, f64)],
    line: Option<&CatchLine>,
    year: Option<i16>,
    stocked: Option<&StockedYears>,
) -> Vec<YearClassRow> {
    let caught = || catch.iter().filter(|(_, n)| *n > 0.0).map(|(age, _)| *age);
    let (Some(youngest), Some(oldest)) = (caught().min(), caught().max()) else {
        return Vec::new();
    };
    let class_of = |age: u32| year?.checked_sub(i16::try_from(age).ok()?);
    let stocked_in = |class: Option<i16>| stocked?.number(class?);
    let oldest_stocked = year
        .zip(stocked.and_then(StockedYears::first_year))
        .and_then(|(year, first)| u32::try_from(i32::from(year) - i32::from(first)).ok())
        .map_or(oldest, |age| age.max(oldest));
    (youngest..=oldest_stocked)
        .filter(|age| *age <= oldest || stocked_in(class_of(*age)).is_some_and(|n| n > 0))
        .map(|age| {
            let n = catch.iter().filter(|(a, _)| *a == age).fold(0.0, |sum, (_, n)| sum + n);
            let year_class = class_of(age);
            let row = YearClassRow {
                year_class,
                age,
                n,
                n_by_line: None,
                residual: None,
                studentised: None,
                strength: Strength::NotJudged,
                stocked: stocked_in(year_class),
            };
            match line {
                Some(line) => judged(row, line),
                None => row,
            }
        })
        .collect()
}

fn judged(mut row: YearClassRow, line: &CatchLine) -> YearClassRow {
    if line.ages.first().is_none_or(|first| row.age < *first) {
        return row;
    }
    let by_line = line.ln_catch_at(row.age).exp();
    row.n_by_line = Some(by_line);
    if let Some(at) = line.ages.iter().position(|age| *age == row.age) {
        row.residual = line.residuals.get(at).copied();
        row.studentised = line.studentised.get(at).copied().flatten();
        row.strength = match row.studentised {
            Some(t) if t > FLAG_BEYOND => Strength::Strong,
            Some(t) if t < -FLAG_BEYOND => Strength::Weak,
            Some(_) => Strength::AsExpected,
            None => Strength::NotJudged,
        };
    } else if by_line >= FEWEST_EXPECTED {
        row.strength = Strength::Missing;
    }
    row
}

/// Strength of a year class over several sampling years.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct YearClassMean {
    /// The year class.
    pub year_class: i16,
    /// Sampling years with a residual.
    pub n: usize,
    /// Mean residual.
    pub mean_residual: f64,
}

/// Mean residual of each year class over sampling years; `catch` holds (year, age, number), and each year gets its own
/// line from `first_age`. Years whose line cannot be fitted are left out.
pub fn strength_over_years(catch: &[(i16, u32, f64)], first_age: FirstAge) -> Vec<YearClassMean> {
    let mut by_year: BTreeMap<i16, Vec<(u32, f64)>> = BTreeMap::new();
    for (year, age, n) in catch {
        by_year.entry(*year).or_default().push((*age, *n));
    }
    let mut residuals: BTreeMap<i16, Vec<f64>> = BTreeMap::new();
    for (year, catch) in by_year {
        let line = first_age.of(&catch).and_then(|first| CatchLine::fit(&catch, first).ok());
        let Some(line) = line else { continue };
        for (age, residual) in line.ages.iter().zip(line.residuals) {
            if let Some(class) = i16::try_from(*age).ok().and_then(|age| year.checked_sub(age)) {
                residuals.entry(class).or_default().push(residual);
            }
        }
    }
    residuals
        .into_iter()
        .map(|(year_class, values)| YearClassMean {
            year_class,
            n: values.len(),
            mean_residual: values.iter().sum::<f64>() / values.len() as f64,
        })
        .collect()
}

/// Fish stocked by year class.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct StockedYears {
    by_class: BTreeMap<i16, u64>,
    /// Stockings of this species and water whose year class their life stage does not tell.
    pub n_of_unknown_class: usize,
}

impl StockedYears {
    /// The stockings of one species in one water (both without regard to case). Fry and fingerlings belong to the year
    /// they were stocked in, yearlings to the year before; adults to none that is known.
    pub fn of(stockings: &[Stocking], species: &str, water: &str) -> Self {
        let same = |a: &str, b: &str| a.trim().to_lowercase() == b.trim().to_lowercase();
        let mut years = Self::default();
        for one in stockings.iter().filter(|one| same(&one.species, species)) {
            if !same(&one.water, water) {
                continue;
            }
            match years_old(&one.life_stage).and_then(|age| one.year.checked_sub(age)) {
                Some(class) => *years.by_class.entry(class).or_default() += u64::from(one.number),
                None => years.n_of_unknown_class += 1,
            }
        }
        years
    }

    /// Fish stocked of a year class. From the first stocking on record a year without one is 0; before it nothing is
    /// known.
    pub fn number(&self, year_class: i16) -> Option<u64> {
        let first = self.first_year()?;
        (year_class >= first).then(|| self.by_class.get(&year_class).copied().unwrap_or(0))
    }

    /// First year class on record.
    pub fn first_year(&self) -> Option<i16> {
        self.by_class.keys().next().copied()
    }
}

/// Age at stocking by life stage; `None` where the words do not tell.
fn years_old(life_stage: &str) -> Option<i16> {
    let stage = life_stage.to_lowercase();
    let has = |word: &str| stage.contains(word);
    if has("yearling") {
        (!has("two") && !has("2")).then_some(1)
    } else if stage.is_empty() || ["fry", "fingerling", "egg", "larva"].into_iter().any(has) {
        Some(0)
    } else {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stocking(year: i16, stage: &str, number: u32) -> Stocking {
        Stocking {
            water: "Maple Hollow Pond".into(),
            year,
            date: None,
            species: "walleye".into(),
            life_stage: stage.into(),
            number,
            size: None,
            strain: String::new(),
            mark_given: String::new(),
            percent_marked: None,
            row: 2,
        }
    }

    #[test]
    fn life_stages_tell_the_year_class() {
        let list = [
            stocking(2019, "fall fingerling", 3000),
            stocking(2022, "yearling", 500),
            stocking(2021, "fry", 100),
            stocking(2020, "adult", 40),
        ];
        let years = StockedYears::of(&list, "Walleye", "maple hollow pond");
        let found: Vec<_> = (2018..2024).map(|class| years.number(class)).collect();
        assert_eq!(found, [None, Some(3000), Some(0), Some(600), Some(0), Some(0)]);
        assert_eq!(years.n_of_unknown_class, 1);
        assert_eq!(StockedYears::of(&list, "yellow perch", "Maple Hollow Pond").number(2020), None);
    }

    #[test]
    fn a_year_class_is_missing_only_where_enough_were_expected() {
        let catch = [
            (1, 20.0),
            (2, 200.0),
            (3, 118.0),
            (5, 48.0),
            (6, 26.0),
            (7, 17.0),
            (8, 10.0),
            (12, 1.0),
        ];
        let line = CatchLine::fit(&catch, 2).unwrap();
        let rows = year_class_rows(&catch, Some(&line), Some(2024), None);
        let strength: Vec<_> = rows.iter().map(|row| row.strength).collect();
        assert_eq!(
            rows.iter().map(|row| row.age).collect::<Vec<_>>(),
            (1..=12).collect::<Vec<_>>()
        );
        assert_eq!(strength[0], Strength::NotJudged);
        assert_eq!((strength[3], rows[3].year_class), (Strength::Missing, Some(2020)));
        assert_eq!(rows[3].residual, None);
        // An empty sum would be -0.
        assert!(rows[3].n.is_sign_positive());
        // Ages 10 and 11 were expected to bring fewer than five.
        assert!(rows[9].n_by_line.unwrap() < FEWEST_EXPECTED);
        assert_eq!(strength[9], Strength::NotJudged);
    }

    #[test]
    fn older_stocked_classes_are_listed() {
        let catch = [(1, 30.0), (2, 20.0), (3, 9.0)];
        let years = StockedYears::of(
            &[stocking(2015, "fry", 10), stocking(2017, "fry", 10)],
            "walleye",
            "Maple Hollow Pond",
        );
        let rows = year_class_rows(&catch, None, Some(2021), Some(&years));
        let listed: Vec<_> = rows.iter().map(|row| (row.year_class, row.stocked)).collect();
        assert_eq!(
            listed,
            [
                (Some(2020), Some(0)),
                (Some(2019), Some(0)),
                (Some(2018), Some(0)),
                (Some(2017), Some(10)),
                (Some(2015), Some(10))
            ]
        );
    }
}
