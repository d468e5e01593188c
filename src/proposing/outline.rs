//! Where the structure lies on its background: a coarse mask of blocks, from brightness and texture.

use kurbo::{Point, Rect};
use rayon::prelude::*;

use super::plane::Plane;

/// A coarse mask of the structure.
#[derive(Debug, Clone)]
pub struct Outline {
    /// Side of a block, pixels of the scan.
    pub block_px: f64,
    /// Corner of the first block on the scan.
    origin: Point,
    /// Blocks across.
    pub columns: usize,
    /// Blocks down.
    pub rows: usize,
    /// True inside the structure, holes filled.
    pub inside: Vec<bool>,
    /// How clearly the structure stands out, 0 to 1.
    pub clarity: f64,
}

/// Brightness and texture of the blocks.
struct Blocks {
    side: usize,
    columns: usize,
    rows: usize,
    mean: Vec<f32>,
    texture: Vec<f32>,
}

impl Outline {
    /// Finds the structure. `focus`, where known, says which of several pieces is meant.
    pub fn find(plane: &Plane, focus: Option<Point>) -> Option<Self> {
        let blocks = Blocks::new(plane);
        let (columns, rows) = (blocks.columns, blocks.rows);
        let (score, opened) = mask(&blocks)?;
        let origin = Point::new(plane.left as f64 - 0.5, plane.top as f64 - 0.5);
        let side = blocks.side as f64;
        let seed = focus.map(|f| ((f.x - origin.x) / side, (f.y - origin.y) / side));
        let inside = piece(&opened, columns, rows, seed)?;
        let area = inside.iter().filter(|i| **i).count();
        if area * 60 < inside.len() {
            return None;
        }
        let clarity = contrast(&score, &inside);
        Some(Self { block_px: side, origin, columns, rows, inside, clarity })
    }

    /// True where a point of the scan lies in the structure.
    pub fn contains(&self, at: Point) -> bool {
        let x = ((at.x - self.origin.x) / self.block_px).floor();
        let y = ((at.y - self.origin.y) / self.block_px).floor();
        if x < 0.0 || y < 0.0 || x >= self.columns as f64 || y >= self.rows as f64 {
            return false;
        }
        self.inside.get(y as usize * self.columns + x as usize).copied().unwrap_or(false)
    }

    /// Share of the picture it covers, 0 to 1.
    pub fn share(&self) -> f64 {
        self.inside.iter().filter(|i| **i).count() as f64 / self.inside.len().max(1) as f64
    }

    /// Centre of a block on the scan.
    pub fn centre_of(&self, column: usize, row: usize) -> Point {
        Point::new(
            self.origin.x + (column as f64 + 0.5) * self.block_px,
            self.origin.y + (row as f64 + 0.5) * self.block_px,
        )
    }

    /// The smallest box around it on the scan, image pixels; `None` where it holds nothing.
    pub fn bounds(&self) -> Option<Rect> {
        let half = self.block_px / 2.0;
        let inside = self.inside.iter().enumerate().filter(|(_, inside)| **inside);
        inside
            .map(|(at, _)| {
                let centre = self.centre_of(at % self.columns, at / self.columns);
                Rect::from_center_size(centre, (2.0 * half, 2.0 * half))
            })
            .reduce(|all, block| all.union(block))
    }

    /// The centroid, image pixels.
    pub fn centroid(&self) -> Point {
        let (mut x, mut y, mut n) = (0.0, 0.0, 0.0);
        for row in 0..self.rows {
            for column in 0..self.columns {
                if self.inside[row * self.columns + column] {
                    let at = self.centre_of(column, row);
                    x += at.x;
                    y += at.y;
                    n += 1.0;
                }
            }
        }
        if n > 0.0 { Point::new(x / n, y / n) } else { self.origin }
    }
}

/// A piece of structure: its box, image pixels, and its area in blocks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Piece {
    pub bounds: Rect,
    pub area: usize,
}

