//! The words and tables of the growth desk: conclusion, parameters, sources of error, standard, condition, two methods.

use egui::{Grid, RichText, Ui};

use crate::analysis::growth::FittedGrowth;
use crate::analysis::uncertainty::Propagated;
use crate::gui::theme::{heading, problem, quiet};
use crate::workbench::growth_findings::GrowthFindings;
use crate::workbench::notices::sentence;
use crate::workbench::survey_compare::AgainstStandard;

/// Draws everything that is said in words.
pub fn growth_words_ui(ui: &mut Ui, found: &GrowthFindings) {
    verdict_ui(ui, found);
    match &found.curve {
        Ok(fitted) => parameters_ui(ui, fitted, found.uncertainty.as_ref().ok()),
        Err(reason) => {
            _ = ui.label(
                RichText::new(format!("No curve: {reason}")).color(problem(ui.visuals().dark_mode)),
            )
        }
    }
    match &found.uncertainty {
        Ok(propagated) => sources_ui(ui, propagated),
        Err(reason) => {
            section(ui, "Uncertainty");
            ui.label(
                RichText::new(format!("None: {reason}")).color(problem(ui.visuals().dark_mode)),
            );
        }
    }
    match &found.against {
        Some(Ok(against)) => against_ui(ui, against),
        Some(Err(reason)) => {
            section(ui, "Against the standard");
            ui.label(sentence(reason));
        }
        None => {
            section(ui, "Against the standard");
            ui.label("The survey has no reference.csv: put the regional standard there.");
        }
    }
    condition_ui(ui, found);
    beside_ui(ui, found);
    notes_ui(ui, found);
}

fn section(ui: &mut Ui, words: &str) {
    ui.add_space(12.0);
    ui.label(heading(words));
}

fn verdict_ui(ui: &mut Ui, found: &GrowthFindings) {
    ui.label(RichText::new(&found.verdict.headline).size(17.0).strong());
    let parts = [
        ("For", &found.verdict.evidence_for),
        ("Against", &found.verdict.evidence_against),
        ("What this cannot say", &found.verdict.limits),
    ];
    for (title, lines) in parts.into_iter().filter(|(_, lines)| !lines.is_empty()) {
        ui.add_space(6.0);
        ui.label(RichText::new(title).strong());
        for line in lines {
            bullet(ui, &sentence(line));
        }
    }
}

fn bullet(ui: &mut Ui, words: &str) {
    ui.horizontal_top(|ui| {
        ui.label("•");
        ui.add(egui::Label::new(words).wrap());
    });
}

fn headings(ui: &mut Ui, words: &[&str]) {
    for one in words {
        ui.label(RichText::new(*one).strong());
    }
    ui.end_row();
}

fn parameters_ui(ui: &mut Ui, fitted: &FittedGrowth, errors: Option<&Propagated>) {
    section(ui, "Curve");
    ui.label(RichText::new(fitted.fit.curve.formula()).color(quiet(ui.visuals().dark_mode)));
    Grid::new("parameters").striped(true).num_columns(4).show(ui, |ui| {
        headings(ui, &["", "Value", "95 %, all errors", "95 %, profile"]);
        for (one, profile) in fitted.fit.parameters.iter().zip(&fitted.profiles) {
            let digits = if one.estimate.abs() >= 20.0 { 0 } else { 3 };
            ui.label(one.name);
            ui.label(format!("{:.digits$}", one.estimate));
            let all = errors.and_then(|found| found.parameters.iter().find(|p| p.name == one.name));
            ui.label(limits(all.and_then(|p| p.ci95).map(|limits| limits.map(Some)), digits));
            ui.label(limits(*profile, digits));
            ui.end_row();
        }
    });
    let (n, fish) = (fitted.fit.n, fitted.fit.n_ages());
    let words =
        format!("{n} fish at their last annulus, {fish} ages; lengths in mm, ages in years.");
    ui.label(RichText::new(words).color(quiet(ui.visuals().dark_mode)));
}

fn limits(found: Option<[Option<f64>; 2]>, digits: usize) -> String {
    let side = |value: Option<f64>| value.map_or("open".to_owned(), |v| format!("{v:.digits$}"));
    found
        .map_or_else(|| "none".to_owned(), |[low, high]| format!("{} to {}", side(low), side(high)))
}

