//! A lead's decision on a fish whose readers differ, and the ages that a rule of decision leaves.
//!
//! Readings are kept; the final age is a record of its own that names what it was decided upon (common practice, no
//! source). A decision is never changed: a later one names the one it takes the place of.

use std::collections::{BTreeMap, BTreeSet};

use jiff::Timestamp;

use super::reading::{Outcome, ReaderInitials};

/// A confirmed reading of a fish, as a decision sees it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FishReading {
    /// Key of the fish.
    pub fish: String,
    /// File name of the scan.
    pub scan: String,
    /// Number of the impression on it.
    pub impression: u32,
    /// Who read it.
    pub reader: ReaderInitials,
    /// What came of it.
    pub outcome: Option<Outcome>,
    /// The age given, whole years.
    pub age: Option<u32>,
    /// BLAKE3 hash of the reading, lower-case hexadecimal: tells this very reading from a later one.
    pub hash: String,
}

/// How a disagreement was settled.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Decision {
    /// The readers looked together and agreed on an age, whole years.
    Consensus(u32),
    /// A third reading decided, whole years.
    ThirdReading(u32),
    /// No age can be defended: the fish is left out.
    Discard,
}

impl Decision {
    /// The word used in files: consensus, third-reading, discard.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Consensus(_) => "consensus",
            Self::ThirdReading(_) => "third-reading",
            Self::Discard => "discard",
        }
    }

    /// The age decided on, whole years.
    pub const fn age(self) -> Option<u32> {
        match self {
            Self::Consensus(age) | Self::ThirdReading(age) => Some(age),
            Self::Discard => None,
        }
    }
}

/// One decision of a lead on one fish.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Resolution {
    /// Its name, which is that of its file.
    pub id: String,
    /// Key of the fish.
    pub fish: String,
    /// The readings decided upon.
    pub considered: Vec<FishReading>,
    /// The decision.
    pub decision: Decision,
    /// Who decided.
    pub by: ReaderInitials,
    /// When.
    pub when: Timestamp,
    /// Why, in words.
    pub why: String,
    /// The decision whose place it takes.
    pub supersedes: Option<String>,
}

/// The decisions on a fish that no other takes the place of: one as a rule, several where copies of a survey parted.
pub fn standing<'a>(resolutions: &'a [Resolution], fish: &str) -> Vec<&'a Resolution> {
    let replaced: BTreeSet<&str> =
        resolutions.iter().filter_map(|one| one.supersedes.as_deref()).collect();
    resolutions
        .iter()
        .filter(|one| one.fish == fish && !replaced.contains(one.id.as_str()))
        .collect()
}

/// Which ages count.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Rule {
    /// One reader's.
    OneReader(ReaderInitials),
    /// The decision where there is one, else the age all readers gave, else the only reading.
    Consensus,
    /// Only fish that two or more readers gave the same age.
    OnlyAgreed,
}

/// Where a final age came from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum AgeOrigin {
    /// The reader whose ages count.
    Reader,
    /// All of two or more readers gave it.
    Agreed {
        /// How many readers.
        n_readers: usize,
    },
    /// Only one reader read the fish.
    OnlyReading,
    /// A decision.
    Resolved {
        /// Its name.
        id: String,
        /// True where a reading has come or changed since: worth deciding again.
        is_outdated: bool,
    },
}

/// A fish's final age.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FinalAge {
    /// Key of the fish.
    pub fish: String,
    /// Whole years.
    pub age: u32,
    /// Where it came from.
    pub origin: AgeOrigin,
}

/// A fish without a final age, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WithoutAge {
    /// Key of the fish.
    pub fish: String,
    /// Why.
    pub reason: String,
}

/// What a rule leaves. Every fish with a reading is in one of the two lists, in order of key.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RuleAges {
    /// The rule.
    pub rule: Rule,
    /// Fish with an age.
    pub ages: Vec<FinalAge>,
    /// Fish without.
    pub left_out: Vec<WithoutAge>,
}

