//! Which year classes are strong, weak or missing, against what was stocked, and how many fish die each year.

use super::growth::no_answer;
use super::readers::ceiling;
use super::{Conclusion, Trust, listed};
use crate::analysis::population::study::AgeStudy;
use crate::analysis::population::year_class_strength::Strength;
use crate::report::report_units::fixed;
use crate::report::survey_report::SurveyReport;

/// The conclusion on year classes.
pub(super) fn year_classes(report: &SurveyReport) -> Conclusion {
    let question = "Which year classes are strong, weak or missing?";
    let study = match &report.ages {
        Ok(study) => study,
        Err(reason) => return no_answer(question, reason),
    };
    let of = |wanted: Strength| -> Vec<i16> {
        let rows = study.year_classes.iter().filter(|row| row.strength == wanted);
        rows.filter_map(|row| row.year_class).collect()
    };
    let mut parts = Vec::new();
    for (strength, word) in
        [(Strength::Strong, "Strong"), (Strength::Weak, "Weak"), (Strength::Missing, "Missing")]
    {
        let years = of(strength);
        if !years.is_empty() {
            parts.push(format!("{word}: {}.", listed(&years)));
        }
    }
    let is_judged = study.year_classes.iter().any(|row| row.strength != Strength::NotJudged);
    if parts.is_empty() {
        parts.push(if is_judged {
            "No year class stands out from a steady decline with age.".to_owned()
        } else {
            "None is judged: the catch gives no line to judge year classes by.".to_owned()
        });
    }
    parts.extend(stocked(study));
    let (limit, why) = ceiling(report);
    Conclusion {
        question,
        answer: parts.join(" "),
        trust: if is_judged { Trust::Fair.min(limit) } else { Trust::Low.min(limit) },
        because: format!(
            "one survey sees each year class at one age only, and gear does not catch all sizes alike; {why}"
        ),
    }
}

/// How the catch divides over stocked and unstocked year classes.
fn stocked(study: &AgeStudy) -> Option<String> {
    let known: Vec<_> = study
        .year_classes
        .iter()
        .filter_map(|row| Some((row.year_class?, row.n, row.stocked?)))
        .collect();
    let total: f64 = known.iter().map(|(_, n, _)| n).sum();
    if known.iter().all(|(_, _, number)| *number == 0) || total <= 0.0 {
        return None;
    }
    let from_stocked: f64 =
        known.iter().filter(|(_, _, number)| *number > 0).map(|(_, n, _)| n).sum();
    let absent: Vec<i16> = known
        .iter()
        .filter(|(_, n, number)| *number > 0 && *n < 0.5)
        .map(|(class, _, _)| *class)
        .collect();
    let mut text = format!(
        "{} percent of the catch of recorded years belongs to year classes that were stocked.",
        fixed(100.0 * from_stocked / total, 0)
    );
    if !absent.is_empty() {
        text.push_str(&format!(" Stocked and not found: {}.", listed(&absent)));
    }
    if from_stocked < total - 0.5 {
        text.push_str(
            " The others are natural fish, strays or fish aged a year off; marks tell which.",
        );
    }
    Some(text)
}

/// The conclusion on mortality; withheld where the rules withhold it.
pub(super) fn mortality(report: &SurveyReport) -> Conclusion {
    let question = "How many fish die each year?";
    let study = match &report.ages {
        Ok(study) => study,
        Err(reason) => return no_answer(question, reason),
    };
    let curve = match &study.catch_curve {
        Ok(curve) => curve,
        Err(withheld) => {
            return Conclusion {
                question,
                answer: format!("Withheld: {withheld}."),
                trust: Trust::NoAnswer,
                because: "a catch curve needs year classes that began alike and a catch that falls off with age".to_owned(),
            };
        }
    };
    let (limit, why) = ceiling(report);
    let range = curve
        .bootstrap
        .and_then(|drawn| drawn.survival)
        .map(|limits| {
            let [low, high] = limits.ci95;
            format!(
                " (95 % interval {} to {})",
                fixed(100.0 * (1.0 - high), 0),
                fixed(100.0 * (1.0 - low), 0)
            )
        })
        .unwrap_or_default();
    let Some(found) = &curve.chapman_robson else {
        return no_answer(question, "the estimate has no value for this catch");
    };
    Conclusion {
        question,
        answer: format!(
            "About {} percent of the fish older than age {} die in a year{range}.",
            fixed(100.0 * found.annual_mortality(), 0),
            found.ages.first().copied().unwrap_or_default()
        ),
        trust: if found.n < 30.0 { Trust::Low } else { Trust::Fair.min(limit) },
        because: format!(
            "constant recruitment and survival and equal catchability are assumed, and ages from scales that run low make \
             mortality look too high; {why}"
        ),
    }
}
