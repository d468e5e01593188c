//! Growth against a reference: percent, z, percentile, and the mean deviation over ages.
//!
//! In the manner of Schneider, Laarman & Gowing 2000 (mean deviation from a state average, with a least number of fish per
//! age) and of Jackson, Quist & Larscheid 2008 (percent of a standard), both from memory. Basis (capture or annulus), season,
//! length type and structure of reference and sample must match; a mismatch is refused, never converted.

use std::collections::BTreeMap;

use crate::analysis::numerics::distribution::t_quantile;
use crate::domain::fish::LengthType;
use crate::domain::reading::Structure;
use crate::domain::reference::{LengthBasis, ReferenceLength};
use crate::domain::units::Millimetres;

/// Fish an age must have to enter the index unless the user says otherwise (common practice, no source).
pub const DEFAULT_MINIMUM_PER_AGE: usize = 5;

/// Why a comparison is refused.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ReferenceError {
    /// Reference and sample are not of the same kind.
    #[error(
        "the reference gives {what} '{reference}' but the sample '{sample}': use a reference of the same {what}"
    )]
    Mismatch {
        /// What differs.
        what: &'static str,
        /// Value in the reference.
        reference: String,
        /// Value in the sample.
        sample: String,
    },
    /// A mean or SD that is not above 0.
    #[error(
        "the reference at age {age} has {what} {found}, but must be above 0: correct the reference file"
    )]
    BadReference {
        /// Age.
        age: u32,
        /// Which value.
        what: &'static str,
        /// The value.
        found: f64,
    },
}

/// What a sample's lengths are, for matching with a reference.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SampleKind {
    /// Capture or annulus.
    pub basis: LengthBasis,
    /// Months of capture, 1 to 12; not compared for annulus lengths.
    pub months: Vec<u8>,
    /// Length type.
    pub length_type: LengthType,
    /// Structure read.
    pub structure: Option<Structure>,
}

/// Checks that a reference may be compared with a sample.
///
/// # Errors
/// [`ReferenceError`] at the first age that differs in kind or holds an impossible value.
pub fn check_reference(
    reference: &[ReferenceLength],
    kind: &SampleKind,
) -> Result<(), ReferenceError> {
    for age in reference {
        let mismatch = |what, reference: &str, sample: &str| ReferenceError::Mismatch {
            what,
            reference: reference.to_owned(),
            sample: sample.to_owned(),
        };
        if age.basis != kind.basis {
            return Err(mismatch("basis", age.basis.word(), kind.basis.word()));
        }
        if age.length_type != kind.length_type {
            return Err(mismatch("length type", age.length_type.word(), kind.length_type.word()));
        }
        if let (Some(theirs), Some(ours)) = (age.structure, kind.structure)
            && theirs != ours
        {
            return Err(mismatch("structure", theirs.word(), ours.word()));
        }
        if kind.basis == LengthBasis::Capture && sorted(&age.months) != sorted(&kind.months) {
            return Err(mismatch("months", &month_list(&age.months), &month_list(&kind.months)));
        }
        for (what, found) in [("mean", Some(age.mean)), ("SD", age.sd)] {
            let bad = found.filter(|found| !(found.value() > 0.0 && found.value().is_finite()));
            if let Some(found) = bad {
                return Err(ReferenceError::BadReference {
                    age: age.age,
                    what,
                    found: found.value(),
                });
            }
        }
    }
    Ok(())
}

fn sorted(months: &[u8]) -> Vec<u8> {
    let mut months = months.to_vec();
    months.sort_unstable();
    months.dedup();
    months
}

fn month_list(months: &[u8]) -> String {
    if months.is_empty() {
        return "not stated".to_owned();
    }
    months.iter().map(u8::to_string).collect::<Vec<_>>().join(", ")
}

/// Where a length falls among tabulated percentiles.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Percentile {
    /// Below the lowest tabulated percent.
    Below(f64),
    /// Interpolated, percent.
    At(f64),
    /// Above the highest tabulated percent.
    Above(f64),
}

impl std::fmt::Display for Percentile {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Below(percent) => write!(f, "<{percent}"),
            Self::At(percent) => write!(f, "{percent:.1}"),
            Self::Above(percent) => write!(f, ">{percent}"),
        }
    }
}

