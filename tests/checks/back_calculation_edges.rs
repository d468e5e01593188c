//! Edge cases of back-calculation (required behaviour: common practice, no source; arithmetic from the published
//! formulas).

use serde_json::Value;
use winterline::analysis::back_calculation::{
    BackCalculationError, Flag, Intercept, InterceptLine, Method, Options, Origin, Reason,
    SampleFish, Warning, back_calculate,
};
use winterline::domain::fish::LengthType;
use winterline::domain::reading::Structure;
use winterline::domain::units::{Micrometres, Millimetres};

use crate::back_calculation::{UM_PER_MM, given, sample};
use crate::published::{Comparison, Published, floats};

fn one(input: &Value) -> SampleFish {
    let um = |mm: f64| Micrometres(mm * UM_PER_MM);
    SampleFish::new(
        "1",
        Some(Millimetres(input["L_mm"].as_f64().unwrap())),
        Some(um(input["S"].as_f64().unwrap())),
        floats(&input["radii"]).into_iter().map(um).collect(),
    )
}

fn mm(value: &Value) -> Millimetres {
    Millimetres(value.as_f64().unwrap())
}

fn method(input: &Value) -> Method {
    match input["method"].as_str().unwrap() {
        "modified_fry" => Method::ModifiedFry {
            origin: Origin {
                length: mm(&input["L0"]),
                radius: Micrometres(input["S0"].as_f64().unwrap() * UM_PER_MM),
            },
            intercept: Some(mm(&input["a"])),
        },
        "fraser_lee" => given(input["a_mm"].as_f64().unwrap()),
        _ => Method::DirectProportion,
    }
}

#[test]
fn lengths_and_reasons_of_the_edge_cases() {
    let published = Published::open("03_backcalc_edge_cases");
    let (mut lengths, mut reasons) = (Comparison::within(1e-9), 0);
    for case in published.cases() {
        let input = &case["input"];
        let result = back_calculate(&[one(input)], method(input), &Options::default()).unwrap();
        let name = case["name"].as_str().unwrap();
        if case["expected"]["error"].is_string() {
            assert_eq!(result.fish.len(), 0, "{name}");
            let reason = &result.excluded[0].reason;
            let meant = match name {
                "radius_less_than_last_annulus" => {
                    matches!(reason, Reason::AnnulusBeyondEdge { .. })
                }
                "radii_not_increasing" => {
                    matches!(reason, Reason::RadiiNotIncreasing { annulus: 3, .. })
                }
                "intercept_not_below_length" => {
                    matches!(reason, Reason::InterceptNotBelowLength { .. })
                }
                _ => false,
            };
            assert!(meant, "{name}: {reason:?}");
            reasons += 1;
        } else {
            lengths.numbers(name, &result.fish[0].lengths_mm, &case["expected"]["lengths"]);
            let flags = result.fish[0].flags.as_slice();
            match name {
                "negative_intercept_gives_negative_length" => {
                    assert_eq!(flags, [Flag::LengthNotPositive { annulus: 1 }]);
                    assert_eq!(
                        flags[0].to_string(),
                        case["expected"]["flags"][0].as_str().unwrap()
                    );
                    assert!(
                        result
                            .warnings
                            .iter()
                            .any(|w| matches!(w, Warning::NegativeIntercept { .. }))
                    );
                }
                "radius_inside_biological_intercept" => {
                    assert_eq!(flags, [Flag::InsideOrigin { annulus: 1 }]);
                }
                _ => assert_eq!(flags, []),
            }
        }
    }
    assert_eq!((lengths.compared, reasons), (8, 3));
}

fn checked_sample() -> Vec<SampleFish> {
    let published = Published::open("01_backcalc_linear");
    sample(&published.case("regressions")["input"]["fish"])
}

