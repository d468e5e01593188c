//! The impressions on a scanned slide: where each lies, in the order of reading.

use kurbo::Rect;

use crate::domain::progress::{Progress, Stopped};
use crate::imaging::raster::{Raster, Samples};

use super::outline::pieces;
use super::plane::Plane;

/// Longest side of the picture the boxes are looked for on, pixels: circuli still show as texture there.
const MOST_SIDE_PX: usize = 2400;

/// A piece smaller than this share of the largest is dirt, a letter or a scrap (common practice, no source).
const LEAST_SHARE: f64 = 0.2;

/// A piece longer than this many times its width is a label or a scratch (common practice, no source).
const MOST_ASPECT: f64 = 3.2;

/// Room left around each impression, as a share of its longer side.
const ROOM: f64 = 0.04;

/// The boxes of the impressions on `raster`, image pixels, row by row from the top left. None where nothing stands
/// out from its background.
///
/// # Errors
/// [`Stopped`] when asked to stop.
pub fn find_impressions(raster: &Raster, progress: &Progress) -> Result<Vec<Rect>, Stopped> {
    progress.checkpoint()?;
    let step = raster.width().max(raster.height()).div_ceil(MOST_SIDE_PX).max(1);
    let reduced = (step > 1).then(|| reduced(raster, step)).flatten();
    progress.checkpoint()?;
    let plane = Plane::new(reduced.as_ref().unwrap_or(raster), None);
    let pieces = pieces(&plane);
    progress.checkpoint()?;
    let step = if reduced.is_some() { step as f64 } else { 1.0 };
    let whole = raster.area();
    let largest = pieces.iter().map(|piece| piece.area).max().unwrap_or(0) as f64;
    let is_impression = |bounds: &Rect, area: usize| {
        let (long, short) =
            (bounds.width().max(bounds.height()), bounds.width().min(bounds.height()));
        area as f64 >= LEAST_SHARE * largest && long <= MOST_ASPECT * short
    };
    let boxes = pieces.iter().filter(|piece| is_impression(&piece.bounds, piece.area));
    let boxes = boxes.map(|piece| {
        let at = piece.bounds;
        let scaled = Rect::new(
            (at.x0 + 0.5) * step - 0.5,
            (at.y0 + 0.5) * step - 0.5,
            (at.x1 + 0.5) * step - 0.5,
            (at.y1 + 0.5) * step - 0.5,
        );
        let room = ROOM * scaled.width().max(scaled.height());
        scaled.inflate(room, room).intersect(whole)
    });
    Ok(in_reading_order(boxes.collect()))
}

/// Boxes row by row from the top, each row from the left: the order in which a slide is written up.
pub fn in_reading_order(mut boxes: Vec<Rect>) -> Vec<Rect> {
    boxes.sort_by(|a, b| a.center().y.total_cmp(&b.center().y));
    let mut rows: Vec<Vec<Rect>> = Vec::new();
    for bounds in boxes {
        let fits = |row: &Vec<Rect>| {
            let n = row.len().max(1) as f64;
            let middle = row.iter().map(|one| one.center().y).sum::<f64>() / n;
            let height = row.iter().map(Rect::height).sum::<f64>() / n;
            (bounds.center().y - middle).abs() < 0.5 * height.min(bounds.height())
        };
        match rows.last_mut() {
            Some(row) if fits(row) => row.push(bounds),
            _ => rows.push(vec![bounds]),
        }
    }
    for row in &mut rows {
        row.sort_by(|a, b| a.center().x.total_cmp(&b.center().x));
    }
    rows.concat()
}

/// The mean of each square of `step` pixels; what is left over at the right and the foot goes.
fn reduced(raster: &Raster, step: usize) -> Option<Raster> {
    let (width, height) = (raster.width() / step, raster.height() / step);
    let n = (step * step) as f32 * raster.white();
    let mut values = Vec::with_capacity(width * height);
    let mut sums = vec![0.0_f32; width];
    for row in 0..height {
        sums.fill(0.0);
        for y in row * step..(row + 1) * step {
            let line = y * raster.width()..y * raster.width() + width * step;
            match raster.samples() {
                Samples::Eight(all) => add_row(all.get(line)?, step, &mut sums),
                Samples::Sixteen(all) => add_row(all.get(line)?, step, &mut sums),
            }
        }
        values.extend(sums.iter().map(|sum| (sum / n * 65_535.0).round() as u16));
    }
    Raster::new(width, height, Samples::Sixteen(values)).ok()
}

