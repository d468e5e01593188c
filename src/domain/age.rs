//! From a count of annuli to an age and a year class: the birthday rule.
//!
//! Convention (common practice, no source; as taught in fisheries textbooks): every fish has its birthday on
//! one fixed day, 1 January in the northern hemisphere. Before that year's annulus shows, the edge stands for it.
//! The count, the edge and the date are what is stored; the age is derived from them.

use jiff::civil::Date;

use super::one_line::one_line;
use super::reading::EdgeCondition;

/// A day of the year without a year.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct MonthDay {
    month: i8,
    day: i8,
}

/// A month and day that no year has.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("'{}' is not a day of the year: write month-day as 04-15", one_line(found))]
pub struct BadMonthDay {
    /// The text as found.
    pub found: String,
}

impl MonthDay {
    /// 1 January.
    pub const NEW_YEAR: Self = Self { month: 1, day: 1 };

    /// A month (1-12) and a day. 29 February is refused: most years lack it.
    ///
    /// # Errors
    /// [`BadMonthDay`] when no ordinary year has that day.
    pub fn new(month: i8, day: i8) -> Result<Self, BadMonthDay> {
        // 2023 is an ordinary year, so 29 February is refused.
        match Date::new(2023, month, day) {
            Ok(_) => Ok(Self { month, day }),
            Err(_) => Err(BadMonthDay { found: format!("{month:02}-{day:02}") }),
        }
    }

    /// Reads "MM-DD".
    ///
    /// # Errors
    /// [`BadMonthDay`] when the text is not of that form or names no day.
    pub fn parse(text: &str) -> Result<Self, BadMonthDay> {
        let bad = || BadMonthDay { found: text.to_owned() };
        let (month, day) = text.split_once('-').ok_or_else(bad)?;
        Self::new(month.parse().map_err(|_| bad())?, day.parse().map_err(|_| bad())?)
            .map_err(|_| bad())
    }

    fn in_year(self, year: i16) -> Option<Date> {
        Date::new(year, self.month, self.day).ok()
    }
}

impl std::fmt::Display for MonthDay {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{:02}-{:02}", self.month, self.day)
    }
}

/// When a fish turns a year older, and when its annulus becomes visible.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BirthdayRule {
    /// The birthday of every fish.
    pub birthday: MonthDay,
    /// First day on which the year's annulus may be seen.
    pub window_start: MonthDay,
    /// Last day of the formation window.
    pub window_end: MonthDay,
}

impl Default for BirthdayRule {
    /// 1 January, annulus visible from 15 April to 15 July (temperate North America; common practice, no source).
    fn default() -> Self {
        Self {
            birthday: MonthDay::NEW_YEAR,
            window_start: MonthDay { month: 4, day: 15 },
            window_end: MonthDay { month: 7, day: 15 },
        }
    }
}

/// Why a reader should look at an age again.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AgeFlag {
    /// A narrow edge before the formation window: is the last annulus real?
    NarrowBeforeWindow,
    /// A medium edge inside the window: the rule cannot decide, the reader must.
    MediumInWindow,
    /// An annulus at the edge after the window has passed.
    AtEdgeAfterWindow,
}

impl AgeFlag {
    /// One plain sentence for the reader.
    pub fn message(self) -> &'static str {
        match self {
            Self::NarrowBeforeWindow => {
                "narrow edge before the formation window: check last annulus"
            }
            Self::MediumInWindow => "medium edge inside the formation window: reader decides",
            Self::AtEdgeAfterWindow => "annulus at edge after the formation window",
        }
    }
}

/// An age by the birthday rule.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct AgeAssignment {
    /// Age in whole years; `None` where the reader must decide.
    pub age: Option<u32>,
    /// Calendar year the fish was hatched in; `None` with the age.
    pub year_class: Option<i16>,
    /// Something the reader should look at.
    pub flag: Option<AgeFlag>,
}

/// Where a date lies against the formation window.
#[derive(Clone, Copy)]
enum Season {
    Before,
    During,
    After,
}

/// The age of a fish with `annuli_counted` annuli (one at the very edge included), by edge and capture date.
///
/// Rule table: before the window an edge that is not itself counted adds a year; in the window only a wide edge
/// does, and a medium one is left to the reader; after the window none does (common practice, no source).
pub fn assign_age(
    annuli_counted: u32,
    edge: EdgeCondition,
    captured: Date,
    rule: &BirthdayRule,
) -> AgeAssignment {
    let n = annuli_counted;
    let (age, flag) = match (season(captured, rule), edge) {
        (Season::Before, EdgeCondition::AtEdge) => (Some(n), None),
        (Season::Before, EdgeCondition::Narrow) => (Some(n + 1), Some(AgeFlag::NarrowBeforeWindow)),
        (Season::Before, EdgeCondition::Medium | EdgeCondition::Wide) => (Some(n + 1), None),
        (Season::During, EdgeCondition::AtEdge | EdgeCondition::Narrow) => (Some(n), None),
        (Season::During, EdgeCondition::Medium) => (None, Some(AgeFlag::MediumInWindow)),
        (Season::During, EdgeCondition::Wide) => (Some(n + 1), None),
        (Season::After, EdgeCondition::AtEdge) => (Some(n), Some(AgeFlag::AtEdgeAfterWindow)),
        (Season::After, _) => (Some(n), None),
    };
    let year_class = age.and_then(|age| year_class(age, captured, rule.birthday));
    AgeAssignment { age, year_class, flag }
}

