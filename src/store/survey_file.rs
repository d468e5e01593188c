//! `survey.json`: what is settled once for a whole survey.

use std::collections::BTreeMap;
use std::io::ErrorKind;
use std::path::Path;

use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

use crate::domain::age::{BirthdayRule, MonthDay};
use crate::domain::reading::{Light, ReaderInitials, Structure};
use crate::domain::survey::{LengthUnit, Survey, WeightUnit};

use super::error::StoreError;
use super::fingerprint::Fingerprint;
use super::safe_write::{Expected, write_whole};
use super::word::Word;

/// Name of the file in the survey folder.
pub const SURVEY_FILE: &str = "survey.json";

const FORMAT: &str = "winterline-survey";
const VERSION: u64 = 1;

#[derive(Debug, Serialize, Deserialize)]
struct SurveyV1 {
    format: String,
    version: u64,
    name: String,
    water: String,
    #[serde(default)]
    species: String,
    structure: Word<Structure>,
    light: Option<Word<Light>>,
    #[serde(default)]
    readers: Vec<Reader>,
    #[serde(default)]
    birthday: Option<Day>,
    annulus_window: Option<Window>,
    default_um_per_px: Option<PixelSize>,
    #[serde(default)]
    length_unit: Word<LengthUnit>,
    #[serde(default)]
    weight_unit: Word<WeightUnit>,
    #[serde(default)]
    columns: BTreeMap<String, String>,
    key_columns: Option<Vec<String>>,
    #[serde(default)]
    ageing_rule: String,
    #[serde(default)]
    axis_degrees: f64,
    #[serde(flatten)]
    other: Map<String, Value>,
}

#[derive(Debug, Clone, Copy, Serialize, Deserialize)]
struct Window {
    first: Day,
    last: Day,
}

/// One size for both directions, or one for each.
#[derive(Debug, Clone, Copy, Serialize, Deserialize)]
#[serde(untagged, expecting = "expected a positive number or a pair [x, y] of them")]
enum PixelSize {
    Both(f64),
    Each([f64; 2]),
}

#[derive(Debug, Clone, Copy, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
struct Day(MonthDay);

impl TryFrom<String> for Day {
    type Error = String;
    fn try_from(text: String) -> Result<Self, String> {
        MonthDay::parse(&text).map(Self).map_err(|error| error.to_string())
    }
}

impl From<Day> for String {
    fn from(day: Day) -> Self {
        day.0.to_string()
    }
}

#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
struct Reader(ReaderInitials);

impl TryFrom<String> for Reader {
    type Error = String;
    fn try_from(text: String) -> Result<Self, String> {
        ReaderInitials::new(&text).map(Self).map_err(|error| error.to_string())
    }
}

impl From<Reader> for String {
    fn from(reader: Reader) -> Self {
        reader.0.as_str().to_owned()
    }
}

/// Reads the settings of the survey in `folder`, and the fingerprint of the file.
///
/// # Errors
/// [`StoreError::NotASurvey`] without `survey.json`, [`StoreError::BadSurvey`] with the key path of what is wrong
/// (a newer version among it), [`StoreError::Io`].
pub fn read_survey(folder: &Path) -> Result<(Survey, Fingerprint), StoreError> {
    let path = folder.join(SURVEY_FILE);
    let bytes = std::fs::read(&path).map_err(|error| {
        if error.kind() == ErrorKind::NotFound {
            StoreError::NotASurvey { path: folder.to_owned() }
        } else {
            StoreError::io("read the survey's settings", &path)(error)
        }
    })?;
    let file = parse(&path, &bytes)?.not_newer(&path)?;
    let survey = file.into_survey().map_err(|reason| StoreError::BadSurvey { path, reason })?;
    Ok((survey, Fingerprint::of(&bytes)))
}

/// Writes the settings of the survey in `folder`, making the folder and its `scans` folder where there are none.
/// Keys of the file that this program does not know are kept. `expected` is what was read, `None` for a new survey.
///
/// # Errors
/// [`StoreError::ChangedByOther`] when the file is not the one that was read, [`StoreError::BadSurvey`] for numbers
/// that are none, [`StoreError::Io`].
pub fn write_survey(
    folder: &Path,
    survey: &Survey,
    expected: Option<&Fingerprint>,
) -> Result<Fingerprint, StoreError> {
    let path = folder.join(SURVEY_FILE);
    std::fs::create_dir_all(folder.join(super::file_name::SCANS_FOLDER))
        .map_err(StoreError::io("make the survey folder", folder))?;
    let mut file = SurveyV1::from_survey(survey);
    if let Some(reason) = file.fault() {
        return Err(StoreError::BadSurvey { path, reason });
    }
    if expected.is_some() {
        match std::fs::read(&path) {
            Ok(bytes) => file.other = parse(&path, &bytes)?.not_newer(&path)?.other,
            Err(_) => return Err(StoreError::ChangedByOther { path }),
        }
    }
    let text = serde_json::to_string_pretty(&file)
        .map_err(|error| StoreError::io("save the survey's settings", &path)(error.into()))?;
    write_whole(&path, (text + "\n").as_bytes(), Expected::from(expected))
}