/// All pieces of structure on a slide that hang together.
pub(super) fn pieces(plane: &Plane) -> Vec<Piece> {
    let blocks = Blocks::new(plane);
    let Some((_, mask)) = mask(&blocks) else { return Vec::new() };
    let (columns, side) = (blocks.columns, blocks.side as f64);
    let mut label = vec![0u32; mask.len()];
    let mut pieces = Vec::new();
    for start in 0..mask.len() {
        if !mask[start] || label[start] != 0 {
            continue;
        }
        let (mut area, mut bounds) = (0, None);
        flood(&mask, &mut label, (columns, blocks.rows), start, true, 1, |index| {
            area += 1;
            let corner = Point::new((index % columns) as f64, (index / columns) as f64);
            let block = Rect::from_origin_size(corner, (1.0, 1.0));
            bounds = Some(bounds.map_or(block, |all: Rect| all.union(block)));
        });
        let at = bounds.unwrap_or_default().scale_from_origin(side);
        let corner = kurbo::Vec2::new(plane.left as f64 - 0.5, plane.top as f64 - 0.5);
        pieces.push(Piece { bounds: at + corner, area });
    }
    pieces
}

/// How unlike its background each block is, and which blocks are structure; `None` where the part is too small.
fn mask(blocks: &Blocks) -> Option<(Vec<f32>, Vec<bool>)> {
    let (columns, rows) = (blocks.columns, blocks.rows);
    if columns < 8 || rows < 8 {
        return None;
    }
    let border = blocks.border();
    let first = blocks.strangeness(&border);
    // What is certainly background: everything far from the first, rough mask.
    let rough: Vec<bool> = first.iter().map(|s| *s > split_level(&first)).collect();
    let near = grown(&eroded(&grown(&rough, columns, rows, 2), columns, rows, 2), columns, rows, 3);
    let ground: Vec<usize> = (0..near.len()).filter(|i| !near[*i]).collect();
    let enough = ground.len() * 12 > near.len() && ground.len() > 60;
    let score = if enough { blocks.strangeness(&ground) } else { first };
    let level = split_level(&score);
    let raw: Vec<bool> = score.iter().map(|s| *s > level).collect();
    let closed = eroded(&grown(&raw, columns, rows, 2), columns, rows, 2);
    let opened = grown(&eroded(&closed, columns, rows, 1), columns, rows, 1);
    Some((score, opened))
}

impl Blocks {
    fn new(plane: &Plane) -> Self {
        let side = (plane.width.min(plane.height) / 160).max(2);
        let (columns, rows) = (plane.width / side, plane.height / side);
        let mut mean = vec![0.0f32; columns * rows];
        let mut texture = vec![0.0f32; columns * rows];
        if columns == 0 {
            return Self { side, columns, rows, mean, texture };
        }
        let share = 1.0 / (side * side) as f32;
        let lines = mean.par_chunks_mut(columns).zip(texture.par_chunks_mut(columns)).enumerate();
        lines.with_min_len(8).for_each(|(row, (mean, texture))| {
            // Pixels of a column are summed first: long even loops.
            let (mut sum, mut rough) = (vec![0.0f32; plane.width], vec![0.0f32; plane.width]);
            let (mut own_line, mut own_below) = (Vec::new(), Vec::new());
            for y in row * side..(row + 1) * side {
                let line = plane.row(y, &mut own_line);
                let below = plane.row((y + 1).min(plane.height - 1), &mut own_below);
                for (sum, value) in sum.iter_mut().zip(line) {
                    *sum += value;
                }
                for (rough, (value, below)) in rough.iter_mut().zip(line.iter().zip(below)) {
                    *rough += (below - value).abs();
                }
                for (rough, (value, right)) in rough.iter_mut().zip(line.iter().zip(&line[1..])) {
                    *rough += (right - value).abs();
                }
            }
            let blocks = sum.chunks_exact(side).zip(rough.chunks_exact(side));
            for ((mean, texture), (sum, rough)) in mean.iter_mut().zip(texture).zip(blocks) {
                *mean = sum.iter().sum::<f32>() * share;
                *texture = rough.iter().sum::<f32>() * share;
            }
        });
        let texture = blurred(&texture, columns, rows);
        Self { side, columns, rows, mean, texture }
    }

