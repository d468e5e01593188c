//! From readings to numbers. Opens no file.

pub mod agreement;
pub mod back_calculation;
pub mod condition;
pub mod condition_summary;
pub mod growth;
pub mod growth_verdict;
pub mod index_interval;
pub mod numerics;
pub mod population;
pub mod quality;
pub mod reference;
pub mod uncertainty;
pub mod water_trend;
pub mod year_effects;
