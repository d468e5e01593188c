//! `simulate`: invented pictures, or the whole invented survey, with their truth.

use std::path::PathBuf;

use serde_json::json;

use super::flags::{ProposedStructure, SimulateFlags, SimulateWhat};
use super::{DONE, Failure, output};
use crate::domain::reading::Structure;
use crate::simulate::truth::{Difficulty, Style};
use crate::workbench::demo_survey::build_demo_survey;
use crate::workbench::simulate_files::{demo_specs, random_specs, write_pictures};

/// Runs the verb.
pub fn run(flags: &SimulateFlags) -> Result<u8, Failure> {
    let written = match flags.what {
        SimulateWhat::Lake => output::with_progress("drawing the lake", |watch| {
            build_demo_survey(&flags.folder, watch).map(|built| built.written)
        }),
        SimulateWhat::DemoImages => output::with_progress("drawing pictures", |watch| {
            write_pictures(&flags.folder, &demo_specs(), watch)
        }),
        SimulateWhat::Pictures => {
            let specs = random_specs(
                structure_of(flags),
                style_of(flags)?,
                difficulty_of(flags)?,
                flags.count,
                flags.seed,
            );
            output::with_progress("drawing pictures", |watch| {
                write_pictures(&flags.folder, &specs, watch)
            })
        }
    }
    .map_err(|error| Failure::data(error.to_string()))?;
    report(flags, &written)?;
    Ok(DONE)
}

fn report(flags: &SimulateFlags, written: &[PathBuf]) -> Result<(), Failure> {
    if flags.json {
        let paths: Vec<_> = written.iter().map(|path| path.to_string_lossy()).collect();
        return output::json(&json!({ "written": paths, "error": null }));
    }
    output::result(&format!("{} files written to {}\n", written.len(), flags.folder.display()))
}

fn structure_of(flags: &SimulateFlags) -> Structure {
    match flags.structure {
        ProposedStructure::Scale => Structure::Scale,
        ProposedStructure::Otolith => Structure::Otolith,
    }
}

fn style_of(flags: &SimulateFlags) -> Result<Option<Style>, Failure> {
    let styles = Style::of(structure_of(flags));
    let words: Vec<&str> = styles.iter().map(|style| style.word()).collect();
    let Some(word) = &flags.style else { return Ok(None) };
    match Style::from_word(word).filter(|style| styles.contains(style)) {
        Some(style) => Ok(Some(style)),
        None => Err(Failure::usage(format!(
            "--style '{word}' is not known: use one of {}",
            words.join(", ")
        ))),
    }
}

fn difficulty_of(flags: &SimulateFlags) -> Result<Option<Difficulty>, Failure> {
    let Some(word) = &flags.difficulty else { return Ok(None) };
    match Difficulty::from_word(word) {
        Some(difficulty) => Ok(Some(difficulty)),
        None => Err(Failure::usage(format!(
            "--difficulty '{word}' is not known: use easy, medium, hard or hopeless"
        ))),
    }
}
