//! Why a file of a survey could not be read or written.

use std::io::ErrorKind;
use std::path::PathBuf;

use crate::domain::one_line::{one_line, shown};

use super::problem::Problem;

/// What went wrong in the store room. Messages say what failed, what was found and what to do, path last.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    /// The system refused: no permission, disk full, no such folder.
    #[error("could not {doing}: {source}; {}: '{}'", advice(source.kind()), shown(path))]
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
        shown(path)
    )]
    ChangedByOther {
        /// The file.
        path: PathBuf,
    },
    /// The file that was loaded is not there any more.
    #[error(
        "not saved: the file is no longer there; bring it back, or open the scan again to begin a new one: '{}'",
        shown(path)
    )]
    Gone {
        /// The file.
        path: PathBuf,
    },
    /// The file is marked read-only.
    #[error("not saved: the file is read-only; allow writing first: '{}'", shown(path))]
    ReadOnly {
        /// The file.
        path: PathBuf,
    },
    /// A sidecar that is not one, or is damaged. It is never overwritten.
    #[error(
        "the sidecar cannot be read: {}; it is kept as it is: mend it, or bring back a copy of it: '{}'",
        one_line(reason),
        shown(path)
    )]
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
        shown(path)
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
    #[error(
        "not saved: these readings belong to reader {}, not to {acting}; choose that reader, or name the file after \
         yours: '{}'",
        one_line(owner),
        shown(path)
    )]
    WrongReader {
        /// The file.
        path: PathBuf,
        /// Whose it is.
        owner: String,
        /// Who tried.
        acting: String,
    },
    /// A file name that would lead out of the folder it belongs to, or that some system cannot hold.
    #[error("'{}' cannot be used as a file name: {reason}", one_line(name))]
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
        shown(path)
    )]
    NotASurvey {
        /// The folder.
        path: PathBuf,
    },
    /// A `survey.json` that cannot be used.
    #[error(
        "survey.json cannot be used: {}; mend it in a text editor: '{}'",
        one_line(reason),
        shown(path)
    )]
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
    /// A file that was there: it alone is gone, or its folder is not to be had.
    pub(super) fn gone(doing: &'static str, path: PathBuf, source: std::io::Error) -> Self {
        let has_folder = path.parent().is_some_and(std::path::Path::is_dir);
        if has_folder { Self::Gone { path } } else { Self::Io { doing, path, source } }
    }

    /// Wraps what the system said, with what was being done.
    pub fn io(
        doing: &'static str,
        path: impl Into<PathBuf>,
    ) -> impl FnOnce(std::io::Error) -> Self {
        let path = path.into();
        move |source| Self::Io { doing, path, source }
    }
}

/// What a person can do where the system refuses.
pub(super) fn advice(kind: ErrorKind) -> &'static str {
    match kind {
        ErrorKind::NotFound => {
            "check the name, and whether the drive or the network share is still connected"
        }
        ErrorKind::PermissionDenied | ErrorKind::ResourceBusy => {
            "close any other program that has the file open, or ask whoever looks after the folder to allow it"
        }
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded => {
            "free some room on the disk, then try again; nothing that was there has been lost"
        }
        ErrorKind::ReadOnlyFilesystem => {
            "the disk is write-protected: allow writing, or copy the survey to another disk"
        }
        ErrorKind::InvalidFilename => "shorten the name of the file or of its folders",
        ErrorKind::IsADirectory | ErrorKind::NotADirectory => {
            "a file and a folder have the same name here: rename one of the two"
        }
        _ => "check the disk or the network share, then try again",
    }
}

/// True for a message that tells of the system and not of what a file holds: the same file may well be read the next
/// time.
pub fn tells_of_system(message: &str) -> bool {
    message.contains("could not ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn failures_of_the_system_are_told_from_bad_files() {
        let of_system = StoreError::io("read the sidecar", "x")(ErrorKind::TimedOut.into());
        assert!(tells_of_system(&of_system.to_string()));
        let of_file = StoreError::UnreadableSidecar { path: "x".into(), reason: "y".to_owned() };
        assert!(!tells_of_system(&of_file.to_string()));
    }
}
