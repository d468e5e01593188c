//! `list`: blind re-read lists as a lead handles them.

use std::path::{Path, PathBuf};

use serde_json::json;

use jiff::Timestamp;

use super::flags::{ListCloseFlags, ListNewFlags, ListPackFlags, ListTakeInFlags, ListVerb};
use super::{DONE, Failure, output};
use crate::domain::blind::{BlindPolicy, BlindRule, ListName};
use crate::domain::reading::ReaderInitials;
use crate::domain::units::Millimetres;
use crate::store::blind::close_list;
use crate::store::blind_error::BlindError;
use crate::store::blind_take_in::take_in;
use crate::store::collection::OpenSurvey;
use crate::workbench::blind_lists::{DrawnList, NewList, new_list, pack_list};

/// Runs the verb.
pub fn run(verb: &ListVerb) -> Result<u8, Failure> {
    let (json, done) = match verb {
        ListVerb::New(flags) => (flags.json, new(flags)),
        ListVerb::Close(flags) => (flags.json, close(flags)),
        ListVerb::Pack(flags) => (flags.json, pack(flags)),
        ListVerb::TakeIn(flags) => (flags.json, taken_in(flags)),
    };
    match done {
        Ok(Done { written, text }) => {
            if json {
                let written: Vec<String> = written.iter().map(|path| shown(path)).collect();
                output::json(&json!({ "written": written, "error": null }))?;
            } else {
                output::result(&format!("{text}\n"))?;
            }
            Ok(DONE)
        }
        Err(failure) => {
            if json {
                output::json(&json!({ "written": [], "error": failure.message }))?;
            }
            Err(failure)
        }
    }
}

/// Files written, and what to tell a person.
struct Done {
    written: Vec<PathBuf>,
    text: String,
}

fn new(flags: &ListNewFlags) -> Result<Done, Failure> {
    let new = NewList {
        name: name_of(&flags.name)?,
        seed: flags.seed,
        rule: rule_of(flags),
        n_references: flags.references,
        policy: BlindPolicy {
            species: !flags.hide_species,
            structure: !flags.hide_structure,
            capture_month: !flags.hide_month,
            proposals: flags.show_proposals,
        },
        by: reader_of(flags.by.as_deref())?,
    };
    let survey = open(&flags.survey)?;
    let readings = output::with_progress("loading readings", |watch| survey.load_readings(watch))
        .map_err(|stopped| Failure::data(stopped.to_string()))?;
    for problem in &readings.problems {
        output::message(&problem.to_string());
    }
    let now = Timestamp::now();
    let drawn = output::with_progress("drawing the list", |watch| {
        new_list(&survey, &readings, &new, now, watch)
    })
    .map_err(failure)?;
    tell(&drawn);
    let text = format!(
        "{} impressions on the list '{}': '{}'",
        drawn.n_entries,
        new.name,
        shown(&drawn.path)
    );
    Ok(Done { written: vec![drawn.path], text })
}

fn tell(drawn: &DrawnList) {
    for fish in &drawn.left_out {
        output::message(&format!("fish '{}' is not on the list: {}", fish.fish, fish.reason));
    }
    if drawn.n_whole_scans > 0 {
        output::message(&format!(
            "{} impressions have no box, so the reader sees their whole scans: labels, rulers and neighbours on them \
             would give the fish away; draw the boxes first and make a new list if there are any",
            drawn.n_whole_scans
        ));
    }
}

fn close(flags: &ListCloseFlags) -> Result<Done, Failure> {
    let (name, by) = (name_of(&flags.name)?, reader_of(flags.by.as_deref())?);
    let survey = open(&flags.survey)?;
    let closed =
        close_list(&survey.folder, &name, by.as_ref(), Timestamp::now()).map_err(failure)?;
    let text = match &closed {
        Some(path) => format!("the list '{name}' is closed: '{}'", shown(path)),
        None => format!("the list '{name}' was closed already"),
    };
    Ok(Done { written: closed.into_iter().collect(), text })
}

fn pack(flags: &ListPackFlags) -> Result<Done, Failure> {
    let name = name_of(&flags.name)?;
    let survey = open(&flags.survey)?;
    output::with_progress("packing the list", |watch| {
        pack_list(&survey, &name, &flags.file, watch)
    })
    .map_err(failure)?;
    let text = format!("the list '{name}' is packed: '{}'", shown(&flags.file));
    Ok(Done { written: vec![flags.file.clone()], text })
}

fn taken_in(flags: &ListTakeInFlags) -> Result<Done, Failure> {
    let survey = open(&flags.survey)?;
    let taken = take_in(&survey.folder, &flags.file, Timestamp::now()).map_err(failure)?;
    let text = match &taken {
        Some(path) => format!("the readings are taken in: '{}'", shown(path)),
        None => "these readings were taken in already".to_owned(),
    };
    Ok(Done { written: taken.into_iter().collect(), text })
}

fn rule_of(flags: &ListNewFlags) -> BlindRule {
    if let Some(share) = flags.share {
        BlindRule::Share(share)
    } else if let Some(n) = flags.per_age {
        BlindRule::PerAge(n)
    } else if let Some(n) = flags.per_length {
        BlindRule::PerLength { n, width: Millimetres(flags.width.unwrap_or_default()) }
    } else if flags.doubtful {
        BlindRule::Doubtful
    } else if flags.fish.is_empty() {
        BlindRule::All
    } else {
        BlindRule::Fish(flags.fish.clone())
    }
}

fn open(folder: &Path) -> Result<OpenSurvey, Failure> {
    OpenSurvey::open(folder).map_err(|error| Failure::data(error.to_string()))
}

fn name_of(text: &str) -> Result<ListName, Failure> {
    ListName::new(text).map_err(|error| Failure::usage(error.to_string()))
}

fn reader_of(text: Option<&str>) -> Result<Option<ReaderInitials>, Failure> {
    text.map(ReaderInitials::new).transpose().map_err(|error| Failure::usage(error.to_string()))
}

/// Numbers that no list can be drawn with are wrong usage; all else is the data's fault.
fn failure(error: BlindError) -> Failure {
    use crate::domain::blind::BlindListError::{BadGroups, BadName, BadShare};
    match error {
        BlindError::List(BadGroups { .. } | BadName { .. } | BadShare { .. }) => {
            Failure::usage(error.to_string())
        }
        other => Failure::data(other.to_string()),
    }
}

fn shown(path: &Path) -> String {
    path.display().to_string()
}
