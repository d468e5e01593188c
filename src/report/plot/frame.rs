//! One plot: two scales and what is drawn between them. Coordinates are written with one decimal, so that the same data
//! give the same text everywhere.

use std::fmt::Write as _;

use maud::{Markup, PreEscaped, html};

use super::printable;
use super::ticks::{ticks, whole_ticks};
use crate::report::report_units::fixed;

const WIDTH: f64 = 660.0;
const LEFT: f64 = 62.0;
const RIGHT: f64 = 16.0;
const TOP: f64 = 14.0;
const BOTTOM: f64 = 50.0;

/// Words of a plot.
#[derive(Debug, Clone, Copy)]
pub struct PlotText<'a> {
    /// A name that is unique within the page.
    pub id: &'a str,
    /// What it shows, in a few words.
    pub title: &'a str,
    /// What it says, for those who cannot see it.
    pub description: &'a str,
    /// Label of the horizontal scale, with its unit.
    pub x: &'a str,
    /// Label of the vertical scale, with its unit.
    pub y: &'a str,
}

/// One scale.
#[derive(Debug, Clone, Copy)]
pub struct Range {
    low: f64,
    high: f64,
    is_whole: bool,
}

impl Range {
    /// Spans `values` and a little room; `from_zero` takes 0 in as well.
    pub fn around(values: impl IntoIterator<Item = f64>, from_zero: bool) -> Self {
        let start = if from_zero { (0.0, 0.0) } else { (f64::INFINITY, f64::NEG_INFINITY) };
        let (mut low, mut high) = values
            .into_iter()
            .filter(|value| value.is_finite())
            .fold(start, |(low, high), value| (low.min(value), high.max(value)));
        if !(low.is_finite() && high.is_finite()) {
            (low, high) = (0.0, 1.0);
        }
        if high <= low {
            high = low + 1.0;
        }
        let room = 0.04 * (high - low);
        low -= if from_zero && low >= 0.0 { 0.0 } else { room };
        Self { low, high: high + room, is_whole: false }
    }

    /// A scale of whole numbers, such as ages or years, with room for bars at both ends.
    pub fn whole(low: f64, high: f64) -> Self {
        Self { low: low - 0.6, high: high.max(low + 1.0) + 0.6, is_whole: true }
    }
}

/// A mark for a point. All of them differ in shape.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Marker {
    /// Filled circle.
    Disc,
    /// Open triangle.
    Triangle,
    /// Open square.
    Square,
    /// Cross.
    Cross,
}

/// How a line is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Dash {
    /// Whole.
    Solid,
    /// Long dashes.
    Long,
    /// Dots.
    Dotted,
}

impl Dash {
    const fn pattern(self) -> &'static str {
        match self {
            Self::Solid => "none",
            Self::Long => "8 4",
            Self::Dotted => "1.5 4",
        }
    }
}

/// One line of the legend.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Legend {
    /// A mark.
    Marker(Marker),
    /// A line.
    Line(Dash),
    /// A shaded band.
    Band,
    /// A bar.
    Bar,
}

/// A plot under way.
pub struct Plot<'a> {
    text: PlotText<'a>,
    x: Range,
    y: Range,
    height: f64,
    body: String,
    legend: Vec<(Legend, String)>,
}

impl<'a> Plot<'a> {
    /// An empty plot.
    pub fn new(text: PlotText<'a>, x: Range, y: Range) -> Self {
        Self { text, x, y, height: 330.0, body: String::new(), legend: Vec::new() }
    }

    fn at(&self, x: f64, y: f64) -> (f64, f64) {
        let across = (x - self.x.low) / (self.x.high - self.x.low);
        let up = (y - self.y.low) / (self.y.high - self.y.low);
        let (wide, high) = (WIDTH - LEFT - RIGHT, self.height - TOP - BOTTOM);
        (LEFT + across * wide, TOP + (1.0 - up) * high)
    }

    fn put(&mut self, arguments: std::fmt::Arguments<'_>) {
        // Writing to a string cannot fail.
        let _ = self.body.write_fmt(arguments);
    }

