//! What a person should know about ages of a sample before using them.

/// Fish a catch curve needs before it is used without a remark (common practice, no source).
pub const FEWEST_FISH: f64 = 30.0;
/// Ages it needs (common practice, no source).
pub const FEWEST_AGES: usize = 3;

/// A remark on the result; each reads as one clear sentence.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Warning {
    /// Groups without aged fish were joined.
    #[error("length groups without aged fish were merged: {}", groups.join(", "))]
    Merged {
        /// The merged groups.
        groups: Vec<String>,
    },
    /// Groups without aged fish use others' fish.
    #[error("length groups without aged fish borrow the ages of their neighbours: {}; the formula errors do not know it, the bootstrap does", groups.join(", "))]
    Borrowed {
        /// The groups.
        groups: Vec<String>,
    },
    /// Groups with one aged fish.
    #[error(
        "{n} length groups have one aged fish: they add nothing to the error within groups, which is then too small"
    )]
    OneAged {
        /// Groups.
        n: usize,
    },
    /// Few fish behind mortality.
    #[error("only {n:.0} fish behind mortality: at least {FEWEST_FISH:.0} make a usable estimate")]
    FewFish {
        /// Fish used.
        n: f64,
    },
    /// Few ages behind mortality.
    #[error("only {n} ages behind mortality: at least {FEWEST_AGES} make a usable estimate")]
    FewAges {
        /// Ages used.
        n: usize,
    },
    /// A catch that does not fall with age.
    #[error("the catch does not fall with age: the line gives no mortality")]
    NotFalling,
    /// Samples drawn anew without a value.
    #[error(
        "{failed} of {replicates} samples drawn anew gave no mortality: its error is too small"
    )]
    FailedSamples {
        /// Samples without a value.
        failed: usize,
        /// Samples drawn.
        replicates: usize,
    },
    /// No fish names a run of the effort table.
    #[error(
        "no fish names a run that is in the effort table: catch per hour is over all hours, without error"
    )]
    RunsUnknown,
    /// Some fish name none.
    #[error(
        "{n} fish name no run that is in the effort table: catch per hour leaves them out and is too low"
    )]
    FishWithoutRun {
        /// Fish.
        n: u64,
    },
    /// Gears in one mean.
    #[error("catch per hour mixes gears ({}): compare rates of one gear only", gears.join(", "))]
    SeveralGears {
        /// Gears as written.
        gears: Vec<String>,
    },
    /// Runs that did not count.
    #[error("{n} runs are left out of catch per hour: this species was not picked up on them")]
    NotSought {
        /// Runs.
        n: usize,
    },
    /// Stockings of no known year class.
    #[error(
        "{n} stockings have a life stage that does not tell the year class: they stand beside none"
    )]
    StockingOfUnknownClass {
        /// Stockings.
        n: usize,
    },
    /// The user vouched for even recruitment.
    #[error(
        "stocking was uneven over the year classes used; mortality is given because recruitment was stated to be even"
    )]
    EvennessStated,
    /// No year.
    #[error("the year of capture is not known: year classes have no year")]
    NoYear,
}
