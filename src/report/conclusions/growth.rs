//! Is growth good or poor, does it point to a shortage of forage, and which years were poor.

use super::readers::ceiling;
use super::{Conclusion, Trust, listed};
use crate::analysis::reference::AgeComparison;
use crate::report::report_units::{counted, fixed};
use crate::report::survey_report::SurveyReport;

/// Fish every age of the index should have before the index is called well supported (common practice, no source).
const ENOUGH_PER_AGE: usize = 10;
/// Points of percent between young and old fish that count as a gap that changes (common practice, no source).
const CHANGE_PERCENT: f64 = 3.0;

/// Growth against the standard.
pub(super) fn against_standard(report: &SurveyReport) -> Conclusion {
    let question = "Is growth good or poor?";
    let compared = match &report.against {
        Ok(compared) => compared,
        Err(reason) => return no_answer(question, reason),
    };
    let index = &compared.index;
    let (Some(mean), Some(percent)) = (index.mean_deviation_mm, index.mean_percent) else {
        let reason = format!("no age has the {} fish the index asks for", index.minimum_per_age);
        return no_answer(question, &reason);
    };
    let used: Vec<&AgeComparison> = index.ages.iter().filter(|age| age.is_used).collect();
    let units = report.units;
    let size = units.fine_text(mean.abs());
    let unit = units.length_unit();
    let share = fixed((percent - 100.0).abs(), 0);
    let words = match index.ci95_mm {
        Some([low, _]) if low > 0.0 => {
            format!(
                "Growth is good: fish are on average {size} {unit} ({share} percent) longer at age than the standard."
            )
        }
        Some([_, high]) if high < 0.0 => {
            format!(
                "Growth is poor: fish are on average {size} {unit} ({share} percent) shorter at age than the standard."
            )
        }
        Some(_) => format!(
            "Growth is not shown to differ from the standard: the mean difference is {} {unit} ({} percent), and its 95 % interval spans zero.",
            units.fine_text(mean),
            fixed(percent - 100.0, 0)
        ),
        None => format!(
            "Fish are on average {size} {unit} {} than the standard, without an interval to judge it by.",
            if mean < 0.0 { "shorter" } else { "longer" }
        ),
    };
    let fewest = used.iter().map(|age| age.n).min().unwrap_or(0);
    let (limit, why) = ceiling(report);
    let own = match (used.len(), fewest, index.ci95_mm) {
        (_, _, None) | (0..=1, _, _) => Trust::Low,
        (4.., ENOUGH_PER_AGE.., _) => Trust::Good,
        _ => Trust::Fair,
    };
    Conclusion {
        question,
        answer: words,
        trust: own.min(limit),
        because: format!(
            "the index rests on {} with {} or more each; {why}; the standard is taken as exact and must suit this water",
            counted(used.len() as u64, "age"),
            counted(fewest as u64, "fish"),
        ),
    }
}

/// Percent of the standard over the younger and the older half of the ages used.
fn halves(used: &[&AgeComparison]) -> Option<(f64, f64)> {
    if used.len() < 4 {
        return None;
    }
    let (young, old) = used.split_at(used.len() / 2);
    let mean = |ages: &[&AgeComparison]| {
        let percents: Vec<f64> =
            ages.iter().filter_map(|age| Some(age.standing.as_ref()?.percent)).collect();
        (!percents.is_empty()).then(|| percents.iter().sum::<f64>() / percents.len() as f64)
    };
    Some((mean(young)?, mean(old)?))
}

/// Does it point to a shortage of forage? The pattern of lengths alone can hint at it and never prove it.
pub(super) fn forage(report: &SurveyReport) -> Conclusion {
    let question = "Does growth point to a shortage of forage?";
    let compared = match &report.against {
        Ok(compared) => compared,
        Err(reason) => return no_answer(question, reason),
    };
    let used: Vec<&AgeComparison> = compared.index.ages.iter().filter(|age| age.is_used).collect();
    let Some((young, old)) = halves(&used) else {
        return no_answer(question, "fewer than four ages have enough fish to see a pattern");
    };
    let is_slow = compared.index.ci95_mm.is_some_and(|[_, high]| high < 0.0);
    let figures = format!(
        "younger ages stand at {} and older ages at {} percent of the standard",
        fixed(young, 0),
        fixed(old, 0)
    );
    let answer = if !is_slow && old > 100.0 - CHANGE_PERCENT {
        format!("Nothing in the lengths points to it: {figures}.")
    } else if old < young - CHANGE_PERCENT {
        format!(
            "It may: {figures}. A gap that widens with age is what a shortage of prey for larger fish would leave, but also \
             what ages read too high, selective fishing on fast growers or a standard from other waters would leave."
        )
    } else if old > young + CHANGE_PERCENT {
        format!(
            "Rather not for larger fish: {figures}. The shortfall is laid down early in life, where crowding or a short first \
             season also show."
        )
    } else {
        format!("The lengths do not decide it: {figures}, much alike at all ages.")
    };
    let (limit, why) = ceiling(report);
    Conclusion {
        question,
        answer,
        trust: Trust::Fair.min(limit),
        because: format!(
            "lengths hint at causes and prove none: condition, stomachs and the catch of prey fish must settle it; {why}"
        ),
    }
}

/// Poor and good growth years.
pub(super) fn years(report: &SurveyReport) -> Conclusion {
    let question = "Which years were good or poor for growth?";
    let Some(effects) = report.year_effects.first() else {
        let reason = report
            .year_notes
            .first()
            .map_or("too few increments over years and ages", String::as_str);
        return no_answer(question, reason);
    };
    let pick = |is_wanted: fn(&crate::analysis::year_effects::YearEffect) -> bool| -> Vec<i32> {
        let found = effects.years.iter().filter(|year| is_wanted(year) && !year.is_thin);
        found.map(|year| year.year).collect()
    };
    let (poor, good) = (pick(|year| year.is_poor()), pick(|year| year.is_good()));
    let thin: Vec<i32> =
        effects.years.iter().filter(|year| year.is_thin).map(|year| year.year).collect();
    let answer = match (poor.as_slice(), good.as_slice()) {
        ([], []) => "No year stands out: every interval spans the average year.".to_owned(),
        (poor, []) => format!("Poor: {}. No year was clearly good.", listed(poor)),
        ([], good) => format!("Good: {}. No year was clearly poor.", listed(good)),
        (poor, good) => format!("Poor: {}. Good: {}.", listed(poor), listed(good)),
    };
    let thin_words = if thin.is_empty() {
        String::new()
    } else {
        format!("; {} rest on few increments and are not judged", listed(&thin))
    };
    let (limit, why) = ceiling(report);
    Conclusion {
        question,
        answer,
        trust: Trust::Fair.min(limit),
        because: format!(
            "{} increments of {} at {}{thin_words}; early years are seen only through fish that survived; {why}",
            effects.n,
            counted(effects.n_fish as u64, "fish"),
            counted(effects.ages.len() as u64, "age"),
        ),
    }
}

pub(super) fn no_answer(question: &'static str, reason: &str) -> Conclusion {
    Conclusion {
        question,
        answer: format!("No answer: {reason}."),
        trust: Trust::NoAnswer,
        because: "what is missing stands in the answer".to_owned(),
    }
}