    /// Points.
    pub fn points(&mut self, points: &[(f64, f64)], marker: Marker) {
        for (x, y) in points {
            let (x, y) = self.at(*x, *y);
            let shape = marker_at(marker, x, y);
            self.body.push_str(&shape);
        }
    }

    /// A line through points in their order.
    pub fn line(&mut self, points: &[(f64, f64)], dash: Dash) {
        let path = self.path(points);
        self.put(format_args!(
            "<polyline class=\"line\" points=\"{path}\" stroke-dasharray=\"{}\"/>",
            dash.pattern()
        ));
    }

    fn path(&self, points: &[(f64, f64)]) -> String {
        let at = points.iter().map(|(x, y)| {
            let (x, y) = self.at(*x, *y);
            format!("{x:.1},{y:.1}")
        });
        at.collect::<Vec<_>>().join(" ")
    }

    /// A shaded band between (x, low, high).
    pub fn band(&mut self, limits: &[(f64, f64, f64)]) {
        let low = limits.iter().map(|(x, low, _)| (*x, *low));
        let high = limits.iter().rev().map(|(x, _, high)| (*x, *high));
        let path = self.path(&low.chain(high).collect::<Vec<_>>());
        self.put(format_args!("<polygon class=\"band\" points=\"{path}\"/>"));
    }

    /// Bars from 0, `share` of the room between whole numbers wide.
    pub fn bars(&mut self, bars: &[(f64, f64)], share: f64) {
        for (x, y) in bars {
            let (left, top) = self.at(x - share / 2.0, y.max(0.0));
            let (right, foot) = self.at(x + share / 2.0, y.min(0.0));
            self.put(format_args!(
                "<rect class=\"bar\" x=\"{left:.1}\" y=\"{top:.1}\" width=\"{:.1}\" height=\"{:.1}\"/>",
                right - left,
                foot - top
            ));
        }
    }

    /// Upright lines with short ends at (x, low, high): intervals.
    pub fn whiskers(&mut self, limits: &[(f64, f64, f64)]) {
        for (x, low, high) in limits {
            let ((x, foot), (_, top)) = (self.at(*x, *low), self.at(*x, *high));
            self.put(format_args!(
                "<path class=\"whisker\" d=\"M{x:.1} {foot:.1}V{top:.1}M{:.1} {foot:.1}h8M{:.1} {top:.1}h8\"/>",
                x - 4.0,
                x - 4.0
            ));
        }
    }

    /// A level line across the plot.
    pub fn level(&mut self, y: f64) {
        let ((x0, at), (x1, _)) = (self.at(self.x.low, y), self.at(self.x.high, y));
        self.put(format_args!("<path class=\"level\" d=\"M{x0:.1} {at:.1}H{x1:.1}\"/>"));
    }

    /// A line to the legend.
    pub fn legend(&mut self, sign: Legend, words: impl Into<String>) {
        self.legend.push((sign, words.into()));
    }

    fn scales(&self) -> String {
        let mut text = String::new();
        let (foot, right) = (self.height - BOTTOM, WIDTH - RIGHT);
        let (xs, x_decimals) = if self.x.is_whole {
            (whole_ticks(self.x.low, self.x.high, 16), 0)
        } else {
            ticks(self.x.low, self.x.high, 8)
        };
        let (ys, y_decimals) = if self.y.is_whole {
            (whole_ticks(self.y.low, self.y.high, 10), 0)
        } else {
            ticks(self.y.low, self.y.high, 6)
        };
        for value in ys {
            let (_, y) = self.at(self.x.low, value);
            let shown = fixed(value, y_decimals);
            let _ = write!(
                text,
                "<path class=\"grid\" d=\"M{LEFT:.1} {y:.1}H{right:.1}\"/>\
                 <text class=\"tick\" x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"end\">{shown}</text>",
                LEFT - 7.0,
                y + 4.0
            );
        }
        for value in xs {
            let (x, _) = self.at(value, self.y.low);
            let shown = fixed(value, x_decimals);
            let _ = write!(
                text,
                "<path class=\"scale\" d=\"M{x:.1} {foot:.1}v5\"/>\
                 <text class=\"tick\" x=\"{x:.1}\" y=\"{:.1}\" text-anchor=\"middle\">{shown}</text>",
                foot + 18.0
            );
        }
        let _ =
            write!(text, "<path class=\"scale\" d=\"M{LEFT:.1} {TOP:.1}V{foot:.1}H{right:.1}\"/>");
        text
    }

