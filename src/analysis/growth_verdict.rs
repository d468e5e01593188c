//! Is it good growth or bad growth, and in which years: the numbers in words, with what speaks for it, what against, and
//! where the words end. Only limits that leave the standard on one side decide; levels of common practice stand beside the
//! figures.

use super::condition_summary::ConditionSummary;
use super::growth::FittedGrowth;
use super::reference::GrowthIndex;
use super::uncertainty::Propagated;
use super::year_effects::{YearEffect, YearEffects};

/// Growth against the standard.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum GrowthFinding {
    /// No standard, or no age with enough fish.
    #[default]
    NoStandard,
    /// The limits of the index hold 0.
    NotToldApart,
    /// Longer at age than the standard.
    Good,
    /// Shorter at age than the standard.
    Bad,
}

/// What there is to judge by; each part may be missing.
#[derive(Debug, Clone, Copy, Default)]
pub struct GrowthEvidence<'a> {
    /// Against the standard.
    pub index: Option<&'a GrowthIndex>,
    /// Growth years.
    pub years: &'a [YearEffects],
    /// Condition.
    pub condition: Option<&'a ConditionSummary>,
    /// The curve.
    pub curve: Option<&'a FittedGrowth>,
    /// Errors carried to the lengths.
    pub uncertainty: Option<&'a Propagated>,
    /// Annuli whose back-calculated lengths fall with age at capture (Lee's phenomenon), after Holm.
    pub lee_annuli: usize,
    /// Fish with lengths.
    pub n_fish: usize,
    /// Fish left out, for whatever reason.
    pub n_left_out: usize,
}

/// The judgement in words.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct GrowthVerdict {
    /// The finding.
    pub finding: GrowthFinding,
    /// One or two plain sentences.
    pub headline: String,
    /// What speaks for it.
    pub evidence_for: Vec<String>,
    /// What speaks against it, or weakens it.
    pub evidence_against: Vec<String>,
    /// What these numbers cannot say.
    pub limits: Vec<String>,
}

/// Puts the evidence into words.
pub fn growth_verdict(evidence: &GrowthEvidence<'_>) -> GrowthVerdict {
    let mut verdict = GrowthVerdict { finding: finding_of(evidence.index), ..Default::default() };
    against_standard(evidence, &mut verdict);
    by_years(evidence, &mut verdict);
    by_condition(evidence, &mut verdict);
    weaknesses(evidence, &mut verdict);
    verdict.limits = limits(evidence);
    verdict
}

fn finding_of(index: Option<&GrowthIndex>) -> GrowthFinding {
    match index.and_then(|index| index.ci95_mm) {
        None => GrowthFinding::NoStandard,
        Some([low, _]) if low > 0.0 => GrowthFinding::Good,
        Some([_, high]) if high < 0.0 => GrowthFinding::Bad,
        Some(_) => GrowthFinding::NotToldApart,
    }
}

fn against_standard(evidence: &GrowthEvidence<'_>, verdict: &mut GrowthVerdict) {
    let Some(index) = evidence.index else {
        verdict.headline = "There is no standard to hold this growth against.".to_owned();
        return;
    };
    let used: Vec<_> = index.ages.iter().filter(|age| age.is_used).collect();
    let mm = index.mean_deviation_mm.unwrap_or(0.0);
    let range = index.ci95_mm.map_or_else(String::new, |[low, high]| {
        format!(" (95 % limits {low:+.0} to {high:+.0} mm)")
    });
    verdict.headline = match verdict.finding {
        GrowthFinding::Good => {
            format!("Good growth: on average {mm:.0} mm above the standard at age.")
        }
        GrowthFinding::Bad => {
            format!("Poor growth: on average {:.0} mm below the standard at age.", -mm)
        }
        GrowthFinding::NotToldApart => {
            "Growth cannot be told apart from the standard with these fish.".to_owned()
        }
        GrowthFinding::NoStandard => format!(
            "No age has the {} fish needed to judge growth against the standard.",
            index.minimum_per_age
        ),
    };
    if used.is_empty() {
        return;
    }
    let percent = index
        .mean_percent
        .map_or_else(String::new, |percent| format!(", {percent:.0} % of the standard"));
    verdict.evidence_for.push(format!(
        "growth index {mm:+.0} mm{range}{percent}, over {} ages of {} fish or more",
        used.len(),
        index.minimum_per_age
    ));
    let is_above = mm >= 0.0;
    let other: Vec<String> = used
        .iter()
        .filter(|age| age.standing.is_some_and(|s| (s.deviation_mm >= 0.0) != is_above))
        .map(|age| age.age.to_string())
        .collect();
    let same = used.len() - other.len();
    verdict.evidence_for.push(format!(
        "{same} of {} ages lie {} the standard",
        used.len(),
        if is_above { "above" } else { "below" }
    ));
    if !other.is_empty() {
        verdict.evidence_against.push(format!("ages the other way: {}", other.join(", ")));
    }
}

