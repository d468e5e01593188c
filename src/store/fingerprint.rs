//! What a file held when it was loaded, so that a change by someone else is noticed before writing.

use std::io::{ErrorKind, Read};
use std::path::Path;

use super::error::StoreError;

/// BLAKE3 hash and length of a file's bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Fingerprint {
    hash: blake3::Hash,
    length: u64,
}

impl Fingerprint {
    /// The fingerprint of `bytes`.
    pub fn of(bytes: &[u8]) -> Self {
        Self { hash: blake3::hash(bytes), length: bytes.len() as u64 }
    }

    /// The fingerprint of a file, read in pieces; `None` where there is no such file.
    ///
    /// # Errors
    /// [`StoreError::Io`] when the file is there and cannot be read.
    pub fn of_file(path: &Path) -> Result<Option<Self>, StoreError> {
        let failed = |error| StoreError::io("read the file", path)(error);
        let mut file = match std::fs::File::open(path) {
            Ok(file) => file,
            Err(error) if error.kind() == ErrorKind::NotFound => return Ok(None),
            Err(error) => return Err(failed(error)),
        };
        Self::of_reader(&mut file).map(Some).map_err(failed)
    }

    /// The fingerprint of all that `reader` gives, read in pieces.
    ///
    /// # Errors
    /// The reader's.
    pub fn of_reader(mut reader: impl Read) -> std::io::Result<Self> {
        let mut hasher = blake3::Hasher::new();
        let mut piece = vec![0; 1 << 16];
        let mut length = 0;
        loop {
            let n_read = match reader.read(&mut piece) {
                Ok(n_read) => n_read,
                Err(error) if error.kind() == ErrorKind::Interrupted => continue,
                Err(error) => return Err(error),
            };
            if n_read == 0 {
                return Ok(Self { hash: hasher.finalize(), length });
            }
            hasher.update(piece.get(..n_read).unwrap_or_default());
            length += n_read as u64;
        }
    }

    /// The hash as 64 lower-case hexadecimal digits, as a sidecar holds it for its scan.
    pub fn blake3_hex(&self) -> String {
        self.hash.to_hex().to_string()
    }

    /// Length in bytes.
    pub fn length(&self) -> u64 {
        self.length
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_and_its_bytes_agree() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.bin");
        assert_eq!(Fingerprint::of_file(&path).unwrap(), None);
        let bytes: Vec<u8> = (0..200_000_u32).map(|i| (i % 251) as u8).collect();
        std::fs::write(&path, &bytes).unwrap();
        assert_eq!(Fingerprint::of_file(&path).unwrap(), Some(Fingerprint::of(&bytes)));
    }

    /// The hash of no bytes, as the BLAKE3 specification's test vectors give it (O'Connor, Aumasson, Neves &
    /// Wilcox-O'Hearn 2020, test_vectors.json, input_len 0; from memory).
    #[test]
    fn the_empty_hash_is_the_published_one() {
        assert_eq!(
            Fingerprint::of(b"").blake3_hex(),
            "af1349b9f5f9a1a6a0404dea36dcc9499bcb25c9adc112b7cc9a93cae41f3262"
        );
    }
}
