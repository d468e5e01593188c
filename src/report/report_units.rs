//! The units a report is written in, and how its numbers look. Inside the program lengths stay in mm, weights in g.

use crate::domain::units::{GRAMS_PER_POUND, MM_PER_INCH};

/// Units of a report or of data written out. Radii are in µm in both.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum ReportUnits {
    /// Millimetres and grams.
    #[default]
    Metric,
    /// Inches and pounds.
    Us,
}

impl ReportUnits {
    /// The word used on the command line.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Metric => "metric",
            Self::Us => "us",
        }
    }

    /// The value for a word.
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::Metric, Self::Us].into_iter().find(|units| units.word() == word.trim())
    }

    /// Unit of length.
    pub const fn length_unit(self) -> &'static str {
        match self {
            Self::Metric => "mm",
            Self::Us => "in",
        }
    }

    /// Unit of weight.
    pub const fn weight_unit(self) -> &'static str {
        match self {
            Self::Metric => "g",
            Self::Us => "lb",
        }
    }

    /// A length in these units.
    pub fn length(self, mm: f64) -> f64 {
        match self {
            Self::Metric => mm,
            Self::Us => mm / MM_PER_INCH,
        }
    }

    /// A weight in these units.
    pub fn weight(self, grams: f64) -> f64 {
        match self {
            Self::Metric => grams,
            Self::Us => grams / GRAMS_PER_POUND,
        }
    }

    /// A length as text without its unit: whole millimetres, tenths of an inch.
    pub fn length_text(self, mm: f64) -> String {
        fixed(self.length(mm), usize::from(self == Self::Us))
    }

    /// A small length (an error, a deviation) as text: one more decimal.
    pub fn fine_text(self, mm: f64) -> String {
        fixed(self.length(mm), 1 + usize::from(self == Self::Us))
    }

    /// A weight as text: whole grams, hundredths of a pound.
    pub fn weight_text(self, grams: f64) -> String {
        fixed(self.weight(grams), 2 * usize::from(self == Self::Us))
    }
}

/// A number with these decimals, a true minus sign, and no minus before a zero.
pub fn fixed(value: f64, decimals: usize) -> String {
    if !value.is_finite() {
        return DASH.to_owned();
    }
    let text = format!("{:.decimals$}", value.abs());
    let is_zero = text.chars().all(|sign| sign == '0' || sign == '.');
    if value < 0.0 && !is_zero { format!("\u{2212}{text}") } else { text }
}

/// The same with its sign always shown.
pub fn signed(value: f64, decimals: usize) -> String {
    let text = fixed(value, decimals);
    if value > 0.0 && text.chars().any(|sign| sign.is_ascii_digit() && sign != '0') {
        format!("+{text}")
    } else {
        text
    }
}

/// What stands where there is no value.
pub const DASH: &str = "\u{2013}";

/// A value that may not exist.
pub fn or_dash(value: Option<String>) -> String {
    value.unwrap_or_else(|| DASH.to_owned())
}

/// A probability.
pub fn probability(p: Option<f64>) -> String {
    match p {
        None => DASH.to_owned(),
        Some(p) if p < 0.001 => "<0.001".to_owned(),
        Some(p) => fixed(p, 3),
    }
}

/// "1 fish", "2 fish"; "1 age", "3 ages": the word takes an s unless it is fish.
pub fn counted(n: u64, word: &str) -> String {
    let ending = if n == 1 || word == "fish" { "" } else { "s" };
    format!("{n} {word}{ending}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn inches_and_pounds_are_the_international_ones() {
        assert_eq!(ReportUnits::Us.length(254.0), 10.0);
        assert_eq!(ReportUnits::Us.weight(453.592_37), 1.0);
        assert_eq!(ReportUnits::Us.length_text(412.0), "16.2");
        assert_eq!(ReportUnits::Metric.length_text(412.4), "412");
        assert_eq!(ReportUnits::Us.weight_text(995.0), "2.19");
    }

    #[test]
    fn numbers_have_a_true_minus_and_no_minus_zero() {
        assert_eq!(fixed(-1.25, 1), "\u{2212}1.2");
        assert_eq!(fixed(-0.01, 1), "0.0");
        assert_eq!(signed(0.04, 1), "0.0");
        assert_eq!(signed(3.0, 0), "+3");
        assert_eq!(fixed(f64::NAN, 1), DASH);
        assert_eq!(probability(Some(0.0001)), "<0.001");
        assert_eq!(counted(1, "age"), "1 age");
    }
}
