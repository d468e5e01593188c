//! Annulus by annulus: which mark of one reader is which mark of the other, how far apart, and where they part.
//!
//! By number where the counts agree, otherwise by nearest radius with unmatched annuli reported (common practice, no
//! source). Both readers' radii must lie along one axis from one focus.

use super::limits::{LimitsOfAgreement, USUAL_MULTIPLE, limits_of_agreement};
use crate::domain::units::Micrometres;

/// Which of two readers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Side {
    /// The first reader.
    First,
    /// The second reader.
    Second,
}

/// One annulus that both readers marked. Numbers count from 1 at the focus.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MatchedAnnulus {
    /// Its number by the first reader.
    pub first_number: usize,
    /// Its number by the second reader.
    pub second_number: usize,
    /// Radius by the first reader.
    pub first: Micrometres,
    /// Radius by the second reader.
    pub second: Micrometres,
}

/// An annulus that only one reader marked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct UnmatchedAnnulus {
    /// Who marked it.
    pub side: Side,
    /// Its number by that reader, from 1 at the focus.
    pub number: usize,
    /// Its radius.
    pub radius: Micrometres,
}

/// Two readings of one structure laid beside each other.
#[derive(Debug, Clone, PartialEq)]
pub struct AnnulusMatch {
    /// True where the counts agree and annuli are matched by number, false where by nearest radius.
    pub by_number: bool,
    /// Annuli both marked, from the focus out.
    pub matched: Vec<MatchedAnnulus>,
    /// Annuli only one marked, from the focus out; empty where matched by number.
    pub unmatched: Vec<UnmatchedAnnulus>,
    /// The innermost annulus that is nearest to none of the other reader's: where the readings part. Can be there
    /// although the counts agree: the same age from other annuli.
    pub parting: Option<UnmatchedAnnulus>,
}

/// Lays two readings beside each other; radii increase. By nearest radius, two annuli match where each is the
/// other's nearest.
pub fn match_annuli(first: &[Micrometres], second: &[Micrometres]) -> AnnulusMatch {
    let (nearest, alone) = mutual_nearest(first, second);
    let parting = alone.first().copied();
    if first.len() != second.len() {
        return AnnulusMatch { by_number: false, matched: nearest, unmatched: alone, parting };
    }
    let pairs = first.iter().zip(second).zip(1..);
    let matched = pairs
        .map(|((first, second), number)| MatchedAnnulus {
            first_number: number,
            second_number: number,
            first: *first,
            second: *second,
        })
        .collect();
    AnnulusMatch { by_number: true, matched, unmatched: Vec::new(), parting }
}

/// Differences at one annulus number (by the first reader), second minus first, over many fish.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AnnulusDifference {
    /// The number.
    pub number: usize,
    /// Fish.
    pub n: usize,
    /// Mean difference.
    pub mean: Micrometres,
    /// Standard deviation; `None` for one fish.
    pub sd: Option<Micrometres>,
    /// Fish whose readings part at this annulus, by whichever reader marked it.
    pub n_parting: usize,
}

/// Radii of two readers over many fish.
#[derive(Debug, Clone, PartialEq)]
pub struct RadiusAgreement {
    /// Fish.
    pub n_fish: usize,
    /// Fish with equal counts.
    pub n_equal_counts: usize,
    /// Fish with equal counts whose annuli are nevertheless not the same ones.
    pub n_other_annuli: usize,
    /// By annulus number.
    pub by_annulus: Vec<AnnulusDifference>,
    /// Annuli only the first reader marked.
    pub only_first: usize,
    /// Annuli only the second reader marked.
    pub only_second: usize,
    /// Limits of agreement over matched annuli of fish with equal counts, second minus first, micrometres. Its
    /// within-subject standard deviation is the error of placing a mark.
    pub limits: Option<LimitsOfAgreement>,
}

/// Sums up the matches of many fish.
pub fn radius_agreement(matches: &[AnnulusMatch]) -> RadiusAgreement {
    let matched = matches.iter().flat_map(|fish| &fish.matched).map(|annulus| annulus.first_number);
    let parted = matches.iter().filter_map(|fish| fish.parting).map(|annulus| annulus.number);
    let most = matched.chain(parted).max().unwrap_or(0);
    let only = |side| {
        matches
            .iter()
            .flat_map(|fish| &fish.unmatched)
            .filter(|annulus| annulus.side == side)
            .count()
    };
    let equal = matches.iter().filter(|fish| fish.by_number);
    let radii = equal.clone().flat_map(|fish| &fish.matched);
    let pairs = radii.map(|annulus| (annulus.second.value(), annulus.first.value(), 1));
    RadiusAgreement {
        n_fish: matches.len(),
        n_equal_counts: equal.clone().count(),
        n_other_annuli: equal.filter(|fish| fish.parting.is_some()).count(),
        by_annulus: (1..=most).filter_map(|number| at_annulus(number, matches)).collect(),
        only_first: only(Side::First),
        only_second: only(Side::Second),
        limits: limits_of_agreement(pairs, USUAL_MULTIPLE),
    }
}

