//! What was read off each picture, one JSON object a line, to look at in another language.

use winterline::domain::progress::Progress;
use winterline::proposing::Prepared;
use winterline::proposing::prepared::Signal;

use super::score::request;
use super::sets::Plan;

pub fn run(plan: &Plan, path: &str) {
    let lines = plan.each(|picture| {
        let truth = &picture.truth;
        let request = request(picture, false);
        let prepared = Prepared::new(&request, &Progress::new()).expect("not stopped");
        let reading = prepared.read(request.axis.as_ref().expect("has one"), true);
        let um = |places: &[f64]| {
            places.iter().map(|p| reading.micrometres(*p)).collect::<Vec<f64>>()
        };
        let (circuli, profile) = match &reading.signal {
            Signal::Scale(s) => (um(&s.circuli), s.profile.clone()),
            Signal::Otolith(s) => (Vec::new(), s.profile.clone()),
        };
        let candidates: Vec<String> = reading
            .candidates
            .iter()
            .map(|c| {
                let at = reading.micrometres(c.place);
                format!("{{\"um\":{at:.3},\"x\":{:?}}}", c.evidence)
            })
            .collect();
        format!(
            "{{\"style\":\"{}\",\"difficulty\":\"{}\",\"seed\":{},\"readable\":{},\"um_per_px\":{},\"edge\":{},\"found_edge\":{},\"step\":{},\"truth\":{:?},\"strength\":{:?},\"checks\":{:?},\"laid\":{:?},\"circuli\":{:?},\"profile\":{:?},\"candidates\":[{}]}}",
            truth.style.word(),
            truth.difficulty.word(),
            truth.seed,
            truth.readable && !truth.regenerated,
            truth.um_per_px,
            truth.edge_um,
            reading.edge_um(),
            reading.fan.step_um,
            truth.annuli_um(),
            truth.annuli.iter().map(|a| a.strength).collect::<Vec<f64>>(),
            truth.checks_um(),
            picture.circuli_um,
            circuli,
            profile,
            candidates.join(",")
        )
    });
    std::fs::write(path, lines.join("\n") + "\n").expect("can be written");
}