fn by_years(evidence: &GrowthEvidence<'_>, verdict: &mut GrowthVerdict) {
    let all = || evidence.years.iter().flat_map(|piece| &piece.years);
    let named = |found: Vec<&YearEffect>| {
        found
            .iter()
            .map(|one| match one.percent {
                Some(percent) => format!("{} ({percent:+.0} %)", one.year),
                None => one.year.to_string(),
            })
            .collect::<Vec<_>>()
            .join(", ")
    };
    let poor: Vec<_> = all().filter(|one| one.is_poor()).collect();
    let good: Vec<_> = all().filter(|one| one.is_good()).collect();
    if evidence.years.is_empty() {
        return;
    }
    let words = match (poor.is_empty(), good.is_empty()) {
        (true, true) => " No year stands out.".to_owned(),
        (false, true) => format!(" Poor years: {}.", named(poor.clone())),
        (true, false) => format!(" Good years: {}.", named(good)),
        (false, false) => {
            format!(" Poor years: {}; good years: {}.", named(poor.clone()), named(good))
        }
    };
    verdict.headline.push_str(&words);
    let thin: Vec<String> =
        all().filter(|one| one.is_thin).map(|one| one.year.to_string()).collect();
    if !thin.is_empty() {
        verdict
            .evidence_against
            .push(format!("few increments, or of one age only, in {}", thin.join(", ")));
    }
    for one in poor {
        let ages = one.n_by_age.iter().filter(|n| **n > 0).count();
        if ages > 1 {
            verdict.evidence_for.push(format!(
                "{} was poor over {ages} ages and as many year classes: that speaks for forage or temperature, not for one class",
                one.year
            ));
        }
    }
}

fn by_condition(evidence: &GrowthEvidence<'_>, verdict: &mut GrowthVerdict) {
    let Some(condition) = evidence.condition else { return };
    let (Some(mean), Some(standard)) = (condition.mean_relative_weight, &condition.standard) else {
        return;
    };
    let words = format!(
        "mean relative weight {mean:.0} over {} fish (standard weight: {})",
        condition.n_relative, standard.source
    );
    let is_thin = mean < THIN;
    match (verdict.finding, is_thin) {
        (GrowthFinding::Bad, true) => verdict.evidence_for.push(format!(
            "{words}: thin fish that grow slowly point to a shortage of forage"
        )),
        (GrowthFinding::Bad, false) => verdict.evidence_against.push(format!(
            "{words}: the fish are not thin, so a shortage of forage at the time of capture is not shown"
        )),
        (_, true) => verdict.evidence_against.push(format!("{words}: the fish are thin")),
        (_, false) => verdict.evidence_for.push(words),
    }
}

/// Mean relative weight below which fish are called thin here (common practice, no source).
const THIN: f64 = 85.0;

fn weaknesses(evidence: &GrowthEvidence<'_>, verdict: &mut GrowthVerdict) {
    if evidence.lee_annuli > 0 {
        verdict.evidence_against.push(format!(
            "lengths at {} annuli fall with age at capture (Lee's phenomenon): fast growers may have died or been caught first, \
             or the relation of length and radius is wrong",
            evidence.lee_annuli
        ));
    }
    if let Some(curve) = evidence.curve {
        verdict.evidence_against.extend(curve.fit.warnings.iter().map(|one| one.message()));
    }
    let readers = evidence.uncertainty.and_then(|found| {
        let shares = found.sources.iter();
        shares.filter(|one| !one.source.is_of_single_fish()).find_map(|one| {
            (one.source == super::uncertainty::Source::Readers).then_some(one.share)
        })
    });
    match readers {
        Some(Some(share)) if share > 0.3 => verdict.evidence_against.push(format!(
            "{:.0} % of the uncertainty comes from disagreement of readers: settle ages before fish are added",
            100.0 * share
        )),
        Some(None) => verdict
            .evidence_against
            .push("no second reader: how far ages depend on who reads is not known".to_owned()),
        _ => {}
    }
}

