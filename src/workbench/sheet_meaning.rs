//! What a column of somebody's sheet can mean, in words, and what its heading suggests.

use crate::store::cells::same_heading;
use crate::store::field_sheet::FIELD_COLUMNS;

/// What kind of table a sheet is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum SheetKind {
    /// A row for each fish.
    #[default]
    Field,
    /// A row for each structure, with radii measured on a projector.
    Radii,
}

/// Annuli an old sheet of radii may have columns for.
const MOST_ANNULI: usize = 40;

/// The columns of a table of radii that are not radii.
const OF_RADII: [&str; 8] =
    ["fish", "length_mm", "length_cm", "length_in", "species", "sex", "capture_date", "year_class"];

impl SheetKind {
    /// Both, in the order they are offered.
    pub const ALL: [Self; 2] = [Self::Field, Self::Radii];

    /// A few words for a button.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Field => "Field sheet",
            Self::Radii => "Radii from a projector",
        }
    }

    /// Everything a column of such a sheet can mean, in the order it is offered.
    pub fn meanings(self) -> Vec<String> {
        match self {
            Self::Field => FIELD_COLUMNS.iter().map(|column| column.name.to_owned()).collect(),
            Self::Radii => {
                let mut all: Vec<String> = OF_RADII.iter().map(|&name| name.to_owned()).collect();
                all.extend(["water".to_owned(), "radius".to_owned()]);
                all.extend((1..=MOST_ANNULI).map(|annulus| format!("a{annulus}")));
                all
            }
        }
    }
}

/// The number of the annulus a meaning stands for.
pub(super) fn annulus_of(meaning: &str) -> Option<usize> {
    meaning.strip_prefix('a')?.parse().ok().filter(|n| (1..=MOST_ANNULI).contains(n))
}

/// A meaning as people say it.
pub fn meaning_words(meaning: &str) -> String {
    let fixed = match meaning {
        "fish" => "Fish or envelope number",
        "capture_date" => "Day of capture",
        "length" => "Length, unit of the survey",
        "length_mm" => "Length, mm",
        "length_cm" => "Length, cm",
        "length_in" => "Length, inches",
        "length_type" => "Length type (total, fork, standard)",
        "weight" => "Weight, unit of the survey",
        "weight_g" => "Weight, g",
        "weight_kg" => "Weight, kg",
        "weight_lb" => "Weight, pounds",
        "body_site" => "Body site of the scales",
        "pressing_batch" => "Pressing batch",
        "position" => "Position on the slide",
        "mark_found" => "Mark found",
        "known_year_class" => "Known year class",
        "year_class" => "Year class",
        "scans" => "File names of the scans",
        "count" => "Number of fish counted",
        "radius" => "Total radius",
        "note" => "Note",
        _ => "",
    };
    if !fixed.is_empty() {
        return fixed.to_owned();
    }
    if let Some(annulus) = annulus_of(meaning) {
        return format!("Radius of annulus {annulus}");
    }
    let mut words = meaning.to_owned();
    if let Some(first) = words.get_mut(0..1) {
        first.make_ascii_uppercase();
    }
    words
}

/// What a heading suggests; `None` where it suggests nothing.
pub fn guess(kind: SheetKind, heading: &str) -> Option<String> {
    let by_name = kind.meanings().into_iter().find(|meaning| same_heading(meaning, heading));
    by_name.or_else(|| by_other_name(kind, heading)).or_else(|| by_words(kind, heading))
}

/// The other headings the contract allows.
fn by_other_name(kind: SheetKind, heading: &str) -> Option<String> {
    let known = FIELD_COLUMNS.iter().filter(|_| kind == SheetKind::Field);
    let mut named = known.filter(|one| one.also.iter().any(|also| same_heading(also, heading)));
    named.next().map(|column| column.name.to_owned())
}

fn by_words(kind: SheetKind, heading: &str) -> Option<String> {
    let lower = heading.to_lowercase();
    let words: Vec<&str> =
        lower.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty()).collect();
    let has = |any: &[&str]| words.iter().any(|word| any.contains(word));
    let unit_of = |base: &str, units: &[(&[&str], &str)]| {
        let unit = units.iter().find(|(words, _)| has(words)).map(|(_, unit)| *unit);
        unit.map_or_else(|| base.to_owned(), |unit| format!("{base}_{unit}"))
    };
    let lengths: [(&[&str], &str); 3] =
        [(&["mm"], "mm"), (&["cm"], "cm"), (&["in", "inch", "inches"], "in")];
    let weights: [(&[&str], &str); 3] = [
        (&["g", "gram", "grams"], "g"),
        (&["kg"], "kg"),
        (&["lb", "lbs", "pound", "pounds"], "lb"),
    ];
    if kind == SheetKind::Radii
        && let Some(found) = radius_by_words(&words)
    {
        return Some(found);
    }
    let found = if has(&["length", "len", "tl", "fl", "sl"]) && !has(&["type", "class", "group"]) {
        let found = unit_of("length", &lengths);
        if kind == SheetKind::Radii && found == "length" { "length_mm".to_owned() } else { found }
    } else if has(&["weight", "wt", "mass"]) {
        unit_of("weight", &weights)
    } else if has(&["date", "captured", "caught"]) {
        "capture_date".to_owned()
    } else if has(&["species", "sp", "spp"]) {
        "species".to_owned()
    } else if has(&["sex", "gender"]) {
        "sex".to_owned()
    } else if has(&["envelope", "env", "fish", "sample", "specimen"]) {
        "fish".to_owned()
    } else if has(&["lake", "pond", "river", "stream", "reservoir", "waterbody"]) {
        "water".to_owned()
    } else if has(&["scan", "image", "picture", "file", "photo"]) {
        "scans".to_owned()
    } else if has(&["notes", "comment", "comments", "remarks"]) {
        "note".to_owned()
    } else {
        return None;
    };
    kind.meanings().contains(&found).then_some(found)
}

fn radius_by_words(words: &[&str]) -> Option<String> {
    if let [.., last] = words
        && let Some(number) = last.strip_prefix(['a', 'r']).or(Some(last))
        && let Ok(annulus) = number.parse::<usize>()
        && (1..=MOST_ANNULI).contains(&annulus)
    {
        return Some(format!("a{annulus}"));
    }
    let is_total = words.iter().any(|word| ["radius", "edge", "margin", "tr"].contains(word));
    is_total.then(|| "radius".to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn headings_people_write_suggest_what_they_mean() {
        for (heading, meaning) in [
            ("Envelope No.", Some("fish")),
            ("FISH", Some("fish")),
            ("date", Some("capture_date")),
            ("Date caught", Some("capture_date")),
            ("TL (mm)", Some("length_mm")),
            ("Len, in", Some("length_in")),
            ("Total length", Some("length")),
            ("Wt (lbs)", Some("weight_lb")),
            ("length type", Some("length_type")),
            ("Sp.", Some("species")),
            ("Comments", Some("note")),
            ("Weather", None),
        ] {
            assert_eq!(guess(SheetKind::Field, heading).as_deref(), meaning, "{heading}");
        }
        for (heading, meaning) in [
            ("Fish", Some("fish")),
            ("R", None),
            ("Total radius", Some("radius")),
            ("A1", Some("a1")),
            ("annulus 12", Some("a12")),
            ("TL", Some("length_mm")),
        ] {
            assert_eq!(guess(SheetKind::Radii, heading).as_deref(), meaning, "{heading}");
        }
    }
}
