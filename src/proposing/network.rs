//! A small convolutional network, worked out in plain `f32`: what a strip shows at each radius.
//!
//! Each line of the strip goes through the same three layers along the radius; mean, mean near the axis, and spread over
//! the lines follow, so that what runs round the structure counts and a scratch does not; layers of growing reach along
//! the radius give the log odds of an annulus. Trained by `benches/truth/train.py`, which describes the file.

use std::sync::{Arc, OnceLock};

use rayon::prelude::*;

use super::strip::{CHANNELS, LINES, LINES_EACH_SIDE, Strip};

/// Samples of the strip in one of the output.
pub const STRIDE: usize = 2;
const BASE: usize = 8;
const WIDE: usize = 16;
const POOLED: usize = 24;
const DILATIONS: [usize; 3] = [2, 4, 8];
/// Lines within about this many of the axis are near it.
const NEAR_LINES: f32 = 2.5;
/// Channels worked out together, and samples.
const BLOCK: usize = 4;
const RUN: usize = 8;

/// One layer: weights packed by blocks of output channels.
#[derive(Debug, Clone)]
struct Layer {
    taps: usize,
    dilation: usize,
    stride: usize,
    inputs: usize,
    outputs: usize,
    /// For each block of outputs, each input channel and tap: a weight for each output of the block.
    weights: Vec<[f32; BLOCK]>,
    offsets: Vec<f32>,
}

/// The network.
#[derive(Debug, Clone)]
pub struct Network {
    line: [Layer; 3],
    joint: Layer,
    deep: Vec<Layer>,
    last: Vec<f32>,
    last_offset: f32,
}

/// Rows of equal length with room for the taps on both sides.
struct Rows {
    count: usize,
    length: usize,
    pad: usize,
    pitch: usize,
    values: Vec<f32>,
}

impl Rows {
    fn zeros(count: usize, length: usize, pad: usize) -> Self {
        let pitch = length + 2 * pad + RUN;
        Self { count, length, pad, pitch, values: vec![0.0; count * pitch] }
    }

    fn row(&self, k: usize) -> &[f32] {
        let start = k * self.pitch + self.pad;
        &self.values[start..start + self.length]
    }

    fn row_mut(&mut self, k: usize) -> &mut [f32] {
        let start = k * self.pitch + self.pad;
        &mut self.values[start..start + self.length]
    }

    /// Each row as its even and its odd samples, one row after the other.
    fn halved(&self, pad: usize) -> Self {
        let mut out = Self::zeros(2 * self.count, self.length.div_ceil(2), pad);
        for k in 0..self.count {
            let row = self.row(k);
            for parity in 0..2 {
                let half = row.iter().skip(parity).step_by(2);
                out.row_mut(2 * k + parity).iter_mut().zip(half).for_each(|(o, v)| *o = *v);
            }
        }
        out
    }
}

fn leaky(value: f32) -> f32 {
    value.max(0.1 * value)
}

impl Layer {
    /// Reads weights [tap, input, output] and offsets from the numbers of the file.
    fn read(
        numbers: &mut dyn Iterator<Item = f32>,
        [taps, inputs, outputs]: [usize; 3],
        dilation: usize,
        stride: usize,
    ) -> Option<Self> {
        let mut weights = vec![[0.0; BLOCK]; outputs.div_ceil(BLOCK) * inputs * taps];
        for tap in 0..taps {
            for input in 0..inputs {
                for output in 0..outputs {
                    let place = (output / BLOCK) * inputs * taps + input * taps + tap;
                    weights[place][output % BLOCK] = numbers.next()?;
                }
            }
        }
        let offsets: Vec<f32> = (0..outputs).map_while(|_| numbers.next()).collect();
        (offsets.len() == outputs).then_some(Self {
            taps,
            dilation,
            stride,
            inputs,
            outputs,
            weights,
            offsets,
        })
    }

    fn reach(&self) -> usize {
        self.taps / 2 * self.dilation
    }

