//! What a message must be: one clear line that names the file and says what to do.

use proptest::prelude::*;

/// No message may fill the screen, however long what it quotes.
const LONGEST_CHARS: usize = 1000;

/// Words that tell a person to do something.
const DEEDS: [&str; 49] = [
    "add",
    "allow",
    "ask",
    "begin",
    "bring",
    "calibrate",
    "check",
    "choose",
    "close",
    "compare",
    "copy",
    "correct",
    "cut",
    "delete",
    "double",
    "end",
    "enter",
    "fill",
    "free",
    "give",
    "install",
    "judge",
    "keep",
    "leave",
    "look",
    "make",
    "measure",
    "mend",
    "move",
    "name",
    "open",
    "place",
    "plug",
    "put",
    "raise",
    "remove",
    "rename",
    "repeat",
    "restore",
    "save",
    "scan",
    "set",
    "shorten",
    "split",
    "state",
    "take",
    "use",
    "write",
    "press",
];

/// Refuses a message that is not one clear line about one of `files`.
pub fn judge(message: &str, files: &[&str]) -> Result<(), TestCaseError> {
    let is_break = |c: char| c.is_control() || matches!(c, '\u{2028}' | '\u{2029}');
    prop_assert!(!message.trim().is_empty(), "an empty message");
    prop_assert!(!message.contains(is_break), "more than one line: {message:?}");
    let length = message.chars().count();
    prop_assert!(length <= LONGEST_CHARS, "{length} characters: {message}");
    prop_assert!(files.iter().any(|file| message.contains(file)), "names no file: {message}");
    let mut words = message.split(|c: char| !c.is_alphanumeric());
    prop_assert!(words.any(|word| DEEDS.contains(&word)), "says nothing to do: {message}");
    Ok(())
}

/// As [`judge`], for several.
pub fn judge_all(messages: &[String], files: &[&str]) -> Result<(), TestCaseError> {
    messages.iter().try_for_each(|message| judge(message, files))
}
