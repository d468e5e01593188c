//! The laboratory's own line for the program's probabilities: gathered from confirmed readings, kept in
//! `results/finder.json`, which may be deleted at any time and is made again from the sidecars.
//!
//! A sidecar keeps marks, not the proposals refused. Each confirmed reading made with proposals on screen is therefore
//! proposed on once more, along its confirmed axis, by this version of the program; a candidate counts as confirmed
//! where an annulus mark lies at its place. Readings made without proposals are left out, so that all decisions come
//! about in the same way; that the reader saw the proposals is said wherever the numbers are shown.

use std::path::{Path, PathBuf};

use rayon::prelude::*;
use serde_json::{Value, json};

use super::demo::RESULTS_FOLDER;
use crate::domain::progress::{Progress, Stopped};
use crate::domain::reading::{ImpressionReading, MarkKind, Outcome, ScanReading, Structure};
use crate::imaging::decode::{Limits, decode_file};
use crate::proposing::recalibration::{JudgedProposal, Recalibration};
use crate::proposing::{Proposals, Request, propose};
use crate::store::collection::OpenSurvey;
use crate::store::safe_write::{Expected, write_whole};
use crate::store::sidecar::load_sidecar;

/// File name in the folder of results.
const FILE: &str = "finder.json";
/// The program whose probabilities a line belongs to.
const VERSION: &str = env!("CARGO_PKG_VERSION");
/// A mark within this share of the radius of a candidate is at its place.
const SAME_PLACE: f64 = 0.015;

/// Decisions of readers on proposals, one structure.
#[derive(Debug, Clone, PartialEq)]
pub struct Gathered {
    /// Scale or otolith.
    pub structure: Structure,
    /// One for each candidate.
    pub judged: Vec<JudgedProposal>,
    /// Sidecars and scans that could not be used, one plain line each.
    pub left_out: Vec<String>,
}

/// Gathers the decisions of all readers of a survey. Opens every scan with a confirmed reading made with proposals on
/// screen: run it as a job.
///
/// # Errors
/// [`Stopped`] when `progress` was asked to stop.
pub fn gather(
    survey: &OpenSurvey,
    structure: Structure,
    progress: &Progress,
) -> Result<Gathered, Stopped> {
    progress.set_total(survey.sidecars.len());
    let each: Vec<Result<Vec<JudgedProposal>, String>> = survey
        .sidecars
        .par_iter()
        .map(|sidecar| {
            progress.checkpoint()?;
            let decisions = load_sidecar(&sidecar.path).map_err(|error| error.to_string());
            let decisions = decisions.and_then(|loaded| {
                let scan = survey.scan_path(&sidecar.scan).map_err(|error| error.to_string())?;
                decided_on(&loaded.reading, &scan, structure)
            });
            progress.step();
            Ok(decisions)
        })
        .collect::<Result<_, Stopped>>()?;
    let mut gathered = Gathered { structure, judged: Vec::new(), left_out: Vec::new() };
    for one in each {
        match one {
            Ok(judged) => gathered.judged.extend(judged),
            Err(why) => gathered.left_out.push(why),
        }
    }
    Ok(gathered)
}

/// The decisions of one sidecar.
fn decided_on(
    reading: &ScanReading,
    scan: &Path,
    structure: Structure,
) -> Result<Vec<JudgedProposal>, String> {
    let usable: Vec<&ImpressionReading> = reading
        .confirmed()
        .filter(|one| {
            one.structure == structure
                && one.conditions.proposals_shown
                && one.outcome == Some(Outcome::Aged)
                && one.axis.is_some()
        })
        .collect();
    let (Some(calibration), false) = (&reading.calibration, usable.is_empty()) else {
        return Ok(Vec::new());
    };
    let picture = decode_file(scan, &Limits::default())
        .map_err(|error| format!("{error}: '{}'", scan.display()))?;
    let mut judged = Vec::new();
    for one in usable {
        let request = Request {
            raster: &picture.raster,
            calibration: calibration.clone(),
            structure,
            light: one.light,
            bounds: one.bounds,
            focus: None,
            axis: one.axis.clone(),
        };
        let found = propose(&request, &Progress::new()).map_err(|_| "stopped".to_owned())?;
        judged.extend(compared(one, &found));
    }
    Ok(judged)
}

