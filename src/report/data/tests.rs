//! Tests of data out.