/// The ages that `rule` leaves.
pub fn ages_by_rule(readings: &[FishReading], resolutions: &[Resolution], rule: &Rule) -> RuleAges {
    let mut by_fish: BTreeMap<&str, Vec<&FishReading>> = BTreeMap::new();
    for reading in readings {
        by_fish.entry(reading.fish.as_str()).or_default().push(reading);
    }
    let mut result = RuleAges { rule: rule.clone(), ages: Vec::new(), left_out: Vec::new() };
    for (fish, readings) in by_fish {
        let found = match rule {
            Rule::OneReader(reader) => of_reader(&readings, reader),
            Rule::Consensus => by_consensus(fish, &readings, resolutions),
            Rule::OnlyAgreed => agreed(&readings),
        };
        match found {
            Ok((age, origin)) => result.ages.push(FinalAge { fish: fish.to_owned(), age, origin }),
            Err(reason) => result.left_out.push(WithoutAge { fish: fish.to_owned(), reason }),
        }
    }
    result
}

/// How many fish each rule leaves: every reader's own first, in order of initials, then consensus and only agreed.
pub fn fish_left_by_each_rule(
    readings: &[FishReading],
    resolutions: &[Resolution],
) -> Vec<(Rule, usize)> {
    let readers: BTreeMap<String, &ReaderInitials> = readings
        .iter()
        .map(|reading| (reading.reader.as_str().to_ascii_lowercase(), &reading.reader))
        .collect();
    let rules = readers.into_values().cloned().map(Rule::OneReader);
    rules
        .chain([Rule::Consensus, Rule::OnlyAgreed])
        .map(|rule| {
            let n = ages_by_rule(readings, resolutions, &rule).ages.len();
            (rule, n)
        })
        .collect()
}

type Found = Result<(u32, AgeOrigin), String>;

fn of_reader(readings: &[&FishReading], reader: &ReaderInitials) -> Found {
    let theirs: Vec<&FishReading> =
        readings.iter().copied().filter(|reading| reading.reader == *reader).collect();
    let age = age_of_reader(&theirs).map_err(|why| match why {
        None => format!("not read by {reader}"),
        Some(why) => format!("{reader} {why}"),
    })?;
    Ok((age, AgeOrigin::Reader))
}

/// A reader's age of a fish from all of its impressions; `Err(None)` where there is none.
fn age_of_reader(readings: &[&FishReading]) -> Result<u32, Option<String>> {
    let mut ages: Vec<u32> = readings.iter().filter_map(|reading| reading.age).collect();
    ages.sort_unstable();
    ages.dedup();
    match (ages.as_slice(), readings.first()) {
        ([age], _) => Ok(*age),
        ([], None) => Err(None),
        ([], Some(first)) => Err(Some(match first.outcome {
            Some(Outcome::Aged) | None => "gave no age".to_owned(),
            Some(outcome) => format!("read it as {}", outcome.word()),
        })),
        (several, _) => {
            let several: Vec<String> = several.iter().map(ToString::to_string).collect();
            Err(Some(format!("gave its impressions different ages ({})", several.join(", "))))
        }
    }
}

/// What each reader says, in order of initials.
fn by_reader<'a>(
    readings: &[&'a FishReading],
) -> BTreeMap<String, (&'a ReaderInitials, Result<u32, Option<String>>)> {
    let mut groups: BTreeMap<String, Vec<&FishReading>> = BTreeMap::new();
    for reading in readings {
        groups.entry(reading.reader.as_str().to_ascii_lowercase()).or_default().push(reading);
    }
    groups
        .into_iter()
        .filter_map(|(key, group)| {
            let reader = &group.first()?.reader;
            Some((key, (reader, age_of_reader(&group))))
        })
        .collect()
}

fn agreed(readings: &[&FishReading]) -> Found {
    let said = by_reader(readings);
    if let [(reader, _)] = said.values().collect::<Vec<_>>().as_slice() {
        return Err(format!("read by {reader} only"));
    }
    same_age(&said).map(|age| (age, AgeOrigin::Agreed { n_readers: said.len() }))
}

