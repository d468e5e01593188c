//! Text from files and names of files, made fit to be quoted in a message of one line.

use std::borrow::Cow;
use std::path::Path;

/// Longer text is cut in the middle, since what failed stands at the start of a message and what to do at its end.
const LONGEST_CHARS: usize = 600;

/// `text` on one line: breaks, control characters and marks that turn the direction of writing become escapes such as
/// `\n` or `\u{202e}`, and what is longer than 600 characters loses its middle.
pub fn one_line(text: &str) -> Cow<'_, str> {
    let is_short = text.len() <= LONGEST_CHARS || text.chars().count() <= LONGEST_CHARS;
    if is_short && !text.contains(is_troublesome) {
        return Cow::Borrowed(text);
    }
    if is_short {
        return Cow::Owned(plain(text.chars()));
    }
    let half = LONGEST_CHARS / 2;
    let start = plain(text.chars().take(half));
    let end: Vec<char> = text.chars().rev().take(half).collect();
    Cow::Owned(format!("{start} ... {}", plain(end.into_iter().rev())))
}

/// A path as messages show it: as [`one_line`], bytes that are no text replaced.
pub fn shown(path: &Path) -> String {
    one_line(&path.to_string_lossy()).into_owned()
}

fn plain(text: impl Iterator<Item = char>) -> String {
    let mut line = String::new();
    for c in text {
        if is_troublesome(c) {
            line.extend(c.escape_default());
        } else {
            line.push(c);
        }
    }
    line
}

/// Breaks a line, or turns its direction (Unicode Standard Annex 9, explicit formatting characters).
fn is_troublesome(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{2028}' | '\u{2029}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn plain_text_is_left_alone_and_breaks_are_escaped() {
        assert!(matches!(one_line("Grösse 3, \u{1F41F}"), Cow::Borrowed("Grösse 3, \u{1F41F}")));
        assert_eq!(one_line("a\nb\t\u{202e}c\u{0}"), "a\\nb\\t\\u{202e}c\\u{0}");
        assert_eq!(shown(Path::new("scans/a\nb.tif")), "scans/a\\nb.tif");
    }

    #[test]
    fn long_text_keeps_its_start_and_its_end() {
        let text = format!("expected a number, found '{}': correct it", "9".repeat(70_000));
        let line = one_line(&text);
        assert!(
            line.starts_with("expected a number, found '99") && line.ends_with("99': correct it")
        );
        assert_eq!(line.chars().count(), LONGEST_CHARS + 5);
    }
}
