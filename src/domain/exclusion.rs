//! Fish that somebody leaves out of lengths and growth, with the reason. Nothing is deleted: each decision is a record of
//! its own, and a later one takes the place of an earlier one by naming it.

use std::collections::{BTreeMap, BTreeSet};

use jiff::Timestamp;

use super::reading::ReaderInitials;

/// One decision on one fish.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Exclusion {
    /// Its name, which is that of its file.
    pub id: String,
    /// Key of the fish.
    pub fish: String,
    /// True where the fish is left out, false where it is taken in again.
    pub is_left_out: bool,
    /// Who decided.
    pub by: ReaderInitials,
    /// When.
    pub when: Timestamp,
    /// Why, in words.
    pub why: String,
    /// The decision whose place it takes.
    pub supersedes: Option<String>,
}

impl Exclusion {
    /// The reason as the tables of fish left out show it.
    pub fn reason(&self) -> String {
        format!("left out by {}: {}", self.by, self.why)
    }
}

/// The decisions that stand, one for each fish. Where copies of a survey parted and two stand, the one that leaves the fish
/// out is taken, since that one is seen in every table.
pub fn standing_exclusions(all: &[Exclusion]) -> BTreeMap<&str, &Exclusion> {
    let replaced: BTreeSet<&str> = all.iter().filter_map(|one| one.supersedes.as_deref()).collect();
    let mut standing: BTreeMap<&str, &Exclusion> = BTreeMap::new();
    for one in all.iter().filter(|one| !replaced.contains(one.id.as_str())) {
        let place = standing.entry(one.fish.as_str()).or_insert(one);
        if one.is_left_out && !place.is_left_out {
            *place = one;
        }
    }
    standing
}

#[cfg(test)]
mod tests {
    use super::*;

    fn decision(id: &str, fish: &str, is_left_out: bool, supersedes: Option<&str>) -> Exclusion {
        Exclusion {
            id: id.to_owned(),
            fish: fish.to_owned(),
            is_left_out,
            by: ReaderInitials::new("kb").unwrap(),
            when: Timestamp::UNIX_EPOCH,
            why: "torn scale".to_owned(),
            supersedes: supersedes.map(str::to_owned),
        }
    }

    #[test]
    fn the_last_of_a_chain_stands_and_leaving_out_wins_where_two_stand() {
        let all = [
            decision("a", "1", true, None),
            decision("b", "1", false, Some("a")),
            decision("c", "2", false, None),
            decision("d", "2", true, None),
        ];
        let standing = standing_exclusions(&all);
        assert!(!standing["1"].is_left_out && standing["2"].is_left_out);
        assert_eq!(all[0].reason(), "left out by kb: torn scale");
    }
}
