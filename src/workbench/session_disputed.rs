//! Which scans show fish whose confirmed readings differ and on which nobody has decided.

use std::collections::{BTreeMap, BTreeSet, HashSet};

use crate::domain::progress::Progress;
use crate::domain::resolution::{FishReading, Resolution, standing};
use crate::store::blind::LISTS_FOLDER;
use crate::store::collection::OpenSurvey;

use super::resolve_readings::readings_and_resolutions;

/// File names of those scans. Readings of blind lists count once the list is closed. Empty where fewer than two
/// readers have anything on disk, and where lists or decisions cannot be read: checking the survey tells why.
pub fn disputed_scans(survey: &OpenSurvey) -> HashSet<String> {
    let readers: HashSet<_> = survey.sidecars.iter().map(|sidecar| &sidecar.reader).collect();
    if readers.len() < 2 && !survey.folder.join(LISTS_FOLDER).is_dir() {
        return HashSet::new();
    }
    let Ok(readings) = survey.load_readings(&Progress::new()) else { return HashSet::new() };
    readings_and_resolutions(survey, &readings)
        .map(|all| scans_of(&all.readings, &all.resolutions))
        .unwrap_or_default()
}

fn scans_of(readings: &[FishReading], resolutions: &[Resolution]) -> HashSet<String> {
    let mut by_fish: BTreeMap<&str, Vec<&FishReading>> = BTreeMap::new();
    for reading in readings {
        by_fish.entry(reading.fish.as_str()).or_default().push(reading);
    }
    let mut scans = HashSet::new();
    for (fish, readings) in by_fish {
        let readers: BTreeSet<String> =
            readings.iter().map(|one| one.reader.as_str().to_ascii_lowercase()).collect();
        let said: BTreeSet<Option<u32>> = readings.iter().map(|one| one.age).collect();
        if readers.len() > 1 && said.len() > 1 && standing(resolutions, fish).is_empty() {
            scans.extend(readings.iter().map(|one| one.scan.clone()));
        }
    }
    scans
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::reading::{Outcome, ReaderInitials};
    use crate::domain::resolution::Decision;

    fn reading(fish: &str, reader: &str, age: Option<u32>) -> FishReading {
        FishReading {
            fish: fish.to_owned(),
            scan: format!("{fish}.tif"),
            impression: 1,
            reader: ReaderInitials::new(reader).unwrap(),
            outcome: Some(Outcome::Aged),
            age,
            hash: format!("{fish}{reader}{age:?}"),
        }
    }

    #[test]
    fn a_scan_is_disputed_until_somebody_decides() {
        let all = [
            reading("a", "kb", Some(3)),
            reading("a", "tv", Some(3)),
            reading("b", "kb", Some(4)),
            reading("b", "tv", Some(5)),
            reading("c", "kb", Some(4)),
            reading("c", "tv", None),
            reading("d", "kb", Some(4)),
        ];
        let scans: BTreeSet<String> = scans_of(&all, &[]).into_iter().collect();
        assert_eq!(scans.into_iter().collect::<Vec<_>>(), ["b.tif", "c.tif"]);
        let decided = Resolution {
            id: "r".to_owned(),
            fish: "b".to_owned(),
            considered: all[2..4].to_vec(),
            decision: Decision::Consensus(4),
            by: ReaderInitials::new("lead").unwrap(),
            when: "2025-07-01T08:00:00Z".parse().unwrap(),
            why: "looked together".to_owned(),
            supersedes: None,
        };
        assert!(!scans_of(&all, &[decided]).contains("b.tif"));
    }
}