/// Linear interpolation between (percent, mm) pairs in rising order; `None` without pairs.
pub fn percentile_of(length_mm: f64, table: &[(f64, Millimetres)]) -> Option<Percentile> {
    let table: Vec<(f64, f64)> =
        table.iter().map(|(percent, length)| (*percent, length.value())).collect();
    let (lowest, highest) = (table.first()?, table.last()?);
    if length_mm < lowest.1 {
        return Some(Percentile::Below(lowest.0));
    }
    if length_mm > highest.1 {
        return Some(Percentile::Above(highest.0));
    }
    table
        .windows(2)
        .find_map(|pair| match pair {
            [low, high] if length_mm >= low.1 && length_mm <= high.1 && high.1 > low.1 => {
                let share = (length_mm - low.1) / (high.1 - low.1);
                Some(Percentile::At(low.0 + share * (high.0 - low.0)))
            }
            _ => None,
        })
        .or((length_mm == lowest.1).then_some(Percentile::At(lowest.0)))
}

/// A length against the reference at its age.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Standing {
    /// 100 L/L_ref.
    pub percent: f64,
    /// L - L_ref, mm.
    pub deviation_mm: f64,
    /// (L - mean)/SD; `None` without SD.
    pub z: Option<f64>,
    /// Percentile; `None` without a table.
    pub percentile: Option<Percentile>,
}

/// Compares one length with the reference at its age.
pub fn standing(length_mm: f64, reference: &ReferenceLength) -> Standing {
    let deviation_mm = length_mm - reference.mean.value();
    Standing {
        percent: 100.0 * length_mm / reference.mean.value(),
        deviation_mm,
        z: reference.sd.map(|sd| deviation_mm / sd.value()),
        percentile: percentile_of(length_mm, &reference.percentiles),
    }
}

/// One age of the index.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AgeComparison {
    /// Age.
    pub age: u32,
    /// Fish.
    pub n: usize,
    /// Mean length, mm.
    pub mean_mm: f64,
    /// SD of single fish, mm; `None` for one fish.
    pub sd_mm: Option<f64>,
    /// Mean against the reference; `None` where the reference lacks the age.
    pub standing: Option<Standing>,
    /// Enters the index.
    pub is_used: bool,
}

/// The growth index of a sample.
#[derive(Debug, Clone, PartialEq)]
pub struct GrowthIndex {
    /// Every age of the sample, rising.
    pub ages: Vec<AgeComparison>,
    /// Fish an age must have.
    pub minimum_per_age: usize,
    /// Unweighted mean deviation over the ages used, mm; `None` without such an age.
    pub mean_deviation_mm: Option<f64>,
    /// Its 95 % interval from the scatter of fish within ages (the reference taken as exact).
    pub ci95_mm: Option<[f64; 2]>,
    /// Mean deviation weighted by the number of fish, mm.
    pub weighted_deviation_mm: Option<f64>,
    /// Mean over ages of the percent of reference.
    pub mean_percent: Option<f64>,
}

/// Growth index of (age, length mm) pairs against reference ages (first entry of an age counts).
///
/// The interval takes ages as independent: variance Σ sd²/n over the square of the number of ages, with degrees of
/// freedom after Satterthwaite 1946; where an age has one fish, the SD pooled over ages stands in for its own.
pub fn growth_index(
    observed: &[(u32, f64)],
    reference: &[ReferenceLength],
    minimum_per_age: usize,
) -> GrowthIndex {
    let mut ages: Vec<u32> = observed.iter().map(|(age, _)| *age).collect();
    ages.sort_unstable();
    ages.dedup();
    let ages: Vec<AgeComparison> = ages
        .into_iter()
        .map(|age| compare_age(age, observed, reference, minimum_per_age))
        .collect();
    let used: Vec<(&AgeComparison, Standing)> = ages
        .iter()
        .filter(|age| age.is_used)
        .filter_map(|age| age.standing.map(|standing| (age, standing)))
        .collect();
    let count = used.len() as f64;
    let mean_of = |value: &dyn Fn(&AgeComparison, &Standing) -> f64| {
        (count > 0.0).then(|| used.iter().map(|(age, s)| value(age, s)).sum::<f64>() / count)
    };
    let fish: f64 = used.iter().map(|(age, _)| age.n as f64).sum();
    let mean_deviation_mm = mean_of(&|_, standing| standing.deviation_mm);
    GrowthIndex {
        minimum_per_age,
        mean_deviation_mm,
        ci95_mm: mean_deviation_mm.and_then(|centre| interval(centre, &used)),
        weighted_deviation_mm: mean_of(&|age, standing| standing.deviation_mm * age.n as f64)
            .map(|sum| sum * count / fish),
        mean_percent: mean_of(&|_, standing| standing.percent),
        ages,
    }
}

