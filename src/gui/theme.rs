//! Colours, strokes and fonts. Marks differ by line as well as by colour, and no pair of colours relies on red
//! against green.

use egui::{Color32, Context, FontDefinitions, FontFamily, Stroke, TextStyle, Theme, Visuals};

/// How the line of a mark is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Line {
    /// An annulus: unbroken.
    Solid,
    /// A proposal put forward: long dashes.
    Dashed,
    /// An alternative below the threshold: short dashes, thin.
    Thin,
    /// A check: dots.
    Dotted,
}

/// What a mark is, for its looks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Look {
    /// An annulus of the reader.
    Annulus,
    /// A check of the reader.
    Check,
    /// A proposal put forward.
    Proposal,
    /// A proposal below the threshold.
    Alternative,
    /// The margin.
    Margin,
    /// Focus and axis.
    Axis,
}

impl Look {
    /// Its line.
    pub fn line(self) -> Line {
        match self {
            Self::Annulus | Self::Margin | Self::Axis => Line::Solid,
            Self::Proposal => Line::Dashed,
            Self::Alternative => Line::Thin,
            Self::Check => Line::Dotted,
        }
    }

    /// Its colour over a grey picture: bright, and always drawn on a dark rim.
    pub fn on_picture(self) -> Color32 {
        match self {
            Self::Annulus => Color32::from_rgb(255, 190, 77),
            Self::Check => Color32::from_rgb(240, 160, 230),
            Self::Proposal | Self::Alternative => Color32::from_rgb(112, 202, 255),
            Self::Margin => Color32::from_rgb(238, 238, 232),
            Self::Axis => Color32::from_rgb(208, 240, 208),
        }
    }

    /// Its colour on the plain ground of a curve.
    pub fn on_ground(self, is_dark: bool) -> Color32 {
        if is_dark {
            return self.on_picture();
        }
        match self {
            Self::Annulus => Color32::from_rgb(150, 74, 0),
            Self::Check => Color32::from_rgb(138, 30, 122),
            Self::Proposal | Self::Alternative => Color32::from_rgb(0, 92, 158),
            Self::Margin => Color32::from_rgb(40, 44, 52),
            Self::Axis => Color32::from_rgb(30, 92, 50),
        }
    }
}

/// The dark rim under lines on a picture.
pub const RIM: Color32 = Color32::from_rgba_unmultiplied_const(0, 0, 0, 170);

/// The ground around a scan, the same in both themes: a grey picture is judged best on a dark grey.
pub const TABLE: Color32 = Color32::from_rgb(38, 40, 44);

/// Colours of a curve panel.
#[derive(Debug, Clone, Copy)]
pub struct CurveColours {
    /// Ground.
    pub ground: Color32,
    /// The curve.
    pub curve: Color32,
    /// Rules and ticks.
    pub rule: Color32,
    /// Words and numbers.
    pub text: Color32,
}

/// Colours of the curve panels in a theme.
pub fn curve_colours(is_dark: bool) -> CurveColours {
    if is_dark {
        CurveColours {
            ground: Color32::from_rgb(24, 27, 31),
            curve: Color32::from_rgb(200, 206, 214),
            rule: Color32::from_rgb(62, 67, 75),
            text: Color32::from_rgb(186, 192, 200),
        }
    } else {
        CurveColours {
            ground: Color32::from_rgb(252, 252, 250),
            curve: Color32::from_rgb(52, 58, 68),
            rule: Color32::from_rgb(216, 219, 223),
            text: Color32::from_rgb(76, 82, 92),
        }
    }
}

/// Stroke of a mark, thicker where it is held.
pub fn stroke(colour: Color32, is_selected: bool, line: Line) -> Stroke {
    let width = if line == Line::Thin { 1.2 } else { 1.8 };
    Stroke::new(if is_selected { width + 1.4 } else { width }, colour)
}

/// Sets fonts and both themes. Called once.
pub fn install(context: &Context) {
    context.set_fonts(fonts());
    context.set_visuals_of(Theme::Dark, dark());
    context.set_visuals_of(Theme::Light, light());
    context.all_styles_mut(|style| {
        style.spacing.item_spacing = egui::vec2(8.0, 5.0);
        style.spacing.button_padding = egui::vec2(8.0, 3.0);
        style.spacing.interact_size.y = 24.0;
        for (name, size) in
            [(TextStyle::Body, 14.0), (TextStyle::Button, 14.0), (TextStyle::Small, 12.0)]
        {
            if let Some(font) = style.text_styles.get_mut(&name) {
                font.size = size;
            }
        }
    });
}