fn at_annulus(number: usize, matches: &[AnnulusMatch]) -> Option<AnnulusDifference> {
    let n_parting =
        matches.iter().filter_map(|fish| fish.parting).filter(|at| at.number == number).count();
    let annuli = matches.iter().flat_map(|fish| &fish.matched);
    let differences: Vec<f64> = annuli
        .filter(|annulus| annulus.first_number == number)
        .map(|annulus| (annulus.second - annulus.first).value())
        .collect();
    let n = differences.len();
    if n == 0 && n_parting == 0 {
        return None;
    }
    let mean = differences.iter().sum::<f64>() / n.max(1) as f64;
    let squares: f64 = differences.iter().map(|difference| (difference - mean).powi(2)).sum();
    let sd = (n > 1).then(|| Micrometres((squares / (n as f64 - 1.0)).sqrt()));
    Some(AnnulusDifference { number, n, mean: Micrometres(mean), sd, n_parting })
}

fn mutual_nearest(
    first: &[Micrometres],
    second: &[Micrometres],
) -> (Vec<MatchedAnnulus>, Vec<UnmatchedAnnulus>) {
    let mut matched = Vec::new();
    let mut taken = vec![false; second.len()];
    let mut alone = Vec::new();
    for (index, radius) in first.iter().enumerate() {
        let partner = nearest(*radius, second);
        let mutual = partner
            .filter(|(_, other)| nearest(*other, first).is_some_and(|(back, _)| back == index));
        match mutual {
            Some((other, other_radius)) => {
                if let Some(place) = taken.get_mut(other) {
                    *place = true;
                }
                matched.push(MatchedAnnulus {
                    first_number: index + 1,
                    second_number: other + 1,
                    first: *radius,
                    second: other_radius,
                });
            }
            None => alone.push(UnmatchedAnnulus {
                side: Side::First,
                number: index + 1,
                radius: *radius,
            }),
        }
    }
    let left = second.iter().enumerate().zip(taken).filter(|(_, taken)| !taken);
    alone.extend(left.map(|((index, radius), _)| UnmatchedAnnulus {
        side: Side::Second,
        number: index + 1,
        radius: *radius,
    }));
    alone.sort_by(|a, b| a.radius.value().total_cmp(&b.radius.value()));
    (matched, alone)
}

/// The nearest of `radii`, the inner one of two equally near.
fn nearest(to: Micrometres, radii: &[Micrometres]) -> Option<(usize, Micrometres)> {
    let distance = |radius: &Micrometres| (*radius - to).value().abs();
    radii.iter().copied().enumerate().min_by(|(_, a), (_, b)| distance(a).total_cmp(&distance(b)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn radii(values: &[f64]) -> Vec<Micrometres> {
        values.iter().copied().map(Micrometres).collect()
    }

    #[test]
    fn an_extra_annulus_is_reported_where_it_lies() {
        let found = match_annuli(&radii(&[400.0, 800.0, 1100.0]), &radii(&[410.0, 1090.0]));
        assert!(!found.by_number);
        let numbers: Vec<_> =
            found.matched.iter().map(|a| (a.first_number, a.second_number)).collect();
        assert_eq!(numbers, [(1, 1), (3, 2)]);
        let expected =
            UnmatchedAnnulus { side: Side::First, number: 2, radius: Micrometres(800.0) };
        assert_eq!(found.unmatched, [expected]);
        assert_eq!(found.parting, Some(expected));
    }

    #[test]
    fn the_same_count_from_other_annuli_is_noticed() {
        let found = match_annuli(&radii(&[200.0, 500.0, 900.0]), &radii(&[510.0, 905.0, 1200.0]));
        assert!(found.by_number && found.unmatched.is_empty());
        assert_eq!(found.parting.map(|at| (at.side, at.number)), Some((Side::First, 1)));
        let summary = radius_agreement(&[found]);
        assert_eq!((summary.n_equal_counts, summary.n_other_annuli), (1, 1));
    }

    #[test]
    fn turning_the_readers_round_turns_the_sides() {
        let (a, b) = (radii(&[300.0, 700.0, 750.0, 1000.0]), radii(&[310.0, 720.0]));
        let (there, back) = (match_annuli(&a, &b), match_annuli(&b, &a));
        assert_eq!(there.matched.len(), back.matched.len());
        for (x, y) in there.unmatched.iter().zip(&back.unmatched) {
            assert_eq!((x.number, x.radius), (y.number, y.radius));
            assert_ne!(x.side, y.side);
        }
    }

    /// By hand: differences 10, -10 at annulus 1 and 4 at annulus 2; √((100 + 100 + 16)/6) = 6.
    #[test]
    fn differences_are_summed_up_by_annulus() {
        let matches = [
            match_annuli(&radii(&[400.0, 800.0]), &radii(&[410.0, 804.0])),
            match_annuli(&radii(&[420.0]), &radii(&[410.0])),
            match_annuli(&radii(&[400.0]), &radii(&[])),
        ];
        let summary = radius_agreement(&matches);
        assert_eq!((summary.n_fish, summary.n_equal_counts, summary.only_first), (3, 2, 1));
        let first = summary.by_annulus[0];
        assert_eq!((first.n, first.mean.value(), first.n_parting), (2, 0.0, 1));
        assert!((first.sd.unwrap().value() - 200.0_f64.sqrt()).abs() < 1e-12);
        assert!((summary.limits.unwrap().within_sd - 6.0).abs() < 1e-12);
    }
}