fn same_age(
    said: &BTreeMap<String, (&ReaderInitials, Result<u32, Option<String>>)>,
) -> Result<u32, String> {
    let ages: Option<BTreeSet<u32>> =
        said.values().map(|(_, age)| age.as_ref().ok().copied()).collect();
    if let Some(ages) = ages
        && ages.len() == 1
        && let Some(age) = ages.first()
    {
        return Ok(*age);
    }
    let said: Vec<String> = said
        .values()
        .map(|(reader, age)| match age {
            Ok(age) => format!("{reader} {age}"),
            Err(why) => format!("{reader} {}", why.as_deref().unwrap_or("gave no age")),
        })
        .collect();
    Err(format!("readers differ: {}", said.join(", ")))
}

fn by_consensus(fish: &str, readings: &[&FishReading], resolutions: &[Resolution]) -> Found {
    match standing(resolutions, fish).as_slice() {
        [] => {
            let said = by_reader(readings);
            if let [(reader, age)] = said.values().collect::<Vec<_>>().as_slice() {
                return match age {
                    Ok(age) => Ok((*age, AgeOrigin::OnlyReading)),
                    Err(why) => {
                        Err(format!("{reader} {}", why.as_deref().unwrap_or("gave no age")))
                    }
                };
            }
            let n_readers = said.len();
            same_age(&said)
                .map(|age| (age, AgeOrigin::Agreed { n_readers }))
                .map_err(|reason| format!("{reason}; nothing is decided yet"))
        }
        [one] => match one.decision.age() {
            Some(age) => {
                let is_outdated = is_outdated(one, readings);
                Ok((age, AgeOrigin::Resolved { id: one.id.clone(), is_outdated }))
            }
            None => Err(format!("left out by decision of {}: {}", one.by, one.why)),
        },
        several => {
            let names: Vec<&str> = several.iter().map(|one| one.id.as_str()).collect();
            Err(format!("two decisions stand side by side ({}): decide again", names.join(", ")))
        }
    }
}

