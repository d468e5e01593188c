//! The one way a file is written: whole, or not at all.
//!
//! The new bytes go to a fresh file in the same folder (`.NAME.XXXXXX`), are synced, and are renamed over the old
//! file; then the folder is synced where the system can. Whatever fails, the fresh file is removed and the old
//! one is intact. An existing file keeps its permissions; a new one gets those of the user's mask (0644 as a rule).
//!
//! There is no lock. The comparison with what was loaded is made just before the rename, so another writer's change
//! is noticed except in the instant between the two; one reader's file has one writer, so nobody should be there.

use std::hash::BuildHasher;
use std::io::{ErrorKind, Write};
use std::path::Path;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

use atomic_write_file::AtomicWriteFile;

use super::error::StoreError;
use super::fingerprint::Fingerprint;

/// What must be on disk for a write to go ahead.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Expected {
    /// Nothing: the file is new.
    Absent,
    /// The file that was loaded.
    Same(Fingerprint),
    /// Whatever is there is replaced. For files that this program alone makes.
    Anything,
}

impl From<Option<&Fingerprint>> for Expected {
    fn from(loaded: Option<&Fingerprint>) -> Self {
        loaded.map_or(Self::Absent, |loaded| Self::Same(*loaded))
    }
}

/// The steps of a write, at each of which the system may fail.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Step {
    /// Making the fresh file.
    Create,
    /// Writing the second half of its bytes.
    Write,
    /// Flushing it to the disk.
    Sync,
    /// Renaming it over the old file.
    Rename,
}

impl Step {
    /// All steps, in order.
    pub const ALL: [Self; 4] = [Self::Create, Self::Write, Self::Sync, Self::Rename];
}

/// Replaces the file at `path` by `bytes`, and returns the fingerprint of what is there now.
///
/// # Errors
/// [`StoreError::ChangedByOther`] when the file is not the `expected` one, [`StoreError::ReadOnly`] when it may not
/// be written, [`StoreError::Io`] when the system fails. The old file is intact after any of them.
pub fn write_whole(
    path: &Path,
    bytes: &[u8],
    expected: Expected,
) -> Result<Fingerprint, StoreError> {
    write_whole_with(path, bytes, expected, &mut |_| Ok(()))
}

/// As [`write_whole`], asking `before` ahead of each step; an error from it stands for a failing system.
///
/// # Errors
/// As [`write_whole`].
pub fn write_whole_with(
    path: &Path,
    bytes: &[u8],
    expected: Expected,
    before: &mut dyn FnMut(Step) -> std::io::Result<()>,
) -> Result<Fingerprint, StoreError> {
    for pause in PAUSES {
        match write_once(path, bytes, expected, before) {
            Err(StoreError::Io { source, .. }) if is_held(&source) => std::thread::sleep(pause),
            ended => return ended,
        }
    }
    write_once(path, bytes, expected, before)
}

/// Replaces the file at `path` by `bytes` where losing it in a power cut does no harm, such as a file that carries its own
/// hash and can be made anew: nothing is synced. Whoever opens the file finds the old or the new one, never a part.
///
/// # Errors
/// [`StoreError::Io`] when the system fails; the old file is intact, and nothing is left over.
pub fn write_disposable(path: &Path, bytes: &[u8]) -> Result<(), StoreError> {
    static COUNT: AtomicU64 = AtomicU64::new(0);
    let count = COUNT.fetch_add(1, Ordering::Relaxed);
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    // Several programs and machines may write the same file at once.
    let nonce = std::hash::RandomState::new().hash_one(count);
    let fresh = path.with_file_name(format!(".{name}.{}-{nonce:016x}", std::process::id()));
    let written = std::fs::File::create_new(&fresh)
        .and_then(|mut file| file.write_all(bytes))
        .and_then(|()| std::fs::rename(&fresh, path));
    written.map_err(|error| {
        // It may not be there at all.
        let _ = std::fs::remove_file(&fresh);
        StoreError::io("save the file", path)(error)
    })
}

