//! From the confirmed readings of a survey to a column of ages for each reader.
//!
//! Readings made with proposals on screen and without are kept apart where a reader has both: two readings that saw
//! the same proposals are not independent of each other.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use crate::analysis::agreement::AgreementError;
use crate::analysis::agreement::known_age::{Accuracy, accuracy};
use crate::analysis::agreement::matching::{
    AnnulusMatch, RadiusAgreement, match_annuli, radius_agreement,
};
use crate::analysis::agreement::matrix::AgeMatrix;
use crate::analysis::agreement::readings::ReaderAges;
use crate::domain::age::year_class;
use crate::domain::fish::Fish;
use crate::domain::reading::{ImpressionReading, Outcome, ReaderInitials, ReadingState, Structure};
use crate::domain::several::readings_that_count;
use crate::domain::units::Micrometres;
use crate::store::collection::OpenSurvey;
use crate::store::survey_check::SurveyReadings;

/// The ages of one reader, or those of one reader's readings with or without proposals.
#[derive(Debug, Clone, PartialEq)]
pub struct ReaderColumn {
    /// Initials; with " (aided)" or " (unaided)" where the reader has both kinds.
    pub name: String,
    /// The reader.
    pub reader: ReaderInitials,
    /// The structure they were read on.
    pub structure: Structure,
    /// Proposals were on screen.
    pub is_aided: bool,
    /// Age of each fish, whole years, in the order of [`AgesByReader::fish`].
    pub ages: Vec<Option<u32>>,
    /// Fish whose scales got different ages: they have no age here.
    pub unsettled: usize,
    /// The fish and its annulus radii, by scan and impression.
    radii: HashMap<(String, u32), (String, Vec<Micrometres>)>,
}

/// The ages of a survey, a column for each reader.
#[derive(Debug, Clone, PartialEq)]
pub struct AgesByReader<'a> {
    /// The fish of the field sheet that stand for one fish, in its order.
    pub fish: Vec<&'a Fish>,
    /// The columns in the order of the survey's readers.
    pub columns: Vec<ReaderColumn>,
}

type OfFish<'a> = HashMap<&'a str, Vec<&'a ImpressionReading>>;

/// Gathers the confirmed readings on the survey's structure.
pub fn ages_by_reader<'a>(
    survey: &'a OpenSurvey,
    readings: &'a SurveyReadings,
) -> AgesByReader<'a> {
    columns_on(survey, readings, &[survey.survey.structure])
}

/// Gathers the confirmed readings on every structure that was read: those on the survey's own first, the others named
/// by reader and structure.
pub fn ages_by_reader_and_structure<'a>(
    survey: &'a OpenSurvey,
    readings: &'a SurveyReadings,
) -> AgesByReader<'a> {
    let own = survey.survey.structure;
    let read = readings.sidecars.iter().flat_map(|sidecar| &sidecar.reading.impressions);
    let others: BTreeSet<Structure> =
        read.map(|one| one.structure).filter(|structure| *structure != own).collect();
    let structures: Vec<Structure> = [own].into_iter().chain(others).collect();
    columns_on(survey, readings, &structures)
}

fn columns_on<'a>(
    survey: &'a OpenSurvey,
    readings: &'a SurveyReadings,
    structures: &[Structure],
) -> AgesByReader<'a> {
    let fish: Vec<&Fish> = survey.fish.iter().filter(|fish| fish.count == 1).collect();
    let mut columns = Vec::new();
    for structure in structures {
        for reader in readers_of(survey, readings) {
            let kinds =
                [true, false].map(|aided| column(*structure, readings, &fish, &reader, aided));
            let [mut aided, mut unaided] = kinds;
            if let (Some(aided), Some(unaided)) = (&mut aided, &mut unaided) {
                aided.name.push_str(" (aided)");
                unaided.name.push_str(" (unaided)");
            }
            for mut found in aided.into_iter().chain(unaided) {
                if *structure != survey.survey.structure {
                    found.name = format!("{} on {}", found.name, structure.word());
                }
                columns.push(found);
            }
        }
    }
    AgesByReader { fish, columns }
}

/// Readers named in the settings first, in their order, then the others by name.
fn readers_of(survey: &OpenSurvey, readings: &SurveyReadings) -> Vec<ReaderInitials> {
    let mut readers = survey.survey.readers.clone();
    let mut others: Vec<ReaderInitials> =
        readings.sidecars.iter().map(|sidecar| sidecar.reading.reader.clone()).collect();
    others.sort_by_key(|reader| reader.as_str().to_lowercase());
    for other in others {
        if !readers.contains(&other) {
            readers.push(other);
        }
    }
    readers
}

fn column(
    structure: Structure,
    readings: &SurveyReadings,
    fish: &[&Fish],
    reader: &ReaderInitials,
    is_aided: bool,
) -> Option<ReaderColumn> {
    let mut by_fish: OfFish<'_> = HashMap::new();
    let mut radii = HashMap::new();
    let mut has_aged = false;
    for sidecar in readings.sidecars.iter().filter(|sidecar| sidecar.reading.reader == *reader) {
        for one in &sidecar.reading.impressions {
            let counts = one.state == ReadingState::Confirmed
                && one.structure == structure
                && one.conditions.proposals_shown == is_aided;
            if !counts {
                continue;
            }
            by_fish.entry(one.fish.as_str()).or_default().push(one);
            if one.outcome != Some(Outcome::Aged) {
                continue;
            }
            has_aged = true;
            if let Some(calibration) = &sidecar.reading.calibration {
                let place = (sidecar.reading.scan.file.clone(), one.number);
                radii.insert(place, (one.fish.clone(), one.annulus_radii(calibration)));
            }
        }
    }
    if !has_aged {
        return None;
    }
    let mut unsettled = 0;
    let ages = fish
        .iter()
        .map(|fish| {
            let read = by_fish.get(fish.key.as_str())?;
            let read = readings_that_count(read).into_iter().filter_map(|index| read.get(index));
            let mut ages: Vec<u32> = read.filter_map(|one| one.age).collect();
            ages.sort_unstable();
            ages.dedup();
            unsettled += usize::from(ages.len() > 1);
            (ages.len() == 1).then(|| ages.first().copied()).flatten()
        })
        .collect();
    let name = reader.as_str().to_owned();
    let reader = reader.clone();
    Some(ReaderColumn { name, reader, structure, is_aided, ages, unsettled, radii })
}

