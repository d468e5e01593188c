//! A whole invented water: its year classes, good and poor years, every fish with its growth written in its scale.

use jiff::civil::Date;

use super::chance::Chance;
use crate::domain::age::{edge_by_thirds, marginal_increment_ratio};
use crate::domain::fish::{Fish, LengthType, Sex, StockingMark};
use crate::domain::reading::EdgeCondition;
use crate::domain::units::Millimetres;

/// A year class of the lake.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct YearClass {
    /// Calendar year it was hatched in.
    pub year: i16,
    /// Fish of it in the sample.
    pub n: u32,
    /// Share of it that was stocked, 0 to 1.
    pub stocked_share: f64,
}

/// Growth of one sex: the curve every year would follow if all years were alike.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GrowthLaw {
    /// Asymptotic mean length, mm.
    pub linf_mm: f64,
    /// Growth coefficient, per year.
    pub k_per_year: f64,
    /// Age at which the curve meets length 0, years.
    pub t0_years: f64,
}

/// How a lake is made.
#[derive(Debug, Clone, PartialEq)]
pub struct LakePlan {
    /// Water.
    pub water: String,
    /// Letters that begin each fish number.
    pub prefix: String,
    /// Species.
    pub species: String,
    /// Year classes in the sample.
    pub year_classes: Vec<YearClass>,
    /// Growth of females.
    pub female: GrowthLaw,
    /// Growth of males.
    pub male: GrowthLaw,
    /// Calendar years whose growth differs: year and factor on that year's increment.
    pub year_factors: Vec<(i16, f64)>,
    /// First night of sampling.
    pub first_night: Date,
    /// Number of nights (runs).
    pub nights: u32,
    /// Share of a full season's growth done by the first night, 0 to 1.
    pub season_done: f64,
    /// Length at which the scale begins to form, mm.
    pub scale_starts_mm: f64,
    /// Millimetres of fish for each micrometre of scale radius.
    pub mm_per_um: f64,
    /// Seed of every draw.
    pub seed: u64,
}

/// One fish of the lake with everything that is known about it.
#[derive(Debug, Clone, PartialEq)]
pub struct LakeFish {
    /// Its row of the field sheet.
    pub fish: Fish,
    /// True age, years.
    pub age: u32,
    /// True year class.
    pub year_class: i16,
    /// True length at each past annulus, mm.
    pub lengths_mm: Vec<f64>,
    /// Radius of its scale at each annulus, µm.
    pub annuli_um: Vec<f64>,
    /// Total radius of its scale, µm.
    pub radius_um: f64,
    /// Condition of the margin.
    pub edge: EdgeCondition,
}

impl LakePlan {
    /// The length a fish reaches at the end of each season and at capture, given its own asymptote.
    fn growth_path(&self, law: &GrowthLaw, year_class: i16, age: u32, own: f64) -> (Vec<f64>, f64) {
        let linf = law.linf_mm * own;
        let first = linf * (1.0 - libm::exp(-law.k_per_year * (1.0 - law.t0_years)));
        let mut length = 0.0;
        let mut at_annuli = Vec::new();
        let last_season = i16::try_from(age).unwrap_or(i16::MAX);
        for season in 0..=last_season {
            let full = if season == 0 {
                first
            } else {
                (linf - length) * (1.0 - libm::exp(-law.k_per_year))
            };
            let grown = full * self.year_factor(year_class.saturating_add(season));
            if season == last_season {
                return (at_annuli, length + grown * self.season_done);
            }
            length += grown;
            at_annuli.push(length);
        }
        (at_annuli, length)
    }

    fn year_factor(&self, year: i16) -> f64 {
        self.year_factors
            .iter()
            .find(|(other, _)| *other == year)
            .map_or(1.0, |(_, factor)| *factor)
    }

    fn radius_um(&self, length_mm: f64) -> f64 {
        (length_mm - self.scale_starts_mm) / self.mm_per_um
    }
}

/// Draws the fish of a lake, in the order they were caught.
pub fn draw_lake(plan: &LakePlan) -> Vec<LakeFish> {
    let mut chance = Chance::new(plan.seed, "lake");
    let mut drawn: Vec<LakeFish> = plan
        .year_classes
        .iter()
        .flat_map(|class| std::iter::repeat_n(*class, class.n as usize))
        .map(|class| draw_fish(plan, class, &mut chance))
        .collect();
    shuffle(&mut drawn, &mut chance);
    for (index, lake_fish) in drawn.iter_mut().enumerate() {
        number_fish(plan, lake_fish, index);
    }
    drawn
}

fn draw_fish(plan: &LakePlan, class: YearClass, chance: &mut Chance) -> LakeFish {
    let age = u32::try_from(plan.first_night.year().saturating_sub(class.year)).unwrap_or(0);
    let sex = if chance.happens(0.5) { Sex::Female } else { Sex::Male };
    let law = if sex == Sex::Female { plan.female } else { plan.male };
    let own = chance.factor(0.07);
    let (lengths_mm, length_mm) = plan.growth_path(&law, class.year, age, own);
    let scale_size = chance.factor(0.06);
    let annuli_um = annuli_um(plan, &lengths_mm, scale_size, chance);
    let radius_um = plan.radius_um(length_mm) * scale_size;
    let length_mm = length_mm.round();
    // Weight of a fish in fair condition: length cubed, scattered; the lean years make it leaner.
    let weight_g = 8.6e-6 * libm::pow(length_mm, 3.02) * chance.factor(0.07);
    let stocked = chance.happens(class.stocked_share);
    let stocking_mark =
        if stocked { StockingMark::Found("fin clip".into()) } else { StockingMark::NoneFound };
    let is_sexed = age >= 2 || chance.happens(0.3);
    LakeFish {
        edge: edge_by_thirds(marginal_increment_ratio(&annuli_um, radius_um)),
        fish: Fish {
            key: String::new(),
            number: String::new(),
            species: plan.species.clone(),
            water: plan.water.clone(),
            captured: None,
            run: String::new(),
            length: Some(Millimetres(length_mm)),
            length_type: LengthType::Total,
            weight_g: Some(weight_g.round()),
            sex: if is_sexed { sex } else { Sex::Unknown },
            body_site: "left side, below the first dorsal fin".into(),
            pressing_batch: String::new(),
            slide: String::new(),
            slide_position: String::new(),
            stocking_mark,
            known_year_class: None,
            scans: Vec::new(),
            count: 1,
            row: 0,
        },
        age,
        year_class: class.year,
        lengths_mm,
        annuli_um,
        radius_um,
    }
}

