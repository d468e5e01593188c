//! Quality of ageing over time: is this batch like the ones before?

pub mod control_chart;
