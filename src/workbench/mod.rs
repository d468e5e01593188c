//! Everything the program can do, short of showing it. Knows no window toolkit.