/// The calendar year in which a fish of `age` captured on `captured` was hatched; `None` outside year 1 to 9999.
pub fn year_class(age: u32, captured: Date, birthday: MonthDay) -> Option<i16> {
    let last_birthday_year = last_birthday(captured, birthday).map_or(captured.year(), Date::year);
    i16::try_from(age)
        .ok()
        .and_then(|age| last_birthday_year.checked_sub(age))
        .filter(|year| *year >= 1)
}

/// The calendar year in which the zone between annuli `annulus - 1` and `annulus` grew (`annulus` from 1).
pub fn growth_year(year_class: i16, annulus: u32) -> i32 {
    i32::from(year_class) + i32::try_from(annulus).unwrap_or(i32::MAX).saturating_sub(1)
}

/// Decimal age: whole years by the birthday rule plus the share of the calendar year that has passed.
pub fn decimal_age_from_new_year(age: u32, captured: Date) -> f64 {
    let day = f64::from(captured.day_of_year()) - 1.0;
    f64::from(age) + day / f64::from(captured.days_in_year())
}

/// Decimal age: days since the hatch day of the year class, over 365.25. `None` where the year does not exist.
pub fn decimal_age_since_hatch(year_class: i16, hatch: MonthDay, captured: Date) -> Option<f64> {
    let hatched = hatch.in_year(year_class)?;
    let days = captured.since((jiff::Unit::Day, hatched)).ok()?.get_days();
    Some(f64::from(days) / 365.25)
}

/// Marginal increment ratio: plus growth over the last complete increment; with one annulus the divisor is its
/// radius. `None` without annuli, or where the last increment is not positive.
///
/// `radii` and `total` are in any one unit; `radii` increase.
pub fn marginal_increment_ratio(radii: &[f64], total: f64) -> Option<f64> {
    let (last, before) = match radii {
        [] => return None,
        [only] => (*only, 0.0),
        [.., before, last] => (*last, *before),
    };
    let increment = last - before;
    (increment > 0.0).then(|| (total - last) / increment)
}

/// The margin's condition by thirds of the previous increment (common practice, no source). Without annuli there is
/// no increment to compare with, and the margin counts as wide.
pub fn edge_by_thirds(marginal_increment_ratio: Option<f64>) -> EdgeCondition {
    match marginal_increment_ratio {
        Some(ratio) if ratio < 1.0 / 3.0 => EdgeCondition::Narrow,
        Some(ratio) if ratio < 2.0 / 3.0 => EdgeCondition::Medium,
        _ => EdgeCondition::Wide,
    }
}

fn last_birthday(captured: Date, birthday: MonthDay) -> Option<Date> {
    let this_year = birthday.in_year(captured.year())?;
    if captured >= this_year {
        Some(this_year)
    } else {
        birthday.in_year(captured.year().checked_sub(1)?)
    }
}

fn season(captured: Date, rule: &BirthdayRule) -> Season {
    // Days are counted from the last birthday, so that a window across New Year works in the south.
    let since_birthday = |day: MonthDay| {
        let turn = (rule.birthday.month, rule.birthday.day);
        let (month, day) = (day.month, day.day);
        ((month, day) < turn, month, day)
    };
    let today = since_birthday(MonthDay { month: captured.month(), day: captured.day() });
    if today < since_birthday(rule.window_start) {
        Season::Before
    } else if today <= since_birthday(rule.window_end) {
        Season::During
    } else {
        Season::After
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_southern_birthday_counts_from_july() {
        let rule = BirthdayRule {
            birthday: MonthDay::new(7, 1).unwrap(),
            window_start: MonthDay::new(10, 15).unwrap(),
            window_end: MonthDay::new(1, 15).unwrap(),
        };
        let august = Date::constant(2023, 8, 20);
        let assigned = assign_age(3, EdgeCondition::Wide, august, &rule);
        assert_eq!((assigned.age, assigned.year_class), (Some(4), Some(2019)));
        let january = Date::constant(2024, 1, 10);
        let assigned = assign_age(4, EdgeCondition::Narrow, january, &rule);
        assert_eq!((assigned.age, assigned.year_class), (Some(4), Some(2019)));
        let march = Date::constant(2024, 3, 10);
        let assigned = assign_age(4, EdgeCondition::Medium, march, &rule);
        assert_eq!((assigned.age, assigned.year_class), (Some(4), Some(2019)));
    }

    #[test]
    fn month_days_are_checked() {
        assert!(MonthDay::parse("02-30").is_err());
        assert!(MonthDay::parse("02-29").is_err());
        assert!(MonthDay::parse("april").is_err());
        assert_eq!(MonthDay::parse("04-15").unwrap().to_string(), "04-15");
    }

    #[test]
    fn the_first_zone_grew_in_the_year_of_the_year_class() {
        assert_eq!(growth_year(2019, 1), 2019);
        assert_eq!(growth_year(2019, 4), 2022);
    }
}
