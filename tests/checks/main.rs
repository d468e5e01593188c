//! Published checks: results against values printed elsewhere. Each source stands in its file under
//! `fixtures/published/` and beside its test.

mod age;
mod back_calculation;
mod back_calculation_edges;
mod length_tables;
mod published;
mod reef_fish;
mod regression;
