//! Otolith radii of 26 reef species: Morat and others 2020, Scientific Data 7:370, doi 10.1038/s41597-020-00711-y. The
//! expected values were recomputed from the same table with scipy and statsmodels. The table is not part of the
//! project: the folder that holds it is named by the environment variable `WINTERLINE_TABLES`.

use std::collections::BTreeMap;
use std::io::Write as _;
use std::path::PathBuf;

use winterline::analysis::back_calculation::{
    Flag, Intercept, InterceptLine, LengthsResult, Method, Options, Reason, SampleFish,
    back_calculate,
};
use winterline::domain::reading::Structure;
use winterline::domain::units::{Micrometres, Millimetres};

const TABLE: &str = "morat2020_reef_fish_otolith_radii_partA.csv";

/// Printed rather than passed over in silence: without the table nothing is compared.
fn table() -> Option<PathBuf> {
    let path =
        std::env::var_os("WINTERLINE_TABLES").map(|folder| PathBuf::from(folder).join(TABLE));
    if path.is_none() {
        // Straight to the stream: the test runner hides what `eprintln!` says in a passing test.
        let line = format!("NOT RUN: set WINTERLINE_TABLES to the folder that holds {TABLE}\n");
        std::io::stderr().write_all(line.as_bytes()).unwrap();
    }
    path
}

struct ReefFish {
    species: String,
    sample: SampleFish,
    /// At least one ring, the hatching mark included, was measured.
    measured: bool,
    empty_radii: usize,
}

fn read(path: PathBuf) -> Vec<ReefFish> {
    let mut reader = csv::Reader::from_path(path).unwrap();
    let headings = reader.headers().unwrap().clone();
    let column = |name: &str| headings.iter().position(|found| found == name).unwrap();
    let [id, species, ring, radius, total, length] =
        ["ID", "Species", "Agei", "Ri", "Rcpt", "Lcpt"].map(column);
    let mut fish: BTreeMap<String, ReefFish> = BTreeMap::new();
    for record in reader.records().map(Result::unwrap) {
        let um =
            |column: usize| record[column].parse().ok().map(|mm: f64| Micrometres(1000.0 * mm));
        let one = fish.entry(record[id].to_owned()).or_insert_with(|| ReefFish {
            species: record[species].to_owned(),
            sample: SampleFish::new(
                &record[id],
                record[length].parse().ok().map(Millimetres),
                um(total),
                Vec::new(),
            ),
            measured: false,
            empty_radii: 0,
        });
        one.empty_radii += usize::from(um(radius).is_none());
        one.measured |= um(radius).is_some();
        // Ring 0 is the hatching mark, not an annulus. An annulus without a radius stays in its place, so that the
        // fish is left out with a reason rather than made a year younger.
        if &record[ring] != "0" {
            one.sample.structures[0].annuli.push(um(radius).unwrap_or(Micrometres(f64::NAN)));
        }
    }
    fish.into_values().collect()
}

fn run(sample: &[SampleFish], method: Method) -> LengthsResult {
    let options = Options { structure: Structure::Otolith, ..Options::default() };
    back_calculate(sample, method, &options).unwrap()
}

#[test]
fn faults_of_the_table_are_all_reported() {
    let Some(path) = table() else { return };
    let fish = read(path);
    let species: std::collections::BTreeSet<_> = fish.iter().map(|fish| &fish.species).collect();
    assert_eq!((species.len(), fish.len()), (26, 459));
    assert_eq!(fish.iter().map(|fish| fish.empty_radii).sum::<usize>(), 205);
    let sample: Vec<SampleFish> = fish.into_iter().map(|fish| fish.sample).collect();
    let result = run(&sample, Method::DirectProportion);
    let beyond: Vec<&str> = result
        .excluded
        .iter()
        .filter(|one| matches!(one.reason, Reason::AnnulusBeyondEdge { .. }))
        .map(|one| one.fish.as_str())
        .collect();
    let expected = ["GAM18_A172", "OD_NI_MO_03_16_001", "OD_NI_MO_03_16_005", "OD_NI_MO_03_16_008"];
    assert_eq!(beyond, expected);
    assert_eq!(result.excluded.len(), 4, "no radii out of order, none empty but hatching marks");
    assert_eq!(result.fish.len() + result.excluded.len(), 459);
}