fn sources_ui(ui: &mut Ui, found: &Propagated) {
    section(ui, "Where the uncertainty comes from");
    Grid::new("sources").striped(true).num_columns(2).show(ui, |ui| {
        headings(ui, &["Source", "Share"]);
        for one in &found.sources {
            ui.label(one.source.name()).on_hover_text(&one.note);
            let words =
                one.share.map_or("not known".to_owned(), |share| format!("{:.0} %", 100.0 * share));
            ui.label(words).on_hover_text(&one.note);
            ui.end_row();
        }
    });
    let words = format!(
        "{} draws, seed {}. Point at a source for what its size rests on.",
        found.replicates, found.seed
    );
    ui.label(RichText::new(words).color(quiet(ui.visuals().dark_mode)));
    for warning in found.warnings() {
        bullet(ui, &sentence(&warning));
    }
}

fn against_ui(ui: &mut Ui, against: &AgainstStandard) {
    section(ui, "Against the standard");
    Grid::new("standard").striped(true).num_columns(5).show(ui, |ui| {
        headings(ui, &["Age", "Fish", "Mean, mm", "% of standard", "Percentile"]);
        for age in &against.index.ages {
            ui.label(age.age.to_string());
            ui.label(age.n.to_string());
            ui.label(format!("{:.0}", age.mean_mm));
            let standing = age.standing.as_ref();
            ui.label(standing.map_or("none".to_owned(), |s| format!("{:.0}", s.percent)));
            ui.label(
                standing.and_then(|s| s.percentile).map_or("none".to_owned(), |p| p.to_string()),
            );
            ui.end_row();
        }
    });
    let index = &against.index;
    let words = match (index.mean_deviation_mm, index.ci95_mm) {
        (Some(mm), Some([low, high])) => {
            format!("Growth index {mm:+.1} mm, 95 % limits {low:+.1} to {high:+.1} mm.")
        }
        (Some(mm), None) => format!("Growth index {mm:+.1} mm, no limits."),
        (None, _) => format!("No growth index: no age has {} fish.", index.minimum_per_age),
    };
    ui.label(words);
    if let Some(row) = against.standard.first() {
        let words = format!("Standard: {}.", row.source);
        ui.label(RichText::new(words).color(quiet(ui.visuals().dark_mode)));
    }
}

fn condition_ui(ui: &mut Ui, found: &GrowthFindings) {
    section(ui, "Condition");
    let Some(condition) = &found.condition else {
        ui.label("No fish was weighed.");
        return;
    };
    match (condition.mean_relative_weight, &condition.standard) {
        (Some(mean), Some(standard)) => {
            ui.label(format!(
                "Mean relative weight {mean:.1} over {} fish; {} shorter than {:.0} mm. Standard: {}.",
                condition.n_relative, condition.n_below_minimum, standard.minimum_mm, standard.source
            ));
        }
        (None, Some(standard)) => {
            ui.label(format!(
                "No weighed fish reaches {:.0} mm, the least length of the standard.",
                standard.minimum_mm
            ));
        }
        _ => {
            ui.label(format!(
                "{} fish weighed. Relative weight needs a standard weight with its source.",
                condition.n_weighed
            ));
        }
    }
}

fn beside_ui(ui: &mut Ui, found: &GrowthFindings) {
    let (Some(beside), Some(second)) = (&found.beside, found.request.beside) else { return };
    section(ui, "Two methods side by side");
    let names = [found.request.lengths.name(), second.name()];
    match beside {
        Err(reason) => _ = ui.label(sentence(reason)),
        Ok(compared) => {
            Grid::new("two methods").striped(true).num_columns(5).show(ui, |ui| {
                headings(ui, &["Age", "Fish", names[0], names[1], "Difference, mm"]);
                for row in &compared.by_age {
                    ui.label(row.age.to_string());
                    ui.label(row.n.to_string());
                    ui.label(format!("{:.1}", row.first_mm));
                    ui.label(format!("{:.1}", row.second_mm));
                    ui.label(format!("{:+.1}", row.second_mm - row.first_mm));
                    ui.end_row();
                }
            });
            if let Some(largest) = &compared.largest {
                ui.label(format!(
                    "Largest difference {:.1} mm: fish {} at annulus {}.",
                    largest.difference_mm().abs(),
                    largest.fish,
                    largest.annulus
                ));
            }
        }
    }
}

fn notes_ui(ui: &mut Ui, found: &GrowthFindings) {
    for note in &found.notes {
        bullet(ui, &sentence(note));
    }
    section(ui, &format!("Left out: {}", found.left_out.len()));
    Grid::new("left out of growth").striped(true).num_columns(2).show(ui, |ui| {
        for one in &found.left_out {
            ui.label(&one.fish);
            ui.add(egui::Label::new(&one.reason).wrap());
            ui.end_row();
        }
    });
}
