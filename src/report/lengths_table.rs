//! Back-calculated lengths for people: a table for a terminal, and CSV rows for a spreadsheet.

use std::fmt::Write as _;

use crate::analysis::back_calculation::{
    CAUSES, Direction, GroupRow, LengthsResult, MethodComparison, Relation, Shape,
};
use crate::analysis::numerics::p_words;

/// The result as plain text: the method and its relation, tables, and all that was left out or remarked on.
pub fn lengths_text(result: &LengthsResult) -> String {
    let mut text = String::new();
    heading(&mut text, result);
    if let Some(relation) = &result.relation {
        relation_text(&mut text, relation);
    }
    by_age(&mut text, result);
    groups(
        &mut text,
        "Mean length (mm) at age, by age at capture",
        "age",
        &result.tables.by_age_at_capture,
    );
    groups(
        &mut text,
        "Mean length (mm) at age, by year class",
        "class",
        &result.tables.by_year_class,
    );
    lee(&mut text, result);
    flags(&mut text, result);
    list(
        &mut text,
        "Left out",
        result.excluded.iter().map(|one| {
            let row = one.row.map(|row| format!(" (row {row})")).unwrap_or_default();
            format!("{}{row}: {}", one.fish, one.reason)
        }),
    );
    list(&mut text, "Note", result.warnings.iter().map(ToString::to_string));
    text
}

/// Two methods side by side as plain text.
pub fn method_comparison_text(
    (first, second): (&LengthsResult, &LengthsResult),
    comparison: &MethodComparison,
) -> String {
    let names = [first.method.word(), second.method.word()];
    let mut text =
        format!("Mean length (mm) at age by two methods\n age     n  {}  {}\n", names[0], names[1]);
    let widths = names.map(str::len);
    for row in &comparison.by_age {
        put(
            &mut text,
            format_args!(
                "{:>4}{:>6}  {:>w0$.1}  {:>w1$.1}\n",
                row.age,
                row.n,
                row.first_mm,
                row.second_mm,
                w0 = widths[0],
                w1 = widths[1]
            ),
        );
    }
    match &comparison.largest {
        Some(largest) => put(
            &mut text,
            format_args!(
                "Largest difference: {:.1} mm, fish {}, annulus {} ({:.1} and {:.1} mm)\n",
                largest.difference_mm().abs(),
                largest.fish,
                largest.annulus,
                largest.first_mm,
                largest.second_mm
            ),
        ),
        None => text.push_str("No fish has lengths by both methods.\n"),
    }
    text
}