/// The usual fonts, with the monospaced one behind the proportional one: it has the arrows the other lacks.
pub fn fonts() -> FontDefinitions {
    let mut fonts = FontDefinitions::default();
    if fonts.font_data.contains_key("Hack")
        && let Some(family) = fonts.families.get_mut(&FontFamily::Proportional)
        && !family.iter().any(|name| name == "Hack")
    {
        family.push("Hack".to_owned());
    }
    fonts
}

/// Words, and stronger words for headings and what the pointer is on.
fn set_ink(visuals: &mut Visuals, words: Color32, strong: Color32) {
    let widgets = &mut visuals.widgets;
    for widget in [&mut widgets.noninteractive, &mut widgets.inactive, &mut widgets.open] {
        widget.fg_stroke.color = words;
    }
    for widget in [&mut widgets.hovered, &mut widgets.active] {
        widget.fg_stroke.color = strong;
    }
}

/// A heading on a card or a desk.
pub fn heading(words: &str) -> egui::RichText {
    egui::RichText::new(words).size(15.0).strong()
}

fn dark() -> Visuals {
    let mut visuals = Visuals::dark();
    visuals.panel_fill = Color32::from_rgb(30, 33, 37);
    visuals.window_fill = Color32::from_rgb(36, 39, 44);
    visuals.extreme_bg_color = Color32::from_rgb(20, 22, 25);
    set_ink(&mut visuals, Color32::from_rgb(214, 218, 223), Color32::from_rgb(250, 251, 252));
    visuals.selection.bg_fill = Color32::from_rgb(38, 84, 120);
    visuals.selection.stroke = Stroke::new(1.0, Color32::from_rgb(236, 244, 250));
    visuals
}

fn light() -> Visuals {
    let mut visuals = Visuals::light();
    visuals.panel_fill = Color32::from_rgb(243, 243, 240);
    visuals.window_fill = Color32::from_rgb(250, 250, 248);
    visuals.extreme_bg_color = Color32::from_rgb(255, 255, 255);
    set_ink(&mut visuals, Color32::from_rgb(44, 49, 56), Color32::BLACK);
    visuals.selection.bg_fill = Color32::from_rgb(190, 220, 242);
    visuals.selection.stroke = Stroke::new(1.0, Color32::from_rgb(12, 44, 70));
    visuals
}

/// Quieter words: hints, units, second lines. Still at least 4.5 to 1 against the panel.
pub fn quiet(is_dark: bool) -> Color32 {
    if is_dark { Color32::from_rgb(168, 175, 184) } else { Color32::from_rgb(84, 90, 99) }
}

/// Words of a problem.
pub fn problem(is_dark: bool) -> Color32 {
    if is_dark { Color32::from_rgb(255, 196, 140) } else { Color32::from_rgb(138, 58, 0) }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance and contrast ratio as in WCAG 2.2 (W3C Recommendation, definitions in its glossary).
    fn contrast(a: Color32, b: Color32) -> f64 {
        let luminance = |colour: Color32| {
            let part = |value: u8| {
                let value = f64::from(value) / 255.0;
                if value <= 0.04045 { value / 12.92 } else { ((value + 0.055) / 1.055).powf(2.4) }
            };
            0.2126 * part(colour.r()) + 0.7152 * part(colour.g()) + 0.0722 * part(colour.b())
        };
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    #[test]
    fn words_stand_out_from_their_ground() {
        assert!((contrast(Color32::BLACK, Color32::WHITE) - 21.0).abs() < 1e-9);
        for (is_dark, visuals) in [(true, dark()), (false, light())] {
            let text = visuals.text_color();
            for ground in [visuals.panel_fill, visuals.window_fill, visuals.extreme_bg_color] {
                assert!(contrast(text, ground) >= 7.0);
                assert!(contrast(quiet(is_dark), ground) >= 4.5);
                assert!(contrast(problem(is_dark), ground) >= 4.5);
            }
            assert!(contrast(visuals.selection.stroke.color, visuals.selection.bg_fill) >= 4.5);
            let curve = curve_colours(is_dark);
            assert!(contrast(curve.text, curve.ground) >= 4.5);
            assert!(contrast(curve.curve, curve.ground) >= 4.5);
            for look in [Look::Annulus, Look::Check, Look::Proposal, Look::Margin, Look::Axis] {
                assert!(contrast(look.on_ground(is_dark), curve.ground) >= 4.5, "{look:?}");
            }
        }
    }

    #[test]
    fn no_two_kinds_of_mark_share_a_line() {
        let kinds = [Look::Annulus, Look::Check, Look::Proposal, Look::Alternative];
        for (i, a) in kinds.iter().enumerate() {
            for b in &kinds[i + 1..] {
                assert_ne!(a.line(), b.line());
            }
        }
    }
}
