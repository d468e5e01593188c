//! Results as tables, JSON and CSV. Returns text; writes nothing.

pub mod lengths_json;
pub mod lengths_table;
