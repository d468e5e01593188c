//! Something wrong in a survey's files, placed so that a person can find it.

use crate::domain::one_line::one_line;

/// How bad a problem is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Severity {
    /// The data cannot be used as it stands.
    Error,
    /// Worth a look; the data are used.
    Warning,
}

impl Severity {
    /// The word used in files and on screen.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Error => "error",
            Self::Warning => "warning",
        }
    }
}

/// One thing wrong: where, and what to do about it. Its texts are each one line, whatever they quote.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Problem {
    /// Error or warning.
    pub severity: Severity,
    /// The file, relative to the survey folder, with `/` between folders.
    pub file: String,
    /// Row as a spreadsheet counts it: the heading is row 1.
    pub row: Option<usize>,
    /// Heading of the column as it stands in the file, or key path in a JSON file.
    pub column: Option<String>,
    /// What was expected, what was found, what to do.
    pub message: String,
}

impl Problem {
    /// An error about a whole file.
    pub fn error(file: impl Into<String>, message: impl Into<String>) -> Self {
        Self {
            severity: Severity::Error,
            file: one_line(&file.into()).into_owned(),
            row: None,
            column: None,
            message: one_line(&message.into()).into_owned(),
        }
    }

    /// A warning about a whole file.
    pub fn warning(file: impl Into<String>, message: impl Into<String>) -> Self {
        Self { severity: Severity::Warning, ..Self::error(file, message) }
    }

    /// The same problem, placed at a row.
    #[must_use]
    pub fn at_row(self, row: usize) -> Self {
        Self { row: Some(row), ..self }
    }

    /// The same problem, placed in a column.
    #[must_use]
    pub fn in_column(self, column: impl Into<String>) -> Self {
        Self { column: Some(one_line(&column.into()).into_owned()), ..self }
    }

    /// True for an error, false for a warning.
    pub fn is_error(&self) -> bool {
        self.severity == Severity::Error
    }
}

impl std::fmt::Display for Problem {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}: {}", self.severity.word(), self.file)?;
        if let Some(row) = self.row {
            write!(f, ", row {row}")?;
        }
        if let Some(column) = &self.column {
            write!(f, ", column '{column}'")?;
        }
        write!(f, ": {}", self.message)
    }
}

/// True when no error stands among the problems; warnings do not count.
pub fn is_clean(problems: &[Problem]) -> bool {
    !problems.iter().any(Problem::is_error)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_text_names_file_row_and_column() {
        let problem = Problem::error("fish.csv", "expected a number").at_row(7).in_column("length");
        assert_eq!(
            problem.to_string(),
            "error: fish.csv, row 7, column 'length': expected a number"
        );
        assert!(!is_clean(&[problem]));
        assert!(is_clean(&[Problem::warning("fish.csv", "odd")]));
    }
}
