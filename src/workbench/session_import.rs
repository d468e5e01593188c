//! Taking in a field sheet in the window: which sheet is looked at, how it is matched, what is wrong with it.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::domain::progress::Progress;
use crate::domain::reading::Structure;
use crate::domain::survey::Survey;
use crate::store::collection::OpenSurvey;
use crate::store::field_sheet::FIELD_SHEET;
use crate::store::raw_sheet::read_raw_sheet;

use super::action::Action;
use super::job::{Job, Polled};
use super::settings_sheets::SheetMemory;
use super::sheet_check::{SheetCheck, check_sheet};
use super::sheet_import::{Fix, SheetImport};
use super::sheet_meaning::SheetKind;
use super::sheet_radii::RadiiScale;
use super::sheet_scans::KnownScans;
use super::sheet_taking::{PreparedSheet, Taken, prepared_sheet, take_into_survey, write_radii};
use super::workbench::Workbench;

/// Where a sheet is to go.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum LookFor {
    /// Into the open survey; into a new one where none is open.
    OpenSurvey,
    /// Into a new survey, with the pictures of these names.
    NewSurvey(Vec<String>),
}

/// Something asked while a sheet is taken in.
#[derive(Debug, Clone, PartialEq)]
pub enum ImportAction {
    /// Shows the screen without a sheet, to choose one.
    Begin,
    /// Looks at a file.
    Look(PathBuf, LookFor),
    /// Looks at another sheet of the same workbook.
    TurnTo(String),
    /// Says what kind of table it is.
    Kind(SheetKind),
    /// Says what a column means; `None` leaves it out.
    Mean(usize, Option<String>),
    /// Does what was offered.
    Fix(Fix),
    /// Takes the cells of a column as they stand again.
    TakeBack(usize),
    /// Says how radii were measured.
    Scale(RadiiScale),
    /// The species where no column holds it.
    Species(String),
    /// Takes the sheet in: into the open survey, or ready for a new one.
    Take,
    /// Writes radii as a table into a new file.
    TakeRadii(PathBuf),
    /// Leaves it; nothing was written.
    Leave,
}

/// What came of taking a sheet in.
enum Came {
    /// It is in the survey or in a file.
    Taken(Taken),
    /// It is ready for a new survey.
    Ready(Arc<PreparedSheet>),
}

/// State of the import.
#[derive(Default)]
pub struct ImportDesk {
    is_shown: bool,
    import: Option<SheetImport>,
    check: Option<SheetCheck>,
    is_stale: bool,
    /// The sheet was just read: one that needs nobody's eye goes straight on.
    is_fresh: bool,
    looking: Option<Job<Result<SheetImport, String>>>,
    checking: Option<Job<SheetCheck>>,
    taking: Option<Job<Result<Came, String>>>,
    ready: Option<Arc<PreparedSheet>>,
    memory: SheetMemory,
    is_for: Option<LookFor>,
}

impl ImportDesk {
    /// True while the screen is on show.
    pub fn is_shown(&self) -> bool {
        self.is_shown
    }

    /// True while a sheet is read or matched, on show or not.
    pub fn has_sheet(&self) -> bool {
        self.import.is_some() || self.looking.is_some()
    }

    /// Puts the screen away for a desk; the sheet stays where it is.
    pub(super) fn put_away(&mut self) {
        self.is_shown = false;
    }

    /// The sheet that is matched.
    pub fn import(&self) -> Option<&SheetImport> {
        self.import.as_ref()
    }

    /// What was found on looking it through; of the matching before while it is looked through anew.
    pub fn check(&self) -> Option<&SheetCheck> {
        self.check.as_ref()
    }

    /// True while a sheet is read, looked through or taken in.
    pub fn is_working(&self) -> bool {
        self.looking.is_some() || self.is_checking() || self.taking.is_some()
    }

    /// True while the check on show is not of what is matched now.
    pub fn is_checking(&self) -> bool {
        self.is_stale || self.checking.is_some()
    }

    /// A sheet ready for a survey that is yet to be started.
    pub fn ready(&self) -> Option<&Arc<PreparedSheet>> {
        self.ready.as_ref()
    }

    /// Matchings remembered.
    pub fn memory(&self) -> &SheetMemory {
        &self.memory
    }

    /// Nothing of a sheet stays; what is remembered of headings does.
    pub(super) fn forget(&mut self) {
        *self = Self { memory: std::mem::take(&mut self.memory), ..Self::default() };
    }

