//! What back-calculation works on: fish with a length at capture and radii along one axis.

use crate::domain::dates::Date;
use crate::domain::fish::{LengthType, Sex};
use crate::domain::radii::RadiiRow;
use crate::domain::units::{Micrometres, Millimetres};

use super::exclusion::Reason;

/// Radii of one structure, all along one axis from one focus.
#[derive(Debug, Clone, PartialEq)]
pub struct Radii {
    /// Total radius, focus to edge; `None` where it was not measured.
    pub total: Option<Micrometres>,
    /// Radius to the outer edge of each annulus, in order. An annulus counted at the edge is not listed.
    pub annuli: Vec<Micrometres>,
}

/// One fish of a sample.
#[derive(Debug, Clone, PartialEq)]
pub struct SampleFish {
    /// The fish's key.
    pub key: String,
    /// Line of the file it came from, where there is one.
    pub row: Option<usize>,
    /// Species as written.
    pub species: String,
    /// Sex.
    pub sex: Sex,
    /// Water as written.
    pub water: String,
    /// Length at capture.
    pub length: Option<Millimetres>,
    /// How the length was taken; one analysis uses one length type.
    pub length_type: LengthType,
    /// Radii of each structure read: usually one, or several scales of the fish.
    pub structures: Vec<Radii>,
    /// Capture date.
    pub capture_date: Option<Date>,
    /// Year class known otherwise; without it capture date and age give it.
    pub year_class: Option<i16>,
    /// The edge stands for this year's annulus: the fish has one more age than annulus radii.
    pub edge_counted: bool,
    /// The age a reader put a name to, where one did: annuli and edge must add up to it.
    pub stated_age: Option<u32>,
}

impl SampleFish {
    /// A fish with one structure and nothing else known.
    pub fn new(
        key: impl Into<String>,
        length: Option<Millimetres>,
        total: Option<Micrometres>,
        annuli: Vec<Micrometres>,
    ) -> Self {
        Self {
            key: key.into(),
            row: None,
            species: String::new(),
            sex: Sex::Unknown,
            water: String::new(),
            length,
            length_type: LengthType::Total,
            structures: vec![Radii { total, annuli }],
            capture_date: None,
            year_class: None,
            edge_counted: false,
            stated_age: None,
        }
    }

    /// The fish of a table of radii, in the order of their first rows. Rows of the same fish are further
    /// structures of it; what they say of the fish itself is taken from the first.
    pub fn from_rows(rows: &[RadiiRow]) -> Vec<Self> {
        let mut fish: Vec<Self> = Vec::new();
        let mut places = std::collections::HashMap::new();
        for row in rows {
            let radii = Radii { total: row.radius, annuli: row.annuli.clone() };
            let place = *places.entry(row.fish.as_str()).or_insert(fish.len());
            match fish.get_mut(place) {
                Some(known) => known.structures.push(radii),
                None => fish.push(Self {
                    row: Some(row.row),
                    species: row.species.clone(),
                    sex: row.sex,
                    water: row.water.clone(),
                    structures: vec![radii],
                    capture_date: row.captured,
                    year_class: row.year_class,
                    ..Self::new(row.fish.clone(), row.length, None, Vec::new())
                }),
            }
        }
        fish
    }
}

/// A fish whose numbers hold together: the plain values the formulas work on.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Measured<'a> {
    pub(crate) fish: &'a SampleFish,
    pub(crate) length_mm: f64,
    /// Total radius; the mean over several structures.
    pub(crate) radius_um: f64,
    /// Annulus radius over total radius, for each structure.
    pub(crate) ratios: Vec<Vec<f64>>,
    /// Mean ratio of each annulus over the structures.
    pub(crate) mean_ratios: Vec<f64>,
}

impl<'a> Measured<'a> {
    /// Checks a fish, by the rules that hold for every method.
    pub(crate) fn check(fish: &'a SampleFish) -> Result<Self, Reason> {
        let length_mm = fish.length.ok_or(Reason::NoLength)?.value();
        if !(length_mm.is_finite() && length_mm > 0.0) {
            return Err(Reason::LengthNotPositive { length_mm });
        }
        if fish.structures.is_empty() {
            return Err(Reason::NoStructure);
        }
        let mut totals_um = Vec::new();
        let mut ratios = Vec::new();
        for radii in &fish.structures {
            let total_um = checked_radii(radii, fish.edge_counted)?;
            totals_um.push(total_um);
            ratios.push(radii.annuli.iter().map(|radius| radius.value() / total_um).collect());
        }
        let radius_um = crate::analysis::numerics::mean(&totals_um).ok_or(Reason::NoTotalRadius)?;
        let mean_ratios = mean_ratios(&ratios)?;
        let measured = Self { fish, length_mm, radius_um, ratios, mean_ratios };
        let counted = measured.age();
        match fish.stated_age {
            Some(stated) if usize::try_from(stated) != Ok(counted) => {
                Err(Reason::AgeDisagrees { stated, counted })
            }
            _ => Ok(measured),
        }
    }