fn add_row<T: Copy + Into<f32>>(line: &[T], step: usize, sums: &mut [f32]) {
    for (sum, square) in sums.iter_mut().zip(line.chunks_exact(step)) {
        *sum += square.iter().map(|value| (*value).into()).sum::<f32>();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::reading::Structure;
    use crate::simulate::picture::{draw, extent_um};
    use crate::simulate::spec::{Depth, Frame, draw_spec};
    use crate::simulate::truth::Difficulty;

    /// Simulated scales on a clear slide, with a label and some dust; the boxes they fill, in order.
    fn slide(columns: usize, rows: usize) -> (Raster, Vec<Rect>) {
        let cell = 560;
        let (width, height) = (columns * cell, rows * cell + 200);
        let ground = |i: usize| 205 + (i * 7919 % 5) as u8;
        let mut values: Vec<u8> = (0..width * height).map(ground).collect();
        let mut boxes = Vec::new();
        for place in 0..columns * rows {
            let mut spec = draw_spec(Structure::Scale, Difficulty::Easy, None, place as u64 + 3);
            let (wide, high) = extent_um(&spec).unwrap();
            spec.um_per_px = wide.max(high) / 440.0;
            spec.frame = Frame::Margin(20);
            spec.depth = Depth::Eight;
            let picture = draw(&spec).unwrap();
            let Samples::Eight(drawn) = picture.raster.samples() else { panic!("8 bits") };
            let (w, h) = (picture.raster.width(), picture.raster.height());
            assert!(w < cell && h < cell, "{w} x {h}");
            let (left, top) = (
                place % columns * cell + (cell - w) / 2,
                200 + place / columns * cell + (cell - h) / 2,
            );
            let back = i32::from(drawn[w + 1]);
            for y in 0..h {
                for x in 0..w {
                    let off = i32::from(drawn[y * w + x]) - back;
                    let at = &mut values[(top + y) * width + left + x];
                    *at = (i32::from(*at) + off).clamp(0, 255) as u8;
                }
            }
            boxes.push(Rect::new(left as f64, top as f64, (left + w) as f64, (top + h) as f64));
        }
        // A written label along the top edge, and specks.
        for y in 60..110 {
            for x in 100..700 {
                values[y * width + x] = if (x / 12 + y / 9) % 2 == 0 { 20 } else { 210 };
            }
        }
        for i in 0..40 {
            values[(150 + i * 37 % (height - 200)) * width + 10 + i * 113 % (width - 20)] = 10;
        }
        (Raster::new(width, height, Samples::Eight(values)).unwrap(), boxes)
    }

    #[test]
    fn the_scales_of_a_slide_are_found_in_the_order_of_reading() {
        let (raster, truth) = slide(2, 2);
        let found = find_impressions(&raster, &Progress::new()).unwrap();
        assert_eq!(found.len(), truth.len(), "{found:?}");
        for (found, truth) in found.iter().zip(&truth) {
            let shared = found.intersect(*truth).area() / found.union(*truth).area();
            assert!(shared > 0.6, "{found:?} for {truth:?}: {shared}");
        }
    }

    #[test]
    fn rows_are_read_from_the_left_though_they_are_not_level() {
        let at = |x: f64, y: f64| Rect::from_center_size((x, y), (80.0, 80.0));
        let order = in_reading_order(vec![
            at(300.0, 118.0),
            at(100.0, 100.0),
            at(210.0, 250.0),
            at(200.0, 90.0),
            at(90.0, 262.0),
        ]);
        let x: Vec<f64> = order.iter().map(|one| one.center().x.round()).collect();
        assert_eq!(x, [100.0, 200.0, 300.0, 90.0, 210.0]);
    }

    #[test]
    fn an_even_slide_holds_nothing_and_a_stop_is_heard() {
        let raster = Raster::new(500, 400, Samples::Eight(vec![200; 200_000])).unwrap();
        assert!(find_impressions(&raster, &Progress::new()).unwrap().is_empty());
        let stopped = Progress::new();
        stopped.stop();
        assert!(find_impressions(&raster, &stopped).is_err());
    }
}
