//! The three units a length can be in, as types that do not mix.
//!
//! Pixels belong to a scan, micrometres to a structure, millimetres to a fish. Like may be added to and
//! subtracted from like; like divided by like is a plain ratio. Nothing else is offered, so that a pixel can
//! become a micrometre only through a [`Calibration`](super::calibration::Calibration).

use std::ops::{Add, Div, Sub};

macro_rules! unit {
    ($(#[$doc:meta])* $name:ident, $suffix:literal) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default)]
        pub struct $name(pub f64);

        impl $name {
            /// The bare number, in this unit.
            pub const fn value(self) -> f64 {
                self.0
            }
        }

        impl Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self(self.0 + other.0)
            }
        }

        impl Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self(self.0 - other.0)
            }
        }

        impl Div for $name {
            type Output = f64;
            fn div(self, other: Self) -> f64 {
                self.0 / other.0
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                if let Some(digits) = f.precision() {
                    write!(f, "{:.digits$} {}", self.0, $suffix)
                } else {
                    write!(f, "{} {}", self.0, $suffix)
                }
            }
        }
    };
}

unit!(
    /// A distance on a scan, in pixels of the stored picture.
    Pixels,
    "px"
);
unit!(
    /// A distance on a structure (scale, otolith), in micrometres.
    Micrometres,
    "µm"
);
unit!(
    /// A length of a fish, in millimetres.
    Millimetres,
    "mm"
);

/// Millimetres in an inch: exactly 25.4, by the international inch of 1959.
pub const MM_PER_INCH: f64 = 25.4;

/// Grams in a pound: exactly 453.59237, by the international pound of 1959.
pub const GRAMS_PER_POUND: f64 = 453.592_37;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn like_divided_by_like_is_a_ratio() {
        assert_eq!(Micrometres(300.0) / Micrometres(1200.0), 0.25);
        assert_eq!((Millimetres(10.0) - Millimetres(4.0)).value(), 6.0);
    }

    #[test]
    fn display_names_the_unit() {
        assert_eq!(format!("{:.1}", Micrometres(12.34)), "12.3 µm");
    }
}
