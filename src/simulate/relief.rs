//! Light on a pressed surface: from heights to brightness.

use super::canvas::Canvas;

/// How an impression was lit and recorded.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Illumination {
    /// Light through the acetate from one side: one flank of a ridge bright, the other dark.
    Oblique {
        /// Direction the light comes from, radians.
        from: f64,
    },
    /// Light straight through: flanks bend light away and look dark, crests gather it.
    BrightField,
    /// Only light bent by flanks arrives: bright lines on black.
    DarkField,
    /// Flatbed scan: ridges are grey lines, a little shaded by the moving lamp.
    Flatbed {
        /// Direction the lamp shines from, radians.
        from: f64,
    },
    /// High-contrast print from a projector: nearly black and white.
    Print,
}

/// Brightness, 0 to about 1, of `heights` (pixels, as the pixel is wide) with `tone` (brightness lost).
pub(super) fn lit(heights: &Canvas, tone: &Canvas, illumination: Illumination) -> Canvas {
    let (lx, ly) = match illumination {
        Illumination::Oblique { from } | Illumination::Flatbed { from } => {
            (libm::cos(from) as f32, libm::sin(from) as f32)
        }
        _ => (0.6, 0.8),
    };
    Canvas::painted(heights.width, heights.height, |x, y| {
        let (x, y) = (x as isize, y as isize);
        let (left, right) = (heights.at(x - 1, y), heights.at(x + 1, y));
        let (up, down) = (heights.at(x, y - 1), heights.at(x, y + 1));
        let middle = heights.at(x, y);
        let (hx, hy) = (0.5 * (right - left), 0.5 * (down - up));
        let steepness = hx * hx + hy * hy;
        let slope = hx * lx + hy * ly;
        let crest = 4.0 * middle - left - right - up - down;
        let light = match illumination {
            Illumination::Oblique { .. } => {
                0.60 + 0.42 * squeezed(1.5 * slope) - 0.16 * squeezed(1.6 * steepness)
            }
            Illumination::BrightField => {
                0.84 / (1.0 + 2.2 * steepness)
                    + 0.12 * squeezed(0.8 * crest)
                    + 0.05 * squeezed(slope)
            }
            Illumination::DarkField => {
                let bent = steepness.sqrt();
                0.05 + 0.85 * bent / (0.55 + bent) * (0.8 + 0.2 * squeezed(2.0 * slope))
            }
            Illumination::Flatbed { .. } => {
                0.78 - 0.34 * squeezed(0.9 * middle.max(0.0)) + 0.10 * squeezed(1.4 * slope)
            }
            Illumination::Print => {
                let plain = 0.62 / (1.0 + 2.6 * steepness)
                    + 0.30 * squeezed(crest)
                    + 0.22 * squeezed(slope);
                0.5 + 0.47 * squeezed(3.2 * (plain - 0.42))
            }
        };
        let lost = tone.at(x, y);
        if illumination == Illumination::DarkField {
            light * (1.0 - 0.7 * lost)
        } else {
            light * (1.0 - lost)
        }
    })
}

/// Keeps small values and holds large ones below 1.
fn squeezed(x: f32) -> f32 {
    x / (1.0 + x.abs())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn oblique_light_makes_one_flank_bright_and_the_other_dark() {
        let heights = Canvas::painted(40, 9, |x, _| 3.0 - (x as f32 - 20.0).abs().min(3.0));
        let tone = Canvas::painted(40, 9, |_, _| 0.0);
        let seen = lit(&heights, &tone, Illumination::Oblique { from: 0.0 });
        let flat = seen.at(3, 4);
        assert!(seen.at(18, 4) > flat + 0.1 && seen.at(22, 4) < flat - 0.1);
        let seen = lit(&heights, &tone, Illumination::BrightField);
        assert!((seen.at(18, 4) - seen.at(22, 4)).abs() < 0.1 && seen.at(18, 4) < seen.at(3, 4));
    }
}
