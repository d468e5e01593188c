//! From readings to numbers. Opens no file.

pub mod agreement;
pub mod quality;
