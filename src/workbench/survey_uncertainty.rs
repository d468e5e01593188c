//! From the readings of a survey to what is known of their errors: scans read twice tell how well marks are placed and
//! how readers differ, calibrations carry their own standard error, and what nothing tells is named as missing.

use std::collections::{BTreeMap, HashMap};

use crate::analysis::back_calculation::{SampleFish, mark_error_from_pairs};
use crate::analysis::uncertainty::{ErrorInputs, Known, OtherReading, UncertainFish};
use crate::domain::age::decimal_age_from_new_year;
use crate::domain::calibration::Calibration;
use crate::domain::reading::{
    ImpressionReading, Outcome, ReaderInitials, ReadingState, ScanReading,
};
use crate::domain::units::Micrometres;
use crate::store::collection::OpenSurvey;
use crate::store::survey_check::SurveyReadings;

use super::survey_lengths::survey_sample;

/// Standard deviations that a person has stated; they take the place of what the survey tells.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct StatedErrors {
    /// Of a mark along the axis, µm.
    pub mark_um: Option<f64>,
    /// Of the focus along the axis, µm.
    pub focus_um: Option<f64>,
    /// Of a length at capture, mm.
    pub length_mm: Option<f64>,
    /// Of the pixel size, relative.
    pub calibration: Option<f64>,
    /// Of a given intercept, mm.
    pub intercept_mm: Option<f64>,
}

/// Gives the fish of a sample their other readings, their calibrations and their part of a year.
pub fn uncertain_fish(
    survey: &OpenSurvey,
    readings: &SurveyReadings,
    reader: &ReaderInitials,
    fish: &[SampleFish],
) -> Vec<UncertainFish> {
    let mut others: HashMap<String, Vec<OtherReading>> = HashMap::new();
    for other in readers_besides(readings, reader) {
        for one in survey_sample(survey, readings, &other).fish {
            let read = OtherReading { structures: one.structures, edge_counted: one.edge_counted };
            others.entry(one.key).or_default().push(read);
        }
    }
    let groups = calibration_groups(readings, reader);
    fish.iter()
        .map(|one| UncertainFish {
            others: others.get(&one.key).cloned().unwrap_or_default(),
            calibration_group: groups.get(&one.key).copied().unwrap_or(0),
            part_of_year: one
                .capture_date
                .map_or(0.0, |captured| decimal_age_from_new_year(0, captured)),
            fish: one.clone(),
        })
        .collect()
}

/// What is known of the errors of `reader`'s sample.
pub fn error_inputs(
    survey: &OpenSurvey,
    readings: &SurveyReadings,
    reader: &ReaderInitials,
    stated: &StatedErrors,
) -> ErrorInputs {
    let repeats = Repeats::of(survey, readings, reader);
    let focus = repeats.focus_um();
    let missing = |why: &str| Known::Missing(why.to_owned());
    ErrorInputs {
        marks_um: given(stated.mark_um).unwrap_or_else(|| repeats.marks(focus)),
        focus_um: given(stated.focus_um).unwrap_or_else(|| match focus {
            Some(sd) => Known::Sd { sd, origin: repeats.origin("the focus") },
            None if repeats.n_scans > 0 => missing(
                "all readers of the scans read twice kept the same focus, so its error is not seen: have some set it anew, or \
                 state it",
            ),
            None => missing("no scan was read twice: have some re-read, or state the error of the focus"),
        }),
        length_mm: given(stated.length_mm)
            .unwrap_or_else(|| missing("no fish was measured twice: measure some again, or state the error")),
        calibration: given(stated.calibration).unwrap_or_else(|| calibration(readings, reader)),
        intercept_mm: given(stated.intercept_mm).unwrap_or_else(|| {
            missing("the given intercept comes without a standard error: state one, or fit the intercept")
        }),
    }
}

/// The errors of a table of radii: only what a person states.
pub fn errors_of_table(stated: &StatedErrors) -> ErrorInputs {
    let or = |value: Option<f64>, why: &str| {
        given(value).unwrap_or_else(|| {
            Known::Missing(format!("a table of radii does not tell {why}: state it"))
        })
    };
    ErrorInputs {
        marks_um: or(stated.mark_um, "the error of a mark"),
        focus_um: or(stated.focus_um, "the error of the focus"),
        length_mm: or(stated.length_mm, "the error of a length at capture"),
        calibration: or(stated.calibration, "the error of the pixel size"),
        intercept_mm: or(stated.intercept_mm, "the error of a given intercept"),
    }
}

fn given(value: Option<f64>) -> Option<Known> {
    value.map(|sd| Known::Sd { sd, origin: "as stated".to_owned() })
}

fn readers_besides(readings: &SurveyReadings, reader: &ReaderInitials) -> Vec<ReaderInitials> {
    let mut found: Vec<ReaderInitials> = Vec::new();
    for other in readings.sidecars.iter().map(|sidecar| &sidecar.reading.reader) {
        if other != reader && !found.contains(other) {
            found.push(other.clone());
        }
    }
    found
}

fn confirmed<'a>(
    scan: &'a ScanReading,
    survey: &OpenSurvey,
) -> impl Iterator<Item = &'a ImpressionReading> {
    let structure = survey.survey.structure;
    scan.impressions.iter().filter(move |one| {
        one.state == ReadingState::Confirmed
            && one.outcome == Some(Outcome::Aged)
            && one.structure == structure
    })
}