fn limits(evidence: &GrowthEvidence<'_>) -> Vec<String> {
    let mut limits = vec![
        format!(
            "{} fish with lengths, {} left out; the words hold for the sizes this gear takes and the months sampled",
            evidence.n_fish, evidence.n_left_out
        ),
        "ages from scales are too low in old, slow fish, which makes growth look better than it is"
            .to_owned(),
    ];
    if !evidence.years.is_empty() {
        limits.push(
            "early years are seen through the fish that survived to be caught; their effects lean on few and old fish".to_owned(),
        );
    }
    if evidence.condition.is_some_and(|one| one.standard.is_none()) {
        limits.push(
            "no standard weight is entered, so nothing is said of thin or fat fish: enter one with its source".to_owned(),
        );
    }
    limits.push("a cause is not shown by growth alone: look at forage, temperature and density before acting".to_owned());
    limits
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::reference::growth_index;
    use crate::analysis::year_effects::{FishEffect, Increment, Scale, year_effects};
    use crate::domain::fish::{LengthType, Sex};
    use crate::domain::reference::{LengthBasis, ReferenceLength};
    use crate::domain::units::Millimetres;

    fn reference(age: u32, mean: f64) -> ReferenceLength {
        ReferenceLength {
            species: "walleye".to_owned(),
            sex: Sex::Unknown,
            age,
            basis: LengthBasis::Annulus,
            months: Vec::new(),
            length_type: LengthType::Total,
            structure: None,
            mean: Millimetres(mean),
            sd: None,
            n: None,
            percentiles: Vec::new(),
            source: "made for the test".to_owned(),
            row: 0,
        }
    }

    fn index(shift: f64) -> GrowthIndex {
        let standard = [reference(1, 150.0), reference(2, 250.0)];
        let fish: Vec<(u32, f64)> = (0..20)
            .map(|i| {
                let age = 1 + i % 2;
                (age, 50.0 + 100.0 * f64::from(age) + shift + f64::from(i % 5) - 2.0)
            })
            .collect();
        growth_index(&fish, &standard, 5)
    }

    #[test]
    fn limits_on_one_side_of_the_standard_decide() {
        let judge = |shift: f64| {
            let index = index(shift);
            growth_verdict(&GrowthEvidence { index: Some(&index), ..Default::default() })
        };
        let bad = judge(-30.0);
        assert_eq!(bad.finding, GrowthFinding::Bad);
        assert!(
            bad.headline.starts_with("Poor growth: on average 30 mm below"),
            "{}",
            bad.headline
        );
        assert!(bad.evidence_for[1].contains("2 of 2 ages lie below"));
        assert_eq!(judge(25.0).finding, GrowthFinding::Good);
        assert_eq!(judge(0.2).finding, GrowthFinding::NotToldApart);
        let none = growth_verdict(&GrowthEvidence::default());
        assert_eq!(none.finding, GrowthFinding::NoStandard);
        assert!(none.headline.contains("no standard"));
    }

    #[test]
    fn poor_years_are_named_with_what_they_rest_on() {
        let increments: Vec<Increment> = (0..60usize)
            .flat_map(|fish| (1..=4u32).map(move |age| (fish, age)))
            .map(|(fish, age)| {
                let year = 2012 + (fish % 5) as i32 + age as i32;
                let poor = if year == 2015 { 0.6 } else { 1.0 };
                let wobble = 1.0 + 0.05 * ((fish * 7 + age as usize * 3) % 11) as f64 / 11.0;
                Increment { fish, age, year, size: poor * wobble * 100.0 / f64::from(age) }
            })
            .collect();
        let years = [year_effects(&increments, Scale::Log, FishEffect::Random).unwrap()];
        let verdict = growth_verdict(&GrowthEvidence { years: &years, ..Default::default() });
        assert!(verdict.headline.contains("Poor years: 2015 (-"), "{}", verdict.headline);
        assert!(verdict.evidence_for.iter().any(|one| one.contains("2015 was poor over 3 ages")));
        assert!(verdict.limits.iter().any(|one| one.contains("survived")));
    }
}
