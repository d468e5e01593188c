//! Pictures and whole lakes with known truth, the same for the same seed on every machine.
//!
//! A [`spec::PictureSpec`] states growth, style, difficulty and seed; [`picture::draw`] makes the picture and its
//! [`truth::PictureTruth`]. Along the axis the rings are exact: every place takes its ring from a
//! [`ring_field::RingField`], which on the axis is the plain distance from the focus. Circuli, zones and light
//! follow what handbooks of the trade describe (Bagenal & Tesch 1978; Jearld 1983; DeVries & Frie 1996; Penttila
//! & Dery 1988; from memory); sizes and spacings are common practice, no source. Nothing here shows a real fish.

mod branching;
mod canvas;
pub mod chance;
mod circuli;
mod dirt;
pub mod growth;
pub mod lake;
mod nuisance;
mod otolith;
mod otolith_outline;
mod oval;
pub mod picture;
pub mod readers;
mod relief;
pub mod ring_field;
mod scale;
mod scale_outline;
mod scale_surface;
pub mod spec;
pub mod truth;
mod turn;
mod zones;
