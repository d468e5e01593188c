//! The first page: what was surveyed and the answer in a few sentences, with a place to sign.

use maud::{Markup, html};

use super::parts::{caution, user};
use crate::report::conclusions::{conclusions, missing};
use crate::report::report_units::counted;
use crate::report::survey_report::{Chapter, Facts, SurveyReport};

pub(super) fn front(report: &SurveyReport) -> Markup {
    let facts = &report.facts;
    html! {
        header {
            h1 { (user(&facts.survey)) }
            p class="lede" { "Age and growth of " (user(species(report))) " in " (user(&facts.water)) ". Report of " (report.date_text()) "." }
        }
        (facts_list(report))
        h2 id="answers" { "The answers" }
        p { (summary(report)) }
        @for one in conclusions(report) {
            section class="answer" {
                h3 { (one.question) }
                p { (one.answer) }
                p class="note" { (sentence(&one.because)) }
                div class="trust" { "trust" b { (one.trust.word()) } }
            }
        }
        p class="note" {
            "Trust is a rule of this report (common practice, no source): good needs ten or more fish at four or more ages and readers \
             without a systematic difference; fair lacks one of these; low means few fish or readers who differ."
        }
        (caution(&[
            "Ages from scales of old fish run low: treat them as lower limits, and validate for this species and water before they carry a decision.",
            "This report supports a decision and does not make it. Agency rules and local knowledge of the water come first.",
        ]))
        (signatures())
        (what_is_missing(report))
        nav class="screen" aria-label="Contents" { h3 { "Contents" } (contents(report)) }
    }
}

fn species(report: &SurveyReport) -> &str {
    if report.facts.species.is_empty() { "the fish" } else { &report.facts.species }
}

fn sentence(text: &str) -> String {
    let mut text = super::parts::capital(text);
    if !text.ends_with('.') {
        text.push('.');
    }
    text
}

fn summary(report: &SurveyReport) -> String {
    let counts = &report.counts;
    let caught = format!(
        "{} of the species were caught and {} measured",
        counted(counts.of_species, "fish"),
        counts.measured
    );
    if report.facts.ages.is_one_reader {
        let reader = &report.facts.reader;
        format!("{caught}; reader {reader} read {} and aged {}.", counts.read, counts.aged)
    } else {
        format!("{caught}; {} have an age that counts.", counted(counts.aged as u64, "fish"))
    }
}

fn facts_list(report: &SurveyReport) -> Markup {
    let facts = &report.facts;
    let gears: std::collections::BTreeSet<&str> =
        facts.runs.iter().map(|run| run.gear.as_str()).filter(|gear| !gear.is_empty()).collect();
    let gears: Vec<&str> = gears.into_iter().collect();
    let hours: f64 = facts.runs.iter().map(|run| run.hours).sum();
    let given = |text: &str| if text.is_empty() { "not given".to_owned() } else { text.to_owned() };
    let dates = match &facts.dates {
        Some([first, last]) if first == last => first.clone(),
        Some([first, last]) => format!("{first} to {last}"),
        None => "not given".to_owned(),
    };
    let gear = if facts.runs.is_empty() {
        "not given".to_owned()
    } else {
        format!(
            "{}, {}, {} hours of current on or gear set",
            given(&gears.join(", ")),
            counted(facts.runs.len() as u64, "run"),
            crate::report::report_units::fixed(hours, 2)
        )
    };
    html! {
        dl class="facts" {
            dt { "Water" } dd { (user(&given(&facts.water))) }
            dt { "Species" } dd { (user(&given(&facts.species))) }
            dt { "Caught" } dd { (dates) }
            dt { "Gear" } dd { (user(&gear)) }
            dt { "Crew" } dd { (user(&given(&facts.crew))) }
            dt { "Structure" } dd { (facts.structure.word()) ", " (facts.length_type.word()) " length" }
            dt { "Readers" } dd { (user(&given(&facts.readers.join(", ")))) }
            dt { "Ages" } dd { (user(&ages(facts))) }
        }
    }
}

/// Whose ages count, and how many fish each other rule would leave.
fn ages(facts: &Facts) -> String {
    let ages = &facts.ages;
    let mut words = super::parts::capital(&ages.rule);
    if !ages.each_rule.is_empty() {
        words.push_str(&format!(
            "; fish with an age: {} (each rule leaves: {})",
            ages.n_fish, ages.each_rule
        ));
    }
    if ages.n_outdated > 0 {
        words.push_str(&format!(
            "; {} decisions are older than a reading of their fish",
            ages.n_outdated
        ));
    }
    words
}

fn signatures() -> Markup {
    html! {
        div class="sign" aria-label="Signatures" {
            div { "Lead reader: name and signature" }
            div { "Date" }
            div { "Manager: name and signature" }
            div { "Date" }
        }
    }
}

fn what_is_missing(report: &SurveyReport) -> Markup {
    let missing = missing(report);
    html! {
        @if !missing.is_empty() {
            h3 { "What this report does not hold" }
            ul { @for one in &missing { li { (user(one)) } } }
        }
    }
}

fn contents(report: &SurveyReport) -> Markup {
    let id = |chapter: Chapter| format!("#{}", chapter.word());
    html! {
        ul class="contents" {
            li { a href="#answers" { "The answers" } }
            li { a href="#methods" { "Methods and assumptions" } }
            li { a href="#sample" { "Sample and exclusions" } }
            @for chapter in Chapter::ALL { @if report.has(chapter) && chapter != Chapter::Cards {
                li { a href=(id(chapter)) { (chapter.title()) } }
            } }
            li { a href="#provenance" { "How this report was made" } }
            @if report.has(Chapter::Cards) { li { a href="#cards" { (Chapter::Cards.title()) } } }
        }
    }
}
