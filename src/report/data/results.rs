//! The tables of results, and of what they rest on.

use super::table::{Cell, DataTable, Kind};
use super::tables::{columns, length, text};
use crate::report::survey_report::SurveyReport;

/// Mean lengths at age beside the standard.
pub(super) fn length_at_age_table(report: &SurveyReport) -> DataTable {
    let units = report.units;
    let mut all = columns(&[
        ("age_years", Kind::Whole, "years", "age"),
        text("basis", "annulus (back-calculated) or capture"),
        ("n", Kind::Whole, "fish", "fish with a length at this age"),
    ]);
    all.push(length(units, "mean_length", "mean length"));
    all.push(length(units, "sd", "standard deviation over fish"));
    all.push(length(units, "standard", "mean length of the standard"));
    all.push(length(units, "difference", "mean less standard"));
    all.extend(columns(&[
        ("percent_of_standard", Kind::Number, "percent", "mean over standard"),
        ("z", Kind::Number, "", "difference over the SD of the standard"),
        ("in_index", Kind::YesNo, "", "yes where the age has enough fish for the growth index"),
        text("source", "where the standard comes from"),
    ]));
    let mut rows = Vec::new();
    if let Ok(compared) = &report.against {
        for age in &compared.index.ages {
            let standing = age.standing.as_ref();
            let standard = compared.standard.iter().find(|row| row.age == age.age);
            rows.push(vec![
                Cell::whole(age.age),
                Cell::text(report.basis.word()),
                Cell::whole(age.n),
                Cell::number(units.length(age.mean_mm)),
                Cell::number(age.sd_mm.map(|mm| units.length(mm))),
                Cell::number(standard.map(|row| units.length(row.mean.value()))),
                Cell::number(standing.map(|one| units.length(one.deviation_mm))),
                Cell::number(standing.map(|one| one.percent)),
                Cell::number(standing.and_then(|one| one.z)),
                Cell::yes_no(age.is_used),
                Cell::text(standard.map_or("", |row| row.source.as_str())),
            ]);
        }
    } else if let Ok(result) = &report.lengths {
        for row in &result.tables.by_age {
            let mut cells = vec![
                Cell::whole(row.age),
                Cell::text("annulus"),
                Cell::whole(row.n),
                Cell::number(units.length(row.mean_mm)),
                Cell::number(row.sd_mm.map(|mm| units.length(mm))),
            ];
            cells.extend([Cell::Missing, Cell::Missing, Cell::Missing, Cell::Missing]);
            cells.extend([Cell::yes_no(false), Cell::Missing]);
            rows.push(cells);
        }
    }
    DataTable { name: "length_at_age", one_row_for: "age", columns: all, rows }
}

/// Effects of calendar years on growth.
pub(super) fn years_table(report: &SurveyReport) -> DataTable {
    let all = columns(&[
        ("year", Kind::Whole, "", "calendar year"),
        ("increments", Kind::Whole, "", "increments of that year"),
        (
            "effect_ln",
            Kind::Number,
            "ln of length",
            "difference from an average year, natural logarithm",
        ),
        ("se_ln", Kind::Number, "ln of length", "its standard error"),
        ("low_ln", Kind::Number, "ln of length", "lower 95 percent limit"),
        ("high_ln", Kind::Number, "ln of length", "upper 95 percent limit"),
        ("percent", Kind::Number, "percent", "difference from an average year"),
        (
            "few_increments",
            Kind::YesNo,
            "",
            "yes where the year is not judged for want of increments",
        ),
    ]);
    let years = report.year_effects.iter().flat_map(|effects| &effects.years);
    let rows = years.map(|year| {
        vec![
            Cell::whole(year.year),
            Cell::whole(year.n),
            Cell::number(year.effect),
            Cell::number(year.se),
            Cell::number(year.ci95[0]),
            Cell::number(year.ci95[1]),
            Cell::number(year.percent),
            Cell::yes_no(year.is_thin),
        ]
    });
    DataTable {
        name: "growth_years",
        one_row_for: "calendar year",
        rows: rows.collect(),
        columns: all,
    }
}

