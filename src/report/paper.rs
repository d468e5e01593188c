//! The paper a report is to be printed on.

/// The paper a report is to be printed on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Paper {
    /// Whatever the printer holds.
    #[default]
    AsPrinter,
    /// A4 (ISO 216), 210 by 297 mm.
    A4,
    /// Letter, 8.5 by 11 in.
    Letter,
}

impl Paper {
    /// All, in the order they are offered.
    pub const ALL: [Self; 3] = [Self::AsPrinter, Self::A4, Self::Letter];

    /// The word used on the command line.
    pub const fn word(self) -> &'static str {
        match self {
            Self::AsPrinter => "printer",
            Self::A4 => "a4",
            Self::Letter => "letter",
        }
    }

    /// A few words for a button.
    pub const fn words(self) -> &'static str {
        match self {
            Self::AsPrinter => "As the printer",
            Self::A4 => "A4",
            Self::Letter => "Letter",
        }
    }

    /// What a style sheet says of it; empty where the printer decides.
    pub const fn css(self) -> &'static str {
        match self {
            Self::AsPrinter => "",
            Self::A4 => "size: A4; ",
            Self::Letter => "size: letter; ",
        }
    }
}
