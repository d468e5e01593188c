//! From readings to numbers. Opens no file.

pub mod back_calculation;
pub mod numerics;
