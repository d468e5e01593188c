//! From a survey, or from tables of lengths, to the sample an age-length key is made from.

use std::collections::{BTreeMap, HashMap};

use crate::analysis::population::sample::SampledFish;
use crate::analysis::population::year_class_strength::StockedYears;
use crate::domain::age::year_class;
use crate::domain::effort::EffortRun;
use crate::domain::fish::Fish;
use crate::domain::reading::{ImpressionReading, ReaderInitials, ReadingState};
use crate::domain::several::readings_that_count;
use crate::store::collection::OpenSurvey;
use crate::store::lengths_table::{LengthRow, LengthsTable};
use crate::store::survey_check::{SurveyReadings, SurveyTables};

use super::survey_lengths::LeftOut;

/// A sample, and what is known beside it.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct AgesSample {
    /// Fish of one species, length type and year, aged and unaged.
    pub fish: Vec<SampledFish>,
    /// Fish that are no part of it, and fish that count as unaged though they were read.
    pub left_out: Vec<LeftOut>,
    /// Calendar year of the last birthday before capture.
    pub year: Option<i16>,
    /// The species; empty in tables of lengths.
    pub species: String,
    /// Runs of the gear.
    pub effort: Option<Vec<EffortRun>>,
    /// What was stocked; `None` without a record of stocking.
    pub stocked: Option<StockedYears>,
}

/// Why a survey gives no sample.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum AgesSampleError {
    /// Several species and none named.
    #[error("the field sheet holds several species ({}): name one with --species", species.join(", "))]
    SeveralSpecies {
        /// Species as written.
        species: Vec<String>,
    },
    /// A species without fish.
    #[error("the field sheet holds no '{species}': it holds {}", known.join(", "))]
    NoSuchSpecies {
        /// Species asked for.
        species: String,
        /// Species as written.
        known: Vec<String>,
    },
}

/// Gathers all measured fish of one species: those with an age by `reader` in a confirmed reading as aged, the others as
/// unaged. The species is `species`, else the survey's, else the only one. Fish of another length type or year of
/// capture than most are left out, since a key holds for one; `year` chooses another year.
///
/// # Errors
/// [`AgesSampleError`] where the species cannot be told.
pub fn survey_ages(
    survey: &OpenSurvey,
    readings: &SurveyReadings,
    tables: SurveyTables,
    reader: &ReaderInitials,
    species: Option<&str>,
    year: Option<i16>,
) -> Result<AgesSample, AgesSampleError> {
    let species = species_of(survey, species)?;
    let birthday = survey.survey.birthday_rule.birthday;
    let year_of = |fish: &Fish| fish.captured.and_then(|day| year_class(0, day, birthday));
    let mut sample = AgesSample::default();
    let (own, others): (Vec<&Fish>, Vec<&Fish>) =
        survey.fish.iter().partition(|fish| same(&fish.species, &species));
    for fish in others {
        sample.leave_out(fish, format!("another species: {}", fish.species));
    }
    let year = year
        .or_else(|| commonest(own.iter().filter_map(|fish| Some((year_of(fish)?, fish.count)))));
    let length_type = commonest(own.iter().map(|fish| (fish.length_type.word(), fish.count)));
    let ages = ages_by(survey, readings, reader);
    for fish in own {
        let Some(length) = fish.length else {
            sample.leave_out(fish, "no length".to_owned());
            continue;
        };
        if Some(fish.length_type.word()) != length_type {
            sample.leave_out(fish, format!("another length type: {}", fish.length_type.word()));
            continue;
        }
        if let Some(other) = year_of(fish).filter(|own| Some(*own) != year) {
            sample.leave_out(fish, format!("caught in another year: {other}"));
            continue;
        }
        let age = match ages.get(fish.key.as_str()).map_or(&[][..], Vec::as_slice) {
            _ if fish.count > 1 => None,
            [] => None,
            [age] => Some(*age),
            _ => {
                let why =
                    format!("{reader} gave its impressions different ages: it counts as not aged");
                sample.leave_out(fish, why);
                None
            }
        };
        sample.fish.push(SampledFish {
            fish: fish.key.clone(),
            row: fish.row,
            length,
            age,
            sex: fish.sex,
            run: fish.run.clone(),
            captured: fish.captured,
            count: fish.count,
        });
    }
    sample.year = year;
    sample.effort = tables.effort;
    sample.stocked =
        tables.stocking.map(|list| StockedYears::of(&list, &species, &survey.survey.water));
    sample.species = species;
    Ok(sample)
}

/// Joins a table of aged and one of unaged fish. Rows keep the numbers of their own table.
pub fn table_ages(aged: &LengthsTable, unaged: &LengthsTable, year: Option<i16>) -> AgesSample {
    let mut sample = AgesSample { year, ..AgesSample::default() };
    sample.fish.extend(aged.rows.iter().chain(&unaged.rows).map(sampled));
    for (table, what) in [(aged, "aged"), (unaged, "unaged")] {
        sample.left_out.extend(table.incomplete.iter().map(|(row, lacks)| LeftOut {
            fish: String::new(),
            row: *row,
            reason: format!("no {lacks} in the table of {what} fish"),
        }));
    }
    sample
}

impl AgesSample {
    fn leave_out(&mut self, fish: &Fish, reason: String) {
        self.left_out.push(LeftOut { fish: fish.key.clone(), row: fish.row, reason });
    }
}

fn sampled(row: &LengthRow) -> SampledFish {
    SampledFish {
        fish: row.fish.clone(),
        row: row.row,
        length: row.length,
        age: row.age,
        sex: row.sex,
        run: row.run.clone(),
        captured: row.captured,
        count: row.count,
    }
}

