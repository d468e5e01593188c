//! How likely a symmetry statistic is when either reader is as likely to be the older one.
//!
//! Given that a pair of cells (or a pooled group of them) holds n disagreements, the number above the diagonal is
//! Binomial(n, 1/2), and the statistic is Σ(2x - n)²/n. The exact probability is found by enumeration, partial sums
//! that already reach the observed value being counted whole; where that grows too large it is simulated.

/// Values nearer than this count as equal to the observed statistic.
const TIE: f64 = 1e-9;
/// Partial sums nearer than this are the same value up to rounding.
const SAME_VALUE: f64 = 1e-11;
/// Partial sums formed before enumeration is given up.
const ENUMERATION_LIMIT: usize = 400_000;
/// Draws of a simulation, fewer for very large tables.
const MOST_DRAWS: usize = 10_000;
const FEWEST_DRAWS: usize = 1_000;
/// Binomial draws a simulation may take in all.
const SIMULATION_BUDGET: usize = 4_000_000;

/// A simulated p value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Simulated {
    /// (draws at least as large as observed + 1)/(draws + 1); Davison & Hinkley 1997, section 4.2 (from memory).
    pub p: f64,
    /// Number of draws.
    pub draws: usize,
    /// The seed they came from.
    pub seed: u64,
}

/// P(statistic >= `observed`) for groups of `sizes` disagreements; `None` where the enumeration is too large.
pub fn exact_p(sizes: &[u64], observed: f64) -> Option<f64> {
    let mut sizes = sizes.to_vec();
    // Large groups first: most of their values reach the observed one at once and need no further sums.
    sizes.sort_unstable_by(|a, b| b.cmp(a));
    // Sums still below the observed value; every one that reaches it is counted at once.
    let mut partial = vec![(0.0, 1.0)];
    let mut reached = 0.0;
    let mut formed = 0;
    for n in sizes {
        let terms = Terms::new(n)?;
        let mut next = Vec::with_capacity(partial.len());
        for (sum, probability) in &partial {
            let below = terms.values.partition_point(|value| sum + value < observed - TIE);
            reached += probability * terms.upper_tail(below);
            formed += below;
            if formed > ENUMERATION_LIMIT {
                return None;
            }
            let kept = terms.values.iter().zip(&terms.probabilities).take(below);
            next.extend(kept.map(|(value, weight)| (sum + value, probability * weight)));
        }
        partial = merged(next);
    }
    Some(reached.min(1.0))
}

/// The same probability from random draws; `None` without groups or with one too large to tabulate.
pub fn simulated_p(sizes: &[u64], observed: f64, seed: u64) -> Option<Simulated> {
    if sizes.is_empty() {
        return None;
    }
    let draws = (SIMULATION_BUDGET / sizes.len()).clamp(FEWEST_DRAWS, MOST_DRAWS);
    let samplers: Vec<Sampler> = sizes.iter().map(|n| Sampler::new(*n)).collect::<Option<_>>()?;
    let mut random = SplitMix(seed);
    let mut hits = 0_usize;
    for _ in 0..draws {
        let statistic: f64 = samplers.iter().map(|sampler| sampler.draw(&mut random)).sum();
        hits += usize::from(statistic >= observed - TIE);
    }
    Some(Simulated { p: (hits + 1) as f64 / (draws + 1) as f64, draws, seed })
}

/// The values (2x - n)²/n in rising order with their probabilities, x and n - x folded together.
struct Terms {
    values: Vec<f64>,
    probabilities: Vec<f64>,
    tails: Vec<f64>,
}

impl Terms {
    fn new(n: u64) -> Option<Self> {
        let half = usize::try_from(n / 2).ok()?;
        let (mut values, mut weights) =
            (Vec::with_capacity(half + 1), Vec::with_capacity(half + 1));
        // Walking out from the middle, each binomial coefficient over the middle one.
        let mut coefficient = 1.0_f64;
        for x in (0..=n / 2).rev() {
            let gap = (n - 2 * x) as f64;
            values.push(gap * gap / n as f64);
            weights.push(if n == 2 * x { coefficient } else { 2.0 * coefficient });
            coefficient *= x as f64 / (n - x + 1) as f64;
        }
        let total: f64 = weights.iter().rev().sum();
        let probabilities: Vec<f64> = weights.iter().map(|weight| weight / total).collect();
        let mut tails: Vec<f64> = probabilities
            .iter()
            .rev()
            .scan(0.0, |sum, probability| {
                *sum += probability;
                Some(*sum)
            })
            .collect();
        tails.reverse();
        Some(Self { values, probabilities, tails })
    }

