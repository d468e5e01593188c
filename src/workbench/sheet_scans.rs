//! Scans for a sheet that names none: those the present field sheet gives a fish, else those named after its number.

use std::collections::{BTreeMap, BTreeSet};

use crate::store::collection::OpenSurvey;

/// What is known of the scans of fish.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct KnownScans {
    /// Scans by fish number, from the present sheet.
    by_number: BTreeMap<String, Vec<String>>,
    /// File names of all scans.
    files: Vec<String>,
}

impl KnownScans {
    /// What an open survey tells.
    pub fn of_survey(survey: &OpenSurvey) -> Self {
        let with_scans = survey.fish.iter().filter(|fish| !fish.scans.is_empty());
        Self {
            by_number: with_scans.map(|fish| (fish.number.clone(), fish.scans.clone())).collect(),
            files: survey.scans.clone(),
        }
    }

    /// Pictures that are to become scans.
    pub fn of_pictures(files: Vec<String>) -> Self {
        Self { by_number: BTreeMap::new(), files }
    }

    /// Scans for each of `numbers`. A scan goes to one fish; one that several could claim goes to none of them.
    pub fn for_fish(&self, numbers: &[String]) -> Vec<Vec<String>> {
        let known = |number: &String| self.by_number.get(number);
        let given: BTreeSet<&String> = numbers.iter().filter_map(known).flatten().collect();
        let mut claims: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
        for (index, number) in numbers.iter().enumerate().filter(|(_, one)| known(one).is_none()) {
            let named = self.files.iter().filter(|file| !given.contains(file));
            for file in named.filter(|file| is_named_after(file, number)) {
                claims.entry(file).or_default().push(index);
            }
        }
        let mut scans: Vec<Vec<String>> =
            numbers.iter().map(|number| known(number).cloned().unwrap_or_default()).collect();
        for (file, claimants) in claims {
            if let [only] = claimants.as_slice()
                && let Some(own) = scans.get_mut(*only)
            {
                own.push(file.to_owned());
            }
        }
        scans
    }
}

/// True for `012.tif` and `MH-012.tif` of fish 012, with or without a letter for a second scan (`MH-012b.tif`).
fn is_named_after(file: &str, number: &str) -> bool {
    let stem = file.rsplit_once('.').map_or(file, |(stem, _)| stem).to_lowercase();
    let number = number.to_lowercase();
    if number.is_empty() {
        return false;
    }
    let ends_with = |stem: &str| {
        stem.strip_suffix(number.as_str())
            .is_some_and(|before| before.chars().last().is_none_or(|sign| !sign.is_alphanumeric()))
    };
    ends_with(&stem)
        || stem.strip_suffix(|sign: char| sign.is_ascii_lowercase()).is_some_and(ends_with)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn scans_go_to_the_one_fish_they_are_named_after() {
        let files = ["MH-001.tif", "MH-012.tif", "MH-012b.tif", "112.png", "other.png"];
        let known = KnownScans::of_pictures(files.map(str::to_owned).to_vec());
        let numbers = ["001", "012", "12", "112"].map(str::to_owned);
        let found = known.for_fish(&numbers);
        assert_eq!(found[0], ["MH-001.tif"]);
        assert_eq!(found[1], ["MH-012.tif", "MH-012b.tif"]);
        assert_eq!((found[2].len(), found[3].as_slice()), (0, &["112.png".to_owned()][..]));
        let twice = known.for_fish(&["001".to_owned(), "001".to_owned()]);
        assert!(twice.iter().all(Vec::is_empty), "{twice:?}");
    }
}