    /// Where in the rows each input channel and tap begins.
    fn sources(&self, rows: &Rows) -> Vec<usize> {
        let half = (self.taps / 2) as isize;
        (0..self.inputs)
            .flat_map(|input| {
                (0..self.taps).map(move |tap| {
                    let shift = (tap as isize - half) * self.dilation as isize;
                    if self.stride == 1 {
                        (input, shift)
                    } else {
                        (2 * input + shift.rem_euclid(2) as usize, shift.div_euclid(2))
                    }
                })
            })
            .map(|(row, shift)| row * rows.pitch + (rows.pad as isize + shift) as usize)
            .collect()
    }

    /// The layer's outputs after the bend, in rows padded by `pad`. Rows of a layer of stride 2 are halved before.
    fn over(&self, rows: &Rows, pad: usize) -> Rows {
        let sources = self.sources(rows);
        let mut out = Rows::zeros(self.outputs, rows.length, pad);
        let per_block = self.inputs * self.taps;
        for (block, weights) in self.weights.chunks_exact(per_block).enumerate() {
            let first = block * BLOCK;
            let mut from = 0;
            while from < rows.length {
                let sums = summed(&rows.values, &sources, weights, from);
                let count = RUN.min(rows.length - from);
                for (k, sums) in sums.iter().enumerate().take(self.outputs - first) {
                    let offset = self.offsets[first + k];
                    let row = &mut out.row_mut(first + k)[from..from + count];
                    row.iter_mut().zip(sums).for_each(|(o, s)| *o = leaky(s + offset));
                }
                from += RUN;
            }
        }
        out
    }
}

/// Weighted sums of `RUN` samples of all sources for one block of outputs.
#[inline]
fn summed(
    values: &[f32],
    sources: &[usize],
    weights: &[[f32; BLOCK]],
    from: usize,
) -> [[f32; RUN]; BLOCK] {
    let mut sums = [[0.0f32; RUN]; BLOCK];
    for (source, weight) in sources.iter().zip(weights) {
        let start = source + from;
        let Some(part) = values.get(start..start + RUN) else { continue };
        for (sum, w) in sums.iter_mut().zip(weight) {
            for (s, v) in sum.iter_mut().zip(part) {
                *s += w * v;
            }
        }
    }
    sums
}

impl Network {
    /// The program's own network for scales.
    pub fn for_scales() -> Option<Arc<Self>> {
        static NETWORK: OnceLock<Option<Arc<Network>>> = OnceLock::new();
        let read = || Self::from_bytes(include_bytes!("network_scale.net")).map(Arc::new);
        NETWORK.get_or_init(read).clone()
    }

    /// Reads 32-bit little-endian numbers; `None` unless there are just as many as the network has.
    pub fn from_bytes(bytes: &[u8]) -> Option<Self> {
        let (quads, rest) = bytes.as_chunks::<4>();
        let mut numbers = quads.iter().map(|quad| f32::from_le_bytes(*quad));
        let numbers: &mut dyn Iterator<Item = f32> = &mut numbers;
        let line = [
            Layer::read(numbers, [9, CHANNELS, BASE], 1, 1)?,
            Layer::read(numbers, [9, BASE, WIDE], 1, STRIDE)?,
            Layer::read(numbers, [5, WIDE, WIDE], 1, 1)?,
        ];
        let joint = Layer::read(numbers, [7, 3 * WIDE, POOLED], 1, 1)?;
        let mut deep = Vec::new();
        for dilation in DILATIONS {
            deep.push(Layer::read(numbers, [7, POOLED, POOLED], dilation, 1)?);
        }
        let last: Vec<f32> = (0..POOLED).map_while(|_| numbers.next()).collect();
        let last_offset = numbers.next()?;
        (rest.is_empty() && numbers.next().is_none()).then_some(Self {
            line,
            joint,
            deep,
            last,
            last_offset,
        })
    }