/// Each candidate with whether the reading has an annulus there; a mark confirms the nearest candidate only.
fn compared(reading: &ImpressionReading, found: &Proposals) -> Vec<JudgedProposal> {
    let reach = SAME_PLACE * found.edge.or(reading.edge).map_or(0.0, |edge| edge.0);
    let candidates: Vec<(f64, f64)> = found
        .annuli
        .iter()
        .chain(&found.checks)
        .chain(&found.alternatives)
        .map(|candidate| (candidate.position.0, candidate.probability))
        .collect();
    let nearest = |mark: f64| {
        let away = |place: f64| (place - mark).abs();
        (0..candidates.len())
            .filter(|i| candidates.get(*i).is_some_and(|c| away(c.0) <= reach))
            .min_by(|a, b| away(candidates[*a].0).total_cmp(&away(candidates[*b].0)))
    };
    let confirmed: Vec<usize> = reading
        .marks
        .iter()
        .filter(|mark| mark.kind == MarkKind::Annulus)
        .filter_map(|mark| nearest(mark.position.0))
        .collect();
    candidates
        .iter()
        .enumerate()
        .map(|(i, (_, said))| JudgedProposal {
            fish: reading.fish.clone(),
            said: *said,
            confirmed: confirmed.contains(&i),
        })
        .collect()
}

/// The lines of a survey, one a structure, where there are any.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct OwnLines(Vec<(Structure, Recalibration)>);

impl OwnLines {
    /// Those a survey keeps.
    pub fn kept_in(folder: &Path) -> Self {
        let structures = [Structure::Scale, Structure::Otolith];
        Self(structures.into_iter().filter_map(|one| Some((one, kept(folder, one)?))).collect())
    }

    /// The line for a structure.
    pub fn of(&self, structure: Structure) -> Option<&Recalibration> {
        self.0.iter().find(|(one, _)| *one == structure).map(|(_, own)| own)
    }

    /// Takes over what came of fitting a line anew: the line, or none.
    pub fn replace(&mut self, structure: Structure, own: Option<Recalibration>) {
        self.0.retain(|(one, _)| *one != structure);
        self.0.extend(own.map(|own| (structure, own)));
    }
}

/// Where a survey keeps its line.
pub fn file_of(folder: &Path) -> PathBuf {
    folder.join(RESULTS_FOLDER).join(FILE)
}

/// Fits the line and keeps it; a line that can no longer be fitted is taken away.
///
/// # Errors
/// Why nothing was kept, in one line: too few decisions, none that mean anything, or a file that cannot be written.
pub fn refit(folder: &Path, gathered: &Gathered) -> Result<Recalibration, String> {
    let path = file_of(folder);
    let mut whole = read_object(&path);
    let word = gathered.structure.word();
    let fitted = Recalibration::fit(&gathered.judged).map_err(|error| error.to_string());
    match &fitted {
        Ok(own) => {
            let line = json!({
                "slope": own.slope, "shift": own.shift,
                "n_proposals": own.n_proposals, "n_fish": own.n_fish,
                "program_version": VERSION,
            });
            whole.insert(word.to_owned(), line);
        }
        Err(_) if whole.remove(word).is_none() => return fitted,
        Err(_) => {}
    }
    if let Some(folder) = path.parent() {
        std::fs::create_dir_all(folder)
            .map_err(|error| format!("cannot make '{}': {error}", folder.display()))?;
    }
    let mut bytes = serde_json::to_vec_pretty(&Value::Object(whole))
        .map_err(|error| format!("cannot write the line: {error}"))?;
    bytes.push(b'\n');
    write_whole(&path, &bytes, Expected::Anything).map_err(|error| error.to_string())?;
    fitted
}

