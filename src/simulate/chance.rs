//! Random draws and grain that come out alike on every machine.
//!
//! Draws come from ChaCha8; every transcendental function from `libm`, never from the system's library, whose
//! last digit differs between systems.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

/// A stream of random draws for one purpose.
#[derive(Debug, Clone)]
pub struct Chance {
    stream: ChaCha8Rng,
}

impl Chance {
    /// The stream of `seed` for `purpose`. Streams of different purposes are independent, so that a change in
    /// how dirt is drawn leaves the growth of the fish alone.
    pub fn new(seed: u64, purpose: &str) -> Self {
        // FNV-1a, 64 bits (Fowler, Noll & Vo), over the purpose's letters.
        let mixed = purpose.bytes().fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| {
            (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
        });
        Self { stream: ChaCha8Rng::seed_from_u64(seed ^ mixed.rotate_left(17)) }
    }

    /// A whole number of 64 random bits.
    pub fn bits(&mut self) -> u64 {
        self.stream.next_u64()
    }

    /// A number in [0, 1), with 53 random bits.
    pub fn unit(&mut self) -> f64 {
        (self.stream.next_u64() >> 11) as f64 * (1.0 / 9_007_199_254_740_992.0)
    }

    /// A number in [low, high).
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// A whole number from `low` to `high`, both included; `low` when `high` is smaller.
    pub fn whole(&mut self, low: u32, high: u32) -> u32 {
        let span = u64::from(high.saturating_sub(low)) + 1;
        low + ((self.unit() * span as f64) as u32).min(high.saturating_sub(low))
    }

    /// True with probability `p`.
    pub fn happens(&mut self, p: f64) -> bool {
        self.unit() < p
    }

    /// A standard normal deviate (Box & Muller 1958).
    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * libm::log(1.0 - self.unit())).sqrt();
        radius * libm::cos(std::f64::consts::TAU * self.unit())
    }

    /// A factor around 1 whose logarithm is normal with standard deviation `sigma`, cut off at three sigma.
    pub fn factor(&mut self, sigma: f64) -> f64 {
        libm::exp(sigma * self.normal().clamp(-3.0, 3.0))
    }

    /// Either -1 or 1.
    pub fn sign(&mut self) -> f64 {
        if self.happens(0.5) { 1.0 } else { -1.0 }
    }

    /// A fixed pattern of grain.
    pub fn grain(&mut self) -> Grain {
        Grain { seed: self.bits() as u32 }
    }
}

/// A fixed pattern of random values on a lattice: the value at a place never changes, whatever the order in
/// which places are asked for.
#[derive(Debug, Clone, Copy)]
pub struct Grain {
    seed: u32,
}

impl Grain {
    /// The value at lattice place (`i`, `j`), in [0, 1).
    pub fn at(self, i: i32, j: i32) -> f32 {
        let mut h =
            (i as u32).wrapping_mul(0x9e37_79b1) ^ (j as u32).wrapping_mul(0x85eb_ca77) ^ self.seed;
        h = (h ^ (h >> 16)).wrapping_mul(0x7feb_352d);
        h = (h ^ (h >> 15)).wrapping_mul(0x846c_a68b);
        h ^= h >> 16;
        (h >> 8) as f32 * (1.0 / 16_777_216.0)
    }

    /// Smooth along `x` on row `j`, in [0, 1).
    pub fn along(self, x: f32, j: i32) -> f32 {
        let i = below(x);
        let t = ease(x - i as f32);
        let (a, b) = (self.at(i, j), self.at(i.wrapping_add(1), j));
        a + (b - a) * t
    }

    /// Smooth round a circle of `cells` cells on row `j`, in [0, 1): `part` from 0 to 1 is once round, without a seam.
    pub fn around(self, part: f32, cells: i32, j: i32) -> f32 {
        let cells = cells.max(1);
        let x = part * cells as f32;
        let cell = below(x);
        let t = ease(x - cell as f32);
        let i = cell.rem_euclid(cells);
        let (a, b) = (self.at(i, j), self.at((i + 1) % cells, j));
        a + (b - a) * t
    }

    /// Smooth round a circle and outwards along `y`, in [0, 1).
    pub fn ringed(self, part: f32, cells: i32, y: f32) -> f32 {
        let j = below(y);
        let t = ease(y - j as f32);
        let (a, b) = (self.around(part, cells, j), self.around(part, cells, j.wrapping_add(1)));
        a + (b - a) * t
    }