    fn upper_tail(&self, from: usize) -> f64 {
        self.tails.get(from).copied().unwrap_or(0.0)
    }
}

fn merged(mut states: Vec<(f64, f64)>) -> Vec<(f64, f64)> {
    states.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
    states.dedup_by(|later, kept| {
        let same = later.0 - kept.0 <= SAME_VALUE * kept.0.max(1.0);
        if same {
            kept.1 += later.1;
        }
        same
    });
    states
}

enum Sampler {
    /// Up to this many coins are tossed one bit each.
    Coins(u32),
    /// More are drawn from the table of tails.
    Table(Terms),
}

impl Sampler {
    fn new(n: u64) -> Option<Self> {
        match u32::try_from(n) {
            Ok(n) if n <= 128 => Some(Self::Coins(n)),
            _ => Terms::new(n).map(Self::Table),
        }
    }

    fn draw(&self, random: &mut SplitMix) -> f64 {
        match self {
            Self::Coins(n) => {
                let gap = f64::from(*n) - 2.0 * f64::from(heads(*n, random));
                gap * gap / f64::from(*n)
            }
            Self::Table(terms) => {
                let tail = random.unit();
                let index = terms.tails.partition_point(|probability| *probability > tail);
                terms.values.get(index.saturating_sub(1)).copied().unwrap_or(0.0)
            }
        }
    }
}

fn heads(n: u32, random: &mut SplitMix) -> u32 {
    let mut left = n;
    let mut heads = 0;
    while left > 0 {
        let coins = left.min(64);
        heads += (random.next() >> (64 - coins)).count_ones();
        left -= coins;
    }
    heads
}

/// The generator of Steele, Lea & Flood 2014 (OOPSLA 2014, 453-472), with its published constants (from memory).
struct SplitMix(u64);

impl SplitMix {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    /// Uniform in [0, 1).
    fn unit(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every one of the Π(n + 1) outcomes written out, without folding, merging or stopping early.
    fn written_out(sizes: &[u64], observed: f64) -> f64 {
        let Some((n, rest)) = sizes.split_first() else {
            return if observed <= TIE { 1.0 } else { 0.0 };
        };
        let mut probability = 0.5_f64.powi(*n as i32);
        let mut sum = 0.0;
        for x in 0..=*n {
            let gap = *n as f64 - 2.0 * x as f64;
            sum += probability * written_out(rest, observed - gap * gap / *n as f64);
            probability *= (*n - x) as f64 / (x + 1) as f64;
        }
        sum
    }

    #[test]
    fn enumeration_agrees_with_every_outcome_written_out() {
        let mut compared = 0;
        for sizes in [vec![1], vec![4, 4], vec![7, 3, 1], vec![5, 2, 6, 3], vec![9, 8, 1, 1]] {
            for observed in [0.0, 0.5, 1.0, 2.0, 11.0 / 3.0, 6.0, 8.0, 12.0, 30.0] {
                let expected = written_out(&sizes, observed);
                let found = exact_p(&sizes, observed).unwrap();
                assert!(
                    (found - expected).abs() < 1e-13,
                    "{sizes:?} {observed}: {found} {expected}"
                );
                compared += 1;
            }
        }
        assert_eq!(compared, 45);
    }

    #[test]
    fn simulation_agrees_with_enumeration_within_its_noise() {
        for (sizes, observed) in [(vec![7, 3, 1], 4.0), (vec![200, 30], 3.0), (vec![129; 2], 4.7)] {
            let exact = exact_p(&sizes, observed).unwrap();
            let simulated = simulated_p(&sizes, observed, 11).unwrap();
            let noise = (exact * (1.0 - exact) / simulated.draws as f64).sqrt();
            assert!(
                (simulated.p - exact).abs() < 4.0 * noise + 1e-4,
                "{sizes:?}: {simulated:?} {exact}"
            );
            assert_eq!(simulated, simulated_p(&sizes, observed, 11).unwrap());
        }
    }

    #[test]
    fn a_table_too_large_to_enumerate_is_given_up() {
        let sizes: Vec<u64> = (0..60).map(|index| 40 + index).collect();
        assert_eq!(exact_p(&sizes, 70.0), None);
        assert!(simulated_p(&sizes, 70.0, 1).unwrap().p > 0.05);
        assert_eq!(simulated_p(&[], 1.0, 1), None);
    }
}
