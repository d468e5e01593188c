//! The ages that are compared: one column for each reader.

use super::AgreementError;
use crate::domain::ages::{AgesTable, OLDEST_AGE};

/// Ages of the same fish by two or more readers (or readings), column by column.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReaderAges {
    readers: Vec<String>,
    columns: Vec<Vec<Option<u32>>>,
}

impl ReaderAges {
    /// Ages in whole years, `columns[reader][fish]`; `None` where a reader gave none.
    ///
    /// # Errors
    /// [`AgreementError`] for fewer than two readers, a repeated reader, columns of different length, or an age
    /// above [`OLDEST_AGE`].
    pub fn new(
        readers: Vec<String>,
        columns: Vec<Vec<Option<u32>>>,
    ) -> Result<Self, AgreementError> {
        let found = readers.len().min(columns.len());
        if found < 2 || readers.len() != columns.len() {
            return Err(AgreementError::TooFewReaders { found });
        }
        let expected = columns.first().map_or(0, Vec::len);
        for (index, (name, column)) in readers.iter().zip(&columns).enumerate() {
            if readers.iter().take(index).any(|earlier| earlier == name) {
                return Err(AgreementError::RepeatedReader { name: name.clone() });
            }
            if column.len() != expected {
                let (name, found) = (name.clone(), column.len());
                return Err(AgreementError::UnevenColumns { name, found, expected });
            }
            check_ages(name, column)?;
        }
        Ok(Self { readers, columns })
    }

    /// The ages of a table by the readers in `chosen` (all of them where it is empty), names without regard to case.
    ///
    /// # Errors
    /// As [`ReaderAges::new`], and for a chosen reader who is not in the table.
    pub fn from_table(table: &AgesTable, chosen: &[String]) -> Result<Self, AgreementError> {
        let indices: Vec<usize> = if chosen.is_empty() {
            (0..table.readers.len()).collect()
        } else {
            chosen.iter().map(|name| find_reader(&table.readers, name)).collect::<Result<_, _>>()?
        };
        let readers = indices.iter().filter_map(|index| table.readers.get(*index).cloned());
        let column = |index: &usize| -> Vec<Option<u32>> {
            table.fish.iter().map(|fish| fish.ages.get(*index).copied().flatten()).collect()
        };
        Self::new(readers.collect(), indices.iter().map(column).collect())
    }

    /// Names of the readers.
    pub fn readers(&self) -> &[String] {
        &self.readers
    }

    /// The fish that every reader aged.
    pub fn complete(&self) -> CompleteAges {
        let columns: Vec<&[Option<u32>]> = self.columns.iter().map(Vec::as_slice).collect();
        CompleteAges::from_columns(&columns)
    }

    /// The fish that both the reader at `first` and the one at `second` aged; `None` where there is no such reader.
    pub fn pair(&self, first: usize, second: usize) -> Option<CompleteAges> {
        Some(CompleteAges::from_columns(&[self.columns.get(first)?, self.columns.get(second)?]))
    }
}

/// Ages of the fish that every reader of a set aged; the others are left out and counted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CompleteAges {
    n_readers: usize,
    by_fish: Vec<u32>,
    left_out: usize,
}

impl CompleteAges {
    fn from_columns(columns: &[&[Option<u32>]]) -> Self {
        let n_fish = columns.first().map_or(0, |column| column.len());
        let mut by_fish = Vec::with_capacity(n_fish * columns.len());
        let mut left_out = 0;
        for fish in 0..n_fish {
            let start = by_fish.len();
            by_fish.extend(columns.iter().filter_map(|column| column.get(fish).copied().flatten()));
            if by_fish.len() - start < columns.len() {
                by_fish.truncate(start);
                left_out += 1;
            }
        }
        Self { n_readers: columns.len(), by_fish, left_out }
    }

    /// Number of readers.
    pub fn n_readers(&self) -> usize {
        self.n_readers
    }

    /// Number of fish that every reader aged.
    pub fn n_fish(&self) -> usize {
        self.by_fish.len() / self.n_readers.max(1)
    }

    /// Number of fish left out because a reader gave no age.
    pub fn left_out(&self) -> usize {
        self.left_out
    }

    /// The ages fish by fish, years; each slice holds one age for each reader.
    pub fn fish(&self) -> impl Iterator<Item = &[u32]> + Clone {
        self.by_fish.chunks_exact(self.n_readers.max(1))
    }
}

fn check_ages(name: &str, column: &[Option<u32>]) -> Result<(), AgreementError> {
    let too_high = |age: &Option<u32>| age.is_some_and(|age| age > OLDEST_AGE);
    match column.iter().enumerate().find(|(_, age)| too_high(age)) {
        Some((index, age)) => Err(AgreementError::AgeTooHigh {
            name: name.to_owned(),
            index: index + 1,
            age: age.unwrap_or(0),
        }),
        None => Ok(()),
    }
}

fn find_reader(readers: &[String], name: &str) -> Result<usize, AgreementError> {
    let same = |reader: &String| reader.to_lowercase() == name.trim().to_lowercase();
    readers.iter().position(same).ok_or_else(|| AgreementError::UnknownReader {
        name: name.to_owned(),
        known: readers.join(", "),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn three() -> ReaderAges {
        let names = ["kb", "rt", "mo"].map(str::to_owned).to_vec();
        let columns = vec![
            vec![Some(1), Some(2), None, Some(4)],
            vec![Some(1), Some(3), Some(3), Some(4)],
            vec![Some(2), None, Some(3), Some(5)],
        ];
        ReaderAges::new(names, columns).unwrap()
    }

    #[test]
    fn fish_without_every_reading_are_left_out_and_counted() {
        let all = three().complete();
        assert_eq!((all.n_fish(), all.left_out()), (2, 2));
        assert_eq!(all.fish().collect::<Vec<_>>(), [[1, 1, 2].as_slice(), [4, 4, 5].as_slice()]);
        let pair = three().pair(0, 1).unwrap();
        assert_eq!((pair.n_fish(), pair.left_out()), (3, 1));
        assert!(three().pair(0, 3).is_none());
    }

    #[test]
    fn readers_are_chosen_by_name() {
        let table = AgesTable {
            readers: vec!["KB".into(), "RT".into()],
            fish: vec![crate::domain::ages::FishAges {
                fish: "01".into(),
                row: 2,
                ages: vec![Some(3), None],
            }],
        };
        let swapped = ReaderAges::from_table(&table, &["rt".into(), "kb".into()]).unwrap();
        assert_eq!(swapped.readers(), ["RT", "KB"]);
        assert_eq!(swapped.complete().left_out(), 1);
        let missing = ReaderAges::from_table(&table, &["xx".into(), "kb".into()]).unwrap_err();
        assert_eq!(missing.to_string(), "no ages by reader 'xx': choose among KB, RT");
        let twice = ReaderAges::from_table(&table, &["kb".into(), "KB".into()]).unwrap_err();
        assert_eq!(twice, AgreementError::RepeatedReader { name: "KB".into() });
    }

    #[test]
    fn an_impossible_age_is_refused() {
        let columns = vec![vec![Some(1)], vec![Some(501)]];
        let refused = ReaderAges::new(vec!["a".into(), "b".into()], columns).unwrap_err();
        assert_eq!(refused, AgreementError::AgeTooHigh { name: "b".into(), index: 1, age: 501 });
    }
}