fn parse(path: &Path, bytes: &[u8]) -> Result<SurveyV1, StoreError> {
    let bad = |reason: String| StoreError::BadSurvey { path: path.to_owned(), reason };
    let text = std::str::from_utf8(bytes).map_err(|error| {
        bad(format!("byte {} is not UTF-8: save the file as UTF-8", error.valid_up_to()))
    })?;
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let mut deserializer = serde_json::Deserializer::from_str(text);
    let file: SurveyV1 = serde_path_to_error::deserialize(&mut deserializer).map_err(|error| {
        let at = error.path().to_string();
        if at == "." {
            bad(error.inner().to_string())
        } else {
            bad(format!("at {at}: {}", error.inner()))
        }
    })?;
    deserializer.end().map_err(|error| bad(error.to_string()))?;
    if file.format != FORMAT {
        return Err(bad(format!("at format: expected '{FORMAT}', found '{}'", file.format)));
    }
    Ok(file)
}

impl SurveyV1 {
    fn from_survey(survey: &Survey) -> Self {
        let rule = survey.birthday_rule;
        Self {
            format: FORMAT.to_owned(),
            version: VERSION,
            name: survey.name.clone(),
            water: survey.water.clone(),
            species: survey.species.clone(),
            structure: Word(survey.structure),
            light: survey.light.map(Word),
            readers: survey.readers.iter().cloned().map(Reader).collect(),
            birthday: Some(Day(rule.birthday)),
            annulus_window: Some(Window {
                first: Day(rule.window_start),
                last: Day(rule.window_end),
            }),
            default_um_per_px: survey.default_um_per_px.map(PixelSize::Each),
            length_unit: Word(survey.length_unit),
            weight_unit: Word(survey.weight_unit),
            columns: survey.column_map.clone(),
            key_columns: Some(survey.key_columns.clone()),
            ageing_rule: survey.ageing_rule.clone(),
            axis_degrees: survey.axis_degrees,
            other: Map::new(),
        }
    }

    fn not_newer(self, path: &Path) -> Result<Self, StoreError> {
        if self.version <= VERSION {
            return Ok(self);
        }
        let reason = format!(
            "at version: version {} is newer than this program's {VERSION}: install a newer program",
            self.version
        );
        Err(StoreError::BadSurvey { path: path.to_owned(), reason })
    }

    fn pixel_size(&self) -> Option<[f64; 2]> {
        self.default_um_per_px.map(|size| match size {
            PixelSize::Both(both) => [both, both],
            PixelSize::Each(each) => each,
        })
    }

    /// What serde cannot see: numbers out of range and two readers whose initials differ only in case.
    fn fault(&self) -> Option<String> {
        if let Some(found) = self
            .pixel_size()
            .and_then(|[x, y]| [x, y].into_iter().find(|um| !(um.is_finite() && *um > 0.0)))
        {
            return Some(format!(
                "at default_um_per_px: expected a positive number of micrometres, found {found}"
            ));
        }
        if !self.axis_degrees.is_finite() {
            return Some("at axis_degrees: expected a number of degrees".to_owned());
        }
        self.readers.iter().enumerate().find_map(|(index, reader)| {
            self.readers.iter().take(index).any(|before| before.0 == reader.0).then(|| {
                format!(
                    "at readers[{index}]: '{}' stands twice (case does not count): give each reader other initials",
                    reader.0
                )
            })
        })
    }

