//! The readings that analyses count: those beside the scans, those of closed blind lists that are not filed yet, and
//! of all of these what one rule of ages leaves. Lengths, growth, ages and comparisons share the rule.

use std::collections::{BTreeMap, HashMap, HashSet};

use crate::domain::reading::{ImpressionReading, ReaderInitials, ScanReading, Structure};
use crate::domain::resolution::{
    AgeOrigin, Rule, WithoutAge, ages_by_rule, fish_left_by_each_rule,
};
use crate::domain::several::readings_that_count;
use crate::store::blind_error::BlindError;
use crate::store::blind_filing::closed_readings;
use crate::store::collection::OpenSurvey;
use crate::store::fingerprint::Fingerprint;
use crate::store::sidecar::LoadedSidecar;
use crate::store::survey_check::SurveyReadings;

use super::resolve_readings::readings_for_rules;

/// Whose ages an analysis uses.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum AgesFrom {
    /// Those of the reader whose readings are used.
    #[default]
    Reader,
    /// The decision where there is one, else the age all readers gave, else the only reading.
    Consensus,
    /// Only ages that two or more readers gave alike.
    Agreed,
}

impl AgesFrom {
    /// All of them, in the order they are offered.
    pub const ALL: [Self; 3] = [Self::Reader, Self::Consensus, Self::Agreed];

    /// The rule it stands for, with the reader whose readings are used.
    pub fn rule(self, reader: &ReaderInitials) -> Rule {
        match self {
            Self::Reader => Rule::OneReader(reader.clone()),
            Self::Consensus => Rule::Consensus,
            Self::Agreed => Rule::OnlyAgreed,
        }
    }

    /// A few words for a button.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Reader => "One reader",
            Self::Consensus => "Consensus",
            Self::Agreed => "Only agreed",
        }
    }
}

/// Readings under a rule, as readings of one reader.
#[derive(Debug, Clone)]
pub struct RuledReadings {
    /// The readings: of each fish those whose age is the one that counts.
    pub readings: SurveyReadings,
    /// Under whose initials they stand here: the reader of the rule, or the survey's first.
    pub reader: ReaderInitials,
    /// The rule.
    pub rule: Rule,
    /// Fish with an age under the rule.
    pub n_fish: usize,
    /// Fish with readings that have no age under the rule, and why.
    pub left_out: Vec<WithoutAge>,
    /// How many fish each rule leaves, in words: "kb 40, consensus 52, only agreed 38".
    pub each_rule: String,
    /// Fish whose decision is older than a reading of theirs.
    pub n_outdated: usize,
    /// What was wrong with lists and decisions, one sentence each.
    pub problems: Vec<String>,
}

/// A rule in plain words.
pub fn rule_in_words(rule: &Rule) -> String {
    match rule {
        Rule::OneReader(reader) => format!("ages by {reader}"),
        Rule::Consensus => {
            "the decision where there is one, else the age all readers gave, else the only reading"
                .to_owned()
        }
        Rule::OnlyAgreed => "only fish that two or more readers gave the same age".to_owned(),
    }
}

/// Puts the readings of closed blind lists in their places, as they will be when their readers file them.
///
/// # Errors
/// [`BlindError`] when the folder of lists cannot be read.
pub fn with_closed_lists(
    survey: &OpenSurvey,
    mut readings: SurveyReadings,
) -> Result<(SurveyReadings, Vec<String>), BlindError> {
    let closed = closed_readings(&survey.folder, &readings.sidecars)?;
    for scan in closed.readings {
        let same = |there: &&mut LoadedSidecar| {
            there.reading.reader == scan.reader && there.reading.scan.file == scan.scan.file
        };
        match readings.sidecars.iter_mut().find(same) {
            Some(there) => scan.impressions.into_iter().for_each(|one| there.reading.put(one)),
            None => readings.sidecars.push(loaded(scan)),
        }
    }
    Ok((readings, closed.problems))
}

/// A reading of a list that no sidecar holds yet, as a sidecar.
fn loaded(reading: ScanReading) -> LoadedSidecar {
    LoadedSidecar {
        path: std::path::PathBuf::new(),
        reading,
        earlier: Vec::new(),
        fingerprint: Fingerprint::of(b""),
        version: 1,
        stale_micrometres: Vec::new(),
    }
}

