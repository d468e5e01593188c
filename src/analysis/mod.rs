//! From readings to numbers. Opens no file.
