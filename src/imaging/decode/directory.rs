//! The directory of a TIFF (and of an EXIF block): tags and their values, every access checked.
//!
//! Source: TIFF Revision 6.0 (1992), section 2; BigTIFF for the 8-byte variant.

use std::borrow::Cow;

use crate::imaging::decode::source::ByteSource;

/// One entry: its type code, and where the bytes of its values are. They are fetched when they are asked for.
#[derive(Debug, Clone, Copy)]
struct Entry {
    tag: u16,
    kind: u16,
    count: u64,
    place: u64,
    length: usize,
}

/// A directory of tags of a source of bytes.
#[derive(Clone)]
pub(crate) struct Directory<'a> {
    source: &'a dyn ByteSource,
    pub(crate) big_endian: bool,
    entries: Vec<Entry>,
    /// Where the next directory starts; 0 for none.
    pub(crate) next: u64,
}

/// The head of a TIFF: byte order, whether it is a BigTIFF, and where the first directory starts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Head {
    pub(crate) big_endian: bool,
    pub(crate) eight_byte: bool,
    pub(crate) first: u64,
}

impl Head {
    /// Reads the head; `None` where the bytes do not start a TIFF.
    pub(crate) fn read(source: &dyn ByteSource) -> Option<Self> {
        let bytes = source.part(0, source.length().min(16) as usize)?;
        let big_endian = match bytes.get(..2)? {
            b"II" => false,
            b"MM" => true,
            _ => return None,
        };
        let eight_byte = match number(bytes.get(2..4)?, big_endian) {
            42 => false,
            43 if number(bytes.get(4..6)?, big_endian) == 8 => true,
            _ => return None,
        };
        let at = if eight_byte { 8..16 } else { 4..8 };
        Some(Self { big_endian, eight_byte, first: number(bytes.get(at)?, big_endian) })
    }
}

impl<'a> Directory<'a> {
    /// Reads the directory at `offset`; `None` where it does not lie within the bytes. Entries whose values do
    /// not are left out.
    pub(crate) fn read(source: &'a dyn ByteSource, head: Head, offset: u64) -> Option<Self> {
        let (count_size, entry_size, word) =
            if head.eight_byte { (8, 20usize, 8) } else { (2, 12, 4) };
        let start = offset.checked_add(count_size as u64)?;
        let count = number(&source.part(offset, count_size)?, head.big_endian);
        let length = usize::try_from(count).ok()?.checked_mul(entry_size)?;
        let table = source.part(start, length)?;
        let entries = (start..)
            .step_by(entry_size)
            .zip(table.chunks_exact(entry_size))
            .filter_map(|(at, raw)| Entry::read(source, (at, raw), head.big_endian, word))
            .collect();
        // Some writers leave the last link out at the end of the file.
        let next =
            source.part(start + length as u64, word).map_or(0, |raw| number(&raw, head.big_endian));
        Some(Self { source, big_endian: head.big_endian, entries, next })
    }

    /// True where the tag is there with values that lie within the file.
    pub(crate) fn contains(&self, tag: u16) -> bool {
        self.entries.iter().any(|entry| entry.tag == tag)
    }

    /// All values of a tag of whole numbers.
    pub(crate) fn numbers(&self, tag: u16) -> Option<Vec<u64>> {
        let entry = self.entry(tag)?;
        let size = match entry.kind {
            1 | 7 => 1,
            3 => 2,
            4 | 13 => 4,
            16 | 18 => 8,
            _ => return None,
        };
        let values = self.values(entry)?;
        Some(values.chunks_exact(size).map(|raw| number(raw, self.big_endian)).collect())
    }

    /// The first value of a tag of whole numbers.
    pub(crate) fn number(&self, tag: u16) -> Option<u64> {
        self.numbers(tag)?.first().copied()
    }

