//! A survey summary as bytes and back: fixed order, little-endian, every length before its content. Only the index of an
//! archive holds such bytes, with a hash behind them; whatever does not fit is "no summary", never an error.

use crate::domain::fish::{LengthType, Sex};
use crate::domain::reading::Structure;
use crate::domain::reference::LengthBasis;
use crate::domain::survey_summary::{AgedLengths, ComparedFish, SurveySummary};

const LENGTH_TYPES: [LengthType; 3] = [LengthType::Total, LengthType::Fork, LengthType::Standard];
const SEXES: [Sex; 3] = [Sex::Female, Sex::Male, Sex::Unknown];
const BASES: [LengthBasis; 2] = [LengthBasis::Capture, LengthBasis::Annulus];

/// Bytes being written.
#[derive(Debug, Default)]
pub(super) struct Writer(pub(super) Vec<u8>);

impl Writer {
    pub(super) fn number(&mut self, value: usize) {
        self.0.extend_from_slice(&(value as u64).to_le_bytes());
    }

    pub(super) fn raw(&mut self, bytes: &[u8]) {
        self.number(bytes.len());
        self.0.extend_from_slice(bytes);
    }

    pub(super) fn text(&mut self, text: &str) {
        self.raw(text.as_bytes());
    }

    fn place<T: PartialEq>(&mut self, all: &[T], value: &T) {
        let place = all.iter().position(|one| one == value).unwrap_or(all.len());
        self.0.push(u8::try_from(place).unwrap_or(u8::MAX));
    }

    fn texts(&mut self, texts: &[String]) {
        self.number(texts.len());
        texts.iter().for_each(|text| self.text(text));
    }

    /// Names of fish are no part of a summary that is kept.
    pub(super) fn summary(&mut self, summary: &SurveySummary) {
        self.text(&summary.name);
        self.text(&summary.water);
        self.place(Structure::ALL, &summary.structure);
        self.text(&summary.ages_by);
        self.texts(&summary.faults);
        self.texts(&summary.notes);
        self.number(summary.species.len());
        for (species, lengths) in &summary.species {
            self.text(species);
            match lengths {
                Ok(lengths) => {
                    self.0.push(1);
                    self.lengths(lengths);
                }
                Err(reason) => {
                    self.0.push(0);
                    self.text(reason);
                }
            }
        }
    }

    fn lengths(&mut self, lengths: &AgedLengths) {
        self.place(&BASES, &lengths.basis);
        self.place(&LENGTH_TYPES, &lengths.length_type);
        self.number(lengths.left_out_by_reason.len());
        for (reason, n) in &lengths.left_out_by_reason {
            self.text(reason);
            self.number(*n);
        }
        self.number(lengths.fish.len());
        for fish in &lengths.fish {
            self.number(fish.row);
            self.place(&SEXES, &fish.sex);
            let (year, month) = fish.captured.unwrap_or((0, 0));
            self.0.extend_from_slice(&year.to_le_bytes());
            self.0.push(month);
            self.number(fish.lengths_mm.len());
            for (age, length_mm) in &fish.lengths_mm {
                self.0.extend_from_slice(&age.to_le_bytes());
                self.0.extend_from_slice(&length_mm.to_le_bytes());
            }
        }
    }
}

/// Bytes being read.
#[derive(Debug)]
pub(super) struct Reader<'a>(pub(super) &'a [u8]);

