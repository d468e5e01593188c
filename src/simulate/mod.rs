//! Pictures and whole lakes with known truth, the same for the same seed on every machine.

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
