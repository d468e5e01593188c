//! Every command in the shell blocks of the documents is run on a copy of the demo survey, in order, and the lines that a
//! document quotes below it must stand in what it prints.
//!
//! A document quotes output in a `text` block right after the `sh` block: whole lines of the output of the block's last
//! command, in order, spaces at will, `...` for lines left out. After a change of the figures
//! `WINTERLINE_DOCS=refresh cargo test --test cli docs` writes the new ones into the documents: each quoted line becomes the
//! line of the output that differs from it in numbers only.

use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::Value;
use winterline::imaging::encode::{TiffCompression, TiffLayout, TiffOptions, tiff_bytes};
use winterline::imaging::raster::{Raster, Samples};

const DOCUMENTS: [&str; 6] = [
    "README.md",
    "docs/guide.md",
    "docs/methods.md",
    "docs/data-dictionary.md",
    "docs/blind-lists.md",
    "docs/cautions.md",
];

/// Commands that the documents show and this test does not run, each with the reason.
const NOT_RUN: [(&str, &str); 2] = [
    ("cargo run --release -- demo", "builds everything anew, draws 120 scans and opens the window"),
    ("cargo test", "this test is part of it"),
];

const SURVEY: &str = "maple-hollow-2025";

/// A command of a document, with the quoted lines below it and where they stand.
#[derive(Debug)]
struct Shown {
    command: String,
    quoted: Vec<(usize, String)>,
}

fn shown_in(text: &str) -> Vec<Shown> {
    let mut shown: Vec<Shown> = Vec::new();
    let (mut fence, mut last) = (None::<String>, String::new());
    for (number, line) in text.lines().enumerate() {
        match (&fence, line.trim_start().strip_prefix("```")) {
            (None, Some(kind)) => fence = Some(kind.trim().to_owned()),
            (Some(kind), Some(_)) => {
                last.clone_from(kind);
                fence = None;
            }
            (Some(kind), None)
                if kind == "sh" && !line.trim().is_empty() && !line.starts_with('#') =>
            {
                // A comment behind a command is for people.
                let command = line.split("  # ").next().unwrap_or_default().trim().to_owned();
                shown.push(Shown { command, quoted: Vec::new() });
            }
            (Some(kind), None) if kind == "text" && last == "sh" => {
                shown.last_mut().unwrap().quoted.push((number, line.to_owned()));
            }
            (None, None) if !line.trim().is_empty() => last.clear(),
            _ => {}
        }
    }
    shown
}

/// The words of a command, quotes taken off.
fn words(command: &str) -> Vec<String> {
    let (mut words, mut word, mut in_quotes) = (Vec::new(), String::new(), false);
    for letter in command.chars() {
        match letter {
            '"' => in_quotes = !in_quotes,
            ' ' if !in_quotes => words.push(std::mem::take(&mut word)),
            _ => word.push(letter),
        }
    }
    words.push(word);
    words.retain(|word| !word.is_empty());
    words
}

/// What a person types before the verb, whether the program is built or installed.
fn verb_and_flags(command: &str) -> Option<Vec<String>> {
    let rest = command
        .strip_prefix("winterline ")
        .or_else(|| command.strip_prefix("cargo run --release -- "))?;
    Some(words(rest))
}

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// The demo survey with its kept readings on blank scans: no verb but the drawing of cards looks at what is on a scan.
fn demo_in(folder: &Path) {
    let kept = root().join("fixtures").join(SURVEY);
    let survey = folder.join(SURVEY);
    let scans = survey.join("scans");
    std::fs::create_dir_all(&scans).unwrap();
    for name in ["survey.json", "fish.csv", "effort.csv", "stocking.csv", "reference.csv"] {
        std::fs::copy(kept.join(name), survey.join(name)).unwrap();
    }
    let (width, height) = (1242_usize, 1192_usize);
    let grey = Samples::Eight(vec![128; width * height]);
    let options = TiffOptions { compression: TiffCompression::Lzw, layout: TiffLayout::Strips(64) };
    let um = 5.291_666_666_666_667;
    let blank =
        tiff_bytes(&Raster::new(width, height, grey).unwrap(), Some([um, um]), options).unwrap();
    let hash = blake3::hash(&blank).to_hex().to_string();
    for number in 1..=120 {
        std::fs::write(scans.join(format!("MH-{number:04}.tif")), &blank).unwrap();
    }
    let readings = std::fs::read_to_string(kept.join("readings.json")).unwrap();
    let mut readings: Value = serde_json::from_str(&readings).unwrap();
    for reading in readings["readings"].as_array_mut().unwrap() {
        let reader = reading["reader"].as_str().unwrap().to_owned();
        let scan = &mut reading["scan"];
        scan["blake3"] = Value::from(hash.as_str());
        scan["width_px"] = Value::from(width);
        scan["height_px"] = Value::from(height);
        let name = format!("{}.{reader}.json", scan["file"].as_str().unwrap());
        std::fs::write(scans.join(name), reading.to_string()).unwrap();
    }
    let pictures = folder.join("demo-images");
    std::fs::create_dir(&pictures).unwrap();
    for entry in std::fs::read_dir(root().join("demo-images")).unwrap() {
        let entry = entry.unwrap();
        std::fs::copy(entry.path(), pictures.join(entry.file_name())).unwrap();
    }
}