    /// Log odds of an annulus along the strip, one for each [`STRIDE`] samples.
    pub fn log_odds(&self, strip: &Strip) -> Vec<f32> {
        let present: Vec<usize> = (0..LINES).filter(|line| strip.present[*line]).collect();
        let lines: Vec<(usize, Rows)> =
            present.into_par_iter().map(|line| (line, self.line_of(strip, line))).collect();
        let length = strip.samples.div_ceil(STRIDE);
        let mut rows = self.joint.over(&pooled(&lines, length, self.joint.reach()), 24);
        for layer in &self.deep {
            let more = layer.over(&rows, 24);
            rows.values.iter_mut().zip(&more.values).for_each(|(r, m)| *r += m);
        }
        let mut out = vec![self.last_offset; length];
        for (k, w) in self.last.iter().enumerate() {
            out.iter_mut().zip(rows.row(k)).for_each(|(o, v)| *o += w * v);
        }
        out
    }

    fn line_of(&self, strip: &Strip, line: usize) -> Rows {
        let mut rows = Rows::zeros(CHANNELS, strip.samples, self.line[0].reach());
        for channel in 0..CHANNELS {
            let start = (channel * LINES + line) * strip.samples;
            rows.row_mut(channel).copy_from_slice(&strip.values[start..start + strip.samples]);
        }
        let fine = self.line[0].over(&rows, 0);
        let halved = self.line[1].over(&fine.halved(self.line[1].reach()), self.line[2].reach());
        self.line[2].over(&halved, 0)
    }
}

