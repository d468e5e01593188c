//! Published checks: results against values printed elsewhere. Each source stands in its file under
//! `fixtures/published/` and beside its test.

mod age;
mod agreement;
mod back_calculation;
mod back_calculation_edges;
mod kappa;
mod length_tables;
mod published;
mod quality;
mod reader_tables;
mod reef_fish;
mod regression;
mod symmetry;
