//! A small seeded generator of random numbers, the same on every machine.
//!
//! SplitMix64: Steele, Lea & Flood 2014, "Fast splittable pseudorandom number generators", OOPSLA '14 (constants
//! from memory; the first outputs for seed 0 are those widely printed for it). One stream per replicate makes results independent of
//! how work is shared among threads.

/// The state of one stream.
#[derive(Debug, Clone)]
pub struct SplitMix64 {
    state: u64,
}

const GOLDEN: u64 = 0x9E37_79B9_7F4A_7C15;

impl SplitMix64 {
    /// The stream of a seed.
    pub const fn new(seed: u64) -> Self {
        Self { state: seed }
    }

    /// Stream number `index` of a seed: streams of one seed do not follow one another.
    pub fn stream(seed: u64, index: u64) -> Self {
        let mut seeder = Self::new(seed);
        let base = seeder.next_u64();
        let mut mixer = Self::new(base ^ index.wrapping_mul(0xD134_2543_DE82_EF95));
        Self::new(mixer.next_u64())
    }

    /// The next 64 random bits.
    pub fn next_u64(&mut self) -> u64 {
        self.state = self.state.wrapping_add(GOLDEN);
        let mut z = self.state;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// A number evenly drawn from 0 (included) to 1 (excluded).
    pub fn next_unit(&mut self) -> f64 {
        (self.next_u64() >> 11) as f64 * (1.0 / (1u64 << 53) as f64)
    }

    /// A whole number evenly drawn from 0 to `n - 1`; 0 when `n` is 0. The bias of the multiply-and-shift is below
    /// `n / 2^64`.
    pub fn next_below(&mut self, n: usize) -> usize {
        ((u128::from(self.next_u64()) * n as u128) >> 64) as usize
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn first_outputs_are_the_published_ones() {
        let mut generator = SplitMix64::new(0);
        assert_eq!(generator.next_u64(), 0xE220_A839_7B1D_CDAF);
        assert_eq!(generator.next_u64(), 0x6E78_9E6A_A1B9_65F4);
        assert_eq!(generator.next_u64(), 0x06C4_5D18_8009_454F);
    }

    #[test]
    fn draws_stay_in_range_and_fill_it() {
        let mut generator = SplitMix64::stream(7, 3);
        let mut seen = [0usize; 6];
        for _ in 0..6000 {
            seen[generator.next_below(6)] += 1;
            let unit = generator.next_unit();
            assert!((0.0..1.0).contains(&unit));
        }
        assert!(seen.iter().all(|&count| (850..1150).contains(&count)), "{seen:?}");
    }

    #[test]
    fn streams_differ() {
        assert_ne!(SplitMix64::stream(1, 0).next_u64(), SplitMix64::stream(1, 1).next_u64());
    }
}
