//! How large a picture may be: checked before anything is allocated.

use crate::imaging::decode::error::DecodeError;

/// How large a picture may be. A value, so that a caller can raise it on purpose.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// The longest side, pixels.
    pub max_side_px: usize,
    /// The most bytes that decoding may allocate: the grey values and whatever is needed on the way to them.
    pub max_memory_bytes: u64,
    /// The largest file, bytes. Files are read as a whole.
    pub max_file_bytes: u64,
}

impl Default for Limits {
    /// 1 GiB each of memory and file and 100 000 pixels a side: enough for 100 megapixels of 16-bit RGB in any layout.
    fn default() -> Self {
        Self { max_side_px: 100_000, max_memory_bytes: 1 << 30, max_file_bytes: 1 << 30 }
    }
}

impl Limits {
    /// Accepts a picture that needs `bytes_per_pixel` while it is decoded and `extra_bytes` beside.
    ///
    /// # Errors
    /// [`DecodeError::Limit`] for a picture too large, [`DecodeError::Data`] for one without any pixel.
    pub(crate) fn check(
        &self,
        width: u64,
        height: u64,
        bytes_per_pixel: u64,
        extra_bytes: u64,
    ) -> Result<(), DecodeError> {
        if width == 0 || height == 0 {
            return Err(DecodeError::data(format!("it claims {width} x {height} pixels")));
        }
        let side = self.max_side_px as u64;
        if width > side || height > side {
            return Err(DecodeError::limit(format!(
                "it claims {width} x {height} pixels, and {side} a side are allowed"
            )));
        }
        let needed = width.saturating_mul(height).saturating_mul(bytes_per_pixel);
        let needed = needed.saturating_add(extra_bytes);
        if needed > self.max_memory_bytes {
            return Err(DecodeError::limit(format!(
                "it claims {width} x {height} pixels, which need {} MB of memory, and {} MB are allowed",
                needed.div_ceil(1_000_000),
                self.max_memory_bytes / 1_000_000
            )));
        }
        Ok(())
    }
}

/// Refuses a picture whose pixels cannot possibly come out of so few bytes, before memory is set aside for them.
///
/// # Errors
/// [`DecodeError::Data`].
pub(crate) fn check_plausible(
    needed: u64,
    found: u64,
    most_per_byte: u64,
) -> Result<(), DecodeError> {
    if needed > found.saturating_add(64).saturating_mul(most_per_byte) {
        return Err(DecodeError::data(format!(
            "its pixels need {needed} bytes, and the {found} bytes it holds cannot unpack to that: it is cut short or damaged"
        )));
    }
    Ok(())
}