impl AgesByReader<'_> {
    /// Keeps the readers named, in that order; a name means all columns of that reader, or one of them.
    ///
    /// # Errors
    /// [`AgreementError::UnknownReader`] for a name without a reading, [`AgreementError::RepeatedReader`].
    pub fn choose(&mut self, names: &[String]) -> Result<(), AgreementError> {
        if names.is_empty() {
            return Ok(());
        }
        let mut chosen: Vec<ReaderColumn> = Vec::new();
        for name in names {
            let is_meant = |column: &&ReaderColumn| {
                column.name.eq_ignore_ascii_case(name.trim())
                    || column.reader.as_str().eq_ignore_ascii_case(name.trim())
            };
            let found: Vec<ReaderColumn> = self.columns.iter().filter(is_meant).cloned().collect();
            if found.is_empty() {
                let known: Vec<&str> =
                    self.columns.iter().map(|column| column.name.as_str()).collect();
                return Err(AgreementError::UnknownReader {
                    name: name.clone(),
                    known: known.join(", "),
                });
            }
            for column in found {
                if chosen.iter().any(|have| have.name == column.name) {
                    return Err(AgreementError::RepeatedReader { name: name.clone() });
                }
                chosen.push(column);
            }
        }
        self.columns = chosen;
        Ok(())
    }

    /// The columns as ages to compare, over all fish or those at the places in `only`.
    ///
    /// # Errors
    /// As [`ReaderAges::new`].
    pub fn ages(&self, only: Option<&[usize]>) -> Result<ReaderAges, AgreementError> {
        let names = self.columns.iter().map(|column| column.name.clone()).collect();
        let pick = |column: &ReaderColumn| match only {
            None => column.ages.clone(),
            Some(places) => {
                places.iter().map(|place| column.ages.get(*place).copied().flatten()).collect()
            }
        };
        ReaderAges::new(names, self.columns.iter().map(pick).collect())
    }

    /// Places of the fish by a text taken from each, where there is more than one such text; empty otherwise.
    pub fn split(&self, text_of: impl Fn(&Fish) -> String) -> BTreeMap<String, Vec<usize>> {
        let mut places: BTreeMap<String, Vec<usize>> = BTreeMap::new();
        for (place, fish) in self.fish.iter().enumerate() {
            let is_read = self
                .columns
                .iter()
                .any(|column| column.ages.get(place).copied().flatten().is_some());
            if is_read {
                places.entry(text_of(fish)).or_default().push(place);
            }
        }
        if places.len() > 1 { places } else { BTreeMap::new() }
    }

    /// Radii of two columns, impression by impression; `None` where they share none.
    pub fn radii(&self, first: usize, second: usize) -> Option<RadiusAgreement> {
        let matches: Vec<AnnulusMatch> =
            self.matches(first, second).into_iter().map(|(_, matched)| matched).collect();
        (!matches.is_empty()).then(|| radius_agreement(&matches))
    }

    /// The number of the annulus at which the readings of two columns part, by fish; the first impression of each counts.
    pub fn partings(&self, first: usize, second: usize) -> BTreeMap<String, usize> {
        let mut partings = BTreeMap::new();
        for (fish, matched) in self.matches(first, second) {
            if let Some(parting) = matched.parting {
                partings.entry(fish.to_owned()).or_insert(parting.number);
            }
        }
        partings
    }

    /// The impressions both columns measured, in order of scan and number, with their fish.
    fn matches(&self, first: usize, second: usize) -> Vec<(&str, AnnulusMatch)> {
        let (Some(first), Some(second)) = (self.columns.get(first), self.columns.get(second))
        else {
            return Vec::new();
        };
        let mut places: Vec<_> =
            first.radii.keys().filter(|place| second.radii.contains_key(*place)).collect();
        places.sort();
        let matched = places.into_iter().filter_map(|place| {
            let ((fish, mine), (_, theirs)) = (first.radii.get(place)?, second.radii.get(place)?);
            Some((fish.as_str(), match_annuli(mine, theirs)))
        });
        matched.collect()
    }

    /// Ages of a column against the ages that known year classes give; `None` without such fish.
    pub fn accuracy(&self, column: usize, survey: &OpenSurvey) -> Option<Accuracy> {
        let read = &self.columns.get(column)?.ages;
        let birthday = survey.survey.birthday_rule.birthday;
        let known = self.fish.iter().map(|fish| {
            let hatched_at_age_0 = year_class(0, fish.captured?, birthday)?;
            u32::try_from(hatched_at_age_0.checked_sub(fish.known_year_class?)?).ok()
        });
        let columns = vec![known.collect(), read.clone()];
        let ages = ReaderAges::new(vec!["known".to_owned(), "read".to_owned()], columns).ok()?;
        accuracy(&AgeMatrix::from_ages(&ages.complete())?)
    }
}
