//! The sample with errors drawn onto it: flat arrays, since thousands of samples are drawn.

use crate::analysis::back_calculation::{Measured, Reason};
use crate::analysis::numerics::splitmix::SplitMix64;

use super::inputs::{ErrorInputs, OtherReading, Source, UncertainFish};

/// Which sources are drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct On(u8);

impl On {
    pub(super) fn of(sources: &[Source]) -> Self {
        Self(sources.iter().fold(0, |bits, source| bits | 1 << *source as u8))
    }

    pub(super) fn has(self, source: Source) -> bool {
        self.0 & (1 << source as u8) != 0
    }
}

/// One reading of one fish: total radius and annuli of each structure, µm.
#[derive(Debug, Clone, PartialEq)]
struct Reading {
    structures: Vec<(f64, Vec<f64>)>,
    n_annuli: usize,
    edge_counted: bool,
}

/// A fish whose readings all hold together.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct SoundFish {
    pub(super) length_mm: f64,
    pub(super) part_of_year: f64,
    readings: Vec<Reading>,
    group: usize,
}

impl SoundFish {
    pub(super) fn n_readings(&self) -> usize {
        self.readings.len()
    }

    /// Greatest whole age any reading gives.
    pub(super) fn oldest(&self) -> usize {
        let ages = self.readings.iter().map(|one| one.n_annuli + usize::from(one.edge_counted));
        ages.max().unwrap_or(0)
    }

    /// Whole age at capture of the first reading.
    pub(super) fn age(&self) -> usize {
        self.readings.first().map_or(0, |one| one.n_annuli + usize::from(one.edge_counted))
    }

    /// The fish, or the reason for which back-calculation too leaves it out.
    pub(super) fn of(fish: &UncertainFish) -> Result<Self, Reason> {
        let length_mm = Measured::check(&fish.fish)?.length_mm;
        let first = OtherReading {
            structures: fish.fish.structures.clone(),
            edge_counted: fish.fish.edge_counted,
        };
        let others = fish.others.iter().filter(|other| {
            let mut read = fish.fish.clone();
            read.structures.clone_from(&other.structures);
            (read.edge_counted, read.stated_age) = (other.edge_counted, None);
            Measured::check(&read).is_ok()
        });
        Ok(Self {
            length_mm,
            part_of_year: fish.part_of_year,
            readings: std::iter::once(&first).chain(others).map(Reading::of).collect(),
            group: fish.calibration_group,
        })
    }
}

impl Reading {
    fn of(reading: &OtherReading) -> Self {
        let structures: Vec<(f64, Vec<f64>)> = reading
            .structures
            .iter()
            .map(|radii| {
                let annuli = radii.annuli.iter().map(|radius| radius.value()).collect();
                (radii.total.map_or(f64::NAN, |total| total.value()), annuli)
            })
            .collect();
        let n_annuli = structures.first().map_or(0, |(_, annuli)| annuli.len());
        Self { structures, n_annuli, edge_counted: reading.edge_counted }
    }
}

/// A sample as measured with one set of errors.
#[derive(Debug, Clone, Default)]
pub(super) struct Perturbed {
    pub(super) lengths_mm: Vec<f64>,
    pub(super) radii_um: Vec<f64>,
    /// Ratio of annulus to total radius, fish after fish.
    ratios: Vec<f64>,
    /// Where each fish's ratios end.
    ends: Vec<usize>,
    pub(super) edge_counted: Vec<bool>,
    /// Smallest annulus radius and largest total radius, µm.
    pub(super) used_um: [f64; 2],
}

impl Perturbed {
    pub(super) fn ratios_of(&self, fish: usize) -> &[f64] {
        let end = self.ends.get(fish).copied().unwrap_or(0);
        let start = fish.checked_sub(1).and_then(|before| self.ends.get(before)).copied();
        self.ratios.get(start.unwrap_or(0)..end).unwrap_or(&[])
    }

