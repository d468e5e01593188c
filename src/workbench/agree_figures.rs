//! The figures of the Agree desk: from the readings of a survey to everything the desk shows of two columns of ages,
//! owned, so that a worker can build them and the window only look at them.

use std::collections::HashMap;

use crate::analysis::agreement::by_age::{AgreementAtAge, agreement_by_age};
use crate::analysis::agreement::comparison::{PairComparison, Settings, compare};
use crate::analysis::agreement::known_age::Accuracy;
use crate::analysis::agreement::matching::RadiusAgreement;
use crate::domain::progress::{Progress, Stopped};
use crate::domain::reading::{ReaderInitials, Structure};
use crate::domain::resolution::{FishReading, Resolution, fish_left_by_each_rule, standing};
use crate::store::collection::OpenSurvey;
use crate::store::survey_check::SurveyReadings;

use super::resolve_readings::readings_and_resolutions;
use super::survey_ages_by_reader::{AgesByReader, ages_by_reader_and_structure};
use super::survey_readings::{rule_in_words, with_closed_lists};

/// One column of ages that can be compared.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ColumnSummary {
    /// Its name: initials, with the kind of reading and the structure where there are several.
    pub name: String,
    /// The reader.
    pub reader: ReaderInitials,
    /// The structure.
    pub structure: Structure,
    /// Proposals were on screen.
    pub is_aided: bool,
    /// Fish with an age.
    pub n: usize,
}

/// What a comparison of two columns is worth as evidence.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PairKind {
    /// Two readers, at least one of whom saw no proposals.
    Readers,
    /// Two readers who both saw proposals.
    BothAided,
    /// One reader against himself, aided and unaided.
    SameReader,
    /// Two structures of the same fish.
    Structures,
}

impl PairKind {
    fn of(first: &ColumnSummary, second: &ColumnSummary) -> Self {
        if first.structure != second.structure {
            Self::Structures
        } else if first.reader == second.reader {
            Self::SameReader
        } else if first.is_aided && second.is_aided {
            Self::BothAided
        } else {
            Self::Readers
        }
    }

    /// What stands above the figures.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Readers => "Two readers",
            Self::BothAided => {
                "Not independent: both readers saw proposals, so their agreement says little about the ages"
            }
            Self::SameReader => {
                "One reader twice, with and without proposals: repeatability, not agreement of readers"
            }
            Self::Structures => {
                "A comparison of structures, not of readers: a difference may lie in the structures themselves"
            }
        }
    }
}

/// A fish that both columns aged.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ComparedFish {
    /// Its key.
    pub key: String,
    /// Its number.
    pub number: String,
    /// The two ages, years.
    pub ages: [u32; 2],
    /// The innermost annulus that is nearest to none of the other's: where the readings part.
    pub parting: Option<usize>,
    /// The decision that stands, in words; `None` where nobody has decided.
    pub decision: Option<String>,
}

impl ComparedFish {
    /// Second age minus first, years.
    pub fn difference(&self) -> i64 {
        i64::from(self.ages[1]) - i64::from(self.ages[0])
    }
}

/// Everything the desk shows.
#[derive(Debug, Clone, PartialEq)]
pub struct AgreeFigures {
    /// The columns there are.
    pub columns: Vec<ColumnSummary>,
    /// The two on show, as places in `columns`; `None` where there are fewer than two.
    pub chosen: Option<[usize; 2]>,
    /// What the pair is worth.
    pub kind: PairKind,
    /// Their comparison.
    pub pair: Option<PairComparison>,
    /// The settings it was made with.
    pub settings: Settings,
    /// Agreement by the age the first column gave.
    pub by_age: Vec<AgreementAtAge>,
    /// Radii, annulus by annulus; `None` where the two share no measured impression.
    pub radii: Option<RadiusAgreement>,
    /// The two columns against known ages, where the survey has such fish.
    pub accuracy: [Option<Accuracy>; 2],
    /// The fish both aged, in the order of the field sheet.
    pub fish: Vec<ComparedFish>,
    /// How many fish each rule of ages leaves.
    pub rules: Vec<(String, usize)>,
    /// All confirmed readings, closed lists included.
    pub readings: Vec<FishReading>,
    /// All decisions.
    pub resolutions: Vec<Resolution>,
    /// What was wrong on the way, one sentence each.
    pub problems: Vec<String>,
}

impl AgreeFigures {
    /// The chosen columns.
    pub fn pair_columns(&self) -> Option<[&ColumnSummary; 2]> {
        let [first, second] = self.chosen?;
        Some([self.columns.get(first)?, self.columns.get(second)?])
    }
}

