//! What this survey's confirmed readings say of the program's probabilities: read when the survey opens, worked out anew
//! on a thread when asked for.

use crate::domain::progress::{Progress, Stopped};
use crate::domain::reading::Structure;
use crate::proposing::recalibration::Recalibration;
use crate::store::collection::OpenSurvey;

use super::job::{Job, Polled};
use super::recalibrate::{gather, refit};
use super::workbench::Workbench;

/// What came of it.
struct Refitted {
    structure: Structure,
    /// The line, or why there is none.
    own: Result<Recalibration, String>,
    left_out: Vec<String>,
}

/// The work under way.
pub(super) struct Recalibrating(Job<Result<Refitted, String>>);

impl Recalibrating {
    pub(super) fn progress(&self) -> &Progress {
        self.0.progress()
    }
}

impl Workbench {
    /// What this survey's readings say of the proposals on the structure being read; `None` where they do not say
    /// enough, in blind lists and in practice.
    pub fn own_line(&self) -> Option<&Recalibration> {
        let structure = self.scan.as_ref()?.reading()?.structure;
        self.survey.as_ref()?.own_lines.of(structure)
    }

    /// True while it is being worked out.
    pub fn is_recalibrating(&self) -> bool {
        self.recalibrating.is_some()
    }

    pub(super) fn start_recalibrating(&mut self) {
        let Some(survey) = &self.survey else {
            self.notices.say("open a survey first: its confirmed readings are compared");
            return;
        };
        let structure = survey.survey().structure;
        if !matches!(structure, Structure::Scale | Structure::Otolith) {
            self.notices.say("proposals exist for scales and otoliths only");
            return;
        }
        let folder = survey.folder.clone();
        let work = move |progress: &Progress| {
            // Listed afresh: sidecars have been written since the survey was opened.
            let survey = OpenSurvey::open(&folder).map_err(|error| error.to_string())?;
            let gathered = gather(&survey, structure, progress)
                .map_err(|stopped: Stopped| stopped.to_string())?;
            let own = refit(&folder, &gathered);
            Ok(Refitted { structure, own, left_out: gathered.left_out })
        };
        match Job::start("recalibrate", &self.wake, work) {
            Ok(job) => {
                self.recalibrating = Some(Recalibrating(job));
                self.notices.say("comparing confirmed readings with what is proposed on them");
            }
            Err(error) => self.notices.report(format!("cannot work out probabilities: {error}")),
        }
    }

    pub(super) fn poll_recalibrating(&mut self) {
        let Some(Recalibrating(job)) = &self.recalibrating else { return };
        let result = match job.poll() {
            Polled::Pending => return,
            Polled::Done(result) => result,
            Polled::Lost => Err("working out probabilities broke off".to_owned()),
        };
        self.recalibrating = None;
        match result {
            Ok(refitted) => self.take_line(refitted),
            Err(error) => self.notices.report(error),
        }
    }

    fn take_line(&mut self, Refitted { structure, own, left_out }: Refitted) {
        if let Some(first) = left_out.first() {
            let n = left_out.len();
            self.notices.report(format!("{n} readings could not be compared; the first: {first}"));
        }
        let Some(survey) = &mut self.survey else { return };
        match own {
            Ok(own) => {
                survey.own_lines.replace(structure, Some(own));
                self.notices.say(format!("proposals show probabilities now, {}", own.basis()));
            }
            Err(why) => {
                survey.own_lines.replace(structure, None);
                self.notices.say(format!("proposals keep their words: {why}"));
            }
        }
    }
}
