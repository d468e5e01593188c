//! The index of an archive: one file for each survey under `ARCHIVE/.winterline-index/`, holding what a comparison made of
//! the survey and the stamp of the files it was made from.
//!
//! It is disposable: remove it at any time. A file that is stale, damaged, of another program version, or another's copy
//! is not used and made anew; none of that is an error. Each file is written beside its place and renamed into it, so
//! several people may compare the same archive at once. A survey with files younger than a few seconds is not kept, since
//! a further change could bear the same time; the clock is that of the archive's own drive.

use std::path::{Path, PathBuf};
use std::time::SystemTime;

use crate::domain::survey_summary::SurveySummary;

use super::archive::ArchiveSurvey;
use super::safe_write::write_disposable;
use super::summary_bytes::{Reader, Writer};
use super::survey_stamp::SurveyStamp;

/// Folder of the index, inside the archive.
pub const INDEX_FOLDER: &str = ".winterline-index";

const MAGIC: &[u8] = b"winterline-index 1\n";
const HASH_LENGTH: usize = 32;
/// Different settings that are kept for a survey, the last used first.
const MOST_SETTINGS: usize = 4;

/// An index that is open.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ArchiveIndex {
    folder: PathBuf,
    /// The time on the archive's drive when the index was opened; `None` where nothing can be written.
    clock: Option<SystemTime>,
}

/// What a file of the index holds, apart from its head.
type Kept = Vec<(String, SurveySummary)>;

impl ArchiveIndex {
    /// Opens the index of `archive`, making its folder where that is missing and possible.
    pub fn open(archive: &Path) -> Self {
        let folder = archive.join(INDEX_FOLDER);
        let clock = std::fs::create_dir_all(&folder).and_then(|()| time_on_drive(&folder)).ok();
        Self { folder, clock }
    }

    /// False where the archive cannot be written to: what is there is used, and nothing is added.
    pub fn is_writable(&self) -> bool {
        self.clock.is_some()
    }

    /// The summary kept for a survey whose files are as `stamp` says, made under `settings`.
    pub fn find(
        &self,
        survey: &ArchiveSurvey,
        stamp: &SurveyStamp,
        settings: &str,
    ) -> Option<SurveySummary> {
        let kept = self.load(survey, stamp)?;
        kept.into_iter().find_map(|(of, summary)| (of == settings).then_some(summary))
    }

    /// Keeps a summary for the next time, where that can be done.
    pub fn keep(
        &self,
        survey: &ArchiveSurvey,
        stamp: &SurveyStamp,
        settings: &str,
        summary: &SurveySummary,
    ) {
        if !self.clock.is_some_and(|clock| stamp.is_at_rest(clock)) {
            return;
        }
        let mut kept = self.load(survey, stamp).unwrap_or_default();
        kept.retain(|(of, _)| of != settings);
        kept.truncate(MOST_SETTINGS - 1);
        let mut writer = Writer(MAGIC.to_vec());
        head(&mut writer, survey, stamp);
        writer.number(kept.len() + 1);
        let all = std::iter::once((settings, summary));
        for (settings, summary) in all.chain(kept.iter().map(|(of, one)| (of.as_str(), one))) {
            writer.text(settings);
            writer.summary(summary);
        }
        let hash = blake3::hash(&writer.0);
        writer.0.extend_from_slice(hash.as_bytes());
        // Where it cannot be written the survey is read again the next time, and that is all.
        let _ = write_disposable(&self.folder.join(file_name(survey)), &writer.0);
    }

    fn load(&self, survey: &ArchiveSurvey, stamp: &SurveyStamp) -> Option<Kept> {
        let bytes = std::fs::read(self.folder.join(file_name(survey))).ok()?;
        let (body, hash) = bytes.split_at_checked(bytes.len().checked_sub(HASH_LENGTH)?)?;
        if blake3::hash(body).as_bytes().as_slice() != hash {
            return None;
        }
        let mut expected = Writer(MAGIC.to_vec());
        head(&mut expected, survey, stamp);
        let mut reader = Reader(body.strip_prefix(expected.0.as_slice())?);
        let n = reader.number()?;
        (0..n).map(|_| Some((reader.text()?.to_owned(), reader.summary()?))).collect()
    }
}

/// What must be as it was for a file to be used.
fn head(writer: &mut Writer, survey: &ArchiveSurvey, stamp: &SurveyStamp) {
    writer.text(env!("CARGO_PKG_VERSION"));
    writer.text(&survey.name);
    writer.raw(&stamp.digest);
    writer.0.extend_from_slice(&stamp.n_entries.to_le_bytes());
}

/// A name that every system can hold: what is plain of the survey's own, and a hash of its whole path in the archive.
fn file_name(survey: &ArchiveSurvey) -> String {
    let own = survey.name.rsplit('/').next().unwrap_or_default();
    let plain = own.chars().map(|c| if c.is_ascii_alphanumeric() { c } else { '-' });
    let plain: String = plain.take(40).collect();
    let hash = blake3::hash(survey.name.as_bytes()).to_hex();
    let hash: String = hash.chars().take(20).collect();
    format!("of-{}-{hash}.index", plain.to_ascii_lowercase())
}