fn compare_age(
    age: u32,
    observed: &[(u32, f64)],
    reference: &[ReferenceLength],
    minimum_per_age: usize,
) -> AgeComparison {
    let lengths: Vec<f64> =
        observed.iter().filter(|pair| pair.0 == age).map(|pair| pair.1).collect();
    let n = lengths.len();
    let mean_mm = lengths.iter().sum::<f64>() / n as f64;
    let squares: f64 = lengths.iter().map(|length| (length - mean_mm).powi(2)).sum();
    let standing =
        reference.iter().find(|entry| entry.age == age).map(|entry| standing(mean_mm, entry));
    AgeComparison {
        age,
        n,
        mean_mm,
        sd_mm: (n > 1).then(|| (squares / (n - 1) as f64).sqrt()),
        standing,
        is_used: n >= minimum_per_age && standing.is_some(),
    }
}

fn interval(centre: f64, used: &[(&AgeComparison, Standing)]) -> Option<[f64; 2]> {
    let pairs = || used.iter().filter_map(|(age, _)| age.sd_mm.map(|sd| (sd, age.n as f64)));
    let spare: f64 = pairs().map(|(_, n)| n - 1.0).sum();
    let pooled = pairs().map(|(sd, n)| sd * sd * (n - 1.0)).sum::<f64>() / spare;
    let single = used.iter().any(|(age, _)| age.n < 2);
    let terms: Vec<(f64, f64)> = used
        .iter()
        .map(|(age, _)| {
            let variance = if single { pooled } else { age.sd_mm.map_or(pooled, |sd| sd * sd) };
            (variance / age.n as f64, age.n as f64 - 1.0)
        })
        .collect();
    let sum: f64 = terms.iter().map(|(variance, _)| variance).sum();
    let df = if single {
        spare
    } else {
        sum * sum / terms.iter().map(|(variance, df)| variance * variance / df).sum::<f64>()
    };
    let half = t_quantile(0.975, df)? * sum.sqrt() / used.len() as f64;
    half.is_finite().then_some([centre - half, centre + half])
}

/// Mean lengths at age of one water.
#[derive(Debug, Clone, PartialEq)]
pub struct WaterMeans {
    /// Water or survey.
    pub name: String,
    /// (age, mean mm, fish).
    pub means: Vec<(u32, f64, usize)>,
}

/// A standard made of waters: at each age the unweighted mean of water means, their SD and quartiles, with the water at
/// `leave_out` kept out of its own standard. Ages of fewer than `minimum_waters` waters are left out.
pub fn standard_from_waters(
    waters: &[WaterMeans],
    leave_out: Option<usize>,
    minimum_waters: usize,
    like: &ReferenceLength,
) -> Vec<ReferenceLength> {
    SortedWaters::new(waters).standard(leave_out, minimum_waters, like)
}

/// Water means sorted once, so that the standard without one water or another costs no further sorting.
#[derive(Debug, Clone, PartialEq)]
pub struct SortedWaters {
    /// For each age the (mean mm, place of the water), means rising.
    ages: BTreeMap<u32, Vec<(f64, usize)>>,
}

impl SortedWaters {
    /// Sorts the means of `waters`.
    pub fn new(waters: &[WaterMeans]) -> Self {
        let mut ages: BTreeMap<u32, Vec<(f64, usize)>> = BTreeMap::new();
        for (place, water) in waters.iter().enumerate() {
            for (age, mean_mm, _) in &water.means {
                let of_age = ages.entry(*age).or_default();
                // Of an age that a water states twice the first counts.
                if of_age.last().is_none_or(|(_, last)| *last != place) {
                    of_age.push((*mean_mm, place));
                }
            }
        }
        ages.values_mut().for_each(|means| means.sort_by(|a, b| a.0.total_cmp(&b.0)));
        Self { ages }
    }

    /// The standard as [`standard_from_waters`] gives it.
    pub fn standard(
        &self,
        leave_out: Option<usize>,
        minimum_waters: usize,
        like: &ReferenceLength,
    ) -> Vec<ReferenceLength> {
        let of_age = |(age, means): (&u32, &Vec<(f64, usize)>)| {
            let others = means.iter().filter(|(_, place)| Some(*place) != leave_out);
            let means: Vec<f64> = others.map(|(mean, _)| *mean).collect();
            let n = means.len();
            if n < minimum_waters.max(1) {
                return None;
            }
            let mean_mm = means.iter().sum::<f64>() / n as f64;
            let squares: f64 = means.iter().map(|mean| (mean - mean_mm).powi(2)).sum();
            Some(ReferenceLength {
                age: *age,
                mean: Millimetres(mean_mm),
                sd: (n > 1)
                    .then(|| (squares / (n - 1) as f64).sqrt())
                    .filter(|sd| *sd > 0.0)
                    .map(Millimetres),
                n: u32::try_from(n).ok(),
                percentiles: water_percentiles(&means),
                source: format!("mean of {n} waters of this comparison"),
                ..like.clone()
            })
        };
        self.ages.iter().filter_map(of_age).collect()
    }
}

