//! Length groups: equal widths, closed below, in the unit the fish were measured in.

use crate::domain::survey::LengthUnit;
use crate::domain::units::Millimetres;

use super::PopulationError;

/// Share of a group's width within which a length counts as lying on the bound.
///
/// A length of exactly 11.0 in is 279.4 mm, and 279.4 / 25.4 may come out just below 11. Nobody measures fish to a
/// millionth of a group.
const ON_THE_BOUND: f64 = 1e-6;

/// Narrowest group, in any unit; anything below is a slip of the keyboard.
const LEAST_WIDTH: f64 = 0.01;

/// Length groups from 0 up: group i holds lengths from i widths up to but not including i + 1 widths.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LengthGroups {
    unit: LengthUnit,
    width: f64,
}

impl LengthGroups {
    /// Groups of `width` in `unit`.
    ///
    /// # Errors
    /// [`PopulationError::BadWidth`] for a width that is not a number of at least 0.01.
    pub fn new(width: f64, unit: LengthUnit) -> Result<Self, PopulationError> {
        if width.is_finite() && width >= LEAST_WIDTH {
            Ok(Self { unit, width })
        } else {
            Err(PopulationError::BadWidth { found: width, least: LEAST_WIDTH })
        }
    }

    /// Number of the group a length falls in.
    pub fn index_of(&self, length: Millimetres) -> i64 {
        let widths = length.0 / self.width_mm();
        let nearest = widths.round();
        let is_on_the_bound = (widths - nearest).abs() < ON_THE_BOUND;
        // The cast saturates; lengths are checked long before they get that large.
        (if is_on_the_bound { nearest } else { widths.floor() }) as i64
    }

    /// Lower bound of a group, millimetres.
    pub fn lower_mm(&self, index: i64) -> f64 {
        self.unit.millimetres_from(index as f64 * self.width).0
    }

    /// Width, millimetres.
    pub fn width_mm(&self) -> f64 {
        self.unit.millimetres_from(self.width).0
    }

    /// Unit the groups are formed in.
    pub fn unit(&self) -> LengthUnit {
        self.unit
    }

    /// Width in that unit.
    pub fn width(&self) -> f64 {
        self.width
    }

    /// Groups `first` to `last` in words, as "200-225 mm": the upper bound belongs to the next group.
    pub fn name(&self, first: i64, last: i64) -> String {
        let bound = |index: i64| {
            let value = index as f64 * self.width;
            let rounded = (value * 1e4).round() / 1e4;
            rounded.to_string()
        };
        format!("{}-{} {}", bound(first), bound(last.saturating_add(1)), self.unit.word())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fish_on_the_bound_belongs_to_the_group_above() {
        let inches = LengthGroups::new(1.0, LengthUnit::Inch).unwrap();
        for tenths in 0..400_i32 {
            let value = f64::from(tenths) / 10.0;
            let length = LengthUnit::Inch.millimetres_from(value);
            assert_eq!(inches.index_of(length), i64::from(tenths / 10), "{value} in");
        }
        assert_eq!(inches.index_of(Millimetres(279.4)), 11);
        assert_eq!(inches.index_of(Millimetres(279.3)), 10);
        let tenths = LengthGroups::new(0.1, LengthUnit::Centimetre).unwrap();
        for mm in 1..2000 {
            assert_eq!(tenths.index_of(Millimetres(f64::from(mm))), i64::from(mm));
        }
        let mm = LengthGroups::new(25.0, LengthUnit::Millimetre).unwrap();
        assert_eq!((mm.index_of(Millimetres(224.9)), mm.index_of(Millimetres(225.0))), (8, 9));
    }

    #[test]
    fn bounds_are_given_in_both_units() {
        let halves = LengthGroups::new(0.5, LengthUnit::Inch).unwrap();
        assert!((halves.lower_mm(22) - 279.4).abs() < 1e-9);
        assert_eq!(halves.name(22, 23), "11-12 in");
    }

    #[test]
    fn a_width_that_is_none_is_refused() {
        for width in [0.0, -25.0, f64::NAN, f64::INFINITY, 1e-9] {
            assert!(LengthGroups::new(width, LengthUnit::Millimetre).is_err());
        }
    }
}
