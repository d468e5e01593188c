//! From readings to numbers. Opens no file.

pub mod agreement;
pub mod back_calculation;
pub mod numerics;
pub mod quality;
