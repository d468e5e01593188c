//! Variances of one source at a time, and their shares.

use super::inputs::Source;

/// Variance with divisor n - 1 of the finite values; `None` for fewer than two.
pub(super) fn variance(values: impl Iterator<Item = f64> + Clone) -> Option<f64> {
    let finite = values.filter(|value| value.is_finite());
    let (n, sum) = finite.clone().fold((0usize, 0.0), |(n, sum), value| (n + 1, sum + value));
    let mean = sum / n as f64;
    let squares: f64 = finite.map(|value| (value - mean).powi(2)).sum();
    (n > 1).then(|| squares / (n - 1) as f64)
}

/// Share of each source, from its variance by itself. Sampling loses what the errors of single fish explain, since they
/// are part of the scatter among fish.
pub(super) fn shares(variances: &[(Source, f64)]) -> Vec<(Source, f64)> {
    let of_fish: f64 =
        variances.iter().filter(|(source, _)| source.is_of_single_fish()).map(|(_, v)| v).sum();
    let left: Vec<(Source, f64)> = variances
        .iter()
        .map(|(source, variance)| match source {
            Source::Sampling => (*source, (variance - of_fish).max(0.0)),
            _ => (*source, *variance),
        })
        .collect();
    let total: f64 = left.iter().map(|(_, variance)| variance).sum();
    if total > 0.0 {
        left.into_iter().map(|(source, variance)| (source, variance / total)).collect()
    } else {
        Vec::new()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn variance_skips_what_is_no_number() {
        assert_eq!(variance([1.0, f64::NAN, 3.0].into_iter()), Some(2.0));
        assert_eq!(variance([1.0, f64::NAN].into_iter()), None);
    }

    #[test]
    fn sampling_keeps_what_measurement_does_not_explain() {
        let found =
            shares(&[(Source::Marks, 1.0), (Source::Relation, 2.0), (Source::Sampling, 6.0)]);
        assert_eq!(
            found,
            [(Source::Marks, 0.125), (Source::Relation, 0.25), (Source::Sampling, 0.625)]
        );
        assert!(shares(&[(Source::Marks, 0.0)]).is_empty());
    }
}
