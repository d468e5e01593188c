//! A reading under edit: commands on a plain document, and an undo history.
