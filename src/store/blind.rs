//! A blind re-read list on disk: `lists/NAME.json`, written by the lead.
//!
//! It holds the mapping from tag to scan and fish, so nothing of it may reach a reader's window: the window gets a
//! session that looks a tag up here for each picture and forgets it again.

use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use jiff::Timestamp;
use kurbo::{Rect, Vec2};
use serde_json::Map;

use crate::domain::blind::{BlindPolicy, BlindRule, ListName};
use crate::domain::calibration::Calibration;
use crate::domain::reading::{Light, ReaderInitials, ScanIdentity, Structure};
use crate::domain::units::Millimetres;

use super::blind_error::BlindError;
use super::blind_file::{create_whole, to_text};
use super::blind_v1::{ClosedV1, EntryV1, LIST, ListV1, PolicyV1, RuleV1};
use super::error::StoreError;
use super::fingerprint::Fingerprint;
use super::safe_write::{Expected, write_whole};
use super::sidecar_v1::{BoxV1, CalibrationV1, ScanV1};
use super::word::Word;

/// Folder of the lists, inside the survey folder.
pub const LISTS_FOLDER: &str = "lists";

/// One impression on a list: what the tag stands for.
#[derive(Debug, Clone, PartialEq)]
pub struct BlindEntry {
    /// What the reader sees.
    pub tag: String,
    /// Key of the fish.
    pub fish: String,
    /// The scan.
    pub scan: ScanIdentity,
    /// Number of the impression on it, from 1.
    pub impression: u32,
    /// Its structure.
    pub structure: Structure,
    /// How it was lit, where known.
    pub light: Option<Light>,
    /// What is shown of the scan, image pixels, on the borders of pixels; see [`on_pixel_borders`].
    pub bounds: Rect,
    /// Pixel size of the scan, where known.
    pub calibration: Option<Calibration>,
    /// Slipped in because its age is known.
    pub is_reference: bool,
    /// Age known from a mark or from stocking.
    pub known_age: Option<u32>,
}

impl BlindEntry {
    /// From a place in the crop to the same place on the scan, pixels: whole numbers.
    pub fn scan_from_crop(&self) -> Vec2 {
        Vec2::new((self.bounds.x0 + 0.5).round(), (self.bounds.y0 + 0.5).round())
    }
}

/// A whole list.
#[derive(Debug, Clone, PartialEq)]
pub struct BlindList {
    /// Its name.
    pub name: ListName,
    /// Tells it from every other list, whatever their names. Made of nothing that belongs to a fish.
    pub id: String,
    /// The seed it was drawn with.
    pub seed: u64,
    /// The rule it was drawn by. Keys of fish that were named are those of the entries, and are not kept again.
    pub rule: BlindRule,
    /// What the reader is shown.
    pub policy: BlindPolicy,
    /// Who drew it, where stated.
    pub drawn_by: Option<ReaderInitials>,
    /// When.
    pub drawn: Timestamp,
    /// When it was closed, and by whom where stated; `None` while open.
    pub closed: Option<(Timestamp, Option<ReaderInitials>)>,
    /// Its impressions in reading order.
    pub entries: Vec<BlindEntry>,
}

impl BlindList {
    /// The identity of a list of these tags, drawn then.
    pub fn id_of(survey: &str, name: &ListName, drawn: Timestamp, tags: &[String]) -> String {
        let text = format!(
            "{survey}\n{}\n{drawn}\n{}",
            name.as_str().to_ascii_lowercase(),
            tags.join(" ")
        );
        Fingerprint::of(text.as_bytes()).blake3_hex().chars().take(24).collect()
    }

    /// The entry of a tag, without regard to case.
    pub fn entry(&self, tag: &str) -> Option<&BlindEntry> {
        self.entries.iter().find(|entry| entry.tag.eq_ignore_ascii_case(tag))
    }
}

/// A list as it was loaded.
#[derive(Debug, Clone, PartialEq)]
pub struct LoadedList {
    /// Where it lies.
    pub path: PathBuf,
    /// What it holds.
    pub list: BlindList,
}

/// Widens a box to the borders of the pixels it touches, and cuts it to the scan; `None` where nothing is left.
pub fn on_pixel_borders(bounds: Rect, width_px: u32, height_px: u32) -> Option<Rect> {
    let side = |low: f64, high: f64, size: u32| {
        let first = (low + 0.5 + 1e-9).floor().max(0.0);
        let end = (high + 0.5 - 1e-9).ceil().min(f64::from(size));
        (end >= first + 1.0).then_some((first - 0.5, end - 0.5))
    };
    let (x0, x1) = side(bounds.x0, bounds.x1, width_px)?;
    let (y0, y1) = side(bounds.y0, bounds.y1, height_px)?;
    Some(Rect::new(x0, y0, x1, y1))
}