/// Waits between attempts while another program holds the file: a virus scanner lets go after a moment, a spreadsheet
/// does not.
const PAUSES: [Duration; 4] = [
    Duration::from_millis(20),
    Duration::from_millis(60),
    Duration::from_millis(150),
    Duration::from_millis(400),
];

/// True where the system says that another program has the file open. Windows has numbers of its own for that: 5
/// (access denied), 32 (sharing violation), 33 (lock violation); from memory of its list of system error codes.
fn is_held(error: &std::io::Error) -> bool {
    let is_by_number = cfg!(windows) && matches!(error.raw_os_error(), Some(5 | 32 | 33));
    is_by_number || matches!(error.kind(), ErrorKind::ResourceBusy | ErrorKind::ExecutableFileBusy)
}

fn write_once(
    path: &Path,
    bytes: &[u8],
    expected: Expected,
    before: &mut dyn FnMut(Step) -> std::io::Result<()>,
) -> Result<Fingerprint, StoreError> {
    let failed = |error| StoreError::io("save the file", path)(error);
    // Twice: at once, so that a lost race costs nothing, and again just before the rename.
    refuse_if_changed(path, expected)?;
    refuse_if_read_only(path)?;

    before(Step::Create).map_err(failed)?;
    let mut fresh = AtomicWriteFile::open(path).map_err(failed)?;
    let (first, second) = bytes.split_at(bytes.len() / 2);
    let written = fresh
        .write_all(first)
        .and_then(|()| before(Step::Write))
        .and_then(|()| fresh.write_all(second))
        .and_then(|()| before(Step::Sync))
        .and_then(|()| fresh.sync_all())
        .and_then(|()| before(Step::Rename));
    // Dropping the fresh file removes it.
    written.map_err(failed)?;
    refuse_if_changed(path, expected)?;

    let fingerprint = Fingerprint::of(bytes);
    match fresh.commit() {
        Ok(()) => Ok(fingerprint),
        // Some network drives cannot sync a folder; by then the rename is done, and the file is what counts.
        Err(_) if Fingerprint::of_file(path)? == Some(fingerprint) => Ok(fingerprint),
        Err(error) => Err(failed(error)),
    }
}

fn refuse_if_changed(path: &Path, expected: Expected) -> Result<(), StoreError> {
    let is_as_expected = match expected {
        Expected::Anything => true,
        Expected::Absent => match std::fs::symlink_metadata(path) {
            Ok(_) => false,
            Err(error) if error.kind() == ErrorKind::NotFound => true,
            Err(error) => return Err(StoreError::io("save the file", path)(error)),
        },
        Expected::Same(loaded) => Fingerprint::of_file(path)? == Some(loaded),
    };
    if is_as_expected { Ok(()) } else { Err(StoreError::ChangedByOther { path: path.to_owned() }) }
}