/// Age composition and catch per hour.
pub(super) fn composition_table(report: &SurveyReport) -> DataTable {
    let units = report.units;
    let mut all = columns(&[
        ("age_years", Kind::Whole, "years", "age"),
        ("aged", Kind::Whole, "fish", "fish of this age among those aged"),
        (
            "expected",
            Kind::Number,
            "fish",
            "fish of this age expected in the whole sample, by the age-length key",
        ),
        ("proportion", Kind::Number, "", "share of the sample, 0 to 1"),
        ("proportion_se", Kind::Number, "", "its standard error"),
    ]);
    all.push(length(units, "mean_length", "mean length at this age by the key"));
    all.extend(columns(&[
        ("catch_per_hour", Kind::Number, "fish per hour", "mean over runs"),
        ("catch_per_hour_se", Kind::Number, "fish per hour", "its standard error over runs"),
    ]));
    let mut rows = Vec::new();
    if let Ok(study) = &report.ages {
        let rates = study.catch_per_hour.as_ref();
        for (index, row) in study.composition.rows.iter().enumerate() {
            let rate = rates.and_then(|rates| rates.by_age.get(index));
            rows.push(vec![
                Cell::whole(row.age),
                Cell::whole(row.n_aged),
                Cell::number(row.n_expected),
                Cell::number(row.proportion),
                Cell::number(row.se),
                Cell::number(row.mean_length_mm.map(|mm| units.length(mm))),
                Cell::number(rate.map(|rate| rate.mean)),
                Cell::number(rate.and_then(|rate| rate.se)),
            ]);
        }
    }
    DataTable { name: "age_composition", one_row_for: "age", columns: all, rows }
}

/// Year classes beside what was stocked.
pub(super) fn year_classes_table(report: &SurveyReport) -> DataTable {
    let all = columns(&[
        ("year_class", Kind::Whole, "", "year class"),
        ("age_years", Kind::Whole, "years", "its age"),
        ("n", Kind::Number, "fish", "fish of it expected in the sample"),
        ("n_by_line", Kind::Number, "fish", "fish the weighted catch curve expects"),
        ("residual_ln", Kind::Number, "ln of fish", "natural logarithm of the catch less the line"),
        ("stocked", Kind::Whole, "fish", "fish stocked; empty where nothing is on record"),
        text("judged", "strong, as expected, weak, missing or not judged"),
    ]);
    let rows = report.ages.iter().flat_map(|study| &study.year_classes).map(|row| {
        vec![
            Cell::whole_or_none(row.year_class),
            Cell::whole(row.age),
            Cell::number(row.n),
            Cell::number(row.n_by_line),
            Cell::number(row.residual),
            Cell::whole_or_none(row.stocked),
            Cell::text(row.strength.word()),
        ]
    });
    DataTable {
        name: "year_classes",
        one_row_for: "year class",
        rows: rows.collect(),
        columns: all,
    }
}

/// Program, settings and faults.
pub(super) fn about_table(report: &SurveyReport) -> DataTable {
    let all = columns(&[text("what", "name of a setting or fact"), text("value", "its value")]);
    let line = |what: &str, value: &str| vec![Cell::text(what), Cell::text(value)];
    let facts = &report.facts;
    let mut rows = vec![
        line("program", &format!("Winterline {}", report.provenance.version)),
        line("survey", &facts.survey),
        line("water", &facts.water),
        line("date", &facts.date),
    ];
    rows.extend(report.provenance.settings.iter().map(|(what, value)| line(what, value)));
    rows.extend(report.faults.iter().map(|fault| line("fault in the files", fault)));
    let guard = "in CSV files text that begins with = + - @ a tab or a new line has an apostrophe before it, so that no \
                 spreadsheet takes it for a formula; numbers are untouched";
    rows.push(line("text in CSV files", guard));
    let signs = "control characters but tab and new line stand as the replacement character U+FFFD; a cell of the workbook \
                 holds 32,767 characters, longer text ends there with an ellipsis";
    rows.push(line("text in all files", signs));
    DataTable { name: "about", one_row_for: "fact about these files", columns: all, rows }
}

/// Every file read, with its hash.
pub(super) fn files_table(report: &SurveyReport) -> DataTable {
    let all = columns(&[
        text("file", "path inside the survey folder"),
        ("bytes", Kind::Whole, "bytes", "its length"),
        text("blake3", "BLAKE3 hash of its bytes"),
    ]);
    let rows = report.provenance.inputs.iter().map(|file| {
        vec![Cell::text(&file.name), Cell::whole(file.bytes), Cell::text(&file.blake3)]
    });
    DataTable {
        name: "files",
        one_row_for: "file the results rest on",
        rows: rows.collect(),
        columns: all,
    }
}