    /// Rounded bumps packed without order, 0 between them and up to 1 at their tops; one in each unit square.
    pub fn pebbles(self, x: f32, y: f32) -> f32 {
        let other = Self { seed: self.seed ^ 0x68bc_21eb };
        let (cx, cy) = (x.floor(), y.floor());
        let mut nearest = 4.0_f32;
        for dj in -1..=1 {
            for di in -1..=1 {
                let (i, j) = (cx as i32 + di, cy as i32 + dj);
                let dx = cx + di as f32 + self.at(i, j) - x;
                let dy = cy + dj as f32 + other.at(i, j) - y;
                nearest = nearest.min(dx * dx + dy * dy);
            }
        }
        (1.0 - 1.6 * nearest).max(0.0)
    }

    /// Smooth in the plane, in [0, 1).
    pub fn smooth(self, x: f32, y: f32) -> f32 {
        let j = below(y);
        let t = ease(y - j as f32);
        let (a, b) = (self.along(x, j), self.along(x, j.wrapping_add(1)));
        a + (b - a) * t
    }

    /// Two sizes of grain together, in [0, 1): coarse two thirds, fine one third.
    pub fn cloudy(self, x: f32, y: f32) -> f32 {
        (self.smooth(x, y) * 2.0 + self.smooth(x * 2.13 + 17.0, y * 2.13 - 9.0)) / 3.0
    }

    /// Nearly normal noise at a pixel, mean 0 and standard deviation 1: four uniform values added.
    pub fn speckle(self, x: i32, y: i32) -> f32 {
        let other = Self { seed: self.seed ^ 0x5bd1_e995 };
        let third = Self { seed: self.seed ^ 0x2545_f491 };
        let fourth = Self { seed: self.seed ^ 0x1b87_3593 };
        let sum = self.at(x, y) + other.at(x, y) + third.at(x, y) + fourth.at(x, y);
        (sum - 2.0) * 1.732_050_8
    }
}

/// The whole number at or below `x`: quicker than the general rounding, for places on a lattice.
fn below(x: f32) -> i32 {
    let i = x as i32;
    if i as f32 > x { i.wrapping_sub(1) } else { i }
}

/// 3t² - 2t³: from 0 to 1 with level ends, for `t` in [0, 1]; held at the ends outside.
pub fn ease(t: f32) -> f32 {
    let t = t.clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}

/// [`ease`] from 0 at `from` to 1 at `to` (which may be the smaller).
pub fn rise(from: f64, to: f64, x: f64) -> f64 {
    let t = ((x - from) / (to - from)).clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn draws_of_a_seed_never_change() {
        let mut chance = Chance::new(7, "growth");
        assert_eq!(chance.bits(), Chance::new(7, "growth").bits());
        assert_ne!(Chance::new(7, "dirt").bits(), Chance::new(7, "growth").bits());
    }

    #[test]
    fn moments_of_the_draws() {
        let mut chance = Chance::new(1, "moments");
        let n = 20_000;
        let draws: Vec<f64> = (0..n).map(|_| chance.normal()).collect();
        let mean = draws.iter().sum::<f64>() / f64::from(n);
        let variance = draws.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / f64::from(n);
        // Five standard errors of mean and variance of 20 000 normal deviates.
        assert!(mean.abs() < 5.0 / f64::from(n).sqrt(), "{mean}");
        assert!((variance - 1.0).abs() < 5.0 * (2.0 / f64::from(n)).sqrt(), "{variance}");
        let grain = chance.grain();
        let speckle: Vec<f64> =
            (0..n).map(|i| f64::from(grain.speckle(i % 200, i / 200))).collect();
        let second = speckle.iter().map(|x| x * x).sum::<f64>() / f64::from(n);
        assert!((second - 1.0).abs() < 0.05, "{second}");
    }

    #[test]
    fn whole_numbers_reach_both_ends() {
        let mut chance = Chance::new(3, "whole");
        let draws: Vec<u32> = (0..200).map(|_| chance.whole(2, 5)).collect();
        assert_eq!((draws.iter().min(), draws.iter().max()), (Some(&2), Some(&5)));
        assert_eq!(chance.whole(4, 1), 4);
    }
}
