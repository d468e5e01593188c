//! Invented lakes of pure numbers whose truth is known, and whether the program's limits hold it.
//!
//! A fish of age t has length a + (V(t) - a)(1 + u)(1 + v) and radius b (V(t) - a)(1 + u): V is the curve of von
//! Bertalanffy, u the growth of the fish, v its length for its structure. So length above the intercept is in proportion
//! to the radius, as Fraser-Lee assumes, and the regression of length on radius is the right one. With
//! `scatter_in_structure` v stands on the radius instead: then that regression is the wrong one for the fish.

use winterline::analysis::back_calculation::{
    Intercept, InterceptLine, Method, Options, SampleFish, back_calculate,
};
use winterline::analysis::growth::{
    Curve, FitSettings, Observation, bootstrap, fit, profile_interval,
};
use winterline::analysis::numerics::splitmix::SplitMix64;
use winterline::analysis::uncertainty::{
    CurveRows, CurveWanted, ErrorInputs, Known, Scope, Settings, UncertainFish, propagate,
};
use winterline::analysis::year_effects::{
    FishEffect, Increment, Scale, year_effects_by_piece, year_of_growth,
};
use winterline::domain::progress::Progress;
use winterline::domain::units::{Micrometres, Millimetres};

/// One lake's truth.
#[derive(Debug, Clone)]
pub struct Lake {
    linf_mm: f64,
    k: f64,
    t0: f64,
    intercept_mm: f64,
    um_per_mm: f64,
    growth_cv: f64,
    shape_cv: f64,
    mark_um: f64,
    oldest: u32,
    survival: f64,
    n_fish: usize,
    scatter_in_structure: bool,
    /// Years differ by this standard deviation of the logarithm of growth; 0 in lakes for curves.
    year_sd: f64,
}

/// How often limits of one kind held the truth.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Tally {
    pub given: usize,
    pub held: usize,
    /// Truth below the lower limit.
    pub below: usize,
    pub not_given: usize,
}

impl Tally {
    fn add(&mut self, limits: Option<[f64; 2]>, truth: f64) {
        match limits {
            Some([low, high]) => {
                self.given += 1;
                self.held += usize::from(low <= truth && truth <= high);
                self.below += usize::from(truth < low);
            }
            None => self.not_given += 1,
        }
    }

    pub fn merge(&mut self, other: &Self) {
        self.given += other.given;
        self.held += other.held;
        self.below += other.below;
        self.not_given += other.not_given;
    }

    pub fn share(&self) -> f64 {
        self.held as f64 / self.given as f64
    }
}

/// Names of the tallies, in order.
pub const NAMES: [&str; 11] = [
    "length at age, all sources",
    "length at age, mean and SE alone",
    "Linf, all sources",
    "K, all sources",
    "Linf, Wald",
    "Linf, profile",
    "Linf, percentile bootstrap",
    "K, Wald",
    "K, profile",
    "K, percentile bootstrap",
    "effect of a year",
];

pub type Tallies = [Tally; NAMES.len()];

/// What to try.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Trial {
    pub scatter_in_structure: bool,
    /// The intercept is given, not fitted.
    pub is_given: bool,
    pub replicates: usize,
}

impl Lake {
    pub fn draw(seed: u64, scatter_in_structure: bool) -> Self {
        let mut random = SplitMix64::stream(seed, 1);
        let mut between = |low: f64, high: f64| low + (high - low) * random.next_unit();
        Self {
            linf_mm: between(250.0, 800.0),
            k: between(0.2, 0.5),
            t0: between(-0.8, 0.0),
            intercept_mm: between(10.0, 40.0),
            um_per_mm: between(5.0, 10.0),
            growth_cv: between(0.05, 0.12),
            shape_cv: between(0.02, 0.05),
            mark_um: between(5.0, 25.0),
            oldest: between(7.0, 12.0) as u32,
            survival: between(0.6, 0.85),
            n_fish: between(60.0, 300.0) as usize,
            scatter_in_structure,
            year_sd: 0.0,
        }
    }

    fn mean_mm(&self, age: f64) -> f64 {
        self.linf_mm * (1.0 - (-self.k * (age - self.t0)).exp())
    }

    fn age(&self, random: &mut SplitMix64) -> u32 {
        let mut age = 1;
        while age < self.oldest && random.next_unit() < self.survival {
            age += 1;
        }
        age
    }

    /// Fish of one autumn; `years` holds the effect on the logarithm of growth of each year, the last one's first.
    fn fish(&self, years: &[f64], random: &mut SplitMix64) -> Vec<SampleFish> {
        (0..self.n_fish).map(|number| self.one(number, years, random)).collect()
    }

    fn one(&self, number: usize, years: &[f64], random: &mut SplitMix64) -> SampleFish {
        let age = self.age(random);
        let (u, v) = (self.growth_cv * random.next_normal(), self.shape_cv * random.next_normal());
        let (on_length, on_radius) =
            if self.scatter_in_structure { (1.0, 1.0 + v) } else { (1.0 + v, 1.0) };
        // Size above the intercept, as grown: through the years where they differ.
        let mut size = 0.0;
        let mut above_mm = Vec::new();
        for year in 0..=age {
            let reach = if year == age { f64::from(age) + 0.6 } else { f64::from(year + 1) };
            let before = if year == 0 { self.intercept_mm } else { self.mean_mm(f64::from(year)) };
            let own = if self.year_sd > 0.0 { 0.1 * random.next_normal() } else { 0.0 };
            let effect = years.get((age - year) as usize).copied().unwrap_or(0.0);
            size += (self.mean_mm(reach) - before) * (effect + own).exp();
            above_mm.push(size * (1.0 + u));
        }
        let focus = self.mark_um * random.next_normal();
        let mut radius = |mm: f64| {
            Micrometres(
                mm * on_radius * self.um_per_mm + self.mark_um * random.next_normal() - focus,
            )
        };
        let mut radii: Vec<Micrometres> = above_mm.iter().map(|mm| radius(*mm)).collect();
        let total = radii.pop();
        let length = above_mm.last().map(|mm| Millimetres(self.intercept_mm + mm * on_length));
        SampleFish {
            year_class: Some(2025 - age as i16),
            ..SampleFish::new(number.to_string(), length, total, radii)
        }
    }

