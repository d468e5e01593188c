//! Results as tables, JSON and CSV. Returns text; writes nothing.
