//! Files of a survey: what is read, what is written, and how nothing confirmed is lost.

pub mod radii_table;
