//! Damage to bytes, whatever they mean: what a bad disk, a broken transfer or the wrong editor does to a file.

use crate::cases::{Op, pick, place};

/// Texts that upset programs: numbers that are none or too large, quotes, breaks, marks, names that lead elsewhere.
pub const NASTY: [&str; 44] = [
    "",
    " ",
    "0",
    "-1",
    "-0",
    "NaN",
    "inf",
    "-Infinity",
    "1e308",
    "1e309",
    "-1e-320",
    "1e-400",
    "4294967296",
    "18446744073709551616",
    "99999999999999999999999999999999999999",
    "0x10",
    "1,5",
    "1.000,5",
    "12 inch",
    "\"",
    "\"\"",
    "a\"b",
    "'",
    ";",
    "|",
    "\t",
    "\n",
    "\r\n",
    "line one\nline two",
    "\u{feff}",
    "\u{202e}gnp.x",
    "\u{2028}",
    "\u{1F41F}",
    "e\u{301}",
    "\u{0}",
    "\u{1b}[2J",
    "../../etc/passwd",
    "C:\\CON",
    "CON.tif",
    "=1+1",
    "2025-02-30",
    "0000-00-00",
    "-9999-12-31",
    "3-Apr",
];

/// Does one step of damage to `bytes`.
pub fn damage_bytes(bytes: &mut Vec<u8>, (what, at, with): Op) {
    let Some(place) = place(bytes.len(), at) else {
        bytes.extend(with.to_le_bytes());
        return;
    };
    let end = (place + 1 + with as usize % 40).min(bytes.len());
    match what % 14 {
        0 | 1 => bytes[place] ^= 1 << (with % 8),
        2 => {
            bytes[place] =
                *pick(&[0, b'"', b'\n', b'\r', b',', b'{', b'\\', 0xFF, 0xC3], with).unwrap()
        }
        3 => bytes.truncate(place),
        4 => drop(bytes.drain(place..end)),
        5 => {
            let piece = bytes[place..end].to_vec();
            bytes.splice(place..place, piece);
        }
        6 => drop(bytes.splice(place..place, pick(&NASTY, with).unwrap().bytes())),
        7 => drop(bytes.splice(0..0, [0xEF, 0xBB, 0xBF])),
        8 => *bytes = utf_16(bytes, with % 2 == 0),
        9 => {
            let ends: &[u8] = if with % 2 == 0 { b"\r\n" } else { b"\r" };
            *bytes = bytes
                .iter()
                .flat_map(|b| if *b == b'\n' { ends.to_vec() } else { vec![*b] })
                .collect();
        }
        10 => bytes.insert(place, 0xFC),
        11 => bytes.extend_from_within(..),
        12 => bytes[place..end].fill(0),
        _ => bytes.insert(place, (with % 256) as u8),
    }
}

fn utf_16(bytes: &[u8], is_little: bool) -> Vec<u8> {
    let text = format!("\u{feff}{}", String::from_utf8_lossy(bytes));
    let each = |unit: u16| if is_little { unit.to_le_bytes() } else { unit.to_be_bytes() };
    text.encode_utf16().flat_map(each).collect()
}
