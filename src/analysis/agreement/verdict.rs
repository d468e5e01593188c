//! What the numbers say, in words, each sentence with its basis.
//!
//! Only the tests decide, at a stated level. Reference levels that are common practice or recalled from memory stand
//! beside the figures and never decide by themselves.

use super::bias::BiasRow;
use super::comparison::{PairComparison, Settings};
use super::precision::Precision;
use super::symmetry::{Symmetry, SymmetryTest};
use crate::analysis::numerics::holm::holm;

/// Mean CV that is a common target for species of moderate longevity, percent (Campana 2001, from memory).
const CV_TARGET: f64 = 5.0;
/// Median CV over published studies, percent (Campana 2001, from memory).
const CV_MEDIAN: f64 = 7.6;
/// Fewer fish than this are called few (common practice, no source).
const FEW_FISH: u64 = 30;

/// What a sentence rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Basis {
    /// A published test.
    Published,
    /// A published level recalled from memory: stands beside the figure, decides nothing.
    FromMemory,
    /// Common practice without a source: stands beside the figure, decides nothing.
    CommonPractice,
    /// A count of the data themselves.
    Count,
}

impl Basis {
    /// A few plain words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Published => "published test",
            Self::FromMemory => "published level, from memory, does not decide",
            Self::CommonPractice => "common practice, no source, does not decide",
            Self::Count => "count",
        }
    }
}

/// Is there a systematic difference between the readers?
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum BiasFinding {
    /// No fish, or nothing that can be tested.
    #[default]
    CannotTell,
    /// The readers agree on every fish.
    NoDisagreement,
    /// Disagreements look like scatter; a bias is not shown, which does not prove that there is none.
    NotShown,
    /// The second reader reads younger.
    SecondYounger,
    /// The second reader reads older.
    SecondOlder,
    /// The readers part in a pattern that changes with age or with the size of the difference.
    Pattern,
}

impl BiasFinding {
    /// True where the difference is systematic.
    pub const fn is_systematic(self) -> bool {
        matches!(self, Self::SecondYounger | Self::SecondOlder | Self::Pattern)
    }

    /// The word used in files.
    pub const fn word(self) -> &'static str {
        match self {
            Self::CannotTell => "cannot-tell",
            Self::NoDisagreement => "no-disagreement",
            Self::NotShown => "not-shown",
            Self::SecondYounger => "second-younger",
            Self::SecondOlder => "second-older",
            Self::Pattern => "pattern",
        }
    }
}

/// A sentence and what it rests on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Statement {
    /// The sentence.
    pub text: String,
    /// Its basis.
    pub basis: Basis,
    /// The source of the test or level; empty for a count.
    pub source: &'static str,
}

/// A verdict.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Verdict {
    /// Whether the difference is systematic; over more than two readers the gravest finding of a pair.
    pub bias: BiasFinding,
    /// What the numbers say.
    pub statements: Vec<Statement>,
    /// What to do next.
    pub next: Vec<String>,
    /// What the numbers cannot say.
    pub cautions: Vec<&'static str>,
}

/// A probability for a person: `p = 0.034`, `p < 0.001`, `no test`.
pub fn p_text(p: Option<f64>) -> String {
    match p {
        Some(p) if p < 0.001 => "p < 0.001".to_owned(),
        Some(p) => format!("p = {p:.3}"),
        None => "no test".to_owned(),
    }
}

/// The verdict on two readers.
pub(super) fn pair_verdict(pair: &PairComparison, settings: Settings) -> Verdict {
    let symmetry = pair.symmetry.iter().find(|result| result.test == SymmetryTest::EvansHoenig);
    let bias = bias_finding(pair, symmetry, settings.level);
    let mut statements = precision_statements(&pair.precision, settings);
    statements.extend(bias_statement(pair, symmetry, bias, settings.level));
    statements.extend(parting_ages(pair, settings.level));
    let next = next_steps(bias, pair.precision.n);
    Verdict { bias, statements, next, cautions: CAUTIONS.to_vec() }
}

/// The verdict on a set of readers.
pub(super) fn set_verdict(
    precision: &Precision,
    pairs: &[PairComparison],
    settings: Settings,
) -> Verdict {
    if let [only] = pairs {
        return only.verdict.clone();
    }
    let gravity = |finding: BiasFinding| match finding {
        BiasFinding::CannotTell => 0,
        BiasFinding::NoDisagreement => 1,
        BiasFinding::NotShown => 2,
        BiasFinding::Pattern => 3,
        BiasFinding::SecondYounger | BiasFinding::SecondOlder => 4,
    };
    let findings = pairs.iter().map(|pair| pair.verdict.bias);
    let bias = findings.max_by_key(|finding| gravity(*finding)).unwrap_or_default();
    let mut statements = precision_statements(precision, settings);
    statements.extend(pairs.iter().filter(|pair| pair.verdict.bias.is_systematic()).map(|pair| {
        let [first, second] = &pair.readers;
        let text = format!("{first} and {second}: {}", finding_text(pair, pair.verdict.bias));
        Statement { text, basis: Basis::Published, source: BIAS_SOURCE }
    }));
    Verdict { bias, statements, next: next_steps(bias, precision.n), cautions: CAUTIONS.to_vec() }
}

