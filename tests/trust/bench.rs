//! A survey folder to try files in, and the sound files under `fixtures/trust/`.

use std::path::{Path, PathBuf};

use winterline::domain::reading::{ReaderInitials, Structure};
use winterline::domain::survey::Survey;

/// A folder that vanishes with it.
pub struct Bench {
    folder: tempfile::TempDir,
}

impl Bench {
    /// A survey folder with the folders of a survey and no file.
    pub fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        for name in ["scans", "lists", "resolved"] {
            std::fs::create_dir(folder.path().join(name)).unwrap();
        }
        Self { folder }
    }

    /// The folder.
    pub fn folder(&self) -> &Path {
        self.folder.path()
    }

    /// Puts a file there, and gives its path.
    pub fn put(&self, name: &str, bytes: &[u8]) -> PathBuf {
        let path = self.folder.path().join(name);
        std::fs::write(&path, bytes).unwrap();
        path
    }
}

/// Sound files for a parser: `fixtures/trust/NAME*`, and the first part of a file of the demo survey.
pub fn sound(name: &str) -> Vec<Vec<u8>> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures");
    let mut paths: Vec<PathBuf> = std::fs::read_dir(root.join("trust"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.file_name().unwrap().to_str().unwrap().starts_with(name))
        .collect();
    paths.sort();
    let mut files: Vec<Vec<u8>> = paths.iter().map(|path| std::fs::read(path).unwrap()).collect();
    let of_demo = root.join("maple-hollow-2025").join(name);
    if let Ok(text) = std::fs::read_to_string(of_demo) {
        let n_lines = if name.ends_with(".csv") { 8 } else { usize::MAX };
        files.push(
            text.lines()
                .take(n_lines)
                .map(|line| line.to_owned() + "\n")
                .collect::<String>()
                .into_bytes(),
        );
    }
    assert!(!files.is_empty(), "no sound file for {name}");
    files
}

/// Initials.
pub fn reader(text: &str) -> ReaderInitials {
    ReaderInitials::new(text).unwrap()
}

/// The settings tables are read with.
pub fn survey() -> Survey {
    let mut survey =
        Survey::new("Maple Hollow Pond, autumn 2025", "Maple Hollow Pond", Structure::Scale);
    survey.species = "walleye".to_owned();
    survey.readers = vec![reader("kb"), reader("tv")];
    survey
}
