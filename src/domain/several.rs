//! Several impressions or scans of one fish: which of them its age and lengths rest on. Lengths, ages, comparisons of
//! readers and decisions all ask here, with every confirmed reading of one reader, fish and structure, aged or not.

use jiff::Timestamp;

use super::reading::{ImpressionReading, Outcome};

/// How the impressions of a fish are taken together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Way {
    /// One impression stands for the fish.
    Alone,
    /// The ratios of annulus radius to total radius are averaged over all of them.
    Mean,
}

impl Way {
    /// The word used in files.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Alone => "alone",
            Self::Mean => "mean",
        }
    }

    /// The value for a word; `None` for any other word.
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::Alone, Self::Mean].into_iter().find(|way| way.word() == word)
    }
}

/// A reader's choice among the impressions of a fish, written into the impression they had before them. Of several
/// choices the latest holds, so that a choice on one scan needs no change to the sidecar of another.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FishChoice {
    /// How they are taken together.
    pub way: Way,
    /// When the reader chose.
    pub at: Timestamp,
}

/// Which of one reader's readings of a fish its age and lengths rest on, as indices in order: the one chosen to stand alone,
/// else every aged one. A chosen reading that is not aged gives no radii, so the choice then falls.
pub fn readings_that_count(readings: &[&ImpressionReading]) -> Vec<usize> {
    let is_aged = |reading: &ImpressionReading| reading.outcome == Some(Outcome::Aged);
    match chosen(readings) {
        Some(index) if readings.get(index).is_some_and(|reading| is_aged(reading)) => vec![index],
        _ => (0..readings.len()).filter(|i| readings.get(*i).is_some_and(|r| is_aged(r))).collect(),
    }
}

/// The age that the readings that count give; `None` where there is none, or where they differ.
pub fn age_that_counts(readings: &[&ImpressionReading]) -> Option<u32> {
    let counting = readings_that_count(readings).into_iter();
    let mut ages = counting.filter_map(|index| readings.get(index)?.age);
    let first = ages.next()?;
    ages.all(|age| age == first).then_some(first)
}

/// The index of the reading that was chosen to stand alone; `None` where the latest choice is the mean, or none was made.
pub fn chosen(readings: &[&ImpressionReading]) -> Option<usize> {
    let choices = readings.iter().enumerate();
    let choices = choices.filter_map(|(index, reading)| Some((index, reading.choice?)));
    let (index, choice) = choices.max_by_key(|(_, choice)| choice.at)?;
    (choice.way == Way::Alone).then_some(index)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::reading::Structure;

    fn reading(number: u32, outcome: Outcome, choice: Option<(Way, i64)>) -> ImpressionReading {
        let mut reading = ImpressionReading::new(number, "7", Structure::Scale);
        reading.outcome = Some(outcome);
        reading.choice =
            choice.map(|(way, at)| FishChoice { way, at: Timestamp::from_second(at).unwrap() });
        reading
    }

    #[test]
    fn the_latest_choice_holds_and_without_one_all_aged_count() {
        let [a, b] = [1, 2].map(|number| reading(number, Outcome::Aged, None));
        let c = reading(3, Outcome::Regenerated, None);
        assert_eq!(readings_that_count(&[&a, &b, &c]), [0, 1]);
        let a = reading(1, Outcome::Aged, Some((Way::Alone, 10)));
        let b = reading(2, Outcome::Aged, Some((Way::Alone, 20)));
        assert_eq!(readings_that_count(&[&a, &b, &c]), [1]);
        let a = reading(1, Outcome::Aged, Some((Way::Mean, 30)));
        assert_eq!(readings_that_count(&[&a, &b, &c]), [0, 1]);
        let c = reading(3, Outcome::Regenerated, Some((Way::Alone, 40)));
        assert_eq!(readings_that_count(&[&a, &b, &c]), [0, 1]);
        assert_eq!(chosen(&[&a, &b, &c]), Some(2));
    }

    #[test]
    fn the_age_is_that_of_the_chosen_one_or_the_one_all_gave() {
        let aged = |number, age, choice| {
            let mut one = reading(number, Outcome::Aged, choice);
            one.age = Some(age);
            one
        };
        let (a, b) = (aged(1, 3, None), aged(2, 4, None));
        assert_eq!(age_that_counts(&[&a, &b]), None);
        assert_eq!(age_that_counts(&[&a, &a]), Some(3));
        assert_eq!(age_that_counts(&[]), None);
        let b = aged(2, 4, Some((Way::Alone, 20)));
        assert_eq!(age_that_counts(&[&a, &b]), Some(4));
        let c = reading(3, Outcome::Unreadable, Some((Way::Alone, 30)));
        assert_eq!(age_that_counts(&[&a, &b, &c]), None, "the later choice fell on none");
    }
}
