//! Which pictures are drawn.

use rayon::prelude::*;
use winterline::domain::reading::Structure;
use winterline::simulate::picture::{Picture, draw};
use winterline::simulate::spec::draw_spec;
use winterline::simulate::truth::{Difficulty, Style};

pub struct Plan {
    /// Pictures for each style and difficulty.
    pub n: u64,
    pub structures: Vec<Structure>,
    pub first_seed: u64,
    pub suggest: bool,
    pub list: bool,
    pub fit: bool,
    pub export: Option<String>,
    pub dump: Option<String>,
    pub difficulties: Vec<Difficulty>,
}

impl Plan {
    pub fn from_arguments(arguments: impl Iterator<Item = String>) -> Self {
        let words: Vec<String> = arguments.collect();
        let value = |name: &str| {
            words.iter().position(|w| w == name).and_then(|i| words.get(i + 1)).cloned()
        };
        let has = |name: &str| words.iter().any(|w| w == name);
        let structures = match value("--structure").as_deref() {
            Some("scale") => vec![Structure::Scale],
            Some("otolith") => vec![Structure::Otolith],
            _ => vec![Structure::Scale, Structure::Otolith],
        };
        let fit = has("--fit");
        let first_seed = match value("--seeds").as_deref() {
            Some("train") => 1_000_000,
            Some("test") => 3_000_000,
            _ if fit => 1_000_000,
            _ => 2_000_000,
        };
        let difficulties = match value("--difficulty") {
            Some(word) => Difficulty::from_word(&word).into_iter().collect(),
            None if has("--hopeless") => Difficulty::ALL.to_vec(),
            None => vec![Difficulty::Easy, Difficulty::Medium, Difficulty::Hard],
        };
        Self {
            n: value("--n").and_then(|n| n.parse().ok()).unwrap_or(4),
            structures,
            first_seed,
            suggest: has("--suggest"),
            list: has("--list"),
            fit,
            export: value("--export"),
            dump: value("--dump"),
            difficulties,
        }
    }

    /// Every (structure, style, difficulty, seed) of the plan.
    pub fn keys(&self) -> Vec<(Structure, Style, Difficulty, u64)> {
        let mut keys = Vec::new();
        for structure in &self.structures {
            for (s, style) in Style::of(*structure).iter().enumerate() {
                for (d, difficulty) in self.difficulties.iter().enumerate() {
                    for k in 0..self.n {
                        let seed = self.first_seed + (s as u64 * 10 + d as u64) * 1000 + k;
                        keys.push((*structure, *style, *difficulty, seed));
                    }
                }
            }
        }
        keys
    }

    /// Draws each picture and hands it to `work`; results in the order of the keys.
    pub fn each<T: Send>(&self, work: impl Fn(&Picture) -> T + Sync) -> Vec<T> {
        self.keys()
            .into_par_iter()
            .map(|(structure, style, difficulty, seed)| {
                let spec = draw_spec(structure, difficulty, Some(style), seed);
                work(&draw(&spec).expect("a drawn spec can be drawn"))
            })
            .collect()
    }
}
