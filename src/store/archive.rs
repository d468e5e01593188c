//! An archive: a folder with surveys anywhere below it.

use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use rayon::prelude::*;

use crate::domain::progress::{Progress, Stopped};

use super::error::StoreError;
use super::survey_file::SURVEY_FILE;

/// Folders below folders that are looked into; a link that leads back up ends here at the latest.
const DEEPEST: usize = 12;

/// A survey of an archive.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct ArchiveSurvey {
    /// Its path below the archive, with `/` between folders.
    pub name: String,
    /// The folder itself.
    pub folder: PathBuf,
}

/// Surveys in order, and one line for each folder that could not be listed.
pub type FoundSurveys = (Vec<ArchiveSurvey>, Vec<String>);

/// Finds all surveys below `archive`, sorted by their names, with one listing for each folder. Nothing is looked for
/// inside a survey, in folders whose names begin with a dot, or behind links.
///
/// # Errors
/// [`StoreError::Io`] when the archive itself cannot be listed. A folder below it that cannot be is in the second list,
/// as one line.
pub fn find_surveys(
    archive: &Path,
    progress: &Progress,
) -> Result<Result<FoundSurveys, Stopped>, StoreError> {
    let first = listed(archive).map_err(StoreError::io("list the archive", archive))?;
    let mut found = (Vec::new(), Vec::new());
    let mut level = vec![(String::new(), archive.to_owned(), Ok(first))];
    for _ in 0..DEEPEST {
        let mut below: Vec<(String, PathBuf)> = Vec::new();
        for (name, folder, listing) in level {
            match listing {
                Ok(Listing::Survey) => found.0.push(ArchiveSurvey { name, folder }),
                Ok(Listing::Folders(names)) => below.extend(names.into_iter().map(|one| {
                    let path = folder.join(&one);
                    let one = one.to_string_lossy();
                    (if name.is_empty() { one.into_owned() } else { format!("{name}/{one}") }, path)
                })),
                Err(error) => {
                    found.1.push(StoreError::io("list the folder", &folder)(error).to_string())
                }
            }
        }
        let listing: Result<Vec<_>, Stopped> = below
            .into_par_iter()
            .map(|(name, folder)| {
                progress.checkpoint()?;
                let listing = listed(&folder);
                Ok((name, folder, listing))
            })
            .collect();
        match listing {
            Ok(listing) => level = listing,
            Err(stopped) => return Ok(Err(stopped)),
        }
        if level.is_empty() {
            break;
        }
    }
    found.0.sort();
    found.1.sort();
    Ok(Ok(found))
}

enum Listing {
    Survey,
    Folders(Vec<std::ffi::OsString>),
}

fn listed(folder: &Path) -> std::io::Result<Listing> {
    let mut folders = Vec::new();
    for entry in std::fs::read_dir(folder)? {
        let entry = match entry {
            Ok(entry) => entry,
            // Somebody removed it meanwhile.
            Err(error) if error.kind() == ErrorKind::NotFound => continue,
            Err(error) => return Err(error),
        };
        let name = entry.file_name();
        if name == SURVEY_FILE {
            return Ok(Listing::Survey);
        }
        let is_hidden = name.as_encoded_bytes().first() == Some(&b'.');
        if !is_hidden && entry.file_type().is_ok_and(|kind| kind.is_dir()) {
            folders.push(name);
        }
    }
    Ok(Listing::Folders(folders))
}

/// True for a folder that is no survey itself.
pub fn is_archive(folder: &Path) -> bool {
    matches!(listed(folder), Ok(Listing::Folders(_)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn surveys_are_found_and_other_folders_passed_over() {
        let folder = tempfile::tempdir().unwrap();
        for name in ["b/2024", "a", "b/2025", "a/inside", ".hidden", "pictures/of/boats"] {
            std::fs::create_dir_all(folder.path().join(name)).unwrap();
        }
        for name in ["b/2024", "a", "b/2025", "a/inside", ".hidden"] {
            std::fs::write(folder.path().join(name).join(SURVEY_FILE), b"{}").unwrap();
        }
        let progress = Progress::new();
        let (found, problems) = find_surveys(folder.path(), &progress).unwrap().unwrap();
        let names: Vec<&str> = found.iter().map(|one| one.name.as_str()).collect();
        assert_eq!((names, problems), (vec!["a", "b/2024", "b/2025"], Vec::new()));
        assert!(is_archive(folder.path()) && !is_archive(&folder.path().join("a")));
        progress.stop();
        assert_eq!(find_surveys(folder.path(), &progress).unwrap(), Err(Stopped));
        assert!(find_surveys(&folder.path().join("none"), &progress).is_err());
    }
}