#[test]
fn a_fish_of_age_0_moves_the_relation_and_a_faulty_one_does_not() {
    let options = Options::default();
    let before = back_calculate(&checked_sample(), Method::BodyProportional, &options).unwrap();
    let mut with_faulty = checked_sample();
    let radii = vec![Micrometres(3000.0)];
    let (length, total) = (Some(Millimetres(95.0)), Some(Micrometres(800.0)));
    with_faulty.push(SampleFish::new("X", length, total, radii));
    let faulty = back_calculate(&with_faulty, Method::BodyProportional, &options).unwrap();
    assert_eq!(faulty.relation, before.relation);
    assert_eq!(faulty.excluded.len(), 1);
    let mut with_young = checked_sample();
    with_young.push(SampleFish::new("Y", length, total, Vec::new()));
    let young = back_calculate(&with_young, Method::BodyProportional, &options).unwrap();
    assert_eq!(young.relation.as_ref().unwrap().n, 15);
    assert_ne!(young.relation.unwrap().intercept, before.relation.unwrap().intercept);
    assert_eq!(young.fish.last().unwrap().age(), 0);
    let rows = &young.tables.by_age_at_capture;
    assert_eq!((rows[0].group, rows[0].n, rows[0].means_mm.len()), (0, 1, 0));
    assert_eq!(young.tables.by_age.iter().map(|row| row.n).sum::<usize>(), 60);
}

#[test]
fn an_edge_that_is_counted_ends_the_lengths_with_the_length_at_capture() {
    let mut sample = checked_sample();
    sample[0].edge_counted = true;
    sample[0].capture_date = Some(jiff::civil::date(2023, 4, 20));
    let plain = back_calculate(&checked_sample(), given(55.0), &Options::default()).unwrap();
    let counted = back_calculate(&sample, given(55.0), &Options::default()).unwrap();
    let (before, after) = (&plain.fish[0], &counted.fish[0]);
    assert_eq!(after.lengths_mm[..3], before.lengths_mm[..]);
    assert_eq!(after.lengths_mm[3], 385.0);
    assert_eq!((after.age(), after.year_class), (4, Some(2019)));
    assert_eq!(after.flags, [Flag::EdgeCounted]);
    assert_eq!(counted.tables.by_age[3].n, plain.tables.by_age[3].n + 1);
}

#[test]
fn several_scales_of_a_fish_are_joined_by_their_ratios() {
    let mut sample = checked_sample();
    let mut second = sample[0].structures[0].clone();
    // The same scale, twice as large: nothing changes but the pair in the relation.
    second.total = second.total.map(|total| Micrometres(2.0 * total.value()));
    second.annuli.iter_mut().for_each(|radius| radius.0 *= 2.0);
    sample[0].structures.push(second);
    let one = back_calculate(&checked_sample(), given(55.0), &Options::default()).unwrap();
    let two = back_calculate(&sample, given(55.0), &Options::default()).unwrap();
    for (a, b) in one.fish[0].lengths_mm.iter().zip(&two.fish[0].lengths_mm) {
        assert!((a - b).abs() < 1e-9);
    }
    let spread = two.fish[0].between_structures_sd_mm.as_ref().unwrap();
    assert!(spread.len() == 3 && spread.iter().all(|sd| *sd < 1e-9));
    assert_eq!(one.fish[0].between_structures_sd_mm, None);
}