/// One line for each fish, those left out included: RFC 4180, comma, numbers at full precision.
///
/// # Errors
/// [`csv::Error`] where the text cannot be made.
pub fn lengths_csv(result: &LengthsResult) -> csv::Result<String> {
    let oldest = result.tables.by_age.len();
    let mut writer =
        csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
    let mut names: Vec<String> = ["fish", "row", "age", "year_class", "length_mm", "edge_counted"]
        .map(str::to_owned)
        .to_vec();
    names.extend((1..=oldest).map(|age| format!("length_{age}_mm")));
    names.extend(["flags", "left_out"].map(str::to_owned));
    writer.write_record(&names)?;
    for fish in &result.fish {
        let mut cells = vec![
            fish.key.clone(),
            cell(fish.row),
            fish.age().to_string(),
            cell(fish.year_class),
            fish.length_at_capture_mm.to_string(),
            fish.edge_counted.to_string(),
        ];
        cells.extend((0..oldest).map(|index| cell(fish.lengths_mm.get(index))));
        let flags: Vec<String> = fish.flags.iter().map(ToString::to_string).collect();
        cells.extend([flags.join("; "), String::new()]);
        writer.write_record(&cells)?;
    }
    for one in &result.excluded {
        let mut cells = vec![String::new(); names.len()];
        for (place, text) in
            [(0, one.fish.clone()), (1, cell(one.row)), (names.len() - 1, one.reason.to_string())]
        {
            if let Some(cell) = cells.get_mut(place) {
                *cell = text;
            }
        }
        writer.write_record(&cells)?;
    }
    let bytes = writer.into_inner().map_err(|error| csv::Error::from(error.into_error()))?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

fn cell(value: Option<impl ToString>) -> String {
    value.map(|value| value.to_string()).unwrap_or_default()
}

/// Writing to a string cannot fail.
fn put(text: &mut String, line: std::fmt::Arguments<'_>) {
    let _ = text.write_fmt(line);
}

fn heading(text: &mut String, result: &LengthsResult) {
    put(text, format_args!("Lengths by {}\n", result.method.word()));
    put(text, format_args!("Assumes that {}.\n", result.method.assumption()));
    if let Some(intercept) = result.intercept_mm {
        put(text, format_args!("Intercept {intercept:.2} mm\n"));
    }
    put(
        text,
        format_args!(
            "{} fish with lengths, {} left out\n",
            result.fish.len(),
            result.excluded.len()
        ),
    );
}

fn relation_text(text: &mut String, relation: &Relation) {
    let (x, y) = match relation.direction {
        Direction::LengthOnRadius => ("radius_um", "length_mm"),
        Direction::RadiusOnLength => ("length_mm", "radius_um"),
    };
    let (x, y) = match relation.shape {
        Shape::LogLog => (format!("ln {x}"), format!("ln {y}")),
        _ => (x.to_owned(), y.to_owned()),
    };
    put(
        text,
        format_args!(
            "Relation ({}): {y} = {:.6} + {:.6} {x}",
            relation.line.word(),
            relation.intercept,
            relation.slope
        ),
    );
    if let Some(square) = relation.quadratic {
        put(text, format_args!(" + {square:.6e} {x}^2"));
    }
    if let Some(per_year) = relation.per_year {
        put(text, format_args!(" + {per_year:.6} age"));
    }
    put(text, format_args!(", n = {}", relation.n));
    if let Some(r_squared) = relation.r_squared {
        put(text, format_args!(", r2 = {r_squared:.4}"));
    }
    let ([shortest, longest], [smallest, largest]) =
        (relation.length_range_mm, relation.radius_range_um);
    put(
        text,
        format_args!(
            "\n  lengths {shortest:.0} to {longest:.0} mm, radii {smallest:.0} to {largest:.0} um"
        ),
    );
    if let Some(test) = relation.lack_of_fit {
        put(
            text,
            format_args!(
                "; quadratic lack of fit F(1, {}) = {:.2}, {}",
                test.df,
                test.f,
                p_words(test.p)
            ),
        );
    }
    text.push('\n');
    if !relation.worth_a_look.is_empty() {
        put(
            text,
            format_args!(
                "  look again at fish {} (far from the line, or bending it)\n",
                relation.worth_a_look.join(", ")
            ),
        );
    }
}

fn number(value: Option<f64>) -> String {
    value.map_or_else(|| "-".to_owned(), |value| format!("{value:.1}"))
}

fn by_age(text: &mut String, result: &LengthsResult) {
    let tables = &result.tables;
    if tables.by_age.is_empty() {
        return;
    }
    text.push_str("\nLength (mm) at age\n age     n    mean      sd      se  growth     sum\n");
    for (index, row) in tables.by_age.iter().enumerate() {
        put(
            text,
            format_args!(
                "{:>4}{:>6}{:>8.1}{:>8}{:>8}{:>8}{:>8}\n",
                row.age,
                row.n,
                row.mean_mm,
                number(row.sd_mm),
                number(row.se_mm),
                number(tables.increments_mm.get(index).copied()),
                number(tables.increment_sums_mm.get(index).copied()),
            ),
        );
    }
}

fn groups<K: std::fmt::Display>(text: &mut String, title: &str, name: &str, rows: &[GroupRow<K>]) {
    if rows.is_empty() {
        return;
    }
    let oldest = rows.iter().map(|row| row.means_mm.len()).max().unwrap_or(0);
    put(text, format_args!("\n{title}\n{name:>6}{:>6}", "n"));
    for age in 1..=oldest {
        put(text, format_args!("{age:>8}"));
    }
    text.push('\n');
    for row in rows {
        put(text, format_args!("{:>6}{:>6}", row.group, row.n));
        for mean in &row.means_mm {
            put(text, format_args!("{mean:>8.1}"));
        }
        text.push('\n');
    }
}

fn lee(text: &mut String, result: &LengthsResult) {
    if result.lee.is_empty() {
        return;
    }
    text.push_str("\nLength at annulus on age at capture (negative slope: Lee's phenomenon)\n");
    text.push_str(" annulus     n   mm/year      se       p     p, Holm\n");
    let p =
        |value: Option<f64>| value.map_or_else(|| "-".to_owned(), |value| format!("{value:.3}"));
    for row in &result.lee {
        put(
            text,
            format_args!(
                "{:>8}{:>6}{:>10.2}{:>8.2}{:>8}{:>12}\n",
                row.annulus,
                row.n,
                row.slope,
                row.se,
                p(row.p),
                p(row.p_holm)
            ),
        );
    }
    put(text, format_args!("A slope may come of {CAUSES}.\n"));
}

fn flags(text: &mut String, result: &LengthsResult) {
    let flagged = result.fish.iter().filter(|fish| !fish.flags.is_empty());
    list(
        text,
        "Flagged",
        flagged.map(|fish| {
            let flags: Vec<String> = fish.flags.iter().map(ToString::to_string).collect();
            format!("{}: {}", fish.key, flags.join("; "))
        }),
    );
}

fn list(text: &mut String, title: &str, lines: impl Iterator<Item = String>) {
    let mut lines = lines.peekable();
    if lines.peek().is_some() {
        put(text, format_args!("\n{title}\n"));
        lines.for_each(|line| put(text, format_args!("  {line}\n")));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::back_calculation::{
        Method, Options, SampleFish, back_calculate, compare_methods,
    };
    use crate::domain::units::{Micrometres, Millimetres};

    fn sample() -> Vec<SampleFish> {
        let fish = |key: &str, length: f64, total: f64, annuli: &[f64]| {
            let annuli = annuli.iter().copied().map(Micrometres).collect();
            SampleFish::new(key, Some(Millimetres(length)), Some(Micrometres(total)), annuli)
        };
        vec![
            fish("001", 200.0, 1000.0, &[500.0]),
            fish("002", 300.0, 1600.0, &[400.0, 800.0]),
            fish("a,b", 350.0, 1700.0, &[425.0, 850.0]),
            fish("004", 350.0, 1700.0, &[900.0, 850.0]),
        ]
    }

    #[test]
    fn the_text_holds_means_and_all_that_was_left_out() {
        let result =
            back_calculate(&sample(), Method::DirectProportion, &Options::default()).unwrap();
        let text = lengths_text(&result);
        assert!(text.contains("   1     3    87.5"), "{text}");
        assert!(text.contains("   2     2   162.5"), "{text}");
        assert!(text.contains("004: annulus radii must increase strictly"), "{text}");
        assert!(text.contains("3 fish with lengths, 1 left out"), "{text}");
    }

    #[test]
    fn csv_has_a_line_for_every_fish() {
        let result =
            back_calculate(&sample(), Method::DirectProportion, &Options::default()).unwrap();
        let text = lengths_csv(&result).unwrap();
        let mut reader = csv::Reader::from_reader(text.as_bytes());
        let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
        assert_eq!(rows.len(), 4);
        assert_eq!(rows[0].get(0), Some("001"));
        assert_eq!((rows[0].get(6), rows[0].get(7)), (Some("100"), Some("")));
        assert_eq!(rows[2].get(0), Some("a,b"));
        assert_eq!(rows[3].get(0), Some("004"));
        assert!(rows[3].get(9).is_some_and(|reason| reason.contains("increase")));
    }

    #[test]
    fn two_methods_stand_side_by_side() {
        let run = |method| back_calculate(&sample(), method, &Options::default()).unwrap();
        let (first, second) = (run(Method::ScaleProportional), run(Method::BodyProportional));
        let text = method_comparison_text((&first, &second), &compare_methods(&first, &second));
        assert!(text.contains("scale-proportional  body-proportional"), "{text}");
        assert!(text.contains("Largest difference: "), "{text}");
    }
}