/// The line of a survey for a structure, where there is one that may be used. A damaged file is as good as none.
pub fn kept(folder: &Path, structure: Structure) -> Option<Recalibration> {
    let whole = read_object(&file_of(folder));
    let line = whole.get(structure.word())?;
    // Another version of the finder says other probabilities: its line means nothing here.
    line.get("program_version")?.as_str().filter(|version| *version == VERSION)?;
    let count = |key: &str| usize::try_from(line.get(key)?.as_u64()?).ok();
    let own = Recalibration {
        slope: line.get("slope")?.as_f64()?,
        shift: line.get("shift")?.as_f64()?,
        n_proposals: count("n_proposals")?,
        n_fish: count("n_fish")?,
    };
    own.is_usable().then_some(own)
}

fn read_object(path: &Path) -> serde_json::Map<String, Value> {
    let text = std::fs::read_to_string(path).unwrap_or_default();
    match serde_json::from_str(&text) {
        Ok(Value::Object(map)) => map,
        _ => serde_json::Map::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::reading::{Certainty, Mark, MarkOrigin};
    use crate::domain::units::{Micrometres, Pixels};
    use crate::proposing::{Proposal, Refusal};
    use kurbo::Point;

    fn candidate(position: f64, probability: f64) -> Proposal {
        Proposal {
            position: Pixels(position),
            radius: Micrometres(5.0 * position),
            inner_radius: Micrometres(5.0 * position - 10.0),
            at: Point::new(position, 0.0),
            probability,
            ring: None,
            continuity: 1.0,
        }
    }

    #[test]
    fn a_mark_confirms_the_nearest_candidate_and_a_check_confirms_none() {
        let mut reading = ImpressionReading::new(1, "7", Structure::Scale);
        let mark = |kind, position| Mark {
            kind,
            position: Pixels(position),
            origin: MarkOrigin::ByHand,
            certainty: Certainty::Clear,
        };
        reading.marks = vec![
            mark(MarkKind::Annulus, 101.0),
            mark(MarkKind::Check, 200.0),
            mark(MarkKind::Annulus, 350.0),
        ];
        let found = Proposals {
            edge: Some(Pixels(400.0)),
            annuli: vec![candidate(100.0, 0.9), candidate(200.0, 0.7)],
            alternatives: vec![candidate(105.0, 0.2), candidate(330.0, 0.4)],
            ..Proposals::refused(Refusal::Empty)
        };
        let judged = compared(&reading, &found);
        let list: Vec<(f64, bool)> = judged.iter().map(|j| (j.said, j.confirmed)).collect();
        assert_eq!(list, [(0.9, true), (0.7, false), (0.2, false), (0.4, false)]);
        assert!(judged.iter().all(|j| j.fish == "7"));
    }

    #[test]
    fn a_line_is_kept_read_again_and_taken_away_with_its_ground() {
        let folder = tempfile::tempdir().unwrap();
        let judged: Vec<JudgedProposal> = (0..400)
            .map(|k| JudgedProposal {
                fish: format!("{}", k % 80),
                said: if k % 2 == 0 { 0.8 } else { 0.2 },
                confirmed: k % 10 < 4 || (k % 2 == 0 && k % 10 < 7),
            })
            .collect();
        let mut gathered = Gathered { structure: Structure::Scale, judged, left_out: Vec::new() };
        let own = refit(folder.path(), &gathered).unwrap();
        assert_eq!(kept(folder.path(), Structure::Scale), Some(own));
        assert_eq!(kept(folder.path(), Structure::Otolith), None);
        let lines = OwnLines::kept_in(folder.path());
        assert_eq!((lines.of(Structure::Scale), lines.of(Structure::Otolith)), (Some(&own), None));
        let text = std::fs::read_to_string(file_of(folder.path())).unwrap();
        let other = text.replace(&format!("\"{VERSION}\""), "\"0.0.0\"");
        assert_ne!(text, other);
        std::fs::write(file_of(folder.path()), other).unwrap();
        assert_eq!(kept(folder.path(), Structure::Scale), None, "of another version");
        std::fs::write(file_of(folder.path()), text).unwrap();
        gathered.judged.truncate(40);
        assert!(refit(folder.path(), &gathered).unwrap_err().contains("too few"));
        assert_eq!(kept(folder.path(), Structure::Scale), None);
        std::fs::write(file_of(folder.path()), "{\"scale\": {\"slope\": -1}").unwrap();
        assert_eq!(kept(folder.path(), Structure::Scale), None);
    }
}
