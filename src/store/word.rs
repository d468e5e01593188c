//! Words of the trade as they stand in files, with errors that list the words allowed.

use serde::de::Visitor;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

use crate::domain::calibration::CalibrationSource;
use crate::domain::reading::{
    Certainty, Confidence, EdgeCondition, Light, MarkKind, MarkOrigin, Outcome, ReadingState,
    Structure,
};
use crate::domain::survey::{LengthUnit, WeightUnit};

/// A value that files hold as one word out of a short list.
pub(super) trait FileWord: Sized + Clone + 'static {
    /// What the word says, for messages.
    const WHAT: &'static str;
    /// All values and their words.
    fn words() -> Vec<(Self, &'static str)>;
    /// The value of a word, written exactly so. Archives hold millions of them.
    fn of_word(word: &str) -> Option<Self>;

    fn to_word(&self) -> &'static str
    where
        Self: PartialEq,
    {
        Self::words()
            .into_iter()
            .find_map(|(value, word)| (value == *self).then_some(word))
            .unwrap_or_default()
    }
}

macro_rules! by_all {
    ($($type:ident, $what:literal;)+) => {$(
        impl FileWord for $type {
            const WHAT: &'static str = $what;
            fn words() -> Vec<(Self, &'static str)> {
                $type::ALL.iter().map(|value| (*value, value.word())).collect()
            }
            fn of_word(word: &str) -> Option<Self> {
                $type::ALL.iter().copied().find(|value| value.word() == word)
            }
        }
    )+};
}

macro_rules! by_list {
    ($($type:ident, $what:literal, [$($variant:ident => $word:literal),+];)+) => {$(
        impl FileWord for $type {
            const WHAT: &'static str = $what;
            fn words() -> Vec<(Self, &'static str)> {
                vec![$(($type::$variant, $word)),+]
            }
            fn of_word(word: &str) -> Option<Self> {
                match word {
                    $($word => Some($type::$variant),)+
                    _ => None,
                }
            }
        }
    )+};
}

by_all! {
    Structure, "a structure";
    Light, "a kind of light";
    MarkKind, "a kind of mark";
    MarkOrigin, "the origin of a mark";
    Certainty, "a certainty";
    EdgeCondition, "an edge condition";
    Outcome, "an outcome";
    Confidence, "a confidence";
}

by_list! {
    CalibrationSource, "the source of a calibration", [
        FileTag => "file-tag", StageMicrometer => "stage-micrometer", Magnification => "magnification",
        Survey => "survey", Stated => "stated"
    ];
    ReadingState, "the state of a reading", [Draft => "draft", Confirmed => "confirmed"];
    LengthUnit, "a unit of length", [Millimetre => "mm", Centimetre => "cm", Inch => "in"];
    WeightUnit, "a unit of weight", [Gram => "g", Kilogram => "kg", Pound => "lb"];
}

/// Wraps a value for serde: one word, no other.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Word<T>(pub T);

impl<T: FileWord + PartialEq> Serialize for Word<T> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.0.to_word())
    }
}

impl<'de, T: FileWord> Deserialize<'de> for Word<T> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_str(AnyWord(std::marker::PhantomData)).map(Self)
    }
}

struct AnyWord<T>(std::marker::PhantomData<T>);

impl<T: FileWord> Visitor<'_> for AnyWord<T> {
    type Value = T;

    fn expecting(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter.write_str("a string")
    }

    fn visit_str<E: serde::de::Error>(self, found: &str) -> Result<T, E> {
        T::of_word(found).ok_or_else(|| {
            let allowed: Vec<&str> = T::words().iter().map(|(_, word)| *word).collect();
            E::custom(format_args!(
                "expected {} ({}), found '{found}'",
                T::WHAT,
                allowed.join(", ")
            ))
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_go_there_and_back() {
        for (value, word) in CalibrationSource::words() {
            assert_eq!(value.to_word(), word);
            let text = serde_json::to_string(&Word(value.clone())).unwrap();
            assert_eq!(text, format!("\"{word}\""));
            assert_eq!(
                serde_json::from_str::<Word<CalibrationSource>>(&text).unwrap(),
                Word(value)
            );
        }
    }

    #[test]
    fn another_word_is_answered_with_those_allowed() {
        let error = serde_json::from_str::<Word<Outcome>>("\"read\"").unwrap_err().to_string();
        assert!(
            error.contains(
                "expected an outcome (aged, unreadable, regenerated, wrong-structure), found 'read'"
            ),
            "{error}"
        );
    }
}