/// Where a list lies. Names are written in lower case, since some systems fold case and others do not.
pub fn list_path(survey: &Path, name: &ListName) -> PathBuf {
    survey.join(LISTS_FOLDER).join(format!("{}.json", name.as_str().to_ascii_lowercase()))
}

/// The names of a survey's lists, in order.
///
/// # Errors
/// [`StoreError::Io`] when the folder is there and cannot be read.
pub fn list_names(survey: &Path) -> Result<Vec<ListName>, BlindError> {
    let folder = survey.join(LISTS_FOLDER);
    let entries = match std::fs::read_dir(&folder) {
        Ok(entries) => entries,
        Err(error) if error.kind() == ErrorKind::NotFound => return Ok(Vec::new()),
        Err(error) => return Err(StoreError::io("list the blind lists", &folder)(error).into()),
    };
    let mut names: Vec<String> = entries
        .flatten()
        .filter_map(|entry| entry.file_name().into_string().ok())
        .filter_map(|name| name.strip_suffix(".json").map(str::to_owned))
        .collect();
    names.sort();
    Ok(names.iter().filter_map(|name| ListName::new(name).ok()).collect())
}

/// Writes a new list. A list is never replaced.
///
/// # Errors
/// [`BlindError::Taken`] for a name that is used, [`StoreError::Io`].
pub fn create_list(survey: &Path, list: &BlindList) -> Result<PathBuf, BlindError> {
    let path = list_path(survey, &list.name);
    let text = to_text(&ListV1::of(list), &path)?;
    create_whole(&path, text.as_bytes(), "choose another name for the new list")?;
    Ok(path)
}

/// Loads a list. Changes nothing on disk.
///
/// # Errors
/// [`BlindError::NoSuchList`], [`BlindError::Unreadable`], [`BlindError::Newer`], [`StoreError::Io`].
pub fn load_list(survey: &Path, name: &ListName) -> Result<LoadedList, BlindError> {
    let (path, file, _) = read_list(survey, name)?;
    let list = list_named(name, &path, &file)?;
    Ok(LoadedList { path, list })
}

/// Closes a list: from now on it takes no readings, and analyses may use those it has. Writes only the list's own
/// file. Gives its path, or `None` where it was closed already.
///
/// # Errors
/// As [`load_list`], and [`StoreError::ChangedByOther`].
pub fn close_list(
    survey: &Path,
    name: &ListName,
    by: Option<&ReaderInitials>,
    when: Timestamp,
) -> Result<Option<PathBuf>, BlindError> {
    let (path, mut file, loaded) = read_list(survey, name)?;
    list_named(name, &path, &file)?;
    if file.closed.is_some() {
        return Ok(None);
    }
    let by = by.map(|by| by.as_str().to_owned());
    file.closed = Some(ClosedV1 { when: when.to_string(), by, other: Map::new() });
    file.program_version = env!("CARGO_PKG_VERSION").to_owned();
    let text = to_text(&file, &path)?;
    write_whole(&path, text.as_bytes(), Expected::Same(loaded))?;
    Ok(Some(path))
}

/// What the file says, if it is the list its name says: a second copy would make every reading of the list count twice.
fn list_named(name: &ListName, path: &Path, file: &ListV1) -> Result<BlindList, BlindError> {
    let list = file.to_list().map_err(|reason| LIST.unreadable(path, reason))?;
    if list.name == *name {
        return Ok(list);
    }
    let reason = format!("at name: it is the list '{}', so this may be a second copy", list.name);
    Err(LIST.unreadable(path, reason))
}

fn read_list(survey: &Path, name: &ListName) -> Result<(PathBuf, ListV1, Fingerprint), BlindError> {
    let path = list_path(survey, name);
    let bytes = match std::fs::read(&path) {
        Ok(bytes) => bytes,
        Err(error) if error.kind() == ErrorKind::NotFound => {
            return Err(BlindError::NoSuchList { name: name.to_string() });
        }
        Err(error) => return Err(StoreError::io("read the blind list", &path)(error).into()),
    };
    let file = LIST.parse(&path, &bytes)?;
    Ok((path, file, Fingerprint::of(&bytes)))
}

impl ListV1 {
    fn of(list: &BlindList) -> Self {
        let initials = |reader: &ReaderInitials| reader.as_str().to_owned();
        Self {
            format: LIST.format.to_owned(),
            version: LIST.version,
            program_version: env!("CARGO_PKG_VERSION").to_owned(),
            name: list.name.as_str().to_owned(),
            list_id: list.id.clone(),
            seed: list.seed,
            rule: RuleV1::of(&list.rule),
            policy: PolicyV1 {
                show_species: list.policy.species,
                show_structure: list.policy.structure,
                show_capture_month: list.policy.capture_month,
                show_proposals: list.policy.proposals,
                other: Map::new(),
            },
            drawn_by: list.drawn_by.as_ref().map(initials),
            drawn: list.drawn.to_string(),
            closed: list.closed.as_ref().map(|(when, by)| ClosedV1 {
                when: when.to_string(),
                by: by.as_ref().map(initials),
                other: Map::new(),
            }),
            entries: list.entries.iter().map(EntryV1::of).collect(),
            other: Map::new(),
        }
    }

