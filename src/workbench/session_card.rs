//! The reading card of one fish: its picture with focus, axis, marks and scale bar, as an SVG file that holds the
//! picture within it.

use std::fmt::Write as _;

use kurbo::{BezPath, Point, Rect, Vec2};

use crate::domain::axis::Axis;
use crate::domain::fish::Fish;
use crate::domain::reading::{ImpressionReading, MarkKind, ReadingState, ScanReading};
use crate::domain::units::Pixels;
use crate::imaging::encode::{EncodeError, png_bytes};
use crate::imaging::raster::{Raster, Samples};
use crate::report::page::base64;

use super::reduced::{Reduced, reduced};
use super::settings_tone::ScanTone;

/// Longest side of the picture on a card, pixels: enough for a printed page at 300 dots per inch.
const MOST_SIDE_PX: usize = 2000;

/// What a card shows.
pub struct Card<'a> {
    /// The scan.
    pub raster: &'a Raster,
    /// How it is shown.
    pub tone: ScanTone,
    /// The reading of the scan.
    pub reading: &'a ScanReading,
    /// The impression on the card.
    pub impression: &'a ImpressionReading,
    /// Its fish, where it is on the field sheet.
    pub fish: Option<&'a Fish>,
    /// Rings traced on the scan, with the place along the axis of each.
    pub rings: Vec<(Pixels, BezPath)>,
    /// Name of the survey.
    pub survey: &'a str,
}