    /// The plot as SVG, with its legend beneath it.
    pub fn finish(self) -> Markup {
        let (title, description) = (format!("{}-t", self.text.id), format!("{}-d", self.text.id));
        let middle = TOP + (self.height - TOP - BOTTOM) / 2.0;
        html! {
            svg class="plot" viewBox={ "0 0 " (WIDTH) " " (self.height) } role="img"
                aria-labelledby={ (title) " " (description) } {
                title id=(title) { (printable(self.text.title)) }
                desc id=(description) { (printable(self.text.description)) }
                (PreEscaped(self.scales()))
                (PreEscaped(&self.body))
                text class="axis" x=(WIDTH / 2.0 + 20.0) y=(self.height - 12.0) text-anchor="middle" {
                    (printable(self.text.x))
                }
                text class="axis" x="14" y=(middle) text-anchor="middle"
                    transform={ "rotate(-90 14 " (middle) ")" } { (printable(self.text.y)) }
            }
            @if !self.legend.is_empty() {
                ul class="legend" {
                    @for (sign, words) in &self.legend { li { (swatch(*sign)) " " (printable(words)) } }
                }
            }
        }
    }
}

fn marker_at(marker: Marker, x: f64, y: f64) -> String {
    match marker {
        Marker::Disc => format!("<circle class=\"disc\" cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"3\"/>"),
        Marker::Triangle => {
            format!("<path class=\"open\" d=\"M{x:.1} {:.1}l4.2 7.2h-8.4z\"/>", y - 4.6)
        }
        Marker::Square => {
            format!("<path class=\"open\" d=\"M{:.1} {:.1}h6.6v6.6h-6.6z\"/>", x - 3.3, y - 3.3)
        }
        Marker::Cross => format!(
            "<path class=\"open\" d=\"M{:.1} {:.1}l6.4 6.4M{:.1} {:.1}l-6.4 6.4\"/>",
            x - 3.2,
            y - 3.2,
            x + 3.2,
            y - 3.2
        ),
    }
}

/// The sign before the words of a legend. The words say it all: it is hidden from screen readers.
fn swatch(sign: Legend) -> Markup {
    let drawn = match sign {
        Legend::Marker(marker) => marker_at(marker, 14.0, 7.0),
        Legend::Line(dash) => {
            format!("<path class=\"line\" d=\"M1 7H27\" stroke-dasharray=\"{}\"/>", dash.pattern())
        }
        Legend::Band => {
            "<rect class=\"band\" x=\"2\" y=\"2\" width=\"24\" height=\"10\"/>".to_owned()
        }
        Legend::Bar => {
            "<rect class=\"bar\" x=\"8\" y=\"1\" width=\"12\" height=\"12\"/>".to_owned()
        }
    };
    html! { span class="swatch" aria-hidden="true" { (PreEscaped(format!(
        "<svg viewBox=\"0 0 28 14\" width=\"28\" height=\"14\" role=\"img\"><title>sign</title><desc>sign of the legend</desc>{drawn}</svg>"
    ))) } }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn text() -> PlotText<'static> {
        PlotText { id: "p", title: "A <b>", description: "d", x: "age", y: "length, mm" }
    }

    #[test]
    fn a_point_stands_where_its_values_say() {
        let mut plot =
            Plot::new(text(), Range::whole(0.0, 10.0), Range::around([0.0, 100.0], true));
        plot.points(&[(5.0, 52.0)], Marker::Disc);
        let svg = plot.finish().into_string();
        // Half-way across, and half-way up the scale of 0 to 104.
        assert!(svg.contains("cx=\"353.0\" cy=\"147.0\""), "{svg}");
        assert!(svg.contains("A &lt;b&gt;") && svg.contains("role=\"img\""));
    }

    #[test]
    fn a_range_without_values_still_is_one() {
        let range = Range::around([], false);
        assert!(range.high > range.low);
        let flat = Range::around([3.0], false);
        assert!(flat.low < 3.0 && flat.high > 3.0);
    }
}
