//! The bytes of a picture file: in memory, or fetched from the file piece by piece, so that a large file never stands
//! in memory beside its picture.

use std::borrow::Cow;
use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom};
use std::path::Path;
use std::sync::Mutex;

use crate::imaging::decode::error::DecodeError;
use crate::imaging::decode::limits::Limits;

/// Bytes that can be asked for by their place.
pub(crate) trait ByteSource: Sync {
    /// How many there are.
    fn length(&self) -> u64;

    /// `count` bytes from `start` on; `None` where they do not all lie within, or cannot be read.
    fn part(&self, start: u64, count: usize) -> Option<Cow<'_, [u8]>>;
}

impl ByteSource for &[u8] {
    fn length(&self) -> u64 {
        self.len() as u64
    }

    fn part(&self, start: u64, count: usize) -> Option<Cow<'_, [u8]>> {
        let start = usize::try_from(start).ok()?;
        self.get(start..start.checked_add(count)?).map(Cow::Borrowed)
    }
}

/// A picture file, open for reading only.
#[derive(Debug)]
pub struct PictureFile {
    file: Mutex<File>,
    length: u64,
    /// Why a read failed, where one did: decoding then sees missing bytes and cannot tell.
    failure: Mutex<Option<io::Error>>,
}

impl PictureFile {
    /// Opens a file and checks that it is one, and not longer than allowed.
    ///
    /// # Errors
    /// [`DecodeError`], without the name of the file.
    pub fn open(path: &Path, limits: &Limits) -> Result<Self, DecodeError> {
        let about = std::fs::metadata(path).map_err(|error| unreadable(&error))?;
        if about.is_dir() {
            return Err(DecodeError::environment("this is a folder", "name a picture file in it"));
        }
        if !about.is_file() {
            return Err(DecodeError::environment(
                "this is not a plain file",
                "name a picture file",
            ));
        }
        if about.len() > limits.max_file_bytes {
            return Err(DecodeError::limit(format!(
                "the file has {} MB, and {} MB are allowed",
                about.len().div_ceil(1_000_000),
                limits.max_file_bytes / 1_000_000
            )));
        }
        let file = File::open(path).map_err(|error| unreadable(&error))?;
        Ok(Self { file: Mutex::new(file), length: about.len(), failure: Mutex::new(None) })
    }

    /// Length when it was opened, bytes. What is appended later is not read.
    pub fn length(&self) -> u64 {
        self.length
    }

    /// All bytes from the first on, read as they are asked for.
    pub fn reader(&self) -> impl Read + Seek + '_ {
        PictureReader { file: self, at: 0 }
    }

    /// The whole file in memory, for formats that are unpacked as a whole.
    pub(crate) fn whole(&self) -> Result<Vec<u8>, DecodeError> {
        let mut bytes = Vec::with_capacity(usize::try_from(self.length).unwrap_or(0));
        self.reader().read_to_end(&mut bytes).map_err(|error| unreadable(&error))?;
        Ok(bytes)
    }

    /// The error that kept bytes from being read, if there was one.
    pub(crate) fn failure(&self) -> Option<DecodeError> {
        let failure = self.failure.lock().ok()?;
        failure.as_ref().map(unreadable)
    }

    fn read_at(&self, at: u64, buffer: &mut [u8]) -> io::Result<usize> {
        let broken = |_| io::Error::other("reading broke off");
        let mut file = self.file.lock().map_err(broken)?;
        file.seek(SeekFrom::Start(at))?;
        loop {
            match file.read(buffer) {
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                other => return other,
            }
        }
    }

    fn fill(&self, start: u64, buffer: &mut [u8]) -> io::Result<()> {
        let mut filled = 0;
        while filled < buffer.len() {
            let rest = buffer.get_mut(filled..).unwrap_or_default();
            match self.read_at(start + filled as u64, rest)? {
                0 => return Err(io::ErrorKind::UnexpectedEof.into()),
                more => filled += more,
            }
        }
        Ok(())
    }
}

impl ByteSource for PictureFile {
    fn length(&self) -> u64 {
        self.length
    }

    fn part(&self, start: u64, count: usize) -> Option<Cow<'_, [u8]>> {
        start.checked_add(count as u64).filter(|end| *end <= self.length)?;
        let mut bytes = vec![0; count];
        match self.fill(start, &mut bytes) {
            Ok(()) => Some(Cow::Owned(bytes)),
            Err(error) => {
                if let Ok(mut failure) = self.failure.lock() {
                    failure.get_or_insert(error);
                }
                None
            }
        }
    }
}

/// Reads a picture file from a place of its own.
struct PictureReader<'a> {
    file: &'a PictureFile,
    at: u64,
}

impl Read for PictureReader<'_> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let left = usize::try_from(self.file.length.saturating_sub(self.at)).unwrap_or(usize::MAX);
        let most = buffer.len().min(left);
        let read = match buffer.get_mut(..most) {
            Some(part) if most > 0 => self.file.read_at(self.at, part)?,
            _ => 0,
        };
        self.at += read as u64;
        Ok(read)
    }
}

impl Seek for PictureReader<'_> {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        let place = match to {
            SeekFrom::Start(place) => Some(place),
            SeekFrom::End(by) => self.file.length.checked_add_signed(by),
            SeekFrom::Current(by) => self.at.checked_add_signed(by),
        };
        self.at = place.ok_or(io::ErrorKind::InvalidInput)?;
        Ok(self.at)
    }
}

fn unreadable(error: &io::Error) -> DecodeError {
    match error.kind() {
        io::ErrorKind::NotFound => {
            DecodeError::environment("there is no such file", "check the name and the folder")
        }
        io::ErrorKind::PermissionDenied => DecodeError::environment(
            "reading it is not permitted",
            "ask whoever looks after the folder for access",
        ),
        io::ErrorKind::UnexpectedEof => DecodeError::environment(
            "the file became shorter while it was read",
            "wait until it is written, then open it again",
        ),
        _ => DecodeError::environment(error.to_string(), "check the disk or the network share"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_gives_the_bytes_that_memory_gives() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.bin");
        let bytes: Vec<u8> = (0..5_000_u32).map(|i| (i * 7 % 251) as u8).collect();
        std::fs::write(&path, &bytes).unwrap();
        let file = PictureFile::open(&path, &Limits::default()).unwrap();
        let memory = &bytes.as_slice();
        for (start, count) in [(0, 0), (0, 5_000), (17, 300), (4_999, 1), (5_000, 0)] {
            assert_eq!(file.part(start, count), memory.part(start, count), "{start} {count}");
            assert!(file.part(start, count).is_some());
        }
        for (start, count) in [(0, 5_001), (4_999, 2), (u64::MAX, 1), (1, usize::MAX)] {
            assert_eq!(file.part(start, count), None);
            assert_eq!(memory.part(start, count), None);
        }
        assert_eq!(file.whole().unwrap(), bytes);
        assert_eq!(file.failure(), None);
    }

    #[test]
    fn a_file_cut_while_it_is_read_is_told_from_one_that_was_cut_before() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.bin");
        std::fs::write(&path, [1; 100]).unwrap();
        let file = PictureFile::open(&path, &Limits::default()).unwrap();
        File::options().write(true).open(&path).unwrap().set_len(10).unwrap();
        assert_eq!(file.part(0, 50), None);
        let failure = file.failure().unwrap();
        assert!(failure.to_string().contains("became shorter"), "{failure}");
    }
}