    /// Blocks along the border.
    fn border(&self) -> Vec<usize> {
        (0..self.rows * self.columns)
            .filter(|i| {
                let (row, column) = (i / self.columns, i % self.columns);
                row < 3 || column < 3 || row + 3 >= self.rows || column + 3 >= self.columns
            })
            .collect()
    }

    /// How unlike the background each block is, in units of the background's own spread. `on_border`: blocks
    /// that are likely background.
    fn strangeness(&self, on_border: &[usize]) -> Vec<f32> {
        let ground = fitted_ground(self, on_border);
        let off: Vec<f32> = self.mean.iter().zip(&ground).map(|(m, g)| m - g).collect();
        let border_off: Vec<f32> = on_border.iter().map(|i| off[*i].abs()).collect();
        let border_rough: Vec<f32> = on_border.iter().map(|i| self.texture[*i]).collect();
        let off_unit = median(border_off) * 1.48 + 0.006;
        let rough = median(border_rough.clone());
        let spread = border_rough.iter().map(|v| (v - rough).abs()).collect();
        let rough_unit = median(spread) * 1.48 + 0.06 * rough + 0.001;
        (0..self.mean.len())
            .map(|i| {
                let brightness = off[i].abs() / off_unit;
                let texture = (self.texture[i] - rough).abs() / rough_unit;
                ((brightness * brightness + texture * texture).sqrt() + 1.0).ln()
            })
            .collect()
    }
}

/// A plane through the border's brightness, refitted once without its outliers.
fn fitted_ground(blocks: &Blocks, border: &[usize]) -> Vec<f32> {
    let place = |i: usize| {
        let x = (i % blocks.columns) as f64 / blocks.columns as f64 - 0.5;
        let y = (i / blocks.columns) as f64 / blocks.rows as f64 - 0.5;
        [1.0, x, y]
    };
    let level = f64::from(median(border.iter().map(|i| blocks.mean[*i]).collect()));
    let mut fit = [level, 0.0, 0.0];
    for _ in 0..4 {
        let away = |i: usize, fit: &[f64; 3]| {
            let p = place(i);
            f64::from(blocks.mean[i]) - p[0] * fit[0] - p[1] * fit[1] - p[2] * fit[2]
        };
        let unit = f64::from(median(border.iter().map(|i| away(*i, &fit).abs() as f32).collect()));
        let unit = unit * 1.48 + 0.004;
        let mut normal = [[0.0; 3]; 3];
        let mut right = [0.0; 3];
        for &i in border {
            let p = place(i);
            let z = away(i, &fit) / unit;
            let weight = 1.0 / (1.0 + z * z / 4.0).powi(2);
            for a in 0..3 {
                right[a] += weight * p[a] * f64::from(blocks.mean[i]);
                for b in 0..3 {
                    normal[a][b] += weight * p[a] * p[b];
                }
            }
        }
        normal[1][1] += 1e-3;
        normal[2][2] += 1e-3;
        fit = solve3(normal, right).unwrap_or(fit);
    }
    (0..blocks.mean.len())
        .map(|i| {
            let p = place(i);
            (p[0] * fit[0] + p[1] * fit[1] + p[2] * fit[2]) as f32
        })
        .collect()
}

/// Solves a 3 x 3 system; `None` where it is singular.
pub(super) fn solve3(m: [[f64; 3]; 3], r: [f64; 3]) -> Option<[f64; 3]> {
    let det = |a: [f64; 3], b: [f64; 3], c: [f64; 3]| {
        a[0] * (b[1] * c[2] - b[2] * c[1]) - a[1] * (b[0] * c[2] - b[2] * c[0])
            + a[2] * (b[0] * c[1] - b[1] * c[0])
    };
    let column = |j: usize| [m[0][j], m[1][j], m[2][j]];
    let whole = det(column(0), column(1), column(2));
    if whole.abs() < 1e-12 {
        return None;
    }
    Some([
        det(r, column(1), column(2)) / whole,
        det(column(0), r, column(2)) / whole,
        det(column(0), column(1), r) / whole,
    ])
}

