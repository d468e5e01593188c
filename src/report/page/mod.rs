//! The report of a survey as one HTML file: nothing is fetched from anywhere, and it prints to clean pages.

mod agreement;
mod cards;
mod classes;
mod data_uri;
mod figures;
mod front;
mod growth;
mod lengths;
mod methods;
mod parts;
mod provenance;
mod sample;
mod years;

pub use data_uri::base64;

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::plot::printable;
use super::survey_report::{Chapter, SurveyReport};

const STYLE: &str = include_str!("style.css");

/// Nothing may be loaded from outside, whatever a field sheet holds; pictures are within the file.
const POLICY: &str = "default-src 'none'; img-src data:; style-src 'unsafe-inline'";

/// The report as HTML. The same report gives the same bytes.
pub fn survey_page(report: &SurveyReport) -> String {
    let title = format!("{}: age and growth report", printable(&report.facts.survey));
    let page = html! {
        (DOCTYPE)
        html lang="en" dir="ltr" {
            head {
                meta charset="utf-8";
                meta http-equiv="Content-Security-Policy" content=(POLICY);
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="generator" content={ "Winterline " (report.provenance.version) };
                title { (title) }
                style { (PreEscaped(STYLE)) (PreEscaped(running_heads(report))) }
            }
            body {
                main { (front::front(report)) (chapters(report)) }
            }
        }
    };
    page.into_string()
}

fn chapters(report: &SurveyReport) -> Markup {
    let chapter = |wanted: Chapter, drawn: fn(&SurveyReport) -> Markup| {
        html! { @if report.has(wanted) { (drawn(report)) } }
    };
    html! {
        (methods::methods(report))
        (sample::sample(report))
        (chapter(Chapter::Agreement, agreement::agreement))
        (chapter(Chapter::Lengths, lengths::lengths))
        (chapter(Chapter::Growth, growth::growth))
        (chapter(Chapter::Years, years::years))
        (chapter(Chapter::YearClasses, classes::classes))
        (provenance::provenance(report))
        (chapter(Chapter::Cards, cards::cards))
    }
}

/// Heads and page numbers of printed pages, and the size of the paper where one was asked for: A4 and Letter both have room.
fn running_heads(report: &SurveyReport) -> String {
    let left = css_string(&shortened(&report.facts.survey, 90));
    let right = css_string(report.date_text());
    let paper = report.paper.css();
    format!(
        "@page {{ {paper}margin: 21mm 17mm 18mm; \
         @top-left {{ content: {left}; font: 8pt system-ui, sans-serif; color: #565d66; }} \
         @top-right {{ content: {right}; font: 8pt system-ui, sans-serif; color: #565d66; }} \
         @bottom-right {{ content: counter(page) \" of \" counter(pages); font: 8pt system-ui, sans-serif; color: #565d66; }} \
         @bottom-left {{ content: \"Winterline {} age and growth report\"; font: 8pt system-ui, sans-serif; color: #565d66; }} }}",
        report
            .provenance
            .version
            .chars()
            .filter(|c| c.is_ascii_alphanumeric() || *c == '.')
            .collect::<String>()
    )
}

/// A string of a style sheet in which every character but plain letters and digits is escaped by number.
fn css_string(text: &str) -> String {
    let mut out = String::from("\"");
    for c in printable(text).chars() {
        if c.is_ascii_alphanumeric() || matches!(c, ' ' | ',' | '.' | '-') {
            out.push(c);
        } else {
            out.push_str(&format!("\\{:x} ", u32::from(c)));
        }
    }
    out.push('"');
    out
}

fn shortened(text: &str, most: usize) -> String {
    if text.chars().count() <= most {
        return text.to_owned();
    }
    text.chars().take(most).chain(['\u{2026}']).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_sign_of_a_name_ends_a_style_sheet() {
        assert_eq!(css_string("Maple 1"), "\"Maple 1\"");
        let escaped = css_string("</style>\"\n;}");
        let inside = escaped.trim_matches('"');
        assert!(!inside.contains(['<', '>', '"', '\n', ';', '}']), "{escaped}");
        assert_eq!(shortened("abcd", 3), "abc\u{2026}");
    }
}
