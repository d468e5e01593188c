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
    /// Phase contrast: thickness itself as brightness, with a halo round what differs from its surroundings.
    PhaseContrast,
    /// High-contrast print from a projector: nearly black and white.
    Print,
}

/// Brightness, 0 to about 1, of `heights` (pixels, as the pixel is wide) with `tone` (brightness lost).
pub(super) fn lit(
    heights: &Canvas,
    tone: &Canvas,
    um_per_px: f64,
    illumination: Illumination,
) -> Canvas {
    let um_per_px = um_per_px as f32;
    // Crests bend light by their curvature over a fixed length, however fine the pixels.
    let px = (5.0 / um_per_px).clamp(0.6, 2.5);
    let (lx, ly) = match illumination {
        Illumination::Oblique { from } | Illumination::Flatbed { from } => {
            (libm::cos(from) as f32, libm::sin(from) as f32)
        }
        _ => (0.6, 0.8),
    };
    let halo = (illumination == Illumination::PhaseContrast).then(|| {
        let mut wide = heights.clone();
        wide.blur(f64::from(60.0 / um_per_px));
        wide
    });
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
                0.60 + 0.46 * squeezed(1.9 * slope) - 0.16 * squeezed(1.6 * steepness)
            }
            Illumination::BrightField => {
                let spread = 0.26 * squeezed(1.5 * crest * px) + 0.14 * squeezed(1.2 * steepness);
                0.80 - spread + 0.04 * squeezed(slope)
            }
            Illumination::DarkField => {
                let bent = steepness.sqrt();
                0.05 + 1.0 * bent / (0.38 + bent) * (0.62 + 0.38 * squeezed(4.0 * slope))
            }
            Illumination::Flatbed { .. } => {
                0.78 - 0.40 * squeezed(0.22 * (middle * um_per_px + 2.0).max(0.0))
                    + 0.10 * squeezed(1.4 * slope)
            }
            Illumination::PhaseContrast => {
                let around = halo.as_ref().map_or(0.0, |wide| wide.at(x, y));
                0.44 + 0.36 * squeezed(0.16 * (middle - around) * um_per_px)
                    + 0.008 * middle * um_per_px
            }
            Illumination::Print => {
                let plain = 0.16 - 0.46 * squeezed(1.6 * crest * px) - 0.10 * squeezed(steepness)
                    + 0.14 * squeezed(slope);
                0.52 + 0.46 * squeezed(6.0 * plain)
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
        let seen = lit(&heights, &tone, 5.0, Illumination::Oblique { from: 0.0 });
        let flat = seen.at(3, 4);
        assert!(seen.at(18, 4) > flat + 0.1 && seen.at(22, 4) < flat - 0.1);
        let seen = lit(&heights, &tone, 5.0, Illumination::BrightField);
        assert!((seen.at(18, 4) - seen.at(22, 4)).abs() < 0.1 && seen.at(20, 4) < seen.at(3, 4));
    }
}
