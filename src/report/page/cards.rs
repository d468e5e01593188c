//! The appendix: one reading card for each fish, down to the scan and the mark.

use kurbo::{Point, Rect, Vec2};
use maud::{Markup, PreEscaped, html};
use std::fmt::Write as _;

use super::data_uri::base64;
use super::parts::{heading_on_new_page, user};
use crate::domain::axis::Axis;
use crate::domain::reading::{ImpressionReading, MarkKind, Outcome};
use crate::domain::units::Pixels;
use crate::report::plot::printable;
use crate::report::report_units::{ReportUnits, fixed};
use crate::report::survey_report::{CardPicture, Chapter, ReadingCard, SurveyReport};

pub(super) fn cards(report: &SurveyReport) -> Markup {
    html! {
        (heading_on_new_page(Chapter::Cards.word(), Chapter::Cards.title()))
        p class="note" {
            "One card for each fish with a confirmed reading " @if report.facts.ages.is_one_reader { "by " (user(&report.facts.reader)) } @else { "that counts" } ". Whole arcs with numbers are annuli, dotted arcs \
             with a c are checks, the straight line is the axis from the focus, the short bar across it the edge. Radii run from the focus to the \
             outer edge of each annulus."
        }
        @if report.cards.is_empty() { p { "None." } }
        div class="cards" {
            @for (index, card) in report.cards.iter().enumerate() { (card_of(report.units, card, index)) }
        }
    }
}

fn card_of(units: ReportUnits, card: &ReadingCard, index: usize) -> Markup {
    let fish = &card.fish;
    html! {
        article class="card" {
            h4 { "Fish " (user(if fish.number.is_empty() { &fish.key } else { &fish.number })) }
            p { (user(&facts(units, card))) }
            @match &card.picture {
                Ok(picture) => (picture_of(card, picture, index)),
                Err(reason) => { p class="note" { "No picture: " (user(reason)) "." } }
            }
            p { b { (verdict(&card.reading)) } @if let Some(year) = card.year_class { ", year class " (year) } (others(card)) "." }
            (radii(units, card))
            p class="note" { (user(&how(card))) }
            @if !card.reading.note.is_empty() { p { "Note: " (user(&card.reading.note)) } }
        }
    }
}

fn facts(units: ReportUnits, card: &ReadingCard) -> String {
    let fish = &card.fish;
    let mut parts = vec![fish.species.clone(), fish.sex.word().to_owned()];
    if let Some(length) = fish.length {
        parts.push(format!(
            "{} {} {}",
            units.length_text(length.value()),
            units.length_unit(),
            fish.length_type.word()
        ));
    }
    if let Some(weight) = fish.weight_g {
        parts.push(format!("{} {}", units.weight_text(weight), units.weight_unit()));
    }
    if let Some(date) = fish.captured {
        parts.push(date.to_string());
    }
    if !fish.run.is_empty() {
        parts.push(fish.run.clone());
    }
    parts.retain(|part| !part.is_empty() && part != "unknown");
    parts.join(", ")
}

fn verdict(reading: &ImpressionReading) -> String {
    match (reading.outcome, reading.age) {
        (Some(Outcome::Aged), Some(age)) => format!("Age {age}"),
        (Some(outcome), _) => super::parts::capital(outcome.word()),
        (None, _) => "No outcome".to_owned(),
    }
}

fn others(card: &ReadingCard) -> Markup {
    html! { @if !card.other_ages.is_empty() {
        " (" @for (index, (reader, age)) in card.other_ages.iter().enumerate() {
            @if index > 0 { ", " } (user(reader)) ": " (age)
        } ")"
    } }
}

fn radii(units: ReportUnits, card: &ReadingCard) -> Markup {
    let Some(calibration) = &card.calibration else {
        return html! { p class="note" { "Pixel size not known: no radii." } };
    };
    let radii: Vec<String> = card
        .reading
        .annulus_radii(calibration)
        .iter()
        .map(|radius| fixed(radius.value(), 0))
        .collect();
    let edge = card.reading.total_radius(calibration).map(|edge| fixed(edge.value(), 0));
    let lengths: Vec<String> = card.lengths_mm.iter().map(|mm| units.length_text(*mm)).collect();
    html! {
        @if !radii.is_empty() { p { "Radii of annuli, µm: " (radii.join(", ")) @if let Some(edge) = &edge { "; edge " (edge) } } }
        @if !lengths.is_empty() { p { "Length at each, " (units.length_unit()) ": " (lengths.join(", ")) } }
    }
}

fn how(card: &ReadingCard) -> String {
    let reading = &card.reading;
    let mut parts =
        vec![format!("scan {}, impression {}, reader {}", card.scan, reading.number, card.reader)];
    if let Some(edge) = reading.edge_condition {
        parts.push(format!("edge {}", edge.word()));
    }
    if let Some(confidence) = reading.confidence {
        parts.push(format!("confidence {}", confidence.word()));
    }
    let conditions = &reading.conditions;
    parts.push(
        if conditions.proposals_shown { "proposals shown" } else { "without proposals" }.to_owned(),
    );
    if conditions.length_shown {
        parts.push("length was looked at".to_owned());
    }
    if let Some(list) = &conditions.blind_list {
        parts.push(format!("blind, list {list}"));
    }
    parts.join("; ")
}