    /// Age at capture: annuli, and the edge where it is counted.
    pub(crate) fn age(&self) -> usize {
        self.mean_ratios.len() + usize::from(self.fish.edge_counted)
    }
}

/// The total radius in micrometres, once all radii are found in order.
fn checked_radii(radii: &Radii, edge_counted: bool) -> Result<f64, Reason> {
    let total_um = radii.total.ok_or(Reason::NoTotalRadius)?.value();
    if !(total_um.is_finite() && total_um > 0.0) {
        return Err(Reason::RadiusNotPositive { annulus: None, radius_um: total_um });
    }
    let mut before_um = 0.0;
    for (index, radius) in radii.annuli.iter().enumerate() {
        let (annulus, radius_um) = (index + 1, radius.value());
        if !(radius_um.is_finite() && radius_um > 0.0) {
            return Err(Reason::RadiusNotPositive { annulus: Some(annulus), radius_um });
        }
        if radius_um <= before_um {
            return Err(Reason::RadiiNotIncreasing { annulus, radius_um, before_um });
        }
        before_um = radius_um;
    }
    if total_um < before_um {
        return Err(Reason::AnnulusBeyondEdge { last_um: before_um, total_um });
    }
    if edge_counted && total_um == before_um {
        return Err(Reason::EdgeCountedTwice);
    }
    Ok(total_um)
}

/// Mean ratio of each annulus: ratios, never raw radii, since scales of one fish differ in size
/// (common practice, no source).
fn mean_ratios(ratios: &[Vec<f64>]) -> Result<Vec<f64>, Reason> {
    let first = ratios.first().ok_or(Reason::NoTotalRadius)?;
    if let Some(other) = ratios.iter().find(|other| other.len() != first.len()) {
        return Err(Reason::StructuresDisagree { counts: [first.len(), other.len()] });
    }
    let n = ratios.len() as f64;
    Ok((0..first.len())
        .map(|i| ratios.iter().filter_map(|one| one.get(i)).sum::<f64>() / n)
        .collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fish(total_um: f64, annuli_um: &[f64]) -> SampleFish {
        let annuli = annuli_um.iter().copied().map(Micrometres).collect();
        SampleFish::new("MH-1", Some(Millimetres(300.0)), Some(Micrometres(total_um)), annuli)
    }

    #[test]
    fn ratios_are_averaged_and_scale_size_drops_out() {
        let mut two = fish(2000.0, &[500.0, 1000.0]);
        two.structures.push(Radii {
            total: Some(Micrometres(4000.0)),
            annuli: vec![Micrometres(1200.0), Micrometres(2000.0)],
        });
        let measured = Measured::check(&two).unwrap();
        assert_eq!(measured.mean_ratios, [0.275, 0.5]);
        assert_eq!(measured.radius_um, 3000.0);
    }

    #[test]
    fn structures_that_disagree_on_the_count_are_not_averaged() {
        let mut two = fish(2000.0, &[500.0, 1000.0]);
        two.structures
            .push(Radii { total: Some(Micrometres(4000.0)), annuli: vec![Micrometres(1200.0)] });
        assert_eq!(Measured::check(&two), Err(Reason::StructuresDisagree { counts: [2, 1] }));
    }

    #[test]
    fn an_edge_marked_and_counted_is_found() {
        let mut edge = fish(1000.0, &[500.0, 1000.0]);
        assert!(Measured::check(&edge).is_ok());
        edge.edge_counted = true;
        assert_eq!(Measured::check(&edge), Err(Reason::EdgeCountedTwice));
    }

    #[test]
    fn rows_of_one_fish_become_its_structures() {
        let row = |fish: &str, row, radius| RadiiRow {
            fish: fish.to_owned(),
            row,
            radius: Some(Micrometres(radius)),
            ..RadiiRow::default()
        };
        let fish =
            SampleFish::from_rows(&[row("7", 2, 10.0), row("8", 3, 11.0), row("7", 4, 12.0)]);
        let counts: Vec<_> = fish.iter().map(|f| (f.key.as_str(), f.structures.len())).collect();
        assert_eq!(counts, [("7", 2), ("8", 1)]);
        assert_eq!(fish[0].row, Some(2));
    }
}