/// Species; fish; L = a + bR: a, b, r2; R = c + dL: c, d (mm).
type Expected = (&'static str, usize, [f64; 3], [f64; 2], [(usize, [f64; 4]); 3]);

/// For ages 1 to 3: fish, and mean length by direct proportion, Fraser-Lee, scale- and body-proportional lines.
const EXPECTED: [Expected; 3] = [
    (
        "Cephalopholis argus",
        41,
        [136.7396, 192.8971, 0.29121],
        [0.451079, 0.0015097],
        [
            (41, [117.4257, 202.0974, -67.5943, 202.7465]),
            (41, [150.2929, 220.8572, -3.9002, 221.3918]),
            (41, [174.9974, 234.7082, 44.5205, 235.2220]),
        ],
    ),
    (
        "Lutjanus kasmira",
        32,
        [30.6107, 138.1480, 0.80869],
        [-0.063109, 0.0058538],
        [
            (28, [86.8531, 92.9362, 88.9956, 93.4946]),
            (10, [125.1524, 131.4554, 127.3723, 132.4502]),
            (4, [166.3724, 174.0671, 169.0824, 174.5918]),
        ],
    ),
    (
        "Plectropomus laevis",
        31,
        [192.4829, 257.4119, 0.90825],
        [-0.538366, 0.0035284],
        [
            (31, [224.9406, 336.8962, 313.6880, 337.5868]),
            (30, [333.0680, 407.9267, 392.4086, 408.6970]),
            (25, [396.7020, 456.6020, 444.1848, 457.2536]),
        ],
    ),
];

/// Lengths at one annulus. The recomputed means also hold fish no longer than a Fraser-Lee intercept, which the
/// program leaves out with a reason; for these the formula is applied here.
fn lengths_with_left_out(result: &LengthsResult, sample: &[SampleFish], index: usize) -> Vec<f64> {
    let with_lengths = result.fish.iter().filter_map(|fish| fish.lengths_mm.get(index).copied());
    let left_out = result.excluded.iter().filter_map(|one| match one.reason {
        Reason::InterceptNotBelowLength { intercept_mm, length_mm } => {
            let fish = sample.iter().find(|fish| fish.key == one.fish)?;
            let radii = &fish.structures[0];
            let ratio = *radii.annuli.get(index)? / radii.total?;
            Some(intercept_mm + (length_mm - intercept_mm) * ratio)
        }
        ref other => panic!("{}: {other}", one.fish),
    });
    with_lengths.chain(left_out).collect()
}

#[test]
fn relations_and_mean_lengths_of_three_species() {
    let Some(path) = table() else { return };
    let all = read(path);
    let mut compared = 0;
    // Half a unit in the last digit given.
    let mut near = |what: &str, found: f64, expected: f64, half_unit: f64| {
        assert!((found - expected).abs() <= half_unit, "{what}: {found}, expected {expected}");
        compared += 1;
    };
    for (species, n, length_on_radius, radius_on_length, ages) in EXPECTED {
        // The recomputed values leave out fish without any measured ring (five of Lutjanus kasmira, all of age 0).
        let of_species = all.iter().filter(|fish| fish.species == species && fish.measured);
        let sample: Vec<SampleFish> = of_species.map(|fish| fish.sample.clone()).collect();
        let fitted = Method::FraserLee(Intercept::Fitted(InterceptLine::LeastSquares));
        let results = [
            run(&sample, Method::DirectProportion),
            run(&sample, fitted),
            run(&sample, Method::ScaleProportional),
            run(&sample, Method::BodyProportional),
        ];
        let relation = results[1].relation.clone().unwrap();
        assert_eq!(relation.n, n, "{species}");
        near("a", relation.intercept, length_on_radius[0], 0.5e-4);
        near("b", relation.slope * 1000.0, length_on_radius[1], 0.5e-4);
        near("r2", relation.r_squared.unwrap(), length_on_radius[2], 0.5e-5);
        let relation = results[2].relation.clone().unwrap();
        near("c", relation.intercept / 1000.0, radius_on_length[0], 0.5e-6);
        near("d", relation.slope / 1000.0, radius_on_length[1], 0.5e-7);
        for (index, (n, means)) in ages.iter().enumerate() {
            for (result, mean) in results.iter().zip(means) {
                let lengths = lengths_with_left_out(result, &sample, index);
                assert_eq!(lengths.len(), *n, "{species} age {}", index + 1);
                near(species, lengths.iter().sum::<f64>() / *n as f64, *mean, 0.5e-4);
            }
        }
        let left_out: usize = results.iter().map(|result| result.excluded.len()).sum();
        assert_eq!(left_out, usize::from(species == "Cephalopholis argus"));
        let negative = |result: &LengthsResult| {
            let flags = result.fish.iter().flat_map(|fish| &fish.flags);
            flags.filter(|flag| matches!(flag, Flag::LengthNotPositive { .. })).count()
        };
        assert_eq!(negative(&results[2]) > 0, species == "Cephalopholis argus");
    }
    assert_eq!(compared, 3 * (5 + 12));
}
