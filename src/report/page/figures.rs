//! The plots of the report, each with words for those who cannot see it.

use maud::Markup;

use crate::analysis::agreement::comparison::PairComparison;
use crate::analysis::back_calculation::{Direction, Relation, Shape};
use crate::analysis::growth::{Fit, predict};
use crate::analysis::population::catch_curve::CatchCurve;
use crate::analysis::population::composition::Composition;
use crate::analysis::year_effects::YearEffects;
use crate::domain::fish::Sex;
use crate::report::plot::{Dash, Legend, Marker, Plot, PlotText, Range};
use crate::report::report_units::{counted, fixed};
use crate::report::survey_report::{FishPoint, SurveyReport};

/// Females, males and fish of unknown sex differ in shape.
const SEXES: [(Sex, Marker); 3] =
    [(Sex::Female, Marker::Disc), (Sex::Male, Marker::Triangle), (Sex::Unknown, Marker::Square)];

fn by_sex(
    plot: &mut Plot<'_>,
    points: &[&FishPoint],
    at: impl Fn(&FishPoint) -> Option<(f64, f64)>,
) {
    for (sex, marker) in SEXES {
        let of_sex: Vec<(f64, f64)> =
            points.iter().filter(|point| point.sex == sex).filter_map(|point| at(point)).collect();
        if !of_sex.is_empty() {
            plot.points(&of_sex, marker);
            plot.legend(Legend::Marker(marker), format!("{} ({})", sex.word(), of_sex.len()));
        }
    }
}

/// Mean age by the second reader at each age by the first, with the line of equal age.
pub(super) fn age_bias_plot(pair: &PairComparison, id: &str) -> Markup {
    let [first, second] = &pair.readers;
    let ages = || pair.bias_on_first.iter().map(|row| f64::from(row.age));
    let (low, high) = (ages().fold(f64::INFINITY, f64::min), ages().fold(0.0, f64::max));
    let tops = pair.bias_on_first.iter().flat_map(|row| row.ci95.unwrap_or([row.mean; 2]));
    let top = tops.fold(high, f64::max);
    let apart =
        pair.bias_on_first.iter().filter(|row| row.p_holm.is_some_and(|p| p < 0.05)).count();
    let description = format!(
        "Mean age by {second} against age by {first} with 95 percent intervals and the line of equal age. At {apart} of {} the mean \
         departs from the line by a test with Holm's adjustment.",
        counted(pair.bias_on_first.len() as u64, "age")
    );
    let text = PlotText {
        id,
        title: &format!("Age bias of {second} against {first}"),
        description: &description,
        x: &format!("age by {first}, years"),
        y: &format!("mean age by {second}, years"),
    };
    let mut plot =
        Plot::new(text, Range::whole(low, high), Range::whole(low.min(0.0).max(low - 1.0), top));
    plot.line(&[(low, low), (high, high)], Dash::Long);
    let limits: Vec<(f64, f64, f64)> = pair
        .bias_on_first
        .iter()
        .filter_map(|row| row.ci95.map(|[from, to]| (f64::from(row.age), from, to)))
        .collect();
    plot.whiskers(&limits);
    let means: Vec<(f64, f64)> =
        pair.bias_on_first.iter().map(|row| (f64::from(row.age), row.mean)).collect();
    plot.points(&means, Marker::Disc);
    plot.legend(Legend::Marker(Marker::Disc), "mean with 95 % interval");
    plot.legend(Legend::Line(Dash::Long), "equal age");
    plot.finish()
}

/// Length on radius with the fitted line.
pub(super) fn length_on_radius(
    report: &SurveyReport,
    relation: Option<&Relation>,
) -> Option<Markup> {
    let units = report.units;
    let points: Vec<&FishPoint> =
        report.points.iter().filter(|point| point.radius_um.is_some()).collect();
    let line = relation
        .filter(|one| one.shape == Shape::Line && one.direction == Direction::LengthOnRadius);
    let widest = points.iter().filter_map(|point| point.radius_um).fold(0.0, f64::max);
    if points.is_empty() {
        return None;
    }
    let ends: Vec<(f64, f64)> = line.map_or_else(Vec::new, |line| {
        [0.0, widest].into_iter().filter_map(|x| Some((x, units.length(line.at(x)?)))).collect()
    });
    let r2 = line.and_then(|line| line.r_squared);
    let description = format!(
        "Length at capture against total radius of {}{}.",
        counted(points.len() as u64, "fish"),
        r2.map_or(String::new(), |r2| format!(
            ", with the fitted line, which explains {} percent of the spread",
            fixed(100.0 * r2, 0)
        ))
    );
    let text = PlotText {
        id: "length-on-radius",
        title: "Length on radius",
        description: &description,
        x: "total radius, µm",
        y: &format!("length at capture, {}", units.length_unit()),
    };
    let lengths = points.iter().map(|point| units.length(point.length_mm));
    let y = Range::around(lengths.chain(ends.iter().map(|end| end.1)), true);
    let mut plot = Plot::new(text, Range::around([0.0, widest], true), y);
    by_sex(&mut plot, &points, |point| Some((point.radius_um?, units.length(point.length_mm))));
    if ends.len() == 2 {
        plot.line(&ends, Dash::Solid);
        plot.legend(Legend::Line(Dash::Solid), "fitted line of length on radius");
    }
    Some(plot.finish())
}

