//! Single words that people type or that stand in file names: initials, names of lists and files, dates.

use proptest::prelude::*;
use winterline::domain::age::MonthDay;
use winterline::domain::blind::ListName;
use winterline::domain::dates;
use winterline::domain::reading::ReaderInitials;
use winterline::store::file_name::{
    check_file_name, looks_like_conflict_copy, parse_sidecar_name, sidecar_name,
};

use crate::cases;
use crate::damage::NASTY;
use crate::messages::judge;

fn words() -> impl Strategy<Value = String> {
    prop_oneof![
        any::<String>(),
        "\\PC{0,300}",
        "[A-Za-z0-9-]{1,14}",
        "[0-9]{1,6}[-/. ][0-9]{1,3}[-/. ][0-9]{1,6}",
        "[A-Za-z0-9 ().-]{1,20}\\.(tif|PNG|jpeg)\\.[a-z0-9-]{1,13}\\.json",
        proptest::sample::select(&NASTY[..]).prop_map(str::to_owned),
    ]
}

#[test]
fn initials_and_names_and_dates() {
    cases::run(&words(), |word| {
        match ReaderInitials::new(&word) {
            Ok(reader) => {
                let name = sidecar_name("MH-1.tif", &reader);
                prop_assert_eq!(parse_sidecar_name(&name), Some(("MH-1.tif", reader)));
                prop_assert!(check_file_name(&name).is_ok(), "{}", name);
            }
            Err(error) => judge(&error.to_string(), &["initials"])?,
        }
        match ListName::new(&word) {
            Ok(name) => prop_assert!(check_file_name(&format!("{name}.json")).is_ok(), "{}", name),
            Err(error) => judge(&error.to_string(), &["list"])?,
        }
        if let Err(error) = check_file_name(&word) {
            judge(&error.to_string(), &["file name"])?;
        }
        if let Some((scan, reader)) = parse_sidecar_name(&word) {
            prop_assert!(
                word.to_lowercase() == sidecar_name(scan, &reader).to_lowercase(),
                "{}",
                word
            );
        }
        let _ = looks_like_conflict_copy(&word);
        match dates::parse(&word) {
            Ok(date) => prop_assert_eq!(&date.to_string(), &word),
            Err(advice) => judge(&format!("a date: look: {advice}"), &["date"])?,
        }
        if let Err(error) = MonthDay::parse(&word) {
            judge(&error.to_string(), &["day"])?;
        }
        Ok(())
    });
}
