//! Pictures: from a file's bytes to grey values, and from grey values to profiles.

pub mod raster;