/// Impressions that the reader and somebody else read.
struct Repeats {
    /// Radii of annuli of both, where they counted as many.
    annuli: Vec<(Micrometres, Micrometres)>,
    /// Distance of the two foci along the axis, µm.
    foci_um: Vec<f64>,
    n_scans: usize,
    n_equal: usize,
}

impl Repeats {
    fn of(survey: &OpenSurvey, readings: &SurveyReadings, reader: &ReaderInitials) -> Self {
        let mut own: BTreeMap<(&str, u32), (&ImpressionReading, &Calibration)> = BTreeMap::new();
        let (first, others): (Vec<_>, Vec<_>) =
            readings.sidecars.iter().map(|s| &s.reading).partition(|scan| scan.reader == *reader);
        for scan in first {
            if let Some(calibration) = &scan.calibration {
                for one in confirmed(scan, survey) {
                    own.insert((scan.scan.file.as_str(), one.number), (one, calibration));
                }
            }
        }
        let mut found = Self { annuli: Vec::new(), foci_um: Vec::new(), n_scans: 0, n_equal: 0 };
        for scan in others {
            for other in confirmed(scan, survey) {
                if let Some((one, calibration)) = own.get(&(scan.scan.file.as_str(), other.number))
                {
                    found.add(one, other, calibration);
                }
            }
        }
        found
    }

    /// The pixel size of the first reader serves both: its error is another source.
    fn add(&mut self, one: &ImpressionReading, other: &ImpressionReading, pixel: &Calibration) {
        let (Some(axis), Some(others)) = (&one.axis, &other.axis) else { return };
        self.n_scans += 1;
        let along = axis.end() - axis.focus();
        let apart = others.focus() - axis.focus();
        let px = apart.dot(along) / along.hypot().max(1e-9);
        self.foci_um.push(
            pixel.micrometres_from_displacement(along * (px / along.hypot().max(1e-9))).value(),
        );
        let (radii, theirs) = (one.annulus_radii(pixel), other.annulus_radii(pixel));
        if radii.len() == theirs.len() {
            self.n_equal += 1;
            self.annuli.extend(radii.into_iter().zip(theirs));
        }
    }

    fn focus_um(&self) -> Option<f64> {
        let squares: f64 = self.foci_um.iter().map(|um| um * um).sum();
        let sd = (squares / (2.0 * self.foci_um.len().max(1) as f64)).sqrt();
        (sd > 1e-6).then_some(sd)
    }

    /// Radii differ by the marks and by the focus both: what the focus explains is taken out.
    fn marks(&self, focus_um: Option<f64>) -> Known {
        let Some(radii) = mark_error_from_pairs(&self.annuli) else {
            return Known::Missing(
                "no scan was read twice with the same number of annuli: have some re-read, or state the error of a mark"
                    .to_owned(),
            );
        };
        let left = radii.value().powi(2) - focus_um.unwrap_or(0.0).powi(2);
        if radii.value() < 1e-6 {
            return Known::Missing(
                "the scans read twice bear the very same marks: these are no independent readings"
                    .to_owned(),
            );
        }
        let sd = left.max(0.0).sqrt().max(0.1 * radii.value());
        Known::Sd { sd, origin: self.origin("marks") }
    }

    fn origin(&self, what: &str) -> String {
        format!(
            "{what} on {} scans read twice ({} with the same count, {} annuli)",
            self.n_scans,
            self.n_equal,
            self.annuli.len()
        )
    }
}

/// Root mean square of the relative standard errors of the reader's calibrations.
fn calibration(readings: &SurveyReadings, reader: &ReaderInitials) -> Known {
    let own = readings.sidecars.iter().filter(|sidecar| sidecar.reading.reader == *reader);
    let all: Vec<&Calibration> = own.filter_map(|s| s.reading.calibration.as_ref()).collect();
    let relative: Vec<f64> = all
        .iter()
        .filter_map(|one| Some(one.se_um_per_px? / one.mean_um_per_px()))
        .filter(|se| *se > 0.0)
        .collect();
    if relative.is_empty() {
        return Known::Missing(
            "no calibration has a standard error: measure a stage micrometer, or state the error"
                .to_owned(),
        );
    }
    let squares: f64 = relative.iter().map(|se| se * se).sum();
    Known::Sd {
        sd: (squares / relative.len() as f64).sqrt(),
        origin: format!("{} of {} scans have a measured pixel size", relative.len(), all.len()),
    }
}

/// Fish on scans of one pixel size share its error.
fn calibration_groups(
    readings: &SurveyReadings,
    reader: &ReaderInitials,
) -> HashMap<String, usize> {
    let mut sizes: Vec<(f64, f64)> = Vec::new();
    let mut groups = HashMap::new();
    for scan in readings.sidecars.iter().map(|s| &s.reading).filter(|scan| scan.reader == *reader) {
        let Some(pixel) = &scan.calibration else { continue };
        let size = (pixel.x_um_per_px(), pixel.y_um_per_px());
        let group = sizes.iter().position(|known| *known == size).unwrap_or_else(|| {
            sizes.push(size);
            sizes.len() - 1
        });
        for one in &scan.impressions {
            groups.entry(one.fish.clone()).or_insert(group);
        }
    }
    groups
}

/// Radii of fish of a table, read once each.
pub fn uncertain_rows(fish: &[SampleFish]) -> Vec<UncertainFish> {
    fish.iter().cloned().map(UncertainFish::once).collect()
}