/// The length at a percent of a table of (percent, mm) pairs, linear between them; `None` beyond its ends.
pub fn length_at_percent(percent: f64, table: &[(f64, Millimetres)]) -> Option<Millimetres> {
    table.windows(2).find_map(|pair| match pair {
        [low, high] if low.0 <= percent && percent <= high.0 && low.0 < high.0 => {
            let share = (percent - low.0) / (high.0 - low.0);
            let (low_mm, high_mm) = (low.1.value(), high.1.value());
            Some(Millimetres(low_mm + share * (high_mm - low_mm)))
        }
        _ => None,
    })
}

/// Each water's mean at percent 100 (rank - 0.5)/n (Hazen 1914, from memory); empty below four waters.
fn water_percentiles(sorted: &[f64]) -> Vec<(f64, Millimetres)> {
    if sorted.len() < 4 {
        return Vec::new();
    }
    let n = sorted.len() as f64;
    sorted
        .iter()
        .enumerate()
        .map(|(rank, mean)| (100.0 * (rank as f64 + 0.5) / n, Millimetres(*mean)))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::fish::Sex;

    fn reference(age: u32, mean_mm: f64) -> ReferenceLength {
        ReferenceLength {
            species: "walleye".to_owned(),
            sex: Sex::Unknown,
            age,
            basis: LengthBasis::Capture,
            months: vec![9, 10],
            length_type: LengthType::Total,
            structure: None,
            mean: Millimetres(mean_mm),
            sd: None,
            n: None,
            percentiles: Vec::new(),
            source: "invented".to_owned(),
            row: 2,
        }
    }

    fn kind() -> SampleKind {
        SampleKind {
            basis: LengthBasis::Capture,
            months: vec![10, 9],
            length_type: LengthType::Total,
            structure: Some(Structure::Scale),
        }
    }

    #[test]
    fn bases_and_seasons_never_mix() {
        assert!(check_reference(&[reference(2, 240.0)], &kind()).is_ok());
        let annulus = SampleKind { basis: LengthBasis::Annulus, ..kind() };
        assert!(check_reference(&[reference(2, 240.0)], &annulus).is_err());
        let spring = SampleKind { months: vec![4, 5], ..kind() };
        let message = check_reference(&[reference(2, 240.0)], &spring).unwrap_err().to_string();
        assert!(message.contains("months"), "{message}");
    }

    #[test]
    fn thin_ages_stay_out_of_the_index() {
        let observed = [(2, 250.0), (2, 254.0), (3, 300.0)];
        let index = growth_index(&observed, &[reference(2, 240.0), reference(3, 320.0)], 2);
        assert_eq!(index.mean_deviation_mm, Some(12.0));
        // One age: the interval is the t interval of its mean, SD 2.828 on two fish: 12.706 x 2.
        let [low, high] = index.ci95_mm.unwrap();
        assert!((low - (12.0 - 25.412_409)).abs() < 1e-5 && (high - 37.412_409).abs() < 1e-5);
    }

    #[test]
    fn a_water_is_left_out_of_its_own_standard() {
        let waters: Vec<WaterMeans> = [200.0, 220.0, 300.0]
            .iter()
            .map(|mean| WaterMeans { name: String::new(), means: vec![(1, *mean, 9)] })
            .collect();
        let standard = standard_from_waters(&waters, Some(2), 1, &reference(0, 1.0));
        assert_eq!(standard[0].mean.value(), 210.0);
        assert!(standard_from_waters(&waters, Some(2), 3, &reference(0, 1.0)).is_empty());
    }

    /// Hazen's plotting positions of four values are 12.5, 37.5, 62.5 and 87.5 percent (Hazen 1914, from memory).
    #[test]
    fn percentiles_of_waters_lie_between_hazens_positions() {
        let waters: Vec<WaterMeans> = [240.0, 200.0, 220.0, 300.0]
            .iter()
            .map(|mean| WaterMeans { name: String::new(), means: vec![(1, *mean, 9)] })
            .collect();
        let standard = standard_from_waters(&waters, None, 1, &reference(0, 1.0));
        let at = |percent| {
            length_at_percent(percent, &standard[0].percentiles).map(|length| length.value())
        };
        assert_eq!([at(25.0), at(50.0), at(75.0)], [Some(210.0), Some(230.0), Some(270.0)]);
        assert_eq!([at(10.0), at(90.0)], [None, None]);
    }
}