impl<'a> Reader<'a> {
    fn take(&mut self, n: usize) -> Option<&'a [u8]> {
        let (taken, rest) = self.0.split_at_checked(n)?;
        self.0 = rest;
        Some(taken)
    }

    fn array<const N: usize>(&mut self) -> Option<[u8; N]> {
        self.take(N)?.try_into().ok()
    }

    pub(super) fn number(&mut self) -> Option<usize> {
        usize::try_from(u64::from_le_bytes(self.array()?)).ok()
    }

    /// How many things follow; each takes a byte or more, so that no number can ask for more memory than the file has.
    fn count(&mut self) -> Option<usize> {
        self.number().filter(|n| *n <= self.0.len())
    }

    pub(super) fn raw(&mut self) -> Option<&'a [u8]> {
        let n = self.number()?;
        self.take(n)
    }

    pub(super) fn text(&mut self) -> Option<&'a str> {
        std::str::from_utf8(self.raw()?).ok()
    }

    fn place<T: Copy>(&mut self, all: &[T]) -> Option<T> {
        let [place] = self.array()?;
        all.get(usize::from(place)).copied()
    }

    fn texts(&mut self) -> Option<Vec<String>> {
        (0..self.count()?).map(|_| self.text().map(str::to_owned)).collect()
    }

    pub(super) fn summary(&mut self) -> Option<SurveySummary> {
        Some(SurveySummary {
            name: self.text()?.to_owned(),
            water: self.text()?.to_owned(),
            structure: self.place(Structure::ALL)?,
            ages_by: self.text()?.to_owned(),
            faults: self.texts()?,
            notes: self.texts()?,
            species: (0..self.count()?).map(|_| self.species()).collect::<Option<_>>()?,
        })
    }

    fn species(&mut self) -> Option<(String, Result<AgedLengths, String>)> {
        let name = self.text()?.to_owned();
        let lengths = match self.array()? {
            [1] => Ok(self.lengths()?),
            [0] => Err(self.text()?.to_owned()),
            _ => return None,
        };
        Some((name, lengths))
    }

    fn lengths(&mut self) -> Option<AgedLengths> {
        let (basis, length_type) = (self.place(&BASES)?, self.place(&LENGTH_TYPES)?);
        let reason = |bytes: &mut Self| Some((bytes.text()?.to_owned(), bytes.number()?));
        let left_out_by_reason =
            (0..self.count()?).map(|_| reason(self)).collect::<Option<Vec<_>>>()?;
        let n = self.count()?;
        let mut fish = Vec::with_capacity(n);
        for _ in 0..n {
            fish.push(self.fish()?);
        }
        Some(AgedLengths { basis, length_type, fish, left_out: Vec::new(), left_out_by_reason })
    }

    fn fish(&mut self) -> Option<ComparedFish> {
        let row = self.number()?;
        let sex = self.place(&SEXES)?;
        let year = i16::from_le_bytes(self.array()?);
        let [month] = self.array()?;
        let n = self.count()?;
        let mut lengths_mm = Vec::with_capacity(n);
        for _ in 0..n {
            let age = u32::from_le_bytes(self.array()?);
            lengths_mm.push((age, f64::from_le_bytes(self.array()?)));
        }
        let captured = (month > 0).then_some((year, month));
        Some(ComparedFish { key: String::new(), row, sex, captured, lengths_mm })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    pub(in super::super) fn summary() -> SurveySummary {
        let fish = |row: usize, sex, captured| ComparedFish {
            key: String::new(),
            row,
            sex,
            captured,
            lengths_mm: (1..=3).map(|age| (age, 101.25 * f64::from(age) + 1e-13)).collect(),
        };
        let lengths = AgedLengths {
            basis: LengthBasis::Annulus,
            length_type: LengthType::Fork,
            fish: vec![fish(2, Sex::Male, Some((2025, 10))), fish(7, Sex::Unknown, None)],
            left_out: Vec::new(),
            left_out_by_reason: vec![("no confirmed reading by kb".to_owned(), 5)],
        };
        SurveySummary {
            name: "Alder Run, autumn 2025".to_owned(),
            water: "Größe".to_owned(),
            structure: Structure::Otolith,
            ages_by: "kb".to_owned(),
            faults: vec!["error: fish.csv, row 3: a fault".to_owned()],
            notes: vec![],
            species: vec![
                ("walleye".to_owned(), Ok(lengths)),
                ("yellow perch".to_owned(), Err("too few fish".to_owned())),
            ],
        }
    }

    #[test]
    fn a_summary_goes_there_and_back_bit_for_bit() {
        let mut writer = Writer::default();
        writer.summary(&summary());
        let mut reader = Reader(&writer.0);
        assert_eq!(reader.summary(), Some(summary()));
        assert!(reader.0.is_empty());
    }

    #[test]
    fn no_bytes_make_it_panic_or_ask_for_much_memory() {
        let mut writer = Writer::default();
        writer.summary(&summary());
        let good = writer.0;
        for cut in 0..good.len() {
            assert_eq!(Reader(&good[..cut]).summary(), None, "cut at {cut}");
            for byte in [0, 1, 0x7f, 0xff] {
                let mut damaged = good.clone();
                damaged[cut] = byte;
                let _ = Reader(&damaged).summary();
            }
        }
    }
}
