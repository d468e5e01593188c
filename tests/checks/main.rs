//! Checks against the outside: published values, properties, damaged files, and the table of rooms.

mod rooms;