fn picture_of(card: &ReadingCard, picture: &CardPicture, index: usize) -> Markup {
    let Rect { x0, y0, .. } = picture.covers;
    let (wide, high) = (picture.covers.width(), picture.covers.height());
    let unit = wide.max(high) / 360.0;
    let (title, description) = (format!("card-{index}-t"), format!("card-{index}-d"));
    let annuli = card.reading.annuli().count();
    let checks = card.reading.marks.len() - annuli;
    html! {
        svg viewBox={ (tenth(x0)) " " (tenth(y0)) " " (tenth(wide)) " " (tenth(high)) } role="img" aria-labelledby={ (title) " " (description) } {
            title id=(title) { "Scan of fish " (printable(&card.fish.number)) " with its marks" }
            desc id=(description) { (annuli) " annuli and " (checks) " checks marked along the axis; " (verdict(&card.reading)) "." }
            image x=(tenth(x0)) y=(tenth(y0)) width=(tenth(wide)) height=(tenth(high)) preserveAspectRatio="none"
                href={ "data:image/jpeg;base64," (base64(&picture.jpeg)) } {}
            @if let Some(axis) = &card.reading.axis { (PreEscaped(marks(&card.reading, axis, unit))) }
        }
    }
}

fn tenth(value: f64) -> String {
    format!("{value:.1}")
}

/// Each line is drawn twice, wide and dark under narrow and light, so that it shows on any ground.
fn stroke(svg: &mut String, path: &str, dashes: &str, unit: f64) {
    for (colour, wide) in [("#000", 3.2), ("#fff", 1.5)] {
        // Writing to a string cannot fail.
        let _ = write!(
            svg,
            "<path d=\"{path}\" fill=\"none\" stroke=\"{colour}\" stroke-width=\"{:.2}\" stroke-dasharray=\"{dashes}\" stroke-linecap=\"round\"/>",
            wide * unit
        );
    }
}

fn marks(reading: &ImpressionReading, axis: &Axis, unit: f64) -> String {
    let mut svg = String::new();
    let mut path = String::new();
    for (index, at) in axis.vertices().iter().enumerate() {
        let _ = write!(path, "{}{:.1} {:.1}", if index == 0 { 'M' } else { 'L' }, at.x, at.y);
    }
    stroke(&mut svg, &path, "none", unit * 0.7);
    if let Some(edge) = reading.edge {
        let (at, along) = (axis.point_at(edge), axis.direction_at(edge));
        let across = Vec2::new(-along.y, along.x) * (11.0 * unit);
        let (a, b) = (at - across, at + across);
        stroke(&mut svg, &format!("M{:.1} {:.1}L{:.1} {:.1}", a.x, a.y, b.x, b.y), "none", unit);
    }
    let (mut annuli, mut checks) = (0, 0);
    for mark in &reading.marks {
        let (name, dashes) = match mark.kind {
            MarkKind::Annulus => {
                annuli += 1;
                (annuli.to_string(), "none".to_owned())
            }
            MarkKind::Check => {
                checks += 1;
                (format!("c{checks}"), format!("{:.1} {:.1}", unit, 4.0 * unit))
            }
        };
        stroke(&mut svg, &arc(axis, mark.position), &dashes, unit);
        let at = axis.point_at(mark.position)
            + label_offset(axis, mark.position, annuli + checks) * unit;
        let _ = write!(
            svg,
            "<text x=\"{:.1}\" y=\"{:.1}\" font-size=\"{:.1}\" font-weight=\"600\" fill=\"#fff\" stroke=\"#000\" stroke-width=\"{:.1}\" \
             paint-order=\"stroke\" text-anchor=\"middle\">{name}</text>",
            at.x,
            at.y + 4.0 * unit,
            12.0 * unit,
            2.2 * unit
        );
    }
    svg
}

/// Names stand beside the axis, on either side in turn, so that crowded ones can be told apart.
fn label_offset(axis: &Axis, at: Pixels, turn: usize) -> Vec2 {
    let along = axis.direction_at(at);
    let side = if turn.is_multiple_of(2) { 17.0 } else { -17.0 };
    Vec2::new(-along.y, along.x) * side
}

/// A part of the circle about the focus.
fn arc(axis: &Axis, at: Pixels) -> String {
    let focus = axis.focus();
    let radius = axis.point_at(at) - focus;
    let turned = |angle: f64| -> Point {
        let (sin, cos) = angle.sin_cos();
        focus + Vec2::new(radius.x * cos - radius.y * sin, radius.x * sin + radius.y * cos)
    };
    let (from, to, r) = (turned(-0.2), turned(0.2), radius.hypot());
    format!("M{:.1} {:.1}A{r:.1} {r:.1} 0 0 1 {:.1} {:.1}", from.x, from.y, to.x, to.y)
}
