//! What the files of blind lists and decisions have in common: a format, a version, and keys that survive a rewrite.

use std::fs::File;
use std::io::{ErrorKind, Write};
use std::path::{Path, PathBuf};

use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::Value;

use super::blind_error::BlindError;
use super::error::StoreError;
use super::fingerprint::Fingerprint;

/// A kind of file.
pub(super) struct Kind {
    /// As "the blind list", for messages.
    pub what: &'static str,
    /// Its `format` key.
    pub format: &'static str,
    /// The newest version known.
    pub version: u64,
}

impl Kind {
    /// The file's bytes as its type.
    ///
    /// # Errors
    /// [`BlindError::Unreadable`] with the key path, [`BlindError::Newer`].
    pub(super) fn parse<T: DeserializeOwned>(
        &self,
        path: &Path,
        bytes: &[u8],
    ) -> Result<T, BlindError> {
        let unreadable = |reason: String| self.unreadable(path, reason);
        let text = std::str::from_utf8(bytes).map_err(|error| {
            unreadable(format!("byte {} is not UTF-8 text", error.valid_up_to()))
        })?;
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        let value: Value = serde_json::from_str(text)
            .map_err(|error| unreadable(format!("it is not whole JSON ({error})")))?;
        if value.get("format").and_then(Value::as_str) != Some(self.format) {
            return Err(unreadable(format!("at format: expected '{}'", self.format)));
        }
        let found = value.get("version").and_then(Value::as_u64).unwrap_or_default();
        if found == 0 {
            return Err(unreadable("at version: expected a whole number from 1".to_owned()));
        }
        if found > self.version {
            let (what, path) = (self.what, path.to_owned());
            return Err(BlindError::Newer { what, path, found, supported: self.version });
        }
        let mut deserializer = serde_json::Deserializer::from_str(text);
        serde_path_to_error::deserialize(&mut deserializer)
            .map_err(|error| unreadable(format!("at {}: {}", error.path(), error.inner())))
    }

    pub(super) fn unreadable(&self, path: &Path, reason: impl Into<String>) -> BlindError {
        BlindError::Unreadable { what: self.what, path: path.to_owned(), reason: reason.into() }
    }
}

/// A file as text.
pub(super) fn to_text(file: &impl Serialize, path: &Path) -> Result<String, BlindError> {
    let text = serde_json::to_string_pretty(file)
        .map_err(|error| StoreError::io("save the file", path)(error.into()))?;
    Ok(text + "\n")
}

/// Writes a file that must not be there yet: whole, or not at all; of several writers at once exactly one wins.
///
/// # Errors
/// As [`create_with`].
pub(super) fn create_whole(
    path: &Path,
    bytes: &[u8],
    advice: &'static str,
) -> Result<Fingerprint, BlindError> {
    let failed = |error| BlindError::from(StoreError::io("save the file", path)(error));
    create_with(path, advice, |file| file.write_all(bytes).map_err(failed))?;
    Ok(Fingerprint::of(bytes))
}

/// As [`create_whole`], with `fill` writing the bytes.
///
/// They go to a fresh file, are synced, and are linked to the name; a link refuses a name that is taken. On a drive
/// without links the name itself is made afresh and filled, so that a kill may leave a part of it; such a file is
/// told as damaged and never taken for a whole one.
///
/// # Errors
/// [`BlindError::Taken`] with `advice`, [`StoreError::Io`], and what `fill` gives.
pub(super) fn create_with(
    path: &Path,
    advice: &'static str,
    fill: impl FnOnce(&mut File) -> Result<(), BlindError>,
) -> Result<(), BlindError> {
    let failed = |error| BlindError::from(StoreError::io("save the file", path)(error));
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
    let folder = folder.unwrap_or(Path::new("."));
    std::fs::create_dir_all(folder).map_err(failed)?;
    if std::fs::symlink_metadata(path).is_ok() {
        return Err(BlindError::Taken { path: path.to_owned(), advice });
    }
    let fresh = fresh_name(path);
    let mut file = File::create_new(&fresh).map_err(failed)?;
    let written = fill(&mut file).and_then(|()| file.sync_all().map_err(failed));
    drop(file);
    let placed = written.and_then(|()| place(&fresh, path, advice));
    // The fresh file is ours; once the name is linked to it, or has failed to be, it only takes up room.
    let _ = std::fs::remove_file(&fresh);
    placed?;
    sync_folder(folder);
    Ok(())
}

fn place(fresh: &Path, path: &Path, advice: &'static str) -> Result<(), BlindError> {
    let failed = |error| BlindError::from(StoreError::io("save the file", path)(error));
    let taken = || BlindError::Taken { path: path.to_owned(), advice };
    if std::fs::hard_link(fresh, path).is_ok() {
        return Ok(());
    }
    if std::fs::symlink_metadata(path).is_ok() {
        return Err(taken());
    }
    let mut from = File::open(fresh).map_err(failed)?;
    let mut to = match File::create_new(path) {
        Ok(to) => to,
        Err(error) if error.kind() == ErrorKind::AlreadyExists => return Err(taken()),
        Err(error) => return Err(failed(error)),
    };
    std::io::copy(&mut from, &mut to).and_then(|_| to.sync_all()).map_err(|error| {
        let _ = std::fs::remove_file(path);
        failed(error)
    })
}

/// A hidden name in the same folder that no other writer uses.
fn fresh_name(path: &Path) -> PathBuf {
    use std::sync::atomic::{AtomicU64, Ordering};
    static NUMBER: AtomicU64 = AtomicU64::new(0);
    let number = NUMBER.fetch_add(1, Ordering::Relaxed);
    let nanoseconds = jiff::Timestamp::now().as_nanosecond();
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    path.with_file_name(format!(".{name}.{}-{number}-{nanoseconds:x}", std::process::id()))
}

/// Makes the new name last, where the system can; by now the file itself is safe.
fn sync_folder(folder: &Path) {
    if let Ok(folder) = File::open(folder) {
        let _ = folder.sync_all();
    }
}
