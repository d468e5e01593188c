//! Which pictures are drawn.

use rayon::prelude::*;
use winterline::domain::reading::Structure;
use winterline::simulate::picture::{Picture, draw};
use winterline::simulate::spec::draw_spec;
use winterline::simulate::truth::{Difficulty, Style};

/// First training seed of the choice, for each style and grade; those before train networks.
pub const FIRST_OF_CHOICE: u64 = 500;

#[derive(Clone)]
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
    /// File into which the strips of the learned evidence are written.
    pub strips: Option<String>,
    /// Folder of the networks of the learned evidence.
    pub networks: Option<String>,
    /// First picture of each style and difficulty.
    pub skip: u64,
    /// Folder into which the fitted models are written.
    pub write: Option<String>,
    /// Judge each style by a model fitted without it.
    pub leave_one_style_out: bool,
    /// Training pictures for each style and difficulty.
    pub n_train: u64,
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
        let n = value("--n").and_then(|n| n.parse().ok()).unwrap_or(4);
        Self {
            n,
            structures,
            first_seed,
            suggest: has("--suggest"),
            list: has("--list"),
            fit,
            export: value("--export"),
            dump: value("--dump"),
            strips: value("--strips"),
            networks: value("--networks"),
            skip: value("--skip").and_then(|n| n.parse().ok()).unwrap_or(0),
            write: value("--write"),
            leave_one_style_out: has("--leave-one-style-out"),
            n_train: value("--n-train").and_then(|n| n.parse().ok()).unwrap_or(if fit {
                n
            } else {
                10
            }),
            difficulties,
        }
    }

    /// The same plan on training seeds, for a fit of the choice: other seeds than those of the networks, which know theirs
    /// too well.
    pub fn training(&self) -> Self {
        Self { n: self.n_train, skip: FIRST_OF_CHOICE, first_seed: 1_000_000, ..self.clone() }
    }

    /// Every (structure, style, difficulty, seed) of the plan.
    pub fn keys(&self) -> Vec<(Structure, Style, Difficulty, u64)> {
        let mut keys = Vec::new();
        for structure in &self.structures {
            for (s, style) in Style::of(*structure).iter().enumerate() {
                for (d, difficulty) in self.difficulties.iter().enumerate() {
                    for k in self.skip..self.skip + self.n {
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
