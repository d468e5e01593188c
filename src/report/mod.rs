//! Results as tables, JSON and CSV. Returns text; writes nothing.

pub mod growth_json;
pub mod growth_table;
#[cfg(test)]
mod growth_tests;
pub mod lengths_json;
pub mod lengths_table;