/// The readings that `rule` leaves, closed blind lists included. `main` is preferred where several readers gave the
/// age that counts, and is whose initials they stand under where the rule names nobody.
///
/// A fish whose age was decided on and given by no reader keeps the age and has no radii.
///
/// # Errors
/// [`BlindError`] when the folder of lists or of decisions cannot be read.
pub fn readings_by_rule(
    survey: &OpenSurvey,
    readings: SurveyReadings,
    rule: &Rule,
    main: &ReaderInitials,
) -> Result<RuledReadings, BlindError> {
    let decided = readings_for_rules(survey, &readings)?;
    let found = ages_by_rule(&decided.readings, &decided.resolutions, rule);
    let counts = fish_left_by_each_rule(&decided.readings, &decided.resolutions);
    let (all, _) = with_closed_lists(survey, readings)?;
    let reader = match rule {
        Rule::OneReader(reader) => reader.clone(),
        Rule::Consensus | Rule::OnlyAgreed => main.clone(),
    };
    let is_outdated =
        |origin: &AgeOrigin| matches!(origin, AgeOrigin::Resolved { is_outdated: true, .. });
    let n_outdated = found.ages.iter().filter(|one| is_outdated(&one.origin)).count();
    let kept = match rule {
        Rule::OneReader(_) => all,
        Rule::Consensus | Rule::OnlyAgreed => {
            let ages: HashMap<&str, u32> =
                found.ages.iter().map(|one| (one.fish.as_str(), one.age)).collect();
            kept(all, &ages, &reader, survey)
        }
    };
    Ok(RuledReadings {
        readings: kept,
        reader,
        rule: rule.clone(),
        n_fish: found.ages.len(),
        left_out: found.left_out,
        each_rule: counts_in_words(&counts),
        n_outdated,
        problems: decided.problems,
    })
}

fn counts_in_words(counts: &[(Rule, usize)]) -> String {
    let words: Vec<String> = counts
        .iter()
        .map(|(rule, n)| match rule {
            Rule::OneReader(reader) => format!("{reader} {n}"),
            Rule::Consensus => format!("consensus {n}"),
            Rule::OnlyAgreed => format!("only agreed {n}"),
        })
        .collect();
    words.join(", ")
}

/// Reader, scan and number of the confirmed impressions of `structure` on which each reader's age of a fish rests.
fn counting(all: &SurveyReadings, structure: Structure) -> HashSet<(&ReaderInitials, &str, u32)> {
    type Read<'a> = (Vec<(&'a ReaderInitials, &'a str, u32)>, Vec<&'a ImpressionReading>);
    let mut read: HashMap<(&ReaderInitials, &str), Read<'_>> = HashMap::new();
    for sidecar in &all.sidecars {
        let (reader, scan) = (&sidecar.reading.reader, sidecar.reading.scan.file.as_str());
        for one in sidecar.reading.confirmed().filter(|one| one.structure == structure) {
            let known = read.entry((reader, one.fish.as_str())).or_default();
            known.0.push((reader, scan, one.number));
            known.1.push(one);
        }
    }
    let mut counting = HashSet::new();
    for (places, readings) in read.into_values() {
        let at = readings_that_count(&readings).into_iter();
        counting.extend(at.filter_map(|at| places.get(at).copied()));
    }
    counting
}

/// Of each fish the impressions of the one reader who gave the age that counts, all under the initials of `main`.
fn kept(
    all: SurveyReadings,
    ages: &HashMap<&str, u32>,
    main: &ReaderInitials,
    survey: &OpenSurvey,
) -> SurveyReadings {
    let counting = counting(&all, survey.survey.structure);
    let counts = |sidecar: &LoadedSidecar, one: &ImpressionReading| {
        let scan = (&sidecar.reading.reader, sidecar.reading.scan.file.as_str());
        counting.contains(&(scan.0, scan.1, one.number))
    };
    // The chosen reader of each fish: one whose age counts if there is one, `main` before the others.
    let mut chosen: BTreeMap<&str, (u8, &ReaderInitials)> = BTreeMap::new();
    for sidecar in &all.sidecars {
        let reader = &sidecar.reading.reader;
        for one in sidecar.reading.impressions.iter().filter(|one| counts(sidecar, one)) {
            let Some(age) = ages.get(one.fish.as_str()) else { continue };
            let rank = u8::from(one.age != Some(*age)) * 2 + u8::from(reader != main);
            let best = chosen.entry(one.fish.as_str()).or_insert((rank, reader));
            if rank < best.0 {
                *best = (rank, reader);
            }
        }
    }
    let mut sidecars: Vec<LoadedSidecar> = Vec::new();
    for sidecar in &all.sidecars {
        let mut kept = sidecar.clone();
        kept.reading.impressions.retain(|one| {
            counts(sidecar, one)
                && chosen
                    .get(one.fish.as_str())
                    .is_some_and(|(_, reader)| **reader == sidecar.reading.reader)
        });
        for one in &mut kept.reading.impressions {
            // The choice is made: all that are left count.
            one.choice = None;
            let age = ages.get(one.fish.as_str()).copied();
            if one.age != age {
                one.age = age;
                one.axis = None;
                one.edge = None;
                one.marks.clear();
            }
        }
        if !kept.reading.impressions.is_empty() {
            kept.reading.reader = main.clone();
            sidecars.push(kept);
        }
    }
    SurveyReadings { sidecars, problems: all.problems, exclusions: all.exclusions }
}
