//! Do the readers agree, and how much that weighs on everything else.

use super::{Conclusion, Trust};
use crate::report::report_units::{counted, fixed};
use crate::report::survey_report::SurveyReport;

/// The most any conclusion that rests on ages may be trusted, and why.
pub(super) fn ceiling(report: &SurveyReport) -> (Trust, String) {
    match &report.agreement {
        Err(_) => (Trust::Fair, "the ages were not checked by a second reader".to_owned()),
        Ok(compared) if compared.verdict.bias.is_systematic() => {
            (Trust::Low, "the readers differ systematically, so the ages may be off".to_owned())
        }
        Ok(compared) if compared.precision.n < 30 => {
            (Trust::Fair, format!("only {} fish were read by all readers", compared.precision.n))
        }
        Ok(_) => (Trust::Good, "no systematic difference between the readers is shown".to_owned()),
    }
}

/// The conclusion on the readers.
pub(super) fn agreement(report: &SurveyReport) -> Conclusion {
    let question = "Can the ages be trusted?";
    let compared = match &report.agreement {
        Ok(compared) => compared,
        Err(reason) => {
            return Conclusion {
                question,
                answer: format!("Nobody can tell from these data: {reason}."),
                trust: Trust::NoAnswer,
                because: "agreement needs two independent readings of the same fish".to_owned(),
            };
        }
    };
    let precision = &compared.precision;
    let percent = |value: Option<f64>| value.map_or("no".to_owned(), |value| fixed(value, 0));
    let cv = compared.percent_errors().mean_cv.map_or(String::new(), |cv| {
        format!(" The mean coefficient of variation is {} percent.", fixed(cv, 1))
    });
    let bias = if compared.verdict.bias.is_systematic() {
        " The difference is systematic: settle it before the ages are used."
    } else {
        " No systematic difference is shown."
    };
    let aided = if report.aided_pairs.is_empty() {
        ""
    } else {
        " Both readers saw proposals, so their agreement is not independent."
    };
    let trust = if compared.verdict.bias.is_systematic() || !report.aided_pairs.is_empty() {
        Trust::Low
    } else {
        Trust::Fair
    };
    Conclusion {
        question,
        answer: format!(
            "Of {} read by all, the readers gave the same age to {} percent and stood within one year on {} percent.{cv}{bias}{aided}",
            counted(precision.n, "fish"),
            percent(precision.exact),
            percent(precision.within_1)
        ),
        trust,
        because: "never better than fair: agreement shows repeatability, not accuracy; only fish of known age or another validation shows that a count \
                  is right, and scale ages of old fish run low"
            .to_owned(),
    }
}