/// Gathers the columns of a survey, closed blind lists included, and compares the two that are named; the first two
/// with ages where nobody is.
///
/// # Errors
/// [`Stopped`] when asked to stop.
pub fn agree_figures(
    survey: &OpenSurvey,
    names: Option<&[String; 2]>,
    progress: &Progress,
) -> Result<AgreeFigures, Stopped> {
    let readings = survey.load_readings(progress)?;
    let mut problems: Vec<String> = readings
        .problems
        .iter()
        .filter(|problem| problem.is_error())
        .map(ToString::to_string)
        .collect();
    let decided = readings_and_resolutions(survey, &readings).unwrap_or_else(|error| {
        problems.push(error.to_string());
        super::resolve_readings::ReadingsAndResolutions::default()
    });
    problems.extend(decided.problems);
    let merged = with_closed_lists(survey, readings.clone()).map(|(merged, _)| merged);
    let merged: SurveyReadings = merged.unwrap_or(readings);
    let mut by_reader = ages_by_reader_and_structure(survey, &merged);
    let columns: Vec<ColumnSummary> = by_reader.columns.iter().map(summary).collect();
    let rules = fish_left_by_each_rule(&decided.readings, &decided.resolutions)
        .iter()
        .map(|(rule, n)| (rule_in_words(rule), *n))
        .collect();
    let mut figures = AgreeFigures {
        chosen: chosen(&columns, names),
        columns,
        kind: PairKind::Readers,
        pair: None,
        settings: Settings::default(),
        by_age: Vec::new(),
        radii: None,
        accuracy: [None, None],
        fish: Vec::new(),
        rules,
        readings: decided.readings,
        resolutions: decided.resolutions,
        problems,
    };
    fill(&mut figures, &mut by_reader, survey);
    Ok(figures)
}

fn summary(column: &super::survey_ages_by_reader::ReaderColumn) -> ColumnSummary {
    ColumnSummary {
        name: column.name.clone(),
        reader: column.reader.clone(),
        structure: column.structure,
        is_aided: column.is_aided,
        n: column.ages.iter().flatten().count(),
    }
}

/// The columns asked for; otherwise the first one and the next of another reader, unaided ones before aided ones.
fn chosen(columns: &[ColumnSummary], names: Option<&[String; 2]>) -> Option<[usize; 2]> {
    let place = |name: &String| columns.iter().position(|column| column.name == *name);
    if let Some([first, second]) = names
        && let (Some(first), Some(second)) = (place(first), place(second))
        && first != second
    {
        return Some([first, second]);
    }
    let mut order: Vec<usize> = (0..columns.len()).collect();
    order.sort_by_key(|at| columns.get(*at).map(|column| column.is_aided));
    let first = *order.first()?;
    let other = |at: &&usize| {
        let pair = (columns.get(first), columns.get(**at));
        matches!(pair, (Some(a), Some(b)) if a.reader != b.reader && a.structure == b.structure)
    };
    let second = order.iter().skip(1).find(other).or_else(|| order.get(1))?;
    Some([first.min(*second), first.max(*second)])
}

fn fill(figures: &mut AgreeFigures, by_reader: &mut AgesByReader<'_>, survey: &OpenSurvey) {
    let Some(columns) = figures.pair_columns() else { return };
    let kind = PairKind::of(columns[0], columns[1]);
    let names = columns.map(|column| column.name.clone());
    figures.kind = kind;
    let kept: Vec<_> = figures
        .chosen
        .iter()
        .flatten()
        .filter_map(|at| by_reader.columns.get(*at).cloned())
        .collect();
    by_reader.columns = kept;
    match by_reader.ages(None) {
        Ok(ages) => {
            let mut compared = compare(&ages, figures.settings);
            figures.pair = compared.pairs.pop();
        }
        Err(error) => figures.problems.push(format!("{}: {error}", names.join(" and "))),
    }
    let matrix = figures.pair.as_ref().and_then(|pair| pair.matrix.as_ref());
    figures.by_age = matrix.map_or_else(Vec::new, agreement_by_age);
    figures.radii = by_reader.radii(0, 1);
    figures.accuracy = [by_reader.accuracy(0, survey), by_reader.accuracy(1, survey)];
    figures.fish = compared_fish(by_reader, &figures.resolutions);
}

fn compared_fish(by_reader: &AgesByReader<'_>, resolutions: &[Resolution]) -> Vec<ComparedFish> {
    let mut decided: HashMap<&str, String> = HashMap::new();
    for one in resolutions {
        let words = match standing(resolutions, &one.fish).as_slice() {
            [standing] => decision_in_words(standing),
            _ => "two decisions stand side by side: decide again".to_owned(),
        };
        decided.insert(one.fish.as_str(), words);
    }
    let partings = by_reader.partings(0, 1);
    let age = |column: usize, place: usize| {
        by_reader.columns.get(column)?.ages.get(place).copied().flatten()
    };
    let fish = by_reader.fish.iter().enumerate().filter_map(|(place, fish)| {
        Some(ComparedFish {
            key: fish.key.clone(),
            number: fish.number.clone(),
            ages: [age(0, place)?, age(1, place)?],
            parting: partings.get(&fish.key).copied(),
            decision: decided.get(fish.key.as_str()).cloned(),
        })
    });
    fish.collect()
}

/// A decision in a few words: "consensus: age 4 (tv, 2025-07-01)".
pub fn decision_in_words(one: &Resolution) -> String {
    use crate::domain::resolution::Decision;
    let what = match one.decision {
        Decision::Consensus(age) => format!("consensus: age {age}"),
        Decision::ThirdReading(age) => format!("third reading: age {age}"),
        Decision::Discard => "left out".to_owned(),
    };
    let day: String = one.when.to_string().chars().take(10).collect();
    format!("{what} ({}, {day})", one.by)
}
