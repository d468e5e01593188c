//! Normal quantiles and deviates.
//!
//! Wichura 1988, "Algorithm AS 241: The percentage points of the normal distribution", Applied Statistics 37:477-484,
//! routine PPND16 (coefficients from memory; checked against the quantiles of a reference library in the test).

use std::sync::LazyLock;

use super::splitmix::SplitMix64;

const A: [f64; 8] = [
    3.387_132_872_796_366_5,
    133.141_667_891_784_38,
    1_971.590_950_306_551_3,
    13_731.693_765_509_46,
    45_921.953_931_549_87,
    67_265.770_927_008_7,
    33_430.575_583_588_13,
    2_509.080_928_730_122_7,
];
const B: [f64; 8] = [
    1.0,
    42.313_330_701_600_91,
    687.187_007_492_057_9,
    5_394.196_021_424_751,
    21_213.794_301_586_597,
    39_307.895_800_092_71,
    28_729.085_735_721_943,
    5_226.495_278_852_854,
];
const C: [f64; 8] = [
    1.423_437_110_749_683_5,
    4.630_337_846_156_546,
    5.769_497_221_460_691,
    3.647_848_324_763_204_5,
    1.270_458_252_452_368_4,
    0.241_780_725_177_450_6,
    0.022_723_844_989_269_184,
    7.745_450_142_783_414e-4,
];
const D: [f64; 8] = [
    1.0,
    2.053_191_626_637_759,
    1.676_384_830_183_803_8,
    0.689_767_334_985_1,
    0.148_103_976_427_480_08,
    0.015_198_666_563_616_457,
    5.475_938_084_995_345e-4,
    1.050_750_071_644_416_9e-9,
];
const E: [f64; 8] = [
    6.657_904_643_501_103,
    5.463_784_911_164_114,
    1.784_826_539_917_291_3,
    0.296_560_571_828_504_87,
    0.026_532_189_526_576_124,
    0.001_242_660_947_388_078_4,
    2.711_555_568_743_487_6e-5,
    2.010_334_399_292_288_1e-7,
];
const F: [f64; 8] = [
    1.0,
    0.599_832_206_555_888,
    0.136_929_880_922_735_8,
    0.014_875_361_290_850_615,
    7.868_691_311_456_133e-4,
    1.846_318_317_510_054_7e-5,
    1.421_511_758_316_446e-7,
    2.044_263_103_389_939_8e-15,
];

fn ratio(top: &[f64; 8], bottom: &[f64; 8], x: f64) -> f64 {
    let at = |c: &[f64; 8]| c.iter().rev().fold(0.0, |sum, c| sum * x + c);
    at(top) / at(bottom)
}

/// The value below which a standard normal deviate lies with probability `p`, for `p` between 0 and 1 (excluded).
pub fn normal_quantile(p: f64) -> f64 {
    let q = p - 0.5;
    if q.abs() <= 0.425 {
        return q * ratio(&A, &B, 0.180_625 - q * q);
    }
    let tail = if q < 0.0 { p } else { 1.0 - p };
    let r = (-tail.ln()).sqrt();
    let size = if r <= 5.0 { ratio(&C, &D, r - 1.6) } else { ratio(&E, &F, r - 5.0) };
    if q < 0.0 { -size } else { size }
}

/// Layers of the ziggurat.
const LAYERS: usize = 256;
/// Where the tail begins, and the area of each layer, for 256 of them.
const TAIL: f64 = 3.654_152_885_361_009;
const AREA: f64 = 0.004_928_673_233_974_655;

/// Edges of the layers and the density (without its constant) there.
struct Ziggurat {
    edges: [f64; LAYERS + 1],
    heights: [f64; LAYERS + 1],
}

fn density(x: f64) -> f64 {
    (-0.5 * x * x).exp()
}