/// Radii at the annuli. The scale does not follow the fish exactly: each zone is a little wider or narrower than it
/// should be, which keeps the radii in order however crowded the margin.
fn annuli_um(
    plan: &LakePlan,
    lengths_mm: &[f64],
    scale_size: f64,
    chance: &mut Chance,
) -> Vec<f64> {
    let mut exact_before = 0.0;
    let mut radius = 0.0;
    let mut radii = Vec::with_capacity(lengths_mm.len());
    for length_mm in lengths_mm {
        let exact = plan.radius_um(*length_mm) * scale_size;
        radius += (exact - exact_before) * chance.factor(0.03);
        exact_before = exact;
        radii.push(radius);
    }
    // The whole is brought back to the scale's true size, so that only the zones are scattered.
    let correction = if radius > 0.0 { exact_before / radius } else { 1.0 };
    radii.iter().map(|um| um * correction).collect()
}

fn number_fish(plan: &LakePlan, lake_fish: &mut LakeFish, index: usize) {
    let number = format!("{}-{:04}", plan.prefix, index + 1);
    let night = index as u32 * plan.nights
        / plan.year_classes.iter().map(|class| class.n).sum::<u32>().max(1);
    let fish = &mut lake_fish.fish;
    fish.captured = plan.first_night.checked_add(jiff::Span::new().days(i64::from(night))).ok();
    fish.run = format!("run {}", night + 1);
    fish.pressing_batch = format!("batch {}", index / 40 + 1);
    fish.slide = format!("{}", index / 20 + 1);
    fish.slide_position = format!("{}", index % 20 + 1);
    fish.scans = vec![format!("{number}.tif")];
    fish.row = index + 2;
    fish.key.clone_from(&number);
    fish.number = number;
}

/// Fisher-Yates.
fn shuffle<T>(items: &mut [T], chance: &mut Chance) {
    for last in (1..items.len()).rev() {
        let other = chance.whole(0, u32::try_from(last).unwrap_or(u32::MAX)) as usize;
        items.swap(last, other);
    }
}

/// Maple Hollow Pond: an invented walleye water, stocked every second year, with two years of scarce forage.
pub fn maple_hollow() -> LakePlan {
    let class = |year, n, stocked_share| YearClass { year, n, stocked_share };
    LakePlan {
        water: "Maple Hollow Pond".into(),
        prefix: "MH".into(),
        species: "walleye".into(),
        year_classes: vec![
            class(2025, 12, 0.0),
            class(2024, 8, 0.0),
            class(2023, 26, 0.85),
            class(2022, 4, 0.0),
            class(2021, 25, 0.8),
            class(2020, 3, 0.0),
            class(2019, 22, 0.9),
            class(2017, 12, 0.9),
            class(2016, 2, 0.0),
            class(2015, 5, 1.0),
            class(2013, 1, 1.0),
        ],
        female: GrowthLaw { linf_mm: 690.0, k_per_year: 0.27, t0_years: -0.35 },
        male: GrowthLaw { linf_mm: 570.0, k_per_year: 0.33, t0_years: -0.35 },
        year_factors: vec![
            (2016, 1.05),
            (2017, 1.02),
            (2018, 1.10),
            (2019, 1.06),
            (2020, 0.72),
            (2021, 1.14),
            (2022, 0.97),
            (2023, 0.76),
            (2024, 1.00),
            (2025, 1.04),
        ],
        first_night: Date::constant(2025, 10, 6),
        nights: 3,
        season_done: 0.93,
        scale_starts_mm: 32.0,
        mm_per_um: 0.13,
        seed: 2025,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn maple_hollow_has_its_120_fish_with_sound_scales() {
        let fish = draw_lake(&maple_hollow());
        assert_eq!(fish.len(), 120);
        for one in &fish {
            assert_eq!(one.annuli_um.len(), one.age as usize, "{}", one.fish.number);
            let mut last = 0.0;
            for um in &one.annuli_um {
                assert!(*um > last, "{}", one.fish.number);
                last = *um;
            }
            assert!(one.radius_um > last, "{}", one.fish.number);
        }
        assert_eq!(fish, draw_lake(&maple_hollow()));
    }

    #[test]
    fn a_poor_year_is_short_in_every_year_class_alive_then() {
        let plan = maple_hollow();
        let (poor, _) = plan.growth_path(&plan.female, 2017, 6, 1.0);
        let mut plain = plan.clone();
        plain.year_factors.clear();
        let (usual, _) = plain.growth_path(&plan.female, 2017, 6, 1.0);
        assert!(poor[3] - poor[2] < 0.85 * (usual[3] - usual[2]));
    }
}
