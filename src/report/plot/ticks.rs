//! Where the marks of a scale stand.

/// Round values from `low` to `high`, about `wanted` of them, and the decimals they need.
pub fn ticks(low: f64, high: f64, wanted: usize) -> (Vec<f64>, usize) {
    let span = high - low;
    if !(span.is_finite() && span > 0.0) {
        return (vec![low], 0);
    }
    let rough = span / wanted.max(1) as f64;
    let power = 10_f64.powi(rough.log10().floor() as i32);
    let step = [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|factor| factor * power)
        .find(|step| *step >= rough * 0.999)
        .unwrap_or(10.0 * power);
    let first = (low / step - 1e-9).ceil() as i64;
    let last = (high / step + 1e-9).floor() as i64;
    let decimals = if step >= 1.0 { 0 } else { (-step.log10()).ceil() as usize };
    ((first..=last).map(|place| place as f64 * step).collect(), decimals)
}

/// Whole numbers from `low` to `high`, not more than `most` of them.
pub fn whole_ticks(low: f64, high: f64, most: usize) -> Vec<f64> {
    let (first, last) = (low.ceil() as i64, high.floor() as i64);
    let n = usize::try_from(last - first + 1).unwrap_or(0);
    let step = [1, 2, 5, 10, 20, 50, 100].into_iter().find(|step| n / step <= most).unwrap_or(200);
    let step = i64::try_from(step).unwrap_or(1);
    (first..=last).filter(|value| value.rem_euclid(step) == 0).map(|value| value as f64).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_inside() {
        assert_eq!(ticks(0.0, 700.0, 6), (vec![0.0, 200.0, 400.0, 600.0], 0));
        assert_eq!(ticks(-0.31, 0.22, 5).0, [-0.2, 0.0, 0.2]);
        assert_eq!(ticks(-0.31, 0.22, 5).1, 1);
        assert_eq!(ticks(3.0, 3.0, 5).0, [3.0]);
        assert_eq!(whole_ticks(0.0, 12.4, 14).len(), 13);
        assert_eq!(
            whole_ticks(2013.0, 2025.0, 8),
            [2014.0, 2016.0, 2018.0, 2020.0, 2022.0, 2024.0]
        );
    }
}
