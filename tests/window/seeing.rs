//! Everything a person can find out from a window: all names and values of its controls, all words painted on it, the
//! words that come up under the pointer, what goes to the clipboard and to the frame around it, and every file that
//! was written or changed since a certain moment.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use egui_kittest::Harness;
use egui_kittest::kittest::NodeT;

use crate::desk::Held;

/// What was seen so far.
#[derive(Default)]
pub struct Seen(BTreeSet<String>);

impl Seen {
    /// Adds what the window shows now.
    pub fn look(&mut self, window: &Harness<'static, Held>) {
        for node in window.root().children_recursive() {
            let node = node.accesskit_node();
            self.0.extend(node.label());
            self.0.extend(node.value());
            self.0.extend(node.data().description().map(str::to_owned));
            self.0.extend(node.data().tooltip().map(str::to_owned));
            self.0.extend(node.data().placeholder().map(str::to_owned));
        }
        let output = window.output();
        for shape in &output.shapes {
            self.add_shape(&shape.shape);
        }
        self.0.insert(format!("{:?}", output.platform_output.commands));
        for viewport in output.viewport_output.values() {
            self.0.insert(format!("{:?}", viewport.commands));
            self.0.insert(format!("{:?}", viewport.builder.title));
        }
    }

    fn add_shape(&mut self, shape: &egui::Shape) {
        match shape {
            egui::Shape::Text(text) => _ = self.0.insert(text.galley.text().to_owned()),
            egui::Shape::Vec(shapes) => shapes.iter().for_each(|shape| self.add_shape(shape)),
            _ => {}
        }
    }

    /// Looks, and then puts the pointer on every control in turn and looks at what comes up.
    pub fn look_everywhere(&mut self, window: &mut Harness<'static, Held>) {
        window.ctx.all_styles_mut(|style| {
            style.interaction.tooltip_delay = 0.0;
            style.interaction.show_tooltips_only_when_still = false;
        });
        self.look(window);
        let places: Vec<egui::Pos2> = window
            .root()
            .children_recursive()
            .filter_map(|node| {
                let bounds = node.accesskit_node().bounding_box()?;
                let (x, y) = ((bounds.x0 + bounds.x1) / 2.0, (bounds.y0 + bounds.y1) / 2.0);
                Some(egui::pos2(x as f32, y as f32))
            })
            .collect();
        for place in places {
            window.hover_at(place);
            for _ in 0..3 {
                window.step();
            }
            self.look(window);
        }
        window.hover_at(egui::pos2(1.0, 1.0));
        window.step();
    }

    /// All of it as one text.
    pub fn text(&self) -> String {
        self.0.iter().cloned().collect::<Vec<_>>().join("\n")
    }
}

/// The files of a folder as they are at one moment.
pub struct Files {
    root: PathBuf,
    before: BTreeMap<PathBuf, Vec<u8>>,
}

impl Files {
    /// Remembers every file under `root`.
    pub fn remember(root: &Path) -> Self {
        Self { root: root.to_owned(), before: all(root) }
    }

    /// Names and contents of the files that are new or changed since; names as seen from the root.
    pub fn written(&self) -> BTreeMap<PathBuf, String> {
        let changed = all(&self.root)
            .into_iter()
            .filter(|(path, bytes)| self.before.get(path) != Some(bytes));
        changed
            .map(|(path, bytes)| {
                let name = path.strip_prefix(&self.root).unwrap().to_owned();
                (name, String::from_utf8_lossy(&bytes).into_owned())
            })
            .collect()
    }

    /// The same as one text.
    pub fn text(&self) -> String {
        let files = self.written();
        files.iter().map(|(name, text)| format!("{}\n{text}\n", name.display())).collect()
    }
}

fn all(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut files = BTreeMap::new();
    for entry in std::fs::read_dir(folder).unwrap().flatten() {
        let path = entry.path();
        if path.is_dir() {
            files.extend(all(&path));
        } else if let Ok(bytes) = std::fs::read(&path) {
            files.insert(path, bytes);
        }
    }
    files
}

/// The secrets that a text holds.
pub fn found_in(text: &str, secrets: &[String]) -> Vec<String> {
    let text = text.to_lowercase();
    secrets.iter().filter(|secret| text.contains(&secret.to_lowercase())).cloned().collect()
}
