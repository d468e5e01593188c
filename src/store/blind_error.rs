//! Why a blind list or a decision could not be read or written.

use std::path::PathBuf;

use crate::domain::blind::BlindListError;
use crate::domain::one_line::{one_line, shown};
use crate::domain::progress::Stopped;

use super::error::StoreError;

/// What went wrong with a blind list, a pack or a decision. What a reader can meet names no fish and no scan.
#[derive(Debug, thiserror::Error)]
pub enum BlindError {
    /// As for any file of a survey.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// A list that cannot be drawn or named.
    #[error(transparent)]
    List(#[from] BlindListError),
    /// There is no such list.
    #[error(
        "there is no list '{name}' in this survey: look into the folder lists for the names there are"
    )]
    NoSuchList {
        /// Its name.
        name: String,
    },
    /// A file of a name that is taken. Nothing was written.
    #[error(
        "not written: this file is there already and is never overwritten; {advice}: '{}'",
        shown(path)
    )]
    Taken {
        /// The file.
        path: PathBuf,
        /// What to do.
        advice: &'static str,
    },
    /// A file that is not what it should be, or is damaged. It is never overwritten.
    #[error(
        "{what} cannot be read: {}; it is kept as it is: mend it, or bring back a copy of it: '{}'",
        one_line(reason),
        shown(path)
    )]
    Unreadable {
        /// As "the blind list".
        what: &'static str,
        /// The file.
        path: PathBuf,
        /// What was wrong, with the key path or the line.
        reason: String,
    },
    /// A file of a newer program.
    #[error(
        "{what} has version {found} and this program knows versions up to {supported}: install a newer program: '{}'",
        shown(path)
    )]
    Newer {
        /// As "the blind list".
        what: &'static str,
        /// The file.
        path: PathBuf,
        /// Its version.
        found: u64,
        /// The newest version known here.
        supported: u64,
    },
    /// A list that is closed takes no more readings.
    #[error("the list '{name}' is closed and takes no more readings: ask for a new list")]
    Closed {
        /// Its name.
        name: String,
    },
    /// Readings that were made for another list.
    #[error(
        "these readings belong to {}, not to the list '{expected}' of this survey: take them in where the list was drawn: '{}'",
        one_line(found),
        shown(path)
    )]
    OtherList {
        /// The file.
        path: PathBuf,
        /// Name of the list here.
        expected: String,
        /// What the file says.
        found: String,
    },
    /// Tags that the list does not have.
    #[error(
        "the list '{name}' has no tag {}: nothing was taken in; check that the file was not changed by hand",
        one_line(tags)
    )]
    UnknownTag {
        /// Name of the list.
        name: String,
        /// The tags.
        tags: String,
    },
    /// A picture that cannot be shown. The cause is for the lead, who may know the scan.
    #[error("the picture of {tag} cannot be shown: ask the lead to check the list '{name}'")]
    NoPicture {
        /// Its tag.
        tag: String,
        /// Name of the list.
        name: String,
    },
    /// A scan of a list that cannot be opened. For the lead only: it names the scan.
    #[error("a scan of the list cannot be used: {}", one_line(reason))]
    BadScan {
        /// Which, and why.
        reason: String,
    },
    /// Someone asked to stop.
    #[error(transparent)]
    Stopped(#[from] Stopped),
    /// Somebody else has decided on this fish meanwhile.
    #[error(
        "not saved: {by} decided on this fish meanwhile; look at that decision and, if it should not stand, decide again: '{}'",
        shown(path)
    )]
    DecidedByOther {
        /// The other decision.
        path: PathBuf,
        /// Who made it.
        by: String,
    },
    /// A decision that does not hold together.
    #[error("not saved: the decision {}", one_line(reason))]
    BadDecision {
        /// What is wrong.
        reason: String,
    },
}
