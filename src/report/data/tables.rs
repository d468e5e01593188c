//! Which tables there are, and what each column means.

use super::results::{
    about_table, composition_table, files_table, length_at_age_table, year_classes_table,
    years_table,
};
use super::table::{Cell, DataColumn, DataTable, Kind};
use crate::domain::fish::{Fish, StockingMark};
use crate::domain::reading::{Confidence, EdgeCondition, ImpressionReading, Outcome};
use crate::report::report_units::ReportUnits;
use crate::report::survey_report::SurveyReport;

/// What is known of a fish beside the field sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct FishRow {
    /// The fish.
    pub fish: Fish,
    /// The age that counts, years.
    pub age: Option<u32>,
    /// Year class, as known or by age and date.
    pub year_class: Option<i16>,
    /// Total radius, µm; the mean over several structures.
    pub radius_um: Option<f64>,
    /// Length at each annulus, mm.
    pub lengths_mm: Vec<f64>,
    /// The last length is that at capture, since the edge is counted.
    pub edge_counted: bool,
    /// Structures read.
    pub n_structures: usize,
    /// What it is left out of, each with its reason.
    pub left_out: Vec<String>,
}

/// A confirmed reading.
#[derive(Debug, Clone, PartialEq)]
pub struct ReadingRow {
    /// Scan.
    pub scan: String,
    /// BLAKE3 hash of the scan as it was read.
    pub scan_blake3: String,
    /// Reader.
    pub reader: String,
    /// The reading.
    pub reading: ImpressionReading,
    /// Total radius, µm.
    pub radius_um: Option<f64>,
    /// Pixel size along x and y, µm.
    pub um_per_px: Option<[f64; 2]>,
}

/// A mark of a confirmed reading.
#[derive(Debug, Clone, PartialEq)]
pub struct MarkRow {
    /// Fish.
    pub fish: String,
    /// Scan.
    pub scan: String,
    /// Impression on the scan.
    pub impression: u32,
    /// Reader.
    pub reader: String,
    /// `annulus` or `check`.
    pub kind: &'static str,
    /// Number among marks of its kind, from the focus.
    pub number: u32,
    /// Radius, µm.
    pub radius_um: Option<f64>,
    /// Distance along the axis, pixels.
    pub position_px: f64,
    /// Place on the scan, pixels.
    pub at_px: [f64; 2],
    /// How it came about.
    pub origin: &'static str,
    /// How sure the reader was.
    pub certainty: &'static str,
}

/// All that goes out.
#[derive(Debug, Clone, PartialEq)]
pub struct SurveyData<'a> {
    /// The report of the survey: results and where they came from.
    pub report: &'a SurveyReport,
    /// Every fish of the field sheet.
    pub fish: Vec<FishRow>,
    /// Every confirmed reading.
    pub readings: Vec<ReadingRow>,
    /// Every mark of them.
    pub marks: Vec<MarkRow>,
}

/// The tables, in the order of the sheets.
pub fn data_tables(data: &SurveyData<'_>) -> Vec<DataTable> {
    let units = data.report.units;
    vec![
        fish_table(data, units),
        annuli_table(data, units),
        readings_table(data),
        marks_table(data),
        length_at_age_table(data.report),
        years_table(data.report),
        composition_table(data.report),
        year_classes_table(data.report),
        about_table(data.report),
        files_table(data.report),
    ]
}

pub(super) const fn text(
    name: &'static str,
    meaning: &'static str,
) -> (&'static str, Kind, &'static str, &'static str) {
    (name, Kind::Text, "", meaning)
}