static ZIGGURAT: LazyLock<Ziggurat> = LazyLock::new(|| {
    let mut edges = [0.0; LAYERS + 1];
    (edges[0], edges[1]) = (AREA / density(TAIL), TAIL);
    for layer in 2..LAYERS {
        let before: f64 = edges[layer - 1];
        edges[layer] = (-2.0 * (AREA / before + density(before)).ln()).sqrt();
    }
    Ziggurat { heights: edges.map(density), edges }
});

impl SplitMix64 {
    /// A standard normal deviate, by the ziggurat of Marsaglia & Tsang 2000 (J. Stat. Softw. 5(8), constants from memory,
    /// checked against the quantiles above): nearly always one random number, one product and one comparison.
    pub fn next_normal(&mut self) -> f64 {
        let ziggurat = &*ZIGGURAT;
        loop {
            let bits = self.next_u64();
            let layer = (bits & 0xFF) as usize;
            // From -1 to 1 by the upper bits, which the layer does not use.
            let unit = (bits >> 11) as f64 * (2.0 / (1u64 << 53) as f64) - 1.0;
            let x = unit * ziggurat.edges[layer];
            if x.abs() < ziggurat.edges[layer + 1] {
                return x;
            }
            if layer == 0 {
                return if unit < 0.0 { -self.next_tail() } else { self.next_tail() };
            }
            let (low, high) = (ziggurat.heights[layer], ziggurat.heights[layer + 1]);
            if low + (high - low) * self.next_unit() < density(x) {
                return x;
            }
        }
    }

    /// A deviate beyond the last edge (Marsaglia 1964).
    fn next_tail(&mut self) -> f64 {
        loop {
            let x = -(1.0 - self.next_unit()).ln() / TAIL;
            let y = -(1.0 - self.next_unit()).ln();
            if 2.0 * y > x * x {
                return TAIL + x;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use statrs::distribution::{ContinuousCDF, Normal};

    use super::*;

    #[test]
    fn quantiles_agree_with_a_reference_library() {
        let normal = Normal::new(0.0, 1.0).unwrap();
        for p in [1e-12, 1e-6, 0.001, 0.025, 0.07, 0.08, 0.3, 0.5, 0.8, 0.93, 0.975, 0.999_999] {
            // The library's own inverse is less exact than its distribution: go there and back.
            let back = normal.cdf(normal_quantile(p));
            assert!((back / p - 1.0).abs() < 1e-9, "{p}: {back}");
        }
        // Printed in any table: 1.959964 for 97.5 percent.
        assert!((normal_quantile(0.975) - 1.959_963_984_540_054).abs() < 1e-14);
        // The worked values of the algorithm's paper, from memory: p = 0.25 and 0.001.
        assert!((normal_quantile(0.25) + 0.674_489_750_196_081_7).abs() < 1e-15);
        assert!((normal_quantile(0.001) + 3.090_232_306_167_813_5).abs() < 1e-14);
    }

    #[test]
    fn deviates_have_mean_0_and_variance_1() {
        let mut random = SplitMix64::stream(5, 0);
        let n = 200_000;
        let (mut sum, mut square, mut outside) = (0.0, 0.0, 0);
        for _ in 0..n {
            let z = random.next_normal();
            sum += z;
            square += z * z;
            outside += usize::from(z.abs() > 1.959_963_984_540_054);
        }
        let n = f64::from(n);
        // The share below each quantile, the tail beyond the last layer included, within 4 standard errors.
        let mut random = SplitMix64::stream(6, 0);
        let drawn: Vec<f64> = (0..400_000).map(|_| random.next_normal()).collect();
        for p in [1e-4, 0.001, 0.01, 0.1, 0.3, 0.5, 0.77, 0.95, 0.999, 0.9999] {
            let below = drawn.iter().filter(|z| **z < normal_quantile(p)).count() as f64 / 4e5;
            assert!((below - p).abs() < 4.0 * (p * (1.0 - p) / 4e5).sqrt(), "{p}: {below}");
        }
        assert!((sum / n).abs() < 0.01 && (square / n - 1.0).abs() < 0.015);
        assert!((outside as f64 / n - 0.05).abs() < 0.002);
    }
}
