//! Do stated 95 % limits hold the truth 95 times in 100? Invented lakes of pure numbers.
//!
//! `cargo bench --bench coverage -- [--lakes 2000] [--replicates 400] [--seed 1]`
#![allow(missing_docs)]
#![allow(clippy::print_stdout, clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod lake;

use lake::{NAMES, Tallies, Trial, judge};
use rayon::prelude::*;

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    let number = |name: &str, usual: u64| {
        let place = arguments.iter().position(|argument| argument == name);
        place.and_then(|place| arguments.get(place + 1)?.parse().ok()).unwrap_or(usual)
    };
    let (lakes, seed) = (number("--lakes", 2000), number("--seed", 1));
    let replicates = number("--replicates", 400) as usize;
    for (title, scatter_in_structure, is_given) in [
        ("Intercept fitted; the regression is the right one", false, false),
        ("Intercept given and true", false, true),
        (
            "Intercept fitted; the scatter lies in the structure, the regression is the wrong one",
            true,
            false,
        ),
    ] {
        let trial = Trial { scatter_in_structure, is_given, replicates };
        let start = std::time::Instant::now();
        let tallies = campaign(lakes, seed, trial);
        println!("\n{title}: {lakes} lakes, {replicates} replicates, seed {seed}");
        println!(
            "{:<36}{:>9}{:>9}{:>12}{:>12}{:>11}",
            "", "limits", "held %", "too low %", "too high %", "no limits"
        );
        for (name, tally) in NAMES.iter().zip(&tallies).filter(|(_, tally)| tally.given > 0) {
            let percent = |count: usize| 100.0 * count as f64 / tally.given as f64;
            println!(
                "{name:<36}{:>9}{:>9.1}{:>12.1}{:>12.1}{:>11}",
                tally.given,
                100.0 * tally.share(),
                percent(tally.given - tally.held - tally.below),
                percent(tally.below),
                tally.not_given
            );
        }
        println!("{:.0} s", start.elapsed().as_secs_f64());
    }
}

fn campaign(lakes: u64, seed: u64, trial: Trial) -> Tallies {
    let all: Vec<Tallies> =
        (0..lakes).into_par_iter().map(|lake| judge(seed * 1_000_003 + lake, trial)).collect();
    let mut sum = Tallies::default();
    for one in &all {
        sum.iter_mut().zip(one).for_each(|(sum, one)| sum.merge(one));
    }
    sum
}
