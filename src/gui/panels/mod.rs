//! The panels of the window, one to a file. Each reads the workbench and pushes actions; none changes anything.

pub mod agree;
pub mod agree_decide;
pub mod agree_fish;
pub mod agree_plots;
pub mod agree_table;
pub mod bar;
pub mod boxes;
pub mod calibrate;
pub mod card;
pub mod commands;
pub mod curves;
pub mod empty;
pub mod guide;
pub mod impressions;
pub mod keys_help;
pub mod lengths;
pub mod lengths_plot;
pub mod list;
pub mod list_filter;
pub mod lists;
pub mod marks;
pub mod practice;
pub mod scan;
pub mod settings_window;
pub mod status;
pub mod tone;
