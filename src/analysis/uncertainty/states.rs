//! Which sources can be drawn for a sample, and why others cannot.

use crate::analysis::back_calculation::{Intercept, Method};

use super::inputs::{Known, Scope, Source};
use super::perturbed::SoundFish;
use super::replicate::Material;

/// Whether a source can be drawn, and why.
pub(super) struct State {
    pub(super) source: Source,
    pub(super) is_drawn: bool,
    pub(super) note: String,
}

impl State {
    /// In the joint run of a population the errors of single fish are already in the scatter among fish.
    pub(super) fn is_joint(&self, scope: Scope) -> bool {
        self.is_drawn && (scope == Scope::TheseFish || !self.source.is_of_single_fish())
    }
}

/// Every source, in the order of the tables.
pub(super) fn states(material: &Material<'_>, scope: Scope) -> Vec<State> {
    Source::ALL
        .into_iter()
        .map(|source| {
            let errors = material.errors;
            let (is_drawn, note) = match source {
                Source::Marks => known(&errors.marks_um),
                Source::Focus => known(&errors.focus_um),
                Source::Length => known(&errors.length_mm),
                Source::Calibration => known(&errors.calibration),
                Source::Readers => readers(material.fish),
                Source::Relation => relation(material.method, &errors.intercept_mm),
                Source::Sampling => match scope {
                    Scope::Population => (true, "fish drawn with replacement".to_owned()),
                    Scope::TheseFish => {
                        (false, "left out: the limits speak of these fish alone".to_owned())
                    }
                },
            };
            State { source, is_drawn, note }
        })
        .collect()
}

fn known(input: &Known) -> (bool, String) {
    match input {
        Known::Sd { sd, origin } => (*sd > 0.0, origin.clone()),
        Known::Missing(why) => (false, why.clone()),
    }
}

fn readers(fish: &[SoundFish]) -> (bool, String) {
    let several = fish.iter().filter(|one| one.n_readings() > 1).count();
    if several == 0 {
        let why = "no fish was read by a second reader: have some re-read blind";
        return (false, why.to_owned());
    }
    (
        true,
        format!(
            "one reading drawn for each of {several} fish read more than once; the other {} keep theirs",
            fish.len() - several
        ),
    )
}

fn relation(method: &Method, intercept: &Known) -> (bool, String) {
    match method {
        Method::DirectProportion | Method::BiologicalIntercept(_) => {
            (false, "does not apply: the method fits no relation".to_owned())
        }
        Method::FraserLee(Intercept::Given { .. } | Intercept::Standard { .. }) => known(intercept),
        _ => (true, "fitted anew to fish drawn with replacement".to_owned()),
    }
}