const BIAS_SOURCE: &str = "Evans & Hoenig 1998; paired t; adjusted together by Holm 1979";

const CAUTIONS: [&str; 3] = [
    "agreement is precision, not accuracy: readers can share the same mistake; only known ages show who is right",
    "CV and percent error depend on the range of ages: compare them only between samples of the same species and like ages",
    "scales tend to underestimate the age of old, slow-growing fish",
];

fn bias_finding(pair: &PairComparison, symmetry: Option<&Symmetry>, level: f64) -> BiasFinding {
    let (Some(symmetry), Some(difference)) = (symmetry, &pair.difference) else {
        return BiasFinding::CannotTell;
    };
    if symmetry.df == 0 {
        return BiasFinding::NoDisagreement;
    }
    let adjusted = holm(&[symmetry.best_p(), difference.p]);
    let shows = |index: usize| adjusted.get(index).copied().flatten().is_some_and(|p| p < level);
    let shifted = shows(1) || (difference.p.is_none() && shows(0));
    match (shifted, shows(0)) {
        (true, _) if difference.mean < 0.0 => BiasFinding::SecondYounger,
        (true, _) if difference.mean > 0.0 => BiasFinding::SecondOlder,
        (_, true) => BiasFinding::Pattern,
        _ => BiasFinding::NotShown,
    }
}

fn finding_text(pair: &PairComparison, bias: BiasFinding) -> String {
    let [first, second] = &pair.readers;
    let mean = pair.difference.map_or(0.0, |difference| difference.mean.abs());
    match bias {
        BiasFinding::CannotTell => "there is nothing to test".to_owned(),
        BiasFinding::NoDisagreement => format!("{first} and {second} agree on every fish"),
        BiasFinding::NotShown => {
            "disagreements look like scatter: a systematic difference is not shown".to_owned()
        }
        BiasFinding::SecondYounger => {
            format!(
                "{second} reads younger than {first}, by {mean:.2} years on average: systematic"
            )
        }
        BiasFinding::SecondOlder => {
            format!("{second} reads older than {first}, by {mean:.2} years on average: systematic")
        }
        BiasFinding::Pattern => {
            "the readers part in a pattern, not by a steady shift: systematic".to_owned()
        }
    }
}

fn bias_statement(
    pair: &PairComparison,
    symmetry: Option<&Symmetry>,
    bias: BiasFinding,
    level: f64,
) -> Option<Statement> {
    let (symmetry, difference) = (symmetry?, pair.difference?);
    let finding = finding_text(pair, bias);
    if matches!(bias, BiasFinding::CannotTell | BiasFinding::NoDisagreement) {
        return Some(Statement { text: finding, basis: Basis::Count, source: "" });
    }
    let text = format!(
        "{finding} (Evans-Hoenig chi-square {:.2}, {} df, {}; paired t {}; level {level})",
        symmetry.chi2,
        symmetry.df,
        p_text(symmetry.best_p()),
        p_text(difference.p)
    );
    Some(Statement { text, basis: Basis::Published, source: BIAS_SOURCE })
}

fn precision_statements(precision: &Precision, settings: Settings) -> Vec<Statement> {
    let mut statements = Vec::new();
    if let Some(cv) = precision.percent_errors(settings.mean_age_zero).mean_cv {
        let place = match cv {
            cv if cv <= CV_TARGET => format!("within the common target of {CV_TARGET} %"),
            cv if cv <= CV_MEDIAN => {
                format!(
                    "above the common target of {CV_TARGET} %, within the published median of {CV_MEDIAN} %"
                )
            }
            _ => format!("above the published median of {CV_MEDIAN} %"),
        };
        let text = format!("mean CV {cv:.1} %: {place}");
        let source = "Campana 2001 (J. Fish Biol. 59:197-242)";
        statements.push(Statement { text, basis: Basis::FromMemory, source });
    }
    if let (Some(exact), Some(within_1)) = (precision.exact, precision.within_1) {
        let text = format!(
            "exact agreement {exact:.1} % (usual limit 80 % for short-lived species, 70 % for others); within one \
             year {within_1:.1} % (usual limit 95 %)"
        );
        statements.push(Statement { text, basis: Basis::CommonPractice, source: "" });
    }
    statements
}