    fn to_list(&self) -> Result<BlindList, String> {
        let time = |key: &str, text: &str| {
            text.parse().map_err(|_| format!("at {key}: expected a time, found '{text}'"))
        };
        let reader = |key: &str, text: &Option<String>| {
            let read = text.as_deref().map(ReaderInitials::new).transpose();
            read.map_err(|error| format!("at {key}: {error}"))
        };
        let closed = self.closed.as_ref().map(|closed| {
            Ok::<_, String>((time("closed.when", &closed.when)?, reader("closed.by", &closed.by)?))
        });
        let entries = self.entries.iter().enumerate().map(|(index, entry)| {
            entry.to_entry().map_err(|reason| format!("at entries[{index}].{reason}"))
        });
        let list = BlindList {
            name: ListName::new(&self.name).map_err(|error| format!("at name: {error}"))?,
            id: self.list_id.clone(),
            seed: self.seed,
            rule: self.rule.to_rule()?,
            policy: BlindPolicy {
                species: self.policy.show_species,
                structure: self.policy.show_structure,
                capture_month: self.policy.show_capture_month,
                proposals: self.policy.show_proposals,
            },
            drawn_by: reader("drawn_by", &self.drawn_by)?,
            drawn: time("drawn", &self.drawn)?,
            closed: closed.transpose()?,
            entries: entries.collect::<Result<_, _>>()?,
        };
        for (index, entry) in list.entries.iter().enumerate() {
            if list.entry(&entry.tag) != Some(entry) {
                return Err(format!("at entries[{index}].tag: '{}' stands twice", entry.tag));
            }
        }
        Ok(list)
    }
}

impl RuleV1 {
    fn of(rule: &BlindRule) -> Self {
        let (share, n_per_group, width_mm) = match rule {
            BlindRule::Share(share) => (Some(*share), None, None),
            BlindRule::PerAge(n) => (None, Some(*n), None),
            BlindRule::PerLength { n, width } => (None, Some(*n), Some(width.0)),
            BlindRule::All | BlindRule::Doubtful | BlindRule::Fish(_) => (None, None, None),
        };
        Self { rule: rule.word().to_owned(), share, n_per_group, width_mm, other: Map::new() }
    }

    fn to_rule(&self) -> Result<BlindRule, String> {
        let missing = |key: &str| format!("at rule.{key}: expected a number");
        Ok(match self.rule.as_str() {
            "all" => BlindRule::All,
            "share" => BlindRule::Share(self.share.ok_or_else(|| missing("share"))?),
            "per-age" => BlindRule::PerAge(self.n_per_group.ok_or_else(|| missing("n_per_group"))?),
            "per-length" => BlindRule::PerLength {
                n: self.n_per_group.ok_or_else(|| missing("n_per_group"))?,
                width: Millimetres(self.width_mm.ok_or_else(|| missing("width_mm"))?),
            },
            "doubtful" => BlindRule::Doubtful,
            "fish" => BlindRule::Fish(Vec::new()),
            other => return Err(format!("at rule.rule: '{other}' is not a rule")),
        })
    }
}

impl EntryV1 {
    fn of(entry: &BlindEntry) -> Self {
        Self {
            tag: entry.tag.clone(),
            fish: entry.fish.clone(),
            scan: ScanV1::of(&entry.scan),
            impression: entry.impression,
            structure: Word(entry.structure),
            light: entry.light.map(Word),
            box_px: BoxV1::from_rect(entry.bounds),
            calibration: entry.calibration.as_ref().map(CalibrationV1::of),
            is_reference: entry.is_reference,
            known_age: entry.known_age,
            other: Map::new(),
        }
    }

    fn to_entry(&self) -> Result<BlindEntry, String> {
        super::file_name::check_file_name(&self.scan.file)
            .map_err(|error| format!("scan.file: {error}"))?;
        let calibration = self.calibration.as_ref().map(CalibrationV1::to_calibration).transpose();
        let found = self.box_px.to_rect();
        let bounds = on_pixel_borders(found, self.scan.width_px, self.scan.height_px)
            .ok_or_else(|| "box_px: the box does not lie on the scan".to_owned())?;
        Ok(BlindEntry {
            tag: self.tag.clone(),
            fish: self.fish.clone(),
            scan: self.scan.to_identity(),
            impression: self.impression,
            structure: self.structure.0,
            light: self.light.map(|word| word.0),
            bounds,
            calibration: calibration.map_err(|error| format!("calibration: {}", error.reason))?,
            is_reference: self.is_reference,
            known_age: self.known_age,
        })
    }
}
