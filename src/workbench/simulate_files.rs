//! Invented pictures as files: the pictures themselves, `truth.json`, and `jobs.json` to propose on them.

use std::path::{Path, PathBuf};

use rayon::prelude::*;
use serde_json::Value;

use super::truth_json::{job_json, truth_json};
use crate::domain::progress::{Progress, Stopped};
use crate::domain::reading::Structure;
use crate::imaging::encode::{
    EncodeError, TiffCompression, TiffLayout, TiffOptions, png_bytes, tiff_bytes,
};
use crate::imaging::raster::Raster;
use crate::simulate::picture::draw;
use crate::simulate::spec::{Depth, PictureSpec, SpecError, draw_spec};
use crate::simulate::truth::{Difficulty, PictureTruth, Style};
use crate::store::error::StoreError;
use crate::store::safe_write::{Expected, write_whole};

/// Why invented files could not be written.
#[derive(Debug, thiserror::Error)]
pub enum SimulateError {
    /// A picture that cannot be drawn.
    #[error(transparent)]
    Spec(#[from] SpecError),
    /// A picture that cannot be stored.
    #[error(transparent)]
    Encode(#[from] EncodeError),
    /// A file that cannot be written.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// An axis that is none.
    #[error(transparent)]
    Axis(#[from] crate::domain::axis::AxisError),
    /// A pixel size that is none.
    #[error(transparent)]
    Calibration(#[from] crate::domain::calibration::CalibrationError),
    /// A folder that holds something else.
    #[error("this folder is not a demo survey: choose another folder, or remove it first: '{0}'")]
    FolderTaken(String),
    /// Lengths that cannot be computed.
    #[error(transparent)]
    Lengths(#[from] crate::analysis::back_calculation::BackCalculationError),
    /// Results that cannot be put into a table.
    #[error("cannot write the table of results: {0}")]
    Table(String),
    /// A survey without readers.
    #[error("survey.json names no reader: add initials under \"readers\"")]
    NoReader,
    /// The work was stopped.
    #[error(transparent)]
    Stopped(#[from] Stopped),
}

/// The format a picture is stored in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PictureFormat {
    /// PNG with a pHYs chunk.
    Png,
    /// TIFF with resolution tags.
    Tiff(TiffOptions),
}

/// A picture to be written: its file name tells its format apart by its ending.
#[derive(Debug, Clone, PartialEq)]
pub struct NamedSpec {
    /// File name.
    pub name: String,
    /// What to draw.
    pub spec: PictureSpec,
    /// How to store it.
    pub format: PictureFormat,
}

impl PictureFormat {
    /// The file's bytes, with the pixel size in its tags.
    ///
    /// # Errors
    /// [`EncodeError`] when the format cannot hold the picture.
    pub fn bytes(self, raster: &Raster, um_per_px: f64) -> Result<Vec<u8>, EncodeError> {
        let size = Some([um_per_px, um_per_px]);
        match self {
            Self::Png => png_bytes(raster, size),
            Self::Tiff(options) => tiff_bytes(raster, size, options),
        }
    }
}

/// Random pictures: styles and difficulties as stated, or in turn.
pub fn random_specs(
    structure: Structure,
    style: Option<Style>,
    difficulty: Option<Difficulty>,
    count: u32,
    seed: u64,
) -> Vec<NamedSpec> {
    let styles = Style::of(structure);
    let grades = [Difficulty::Easy, Difficulty::Medium, Difficulty::Hard];
    let pick = |index: u32| {
        let style = style.or_else(|| styles.get(index as usize % styles.len().max(1)).copied());
        let grade = index as usize / styles.len().max(1) % grades.len();
        let difficulty = difficulty.or_else(|| grades.get(grade).copied()).unwrap_or_default();
        NamedSpec {
            name: format!("{}-{:04}.png", structure.word(), index + 1),
            spec: draw_spec(structure, difficulty, style, seed.wrapping_add(u64::from(index))),
            format: PictureFormat::Png,
        }
    };
    (0..count).map(pick).collect()
}

/// The twelve pictures of `demo-images`: ten styles, several formats and depths, nine of them easy.
pub fn demo_specs() -> Vec<NamedSpec> {
    let tiff = |compression, layout| PictureFormat::Tiff(TiffOptions { compression, layout });
    let strips = TiffLayout::Strips(64);
    let list: [(Style, Difficulty, u64, PictureFormat); 12] = [
        (Style::PerchScale, Difficulty::Easy, 11, tiff(TiffCompression::Lzw, strips)),
        (Style::PerchScale, Difficulty::Medium, 12, PictureFormat::Png),
        (Style::TroutScale, Difficulty::Easy, 13, tiff(TiffCompression::Deflate, strips)),
        (Style::SunfishScale, Difficulty::Easy, 14, PictureFormat::Png),
        (Style::CiscoScale, Difficulty::Easy, 15, tiff(TiffCompression::PackBits, strips)),
        (Style::PikeScale, Difficulty::Easy, 16, PictureFormat::Png),
        (Style::SectionReflected, Difficulty::Easy, 17, tiff(TiffCompression::Deflate, strips)),
        (Style::SectionTransmitted, Difficulty::Easy, 18, PictureFormat::Png),
        (Style::SectionTransmitted, Difficulty::Medium, 19, PictureFormat::Png),
        (Style::BrokenBurnt, Difficulty::Easy, 20, tiff(TiffCompression::Lzw, strips)),
        (Style::WholeReflected, Difficulty::Easy, 21, PictureFormat::Png),
        (Style::WholeTransmitted, Difficulty::Hard, 22, PictureFormat::Png),
    ];
    list.into_iter()
        .enumerate()
        .map(|(index, (style, difficulty, seed, format))| {
            let mut spec = draw_spec(style.structure(), difficulty, Some(style), seed);
            spec.depth = if index % 6 == 2 { Depth::Sixteen } else { Depth::Eight };
            let ending = if format == PictureFormat::Png { "png" } else { "tif" };
            let name = format!("{:02}-{}-{}.{ending}", index + 1, style.word(), difficulty.word());
            NamedSpec { name, spec, format }
        })
        .collect()
}

/// Draws and writes pictures into `folder` with their truth and jobs; gives the files written, in order.
///
/// # Errors
/// [`SimulateError`] for a picture that cannot be drawn, a file that cannot be written, or a wish to stop.
pub fn write_pictures(
    folder: &Path,
    specs: &[NamedSpec],
    watch: &Progress,
) -> Result<Vec<PathBuf>, SimulateError> {
    watch.set_total(specs.len());
    std::fs::create_dir_all(folder).map_err(StoreError::io("make the folder", folder))?;
    let drawn: Vec<(PathBuf, PictureTruth)> = specs
        .par_iter()
        .map(|named| {
            watch.checkpoint()?;
            let picture = draw(&named.spec)?;
            let bytes = named.format.bytes(&picture.raster, named.spec.um_per_px)?;
            let path = folder.join(&named.name);
            write_whole(&path, &bytes, Expected::Anything)?;
            watch.step();
            Ok((path, picture.truth))
        })
        .collect::<Result<_, SimulateError>>()?;
    let each = |describe: fn(&str, &PictureTruth) -> Value| -> Value {
        specs.iter().zip(&drawn).map(|(named, (_, truth))| describe(&named.name, truth)).collect()
    };
    let mut written: Vec<PathBuf> = drawn.iter().map(|(path, _)| path.clone()).collect();
    for (name, value) in [("truth.json", each(truth_json)), ("jobs.json", each(job_json))] {
        let path = folder.join(name);
        write_whole(&path, format!("{value:#}\n").as_bytes(), Expected::Anything)?;
        written.push(path);
    }
    Ok(written)
}
