//! Pictures and whole lakes with known truth, the same for the same seed on every machine.