/// Lengths the curve was fitted to, the curve with the band of its mean, and the standard.
pub(super) fn length_at_age(
    report: &SurveyReport,
    pairs: &[(f64, f64, Sex)],
    fit: Option<&Fit>,
    standard: &[(f64, f64)],
) -> Markup {
    let units = report.units;
    let oldest = pairs.iter().map(|pair| pair.0).fold(1.0, f64::max);
    let steps = (0..=60).map(|step| oldest * f64::from(step) / 60.0);
    let bands: Vec<_> = fit.map_or_else(Vec::new, |fit| {
        let (youngest, _) = fit.age_range();
        steps.filter(|age| *age >= youngest.min(1.0)).filter_map(|age| predict(fit, age)).collect()
    });
    let description = format!(
        "Length at age of {}{}{}.",
        counted(pairs.len() as u64, "fish"),
        if bands.is_empty() {
            ""
        } else {
            " with the fitted curve and the 95 percent band of its mean"
        },
        if standard.is_empty() {
            ""
        } else {
            ", and the mean lengths of the standard as a dashed line"
        }
    );
    let text = PlotText {
        id: "length-at-age",
        title: "Length at age",
        description: &description,
        x: "age, years",
        y: &format!("length, {}", units.length_unit()),
    };
    let lengths = pairs.iter().map(|pair| units.length(pair.1));
    let y = Range::around(lengths.chain(standard.iter().map(|one| units.length(one.1))), true);
    let mut plot = Plot::new(text, Range::whole(0.0, oldest.ceil()), y);
    let limits: Vec<(f64, f64, f64)> = bands
        .iter()
        .filter_map(|band| {
            band.ci95.map(|[low, high]| (band.age, units.length(low), units.length(high)))
        })
        .collect();
    if limits.len() > 1 {
        plot.band(&limits);
        plot.legend(Legend::Band, "95 % band of the mean");
    }
    for (sex, marker) in SEXES {
        let of_sex: Vec<(f64, f64)> = pairs
            .iter()
            .filter(|pair| pair.2 == sex)
            .map(|(age, length, _)| (*age, units.length(*length)))
            .collect();
        if !of_sex.is_empty() {
            plot.points(&of_sex, marker);
            plot.legend(Legend::Marker(marker), format!("{} ({})", sex.word(), of_sex.len()));
        }
    }
    if !bands.is_empty() {
        let curve: Vec<(f64, f64)> =
            bands.iter().map(|band| (band.age, units.length(band.mean))).collect();
        plot.line(&curve, Dash::Solid);
        plot.legend(Legend::Line(Dash::Solid), "fitted curve");
    }
    if standard.len() > 1 {
        let line: Vec<(f64, f64)> =
            standard.iter().map(|(age, mm)| (*age, units.length(*mm))).collect();
        plot.line(&line, Dash::Long);
        plot.legend(Legend::Line(Dash::Long), "standard");
    }
    plot.finish()
}