impl Card<'_> {
    /// The card as SVG.
    ///
    /// # Errors
    /// Where the picture cannot be encoded.
    pub fn svg(&self) -> Result<String, EncodeError> {
        let area = self.impression.bounds.unwrap_or_else(|| self.raster.area());
        let unit = area.width().max(area.height()) / 1000.0;
        let band = 110.0 * unit;
        let (picture, covered) = self.picture(area)?;
        let mut svg = String::new();
        _ = write!(
            svg,
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"{} {} {} {}\" font-family=\"sans-serif\">\
             <rect x=\"{0}\" y=\"{1}\" width=\"{2}\" height=\"{3}\" fill=\"#fff\"/>\
             <image x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" href=\"data:image/png;base64,{}\"/>",
            area.x0,
            area.y0 - band,
            area.width(),
            area.height() + band,
            covered.x0,
            covered.y0,
            covered.width(),
            covered.height(),
            base64(&picture)
        );
        for (line, words) in self.words().iter().enumerate() {
            let (size, y) = (26.0 * unit, area.y0 - band + (34.0 + 31.0 * line as f64) * unit);
            let x = area.x0 + 8.0 * unit;
            _ = write!(
                svg,
                "<text x=\"{x}\" y=\"{y}\" font-size=\"{size}\">{}</text>",
                escaped(words)
            );
        }
        if let Some(axis) = &self.impression.axis {
            self.marks(&mut svg, axis, unit);
        }
        self.scale_bar(&mut svg, area, unit);
        svg.push_str("</svg>\n");
        Ok(svg)
    }

    /// The part of the scan on the card as PNG, and the area it covers.
    fn picture(&self, area: Rect) -> Result<(Vec<u8>, Rect), EncodeError> {
        let (width, height, values, covered) = self.grey(area);
        let small = Raster::new(width, height, Samples::Eight(values));
        let small = small.as_ref().unwrap_or(self.raster);
        Ok((png_bytes(small, None)?, covered))
    }

    /// The part of the scan on the card as grey values, its width and height, and the area it covers.
    pub(super) fn grey(&self, area: Rect) -> (usize, usize, Vec<u8>, Rect) {
        let Reduced { width, height, values, covers } =
            reduced(self.raster, &self.tone, area, MOST_SIDE_PX);
        (width, height, values, covers)
    }

    pub(super) fn words(&self) -> [String; 3] {
        let number = self.fish.map_or(self.impression.fish.as_str(), |fish| &fish.number);
        let species = self.fish.map_or("", |fish| &fish.species);
        let captured = self.fish.and_then(|fish| fish.captured);
        let captured = captured.map_or_else(String::new, |date| format!(", captured {date}"));
        let state = match self.impression.state {
            ReadingState::Confirmed => "confirmed",
            ReadingState::Draft => "draft, not confirmed",
        };
        let age = match (self.impression.state, self.impression.age) {
            (ReadingState::Confirmed, Some(age)) => format!("age {age}"),
            _ => format!("{} annuli marked", self.impression.annuli().count()),
        };
        let size = self.reading.calibration.as_ref().map_or_else(
            || "pixel size not known".to_owned(),
            |scale| format!("pixel {:.3} µm", scale.mean_um_per_px()),
        );
        [
            format!("Fish {number}  {species}{captured}"),
            format!("{age}, {state}, reader {}", self.reading.reader),
            format!("{}, scan {}, {size}", self.survey, self.reading.scan.file),
        ]
    }

    fn marks(&self, svg: &mut String, axis: &Axis, unit: f64) {
        let points: Vec<String> =
            axis.vertices().iter().map(|at| format!("{:.1},{:.1}", at.x, at.y)).collect();
        let wide = 1.6 * unit;
        _ = write!(
            svg,
            "<polyline points=\"{}\" fill=\"none\" stroke=\"#d0f0d0\" stroke-width=\"{wide}\"/>",
            points.join(" ")
        );
        if let Some(edge) = self.impression.edge {
            let (at, along) = (axis.point_at(edge), axis.direction_at(edge));
            let across = Vec2::new(-along.y, along.x) * (22.0 * unit);
            let (a, b) = (at - across, at + across);
            let path = format!("M{:.1} {:.1}L{:.1} {:.1}", a.x, a.y, b.x, b.y);
            line(svg, &path, "#eeeee8", "", unit);
        }
        let (mut annuli, mut checks) = (0, 0);
        for mark in &self.impression.marks {
            let (name, colour, dashes) = match mark.kind {
                MarkKind::Check => {
                    checks += 1;
                    (format!("c{checks}"), "#f0a0e6", format!("{} {}", 2.0 * unit, 5.0 * unit))
                }
                MarkKind::Annulus => {
                    annuli += 1;
                    (annuli.to_string(), "#ffbe4d", String::new())
                }
            };
            let ring = self.rings.iter().find(|(at, _)| (at.0 - mark.position.0).abs() < 0.1);
            let path = ring.map_or_else(|| arc(axis, mark.position), |(_, ring)| ring.to_svg());
            line(svg, &path, colour, &dashes, unit);
            let at = axis.point_at(mark.position);
            _ = write!(
                svg,
                "<text x=\"{:.1}\" y=\"{:.1}\" font-size=\"{}\" fill=\"{colour}\" stroke=\"#000\" stroke-width=\"{}\" paint-order=\"stroke\">{name}</text>",
                at.x + 5.0 * unit,
                at.y - 5.0 * unit,
                22.0 * unit,
                5.0 * unit
            );
        }
    }

    /// Length of the scale bar, pixels of the scan, and what it is called.
    pub(super) fn bar(&self, area: Rect) -> Option<(f64, String)> {
        let scale = self.reading.calibration.as_ref();
        let per_px = scale.map_or(1.0, |scale| scale.x_um_per_px());
        let most = area.width() * 0.2 * per_px;
        let magnitude = 10_f64.powf(most.log10().floor());
        let length = [5.0, 2.0, 1.0].map(|factor| factor * magnitude);
        let length = length.into_iter().find(|length| *length <= most)?;
        let name = if scale.is_some() { format!("{length} µm") } else { format!("{length} px") };
        Some((length / per_px, name))
    }

    fn scale_bar(&self, svg: &mut String, area: Rect, unit: f64) {
        let Some((wide, name)) = self.bar(area) else { return };
        let (x, y) = (area.x0 + 24.0 * unit, area.y1 - 26.0 * unit);
        _ = write!(
            svg,
            "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" fill=\"#000\" fill-opacity=\"0.67\"/>\
             <rect x=\"{x}\" y=\"{y}\" width=\"{wide}\" height=\"{}\" fill=\"#fff\"/>\
             <text x=\"{}\" y=\"{}\" font-size=\"{}\" fill=\"#fff\" text-anchor=\"middle\">{name}</text>",
            x - 12.0 * unit,
            y - 34.0 * unit,
            wide + 24.0 * unit,
            52.0 * unit,
            6.0 * unit,
            x + wide / 2.0,
            y - 8.0 * unit,
            24.0 * unit
        );
    }
}

fn line(svg: &mut String, path: &str, colour: &str, dashes: &str, unit: f64) {
    for (colour, wide) in [("#000", 4.6), (colour, 2.4)] {
        let wide = wide * unit;
        _ = write!(
            svg,
            "<path d=\"{path}\" fill=\"none\" stroke=\"{colour}\" stroke-width=\"{wide}\" stroke-dasharray=\"{dashes}\" stroke-linecap=\"round\"/>"
        );
    }
}

/// A part of the circle about the focus, for a mark whose ring was not traced.
fn arc(axis: &Axis, at: Pixels) -> String {
    let focus = axis.focus();
    let radius = axis.point_at(at) - focus;
    let turned = |angle: f64| -> Point {
        let (sin, cos) = angle.sin_cos();
        focus + Vec2::new(radius.x * cos - radius.y * sin, radius.x * sin + radius.y * cos)
    };
    let (from, to, r) = (turned(-0.22), turned(0.22), radius.hypot());
    format!("M{:.1} {:.1}A{r:.1} {r:.1} 0 0 1 {:.1} {:.1}", from.x, from.y, to.x, to.y)
}

fn escaped(words: &str) -> String {
    words.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn signs_of_xml_are_escaped() {
        assert_eq!(escaped("a<b & c"), "a&lt;b &amp; c");
    }
}
