//! Pictures: from a file's bytes to grey values, and from grey values to profiles.

pub mod decode;
pub mod encode;
pub mod enhance;
pub mod overview;
pub mod peaks;
pub mod profile;
pub mod pyramid;
pub mod raster;
pub mod resolution;
pub mod smoothing;
pub mod strip;
