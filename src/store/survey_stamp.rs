//! What tells whether anything in a survey has changed since it was last looked at, without opening a file: the names in
//! its folders, and the size and time of every file that a comparison reads.

use std::ffi::OsString;
use std::io::ErrorKind;
use std::path::Path;
use std::time::{Duration, SystemTime};

use super::blind::LISTS_FOLDER;
use super::exclusion_file::EXCLUDED_FOLDER;
use super::field_sheet::FIELD_SHEET;
use super::file_name::SCANS_FOLDER;
use super::resolution_file::RESOLVED_FOLDER;
use super::survey_file::SURVEY_FILE;

/// Times of files may be as coarse as 2 s (the FAT file system; from memory), so a file that is younger could change
/// again without its time telling.
const COARSEST: Duration = Duration::from_secs(3);

/// The state of a survey's files.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SurveyStamp {
    /// Hash over names, sizes and times.
    pub(super) digest: [u8; 32],
    /// Entries of the folders.
    pub(super) n_entries: u64,
    newest: Option<SystemTime>,
}

impl SurveyStamp {
    /// Looks at the survey in `folder`; names of scans count, the scans themselves are not asked for.
    ///
    /// # Errors
    /// When a folder or file is there and the system does not tell about it.
    pub fn of(folder: &Path) -> std::io::Result<Self> {
        let mut taken = Taken { hasher: blake3::Hasher::new(), n_entries: 0, newest: None };
        for name in [SURVEY_FILE, FIELD_SHEET] {
            taken.file(name.as_bytes(), std::fs::metadata(folder.join(name)))?;
        }
        for name in [SCANS_FOLDER, LISTS_FOLDER, RESOLVED_FOLDER, EXCLUDED_FOLDER] {
            taken.folder(name, &folder.join(name))?;
        }
        let Taken { hasher, n_entries, newest } = taken;
        Ok(Self { digest: *hasher.finalize().as_bytes(), n_entries, newest })
    }

    /// True where every file had come to rest well before `clock`, a time by the clock of the same drive.
    pub fn is_at_rest(&self, clock: SystemTime) -> bool {
        self.newest
            .is_none_or(|newest| clock.duration_since(newest).is_ok_and(|passed| passed > COARSEST))
    }
}

struct Taken {
    hasher: blake3::Hasher,
    n_entries: u64,
    newest: Option<SystemTime>,
}

impl Taken {
    /// Length before content, so that two names never run into one.
    fn bytes(&mut self, bytes: &[u8]) {
        self.hasher.update(&(bytes.len() as u64).to_le_bytes());
        self.hasher.update(bytes);
    }

    fn file(
        &mut self,
        name: &[u8],
        found: std::io::Result<std::fs::Metadata>,
    ) -> std::io::Result<()> {
        self.bytes(name);
        let found = match found {
            Ok(found) => found,
            Err(error) if error.kind() == ErrorKind::NotFound => {
                self.bytes(b"none");
                return Ok(());
            }
            Err(error) => return Err(error),
        };
        let time = found.modified()?;
        let since = match time.duration_since(SystemTime::UNIX_EPOCH) {
            Ok(after) => i128::try_from(after.as_nanos()),
            Err(before) => i128::try_from(before.duration().as_nanos()).map(|before| -before),
        };
        self.hasher.update(&found.len().to_le_bytes());
        self.hasher.update(&since.unwrap_or(i128::MAX).to_le_bytes());
        self.newest = self.newest.max(Some(time));
        Ok(())
    }

    fn folder(&mut self, name: &str, path: &Path) -> std::io::Result<()> {
        self.bytes(name.as_bytes());
        let listing = match std::fs::read_dir(path) {
            Ok(listing) => listing,
            Err(error) if error.kind() == ErrorKind::NotFound => {
                self.bytes(b"none");
                return Ok(());
            }
            Err(error) => return Err(error),
        };
        let mut entries: Vec<(OsString, Option<std::fs::DirEntry>)> = Vec::new();
        for entry in listing {
            let entry = entry?;
            let name = entry.file_name();
            let is_read = name.as_encoded_bytes().to_ascii_lowercase().ends_with(b".json");
            entries.push((name, is_read.then_some(entry)));
        }
        entries.sort_by(|a, b| a.0.cmp(&b.0));
        self.n_entries += entries.len() as u64;
        self.hasher.update(&(entries.len() as u64).to_le_bytes());
        for (name, entry) in entries {
            match entry {
                None => self.bytes(name.as_encoded_bytes()),
                Some(entry) => {
                    // What a link leads to is what is read.
                    let is_link = entry.file_type().is_ok_and(|kind| kind.is_symlink());
                    let found =
                        if is_link { std::fs::metadata(entry.path()) } else { entry.metadata() };
                    self.file(name.as_encoded_bytes(), found)?;
                }
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn set_back(path: &Path, seconds: u64) {
        let file = std::fs::File::options().write(true).open(path).unwrap();
        file.set_modified(SystemTime::now() - Duration::from_secs(seconds)).unwrap();
    }

    #[test]
    fn every_change_shows_and_young_files_are_not_trusted() {
        let folder = tempfile::tempdir().unwrap();
        let path = |name: &str| folder.path().join(name);
        std::fs::create_dir_all(path("scans")).unwrap();
        for name in ["survey.json", "fish.csv", "scans/A.tif.kb.json", "scans/A.tif"] {
            std::fs::write(path(name), b"one").unwrap();
            set_back(&path(name), 100);
        }
        let stamp = || SurveyStamp::of(folder.path()).unwrap();
        let now = SystemTime::now();
        let first = stamp();
        assert!(first.is_at_rest(now) && !first.is_at_rest(now - Duration::from_secs(99)));
        assert_eq!(first, stamp());
        let mut seen = vec![first.digest];
        let mut differs = |digest: [u8; 32]| {
            assert!(!seen.contains(&digest));
            seen.push(digest);
        };
        std::fs::write(path("fish.csv"), b"two").unwrap();
        differs(stamp().digest);
        assert!(!stamp().is_at_rest(now));
        std::fs::write(path("scans/B.tif"), b"").unwrap();
        differs(stamp().digest);
        std::fs::create_dir(path("excluded")).unwrap();
        differs(stamp().digest);
        std::fs::write(path("excluded/x.json"), b"{}").unwrap();
        differs(stamp().digest);
        std::fs::remove_file(path("scans/A.tif.kb.json")).unwrap();
        differs(stamp().digest);
        // The picture of a scan is no part of a comparison.
        let before = stamp().digest;
        std::fs::write(path("scans/B.tif"), b"another picture").unwrap();
        assert_eq!(stamp().digest, before);
    }
}
