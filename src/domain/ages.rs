//! Ages by several readers, as a table: what a spreadsheet of ages holds.

/// The oldest age taken as an age, years; anything above is a slip of the keyboard.
///
/// The longest-lived fish known are put at some four centuries (from memory, not verified).
pub const OLDEST_AGE: u32 = 500;

/// Whole ages of fish by two or more readers, missing ages left open.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct AgesTable {
    /// Names of the readers, one for each column, in the order of the columns.
    pub readers: Vec<String>,
    /// The fish, in the order of the rows.
    pub fish: Vec<FishAges>,
}

/// The ages one fish was given.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FishAges {
    /// Key of the fish, as text: leading zeros kept.
    pub fish: String,
    /// Row it came from as a spreadsheet counts it: the heading is row 1.
    pub row: usize,
    /// Age by each reader in whole years, in the order of the readers; `None` where the cell is empty.
    pub ages: Vec<Option<u32>>,
}
