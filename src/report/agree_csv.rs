//! Agreement of readers as comma-separated values, one row for each pair.

use crate::analysis::agreement::comparison::{Comparison, PairComparison, Settings};

const HEADINGS: [&str; 16] = [
    "reader_1",
    "reader_2",
    "n",
    "left_out",
    "exact_percent",
    "within_1_percent",
    "within_2_percent",
    "average_percent_error",
    "mean_cv_percent",
    "mean_d_percent",
    "bowker_p",
    "evans_hoenig_p",
    "mcnemar_p",
    "kappa_unweighted",
    "kappa_linear",
    "kappa_quadratic",
];

/// The table; a value that does not exist is an empty cell.
///
/// # Errors
/// When the text cannot be put together.
pub fn agree_csv(comparison: &Comparison) -> csv::Result<String> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(HEADINGS)?;
    for pair in &comparison.pairs {
        writer.write_record(row(pair, comparison.settings))?;
    }
    let bytes = writer.into_inner().map_err(|error| error.into_error())?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

fn row(pair: &PairComparison, settings: Settings) -> Vec<String> {
    let precision = &pair.precision;
    let errors = precision.percent_errors(settings.mean_age_zero);
    let mut cells = pair.readers.to_vec();
    cells.extend([precision.n.to_string(), pair.left_out.to_string()]);
    let mut numbers = vec![precision.exact, precision.within_1, precision.within_2];
    numbers.extend([errors.average_percent_error, errors.mean_cv, errors.mean_d]);
    numbers.extend((0..3).map(|index| pair.symmetry.get(index).and_then(|test| test.p)));
    numbers.extend(pair.kappa.iter().map(|kappa| kappa.as_ref().map(|kappa| kappa.estimate)));
    cells.extend(
        numbers.into_iter().map(|value| value.map_or_else(String::new, |value| value.to_string())),
    );
    cells
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::agreement::comparison::compare;
    use crate::analysis::agreement::readings::ReaderAges;

    #[test]
    fn a_row_for_each_pair_with_empty_cells_for_what_does_not_exist() {
        let columns = vec![vec![Some(4), Some(4)], vec![Some(4), Some(4)], vec![Some(4), Some(5)]];
        let ages = ReaderAges::new(["a", "b", "c"].map(str::to_owned).to_vec(), columns).unwrap();
        let text = agree_csv(&compare(&ages, Settings::default())).unwrap();
        let lines: Vec<&str> = text.lines().collect();
        assert_eq!(lines.len(), 4);
        assert_eq!(lines[1], "a,b,2,0,100,100,100,0,0,0,,,,,,");
        assert!(lines[2].starts_with("a,c,2,0,50,100,100,"), "{}", lines[2]);
    }
}