/// The median; 0 of nothing.
pub(super) fn median(mut values: Vec<f32>) -> f32 {
    if values.is_empty() {
        return 0.0;
    }
    let middle = values.len() / 2;
    *values.select_nth_unstable_by(middle, f32::total_cmp).1
}

/// The most unlike its background (logarithm of spreads) a block may have to be to count as structure.
const LEVEL_LIMIT: f32 = 1.45;

/// The level that parts the scores into two groups with the largest variance between them (Otsu 1979).
fn split_level(score: &[f32]) -> f32 {
    const BINS: usize = 128;
    let top = score.iter().copied().fold(0.0f32, f32::max).min(5.0) + 1e-6;
    let mut counts = [0.0f64; BINS];
    for s in score {
        counts[((s / top * BINS as f32) as usize).min(BINS - 1)] += 1.0;
    }
    let total: f64 = counts.iter().sum();
    let sum: f64 = counts.iter().enumerate().map(|(i, c)| i as f64 * c).sum();
    let (mut below, mut below_sum, mut best, mut level) = (0.0, 0.0, -1.0, 0);
    for (i, count) in counts.iter().enumerate() {
        below += count;
        below_sum += i as f64 * count;
        let above = total - below;
        if below <= 0.0 || above <= 0.0 {
            continue;
        }
        let gap = below_sum / below - (sum - below_sum) / above;
        let between = below * above * gap * gap;
        if between > best {
            (best, level) = (between, i);
        }
    }
    ((level + 1) as f32 / BINS as f32 * top).clamp(1.1, LEVEL_LIMIT)
}

/// How far apart the scores inside and outside lie, 0 to 1.
fn contrast(score: &[f32], inside: &[bool]) -> f64 {
    let mean = |wanted: bool| {
        let (mut sum, mut n) = (0.0, 0.0);
        for (s, i) in score.iter().zip(inside) {
            if *i == wanted {
                sum += f64::from(*s);
                n += 1.0;
            }
        }
        if n > 0.0 { sum / n } else { 0.0 }
    };
    let gap = (mean(true) - mean(false)).max(0.0);
    gap / (gap + 0.5)
}

fn blurred(values: &[f32], columns: usize, rows: usize) -> Vec<f32> {
    let mut out = vec![0.0; values.len()];
    for row in 0..rows {
        for column in 0..columns {
            let (mut sum, mut n) = (0.0, 0.0);
            for y in row.saturating_sub(1)..(row + 2).min(rows) {
                for x in column.saturating_sub(1)..(column + 2).min(columns) {
                    sum += values[y * columns + x];
                    n += 1.0;
                }
            }
            out[row * columns + column] = sum / n;
        }
    }
    out
}

fn grown(mask: &[bool], columns: usize, rows: usize, by: usize) -> Vec<bool> {
    spread(mask, columns, rows, by, true)
}

fn eroded(mask: &[bool], columns: usize, rows: usize, by: usize) -> Vec<bool> {
    spread(mask, columns, rows, by, false)
}

/// Spreads `wanted` by a square of half side `by`; beyond the border nothing changes.
fn spread(mask: &[bool], columns: usize, rows: usize, by: usize, wanted: bool) -> Vec<bool> {
    let mut across = mask.to_vec();
    for row in 0..rows {
        let line = &mask[row * columns..(row + 1) * columns];
        for column in 0..columns {
            let range = column.saturating_sub(by)..(column + by + 1).min(columns);
            if line[range].contains(&wanted) {
                across[row * columns + column] = wanted;
            }
        }
    }
    let mut out = across.clone();
    for row in 0..rows {
        for column in 0..columns {
            if (row.saturating_sub(by)..(row + by + 1).min(rows))
                .any(|y| across[y * columns + column] == wanted)
            {
                out[row * columns + column] = wanted;
            }
        }
    }
    out
}

