//! The window's fonts, lent to whoever draws words into a picture.

use std::sync::Arc;

use egui::epaint::text::{Fonts, TextOptions};
use egui::{Color32, FontId};

use crate::workbench::session_card_png::{LetterFn, Lettered};

use super::theme::fonts;

/// Draws lines of words with the window's proportional font.
pub fn lettering() -> LetterFn {
    Arc::new(|words, size_px| {
        // Fonts of its own: cards are drawn on another thread than the window.
        lettered(&mut Fonts::new(TextOptions::default(), fonts()), words, size_px)
    })
}

fn lettered(fonts: &mut Fonts, words: &str, size_px: f32) -> Lettered {
    let font = FontId::proportional(size_px.clamp(4.0, 400.0));
    let galley =
        fonts.with_pixels_per_point(1.0).layout_no_wrap(words.to_owned(), font, Color32::WHITE);
    let (width, height) =
        (galley.size().x.ceil() as usize + 2, galley.size().y.ceil() as usize + 2);
    let mut coverage = vec![0_u8; width * height];
    let atlas = fonts.image();
    for row in &galley.rows {
        for glyph in row.row.glyphs.iter().filter(|glyph| !glyph.uv_rect.is_nothing()) {
            let corner = row.pos + glyph.pos.to_vec2() + glyph.uv_rect.offset;
            let (left, top) = (corner.x.round() as isize, corner.y.round() as isize);
            let [from, to] = [glyph.uv_rect.min, glyph.uv_rect.max].map(|at| at.map(usize::from));
            for y in from[1]..to[1] {
                for x in from[0]..to[0] {
                    let share = atlas.pixels.get(y * atlas.width() + x).map_or(0, Color32::a);
                    let column = usize::try_from(left + (x - from[0]) as isize);
                    let line = usize::try_from(top + (y - from[1]) as isize);
                    if let (Ok(column), Ok(line)) = (column, line)
                        && column < width
                        && let Some(place) = coverage.get_mut(line * width + column)
                    {
                        *place = (*place).max(share);
                    }
                }
            }
        }
    }
    Lettered { width, height, coverage }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn letters_cover_pixels_and_longer_words_are_wider() {
        let lettering = lettering();
        let (short, long) = (lettering("1", 24.0), lettering("Fish 0012 ø µm", 24.0));
        assert!(long.width > 3 * short.width, "{} {}", long.width, short.width);
        assert_eq!(long.coverage.len(), long.width * long.height);
        let inked = |lettered: &Lettered| lettered.coverage.iter().filter(|v| **v > 128).count();
        assert!(inked(&short) > 10 && inked(&long) > 4 * inked(&short));
    }
}
