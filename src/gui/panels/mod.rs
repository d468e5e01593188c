//! The panels of the window, one to a file. Each reads the workbench and pushes actions; none changes anything.

pub mod bar;
pub mod calibrate;
pub mod card;
pub mod commands;
pub mod curves;
pub mod empty;
pub mod fish_choice;
pub mod growth;
pub mod growth_plots;
pub mod growth_words;
pub mod keys_help;
pub mod lengths;
pub mod lengths_plot;
pub mod list;
pub mod list_filter;
pub mod marks;
pub mod plot_frame;
pub mod scan;
pub mod settings_window;
pub mod status;
pub mod tone;
