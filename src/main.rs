//! Chooses between the window and the command line.

fn main() {}
