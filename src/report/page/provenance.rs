//! How the report was made: program, settings, and the hash of every file it rests on.

use maud::{Markup, html};

use super::parts::{heading_on_new_page, table, user, words};
use crate::report::report_units::counted;
use crate::report::survey_report::{InputFile, SurveyReport};

/// Sidecars beyond this many are summed up in one line; their hashes stand in the data files.
const MOST_FILES: usize = 400;

pub(super) fn provenance(report: &SurveyReport) -> Markup {
    let provenance = &report.provenance;
    let settings: Vec<Vec<String>> =
        provenance.settings.iter().map(|(name, value)| vec![name.clone(), value.clone()]).collect();
    let bytes: u64 = provenance.inputs.iter().map(|file| file.bytes).sum();
    html! {
        (heading_on_new_page("provenance", "How this report was made"))
        p {
            "Winterline " (provenance.version) ". The same files, settings and version give this report again, byte for byte, on any \
             machine; no clock is read. The date is the newest in the data unless another was given."
        }
        (table("Settings", &[words("Setting"), words("Value")], &settings))
        p { (counted(provenance.inputs.len() as u64, "file")) " read, " (bytes) " bytes. A file that was changed since has another BLAKE3 hash." }
        details open { summary { "Files and their hashes" } (files(&provenance.inputs)) }
    }
}

fn files(inputs: &[InputFile]) -> Markup {
    html! {
        ul class="hashes" { @for file in inputs.iter().take(MOST_FILES) {
            li { (user(&file.name)) ", " (file.bytes) " bytes" code { (file.blake3) } }
        } }
        @if inputs.len() > MOST_FILES {
            p class="note" { "And " (inputs.len() - MOST_FILES) " more; all stand in the data files." }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn many_files_are_cut_with_a_word_about_it() {
        let one =
            |n: usize| InputFile { name: format!("scans/{n}"), bytes: 1, blake3: "0".repeat(64) };
        let page = files(&(0..MOST_FILES + 3).map(one).collect::<Vec<_>>()).into_string();
        assert!(page.contains("And 3 more") && !page.contains(&format!("scans/{MOST_FILES}<")));
    }
}
