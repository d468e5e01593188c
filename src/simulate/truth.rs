//! What is known about an invented picture: plain data.

use kurbo::Point;

use crate::domain::reading::{Light, Structure};

/// How hard a picture is to read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Default)]
pub enum Difficulty {
    /// Clean, well pressed or well polished, in focus.
    #[default]
    Easy,
    /// What a crew meets most days.
    Medium,
    /// Dirt, weak rings, checks, a crowded margin.
    Hard,
    /// Nothing can be read: empty, or far out of focus.
    Hopeless,
}

impl Difficulty {
    /// All, from easy to hopeless.
    pub const ALL: [Self; 4] = [Self::Easy, Self::Medium, Self::Hard, Self::Hopeless];

    /// The word used in files.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Easy => "easy",
            Self::Medium => "medium",
            Self::Hard => "hard",
            Self::Hopeless => "hopeless",
        }
    }

    /// The value for a word, without regard to case.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|value| value.word().eq_ignore_ascii_case(word.trim()))
    }

    /// 0 easy, 1 medium, 2 hard or hopeless.
    pub(super) fn grade(self) -> f64 {
        match self {
            Self::Easy => 0.0,
            Self::Medium => 1.0,
            Self::Hard | Self::Hopeless => 2.0,
        }
    }
}

/// The kind of structure and picture: outline, ring pattern, light and noise go together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Style {
    /// Ctenoid scale with an anterior fan of radii and a scalloped margin, oblique light through acetate.
    PerchScale,
    /// Cycloid scale, many fine circuli all round, bright field.
    TroutScale,
    /// Ctenoid scale, square and wide, coarse circuli, high-contrast print.
    SunfishScale,
    /// Cycloid scale with squared shoulders and soft circuli, flatbed scan.
    CiscoScale,
    /// Cycloid scale with a lobed anterior margin, dark field.
    PikeScale,
    /// Cycloid scale, rounded, its circuli smooth waves of grey without shadows, phase contrast.
    ShadScale,
    /// Transverse section on black, reflected light.
    SectionReflected,
    /// Thin transverse section, transmitted light.
    SectionTransmitted,
    /// Broken and burnt half, reflected light.
    BrokenBurnt,
    /// Whole otolith in fluid on black, reflected light.
    WholeReflected,
    /// Whole otolith, transmitted light.
    WholeTransmitted,
}

impl Style {
    /// All styles, scales first.
    pub const ALL: [Self; 11] = [
        Self::PerchScale,
        Self::TroutScale,
        Self::SunfishScale,
        Self::CiscoScale,
        Self::PikeScale,
        Self::ShadScale,
        Self::SectionReflected,
        Self::SectionTransmitted,
        Self::BrokenBurnt,
        Self::WholeReflected,
        Self::WholeTransmitted,
    ];

    /// The styles of a structure; none for structures that are not drawn.
    pub fn of(structure: Structure) -> &'static [Self] {
        const STYLES: [Style; 11] = Style::ALL;
        match structure {
            Structure::Scale => STYLES.split_at(6).0,
            Structure::Otolith => STYLES.split_at(6).1,
            _ => &[],
        }
    }

    /// The structure that is drawn.
    pub const fn structure(self) -> Structure {
        match self {
            Self::PerchScale
            | Self::TroutScale
            | Self::SunfishScale
            | Self::CiscoScale
            | Self::PikeScale
            | Self::ShadScale => Structure::Scale,
            _ => Structure::Otolith,
        }
    }

    /// The light.
    pub const fn light(self) -> Light {
        match self {
            Self::SectionReflected | Self::BrokenBurnt | Self::WholeReflected => Light::Reflected,
            _ => Light::Transmitted,
        }
    }

    /// The word used in files.
    pub const fn word(self) -> &'static str {
        match self {
            Self::PerchScale => "perch-scale",
            Self::TroutScale => "trout-scale",
            Self::SunfishScale => "sunfish-scale",
            Self::CiscoScale => "cisco-scale",
            Self::PikeScale => "pike-scale",
            Self::ShadScale => "shad-scale",
            Self::SectionReflected => "section-reflected",
            Self::SectionTransmitted => "section-transmitted",
            Self::BrokenBurnt => "broken-burnt",
            Self::WholeReflected => "whole-reflected",
            Self::WholeTransmitted => "whole-transmitted",
        }
    }

    /// The value for a word, without regard to case.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|value| value.word().eq_ignore_ascii_case(word.trim()))
    }
}

/// One annulus, along the axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AnnulusTruth {
    /// Distance from the focus to the outer edge of the winter zone, µm. Scale: half-way between the last
    /// crowded circulus and the first wide one; otolith: distal edge of the translucent zone.
    pub um: f64,
    /// Distance from the focus to where the winter zone begins, µm.
    pub inner_um: f64,
    /// How plainly it is drawn: 1 in full, 0 not at all (inside a regenerated centre).
    pub strength: f64,
    /// True where the zone is drawn as two lines.
    pub split: bool,
}

/// A false annulus, along the axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CheckTruth {
    /// Distance from the focus, µm.
    pub um: f64,
    /// True where it runs all round; otherwise it is in one sector only.
    pub all_round: bool,
    /// True where it can be met on the axis.
    pub on_axis: bool,
}

/// Everything known about a picture.
#[derive(Debug, Clone, PartialEq)]
pub struct PictureTruth {
    /// Scale or otolith.
    pub structure: Structure,
    /// Kind of picture.
    pub style: Style,
    /// How hard it was meant to be.
    pub difficulty: Difficulty,
    /// Seed it was drawn from.
    pub seed: u64,
    /// The light.
    pub light: Light,
    /// Micrometres per pixel, alike in x and y.
    pub um_per_px: f64,
    /// Focus or core, image pixels.
    pub focus_px: Point,
    /// Axis: from the focus to a point beyond the margin, image pixels.
    pub axis_px: [Point; 2],
    /// Distance from focus to margin along the axis, µm.
    pub edge_um: f64,
    /// Every annulus the fish laid down inside the margin, in order; never the margin itself.
    pub annuli: Vec<AnnulusTruth>,
    /// False annuli, in order.
    pub checks: Vec<CheckTruth>,
    /// True where an annulus is forming exactly at the margin.
    pub edge_annulus: bool,
    /// True where the centre was lost and regrown; annuli inside it have strength 0.
    pub regenerated: bool,
    /// False where nobody could read the picture.
    pub readable: bool,
}

impl PictureTruth {
    /// Distances of the annuli from the focus, µm.
    pub fn annuli_um(&self) -> Vec<f64> {
        self.annuli.iter().map(|annulus| annulus.um).collect()
    }

    /// Distances of the checks from the focus, µm.
    pub fn checks_um(&self) -> Vec<f64> {
        self.checks.iter().map(|check| check.um).collect()
    }

    /// The place of a distance along the axis, image pixels.
    pub fn axis_point(&self, um: f64) -> Point {
        let [focus, end] = self.axis_px;
        let along = end - focus;
        let length_px = (along.x * along.x + along.y * along.y).sqrt();
        focus + along * (um / self.um_per_px / length_px.max(1e-9))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_go_there_and_back_and_styles_know_their_structure() {
        for style in Style::ALL {
            assert_eq!(Style::from_word(style.word()), Some(style));
            assert!(Style::of(style.structure()).contains(&style));
        }
        for difficulty in Difficulty::ALL {
            assert_eq!(Difficulty::from_word(difficulty.word()), Some(difficulty));
        }
        assert!(Style::of(Structure::Spine).is_empty());
    }
}
