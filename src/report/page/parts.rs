//! The parts every chapter is made of: tables, figures with their data, cautions, and text that people wrote.

use maud::{Markup, html};

use crate::report::plot::printable;

/// One column of a table.
pub(super) struct Column {
    head: String,
    unit: String,
    is_number: bool,
}

/// A column of figures, set to the right; `unit` may be empty.
pub(super) fn figures(head: &str, unit: &str) -> Column {
    Column { head: head.to_owned(), unit: unit.to_owned(), is_number: true }
}

/// A column of words.
pub(super) fn words(head: &str) -> Column {
    Column { head: head.to_owned(), unit: String::new(), is_number: false }
}

/// A table with a caption.
pub(super) fn table(caption: &str, columns: &[Column], rows: &[Vec<String>]) -> Markup {
    let class =
        |index: usize| columns.get(index).is_some_and(|column| column.is_number).then_some("n");
    html! {
        div class="scroll" { table {
            @if !caption.is_empty() { caption { (caption) } }
            thead { tr {
                @for column in columns {
                    th scope="col" class=[column.is_number.then_some("n")] {
                        (column.head)
                        @if !column.unit.is_empty() { small { (column.unit) } }
                    }
                }
            } }
            tbody { @for row in rows { tr {
                @for (index, cell) in row.iter().enumerate() {
                    @if class(index).is_some() { td class="n" { (cell) } } @else { td { (user(cell)) } }
                }
            } } }
        } }
    }
}

/// A figure with its plot and the numbers behind it.
pub(super) fn figure(title: &str, plot: &Markup, note: &str, data: &Markup) -> Markup {
    html! {
        figure {
            figcaption { (title) }
            (plot)
            @if !note.is_empty() { p class="note" { (note) } }
        }
        details open { summary { "The numbers of this figure" } (data) }
    }
}

/// A caution that must not be missed.
pub(super) fn caution(sentences: &[&str]) -> Markup {
    html! { div class="caution" role="note" { @for sentence in sentences { p { (sentence) } } } }
}

/// A word longer than this may be broken anywhere, so that it does not run off the page.
const LONG_WORD: usize = 28;

/// Words that came from a person or a file: shown as they are, kept from turning the text around them.
pub(super) fn user(text: &str) -> Markup {
    let is_long = text.split_whitespace().any(|word| word.chars().count() > LONG_WORD);
    html! { bdi class=[is_long.then_some("long")] { (printable(text)) } }
}

/// A heading of a chapter.
pub(super) fn heading(id: &str, title: &str) -> Markup {
    html! { h2 id=(id) { (title) } }
}

/// A heading of a chapter that starts a new page.
pub(super) fn heading_on_new_page(id: &str, title: &str) -> Markup {
    html! { h2 id=(id) class="new" { (title) } }
}

/// A sentence that something is not there.
pub(super) fn absent(what: &str, reason: &str) -> Markup {
    html! { p { b { "No " (what) ": " } (user(reason)) "." } }
}

/// Sentences as a list; nothing where there are none.
pub(super) fn remarks(title: &str, sentences: &[String]) -> Markup {
    html! {
        @if !sentences.is_empty() {
            @if !title.is_empty() { p class="note" { b { (title) } } }
            ul class="note" { @for sentence in sentences { li { (user(sentence)) } } }
        }
    }
}

/// "a to b", or a dash.
pub(super) fn range(low: Option<String>, high: Option<String>) -> String {
    match (low, high) {
        (Some(low), Some(high)) => format!("{low} to {high}"),
        _ => crate::report::report_units::DASH.to_owned(),
    }
}

/// One word a set of sex is shown by.
pub(super) fn capital(word: &str) -> String {
    let mut signs = word.chars();
    signs.next().map_or_else(String::new, |first| first.to_uppercase().chain(signs).collect())
}