    /// Whole age of a fish as drawn.
    pub(super) fn age_of(&self, fish: usize) -> usize {
        let edge = self.edge_counted.get(fish).copied().unwrap_or(false);
        self.ratios_of(fish).len() + usize::from(edge)
    }

    /// Draws. A mark that an error carries past its neighbour stays there: it is an error of measurement, not another
    /// reading.
    pub(super) fn draw(
        fish: &[SoundFish],
        errors: &ErrorInputs,
        n_groups: usize,
        on: On,
        random: &mut SplitMix64,
    ) -> Self {
        let sd =
            |source, known: &super::Known| if on.has(source) { known.sd_or_none() } else { 0.0 };
        let mark_um = sd(Source::Marks, &errors.marks_um);
        let focus_um = sd(Source::Focus, &errors.focus_um);
        let length_mm = sd(Source::Length, &errors.length_mm);
        let relative = sd(Source::Calibration, &errors.calibration);
        let scales: Vec<f64> = (0..n_groups)
            .map(|_| if relative > 0.0 { 1.0 + relative * random.next_normal() } else { 1.0 })
            .collect();
        let mut drawn = Self { used_um: [f64::INFINITY, 0.0], ..Self::default() };
        drawn.reserve(fish);
        for one in fish {
            let place = if on.has(Source::Readers) && one.readings.len() > 1 {
                random.next_below(one.readings.len())
            } else {
                0
            };
            let Some(reading) = one.readings.get(place) else { continue };
            let scale = scales.get(one.group).copied().unwrap_or(1.0);
            let mut errors_um = Errors { random, mark_um, focus_um, scale };
            drawn.push(reading, &mut errors_um);
            let error = if length_mm > 0.0 { length_mm * random.next_normal() } else { 0.0 };
            drawn.lengths_mm.push((one.length_mm + error).max(1e-3 * one.length_mm));
        }
        drawn
    }

    fn reserve(&mut self, fish: &[SoundFish]) {
        let annuli = fish.iter().map(|one| one.age() + 1).sum();
        self.ratios.reserve(annuli);
        self.lengths_mm.reserve(fish.len());
        self.radii_um.reserve(fish.len());
        self.ends.reserve(fish.len());
        self.edge_counted.reserve(fish.len());
    }

    fn push(&mut self, reading: &Reading, errors: &mut Errors<'_>) {
        let (start, n) = (self.ratios.len(), reading.structures.len() as f64);
        self.ratios.resize(start + reading.n_annuli, 0.0);
        let mut total_um = 0.0;
        for (total, annuli) in &reading.structures {
            let focus = errors.focus();
            let edge_um = (errors.mark(*total) - focus).max(1e-3 * total);
            total_um += edge_um;
            for (sum, annulus) in self.ratios[start..].iter_mut().zip(annuli) {
                *sum += (errors.mark(*annulus) - focus).max(1e-3 * annulus) / (edge_um * n);
            }
        }
        let radius_um = total_um / n;
        let first_um = self.ratios.get(start).map_or(radius_um, |ratio| ratio * radius_um);
        self.used_um = [self.used_um[0].min(first_um), self.used_um[1].max(radius_um)];
        self.radii_um.push(radius_um);
        self.ends.push(self.ratios.len());
        self.edge_counted.push(reading.edge_counted);
    }
}

struct Errors<'a> {
    random: &'a mut SplitMix64,
    mark_um: f64,
    focus_um: f64,
    scale: f64,
}

impl Errors<'_> {
    fn focus(&mut self) -> f64 {
        if self.focus_um > 0.0 { self.focus_um * self.random.next_normal() } else { 0.0 }
    }

    fn mark(&mut self, at_um: f64) -> f64 {
        let error = if self.mark_um > 0.0 { self.mark_um * self.random.next_normal() } else { 0.0 };
        at_um * self.scale + error
    }
}