/// Effects of years with their intervals.
pub(super) fn growth_years(effects: &YearEffects, id: &str) -> Markup {
    let percent = |value: f64| 100.0 * (value.exp() - 1.0);
    let is_log = effects.years.iter().all(|year| year.percent.is_some());
    let shown = |value: f64| if is_log { percent(value) } else { value };
    let years = || effects.years.iter().map(|year| f64::from(year.year));
    let words: Vec<String> = effects
        .years
        .iter()
        .filter(|year| year.is_poor() || year.is_good())
        .map(|year| format!("{} {}", year.year, if year.is_poor() { "poor" } else { "good" }))
        .collect();
    let description = format!(
        "Growth of each year in percent of an average year, with 95 percent intervals. {}.",
        if words.is_empty() {
            "No interval keeps clear of zero".to_owned()
        } else {
            words.join(", ")
        }
    );
    let text = PlotText {
        id,
        title: "Growth by calendar year",
        description: &description,
        x: "calendar year",
        y: if is_log {
            "difference from an average year, %"
        } else {
            "difference from an average year, mm"
        },
    };
    let limits: Vec<(f64, f64, f64)> = effects
        .years
        .iter()
        .map(|year| (f64::from(year.year), shown(year.ci95[0]), shown(year.ci95[1])))
        .collect();
    let y = Range::around(limits.iter().flat_map(|limit| [limit.1, limit.2, 0.0]), false);
    let (low, high) =
        (years().fold(f64::INFINITY, f64::min), years().fold(f64::NEG_INFINITY, f64::max));
    let mut plot = Plot::new(text, Range::whole(low, high), y);
    plot.level(0.0);
    plot.whiskers(&limits);
    let (thin, solid): (Vec<_>, Vec<_>) = effects.years.iter().partition(|year| year.is_thin);
    let at = |years: &[&crate::analysis::year_effects::YearEffect]| -> Vec<(f64, f64)> {
        years.iter().map(|year| (f64::from(year.year), shown(year.effect))).collect()
    };
    plot.points(&at(&solid), Marker::Disc);
    plot.legend(Legend::Marker(Marker::Disc), "effect with 95 % interval");
    if !thin.is_empty() {
        plot.points(&at(&thin), Marker::Square);
        plot.legend(Legend::Marker(Marker::Square), "few increments: not judged");
    }
    plot.finish()
}

/// Share of each age with its standard error.
pub(super) fn age_composition(composition: &Composition) -> Markup {
    let rows = &composition.rows;
    let top = rows.iter().max_by(|a, b| a.proportion.total_cmp(&b.proportion));
    let description = format!(
        "Share of each age among {}, with standard errors. {}",
        counted(composition.n, "fish"),
        top.map_or(String::new(), |row| format!(
            "Age {} is the commonest with {} percent.",
            row.age,
            fixed(100.0 * row.proportion, 0)
        ))
    );
    let text = PlotText {
        id: "age-composition",
        title: "Age composition",
        description: &description,
        x: "age, years",
        y: "share of the sample, %",
    };
    let shares = rows.iter().map(|row| 100.0 * (row.proportion + row.se));
    let ages = || rows.iter().map(|row| f64::from(row.age));
    let x = Range::whole(ages().fold(f64::INFINITY, f64::min), ages().fold(0.0, f64::max));
    let mut plot = Plot::new(text, x, Range::around(shares, true));
    let bars: Vec<(f64, f64)> =
        rows.iter().map(|row| (f64::from(row.age), 100.0 * row.proportion)).collect();
    plot.bars(&bars, 0.72);
    let limits: Vec<(f64, f64, f64)> = rows
        .iter()
        .map(|row| {
            (
                f64::from(row.age),
                100.0 * (row.proportion - row.se).max(0.0),
                100.0 * (row.proportion + row.se),
            )
        })
        .collect();
    plot.whiskers(&limits);
    plot.legend(Legend::Bar, "share, with one standard error either way");
    plot.finish()
}

/// ln(catch) on age with the weighted line.
pub(super) fn catch_curve(composition: &Composition, curve: &CatchCurve) -> Option<Markup> {
    let line = curve.regression.as_ref()?;
    let points: Vec<(f64, f64)> = composition
        .rows
        .iter()
        .filter(|row| row.n_expected > 0.0)
        .map(|row| (f64::from(row.age), row.n_expected.ln()))
        .collect();
    let (used, unused): (Vec<_>, Vec<_>) = points
        .iter()
        .copied()
        .partition(|point| line.ages.iter().any(|age| f64::from(*age) == point.0));
    let first = f64::from(*line.ages.first()?);
    let last = f64::from(*line.ages.last()?);
    let ends = [first, last].map(|age| (age, line.intercept - line.z * age));
    let description = format!(
        "Natural logarithm of the catch at each age with the weighted line from age {first} on; its slope gives a mortality Z of {}.",
        fixed(line.z, 2)
    );
    let text = PlotText {
        id: "catch-curve",
        title: "Catch curve",
        description: &description,
        x: "age, years",
        y: "ln(catch)",
    };
    let ages = || points.iter().map(|point| point.0);
    let x = Range::whole(ages().fold(f64::INFINITY, f64::min), ages().fold(0.0, f64::max));
    let y = Range::around(points.iter().map(|point| point.1).chain(ends.map(|end| end.1)), true);
    let mut plot = Plot::new(text, x, y);
    plot.line(&ends, Dash::Solid);
    plot.points(&used, Marker::Disc);
    plot.points(&unused, Marker::Square);
    plot.legend(Legend::Marker(Marker::Disc), "ages used");
    plot.legend(Legend::Marker(Marker::Square), "younger than full catch: not used");
    plot.legend(Legend::Line(Dash::Solid), "weighted line");
    Some(plot.finish())
}