/// True where a reading that was not considered is there now.
fn is_outdated(resolution: &Resolution, readings: &[&FishReading]) -> bool {
    let seen: BTreeSet<&str> =
        resolution.considered.iter().map(|reading| reading.hash.as_str()).collect();
    readings.iter().any(|reading| !seen.contains(reading.hash.as_str()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn reading(fish: &str, reader: &str, age: Option<u32>) -> FishReading {
        FishReading {
            fish: fish.to_owned(),
            scan: format!("{fish}.tif"),
            impression: 1,
            reader: ReaderInitials::new(reader).unwrap(),
            outcome: Some(if age.is_some() { Outcome::Aged } else { Outcome::Unreadable }),
            age,
            hash: format!("{fish}{reader}{age:?}"),
        }
    }

    fn decided(
        id: &str,
        on: &[FishReading],
        decision: Decision,
        supersedes: Option<&str>,
    ) -> Resolution {
        Resolution {
            id: id.to_owned(),
            fish: on[0].fish.clone(),
            considered: on.to_vec(),
            decision,
            by: ReaderInitials::new("lead").unwrap(),
            when: "2025-07-01T08:00:00Z".parse().unwrap(),
            why: "crowded at the margin".to_owned(),
            supersedes: supersedes.map(str::to_owned),
        }
    }

    /// a agrees, b differs, c read once, d unreadable to one, e read once and unreadable.
    fn readings() -> Vec<FishReading> {
        vec![
            reading("a", "kb", Some(3)),
            reading("a", "tv", Some(3)),
            reading("b", "kb", Some(4)),
            reading("b", "tv", Some(5)),
            reading("c", "kb", Some(2)),
            reading("d", "kb", Some(6)),
            reading("d", "tv", None),
            reading("e", "tv", None),
        ]
    }

    fn ages(result: &RuleAges) -> Vec<(&str, u32)> {
        result.ages.iter().map(|one| (one.fish.as_str(), one.age)).collect()
    }

    fn reason<'a>(result: &'a RuleAges, fish: &str) -> &'a str {
        &result.left_out.iter().find(|one| one.fish == fish).unwrap().reason
    }

    #[test]
    fn each_rule_leaves_what_it_says_and_gives_reasons_for_the_rest() {
        let all = readings();
        let kb = ReaderInitials::new("KB").unwrap();
        let one = ages_by_rule(&all, &[], &Rule::OneReader(kb));
        assert_eq!(ages(&one), [("a", 3), ("b", 4), ("c", 2), ("d", 6)]);
        assert_eq!(reason(&one, "e"), "not read by KB");
        let agreed = ages_by_rule(&all, &[], &Rule::OnlyAgreed);
        assert_eq!(ages(&agreed), [("a", 3)]);
        assert_eq!(reason(&agreed, "b"), "readers differ: kb 4, tv 5");
        assert_eq!(reason(&agreed, "c"), "read by kb only");
        assert_eq!(reason(&agreed, "d"), "readers differ: kb 6, tv read it as unreadable");
        let open = ages_by_rule(&all, &[], &Rule::Consensus);
        assert_eq!(ages(&open), [("a", 3), ("c", 2)]);
        assert!(reason(&open, "b").ends_with("nothing is decided yet"));
        assert_eq!(reason(&open, "e"), "tv read it as unreadable");
        for result in [&one, &agreed, &open] {
            assert_eq!(result.ages.len() + result.left_out.len(), 5);
        }
        let left: Vec<usize> =
            fish_left_by_each_rule(&all, &[]).into_iter().map(|(_, n)| n).collect();
        assert_eq!(left, [4, 2, 2, 1]);
    }

    #[test]
    fn decisions_count_and_later_ones_take_their_place() {
        let mut all = readings();
        let first = decided("r1", &all[2..4], Decision::Consensus(4), None);
        let discard = decided("r2", &all[0..2], Decision::Discard, None);
        let decisions = vec![first, discard];
        let result = ages_by_rule(&all, &decisions, &Rule::Consensus);
        assert_eq!(ages(&result), [("b", 4), ("c", 2)]);
        assert_eq!(reason(&result, "a"), "left out by decision of lead: crowded at the margin");
        let origin = AgeOrigin::Resolved { id: "r1".into(), is_outdated: false };
        assert_eq!(result.ages[0].origin, origin);

        all.push(reading("b", "mo", Some(5)));
        let outdated = ages_by_rule(&all, &decisions, &Rule::Consensus);
        assert!(matches!(outdated.ages[0].origin, AgeOrigin::Resolved { is_outdated: true, .. }));
        let considered = [all[2].clone(), all[3].clone(), all[8].clone()];
        let mut later = decisions.clone();
        later.push(decided("r3", &considered, Decision::ThirdReading(5), Some("r1")));
        let result = ages_by_rule(&all, &later, &Rule::Consensus);
        let origin = AgeOrigin::Resolved { id: "r3".into(), is_outdated: false };
        assert_eq!((result.ages[0].age, &result.ages[0].origin), (5, &origin));

        later.push(decided("r4", &considered, Decision::ThirdReading(4), Some("r1")));
        let parted = ages_by_rule(&all, &later, &Rule::Consensus);
        assert!(reason(&parted, "b").starts_with("two decisions stand side by side (r3, r4)"));
    }

    #[test]
    fn different_ages_on_one_fishs_impressions_are_no_age() {
        let mut all = vec![reading("a", "kb", Some(3)), reading("a", "kb", Some(4))];
        all[1].impression = 2;
        let kb = ReaderInitials::new("kb").unwrap();
        let result = ages_by_rule(&all, &[], &Rule::OneReader(kb));
        assert_eq!(reason(&result, "a"), "kb gave its impressions different ages (3, 4)");
    }
}