    /// The first value of a tag of fractions (or of whole numbers or floating-point numbers) as a number.
    pub(crate) fn fraction(&self, tag: u16) -> Option<f64> {
        let entry = self.entry(tag)?;
        let first = |size: usize| self.source.part(entry.place, size);
        match entry.kind {
            5 => {
                let raw = first(8)?;
                let (n, d) = raw.split_at(4);
                Some(number(n, self.big_endian) as f64 / number(d, self.big_endian) as f64)
            }
            11 => Some(f64::from(f32::from_bits(number(&first(4)?, self.big_endian) as u32))),
            12 => Some(f64::from_bits(number(&first(8)?, self.big_endian))),
            _ => self.number(tag).map(|value| value as f64),
        }
    }

    /// The raw bytes of a tag's values.
    pub(crate) fn raw(&self, tag: u16) -> Option<Cow<'a, [u8]>> {
        self.entry(tag).and_then(|entry| self.values(entry))
    }

    fn entry(&self, tag: u16) -> Option<&Entry> {
        self.entries.iter().find(|entry| entry.tag == tag && entry.count > 0)
    }

    fn values(&self, entry: &Entry) -> Option<Cow<'a, [u8]>> {
        self.source.part(entry.place, entry.length)
    }
}

impl Entry {
    /// An entry from its bytes `raw`, which begin at `at`.
    fn read(
        source: &dyn ByteSource,
        (at, raw): (u64, &[u8]),
        big_endian: bool,
        word: usize,
    ) -> Option<Self> {
        let tag = number(raw.get(..2)?, big_endian) as u16;
        let kind = number(raw.get(2..4)?, big_endian) as u16;
        let count = number(raw.get(4..4 + word)?, big_endian);
        let place = raw.get(4 + word..4 + 2 * word)?;
        let length = usize::try_from(count.checked_mul(size_of_kind(kind)?)?).ok()?;
        let place = if length <= word { at + 4 + word as u64 } else { number(place, big_endian) };
        place.checked_add(length as u64).filter(|end| *end <= source.length())?;
        Some(Self { tag, kind, count, place, length })
    }
}

fn size_of_kind(kind: u16) -> Option<u64> {
    match kind {
        1 | 2 | 6 | 7 => Some(1),
        3 | 8 => Some(2),
        4 | 9 | 11 | 13 => Some(4),
        5 | 10 | 12 | 16 | 17 | 18 => Some(8),
        _ => None,
    }
}

/// Up to eight bytes as a whole number.
pub(crate) fn number(raw: &[u8], big_endian: bool) -> u64 {
    let add = |sum: u64, byte: &u8| (sum << 8) | u64::from(*byte);
    if big_endian { raw.iter().fold(0, add) } else { raw.iter().rev().fold(0, add) }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn small() -> Vec<u8> {
        let mut bytes = b"II\x2a\x00\x08\x00\x00\x00".to_vec();
        bytes.extend([2, 0]);
        bytes.extend([0x00, 0x01, 3, 0, 1, 0, 0, 0, 7, 0, 0, 0]);
        bytes.extend([0x1a, 0x01, 5, 0, 1, 0, 0, 0, 38, 0, 0, 0]);
        bytes.extend([0, 0, 0, 0]);
        bytes.extend([0x60, 0x09, 0, 0, 2, 0, 0, 0]);
        bytes
    }

    #[test]
    fn numbers_and_fractions_are_read() {
        let bytes = small();
        let bytes = &bytes.as_slice();
        let head = Head::read(bytes).unwrap();
        let directory = Directory::read(bytes, head, head.first).unwrap();
        assert_eq!(directory.number(256), Some(7));
        assert_eq!(directory.fraction(282), Some(1200.0));
        assert_eq!(directory.number(999), None);
        assert_eq!(directory.next, 0);
    }

    #[test]
    fn every_truncation_is_survived() {
        let bytes = small();
        for length in 0..bytes.len() {
            let cut = &&bytes[..length];
            if let Some(head) = Head::read(cut)
                && let Some(directory) = Directory::read(cut, head, head.first)
            {
                assert!(directory.fraction(282).is_none() || length == bytes.len());
            }
        }
        let whole = &bytes.as_slice();
        assert!(Directory::read(whole, Head::read(whole).unwrap(), u64::MAX).is_none());
    }
}
