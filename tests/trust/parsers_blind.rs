//! Blind lists, readings of them, returned readings and packs, damaged in every way.

use std::path::Path;

use proptest::prelude::*;
use winterline::domain::blind::ListName;
use winterline::store::blind::{BlindList, close_list, load_list};
use winterline::store::blind_error::BlindError;
use winterline::store::blind_pack::{BlindItem, MaskedList};
use winterline::store::blind_pack::{read_pack, read_pack_picture, write_pack};
use winterline::store::blind_readings::{ListHead, load_blind_readings, save_blind_reading};
use winterline::store::blind_take_in::take_in;

use crate::bench::{Bench, reader, sound};
use crate::cases::{self, damaged, pick};
use crate::damage::damage_bytes;
use crate::damage_json::damage_json;
use crate::messages::judge;

const LIST: &str = "lists/june-1.json";
const READINGS: &str = "lists/june-1.tv.json";

fn june() -> ListName {
    ListName::new("june-1").unwrap()
}

fn when() -> jiff::Timestamp {
    "2025-07-01T08:00:00Z".parse().unwrap()
}

#[test]
fn blind_lists() {
    let (bench, sound) = (Bench::new(), sound("list"));
    cases::run(&damaged(), |(which, ops)| {
        let bytes = damage_json(pick(&sound, which).unwrap(), &ops);
        let path = bench.put(LIST, &bytes);
        let list = match load_list(bench.folder(), &june()) {
            Ok(loaded) => loaded.list,
            Err(error) => {
                prop_assert!(!ops.is_empty(), "a sound file was refused: {}", error);
                prop_assert_eq!(std::fs::read(&path).unwrap(), bytes);
                return judge(&error.to_string(), &["june-1.json"]);
            }
        };
        if close_list(bench.folder(), &june(), None, when()).unwrap().is_some() {
            let closed = load_list(bench.folder(), &june()).unwrap().list;
            prop_assert_eq!(closed, BlindList { closed: Some((when(), None)), ..list });
        } else {
            prop_assert_eq!(std::fs::read(&path).unwrap(), bytes);
        }
        Ok(())
    });
}

#[test]
fn blind_readings() {
    let (bench, sound) = (Bench::new(), sound("readings"));
    cases::run(&damaged(), |(which, ops)| {
        let bytes = damage_json(pick(&sound, which).unwrap(), &ops);
        let path = bench.put(READINGS, &bytes);
        let loaded = match load_blind_readings(&path) {
            Ok(loaded) => loaded,
            Err(error) => {
                prop_assert!(!ops.is_empty(), "a sound file was refused: {}", error);
                prop_assert_eq!(std::fs::read(&path).unwrap(), bytes);
                return judge(&error.to_string(), &["june-1.tv.json"]);
            }
        };
        let Some(first) = loaded.tagged.first() else { return Ok(()) };
        let expected = Some(&loaded.fingerprint);
        let acting = reader("tv");
        match save_blind_reading(
            &path,
            &loaded.head,
            &acting,
            &first.tag,
            &first.impressions,
            expected,
        ) {
            Ok(_) => {
                let again = load_blind_readings(&path).unwrap();
                prop_assert_eq!(&again.tagged[1..], &loaded.tagged[1..]);
                prop_assert!(again.tagged[0].earlier.len() >= first.earlier.len());
                Ok(())
            }
            Err(error) => {
                prop_assert_eq!(std::fs::read(&path).unwrap(), bytes);
                judge(&error.to_string(), &["not saved", "june-1"])
            }
        }
    });
}

#[test]
fn returned_readings() {
    let (bench, sound) = (Bench::new(), sound("readings"));
    bench.put(LIST, &crate::bench::sound("list")[0]);
    cases::run(&damaged(), |(which, ops)| {
        let bytes = damage_json(pick(&sound, which).unwrap(), &ops);
        let returned = bench.put("returned.json", &bytes);
        match take_in(bench.folder(), &returned, when()) {
            Ok(path) => {
                let path = path.unwrap();
                prop_assert!(path.starts_with(bench.folder().join("lists")), "{}", path.display());
                std::fs::remove_file(path).unwrap();
            }
            Err(error) => {
                prop_assert!(!ops.is_empty(), "a sound file was refused: {}", error);
                judge(&error.to_string(), &["returned.json", "june-1", "list"])?;
            }
        }
        prop_assert_eq!(std::fs::read(&returned).unwrap(), bytes);
        Ok(())
    });
}

/// A pack of three small pictures.
fn pack(path: &Path) -> Vec<u8> {
    let item = |tag: &str, month| BlindItem {
        tag: tag.to_owned(),
        species: Some("walleye".to_owned()),
        structure: None,
        light: None,
        capture_month: month,
    };
    let list = MaskedList {
        head: ListHead { name: june(), id: "a1b2c3".to_owned() },
        show_proposals: false,
        items: vec![item("BKTRX", Some(5)), item("ZZQPL", None), item("MNDFG", Some(12))],
    };
    write_pack(path, &list, |tag| Ok(format!("picture of {tag} ").repeat(9).into_bytes())).unwrap();
    std::fs::read(path).unwrap()
}

fn open_all(path: &Path) -> Result<usize, BlindError> {
    let list = read_pack(path)?;
    for item in &list.items {
        read_pack_picture(path, &item.tag)?;
    }
    Ok(list.items.len())
}

#[test]
fn blind_packs() {
    let bench = Bench::new();
    let sound = pack(&bench.folder().join("sound.zip"));
    cases::run(&damaged(), |(_, ops)| {
        let mut bytes = sound.clone();
        for op in &ops {
            damage_bytes(&mut bytes, *op);
        }
        let path = bench.put("pack.zip", &bytes);
        match open_all(&path) {
            Ok(_) => Ok(()),
            Err(error) => {
                prop_assert!(!ops.is_empty(), "a sound pack was refused: {}", error);
                judge(&error.to_string(), &["pack.zip"])
            }
        }
    });
}
