//! How many cases are tried, with which numbers, and how a failing one is told.

use std::time::{Duration, Instant};

use proptest::prelude::*;
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};

/// No single case may take longer: a parser that hangs is as bad as one that panics.
const LONGEST: Duration = Duration::from_secs(5);

/// One step of damage: what, where, and with what. Small numbers do little, so that failures shrink to the least.
pub type Op = (u8, u32, u32);

/// A case: which sound file, and the damage done to it.
pub type Case = (u32, Vec<Op>);

/// Cases for each parser: `WINTERLINE_CASES`, else 256.
pub fn n_cases() -> u32 {
    number_from("WINTERLINE_CASES").unwrap_or(256)
}

fn number_from(name: &str) -> Option<u32> {
    let text = std::env::var(name).ok()?;
    Some(text.parse().unwrap_or_else(|_| panic!("{name}: expected a whole number, found '{text}'")))
}

/// Runs `test` on as many cases as asked for. The same cases each time, unless `WINTERLINE_SEED` gives others.
pub fn run<S: Strategy>(strategy: &S, test: impl Fn(S::Value) -> Result<(), TestCaseError>)
where
    S::Value: std::fmt::Debug,
{
    let cases = n_cases();
    let config = Config { cases, failure_persistence: None, ..Config::default() };
    let mut seed = [0_u8; 32];
    seed[..4].copy_from_slice(&number_from("WINTERLINE_SEED").unwrap_or(1).to_le_bytes());
    let rng = TestRng::from_seed(RngAlgorithm::ChaCha, &seed);
    let mut runner = TestRunner::new_with_rng(config, rng);
    let timed = |value| {
        let began = Instant::now();
        test(value)?;
        let took = began.elapsed();
        prop_assert!(took < LONGEST, "took {took:?}");
        Ok(())
    };
    if let Err(error) = runner.run(strategy, timed) {
        panic!("{error}");
    }
    if cases > 256 {
        eprintln!("{cases} cases: {}", std::thread::current().name().unwrap_or_default());
    }
}

/// Damaged copies of sound files.
pub fn damaged() -> impl Strategy<Value = Case> {
    let op = (any::<u8>(), any::<u32>(), any::<u32>());
    (any::<u32>(), proptest::collection::vec(op, 0..5))
}

/// The element a large number falls on; `None` of nothing.
pub fn pick<T>(all: &[T], at: u32) -> Option<&T> {
    all.get(place(all.len(), at)?)
}

/// The index a large number falls on.
pub fn place(length: usize, at: u32) -> Option<usize> {
    (at as usize).checked_rem(length)
}
