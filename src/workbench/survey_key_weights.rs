//! Aged fish weighted by an age-length key, where only part of the measured fish was aged.

use std::collections::HashMap;

use crate::analysis::population::age_length_key::{AgeLengthKey, EmptyGroups};
use crate::analysis::population::length_groups::LengthGroups;
use crate::analysis::population::weighted_lengths::{
    KeyedFish, WeightedAge, weight_of, weighted_lengths,
};
use crate::domain::reading::ReaderInitials;
use crate::domain::survey::LengthUnit;
use crate::store::collection::OpenSurvey;
use crate::store::survey_check::{SurveyReadings, SurveyTables};

use super::survey_ages::survey_ages;
use super::survey_growth::SurveyLengths;

/// How many fish each aged fish stands for.
#[derive(Debug, Clone, PartialEq)]
pub struct KeyWeights {
    key: AgeLengthKey,
    /// Row of the key and weight, by fish.
    by_fish: HashMap<String, (usize, f64)>,
    /// Fish measured, aged and unaged.
    pub n_measured: u64,
    /// Fish aged.
    pub n_aged: u64,
}

impl KeyWeights {
    /// The weights of a survey; length groups without aged fish go to the nearest with some.
    ///
    /// # Errors
    /// One plain line where no key can be made.
    pub fn of(
        survey: &OpenSurvey,
        readings: &SurveyReadings,
        reader: &ReaderInitials,
        species: &str,
        width_mm: Option<f64>,
    ) -> Result<Self, String> {
        let species = Some(species).filter(|species| !species.is_empty());
        let tables = SurveyTables::default();
        let sample = survey_ages(survey, readings, tables, reader, species, None)
            .map_err(|error| error.to_string())?;
        let (width, unit) = match (width_mm, survey.survey.length_unit) {
            (Some(mm), _) => (mm, LengthUnit::Millimetre),
            (None, LengthUnit::Inch) => (1.0, LengthUnit::Inch),
            (None, _) => (25.0, LengthUnit::Millimetre),
        };
        let groups = LengthGroups::new(width, unit).map_err(|error| error.to_string())?;
        let key = AgeLengthKey::new(&sample.fish, groups, EmptyGroups::Merge)
            .map_err(|error| error.to_string())?;
        let by_fish = sample
            .fish
            .iter()
            .filter(|fish| fish.age.is_some())
            .filter_map(|fish| Some((fish.fish.clone(), weight_of(&key, fish)?)))
            .collect();
        Ok(Self { n_measured: key.n_sampled(), n_aged: key.n_aged(), by_fish, key })
    }

    /// How many fish an aged fish stands for.
    pub fn weight(&self, fish: &str) -> Option<f64> {
        self.by_fish.get(fish).map(|(_, weight)| *weight)
    }

    /// Weighted mean length at age.
    pub fn means(&self, lengths: &SurveyLengths<'_>) -> Vec<WeightedAge> {
        let keyed = lengths.fish.iter().filter_map(|one| {
            let (row, _) = self.by_fish.get(&one.fish.key)?;
            Some(KeyedFish { row: *row, lengths_mm: one.lengths_mm.clone() })
        });
        weighted_lengths(&self.key, &keyed.collect::<Vec<_>>())
    }

    /// Said where a plain mean of the aged fish is in danger: part of the measured fish was aged, and not the same part of
    /// every length group.
    pub fn warning(&self) -> Option<String> {
        let shares = self.key.rows.iter().filter(|row| row.sampled >= 5);
        let (low, high) = shares
            .map(|row| row.aged() as f64 / row.sampled as f64)
            .fold((f64::INFINITY, 0.0), |(low, high): (f64, f64), share| {
                (low.min(share), high.max(share))
            });
        (self.n_aged < self.n_measured && high > 1.5 * low).then(|| {
            format!(
                "only {} of {} measured fish were aged, and not the same part of every length group ({:.0} to {:.0} %): the \
                 plain mean length at age is biased (Bettoli & Miranda 2001); weight the aged fish by the age-length key",
                self.n_aged,
                self.n_measured,
                100.0 * low,
                100.0 * high
            )
        })
    }
}
