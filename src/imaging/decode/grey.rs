//! From stored samples to grey: luminance of colours, and depths other than 8 and 16 bits.

/// Luminance of red, green and blue by ITU-R BT.601 (0.299, 0.587, 0.114): the Y of JPEG, so that colour and grey
/// files agree. Works on any common scale; rounded.
pub(crate) fn luminance(red: u32, green: u32, blue: u32) -> u32 {
    // Integers in thousandths: exact, and the same on every machine. 16-bit samples stay well below u32's end.
    (299 * red + 587 * green + 114 * blue + 500) / 1000
}

/// A sample of `bits` bits (1 to 32) stretched to 0..=255 for up to 8 bits, to 0..=65535 above. Exact at both ends.
pub(crate) fn stretched(value: u32, bits: u32) -> u32 {
    match bits {
        8 | 16 => value,
        0..8 => scaled(value, bits, 255),
        _ => scaled(value, bits, 65535),
    }
}

/// The largest value after [`stretched`].
pub(crate) fn white(bits: u32) -> u32 {
    if bits <= 8 { 255 } else { 65535 }
}

fn scaled(value: u32, bits: u32, white: u64) -> u32 {
    let most = (1u64 << bits.clamp(1, 32)) - 1;
    ((u64::from(value).min(most) * white + most / 2) / most) as u32
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn white_and_black_are_kept_at_every_depth() {
        for bits in 1..=32 {
            let most = ((1u64 << bits) - 1) as u32;
            assert_eq!(stretched(0, bits), 0);
            assert_eq!(stretched(most, bits), white(bits));
        }
        assert_eq!(stretched(1, 2), 85);
        assert_eq!(stretched(7, 4), 119);
        assert_eq!(stretched(200, 8), 200);
    }

    #[test]
    fn grey_colours_keep_their_value() {
        for value in [0, 1, 77, 255, 256, 40_000, 65_535] {
            assert_eq!(luminance(value, value, value), value);
        }
        // ITU-R BT.601-7, 2.5.1: pure red, green and blue of 255.
        assert_eq!(
            [luminance(255, 0, 0), luminance(0, 255, 0), luminance(0, 0, 255)],
            [76, 150, 29]
        );
    }
}