/// A rename would replace a read-only file without a word, so it is asked for here.
fn refuse_if_read_only(path: &Path) -> Result<(), StoreError> {
    match std::fs::metadata(path) {
        Ok(found) if found.permissions().readonly() => {
            Err(StoreError::ReadOnly { path: path.to_owned() })
        }
        _ => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names_in(folder: &Path) -> Vec<String> {
        let mut names: Vec<String> = std::fs::read_dir(folder)
            .unwrap()
            .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
            .collect();
        names.sort();
        names
    }

    #[test]
    fn a_failure_at_any_step_leaves_the_old_file_and_nothing_else() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("reading.json");
        let loaded = write_whole(&path, b"confirmed", Expected::Absent).unwrap();
        for failing in Step::ALL {
            let mut met = false;
            let result =
                write_whole_with(&path, b"draft, longer", Expected::Same(loaded), &mut |step| {
                    if step == failing {
                        met = true;
                        return Err(std::io::Error::from(ErrorKind::StorageFull));
                    }
                    Ok(())
                });
            assert!(met, "{failing:?} was never reached");
            assert!(matches!(result, Err(StoreError::Io { .. })), "{failing:?}");
            assert_eq!(std::fs::read(&path).unwrap(), b"confirmed", "{failing:?}");
            assert_eq!(names_in(folder.path()), ["reading.json"], "{failing:?}");
        }
    }

    #[test]
    fn a_disposable_file_is_replaced_whole_and_leaves_nothing_over() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("kept.index");
        write_disposable(&path, b"one").unwrap();
        write_disposable(&path, b"two").unwrap();
        assert_eq!(std::fs::read(&path).unwrap(), b"two");
        let blocked = folder.path().join("blocked");
        std::fs::create_dir_all(blocked.join("inside")).unwrap();
        assert!(write_disposable(&blocked, b"three").is_err());
        assert_eq!(names_in(folder.path()), ["blocked", "kept.index"]);
    }

    #[test]
    fn a_change_by_someone_else_is_never_overwritten() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("reading.json");
        let loaded = write_whole(&path, b"mine", Expected::Absent).unwrap();
        std::fs::write(&path, b"theirs").unwrap();
        for expected in [Expected::Absent, Expected::Same(loaded)] {
            let result = write_whole(&path, b"mine again", expected);
            assert!(matches!(result, Err(StoreError::ChangedByOther { .. })));
        }
        assert_eq!(std::fs::read(&path).unwrap(), b"theirs");
        std::fs::remove_file(&path).unwrap();
        let result = write_whole(&path, b"mine again", Expected::Same(loaded));
        assert!(matches!(result, Err(StoreError::ChangedByOther { .. })));
        assert!(!path.exists());
    }

    #[test]
    fn a_file_that_another_program_holds_is_tried_again_and_then_told() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("reading.json");
        let loaded = write_whole(&path, b"confirmed", Expected::Absent).unwrap();
        let mut attempts = 0;
        let mut held_for = |n_attempts: usize, expected| {
            attempts = 0;
            write_whole_with(&path, b"again", expected, &mut |step| {
                attempts += usize::from(step == Step::Rename);
                let is_held = step == Step::Rename && attempts <= n_attempts;
                if is_held { Err(ErrorKind::ResourceBusy.into()) } else { Ok(()) }
            })
        };
        let told = held_for(99, Expected::Same(loaded)).unwrap_err().to_string();
        assert!(told.contains("close any other program that has the file open"), "{told}");
        held_for(2, Expected::Same(loaded)).unwrap();
        assert_eq!(attempts, 3);
        assert_eq!(std::fs::read(&path).unwrap(), b"again");
        assert_eq!(names_in(folder.path()), ["reading.json"]);
    }

    #[test]
    fn a_change_during_the_write_is_noticed_before_the_rename() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("reading.json");
        let loaded = write_whole(&path, b"mine", Expected::Absent).unwrap();
        let result = write_whole_with(&path, b"mine again", Expected::Same(loaded), &mut |step| {
            if step == Step::Rename { std::fs::write(&path, b"theirs") } else { Ok(()) }
        });
        assert!(matches!(result, Err(StoreError::ChangedByOther { .. })));
        assert_eq!(std::fs::read(&path).unwrap(), b"theirs");
        assert_eq!(names_in(folder.path()), ["reading.json"]);
    }

    #[test]
    #[cfg(unix)]
    fn permissions_are_kept_and_read_only_files_refused() {
        use std::os::unix::fs::PermissionsExt;
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("reading.json");
        let mode = || std::fs::metadata(&path).unwrap().permissions().mode() & 0o777;
        write_whole(&path, b"one", Expected::Absent).unwrap();
        // A plain new file shows what the mask of this user allows.
        let plain = folder.path().join("plain");
        std::fs::write(&plain, b"").unwrap();
        assert_eq!(mode(), std::fs::metadata(&plain).unwrap().permissions().mode() & 0o777);
        std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o664)).unwrap();
        write_whole(&path, b"two", Expected::Anything).unwrap();
        assert_eq!(mode(), 0o664);
        std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o444)).unwrap();
        let result = write_whole(&path, b"three", Expected::Anything);
        assert!(matches!(result, Err(StoreError::ReadOnly { .. })));
        assert_eq!(std::fs::read(&path).unwrap(), b"two");
    }
}