/// Ages by one reader in the confirmed readings of the survey's structure that count, each age once.
fn ages_by<'a>(
    survey: &OpenSurvey,
    readings: &'a SurveyReadings,
    reader: &ReaderInitials,
) -> HashMap<&'a str, Vec<u32>> {
    let mut by_fish: HashMap<&str, Vec<&ImpressionReading>> = HashMap::new();
    let own = readings.sidecars.iter().filter(|sidecar| sidecar.reading.reader == *reader);
    for impression in own.flat_map(|sidecar| &sidecar.reading.impressions) {
        let counts = impression.state == ReadingState::Confirmed
            && impression.structure == survey.survey.structure;
        if counts {
            by_fish.entry(impression.fish.as_str()).or_default().push(impression);
        }
    }
    let ages = by_fish.into_iter().map(|(fish, read)| {
        let counted = readings_that_count(&read).into_iter().filter_map(|index| read.get(index));
        let mut ages: Vec<u32> = Vec::new();
        for age in counted.filter_map(|impression| impression.age) {
            if !ages.contains(&age) {
                ages.push(age);
            }
        }
        (fish, ages)
    });
    ages.filter(|(_, ages)| !ages.is_empty()).collect()
}

fn species_of(survey: &OpenSurvey, asked: Option<&str>) -> Result<String, AgesSampleError> {
    let mut known: Vec<String> = Vec::new();
    for fish in &survey.fish {
        if !known.iter().any(|one| same(one, &fish.species)) {
            known.push(fish.species.clone());
        }
    }
    let find = |wanted: &str| known.iter().find(|one| same(one, wanted)).cloned();
    if let Some(wanted) = asked {
        return find(wanted).ok_or_else(|| AgesSampleError::NoSuchSpecies {
            species: wanted.to_owned(),
            known: known.clone(),
        });
    }
    match (find(&survey.survey.species), known.as_slice()) {
        (Some(usual), _) => Ok(usual),
        (None, [only]) => Ok(only.clone()),
        (None, []) => Ok(survey.survey.species.clone()),
        (None, _) => Err(AgesSampleError::SeveralSpecies { species: known }),
    }
}

fn same(a: &str, b: &str) -> bool {
    a.trim().to_lowercase() == b.trim().to_lowercase()
}

/// The value most fish have; the last in order of several.
fn commonest<T: Ord>(values: impl Iterator<Item = (T, u32)>) -> Option<T> {
    let mut counts: BTreeMap<T, u64> = BTreeMap::new();
    for (value, count) in values {
        *counts.entry(value).or_default() += u64::from(count);
    }
    counts.into_iter().max_by_key(|(_, count)| *count).map(|(value, _)| value)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::progress::Progress;
    use crate::domain::reading::Structure;
    use crate::domain::survey::Survey;
    use crate::store::survey_file::write_survey;

    fn open(fish: &str, species: &str) -> (tempfile::TempDir, OpenSurvey) {
        let folder = tempfile::tempdir().unwrap();
        let mut survey = Survey::new("a", "Maple Hollow Pond", Structure::Scale);
        survey.species = species.to_owned();
        write_survey(folder.path(), &survey, None).unwrap();
        std::fs::write(folder.path().join("fish.csv"), fish).unwrap();
        std::fs::write(
            folder.path().join("stocking.csv"),
            "date,species,number\n2022,walleye,100\n",
        )
        .unwrap();
        let opened = OpenSurvey::open(folder.path()).unwrap();
        (folder, opened)
    }

    fn gather(survey: &OpenSurvey, species: Option<&str>) -> Result<AgesSample, AgesSampleError> {
        let readings = survey.load_readings(&Progress::new()).unwrap();
        let tables = survey.load_tables().unwrap();
        survey_ages(survey, &readings, tables, &ReaderInitials::new("kb").unwrap(), species, None)
    }

    const FISH: &str = "fish,species,capture_date,length_mm,length_type,count\n\
        1,walleye,2025-10-06,300,TL,\n\
        2,Walleye,2025-10-06,310,FL,\n\
        3,walleye,2024-10-06,320,TL,\n\
        4,yellow perch,2025-10-06,150,TL,\n\
        ,walleye,2025-10-06,330,TL,12\n\
        5,walleye,2025-10-06,,TL,\n";

    #[test]
    fn one_species_year_and_length_type_make_the_sample() {
        let (_folder, survey) = open(FISH, "walleye");
        let sample = gather(&survey, None).unwrap();
        let rows: Vec<_> = sample.fish.iter().map(|fish| (fish.row, fish.count)).collect();
        assert_eq!(rows, [(2, 1), (6, 12)]);
        assert_eq!(sample.year, Some(2025));
        let left: Vec<_> = sample.left_out.iter().map(|one| one.reason.as_str()).collect();
        assert_eq!(
            left,
            [
                "another species: yellow perch",
                "another length type: fork",
                "caught in another year: 2024",
                "no length"
            ]
        );
        assert_eq!(sample.stocked.unwrap().number(2022), Some(100));
    }

    #[test]
    fn several_species_need_a_name() {
        let (_folder, survey) = open(FISH, "");
        let error = gather(&survey, None).unwrap_err().to_string();
        assert!(error.contains("walleye, yellow perch") && error.contains("--species"), "{error}");
        assert_eq!(gather(&survey, Some("Yellow Perch")).unwrap().fish.len(), 1);
        assert!(gather(&survey, Some("pike")).is_err());
    }
}