    fn change(&mut self, change: impl FnOnce(&mut SheetImport)) {
        if let Some(import) = &mut self.import {
            change(import);
            self.is_stale = true;
            self.is_fresh = false;
            self.checking = None;
        }
    }
}

impl Workbench {
    /// A sheet being taken in.
    pub fn import(&self) -> &ImportDesk {
        &self.import
    }

    /// Tells which matchings were remembered before.
    pub fn remember_sheets(&mut self, memory: SheetMemory) {
        self.import.memory = memory;
    }

    /// The survey the sheet goes into; `None` for a new one.
    pub fn import_folder(&self) -> Option<&Path> {
        let is_new = matches!(self.import.is_for, Some(LookFor::NewSurvey(_)));
        self.folder().filter(|_| !is_new)
    }

    /// The field sheet of the open survey.
    pub fn own_sheet(&self) -> Option<PathBuf> {
        Some(self.folder()?.join(FIELD_SHEET))
    }

    pub(super) fn do_import(&mut self, action: ImportAction) {
        match action {
            ImportAction::Begin => {
                if !self.import.has_sheet() {
                    self.import.forget();
                }
                self.import.is_shown = true;
            }
            ImportAction::Look(path, is_for) => self.look_at_sheet(path, None, is_for),
            ImportAction::TurnTo(sheet) => {
                if let Some(path) = self.import.import.as_ref().map(|one| one.path.clone()) {
                    let is_for = self.import.is_for.take().unwrap_or(LookFor::OpenSurvey);
                    self.look_at_sheet(path, Some(sheet), is_for);
                }
            }
            ImportAction::Kind(kind) => self.import.change(|import| import.set_kind(kind)),
            ImportAction::Mean(column, meaning) => {
                self.import.change(|import| import.mean(column, meaning));
            }
            ImportAction::Fix(fix) => self.import.change(|import| import.apply(&fix)),
            ImportAction::TakeBack(column) => self.import.change(|one| one.take_back(column)),
            ImportAction::Scale(scale) => self.import.change(|import| import.scale = scale),
            ImportAction::Species(species) => {
                self.import.change(|import| import.survey.species = species);
            }
            ImportAction::Take => self.take_sheet(),
            ImportAction::TakeRadii(path) => self.take_radii(path),
            ImportAction::Leave => {
                self.import.forget();
                self.notices.say("nothing was taken in");
            }
        }
    }

    pub(super) fn look_at_sheet(&mut self, path: PathBuf, sheet: Option<String>, is_for: LookFor) {
        self.import.forget();
        self.import.is_shown = true;
        self.import.is_for = Some(is_for.clone());
        let open = self.survey.as_ref().filter(|_| self.import_folder().is_some());
        let open = open.map(|survey| Arc::clone(&survey.files));
        let pictures = match is_for {
            LookFor::NewSurvey(pictures) => pictures,
            LookFor::OpenSurvey => Vec::new(),
        };
        let memory = self.import.memory.clone();
        let work = move |_: &Progress| {
            let raw = read_raw_sheet(&path, sheet.as_deref()).map_err(|error| error.to_string())?;
            let (survey, scans) = match &open {
                Some(files) => (files.survey.clone(), KnownScans::of_survey(files)),
                None => {
                    (Survey::new("", "", Structure::default()), KnownScans::of_pictures(pictures))
                }
            };
            let remembered = memory.of(&raw.headings).cloned();
            Ok(SheetImport::new(path, raw, survey, remembered.as_ref(), Arc::new(scans)))
        };
        match Job::start("look at a sheet", &self.wake, work) {
            Ok(job) => self.import.looking = Some(job),
            Err(error) => self.notices.report(format!("cannot look at the sheet: {error}")),
        }
    }

    /// A survey whose field sheet cannot be read for its headings alone: the screen to match them is shown.
    pub(super) fn offer_matching(&mut self, files: &OpenSurvey) {
        let is_of_headings = |problem: &crate::store::problem::Problem| {
            problem.is_error()
                && problem.file.starts_with(FIELD_SHEET)
                && problem.row == Some(1)
                && problem.message.starts_with("expected a column")
        };
        if files.problems.iter().any(is_of_headings) {
            self.look_at_sheet(files.folder.join(FIELD_SHEET), None, LookFor::OpenSurvey);
        }
    }

