//! The scan as textures. A coarse picture comes first, then tiles of the size the view needs; both are made off the
//! window's thread, and only tiles in view become textures.
//!
//! Memory beside the raster itself: 1/3 of a byte for each pixel (see [`Pyramid`]; 4/3, and 7/3 while it is worked out,
//! where local contrast is shown), and at most [`MAX_TEXTURE_BYTES`] of textures.

use std::collections::HashMap;
use std::sync::Arc;

use egui::epaint::{Mesh, Vertex};
use egui::{
    Color32, ColorImage, Context, Painter, Pos2, Rect, TextureFilter, TextureHandle,
    TextureOptions, pos2,
};
use kurbo::Point;

use crate::domain::progress::Progress;
use crate::imaging::enhance::{Histogram, Tone};
use crate::imaging::overview::Overview;
use crate::imaging::pyramid::{Pyramid, TILE_SIDE_PX, TileId};
use crate::imaging::raster::Raster;
use crate::workbench::job::{Job, Polled, Wake};
use crate::workbench::settings_tone::ScanTone;

use super::layout::ScanTransform;
use super::picture_build::{Built, CoarsePicture, build, coarse_picture};

/// Textures of tiles kept at most; the ones not drawn for longest go first.
pub const MAX_TEXTURE_BYTES: usize = 96 << 20;

/// Tiles made in one frame: the rest come with the next frames, over the coarse picture.
const TILES_A_FRAME: usize = 12;

struct TileTexture {
    texture: TextureHandle,
    area: kurbo::Rect,
    drawn: u64,
}

/// The textures of one scan.
pub struct ScanPicture {
    raster: Arc<Raster>,
    wake: Wake,
    wanted: ScanTone,
    first: Option<Job<CoarsePicture>>,
    coarse: Option<(TextureHandle, kurbo::Rect)>,
    building: Option<Job<Option<Built>>>,
    built: Option<Built>,
    tiles: HashMap<TileId, TileTexture>,
    frame: u64,
}

impl ScanPicture {
    /// Starts to prepare `raster` for the screen. `coarse` is shown until there is better, where it is known already.
    pub fn new(
        raster: Arc<Raster>,
        tone: ScanTone,
        coarse: Option<(TextureHandle, kurbo::Rect)>,
        context: &Context,
    ) -> Self {
        let waking = context.clone();
        let wake: Wake = Arc::new(move || waking.request_repaint());
        let whole = Arc::clone(&raster);
        let first = Job::start("look over the scan", &wake, move |_: &Progress| {
            coarse_picture(&Overview::of(&whole), tone)
        })
        .ok();
        Self {
            raster,
            wake,
            wanted: tone,
            first,
            coarse,
            building: None,
            built: None,
            tiles: HashMap::new(),
            frame: 0,
        }
    }

    /// True where these are the textures of `raster`.
    pub fn is_of(&self, raster: &Arc<Raster>) -> bool {
        Arc::ptr_eq(&self.raster, raster)
    }

    /// Shows the scan with another tone as soon as it is worked out.
    pub fn set_tone(&mut self, tone: ScanTone) {
        self.wanted = tone;
    }

    /// The scan's histogram, once it is counted.
    pub fn histogram(&self) -> Option<&Arc<Histogram>> {
        self.built.as_ref().map(|built| &built.histogram)
    }

    /// True once there is something of the scan to see.
    pub fn has_overview(&self) -> bool {
        self.coarse.is_some() || self.built.is_some()
    }

    /// The tone on show, once it is worked out.
    pub fn tone(&self) -> Option<Tone> {
        self.built.as_ref().map(|built| built.shown)
    }

    /// How far the picture is, while it is being prepared.
    pub fn progress(&self) -> Option<f32> {
        self.building.as_ref().map(|job| job.progress().fraction())
    }

    /// Takes in what is ready and starts what is due. Once a frame, before painting.
    pub fn poll(&mut self, context: &Context) {
        if let Some(job) = &self.first {
            match job.poll() {
                Polled::Pending => {}
                Polled::Done(CoarsePicture { image, area }) => {
                    let texture = context.load_texture("overview", image, TextureOptions::LINEAR);
                    self.coarse = Some((texture, area));
                    self.first = None;
                }
                Polled::Lost => self.first = None,
            }
        }
        if let Some(job) = &self.building {
            match job.poll() {
                Polled::Pending => return,
                Polled::Done(Some(built)) => {
                    self.tiles.clear();
                    self.built = Some(built);
                }
                Polled::Done(None) | Polled::Lost => {}
            }
            self.building = None;
        }
        if self.built.as_ref().is_none_or(|built| built.tone != self.wanted) {
            let (raster, tone) = (Arc::clone(&self.raster), self.wanted);
            let histogram = self.histogram().cloned();
            let work = move |progress: &Progress| build(&raster, tone, histogram, progress).ok();
            self.building = Job::start("prepare the scan", &self.wake, work).ok();
        }
    }