/// The piece that holds the seed (or lies nearest to it), else the largest one; its holes filled.
fn piece(
    mask: &[bool],
    columns: usize,
    rows: usize,
    seed: Option<(f64, f64)>,
) -> Option<Vec<bool>> {
    let mut label = vec![0u32; mask.len()];
    let mut pieces: Vec<(u32, usize, f64)> = Vec::new();
    for start in 0..mask.len() {
        if !mask[start] || label[start] != 0 {
            continue;
        }
        let name = pieces.len() as u32 + 1;
        let (mut area, mut nearest) = (0, f64::INFINITY);
        flood(mask, &mut label, (columns, rows), start, true, name, |index| {
            area += 1;
            if let Some((x, y)) = seed {
                let (dx, dy) =
                    ((index % columns) as f64 + 0.5 - x, (index / columns) as f64 + 0.5 - y);
                nearest = nearest.min(dx * dx + dy * dy);
            }
        });
        pieces.push((name, area, nearest));
    }
    let largest = pieces.iter().map(|p| p.1).max()?;
    let chosen = pieces
        .iter()
        .filter(|p| p.1 * 20 >= largest)
        .min_by(|a, b| a.2.max(4.0).total_cmp(&b.2.max(4.0)).then(b.1.cmp(&a.1)))?
        .0;
    let body: Vec<bool> = label.iter().map(|l| *l == chosen).collect();
    Some(filled(&body, columns, rows))
}

/// Fills what cannot be reached from the border.
fn filled(body: &[bool], columns: usize, rows: usize) -> Vec<bool> {
    let mut label = vec![0u32; body.len()];
    for index in 0..body.len() {
        let (row, column) = (index / columns, index % columns);
        let border = row == 0 || column == 0 || row + 1 == rows || column + 1 == columns;
        if border && !body[index] && label[index] == 0 {
            flood(body, &mut label, (columns, rows), index, false, 1, |_| {});
        }
    }
    label.iter().map(|l| *l == 0).collect()
}

/// Marks everything of the same kind that hangs together with `start`.
fn flood(
    mask: &[bool],
    label: &mut [u32],
    (columns, rows): (usize, usize),
    start: usize,
    wanted: bool,
    name: u32,
    mut visit: impl FnMut(usize),
) {
    let mut stack = vec![start];
    label[start] = name;
    while let Some(index) = stack.pop() {
        visit(index);
        let (row, column) = (index / columns, index % columns);
        let mut step = |next: usize| {
            if mask[next] == wanted && label[next] == 0 {
                label[next] = name;
                stack.push(next);
            }
        };
        if column > 0 {
            step(index - 1);
        }
        if column + 1 < columns {
            step(index + 1);
        }
        if row > 0 {
            step(index - columns);
        }
        if row + 1 < rows {
            step(index + columns);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::imaging::raster::{Raster, Samples};

    fn picture(shade: impl Fn(f64, f64) -> u8) -> Plane<'static> {
        let values = (0..400 * 400).map(|i| shade((i % 400) as f64, (i / 400) as f64)).collect();
        Plane::new(&Raster::new(400, 400, Samples::Eight(values)).unwrap(), None).into_owned()
    }

    #[test]
    fn a_textured_disc_on_a_sloping_ground_of_the_same_mean_is_found() {
        let plane = picture(|x, y| {
            let r = (x - 220.0).hypot(y - 180.0);
            let wave = if r < 120.0 { 30.0 * (r * 0.9).sin() } else { 0.0 };
            (110.0 + 0.05 * x + wave) as u8
        });
        let outline = Outline::find(&plane, None).unwrap();
        assert!((outline.centroid() - Point::new(220.0, 180.0)).hypot() < 6.0);
        assert!(
            (outline.share() * 160_000.0 / (std::f64::consts::PI * 120.0 * 120.0) - 1.0).abs()
                < 0.1
        );
    }

    #[test]
    fn an_even_picture_has_no_structure() {
        assert!(
            Outline::find(&picture(|x, y| (100.0 + (x * 7.0 + y * 13.0) % 5.0) as u8), None)
                .is_none()
        );
    }
}
