//! Why a file of a survey could not be read or written.

use std::path::PathBuf;

use super::problem::Problem;

/// What went wrong in the store room. Messages say what failed, what was found and what to do, path last.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    /// The system refused: no permission, disk full, no such folder.
    #[error("could not {doing}: {source}: '{}'", path.display())]
    Io {
        /// What was being done, as "read the field sheet".
        doing: &'static str,
        /// The file or folder.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// The file on disk is not the one that was loaded; it was left as it is.
    #[error(
        "not saved: the file has changed since it was opened; open it again and repeat the edit: '{}'",
        path.display()
    )]
    ChangedByOther {
        /// The file.
        path: PathBuf,
    },
    /// The file is marked read-only.
    #[error("not saved: the file is read-only; allow writing first: '{}'", path.display())]
    ReadOnly {
        /// The file.
        path: PathBuf,
    },
    /// A sidecar that is not one, or is damaged. It is never overwritten.
    #[error("the sidecar cannot be read: {reason}; it is kept as it is: '{}'", path.display())]
    UnreadableSidecar {
        /// The file.
        path: PathBuf,
        /// What was wrong, with the key path or the line.
        reason: String,
    },
    /// A sidecar written by a newer program.
    #[error(
        "the sidecar has version {found} and this program knows versions up to {supported}: it can be looked at, not \
         changed; install a newer program: '{}'",
        path.display()
    )]
    NewerVersion {
        /// The file.
        path: PathBuf,
        /// Its version.
        found: u64,
        /// The newest version known here.
        supported: u64,
    },
    /// A reader tried to write another reader's file.
    #[error("not saved: these readings belong to reader {owner}, not to {acting}: '{}'", path.display())]
    WrongReader {
        /// The file.
        path: PathBuf,
        /// Whose it is.
        owner: String,
        /// Who tried.
        acting: String,
    },
    /// A file name that would lead out of the folder it belongs to, or that some system cannot hold.
    #[error("'{name}' cannot be used as a file name: {reason}")]
    UnsafeName {
        /// The name as found.
        name: String,
        /// What is wrong with it and what to write.
        reason: &'static str,
    },
    /// A reading that does not hold together, such as one confirmed without an outcome.
    #[error("not saved: {what} {reason}")]
    BadReading {
        /// The part, as "impression 2".
        what: String,
        /// What is wrong.
        reason: String,
    },
    /// A folder without `survey.json`.
    #[error(
        "no survey.json in this folder, so it is not a survey: name the folder that holds survey.json, or make a survey \
         there: '{}'",
        path.display()
    )]
    NotASurvey {
        /// The folder.
        path: PathBuf,
    },
    /// A `survey.json` that cannot be used.
    #[error("survey.json cannot be used: {reason}: '{}'", path.display())]
    BadSurvey {
        /// The file.
        path: PathBuf,
        /// What was wrong, with the key path or the line.
        reason: String,
    },
    /// A table that cannot be used at all, such as one without a heading row.
    #[error("{0}")]
    BadTable(Problem),
}

impl StoreError {
    /// Wraps what the system said, with what was being done.
    pub fn io(
        doing: &'static str,
        path: impl Into<PathBuf>,
    ) -> impl FnOnce(std::io::Error) -> Self {
        let path = path.into();
        move |source| Self::Io { doing, path, source }
    }
}