    /// Paints the part of the scan that is in view.
    pub fn paint(&mut self, painter: &Painter, transform: &ScanTransform, context: &Context) {
        self.frame += 1;
        let mut budget = TILES_A_FRAME;
        let Some(pyramid) = self.built.as_ref().map(|built| Arc::clone(&built.pyramid)) else {
            if let Some((texture, area)) = &self.coarse {
                paint_texture(painter, texture, *area, transform);
            }
            return;
        };
        let wanted = pyramid.level_for(transform.zoom() * f64::from(context.pixels_per_point()));
        let coarsest = pyramid.n_levels().saturating_sub(1);
        let seen = transform.visible();
        // The coarsest level is one tile and always there, so that nothing is ever blank.
        for id in pyramid.tiles_in(coarsest, seen) {
            self.paint_tile(&pyramid, id, (painter, transform, context), &mut usize::MAX.clone());
        }
        if wanted < coarsest {
            for id in pyramid.tiles_in(wanted, seen) {
                self.paint_tile(&pyramid, id, (painter, transform, context), &mut budget);
            }
        }
        if budget == 0 {
            context.request_repaint();
        }
        self.forget_old();
    }

    fn paint_tile(
        &mut self,
        pyramid: &Pyramid,
        id: TileId,
        (painter, transform, context): (&Painter, &ScanTransform, &Context),
        budget: &mut usize,
    ) {
        if !self.tiles.contains_key(&id) {
            if *budget == 0 {
                return;
            }
            *budget -= 1;
            let Some(tile) = pyramid.tile(id) else { return };
            let image = ColorImage::from_gray([tile.width, tile.height], &tile.pixels);
            let name = format!("tile {} {} {}", id.level, id.across, id.down);
            // Edges stay straight where pixels are larger than the screen's.
            let magnification =
                if id.level == 0 { TextureFilter::Nearest } else { TextureFilter::Linear };
            let options = TextureOptions { magnification, ..TextureOptions::LINEAR };
            let texture = context.load_texture(name, image, options);
            self.tiles.insert(id, TileTexture { texture, area: tile.area, drawn: self.frame });
        }
        let Some(tile) = self.tiles.get_mut(&id) else { return };
        tile.drawn = self.frame;
        paint_texture(painter, &tile.texture, tile.area, transform);
    }

    fn forget_old(&mut self) {
        let most = MAX_TEXTURE_BYTES / (TILE_SIDE_PX * TILE_SIDE_PX * 4);
        if self.tiles.len() <= most {
            return;
        }
        let mut ages: Vec<u64> = self.tiles.values().map(|tile| tile.drawn).collect();
        ages.sort_unstable();
        let surplus = self.tiles.len() - most;
        let limit = ages.get(surplus).copied().unwrap_or(0).min(self.frame);
        self.tiles.retain(|_, tile| tile.drawn >= limit);
    }
}

/// A texture over an area of the scan, turned as the view is.
pub(super) fn paint_texture(
    painter: &Painter,
    texture: &TextureHandle,
    area: kurbo::Rect,
    transform: &ScanTransform,
) {
    let corners = [
        (Point::new(area.x0, area.y0), pos2(0.0, 0.0)),
        (Point::new(area.x1, area.y0), pos2(1.0, 0.0)),
        (Point::new(area.x1, area.y1), pos2(1.0, 1.0)),
        (Point::new(area.x0, area.y1), pos2(0.0, 1.0)),
    ];
    let mut mesh = Mesh::with_texture(texture.id());
    mesh.vertices.extend(corners.map(|(at, uv)| Vertex {
        pos: transform.screen_from_image(at),
        uv,
        color: Color32::WHITE,
    }));
    mesh.indices.extend([0, 1, 2, 0, 2, 3]);
    painter.add(mesh);
}

/// The texture of a strip, made anew when another strip is shown or the tone changes.
pub fn strip_texture(raster: &Raster, tone: &Tone, context: &Context) -> TextureHandle {
    let bytes = crate::imaging::enhance::display_bytes(raster, tone);
    let image = ColorImage::from_gray([raster.width(), raster.height()], &bytes);
    context.load_texture("strip", image, TextureOptions::LINEAR)
}

/// Texture coordinates of a whole texture.
pub fn whole_texture() -> Rect {
    Rect::from_min_max(Pos2::ZERO, pos2(1.0, 1.0))
}
