//! The same pictures as files, for a comparison in another language.

use std::fmt::Write as _;
use std::path::Path;

use winterline::domain::reading::Light;
use winterline::imaging::encode::png_bytes;
use winterline::simulate::picture::Picture;

use super::sets::Plan;

pub fn run(plan: &Plan, folder: &str) {
    std::fs::create_dir_all(folder).expect("folder can be made");
    let rows = plan.each(|picture| row(picture, folder));
    finish(folder, &rows);
}

/// Writes a picture and gives its row of the table.
pub fn row(picture: &Picture, folder: &str) -> String {
    let folder = Path::new(folder);

    let t = &picture.truth;
    let name = format!("{}-{}-{}.png", t.style.word(), t.difficulty.word(), t.seed);
    let bytes = png_bytes(&picture.raster, None).expect("can be written");
    std::fs::write(folder.join(&name), bytes).expect("can be written");
    let [focus, end] = t.axis_px;
    let mut annuli = String::new();
    for annulus in t.annuli_um() {
        let _ = write!(annuli, "{annulus:.2} ");
    }
    let light = if t.light == Light::Reflected { "reflected" } else { "transmitted" };
    format!(
        "{name},{},{},{},{light},{},{},{},{},{},{},{},{annuli}",
        if t.style.structure().word() == "scale" { "scale" } else { "otolith" },
        t.style.word(),
        t.difficulty.word(),
        t.um_per_px,
        focus.x,
        focus.y,
        end.x,
        end.y,
        t.edge_um,
        t.readable && !t.regenerated
    )
}

/// Writes the table.
pub fn finish(folder: &str, rows: &[String]) {
    let head =
        "file,structure,style,difficulty,light,um_per_px,fx,fy,ex,ey,edge_um,readable,annuli_um";
    std::fs::write(Path::new(folder).join("truth.csv"), format!("{head}\n{}\n", rows.join("\n")))
        .expect("can be written");
}
