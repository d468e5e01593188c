//! Why a picture could not be opened, split by who is at fault: the file, its size, this program, the computer.

use std::fmt;
use std::path::{Path, PathBuf};

use crate::domain::one_line::{one_line, shown};
use crate::domain::progress::Stopped;

/// The file a message is about, shown last and in quotes; nothing where only bytes were given.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Named(pub Option<PathBuf>);

impl fmt::Display for Named {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.0 {
            Some(path) => write!(f, ": \"{}\"", shown(path)),
            None => Ok(()),
        }
    }
}

/// Why a picture could not be opened. Each message says what was found and what to do.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum DecodeError {
    /// The file itself is at fault: empty, cut short, damaged, or no picture at all.
    #[error("this is not a readable picture: {found}; {advice}{file}")]
    Data {
        /// What was found.
        found: String,
        /// What to do.
        advice: &'static str,
        /// The file.
        file: Named,
    },
    /// The picture is larger than the limits allow.
    #[error("this picture is too large: {found}; {advice}{file}")]
    Limit {
        /// What was found, and the limit.
        found: String,
        /// What to do.
        advice: &'static str,
        /// The file.
        file: Named,
    },
    /// A sound file of a kind this program does not read.
    #[error("this kind of picture is not supported: {found}; {advice}{file}")]
    Unsupported {
        /// What was found.
        found: String,
        /// What to do.
        advice: &'static str,
        /// The file.
        file: Named,
    },
    /// The file could not be read from the disk, or is no file.
    #[error("the picture could not be read: {found}; {advice}{file}")]
    Environment {
        /// What was found.
        found: String,
        /// What to do.
        advice: &'static str,
        /// The file.
        file: Named,
    },
    /// Whoever wanted the picture wants it no more.
    #[error("opening the picture was stopped")]
    Stopped,
}

impl From<Stopped> for DecodeError {
    fn from(_: Stopped) -> Self {
        Self::Stopped
    }
}

const RESCAN: &str = "copy the file again from its source, or scan again";
const RESAVE: &str = "save it as a grey or RGB TIFF or PNG with 8 or 16 bits";
const SMALLER: &str = "cut the scan to the impressions needed, or raise the limit";

impl DecodeError {
    /// The file is damaged.
    pub(crate) fn data(found: impl Into<String>) -> Self {
        Self::Data { found: told(found), advice: RESCAN, file: Named(None) }
    }

    /// The file is no picture.
    pub(crate) fn not_a_picture(found: impl Into<String>) -> Self {
        let advice = "open a TIFF, PNG, JPEG or BMP file";
        Self::Data { found: told(found), advice, file: Named(None) }
    }

    /// The picture is too large.
    pub(crate) fn limit(found: impl Into<String>) -> Self {
        Self::Limit { found: told(found), advice: SMALLER, file: Named(None) }
    }

    /// The kind of picture is not supported.
    pub(crate) fn unsupported(found: impl Into<String>) -> Self {
        Self::Unsupported { found: told(found), advice: RESAVE, file: Named(None) }
    }

    /// The computer is at fault.
    pub(crate) fn environment(found: impl Into<String>, advice: &'static str) -> Self {
        Self::Environment { found: told(found), advice, file: Named(None) }
    }

    /// The same error, naming the file.
    #[must_use]
    pub fn in_file(mut self, path: &Path) -> Self {
        match &mut self {
            Self::Data { file, .. }
            | Self::Limit { file, .. }
            | Self::Unsupported { file, .. }
            | Self::Environment { file, .. } => *file = Named(Some(path.to_path_buf())),
            Self::Stopped => {}
        }
        self
    }
}

/// What was found, on one line: the packages that decode break theirs as they like.
fn told(found: impl Into<String>) -> String {
    one_line(found.into().trim()).into_owned()
}