/// The ages at which the mean of the other reader departs, and which way, in both directions of reading the table.
fn parting_ages(pair: &PairComparison, level: f64) -> Option<Statement> {
    let [first, second] = &pair.readers;
    let directions = [(first, second, &pair.bias_on_first), (second, first, &pair.bias_on_second)];
    let mut parts = Vec::new();
    for (reference, reader, rows) in directions {
        for (way, is_older) in [("older", true), ("younger", false)] {
            let ages = parted(rows, level, is_older);
            if !ages.is_empty() {
                parts.push(format!(
                    "{reader} reads {way} than {reference} at age {}",
                    ages.join(", ")
                ));
            }
        }
    }
    if parts.is_empty() {
        return None;
    }
    let text = format!(
        "by the age of the reader named last, {} (an age that shows in one direction only may be the tilt that any \
         scatter gives the oldest and youngest)",
        parts.join("; ")
    );
    let source = "Campana, Annand & McMillan 1995; Holm 1979";
    Some(Statement { text, basis: Basis::Published, source })
}

fn parted(rows: &[BiasRow], level: f64, is_older: bool) -> Vec<String> {
    let shown = rows.iter().filter(|row| {
        row.p_holm.is_some_and(|p| p < level) && (row.mean > f64::from(row.age)) == is_older
    });
    shown.map(|row| row.age.to_string()).collect()
}

fn next_steps(bias: BiasFinding, n: u64) -> Vec<String> {
    let mut next: Vec<&str> = match bias {
        BiasFinding::CannotTell => vec!["have both readers age the same fish"],
        BiasFinding::NoDisagreement => vec!["nothing to resolve between these readers"],
        BiasFinding::NotShown => {
            vec!["resolve the fish they part on with a third reading or jointly"]
        }
        BiasFinding::SecondYounger | BiasFinding::SecondOlder | BiasFinding::Pattern => vec![
            "look at the fish they part on together, starting where most part: first annulus, checks, margin",
            "agree on the rule that was read differently, then re-read a fresh blind list",
            "do not average these ages and do not pool them until the difference is explained",
            "compare both readers with fish of known age: these numbers cannot say who is right",
        ],
    };
    if bias != BiasFinding::CannotTell && n < FEW_FISH {
        next.push("read more fish in common: with fewer than 30 a bias easily goes unseen (common practice, no source)");
    }
    next.into_iter().map(str::to_owned).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::agreement::comparison::compare;
    use crate::analysis::agreement::readings::ReaderAges;

    fn verdict(first: &[u32], second: &[u32]) -> Verdict {
        let column = |ages: &[u32]| ages.iter().copied().map(Some).collect();
        let names = vec!["kb".to_owned(), "rt".to_owned()];
        let ages = ReaderAges::new(names, vec![column(first), column(second)]).unwrap();
        compare(&ages, Settings::default()).pairs.remove(0).verdict
    }

    #[test]
    fn a_steady_shift_is_systematic_even_without_spread() {
        let first: Vec<u32> = (0..40).map(|fish| 2 + fish % 5).collect();
        let older: Vec<u32> = first.iter().map(|age| age + 1).collect();
        assert_eq!(verdict(&first, &older).bias, BiasFinding::SecondOlder);
        assert_eq!(verdict(&older, &first).bias, BiasFinding::SecondYounger);
    }

    #[test]
    fn scatter_is_not_called_a_bias_however_poor_the_precision() {
        let first: Vec<u32> = (0..60).map(|fish| 2 + fish % 5).collect();
        let second: Vec<u32> = first
            .iter()
            .zip(0..)
            .map(|(age, fish)| if fish % 2 == 0 { age + 1 } else { age - 1 })
            .collect();
        let found = verdict(&first, &second);
        assert_eq!(found.bias, BiasFinding::NotShown);
        assert!(found.statements.iter().any(|s| s.text.contains("above the published median")));
    }

    #[test]
    fn full_agreement_and_few_fish_are_said() {
        let found = verdict(&[3, 4, 5], &[3, 4, 5]);
        assert_eq!(found.bias, BiasFinding::NoDisagreement);
        assert!(found.next.iter().any(|step| step.contains("read more fish")));
        assert!(!found.bias.is_systematic());
    }

    #[test]
    fn the_ages_that_part_are_named_with_their_direction() {
        let first: Vec<u32> = (0..80).map(|fish| if fish % 2 == 0 { 3 } else { 8 }).collect();
        let turned = first.iter().zip(0..).map(|(age, fish)| match (age, fish % 10) {
            (3, 0) | (8, 1) => *age,
            (3, _) => 4,
            _ => 6,
        });
        let found = verdict(&first, &turned.collect::<Vec<_>>());
        assert_eq!(found.bias, BiasFinding::SecondYounger);
        let text = "rt reads older than kb at age 3; rt reads younger than kb at age 8";
        assert!(found.statements.iter().any(|s| s.text.contains(text)), "{:?}", found.statements);
    }

    #[test]
    fn probabilities_read_well() {
        assert_eq!(p_text(Some(0.0342)), "p = 0.034");
        assert_eq!(p_text(Some(1e-9)), "p < 0.001");
        assert_eq!(p_text(None), "no test");
    }
}
