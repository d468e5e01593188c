//! A picture being painted: numbers without limits, row by row.

use rayon::prelude::*;

use super::chance::Grain;

/// Values by row.
#[derive(Debug, Clone)]
pub(super) struct Canvas {
    pub width: usize,
    pub height: usize,
    pub values: Vec<f32>,
}

impl Canvas {
    /// A canvas whose value at column x, row y is `value(x, y)`.
    pub fn painted(
        width: usize,
        height: usize,
        value: impl Fn(usize, usize) -> f32 + Sync,
    ) -> Self {
        let mut canvas = Self { width, height, values: vec![0.0; width * height] };
        canvas.repaint(|x, y, _| value(x, y));
        canvas
    }

    /// Replaces each value by `value(x, y, before)`.
    pub fn repaint(&mut self, value: impl Fn(usize, usize, f32) -> f32 + Sync) {
        self.values.par_chunks_mut(self.width).enumerate().for_each(|(y, row)| {
            for (x, cell) in row.iter_mut().enumerate() {
                *cell = value(x, y, *cell);
            }
        });
    }

    /// The value at a place; outside the canvas that of the nearest.
    pub fn at(&self, x: isize, y: isize) -> f32 {
        let x = x.clamp(0, self.width as isize - 1) as usize;
        let y = y.clamp(0, self.height as isize - 1) as usize;
        self.values.get(y * self.width + x).copied().unwrap_or(0.0)
    }

    /// Changes the values in a box round (`cx`, `cy`): `value(dx, dy, before)`.
    pub fn touch(&mut self, cx: f64, cy: f64, reach_px: f64, value: impl Fn(f32, f32, f32) -> f32) {
        let x0 = (cx - reach_px).max(0.0) as usize;
        let y0 = (cy - reach_px).max(0.0) as usize;
        let x1 = ((cx + reach_px).max(-1.0) + 1.0) as usize;
        let y1 = ((cy + reach_px).max(-1.0) + 1.0) as usize;
        for y in y0..y1.min(self.height) {
            for x in x0..x1.min(self.width) {
                if let Some(cell) = self.values.get_mut(y * self.width + x) {
                    *cell = value((x as f64 - cx) as f32, (y as f64 - cy) as f32, *cell);
                }
            }
        }
    }

    /// Gaussian blur of `sigma_px`; nothing below a tenth of a pixel.
    pub fn blur(&mut self, sigma_px: f64) {
        if sigma_px < 0.1 {
            return;
        }
        let reach = (3.0 * sigma_px).ceil() as isize;
        let raw: Vec<f64> = (-reach..=reach)
            .map(|k| libm::exp(-((k * k) as f64) / (2.0 * sigma_px * sigma_px)))
            .collect();
        let sum: f64 = raw.iter().sum();
        let weights: Vec<f32> = raw.iter().map(|w| (w / sum) as f32).collect();
        let (width, height) = (self.width, self.height);
        let mut across = vec![0.0_f32; self.values.len()];
        let source = &self.values;
        across.par_chunks_mut(width).enumerate().for_each(|(y, row)| {
            let Some(from) = source.get(y * width..(y + 1) * width) else { return };
            blur_row(from, row, &weights, reach);
        });
        self.values.par_chunks_mut(width).enumerate().for_each(|(y, row)| {
            row.fill(0.0);
            for (k, weight) in weights.iter().enumerate() {
                let from_y =
                    (y as isize + k as isize - reach).clamp(0, height as isize - 1) as usize;
                if let Some(from) = across.get(from_y * width..(from_y + 1) * width) {
                    for (cell, value) in row.iter_mut().zip(from) {
                        *cell += weight * value;
                    }
                }
            }
        });
    }

    /// Adds nearly normal noise of standard deviation `sigma` to each value.
    pub fn add_noise(&mut self, grain: Grain, sigma: f32) {
        self.repaint(|x, y, before| before + sigma * grain.speckle(x as i32, y as i32));
    }
}

fn blur_row(from: &[f32], to: &mut [f32], weights: &[f32], reach: isize) {
    let width = from.len() as isize;
    for (x, cell) in to.iter_mut().enumerate() {
        let start = x as isize - reach;
        let mut sum = 0.0;
        if start >= 0 && start + weights.len() as isize <= width {
            let window = from.get(start as usize..).unwrap_or_default();
            for (weight, value) in weights.iter().zip(window) {
                sum += weight * value;
            }
        } else {
            for (k, weight) in weights.iter().enumerate() {
                let i = (start + k as isize).clamp(0, width - 1) as usize;
                sum += weight * from.get(i).copied().unwrap_or(0.0);
            }
        }
        *cell = sum;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn blur_keeps_the_mean_and_spreads_a_point() {
        let mut canvas = Canvas::painted(41, 41, |x, y| if (x, y) == (20, 20) { 1.0 } else { 0.0 });
        canvas.blur(2.0);
        let sum: f32 = canvas.values.iter().sum();
        assert!((sum - 1.0).abs() < 1e-4);
        let spread: f32 = canvas
            .values
            .iter()
            .enumerate()
            .map(|(i, v)| v * ((i % 41) as f32 - 20.0) * ((i % 41) as f32 - 20.0))
            .sum();
        assert!((spread - 4.0).abs() < 0.2, "{spread}");
    }
}
