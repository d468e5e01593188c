//! A blind pack: one file that takes a list to another office. A plain ZIP archive, nothing compressed, with
//! `pictures/TAG.png` for each impression and `list.json`, which says what a reader may know and nothing else.

use std::fs::File;
use std::io::{Read, Write};
use std::path::Path;

use serde_json::Map;
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipArchive, ZipWriter};

use crate::domain::blind::ListName;
use crate::domain::reading::{Light, Structure};

use super::blind_error::BlindError;
use super::blind_file::create_with;
use super::blind_readings::ListHead;
use super::blind_v1::{ItemV1, PACK, PackV1};
use super::error::StoreError;
use super::fingerprint::Fingerprint;
use super::word::Word;

const LIST_NAME: &str = "list.json";
/// No part of a pack may unfold to more than this, whatever the archive says, bytes.
const LARGEST_PART: u64 = 2 << 30;

/// What a reader may know of one impression.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BlindItem {
    /// Its tag.
    pub tag: String,
    /// The species, where the list shows it.
    pub species: Option<String>,
    /// The structure, where the list shows it.
    pub structure: Option<Structure>,
    /// How it was lit, where the list shows the structure and it is known.
    pub light: Option<Light>,
    /// Month of capture, 1 to 12, where the list shows it and it is known.
    pub capture_month: Option<i8>,
}

/// A list without its mapping.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MaskedList {
    /// Name and identity.
    pub head: ListHead,
    /// Proposed annuli may be shown.
    pub show_proposals: bool,
    /// Its impressions in reading order.
    pub items: Vec<BlindItem>,
}

/// Writes a pack. `picture` gives the PNG of a tag; it is called once for each, in reading order.
///
/// # Errors
/// [`BlindError::Taken`] when the file is there, what `picture` gives, [`StoreError::Io`]. No part of a pack is left.
pub fn write_pack(
    path: &Path,
    list: &MaskedList,
    mut picture: impl FnMut(&str) -> Result<Vec<u8>, BlindError>,
) -> Result<(), BlindError> {
    let failed = |error: std::io::Error| {
        BlindError::from(StoreError::io("write the blind pack", path)(error))
    };
    let zipped = |error: zip::result::ZipError| failed(std::io::Error::other(error));
    create_with(path, "choose another name for the pack", |file| {
        let mut zip = ZipWriter::new(file);
        let mut items = Vec::with_capacity(list.items.len());
        for item in &list.items {
            let bytes = picture(&item.tag)?;
            zip.start_file(picture_name(&item.tag), plain()).map_err(zipped)?;
            zip.write_all(&bytes).map_err(failed)?;
            items.push(ItemV1::of(item, Fingerprint::of(&bytes).blake3_hex()));
        }
        let text = super::blind_file::to_text(&PackV1::of(list, items), path)?;
        zip.start_file(LIST_NAME, plain()).map_err(zipped)?;
        zip.write_all(text.as_bytes()).map_err(failed)?;
        zip.finish().map_err(zipped)?;
        Ok(())
    })
}

/// Nothing compressed (a PNG is already), no time of writing, the same rights for every part.
fn plain() -> SimpleFileOptions {
    SimpleFileOptions::default()
        .compression_method(CompressionMethod::Stored)
        .last_modified_time(zip::DateTime::default())
        .unix_permissions(0o644)
}

fn picture_name(tag: &str) -> String {
    format!("pictures/{tag}.png")
}

/// The list of a pack.
///
/// # Errors
/// [`BlindError::Unreadable`] for a file that is no pack or is damaged, [`BlindError::Newer`], [`StoreError::Io`].
pub fn read_pack(path: &Path) -> Result<MaskedList, BlindError> {
    read_list(path)?.1.to_masked(path)
}

/// The PNG of a tag, checked against the hash in the list.
///
/// # Errors
/// As [`read_pack`].
pub fn read_pack_picture(path: &Path, tag: &str) -> Result<Vec<u8>, BlindError> {
    let (mut zip, list) = read_list(path)?;
    let item = list.items.iter().find(|item| item.tag == tag);
    let item = item.ok_or_else(|| PACK.unreadable(path, format!("it has no tag {tag}")))?;
    let bytes = part(&mut zip, path, &picture_name(tag))?;
    if Fingerprint::of(&bytes).blake3_hex() != item.picture_blake3 {
        return Err(
            PACK.unreadable(path, format!("the picture {tag} is damaged: ask for the pack again"))
        );
    }
    Ok(bytes)
}

fn read_list(path: &Path) -> Result<(ZipArchive<File>, PackV1), BlindError> {
    let file = File::open(path).map_err(StoreError::io("open the blind pack", path))?;
    let mut zip = ZipArchive::new(file)
        .map_err(|error| PACK.unreadable(path, format!("it is not a whole archive ({error})")))?;
    let text = part(&mut zip, path, LIST_NAME)?;
    let list = PACK.parse(path, &text)?;
    Ok((zip, list))
}

fn part(zip: &mut ZipArchive<File>, path: &Path, name: &str) -> Result<Vec<u8>, BlindError> {
    let damaged =
        |error: String| PACK.unreadable(path, format!("'{name}' cannot be taken out ({error})"));
    let part = zip.by_name(name).map_err(|error| damaged(error.to_string()))?;
    let mut bytes = Vec::new();
    part.take(LARGEST_PART).read_to_end(&mut bytes).map_err(|error| damaged(error.to_string()))?;
    Ok(bytes)
}

impl PackV1 {
    fn of(list: &MaskedList, items: Vec<ItemV1>) -> Self {
        Self {
            format: PACK.format.to_owned(),
            version: PACK.version,
            program_version: env!("CARGO_PKG_VERSION").to_owned(),
            list: list.head.name.as_str().to_owned(),
            list_id: list.head.id.clone(),
            show_proposals: list.show_proposals,
            items,
            other: Map::new(),
        }
    }

    fn to_masked(&self, path: &Path) -> Result<MaskedList, BlindError> {
        let name = ListName::new(&self.list)
            .map_err(|error| PACK.unreadable(path, format!("at list: {error}")))?;
        let items = self.items.iter().map(|item| BlindItem {
            tag: item.tag.clone(),
            species: item.species.clone(),
            structure: item.structure.map(|word| word.0),
            light: item.light.map(|word| word.0),
            capture_month: item.capture_month,
        });
        Ok(MaskedList {
            head: ListHead { name, id: self.list_id.clone() },
            show_proposals: self.show_proposals,
            items: items.collect(),
        })
    }
}

impl ItemV1 {
    fn of(item: &BlindItem, picture_blake3: String) -> Self {
        Self {
            tag: item.tag.clone(),
            species: item.species.clone(),
            structure: item.structure.map(Word),
            light: item.light.map(Word),
            capture_month: item.capture_month,
            picture_blake3,
            other: Map::new(),
        }
    }
}

/// The parts of a pack for tests: name, whether it carries no time of its own, bytes.
#[cfg(test)]
pub(crate) fn parts_of(path: &Path) -> Vec<(String, bool, Vec<u8>)> {
    let mut zip = ZipArchive::new(File::open(path).unwrap()).unwrap();
    let parts = (0..zip.len()).map(|index| {
        let mut part = zip.by_index(index).unwrap();
        let is_timeless = part.last_modified() == Some(zip::DateTime::default());
        let name = part.name().unwrap().into_owned();
        let mut bytes = Vec::new();
        part.read_to_end(&mut bytes).unwrap();
        (name, is_timeless, bytes)
    });
    parts.collect()
}