    fn method(&self, is_given: bool) -> Method {
        Method::FraserLee(if is_given {
            Intercept::Given { length: Millimetres(self.intercept_mm), source: "truth".to_owned() }
        } else {
            Intercept::Fitted(InterceptLine::LeastSquares)
        })
    }

    fn errors(&self) -> ErrorInputs {
        ErrorInputs {
            intercept_mm: Known::Sd { sd: 0.0, origin: "the truth is given".to_owned() },
            ..ErrorInputs::unknown()
        }
    }
}

/// Draws a lake, runs the program on it, and counts.
pub fn judge(seed: u64, trial: Trial) -> Tallies {
    let mut tallies = Tallies::default();
    let lake = Lake::draw(seed, trial.scatter_in_structure);
    let mut random = SplitMix64::stream(seed, 2);
    let sample = lake.fish(&[], &mut random);
    judge_lengths(&lake, &sample, trial, seed, &mut tallies);
    if !trial.scatter_in_structure {
        judge_years(&lake, trial, &mut random, &mut tallies);
    }
    tallies
}

fn judge_lengths(
    lake: &Lake,
    sample: &[SampleFish],
    trial: Trial,
    seed: u64,
    tallies: &mut Tallies,
) {
    let method = lake.method(trial.is_given);
    let Ok(result) = back_calculate(sample, method.clone(), &Options::default()) else { return };
    for row in &result.tables.by_age {
        let half = row.se_mm.map(|se| 1.96 * se);
        let limits = half.map(|half| [row.mean_mm - half, row.mean_mm + half]);
        tallies[1].add(limits, lake.mean_mm(row.age as f64));
    }
    let fish: Vec<UncertainFish> = sample.iter().cloned().map(UncertainFish::once).collect();
    let wanted = CurveWanted {
        curve: Curve::VonBertalanffy,
        settings: FitSettings::default(),
        rows: CurveRows::LastAnnulus,
    };
    let settings = Settings { replicates: trial.replicates, seed, scope: Scope::Population };
    let progress = Progress::new();
    let found = propagate(&fish, &method, &lake.errors(), Some(&wanted), settings, &progress);
    if let Ok(found) = &found {
        for row in &found.by_age {
            tallies[0].add(row.ci95_mm, lake.mean_mm(row.age as f64));
        }
        for (place, truth) in [(2, lake.linf_mm), (3, lake.k)] {
            let limits = found.parameters.get(place - 2).and_then(|one| one.ci95);
            tallies[place].add(limits, truth);
        }
    }
    let rows: Vec<Observation> = result
        .fish
        .iter()
        .enumerate()
        .filter_map(|(fish, one)| {
            Some(Observation::single(one.age() as f64, *one.lengths_mm.last()?, fish))
        })
        .collect();
    let Ok(fitted) = fit(Curve::VonBertalanffy, &rows, &FitSettings::default()) else { return };
    let boot = bootstrap(&fitted, trial.replicates, seed, &progress).ok();
    for (index, truth) in [(0, lake.linf_mm), (1, lake.k)] {
        let profile = profile_interval(&fitted, index).and_then(|[low, high]| Some([low?, high?]));
        let percentile = boot.as_ref().and_then(|boot| boot.parameters.get(index)?.interval);
        let wald = fitted.parameters.get(index).and_then(|one| one.ci95);
        tallies[4 + 3 * index].add(wald, truth);
        tallies[5 + 3 * index].add(profile, truth);
        tallies[6 + 3 * index].add(percentile.map(|found| found.ci95), truth);
    }
}

/// The same lake with good and bad years.
fn judge_years(lake: &Lake, trial: Trial, random: &mut SplitMix64, tallies: &mut Tallies) {
    let lake = Lake { year_sd: 0.15, ..lake.clone() };
    let years: Vec<f64> = (0..40).map(|_| lake.year_sd * random.next_normal()).collect();
    let sample = lake.fish(&years, random);
    let method = lake.method(trial.is_given);
    let Ok(result) = back_calculate(&sample, method, &Options::default()) else { return };
    let mut increments = Vec::new();
    for (fish, one) in result.fish.iter().enumerate() {
        // The first zone holds the intercept, which no year grew: growth years rest on the others.
        for (pair, age) in one.lengths_mm.windows(2).zip(2u32..) {
            let year = year_of_growth(i32::from(one.year_class.unwrap_or(0)), age);
            let size = pair[1] - pair[0];
            if size > 0.0 {
                increments.push(Increment { fish, age, year, size });
            }
        }
    }
    for (_, found) in year_effects_by_piece(&increments, Scale::Log, FishEffect::Random) {
        let Ok(found) = found else { continue };
        let truth = |year: i32| years.get((2025 - year) as usize).copied().unwrap_or(0.0);
        let mean =
            found.years.iter().map(|one| truth(one.year)).sum::<f64>() / found.years.len() as f64;
        for one in &found.years {
            tallies[10].add(Some(one.ci95), truth(one.year) - mean);
        }
    }
}
