//! How well annuli are found, on invented pictures whose truth is known.
//!
//! `cargo bench --bench truth -- [--n 40] [--structure scale|otolith] [--seeds tune|test|train] [--suggest] [--list]`
//! `[--export DIR]` writes the same pictures out, for `truth_baseline.py`;
//! `[--strips FILE]` writes what the learned evidence looks at, for `train.py`; `[--networks DIR]` reads networks trained
//! so, `scale.net` and `without-STYLE.net`, for a fit;
//! `[--fit]` fits the weights of the choice on the training seeds, style by style left out, and prints them.
#![allow(missing_docs)]
#![allow(clippy::print_stdout, clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod boost;
mod dump;
mod export;
mod fit;
mod networks;
mod score;
mod sets;
mod strips;

use sets::Plan;

fn main() {
    let plan = Plan::from_arguments(std::env::args().skip(1));
    if plan.fit {
        fit::run(&plan);
    } else if let Some(path) = plan.strips.clone() {
        strips::run(&plan, &path);
    } else if let Some(path) = plan.dump.clone() {
        dump::run(&plan, &path);
    } else if let Some(folder) = plan.export.clone().filter(|_| !plan.leave_one_style_out) {
        export::run(&plan, &folder);
    } else {
        score::run(&plan);
    }
}