    fn into_survey(self) -> Result<Survey, String> {
        if let Some(reason) = self.fault() {
            return Err(reason);
        }
        let usual = BirthdayRule::default();
        let window = self.annulus_window;
        let default_um_per_px = self.pixel_size();
        Ok(Survey {
            name: self.name,
            water: self.water,
            species: self.species,
            structure: self.structure.0,
            light: self.light.map(|word| word.0),
            readers: self.readers.into_iter().map(|reader| reader.0).collect(),
            birthday_rule: BirthdayRule {
                birthday: self.birthday.map_or(usual.birthday, |day| day.0),
                window_start: window.map_or(usual.window_start, |window| window.first.0),
                window_end: window.map_or(usual.window_end, |window| window.last.0),
            },
            default_um_per_px,
            length_unit: self.length_unit.0,
            weight_unit: self.weight_unit.0,
            column_map: self.columns,
            key_columns: self
                .key_columns
                .filter(|columns| !columns.is_empty())
                .unwrap_or_else(|| vec!["fish".to_owned()]),
            ageing_rule: self.ageing_rule,
            axis_degrees: self.axis_degrees,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn maple_hollow() -> Survey {
        let mut survey =
            Survey::new("Maple Hollow Pond, spring 2025", "Maple Hollow Pond", Structure::Scale);
        survey.species = "yellow perch".to_owned();
        survey.readers =
            vec![ReaderInitials::new("kb").unwrap(), ReaderInitials::new("tv").unwrap()];
        survey.default_um_per_px = Some([5.291_666_666_666_667, 5.3]);
        survey.column_map.insert("fish".to_owned(), "Envelope".to_owned());
        survey.axis_degrees = 12.5;
        survey
    }

    fn error_of(text: &str) -> String {
        let folder = tempfile::tempdir().unwrap();
        std::fs::write(folder.path().join(SURVEY_FILE), text).unwrap();
        read_survey(folder.path()).unwrap_err().to_string()
    }

    #[test]
    fn settings_go_there_and_back() {
        let folder = tempfile::tempdir().unwrap();
        let written = write_survey(folder.path(), &maple_hollow(), None).unwrap();
        assert_eq!(read_survey(folder.path()).unwrap(), (maple_hollow(), written));
        assert!(folder.path().join("scans").is_dir());
    }

    #[test]
    fn unknown_keys_are_kept_and_a_changed_file_is_not_overwritten() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join(SURVEY_FILE);
        write_survey(folder.path(), &maple_hollow(), None).unwrap();
        let text = std::fs::read_to_string(&path).unwrap();
        std::fs::write(&path, text.replacen('{', "{\"permit\": [1.25, \"x\"],", 1)).unwrap();
        let (mut survey, loaded) = read_survey(folder.path()).unwrap();
        survey.name = "renamed".to_owned();
        write_survey(folder.path(), &survey, Some(&loaded)).unwrap();
        let value: Value = serde_json::from_slice(&std::fs::read(&path).unwrap()).unwrap();
        assert_eq!(value["permit"], serde_json::json!([1.25, "x"]));
        assert_eq!(value["name"], "renamed");
        let late = write_survey(folder.path(), &survey, Some(&loaded));
        assert!(matches!(late, Err(StoreError::ChangedByOther { .. })));
        let twice = write_survey(folder.path(), &survey, None);
        assert!(matches!(twice, Err(StoreError::ChangedByOther { .. })));
    }

    #[test]
    fn a_short_file_gets_the_usual_settings() {
        let folder = tempfile::tempdir().unwrap();
        let text = r#"{"format":"winterline-survey","version":1,"name":"a","water":"b","structure":"otolith",
            "default_um_per_px":4}"#;
        std::fs::write(folder.path().join(SURVEY_FILE), text).unwrap();
        let (survey, _) = read_survey(folder.path()).unwrap();
        let mut usual = Survey::new("a", "b", Structure::Otolith);
        usual.default_um_per_px = Some([4.0, 4.0]);
        assert_eq!(survey, usual);
    }

    #[test]
    fn errors_name_the_key_path() {
        let head = r#""format":"winterline-survey","version":1,"name":"a","water":"b""#;
        let cases = [
            (
                format!("{{{head},\"structure\":\"feather\"}}"),
                "at structure: expected a structure (scale, otolith",
            ),
            (format!("{{{head}}}"), "structure"),
            (
                format!("{{{head},\"structure\":\"scale\",\"readers\":[\"kb\",\"c c\"]}}"),
                "at readers[1]: 'c c'",
            ),
            (
                format!("{{{head},\"structure\":\"scale\",\"readers\":[\"kb\",\"KB\"]}}"),
                "at readers[1]: 'KB' stands twice",
            ),
            (
                format!(
                    "{{{head},\"structure\":\"scale\",\"annulus_window\":{{\"first\":\"02-30\",\"last\":\"07-15\"}}}}"
                ),
                "at annulus_window.first: '02-30' is not a day",
            ),
            (
                format!("{{{head},\"structure\":\"scale\",\"default_um_per_px\":-1}}"),
                "at default_um_per_px",
            ),
            (
                format!("{{{head},\"structure\":\"scale\",\"default_um_per_px\":\"4\"}}"),
                "at default_um_per_px",
            ),
            (format!("{{{head},\"structure\":\"scale\""), "EOF"),
            (String::from("{\"format\":\"other\"}"), "missing field"),
            (
                format!("{{{head},\"structure\":\"scale\"}}")
                    .replace("\"version\":1", "\"version\":2"),
                "at version: version 2 is newer",
            ),
        ];
        for (text, expected) in cases {
            let error = error_of(&text);
            assert!(error.contains(expected), "{text}: {error}");
        }
    }

    #[test]
    fn a_folder_without_the_file_is_said_not_to_be_a_survey() {
        let folder = tempfile::tempdir().unwrap();
        let error = read_survey(folder.path()).unwrap_err();
        assert!(matches!(error, StoreError::NotASurvey { .. }));
        assert!(error.to_string().contains("no survey.json in this folder"));
    }
}
