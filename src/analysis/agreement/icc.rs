//! Intraclass correlation of repeated measurements, six forms.
//!
//! Source: Shrout & Fleiss 1979 (Psychol. Bull. 86:420-428). ICC(2,1) suits several readers, ICC(3,1) one reader
//! twice. It grows with the spread of the sample, so it is compared only between like samples.

/// Mean squares and the six coefficients; a coefficient is `None` where its denominator is 0.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct IntraclassCorrelation {
    /// Targets (fish, or annuli).
    pub n: usize,
    /// Readings of each.
    pub n_readings: usize,
    /// Mean square between targets.
    pub between_targets: f64,
    /// Mean square within targets.
    pub within_targets: f64,
    /// Mean square between readers.
    pub between_readers: f64,
    /// Residual mean square.
    pub residual: f64,
    /// ICC(1,1): each target by other readers, one reading.
    pub icc_1_1: Option<f64>,
    /// ICC(2,1): readers as a sample of readers, one reading.
    pub icc_2_1: Option<f64>,
    /// ICC(3,1): these readers only, one reading.
    pub icc_3_1: Option<f64>,
    /// ICC(1,k): as ICC(1,1), mean of all readings.
    pub icc_1_k: Option<f64>,
    /// ICC(2,k): as ICC(2,1), mean of all readings.
    pub icc_2_k: Option<f64>,
    /// ICC(3,k): as ICC(3,1), mean of all readings.
    pub icc_3_k: Option<f64>,
}

/// The six forms from `targets`, one slice of `n_readings` values for each, any one unit.
///
/// `None` for fewer than two targets or readings; slices of another length are not looked at.
pub fn intraclass_correlation<'a, T: Copy + Into<f64> + 'a>(
    n_readings: usize,
    targets: impl Iterator<Item = &'a [T]> + Clone,
) -> Option<IntraclassCorrelation> {
    let targets = targets.filter(|target| target.len() == n_readings);
    let mut reader_means = vec![0.0; n_readings];
    let mut n = 0_usize;
    for target in targets.clone() {
        n += 1;
        for (sum, value) in reader_means.iter_mut().zip(target) {
            *sum += (*value).into();
        }
    }
    if n < 2 || n_readings < 2 {
        return None;
    }
    let (count, k) = (n as f64, n_readings as f64);
    reader_means.iter_mut().for_each(|sum| *sum /= count);
    let grand = reader_means.iter().sum::<f64>() / k;
    let readers: f64 = reader_means.iter().map(|mean| (mean - grand).powi(2)).sum::<f64>() * count;
    let (mut between, mut residual) = (0.0, 0.0);
    for target in targets {
        let mean = target.iter().map(|value| (*value).into()).sum::<f64>() / k;
        between += k * (mean - grand).powi(2);
        for (value, reader_mean) in target.iter().zip(&reader_means) {
            let value: f64 = (*value).into();
            residual += (value - mean - reader_mean + grand).powi(2);
        }
    }
    let between_targets = between / (count - 1.0);
    let within_targets = (readers + residual) / (count * (k - 1.0));
    let between_readers = readers / (k - 1.0);
    let residual = residual / ((count - 1.0) * (k - 1.0));
    Some(IntraclassCorrelation {
        n,
        n_readings,
        between_targets,
        within_targets,
        between_readers,
        residual,
        icc_1_1: ratio(
            between_targets - within_targets,
            between_targets + (k - 1.0) * within_targets,
        ),
        icc_2_1: ratio(
            between_targets - residual,
            between_targets + (k - 1.0) * residual + k * (between_readers - residual) / count,
        ),
        icc_3_1: ratio(between_targets - residual, between_targets + (k - 1.0) * residual),
        icc_1_k: ratio(between_targets - within_targets, between_targets),
        icc_2_k: ratio(
            between_targets - residual,
            between_targets + (between_readers - residual) / count,
        ),
        icc_3_k: ratio(between_targets - residual, between_targets),
    })
}

fn ratio(above: f64, below: f64) -> Option<f64> {
    (below != 0.0).then(|| above / below).filter(|value| value.is_finite())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_steady_shift_lowers_the_second_form_only() {
        let rows = [[1.0, 2.0], [2.0, 3.0], [3.0, 4.0], [4.0, 5.0]];
        let icc = intraclass_correlation(2, rows.iter().map(|row| row.as_slice())).unwrap();
        assert!((icc.icc_3_1.unwrap() - 1.0).abs() < 1e-12);
        assert!(icc.icc_2_1.unwrap() < 0.9);
    }

    #[test]
    fn without_spread_there_is_no_value() {
        let rows = [[3_u32, 3], [3, 3]];
        let icc = intraclass_correlation(2, rows.iter().map(|row| row.as_slice())).unwrap();
        assert_eq!((icc.icc_1_1, icc.icc_2_k), (None, None));
        assert!(intraclass_correlation(2, rows.iter().take(1).map(|row| row.as_slice())).is_none());
    }
}