pub(super) type Plain = (&'static str, Kind, &'static str, &'static str);

fn column((name, kind, unit, meaning): Plain) -> DataColumn {
    DataColumn { name: name.to_owned(), unit, kind, meaning }
}

/// A column of lengths, named by its unit.
pub(super) fn length(units: ReportUnits, stem: &str, meaning: &'static str) -> DataColumn {
    let unit = units.length_unit();
    DataColumn { name: format!("{stem}_{unit}"), unit, kind: Kind::Number, meaning }
}

pub(super) fn columns(plain: &[Plain]) -> Vec<DataColumn> {
    plain.iter().copied().map(column).collect()
}

const SHEET_ROW: Plain = ("sheet_row", Kind::Whole, "", "row of fish.csv, the heading being row 1");
const FISH_KEY: Plain = text(
    "fish",
    "key of the fish: its number, with the key columns of the survey where numbers restart",
);

fn fish_table(data: &SurveyData<'_>, units: ReportUnits) -> DataTable {
    let mut all = columns(&[
        FISH_KEY,
        text("number", "fish or envelope number as written; leading zeros kept"),
        text("species", "species as written"),
        text("water", "water"),
        ("capture_date", Kind::Date, "", "day of capture"),
        text("run", "run of the gear"),
    ]);
    all.push(length(units, "length", "length at capture"));
    all.extend(columns(&[text("length_type", "total, fork or standard")]));
    let unit = units.weight_unit();
    all.push(DataColumn {
        name: format!("weight_{unit}"),
        unit,
        kind: Kind::Number,
        meaning: "weight at capture",
    });
    all.extend(columns(&[
        text("sex", "female, male or unknown"),
        text("body_site", "where on the body the structure came from"),
        text("pressing_batch", "batch of pressing"),
        text("slide", "slide"),
        text("slide_position", "position on the slide"),
        text("stocking_mark", "mark found; none found; not looked for"),
        ("known_year_class", Kind::Whole, "", "year class known otherwise than by reading"),
        (
            "count",
            Kind::Whole,
            "fish",
            "fish this row stands for; more than 1 where fish were only counted",
        ),
        text("scans", "file names of its scans"),
        (
            "age_years",
            Kind::Whole,
            "years",
            "the age that counts by the rule of the report; empty where there is none",
        ),
        ("year_class", Kind::Whole, "", "as known, else by age, date of capture and birthday"),
        (
            "radius_um",
            Kind::Number,
            "µm",
            "total radius, focus to edge; the mean where several structures were read",
        ),
        ("n_structures", Kind::Whole, "", "structures read for back-calculation"),
        text("left_out_of", "everything this fish is left out of, with the reason"),
        SHEET_ROW,
    ]));
    let rows = data.fish.iter().map(|one| fish_row(one, units)).collect();
    DataTable { name: "fish", one_row_for: "row of the field sheet", columns: all, rows }
}

fn fish_row(one: &FishRow, units: ReportUnits) -> Vec<Cell> {
    let fish = &one.fish;
    let mark = match &fish.stocking_mark {
        StockingMark::NotLookedFor => "not looked for",
        StockingMark::NoneFound => "none found",
        StockingMark::Found(mark) => mark,
    };
    vec![
        Cell::text(&fish.key),
        Cell::text(&fish.number),
        Cell::text(&fish.species),
        Cell::text(&fish.water),
        Cell::text(fish.captured.map_or_else(String::new, |day| day.to_string())),
        Cell::text(&fish.run),
        Cell::number(fish.length.map(|mm| units.length(mm.value()))),
        Cell::text(fish.length_type.word()),
        Cell::number(fish.weight_g.map(|grams| units.weight(grams))),
        Cell::text(fish.sex.word()),
        Cell::text(&fish.body_site),
        Cell::text(&fish.pressing_batch),
        Cell::text(&fish.slide),
        Cell::text(&fish.slide_position),
        Cell::text(mark),
        Cell::whole_or_none(fish.known_year_class),
        Cell::whole(fish.count),
        Cell::text(fish.scans.join("; ")),
        Cell::whole_or_none(one.age),
        Cell::whole_or_none(one.year_class),
        Cell::number(one.radius_um),
        Cell::whole(one.n_structures),
        Cell::text(one.left_out.join("; ")),
        Cell::whole(fish.row),
    ]
}

fn annuli_table(data: &SurveyData<'_>, units: ReportUnits) -> DataTable {
    let mut all = columns(&[
        FISH_KEY,
        (
            "annulus",
            Kind::Whole,
            "",
            "number of the annulus from the focus; the age at it in years",
        ),
        ("growth_year", Kind::Whole, "", "calendar year in which the zone before it grew"),
    ]);
    all.push(length(units, "length", "back-calculated length at the annulus"));
    all.push(length(units, "increment", "growth from the annulus before (from 0 for the first)"));
    all.extend(columns(&[(
        "edge_counted",
        Kind::YesNo,
        "",
        "yes where this annulus is the edge itself: its length is the length at capture",
    )]));
    let mut rows = Vec::new();
    for one in &data.fish {
        let mut before = 0.0;
        for (index, mm) in one.lengths_mm.iter().enumerate() {
            let year =
                one.year_class.map(|class| i64::from(class) + i64::try_from(index).unwrap_or(0));
            let is_edge = one.edge_counted && index + 1 == one.lengths_mm.len();
            rows.push(vec![
                Cell::text(&one.fish.key),
                Cell::whole(index + 1),
                Cell::whole_or_none(year),
                Cell::number(units.length(*mm)),
                Cell::number(units.length(mm - before)),
                Cell::yes_no(is_edge),
            ]);
            before = *mm;
        }
    }
    DataTable {
        name: "annuli",
        one_row_for: "fish and annulus with a back-calculated length",
        columns: all,
        rows,
    }
}

fn readings_table(data: &SurveyData<'_>) -> DataTable {
    let all = columns(&[
        FISH_KEY,
        text("scan", "file name of the scan"),
        ("impression", Kind::Whole, "", "number of the impression on the scan"),
        text("reader", "initials of the reader"),
        text("structure", "structure read"),
        text("outcome", "aged, unreadable, regenerated or wrong-structure"),
        ("age_years", Kind::Whole, "years", "age the reader gave"),
        ("annuli", Kind::Whole, "", "annuli marked"),
        ("checks", Kind::Whole, "", "checks marked"),
        text("edge", "condition of the edge: at-edge, narrow, medium or wide"),
        text("confidence", "good, fair or poor"),
        ("radius_um", Kind::Number, "µm", "focus to edge along the axis"),
        ("um_per_px_x", Kind::Number, "µm per pixel", "pixel size along x"),
        ("um_per_px_y", Kind::Number, "µm per pixel", "pixel size along y"),
        ("proposals_shown", Kind::YesNo, "", "were proposals on screen"),
        ("length_shown", Kind::YesNo, "", "did the reader look at the length"),
        text("blind_list", "name of the blind list, where it was read from one"),
        text("started", "when the reading began, universal time"),
        text("confirmed", "when it was confirmed, universal time"),
        text("note", "the reader's note"),
        text("scan_blake3", "hash of the scan as it was read"),
    ]);
    let rows = data.readings.iter().map(reading_row).collect();
    DataTable {
        name: "readings",
        one_row_for: "confirmed reading of an impression",
        columns: all,
        rows,
    }
}

fn reading_row(row: &ReadingRow) -> Vec<Cell> {
    let one = &row.reading;
    let annuli = one.annuli().count();
    let word = |word: Option<&'static str>| Cell::text(word.unwrap_or_default());
    vec![
        Cell::text(&one.fish),
        Cell::text(&row.scan),
        Cell::whole(one.number),
        Cell::text(&row.reader),
        Cell::text(one.structure.word()),
        word(one.outcome.map(Outcome::word)),
        Cell::whole_or_none(one.age),
        Cell::whole(annuli),
        Cell::whole(one.marks.len() - annuli),
        word(one.edge_condition.map(EdgeCondition::word)),
        word(one.confidence.map(Confidence::word)),
        Cell::number(row.radius_um),
        Cell::number(row.um_per_px.map(|um| um[0])),
        Cell::number(row.um_per_px.map(|um| um[1])),
        Cell::yes_no(one.conditions.proposals_shown),
        Cell::yes_no(one.conditions.length_shown),
        Cell::text(one.conditions.blind_list.as_deref().unwrap_or_default()),
        Cell::text(one.started.map_or_else(String::new, |time| time.to_string())),
        Cell::text(one.confirmed.map_or_else(String::new, |time| time.to_string())),
        Cell::text(&one.note),
        Cell::text(&row.scan_blake3),
    ]
}

fn marks_table(data: &SurveyData<'_>) -> DataTable {
    let all = columns(&[
        FISH_KEY,
        text("scan", "file name of the scan"),
        ("impression", Kind::Whole, "", "number of the impression on the scan"),
        text("reader", "initials of the reader"),
        text("kind", "annulus or check"),
        ("number", Kind::Whole, "", "number among the marks of its kind, from the focus"),
        ("radius_um", Kind::Number, "µm", "focus to the outer edge of the mark, along the axis"),
        ("position_px", Kind::Number, "pixels", "the same on the scan"),
        ("x_px", Kind::Number, "pixels", "place on the scan; 0 is the middle of the left column"),
        ("y_px", Kind::Number, "pixels", "place on the scan; 0 is the middle of the top row"),
        text("origin", "accepted-proposal, moved-proposal or by-hand"),
        text("certainty", "clear, faint or doubtful"),
    ]);
    let row = |mark: &MarkRow| {
        vec![
            Cell::text(&mark.fish),
            Cell::text(&mark.scan),
            Cell::whole(mark.impression),
            Cell::text(&mark.reader),
            Cell::text(mark.kind),
            Cell::whole(mark.number),
            Cell::number(mark.radius_um),
            Cell::number(mark.position_px),
            Cell::number(mark.at_px[0]),
            Cell::number(mark.at_px[1]),
            Cell::text(mark.origin),
            Cell::text(mark.certainty),
        ]
    };
    DataTable {
        name: "marks",
        one_row_for: "mark of a confirmed reading",
        columns: all,
        rows: data.marks.iter().map(row).collect(),
    }
}
