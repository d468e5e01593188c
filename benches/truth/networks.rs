//! The networks a model is fitted with: one trained on all styles, and one for each style that never saw it.

use std::sync::Arc;

use winterline::domain::reading::Structure;
use winterline::proposing::network::Network;
use winterline::simulate::truth::Style;

/// A network, or none.
pub type Shared = Option<Arc<Network>>;

pub struct Networks {
    /// All that differ.
    pub different: Vec<Shared>,
    /// Which was trained on all styles.
    pub all: usize,
    without: Vec<(Style, usize)>,
}

impl Networks {
    /// Reads `scale.net` or `otolith.net`, and `without-STYLE.net`, from a folder. Without a folder there is none.
    pub fn load(structure: Structure, folder: Option<&str>) -> Self {
        let mut found = Self { different: vec![None], all: 0, without: Vec::new() };
        let Some(folder) = folder else { return found };
        let mut seen: Vec<Vec<u8>> = Vec::new();
        let mut place = |name: &str| {
            let path = std::path::Path::new(folder).join(format!("{name}.net"));
            let bytes = std::fs::read(&path).ok()?;
            if let Some(same) = seen.iter().position(|s| *s == bytes) {
                return Some(same + 1);
            }
            let network = Network::from_bytes(&bytes).expect("is a network");
            found.different.push(Some(Arc::new(network)));
            seen.push(bytes);
            Some(seen.len())
        };
        let all = place(if structure == Structure::Scale { "scale" } else { "otolith" });
        let mut without = Vec::new();
        for style in Style::of(structure) {
            if let Some(which) = place(&format!("without-{}", style.word())) {
                without.push((*style, which));
            } else {
                println!("no network without {}: none is used for it", style.word());
            }
        }
        Self { all: all.unwrap_or(0), without, ..found }
    }

    /// Which network never saw a style.
    pub fn without(&self, style: Style) -> usize {
        self.without.iter().find(|(left, _)| *left == style).map_or(0, |(_, which)| *which)
    }
}
