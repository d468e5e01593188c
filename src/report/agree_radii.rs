//! Radii of two readers annulus by annulus, as JSON and as plain text. Micrometres, second reader minus first.

use std::fmt::Write as _;

use serde_json::{Value, json};

use crate::analysis::agreement::matching::RadiusAgreement;
use crate::report::agree_json::limits_json;

/// The document for the radii of two readers.
pub fn radii_json(radii: &RadiusAgreement) -> Value {
    json!({
        "direction": "second minus first",
        "n_fish": radii.n_fish,
        "n_equal_counts": radii.n_equal_counts,
        "n_same_count_other_annuli": radii.n_other_annuli,
        "only_first_reader": radii.only_first,
        "only_second_reader": radii.only_second,
        "by_annulus": radii.by_annulus.iter().map(|row| json!({
            "annulus": row.number,
            "n": row.n,
            "mean_difference_um": (row.n > 0).then(|| row.mean.value()),
            "sd_um": row.sd.map(|sd| sd.value()),
            "n_parting": row.n_parting,
        })).collect::<Vec<_>>(),
        "limits_um": radii.limits.as_ref().map(limits_json),
    })
}

/// The radii of two readers for a terminal.
pub fn radii_text(radii: &RadiusAgreement, [first, second]: &[String; 2]) -> String {
    let mut text = format!(
        "Radii of {second} minus {first}, micrometres\n{} fish, {} with equal counts ({} of these from other annuli)\n\
         Annuli only {first} marked {}, only {second} {}\n  annulus     n    mean      sd  part here\n",
        radii.n_fish,
        radii.n_equal_counts,
        radii.n_other_annuli,
        radii.only_first,
        radii.only_second
    );
    for row in &radii.by_annulus {
        let mean = if row.n > 0 { format!("{:.1}", row.mean.value()) } else { "-".to_owned() };
        let sd = row.sd.map_or("-".to_owned(), |sd| format!("{:.1}", sd.value()));
        // Writing to a string cannot fail.
        let _ =
            writeln!(text, "{:>9}{:>6}{mean:>8}{sd:>8}{:>11}", row.number, row.n, row.n_parting);
    }
    if let Some(limits) = &radii.limits {
        let _ = writeln!(
            text,
            "Limits of agreement {:.1} to {:.1}; error of one mark {:.1} (equal counts only)",
            limits.lower, limits.upper, limits.within_sd
        );
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::agreement::matching::{match_annuli, radius_agreement};
    use crate::domain::units::Micrometres;

    #[test]
    fn where_readings_part_is_shown_in_both_forms() {
        let radii = |values: &[f64]| values.iter().copied().map(Micrometres).collect::<Vec<_>>();
        let matches = [
            match_annuli(&radii(&[400.0, 800.0]), &radii(&[410.0, 804.0])),
            match_annuli(&radii(&[400.0, 800.0, 1100.0]), &radii(&[410.0, 1090.0])),
        ];
        let found = radius_agreement(&matches);
        let document = radii_json(&found);
        assert_eq!(document["by_annulus"][1]["n_parting"], json!(1));
        assert_eq!(document["only_first_reader"], json!(1));
        assert_eq!(document["limits_um"]["mean"], json!(7.0));
        let text = radii_text(&found, &["kb".to_owned(), "rt".to_owned()]);
        assert!(text.contains("        2     1     4.0       -          1\n"), "{text}");
        assert!(text.contains("Annuli only kb marked 1, only rt 0"), "{text}");
    }
}
