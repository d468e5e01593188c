//! Whose ages count: the one flag that lengths, growth, ages, compare and report share, and what they say about it.

use serde_json::{Value, json};

use super::flags::AgesFromFlag;
use super::{Failure, output};
use crate::domain::reading::ReaderInitials;
use crate::domain::resolution::Rule;
use crate::store::collection::OpenSurvey;
use crate::store::survey_check::SurveyReadings;
use crate::workbench::survey_lengths::default_reader;
use crate::workbench::survey_readings::{AgesFrom, RuledReadings, readings_by_rule, rule_in_words};

/// The reader named on the command line, else the first of the survey.
pub(super) fn reader_of(
    survey: &OpenSurvey,
    named: Option<&str>,
) -> Result<ReaderInitials, Failure> {
    match named {
        Some(text) => ReaderInitials::new(text).map_err(|error| Failure::usage(error.to_string())),
        None => default_reader(survey).ok_or_else(|| {
            Failure::data(
                "nobody has read this survey yet: read it first, or name a reader in survey.json",
            )
        }),
    }
}

/// What the flag stands for.
pub(super) fn ages_from(flag: AgesFromFlag) -> AgesFrom {
    match flag {
        AgesFromFlag::Reader => AgesFrom::Reader,
        AgesFromFlag::Consensus => AgesFrom::Consensus,
        AgesFromFlag::Agreed => AgesFrom::Agreed,
    }
}

/// The readings that the flag leaves, closed blind lists included. Says on standard error how many fish each rule
/// leaves where there is more than one reader.
pub(super) fn ruled(
    survey: &OpenSurvey,
    readings: SurveyReadings,
    from: AgesFromFlag,
    reader: &ReaderInitials,
) -> Result<RuledReadings, Failure> {
    let rule = ages_from(from).rule(reader);
    let found = readings_by_rule(survey, readings, &rule, reader)
        .map_err(|error| Failure::data(error.to_string()))?;
    found.problems.iter().for_each(|problem| output::message(problem));
    if from != AgesFromFlag::Reader {
        output::message(&format!(
            "{}: {} fish (each rule leaves: {})",
            rule_in_words(&rule),
            found.n_fish,
            found.each_rule
        ));
    }
    if found.n_outdated > 0 {
        output::message(&format!(
            "{} decisions are older than a reading of their fish: look at those again",
            found.n_outdated
        ));
    }
    Ok(found)
}

/// The same for a document.
pub(super) fn ruled_json(found: &RuledReadings) -> Value {
    let left_out: Vec<Value> =
        found.left_out.iter().map(|one| json!({"fish": one.fish, "reason": one.reason})).collect();
    let by = match &found.rule {
        Rule::OneReader(reader) => reader.as_str(),
        Rule::Consensus => "consensus",
        Rule::OnlyAgreed => "only agreed",
    };
    json!({
        "by": by,
        "rule": rule_in_words(&found.rule),
        "n_fish": found.n_fish,
        "each_rule": found.each_rule,
        "n_outdated_decisions": found.n_outdated,
        "left_out": left_out,
    })
}

/// Puts it into a document of a verb.
pub(super) fn insert(document: &mut Value, ages_from: Option<Value>) {
    if let (Some(object), Some(value)) = (document.as_object_mut(), ages_from) {
        object.insert("ages_from".to_owned(), value);
    }
}
