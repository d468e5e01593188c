//! Results as tables, JSON and CSV. Returns text; writes nothing.

pub mod ages_json;
pub mod ages_table;
#[cfg(test)]
mod ages_tests;
pub mod agree_accuracy;
pub mod agree_csv;
pub mod agree_json;
pub mod agree_radii;
pub mod agree_table;
pub mod compare_json;
pub mod compare_table;
pub mod conclusions;
pub mod data;
pub mod growth_csv;
pub mod growth_json;
pub mod growth_table;
#[cfg(test)]
mod growth_tests;
pub mod lengths_json;
pub mod lengths_table;
pub mod page;
pub mod paper;
pub mod plot;
pub mod report_units;
pub mod survey_report;
pub mod uncertainty_json;
pub mod uncertainty_table;