#[test]
fn standard_intercepts_are_for_scales_and_total_length() {
    let standard = |source: &str| {
        Method::FraserLee(Intercept::Standard {
            length: Millimetres(55.0),
            species: "walleye".to_owned(),
            source: source.to_owned(),
        })
    };
    let scales = Options::default();
    let otoliths = Options { structure: Structure::Otolith, ..Options::default() };
    let mut sample = checked_sample();
    assert!(back_calculate(&sample, standard("seen"), &scales).is_ok());
    let refused = back_calculate(&sample, standard("seen"), &otoliths).unwrap_err();
    assert_eq!(refused, BackCalculationError::StandardInterceptNeedsScales { found: "otolith" });
    assert!(refused.to_string().contains("scales"));
    let unsourced = back_calculate(&sample, standard(" "), &scales).unwrap_err();
    assert_eq!(unsourced, BackCalculationError::StandardInterceptNeedsSource);
    sample.iter_mut().for_each(|fish| fish.length_type = LengthType::Fork);
    let fork = back_calculate(&sample, standard("seen"), &scales).unwrap_err();
    assert_eq!(fork, BackCalculationError::StandardInterceptNeedsTotalLength { found: "fork" });
    sample[0].length_type = LengthType::Total;
    let mixed = back_calculate(&sample, Method::DirectProportion, &scales).unwrap_err();
    assert!(matches!(mixed, BackCalculationError::MixedLengthTypes { .. }));
}

#[test]
fn a_relation_that_cannot_carry_a_method_is_refused_with_its_range() {
    let options = Options::default();
    let fish = |key: u32, length: f64, total: f64| {
        let annuli = vec![Micrometres(0.1 * total)];
        SampleFish::new(
            key.to_string(),
            Some(Millimetres(length)),
            Some(Micrometres(total)),
            annuli,
        )
    };
    let falling: Vec<_> = (1..8)
        .map(|i| fish(i, 500.0 - 20.0 * f64::from(i), 1000.0 + 50.0 * f64::from(i)))
        .collect();
    for method in [
        Method::ScaleProportional,
        Method::BodyProportional,
        Method::PowerScaleProportional,
        Method::FraserLee(Intercept::Fitted(InterceptLine::LeastSquares)),
    ] {
        let error = back_calculate(&falling, method, &options).unwrap_err();
        assert!(matches!(error, BackCalculationError::NotRising { .. }), "{error}");
        assert!(error.to_string().contains("1050 to 1350"), "{error}");
    }
    let steep: Vec<_> =
        (1..8).map(|i| fish(i, 50.0 * f64::from(i), 1000.0 + 50.0 * f64::from(i))).collect();
    let error = back_calculate(&steep, Method::BodyProportional, &options).unwrap_err();
    assert!(matches!(error, BackCalculationError::NotPositive { .. }), "{error}");
    let few = back_calculate(&falling[..2], Method::BodyProportional, &options).unwrap_err();
    assert_eq!(few, BackCalculationError::TooFewFish { needed: 3, found: 2 });
}

#[test]
fn small_samples_and_fry_outside_its_bounds_are_named() {
    let options = Options::default();
    let few = &checked_sample()[..6];
    let fitted = Method::FraserLee(Intercept::Fitted(InterceptLine::LeastSquares));
    let result = back_calculate(few, fitted, &options).unwrap();
    assert!(result.warnings.contains(&Warning::FewFish { n: 6 }));
    let whole = back_calculate(&checked_sample(), Method::BodyProportional, &options).unwrap();
    assert!(
        !whole
            .warnings
            .iter()
            .any(|w| matches!(w, Warning::FewFish { .. } | Warning::NarrowLengths { .. }))
    );
    let origin = Origin { length: Millimetres(40.0), radius: Micrometres(120.0) };
    let fry = Method::ModifiedFry { origin, intercept: Some(Millimetres(40.0)) };
    let error = back_calculate(few, fry, &options).unwrap_err();
    assert!(matches!(error, BackCalculationError::FryIntercept { .. }));
}

#[test]
fn a_year_class_at_odds_with_date_and_age_is_flagged_and_kept() {
    let mut sample = checked_sample();
    sample[0].year_class = Some(2021);
    let result = back_calculate(&sample, Method::DirectProportion, &Options::default()).unwrap();
    assert_eq!(result.fish[0].year_class, Some(2021));
    let flag = Flag::YearClassDisagrees { entered: 2021, by_age: 2020 };
    assert_eq!(result.fish[0].flags, [flag]);
    assert_eq!(result.fish[1].flags, []);
}
