//! A reading under edit: commands on a plain document, and an undo history of whole documents.

pub mod command;
pub mod document;
pub mod history;
pub mod several;
