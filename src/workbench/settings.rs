//! What the program remembers of a person's wishes: a plain JSON file in their configuration folder.
//!
//! A file that cannot be read is left as it is and said to be so; parts the program does not know are kept.

use std::path::{Path, PathBuf};

use serde_json::{Map, Value, json};

use super::settings_keys::KeyMap;
use super::settings_sheets::SheetMemory;
use super::settings_tone::ScanTone;
use crate::store::safe_write::{Expected, write_whole};

/// Surveys remembered.
const MAX_RECENT: usize = 8;

/// Scans whose tone is remembered; the ones changed longest ago go first.
const MAX_TONES: usize = 2000;

/// Sizes of words and controls that can be chosen.
pub const INTERFACE_SCALES: std::ops::RangeInclusive<f32> = 0.75..=2.5;

/// A person's wishes.
#[derive(Debug, Clone, PartialEq)]
pub struct Settings {
    /// Size of words and controls; 1 is usual.
    pub interface_scale: f32,
    /// Dark or light; `None`: as the system is.
    pub is_dark: Option<bool>,
    /// Surveys opened last, the latest first.
    pub recent: Vec<PathBuf>,
    /// Which keys ask for what.
    pub keys: KeyMap,
    /// The scan left last in each of these surveys.
    places: Vec<(PathBuf, String)>,
    /// The guided first reading was followed or skipped.
    pub is_guide_done: bool,
    /// How headings of field sheets were matched before.
    pub sheets: SheetMemory,
    tones: Vec<(String, ScanTone)>,
    /// The file as it was read: whatever else stands in it stays.
    file: Map<String, Value>,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            interface_scale: 1.0,
            is_dark: None,
            recent: Vec::new(),
            keys: KeyMap::default(),
            places: Vec::new(),
            is_guide_done: false,
            sheets: SheetMemory::default(),
            tones: Vec::new(),
            file: Map::new(),
        }
    }
}