/// What a command prints, results and messages, each line with single spaces.
fn printed(command: &str, arguments: &[String], folder: &Path) -> Vec<String> {
    let output = Command::new(env!("CARGO_BIN_EXE_winterline"))
        .args(arguments)
        .current_dir(folder)
        .env_remove("DISPLAY")
        .env_remove("WAYLAND_DISPLAY")
        .output()
        .unwrap();
    let out = String::from_utf8(output.stdout).unwrap();
    let err = String::from_utf8(output.stderr).unwrap();
    assert!(output.status.success(), "{command}\n{err}");
    assert!(!out.trim().is_empty(), "{command} prints nothing\n{err}");
    out.lines().chain(err.lines()).map(single_spaced).collect()
}

fn single_spaced(line: &str) -> String {
    line.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// A line with every number taken out.
fn without_numbers(line: &str) -> String {
    let mut shape = String::new();
    for letter in single_spaced(line).chars() {
        let is_of_number = letter.is_ascii_digit() || letter == '.';
        if !is_of_number {
            shape.push(letter);
        } else if !shape.ends_with('#') {
            shape.push('#');
        }
    }
    shape.replace("-#", "#").replace("+#", "#")
}

/// Finds the quoted lines in order; a line that is not there is returned with what stands in its place.
fn missing(quoted: &[(usize, String)], printed: &[String]) -> Vec<(usize, Option<String>)> {
    let (mut from, mut missing) = (0, Vec::new());
    for (number, line) in quoted.iter().filter(|(_, line)| line.trim() != "...") {
        let wanted = single_spaced(line);
        let rest = printed.get(from..).unwrap_or_default();
        if let Some(at) = rest.iter().position(|line| *line == wanted) {
            from += at + 1;
            continue;
        }
        let shape = without_numbers(&wanted);
        let like = rest.iter().position(|line| without_numbers(line) == shape);
        from += like.map_or(0, |at| at + 1);
        missing.push((*number, like.map(|at| rest[at].clone())));
    }
    missing
}

#[test]
fn every_command_of_the_documents_does_what_they_say() {
    let refresh = std::env::var("WINTERLINE_DOCS").is_ok_and(|word| word == "refresh");
    let (mut not_run, mut n_run, mut faults) = (Vec::new(), 0, Vec::new());
    for document in DOCUMENTS {
        let text = std::fs::read_to_string(root().join(document)).unwrap();
        let all = shown_in(&text);
        if all.iter().all(|one| NOT_RUN.iter().any(|(known, _)| *known == one.command)) {
            not_run.extend(all.into_iter().map(|one| one.command));
            continue;
        }
        let folder = tempfile::tempdir().unwrap();
        demo_in(folder.path());
        let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
        for one in all {
            if NOT_RUN.iter().any(|(known, _)| *known == one.command) {
                not_run.push(one.command);
                continue;
            }
            let arguments = verb_and_flags(&one.command).unwrap_or_else(|| {
                panic!("{document}: '{}' is neither run nor named in NOT_RUN", one.command)
            });
            let printed = printed(&one.command, &arguments, folder.path());
            n_run += 1;
            for (number, instead) in missing(&one.quoted, &printed) {
                match instead {
                    Some(now) if refresh => lines[number] = laid_out(&lines[number], &now),
                    instead => faults.push(format!(
                        "{document}, line {}: '{}' does not print '{}'{}",
                        number + 1,
                        one.command,
                        lines[number].trim(),
                        instead.map(|now| format!(", but '{now}'")).unwrap_or_default()
                    )),
                }
            }
        }
        if refresh {
            std::fs::write(root().join(document), lines.join("\n") + "\n").unwrap();
        }
    }
    assert!(faults.is_empty(), "{}\n(see the head of tests/cli/docs.rs)", faults.join("\n"));
    not_run.sort();
    not_run.dedup();
    let known: Vec<&str> = NOT_RUN.iter().map(|(command, _)| *command).collect();
    assert_eq!(not_run, known, "the list of what is not run is exact");
    assert!(n_run >= 12, "{n_run} commands were run");
}

/// The new line with the spaces of the old one, as far as numbers keep their widths.
fn laid_out(old: &str, new: &str) -> String {
    let (mut out, mut words) = (String::new(), new.split(' '));
    let mut rest = old;
    while let Some(start) = rest.find(|c: char| !c.is_whitespace()) {
        let end = rest[start..].find(char::is_whitespace).map_or(rest.len(), |at| start + at);
        let Some(word) = words.next() else { break };
        let spare = (start + end - start).saturating_sub(word.len()).max(usize::from(start > 0));
        let is_number = word.ends_with(|c: char| c.is_ascii_digit());
        out.push_str(&" ".repeat(if is_number { spare } else { start }));
        out.push_str(word);
        rest = &rest[end..];
    }
    words.for_each(|word| {
        out.push(' ');
        out.push_str(word);
    });
    out
}

#[test]
fn documents_are_read_as_they_are_meant() {
    let text = "words\n```sh\nwinterline check a  # a comment\nwinterline list new a \"two words\"\n```\n\n```text\n fish   12\n...\n```\n\nmore\n\n```text\nno output\n```\n";
    let shown = shown_in(text);
    assert_eq!(shown.len(), 2);
    assert_eq!(verb_and_flags(&shown[0].command).unwrap(), ["check", "a"]);
    assert_eq!(verb_and_flags(&shown[1].command).unwrap(), ["list", "new", "a", "two words"]);
    assert_eq!(shown[1].quoted.len(), 2);
    assert_eq!(missing(&shown[1].quoted, &["fish 12".to_owned()]), []);
    let instead = missing(&shown[1].quoted, &["other 3".to_owned(), "fish 7".to_owned()]);
    assert_eq!(instead, [(7, Some("fish 7".to_owned()))]);
    assert_eq!(laid_out(" fish   12", "fish 7"), " fish    7");
    assert_eq!(verb_and_flags("rm -r a"), None);
}
