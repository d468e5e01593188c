//! Do stated 95 % limits hold the truth? A slice of the campaign of `cargo bench --bench coverage`: invented lakes whose
//! truth is known, drawn and judged by the code of that bench.

#[path = "../../benches/coverage/lake.rs"]
mod lake;

use lake::{NAMES, Tallies, Trial, judge};

fn campaign(lakes: u64, trial: Trial) -> Tallies {
    let mut sum = Tallies::default();
    for lake in 0..lakes {
        let one = judge(5_000_000 + lake, trial);
        sum.iter_mut().zip(&one).for_each(|(sum, one)| sum.merge(one));
    }
    sum
}

fn tally<'a>(tallies: &'a Tallies, name: &str) -> &'a lake::Tally {
    &tallies[NAMES.iter().position(|known| *known == name).unwrap()]
}

/// 60 lakes: a length at age is judged some 500 times, a parameter 60 times, so the bounds are wide; the full campaign of
/// 2,000 lakes gives 94.7 to 95.6 % (and 97.6 % for years).
#[test]
fn limits_with_all_sources_hold_the_truth() {
    let trial = Trial { scatter_in_structure: false, is_given: false, replicates: 200 };
    let found = campaign(60, trial);
    for (name, least, most) in [
        ("length at age, all sources", 0.91, 0.98),
        ("Linf, all sources", 0.88, 1.0),
        ("K, all sources", 0.88, 1.0),
        ("effect of a year", 0.94, 1.0),
    ] {
        let tally = tally(&found, name);
        assert!(tally.given >= 60, "{name}: {tally:?}");
        assert!((least..=most).contains(&tally.share()), "{name}: {}", tally.share());
    }
    // What mends it: the scatter of fish alone leaves out the error of the intercept, which all of them share.
    let alone = tally(&found, "length at age, mean and SE alone").share();
    assert!(alone < tally(&found, "length at age, all sources").share(), "{alone}");
}

/// Where the scatter lies in the structure, length on radius is the wrong regression, and the program says so.
#[test]
fn the_choice_of_hypothesis_is_no_part_of_the_limits() {
    let right = Trial { scatter_in_structure: false, is_given: true, replicates: 200 };
    let wrong = Trial { scatter_in_structure: true, is_given: false, replicates: 200 };
    let share = |trial| tally(&campaign(40, trial), "length at age, all sources").share();
    assert!(share(wrong) < share(right) - 0.01);
}
