//! From confirmed readings of a fish to a fish of a sample.

use crate::domain::calibration::Calibration;
use crate::domain::fish::Fish;
use crate::domain::reading::{ImpressionReading, Outcome};

use super::sample::{Radii, SampleFish};

impl SampleFish {
    /// A fish of the field sheet with the readings of its structures, one for each impression, each with the pixel
    /// size of its scan. Which readings count (confirmed, preferred, resolved) is for the caller to choose.
    ///
    /// Only aged readings give radii: regenerated and unreadable ones have no lengths. Where the reader's age is one
    /// above the annuli marked, the edge stands for this year's annulus.
    pub fn from_readings(fish: &Fish, readings: &[(&ImpressionReading, &Calibration)]) -> Self {
        let aged = || readings.iter().filter(|(reading, _)| reading.outcome == Some(Outcome::Aged));
        let structures = aged()
            .map(|(reading, calibration)| Radii {
                total: reading.total_radius(calibration),
                annuli: reading.annulus_radii(calibration),
            })
            .collect();
        let first = aged().next().map(|(reading, _)| *reading);
        let stated_age = first.and_then(|reading| reading.age);
        let marked = first.and_then(|reading| u32::try_from(reading.annuli().count()).ok());
        Self {
            row: Some(fish.row),
            species: fish.species.clone(),
            sex: fish.sex,
            water: fish.water.clone(),
            length_type: fish.length_type,
            structures,
            capture_date: fish.captured,
            year_class: fish.known_year_class,
            edge_counted: stated_age.is_some() && stated_age == marked.map(|n| n + 1),
            stated_age,
            ..Self::new(fish.key.clone(), fish.length, None, Vec::new())
        }
    }
}

#[cfg(test)]
mod tests {
    use kurbo::Point;

    use super::*;
    use crate::analysis::back_calculation::{Method, Options, Reason, back_calculate};
    use crate::domain::axis::Axis;
    use crate::domain::calibration::CalibrationSource;
    use crate::domain::fish::{LengthType, Sex, StockingMark};
    use crate::domain::reading::{Certainty, Mark, MarkKind, MarkOrigin, Structure};
    use crate::domain::units::{Millimetres, Pixels};

    fn fish() -> Fish {
        Fish {
            key: "MH-0001".to_owned(),
            number: "0001".to_owned(),
            species: "walleye".to_owned(),
            water: "Maple Hollow Pond".to_owned(),
            captured: "2025-04-20".parse().ok(),
            run: String::new(),
            length: Some(Millimetres(300.0)),
            length_type: LengthType::Total,
            weight_g: None,
            sex: Sex::Female,
            body_site: String::new(),
            pressing_batch: String::new(),
            slide: String::new(),
            slide_position: String::new(),
            stocking_mark: StockingMark::NotLookedFor,
            known_year_class: None,
            scans: Vec::new(),
            count: 1,
            row: 2,
        }
    }

    fn reading(age: u32) -> ImpressionReading {
        let mut reading = ImpressionReading::new(1, "MH-0001", Structure::Scale);
        reading.axis = Some(Axis::straight(Point::new(0.0, 0.0), Point::new(500.0, 0.0)).unwrap());
        reading.edge = Some(Pixels(400.0));
        for (kind, position) in
            [(MarkKind::Annulus, 100.0), (MarkKind::Check, 150.0), (MarkKind::Annulus, 200.0)]
        {
            reading.marks.push(Mark {
                kind,
                position: Pixels(position),
                origin: MarkOrigin::ByHand,
                certainty: Certainty::Clear,
            });
        }
        reading.outcome = Some(Outcome::Aged);
        reading.age = Some(age);
        reading
    }

    fn calibration() -> Calibration {
        Calibration::from_dpi(2400.0, 1.0, CalibrationSource::Stated).unwrap()
    }

    #[test]
    fn the_reader_s_age_says_whether_the_edge_counts() {
        let (calibration, fish) = (calibration(), fish());
        for (age, lengths) in [(2, vec![75.0, 150.0]), (3, vec![75.0, 150.0, 300.0])] {
            let sample = SampleFish::from_readings(&fish, &[(&reading(age), &calibration)]);
            assert_eq!(sample.edge_counted, age == 3);
            let result =
                back_calculate(&[sample], Method::DirectProportion, &Options::default()).unwrap();
            let found = &result.fish[0].lengths_mm;
            assert_eq!(found.len(), lengths.len());
            assert!(found.iter().zip(&lengths).all(|(a, b)| (a - b).abs() < 1e-9));
        }
    }

    #[test]
    fn an_age_far_from_the_marks_and_a_regenerated_scale_give_no_lengths() {
        let (calibration, fish) = (calibration(), fish());
        let run = |reading: &ImpressionReading| {
            let sample = SampleFish::from_readings(&fish, &[(reading, &calibration)]);
            let options = Options::default();
            let result = back_calculate(&[sample], Method::DirectProportion, &options).unwrap();
            result.excluded.into_iter().next().map(|one| one.reason)
        };
        assert_eq!(run(&reading(5)), Some(Reason::AgeDisagrees { stated: 5, counted: 2 }));
        let mut regenerated = reading(2);
        regenerated.outcome = Some(Outcome::Regenerated);
        assert_eq!(run(&regenerated), Some(Reason::NoStructure));
    }
}