impl Settings {
    /// Reads the file at `path`; one that is not there gives the usual settings.
    ///
    /// # Errors
    /// Why the file cannot be used. It is then better not to write it.
    pub fn load(path: &Path) -> Result<(Self, Vec<String>), String> {
        let text = match std::fs::read_to_string(path) {
            Ok(text) => text,
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
                return Ok((Self::default(), Vec::new()));
            }
            Err(error) => {
                return Err(format!(
                    "the settings cannot be read: {error}: '{}'; mend or delete the file",
                    path.display()
                ));
            }
        };
        match serde_json::from_str(&text) {
            Ok(Value::Object(file)) => Ok(Self::from_json(file)),
            Ok(_) => Err(format!(
                "the settings are not used: '{}' holds no JSON object; mend or delete it",
                path.display()
            )),
            Err(error) => Err(format!(
                "the settings are not used: {error}: '{}'; mend or delete it",
                path.display()
            )),
        }
    }

    fn from_json(mut file: Map<String, Value>) -> (Self, Vec<String>) {
        let mut settings = Self::default();
        if let Some(scale) = file.get("interface_scale").and_then(Value::as_f64) {
            settings.set_interface_scale(scale as f32);
        }
        settings.is_dark = match file.get("theme").and_then(Value::as_str) {
            Some("dark") => Some(true),
            Some("light") => Some(false),
            _ => None,
        };
        let recent = file.get("recent_surveys").and_then(Value::as_array).into_iter().flatten();
        settings.recent =
            recent.filter_map(Value::as_str).map(PathBuf::from).take(MAX_RECENT).collect();
        let places = file.get("last_scans").and_then(Value::as_object).into_iter().flatten();
        settings.places = places
            .filter_map(|(folder, scan)| Some((PathBuf::from(folder), scan.as_str()?.to_owned())))
            .take(MAX_RECENT)
            .collect();
        settings.is_guide_done = file.get("guide_done").and_then(Value::as_bool).unwrap_or(false);
        settings.sheets = file.get("sheet_columns").map(SheetMemory::from_json).unwrap_or_default();
        let tones = file.get("scan_tones").and_then(Value::as_object).into_iter().flatten();
        settings.tones = tones
            .map(|(scan, tone)| (scan.clone(), ScanTone::from_json(tone)))
            .take(MAX_TONES)
            .collect();
        let mut problems = Vec::new();
        if let Some(changes) = file.get("keys").and_then(Value::as_object) {
            (settings.keys, problems) = KeyMap::changed(changes);
        }
        // Written anew from the tones themselves.
        file.remove("scan_tones");
        settings.file = file;
        (settings, problems)
    }

    /// The file as it should be.
    pub fn to_json(&self) -> Value {
        let mut file = self.file.clone();
        let theme = self.is_dark.map(|is_dark| if is_dark { "dark" } else { "light" });
        let recent: Vec<String> =
            self.recent.iter().map(|path| path.display().to_string()).collect();
        let tones: Map<String, Value> =
            self.tones.iter().map(|(scan, tone)| (scan.clone(), tone.to_json())).collect();
        file.insert("interface_scale".to_owned(), json!(f64::from(self.interface_scale)));
        file.insert("theme".to_owned(), json!(theme));
        file.insert("recent_surveys".to_owned(), json!(recent));
        let places = self.places.iter();
        let places: Map<String, Value> =
            places.map(|(folder, scan)| (folder.display().to_string(), json!(scan))).collect();
        file.insert("last_scans".to_owned(), Value::Object(places));
        file.insert("guide_done".to_owned(), json!(self.is_guide_done));
        file.insert("sheet_columns".to_owned(), self.sheets.to_json());
        file.insert("scan_tones".to_owned(), Value::Object(tones));
        Value::Object(file)
    }

    /// Writes the file, whole or not at all.
    ///
    /// # Errors
    /// Why it could not be written.
    pub fn save(&self, path: &Path) -> Result<(), String> {
        if let Some(folder) = path.parent() {
            std::fs::create_dir_all(folder)
                .map_err(|error| format!("cannot make '{}': {error}", folder.display()))?;
        }
        let mut bytes = serde_json::to_vec_pretty(&self.to_json())
            .map_err(|error| format!("cannot write the settings: {error}"))?;
        bytes.push(b'\n');
        write_whole(path, &bytes, Expected::Anything).map_err(|error| error.to_string())?;
        Ok(())
    }

    /// Puts every key into the file, so that they can be changed there.
    pub fn list_all_keys(&mut self) {
        self.file.insert("keys".to_owned(), Value::Object(self.keys.to_json()));
    }

    /// Sets the size of words and controls, within [`INTERFACE_SCALES`].
    pub fn set_interface_scale(&mut self, scale: f32) {
        if scale.is_finite() {
            self.interface_scale = scale.clamp(*INTERFACE_SCALES.start(), *INTERFACE_SCALES.end());
        }
    }

    /// Remembers a survey as the last one opened.
    pub fn opened(&mut self, folder: &Path) {
        // The program may be started elsewhere next time.
        let folder = std::path::absolute(folder).unwrap_or_else(|_| folder.to_owned());
        self.recent.retain(|known| *known != folder);
        self.recent.insert(0, folder);
        self.recent.truncate(MAX_RECENT);
    }

    /// Remembers the scan on show in a survey.
    pub fn set_place(&mut self, folder: &Path, scan: &str) {
        let folder = std::path::absolute(folder).unwrap_or_else(|_| folder.to_owned());
        if self.place_of(&folder) == Some(scan) {
            return;
        }
        self.places.retain(|(known, _)| *known != folder);
        self.places.insert(0, (folder, scan.to_owned()));
        self.places.truncate(MAX_RECENT);
    }

    /// The scan that was on show last in a survey.
    pub fn place_of(&self, folder: &Path) -> Option<&str> {
        let folder = std::path::absolute(folder).unwrap_or_else(|_| folder.to_owned());
        self.places.iter().find(|(known, _)| *known == folder).map(|(_, scan)| scan.as_str())
    }

    /// How a scan is shown, by its fingerprint.
    pub fn tone_of(&self, scan: &str) -> ScanTone {
        let found = self.tones.iter().find(|(known, _)| known == scan);
        found.map_or_else(ScanTone::default, |(_, tone)| *tone)
    }

    /// Remembers how a scan is shown; the usual tone needs no room.
    pub fn set_tone(&mut self, scan: &str, tone: ScanTone) {
        self.tones.retain(|(known, _)| known != scan);
        if tone != ScanTone::default() {
            self.tones.push((scan.to_owned(), tone));
        }
        let surplus = self.tones.len().saturating_sub(MAX_TONES);
        self.tones.drain(..surplus);
    }
}

