//! Bytes as text within a page.

/// Base 64 by RFC 4648, section 4.
pub fn base64(bytes: &[u8]) -> String {
    const SIGNS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut text = String::with_capacity(bytes.len().div_ceil(3) * 4);
    for chunk in bytes.chunks(3) {
        let part = |i: usize| u32::from(chunk.get(i).copied().unwrap_or(0));
        let bits = part(0) << 16 | part(1) << 8 | part(2);
        for i in 0..4 {
            let sign = SIGNS.get((bits >> (18 - 6 * i) & 63) as usize).copied().unwrap_or(b'=');
            text.push(if i <= chunk.len() { char::from(sign) } else { '=' });
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn base64_of_the_vectors_of_rfc_4648() {
        // RFC 4648, section 10.
        for (plain, coded) in [
            ("", ""),
            ("f", "Zg=="),
            ("fo", "Zm8="),
            ("foo", "Zm9v"),
            ("foob", "Zm9vYg=="),
            ("fooba", "Zm9vYmE="),
            ("foobar", "Zm9vYmFy"),
        ] {
            assert_eq!(base64(plain.as_bytes()), coded);
        }
    }
}