    fn may_take(&mut self) -> bool {
        if self.import.taking.is_some() || self.import.is_checking() {
            self.notices.say("the sheet is being looked through: try again in a moment");
            return false;
        }
        let check = self.import.check.as_ref();
        if !check.is_some_and(SheetCheck::may_be_taken) {
            let why = check.and_then(|check| check.blocking.first().cloned());
            self.notices.say(why.unwrap_or_else(|| "no row of the sheet can be used".to_owned()));
            return false;
        }
        true
    }

    fn take_sheet(&mut self) {
        if !self.may_take() {
            return;
        }
        let Some(import) = self.import.import.clone() else { return };
        let folder = self.import_folder().map(Path::to_owned);
        self.import.memory.remember(&import.sheet.headings, import.matching());
        let work = move |_: &Progress| match folder {
            Some(folder) => take_into_survey(&import, &folder).map(Came::Taken),
            None => prepared_sheet(&import).map(|sheet| Came::Ready(Arc::new(sheet))),
        };
        self.start_taking(work);
    }

    fn take_radii(&mut self, path: PathBuf) {
        if !self.may_take() {
            return;
        }
        let Some(import) = self.import.import.clone() else { return };
        self.start_taking(move |_: &Progress| write_radii(&import, &path).map(Came::Taken));
    }

    fn start_taking(
        &mut self,
        work: impl FnOnce(&Progress) -> Result<Came, String> + Send + 'static,
    ) {
        match Job::start("take in a sheet", &self.wake, work) {
            Ok(job) => self.import.taking = Some(job),
            Err(error) => self.notices.report(format!("cannot take in the sheet: {error}")),
        }
    }

    pub(super) fn poll_import(&mut self) {
        self.poll_looking();
        self.poll_taking();
        if let Some(job) = &self.import.checking {
            match job.poll() {
                Polled::Pending => {}
                Polled::Done(check) => {
                    self.import.checking = None;
                    self.import.check = Some(check);
                    self.go_on_if_plain();
                }
                Polled::Lost => {
                    self.import.checking = None;
                    self.notices.report("looking through the sheet broke off");
                }
            }
        }
        if !self.import.is_stale {
            return;
        }
        let Some(import) = self.import.import.clone() else { return };
        self.import.is_stale = false;
        let work = move |_: &Progress| check_sheet(&import);
        match Job::start("look through a sheet", &self.wake, work) {
            Ok(job) => self.import.checking = Some(job),
            Err(error) => self.notices.report(format!("cannot look through the sheet: {error}")),
        }
    }

    /// A sheet with our own headings and nothing wrong, for a new survey, needs no screen.
    fn go_on_if_plain(&mut self) {
        let is_fresh = std::mem::take(&mut self.import.is_fresh);
        let (Some(import), Some(check)) = (&self.import.import, &self.import.check) else { return };
        let is_own = import.meanings.iter().all(Option::is_some)
            && import.prepared_survey().column_map.is_empty();
        if is_fresh && is_own && check.is_clean() && self.import_folder().is_none() {
            self.import.put_away();
            self.take_sheet();
        }
    }

    fn poll_looking(&mut self) {
        let Some(job) = &self.import.looking else { return };
        let found = match job.poll() {
            Polled::Pending => return,
            Polled::Done(found) => found,
            Polled::Lost => Err("looking at the sheet broke off".to_owned()),
        };
        self.import.looking = None;
        match found {
            Ok(import) => {
                self.import.import = Some(import);
                (self.import.is_stale, self.import.is_fresh) = (true, true);
            }
            Err(error) => self.notices.report(error),
        }
    }

    fn poll_taking(&mut self) {
        let Some(job) = &self.import.taking else { return };
        let came = match job.poll() {
            Polled::Pending => return,
            Polled::Done(came) => came,
            Polled::Lost => Err("taking in the sheet broke off: try again".to_owned()),
        };
        self.import.taking = None;
        match came {
            Ok(Came::Taken(taken)) => {
                let is_field =
                    self.import.import.as_ref().map(|one| one.kind) == Some(SheetKind::Field);
                self.import.forget();
                if let Some(folder) = self.folder().map(Path::to_owned).filter(|_| is_field) {
                    self.perform(Action::Open(folder));
                }
                self.notices.say(taken.words);
            }
            Ok(Came::Ready(prepared)) => {
                self.import.forget();
                self.import.ready = Some(prepared);
            }
            Err(error) => {
                self.import.is_shown = true;
                self.notices.report(error);
            }
        }
    }
}