/// Where the settings lie: in the person's configuration folder. `None` where the system names none.
pub fn settings_path() -> Option<PathBuf> {
    let folder = |name: &str| {
        std::env::var_os(name).map(PathBuf::from).filter(|folder| folder.is_absolute())
    };
    let base = if cfg!(windows) {
        folder("APPDATA")
    } else if cfg!(target_os = "macos") {
        folder("HOME").map(|home| home.join("Library/Application Support"))
    } else {
        folder("XDG_CONFIG_HOME").or_else(|| folder("HOME").map(|home| home.join(".config")))
    };
    base.map(|base| base.join("winterline").join("settings.json"))
}

#[cfg(test)]
mod tests {
    use super::super::action::Verb;
    use super::*;

    #[test]
    fn wishes_come_back_and_strange_parts_stay() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("deep/settings.json");
        let (mut settings, problems) = Settings::load(&path).unwrap();
        assert!(problems.is_empty());
        settings.set_interface_scale(1.5);
        settings.is_dark = Some(true);
        settings.opened(Path::new("/a"));
        settings.opened(Path::new("/b"));
        settings.opened(Path::new("/a"));
        settings.set_place(Path::new("/a"), "A-1.tif");
        settings.set_place(Path::new("/a"), "A-2.tif");
        settings.set_tone("ff00", ScanTone { inverted: true, ..ScanTone::default() });
        settings.file.insert("of_a_later_program".to_owned(), json!([1, 2]));
        settings.save(&path).unwrap();
        let (back, problems) = Settings::load(&path).unwrap();
        assert!(problems.is_empty());
        assert_eq!((back.interface_scale, back.is_dark), (1.5, Some(true)));
        assert_eq!(back.recent, [Path::new("/a"), Path::new("/b")]);
        assert_eq!(back.place_of(Path::new("/a")), Some("A-2.tif"));
        assert_eq!(back.place_of(Path::new("/b")), None);
        assert!(back.tone_of("ff00").inverted && !back.tone_of("ff01").inverted);
        assert_eq!(back.to_json()["of_a_later_program"], json!([1, 2]));
    }

    #[test]
    fn a_damaged_file_is_named_and_a_clash_is_refused() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("settings.json");
        std::fs::write(&path, "{\"theme\": \"dark\"").unwrap();
        assert!(Settings::load(&path).unwrap_err().contains("mend or delete it"));
        std::fs::write(&path, r#"{"theme": "dark", "keys": {"Confirm": ["N"]}}"#).unwrap();
        let (settings, problems) = Settings::load(&path).unwrap();
        assert_eq!((settings.is_dark, problems.len()), (Some(true), 1));
        assert_eq!(settings.keys.shown(Verb::Confirm), "C");
        settings.save(&path).unwrap();
        let kept: Value = serde_json::from_slice(&std::fs::read(&path).unwrap()).unwrap();
        assert_eq!(kept["keys"]["Confirm"], json!(["N"]));
    }

    #[test]
    fn only_the_last_surveys_and_tones_are_kept() {
        let mut settings = Settings::default();
        for i in 0..MAX_RECENT + 3 {
            settings.opened(Path::new(&format!("/{i}")));
        }
        assert_eq!(settings.recent.len(), MAX_RECENT);
        settings.set_interface_scale(f32::NAN);
        settings.set_interface_scale(99.0);
        assert_eq!(settings.interface_scale, 2.5);
    }
}
