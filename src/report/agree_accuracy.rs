//! Accuracy against known ages, as JSON and as plain text; kept apart from agreement.

use std::fmt::Write as _;

use serde_json::{Value, json};

use crate::analysis::agreement::known_age::{Accuracy, Share};
use crate::analysis::agreement::verdict::p_text;
use crate::report::agree_json::bias_row_json;

/// The document for one reader's ages against known ages.
pub fn accuracy_json(accuracy: &Accuracy, reader: &str) -> Value {
    json!({
        "reader": reader,
        "n": accuracy.n,
        "correct": share(&accuracy.correct),
        "too_young": share(&accuracy.too_young),
        "too_old": share(&accuracy.too_old),
        "within_1": share(&accuracy.within_1),
        "error": {
            "direction": "read minus known",
            "mean": accuracy.error.mean,
            "sd": accuracy.error.sd,
            "ci95": accuracy.error.ci95,
            "t": accuracy.error.t,
            "df": accuracy.error.df,
            "p": accuracy.error.p,
        },
        "by_known_age": accuracy.by_known_age.iter()
            .map(|row| bias_row_json("known age", reader, row))
            .collect::<Vec<_>>(),
    })
}

/// The same for a terminal.
pub fn accuracy_text(accuracy: &Accuracy, reader: &str) -> String {
    let mut text = format!("Ages by {reader} against known ages, {} fish\n", accuracy.n);
    let shares = [
        ("correct", &accuracy.correct),
        ("too young", &accuracy.too_young),
        ("too old", &accuracy.too_old),
        ("within 1 year", &accuracy.within_1),
    ];
    for (name, share) in shares {
        let [low, high] = share.ci95;
        // Writing to a string cannot fail.
        let _ = writeln!(
            text,
            "  {name:<14}{:>5}{:>7.1} % (95 % {low:.1} to {high:.1})",
            share.n, share.percent
        );
    }
    let _ = writeln!(
        text,
        "Mean error {:.3} years, read minus known; paired t {}\nKnown ages show accuracy only for the ages, the \
         species and the structure they cover",
        accuracy.error.mean,
        p_text(accuracy.error.p)
    );
    text
}

fn share(share: &Share) -> Value {
    json!({ "n": share.n, "percent": share.percent, "ci95": share.ci95 })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::agreement::known_age::accuracy;
    use crate::analysis::agreement::matrix::AgeMatrix;

    #[test]
    fn shares_and_error_are_shown_in_both_forms() {
        let rows = [vec![5, 1, 0], vec![3, 6, 1], vec![1, 4, 9]];
        let found = accuracy(&AgeMatrix::from_counts(3, &rows).unwrap()).unwrap();
        let document = accuracy_json(&found, "kb");
        assert_eq!(document["correct"]["n"], json!(20));
        assert_eq!(document["by_known_age"][2]["age"], json!(5));
        let text = accuracy_text(&found, "kb");
        assert!(text.contains("  too young         8   26.7 %"), "{text}");
    }
}
