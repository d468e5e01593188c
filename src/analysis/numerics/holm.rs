//! Holm's adjustment of several p values.

/// Adjusted p values in the order given: the step-down rule of Holm 1979 (Scand. J. Stat. 6:65-70).
///
/// `None` entries are left out of the family and stay `None`.
pub fn holm(p_values: &[Option<f64>]) -> Vec<Option<f64>> {
    let mut known: Vec<(usize, f64)> =
        p_values.iter().enumerate().filter_map(|(index, p)| Some((index, (*p)?))).collect();
    known.sort_by(|a, b| a.1.total_cmp(&b.1));
    let mut adjusted = vec![None; p_values.len()];
    let mut running = 0.0_f64;
    for (rank, (index, p)) in known.iter().enumerate() {
        running = running.max((known.len() - rank) as f64 * p).min(1.0);
        if let Some(place) = adjusted.get_mut(*index) {
            *place = Some(running);
        }
    }
    adjusted
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 0.01 x 3, 0.02 x 2, then 0.03 x 1 lifted to 0.04.
    #[test]
    fn steps_down_and_never_falls() {
        let adjusted = holm(&[Some(0.03), None, Some(0.01), Some(0.02)]);
        let expected = [Some(0.04), None, Some(0.03), Some(0.04)];
        for (found, expected) in adjusted.iter().zip(expected) {
            match (found, expected) {
                (Some(a), Some(b)) => assert!((a - b).abs() < 1e-15),
                (None, None) => {}
                other => panic!("{other:?}"),
            }
        }
    }
}