/// Mean over the lines, mean near the axis, and spread, of each channel.
fn pooled(lines: &[(usize, Rows)], length: usize, pad: usize) -> Rows {
    let mut out = Rows::zeros(3 * WIDE, length, pad);
    let near: Vec<f32> = lines
        .iter()
        .map(|(line, _)| {
            let z = (*line as f32 - LINES_EACH_SIDE as f32) / NEAR_LINES;
            (-0.5 * z * z).exp()
        })
        .collect();
    let (count, nearness) = (lines.len() as f32 + 1e-6, near.iter().sum::<f32>() + 1e-6);
    for channel in 0..WIDE {
        let mut mean = vec![0.0f32; length];
        let mut middle = vec![0.0f32; length];
        for ((_, rows), weight) in lines.iter().zip(&near) {
            for ((m, c), v) in mean.iter_mut().zip(&mut middle).zip(rows.row(channel)) {
                *m += v / count;
                *c += v * weight / nearness;
            }
        }
        let mut spread = vec![0.0f32; length];
        for (_, rows) in lines {
            for ((s, m), v) in spread.iter_mut().zip(&mean).zip(rows.row(channel)) {
                *s += (v - m) * (v - m) / count;
            }
        }
        spread.iter_mut().for_each(|s| *s = (*s + 1e-4).sqrt());
        out.row_mut(channel).copy_from_slice(&mean);
        out.row_mut(WIDE + channel).copy_from_slice(&middle);
        out.row_mut(2 * WIDE + channel).copy_from_slice(&spread);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Numbers of the file in order: a fixed sequence without pattern.
    fn numbers() -> Vec<f32> {
        let layers = [
            [9, CHANNELS, BASE],
            [9, BASE, WIDE],
            [5, WIDE, WIDE],
            [7, 3 * WIDE, POOLED],
            [7, POOLED, POOLED],
            [7, POOLED, POOLED],
            [7, POOLED, POOLED],
            [1, POOLED, 1],
        ];
        let count: usize = layers.iter().map(|[t, i, o]| t * i * o + o).sum();
        (0..count).map(|k| ((k as f32 * 0.7).sin() * 43.7).fract() * 0.12).collect()
    }

    /// One layer, as its definition says: x[channel][sample].
    fn plain(
        x: &[Vec<f32>],
        numbers: &[f32],
        [taps, outputs]: [usize; 2],
        dilation: usize,
        stride: usize,
    ) -> Vec<Vec<f32>> {
        let inputs = x.len();
        let length = x[0].len();
        let offsets = &numbers[taps * inputs * outputs..];
        (0..outputs)
            .map(|o| {
                (0..length.div_ceil(stride))
                    .map(|i| {
                        let mut sum = offsets[o];
                        for tap in 0..taps {
                            let away = (tap as isize - (taps / 2) as isize) * dilation as isize;
                            let at = (i * stride) as isize + away;
                            if at >= 0 && (at as usize) < length {
                                for (c, row) in x.iter().enumerate() {
                                    sum += row[at as usize]
                                        * numbers[(tap * inputs + c) * outputs + o];
                                }
                            }
                        }
                        sum.max(0.1 * sum)
                    })
                    .collect()
            })
            .collect()
    }

    #[test]
    fn the_quick_sums_equal_the_definition() {
        let samples = 101;
        let values: Vec<f32> =
            (0..CHANNELS * LINES * samples).map(|k| (k as f32 * 0.37).sin()).collect();
        let mut present = [true; LINES];
        present[3] = false;
        let strip = Strip { step: 1.0, samples, values, present };
        let numbers = numbers();
        let bytes: Vec<u8> = numbers.iter().flat_map(|n| n.to_le_bytes()).collect();
        let network = Network::from_bytes(&bytes).unwrap();
        let found = network.log_odds(&strip);

        let sizes = [9 * CHANNELS * BASE + BASE, 9 * BASE * WIDE + WIDE, 5 * WIDE * WIDE + WIDE];
        let lines: Vec<(f32, Vec<Vec<f32>>)> = (0..LINES)
            .filter(|line| present[*line])
            .map(|line| {
                let mut x: Vec<Vec<f32>> = (0..CHANNELS)
                    .map(|c| strip.values[(c * LINES + line) * samples..][..samples].to_vec())
                    .collect();
                x = plain(&x, &numbers, [9, BASE], 1, 1);
                x = plain(&x, &numbers[sizes[0]..], [9, WIDE], 1, 2);
                x = plain(&x, &numbers[sizes[0] + sizes[1]..], [5, WIDE], 1, 1);
                let z = (line as f32 - LINES_EACH_SIDE as f32) / NEAR_LINES;
                ((-0.5 * z * z).exp(), x)
            })
            .collect();
        let length = samples.div_ceil(2);
        let mean_by = |weight: &dyn Fn(f32, f32) -> f32, c: usize, i: usize| {
            let total: f32 = lines.iter().map(|(near, _)| weight(*near, 1.0)).sum();
            lines.iter().map(|(near, x)| weight(*near, x[c][i])).sum::<f32>() / total
        };
        let mut x: Vec<Vec<f32>> = vec![vec![0.0; length]; 3 * WIDE];
        for c in 0..WIDE {
            #[expect(clippy::needless_range_loop, reason = "three rows are written at one place")]
            for i in 0..length {
                let mean = mean_by(&|_, v| v, c, i);
                x[c][i] = mean;
                x[WIDE + c][i] = mean_by(&|near, v| near * v, c, i);
                let square = lines.iter().map(|(_, x)| (x[c][i] - mean).powi(2)).sum::<f32>();
                x[2 * WIDE + c][i] = (square / lines.len() as f32 + 1e-4).sqrt();
            }
        }
        let mut at: usize = sizes.iter().sum();
        x = plain(&x, &numbers[at..], [7, POOLED], 1, 1);
        at += 7 * 3 * WIDE * POOLED + POOLED;
        for dilation in DILATIONS {
            let more = plain(&x, &numbers[at..], [7, POOLED], dilation, 1);
            at += 7 * POOLED * POOLED + POOLED;
            x.iter_mut().flatten().zip(more.iter().flatten()).for_each(|(x, m)| *x += m);
        }
        for (i, found) in found.iter().enumerate() {
            let sum: f32 = (0..POOLED).map(|c| x[c][i] * numbers[at + c]).sum();
            let wanted = sum + numbers[at + POOLED];
            assert!((found - wanted).abs() < 1e-3 * (1.0 + wanted.abs()), "{i}: {found} {wanted}");
        }
        assert!(Network::from_bytes(&bytes[4..]).is_none());
    }

    #[test]
    fn the_network_for_scales_is_whole() {
        assert!(Network::for_scales().is_some());
    }
}