/// The time that the drive gives to a file made now.
fn time_on_drive(folder: &Path) -> std::io::Result<SystemTime> {
    let path = folder.join(format!(".clock-{}", std::process::id()));
    let made = std::fs::write(&path, b"").and_then(|()| std::fs::metadata(&path)?.modified());
    // Another run of this very number may have removed it; the time is what counts.
    let _ = std::fs::remove_file(&path);
    made
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use super::*;
    use crate::domain::reading::Structure;

    fn summary(name: &str) -> SurveySummary {
        SurveySummary {
            name: name.to_owned(),
            water: "Alder Run".to_owned(),
            structure: Structure::Scale,
            ages_by: "kb".to_owned(),
            faults: Vec::new(),
            notes: Vec::new(),
            species: Vec::new(),
        }
    }

    fn survey_in(archive: &Path, name: &str) -> ArchiveSurvey {
        let folder = archive.join(name);
        std::fs::create_dir_all(&folder).unwrap();
        let file = std::fs::File::create(folder.join("survey.json")).unwrap();
        file.set_modified(SystemTime::now() - Duration::from_secs(60)).unwrap();
        ArchiveSurvey { name: name.to_owned(), folder }
    }

    #[test]
    fn what_was_kept_is_found_under_the_same_stamp_and_settings_only() {
        let archive = tempfile::tempdir().unwrap();
        let survey = survey_in(archive.path(), "north/Alder Run 2025");
        let stamp = SurveyStamp::of(&survey.folder).unwrap();
        let index = ArchiveIndex::open(archive.path());
        assert!(index.is_writable());
        assert_eq!(index.find(&survey, &stamp, "annulus"), None);
        index.keep(&survey, &stamp, "annulus", &summary("one"));
        index.keep(&survey, &stamp, "capture", &summary("two"));
        assert_eq!(index.find(&survey, &stamp, "annulus"), Some(summary("one")));
        assert_eq!(index.find(&survey, &stamp, "capture"), Some(summary("two")));
        for more in ["a", "b", "c"] {
            index.keep(&survey, &stamp, more, &summary(more));
        }
        assert_eq!(index.find(&survey, &stamp, "annulus"), None);
        assert_eq!(index.find(&survey, &stamp, "capture"), Some(summary("two")));
        std::fs::write(survey.folder.join("fish.csv"), b"fish\n").unwrap();
        let changed = SurveyStamp::of(&survey.folder).unwrap();
        assert_eq!(index.find(&survey, &changed, "capture"), None);
        // A file that came to be just now could change again within the same tick.
        index.keep(&survey, &changed, "capture", &summary("too young"));
        assert_eq!(index.find(&survey, &changed, "capture"), None);
        let names: Vec<_> = std::fs::read_dir(archive.path().join(INDEX_FOLDER)).unwrap().collect();
        assert_eq!(names.len(), 1, "{names:?}");
    }

    #[test]
    fn damaged_and_foreign_files_are_not_used() {
        let archive = tempfile::tempdir().unwrap();
        let survey = survey_in(archive.path(), "alder");
        let other = survey_in(archive.path(), "Alder!");
        let stamp = SurveyStamp::of(&survey.folder).unwrap();
        let index = ArchiveIndex::open(archive.path());
        index.keep(&survey, &stamp, "", &summary("one"));
        let path = index.folder.join(file_name(&survey));
        let good = std::fs::read(&path).unwrap();
        // Another survey's file under this one's name.
        std::fs::copy(&path, index.folder.join(file_name(&other))).unwrap();
        assert_eq!(index.find(&other, &stamp, ""), None);
        for place in 0..good.len() {
            let mut bad = good.clone();
            bad[place] ^= 1;
            std::fs::write(&path, &bad).unwrap();
            assert_eq!(index.find(&survey, &stamp, ""), None, "byte {place}");
        }
        for length in [0, 5, good.len() - 1] {
            std::fs::write(&path, &good[..length]).unwrap();
            assert_eq!(index.find(&survey, &stamp, ""), None);
        }
        index.keep(&survey, &stamp, "", &summary("mended"));
        assert_eq!(index.find(&survey, &stamp, ""), Some(summary("mended")));
    }

    #[test]
    fn names_of_files_are_safe_everywhere() {
        let name = |name: &str| {
            file_name(&ArchiveSurvey { name: name.to_owned(), folder: PathBuf::new() })
        };
        for survey in ["a/con", "Größe: 5?", "x/..", "a/b\\c", "nul.", &"long ".repeat(99)] {
            let file = name(survey);
            crate::store::file_name::check_file_name(&file).unwrap();
            assert!(file.is_ascii() && file.len() < 80, "{file}");
        }
        assert_ne!(name("north/a"), name("south/a"));
        assert_ne!(name("A"), name("a"));
    }
}
