//! A blind re-read list: which fish are read again, in what order, under what tags, and what a reader may see.
//!
//! The draw, all from one seed: fish are put in order of their keys; stream 1 shuffles them (Fisher & Yates 1938, in
//! Durstenfeld's form, CACM 7, 1964; from memory) and the rule takes from the front; stream 2 shuffles the chosen
//! ones into reading order; stream 3 makes the tags. Streams come from SplitMix64 (Steele, Lea & Flood 2014, OOPSLA;
//! constants from memory). Tags are letters only and depend on the seed and the place in the list, never on the fish.

use std::collections::{BTreeMap, BTreeSet};

use super::one_line::one_line;
use super::reading::is_device_name;
use super::units::Millimetres;

/// Name of a list, safe in file names: 1 to 40 ASCII letters, digits or hyphens, never a Windows device name.
///
/// Compared without regard to case, since file systems may fold it.
#[derive(Debug, Clone)]
pub struct ListName(String);

impl ListName {
    /// Checks and wraps a name.
    ///
    /// # Errors
    /// [`BlindListError::BadName`] when it breaks the rule above.
    pub fn new(text: &str) -> Result<Self, BlindListError> {
        let plain = (1..=40).contains(&text.len())
            && text.bytes().all(|byte| byte.is_ascii_alphanumeric() || byte == b'-');
        if plain && !is_device_name(text) {
            Ok(Self(text.to_owned()))
        } else {
            Err(BlindListError::BadName { found: text.to_owned() })
        }
    }

    /// The name as written.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl PartialEq for ListName {
    fn eq(&self, other: &Self) -> bool {
        self.0.eq_ignore_ascii_case(&other.0)
    }
}

impl Eq for ListName {}

impl std::fmt::Display for ListName {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.0)
    }
}

/// What a reader of the list is shown beside the picture. Everything else is withheld.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BlindPolicy {
    /// The species.
    pub species: bool,
    /// The structure, and how it was lit.
    pub structure: bool,
    /// The month of capture, without day and year.
    pub capture_month: bool,
    /// Proposed annuli.
    pub proposals: bool,
}

impl Default for BlindPolicy {
    /// Species, structure and month of capture; no proposals.
    fn default() -> Self {
        Self { species: true, structure: true, capture_month: true, proposals: false }
    }
}

/// Which fish go on a list.
#[derive(Debug, Clone, PartialEq)]
pub enum BlindRule {
    /// All.
    All,
    /// A random share, above 0 and up to 1; at least one fish.
    Share(f64),
    /// Up to this many of each age.
    PerAge(usize),
    /// Up to `n` of each length group `width` wide, groups closed below.
    PerLength {
        /// Fish from each group.
        n: usize,
        /// Width of a group.
        width: Millimetres,
    },
    /// Fish with faint or doubtful marks, poor confidence, or readers who differ.
    Doubtful,
    /// The fish with these keys.
    Fish(Vec<String>),
}

impl BlindRule {
    /// The word used in files: all, share, per-age, per-length, doubtful, fish.
    pub const fn word(&self) -> &'static str {
        match self {
            Self::All => "all",
            Self::Share(_) => "share",
            Self::PerAge(_) => "per-age",
            Self::PerLength { .. } => "per-length",
            Self::Doubtful => "doubtful",
            Self::Fish(_) => "fish",
        }
    }
}

/// A fish that may go on a list.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Candidate {
    /// Key of the fish.
    pub fish: String,
    /// Age by the reading so far.
    pub age: Option<u32>,
    /// Length at capture.
    pub length: Option<Millimetres>,
    /// Its readings so far are doubtful.
    pub is_doubtful: bool,
    /// Age known from a mark or from stocking, whole years.
    pub known_age: Option<u32>,
}

/// One place of a list, in reading order.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Drawn {
    /// Index of the fish among the candidates.
    pub candidate: usize,
    /// What the reader sees in place of its number.
    pub tag: String,
    /// Slipped in because its age is known.
    pub is_reference: bool,
}

/// Why a list cannot be made.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum BlindListError {
    /// A name that cannot name a file safely.
    #[error(
        "'{}' cannot be the name of a list: use 1 to 40 letters, digits or hyphens (not a device name such as CON)",
        one_line(found)
    )]
    BadName {
        /// The text as found.
        found: String,
    },
    /// A share that is none.
    #[error("a share of {found} cannot be drawn: give a number above 0 and up to 1, as 0.2")]
    BadShare {
        /// The number as given.
        found: f64,
    },
    /// A group size or width that is none.
    #[error("cannot draw {n} fish from length groups {width_mm} mm wide: give positive numbers")]
    BadGroups {
        /// Fish from each group.
        n: usize,
        /// Width as given.
        width_mm: f64,
    },
    /// A fish was named that cannot be re-read.
    #[error(
        "fish '{}' cannot be put on the list: it is not in the survey or has no scan to show; name another",
        one_line(fish)
    )]
    UnknownFish {
        /// Its key as given.
        fish: String,
    },
    /// The rule finds no fish.
    #[error("no fish fits the rule '{rule}', so there is no list to draw: use another rule")]
    Empty {
        /// The rule's word.
        rule: &'static str,
    },
    /// Fewer fish of known age than were asked for.
    #[error(
        "{wanted} fish of known age were asked for beside the others, and there are {found}: ask for fewer"
    )]
    TooFewReferences {
        /// As asked.
        wanted: usize,
        /// As found.
        found: usize,
    },
}

/// Draws a list: the same candidates, rule and seed give the same list, whatever order the candidates are in.
///
/// `n_references` fish of known age are slipped in beside those the rule takes.
///
/// # Errors
/// [`BlindListError`] when the rule cannot be followed or finds nothing.
pub fn draw(
    candidates: &[Candidate],
    rule: &BlindRule,
    n_references: usize,
    seed: u64,
) -> Result<Vec<Drawn>, BlindListError> {
    let mut order: Vec<usize> = (0..candidates.len()).collect();
    order.sort_by(|a, b| key_of(candidates, *a).cmp(key_of(candidates, *b)));
    Generator::stream(seed, 1).shuffle(&mut order);
    let chosen = choose(candidates, &order, rule)?;
    if chosen.is_empty() {
        return Err(BlindListError::Empty { rule: rule.word() });
    }
    let is_known =
        |index: &usize| candidates.get(*index).is_some_and(|fish| fish.known_age.is_some());
    let taken: BTreeSet<usize> = chosen.iter().copied().collect();
    let others: Vec<usize> =
        order.iter().copied().filter(|index| !taken.contains(index) && is_known(index)).collect();
    if others.len() < n_references {
        return Err(BlindListError::TooFewReferences { wanted: n_references, found: others.len() });
    }
    let mut list: Vec<(usize, bool)> = chosen.into_iter().map(|index| (index, false)).collect();
    list.extend(others.into_iter().take(n_references).map(|index| (index, true)));
    Generator::stream(seed, 2).shuffle(&mut list);
    let tags = tags(list.len(), seed);
    let place = |((candidate, is_reference), tag)| Drawn { candidate, tag, is_reference };
    Ok(list.into_iter().zip(tags).map(place).collect())
}

/// A number from 0 to 1 that belongs to place `place` of the list drawn with `seed`, for hiding where a box came from.
pub fn jitter(seed: u64, place: usize) -> [f64; 3] {
    let mut generator = Generator::stream(seed, 1000 + place as u64);
    [generator.next_unit(), generator.next_unit(), generator.next_unit()]
}

fn key_of(candidates: &[Candidate], index: usize) -> &str {
    candidates.get(index).map_or("", |fish| fish.fish.as_str())
}

fn choose(
    candidates: &[Candidate],
    order: &[usize],
    rule: &BlindRule,
) -> Result<Vec<usize>, BlindListError> {
    let all = order.iter().filter_map(|index| candidates.get(*index).map(|fish| (*index, fish)));
    Ok(match rule {
        BlindRule::All => order.to_vec(),
        BlindRule::Share(share) => {
            if !(*share > 0.0 && *share <= 1.0) {
                return Err(BlindListError::BadShare { found: *share });
            }
            let n = (share * order.len() as f64).round().max(1.0) as usize;
            order.iter().copied().take(n).collect()
        }
        BlindRule::PerAge(n) => {
            by_group(all.map(|(index, fish)| (index, fish.age.map(u64::from))), *n)
        }
        BlindRule::PerLength { n, width } => {
            if *n == 0 || !(width.0.is_finite() && width.0 > 0.0) {
                return Err(BlindListError::BadGroups { n: *n, width_mm: width.0 });
            }
            // A length on a group's lower limit stays in it, whatever rounding its unit brought.
            let group = |length: Millimetres| (length / *width + 1e-9).floor() as u64;
            by_group(all.map(|(index, fish)| (index, fish.length.map(group))), *n)
        }
        BlindRule::Doubtful => {
            all.filter(|(_, fish)| fish.is_doubtful).map(|(index, _)| index).collect()
        }
        BlindRule::Fish(keys) => {
            let wanted: BTreeSet<&str> = keys.iter().map(String::as_str).collect();
            let known: BTreeSet<&str> = candidates.iter().map(|fish| fish.fish.as_str()).collect();
            if let Some(fish) = wanted.difference(&known).next() {
                return Err(BlindListError::UnknownFish { fish: (*fish).to_owned() });
            }
            all.filter(|(_, fish)| wanted.contains(fish.fish.as_str()))
                .map(|(index, _)| index)
                .collect()
        }
    })
}

/// Up to `n` of each group, in the order given; those without a group are passed over.
fn by_group(fish: impl Iterator<Item = (usize, Option<u64>)>, n: usize) -> Vec<usize> {
    let mut taken: BTreeMap<u64, usize> = BTreeMap::new();
    let mut chosen = Vec::new();
    for (index, group) in fish {
        let Some(group) = group else { continue };
        let count = taken.entry(group).or_default();
        if *count < n {
            *count += 1;
            chosen.push(index);
        }
    }
    chosen
}

/// Consonants only: no tag spells a word, and none can be taken for a number.
const LETTERS: &[u8; 20] = b"BCDFGHJKLMNPQRSTVWXZ";

fn tags(n: usize, seed: u64) -> Vec<String> {
    let mut generator = Generator::stream(seed, 3);
    let mut seen = BTreeSet::new();
    let mut tags = Vec::with_capacity(n);
    // Five letters name 3 200 000 places; longer lists get longer tags.
    let n_letters = if n < 300_000 { 5 } else { 9 };
    while tags.len() < n {
        let letter =
            |_| LETTERS.get(generator.next_below(LETTERS.len())).copied().map_or('X', char::from);
        let tag: String = (0..n_letters).map(letter).collect();
        if seen.insert(tag.clone()) {
            tags.push(tag);
        }
    }
    tags
}

/// SplitMix64; see the head of this file.
struct Generator(u64);

impl Generator {
    fn stream(seed: u64, number: u64) -> Self {
        let mut of_seed = Self(seed);
        let base = of_seed.next();
        Self(Self(base ^ number.wrapping_mul(0xD134_2543_DE82_EF95)).next())
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    fn next_unit(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn next_below(&mut self, n: usize) -> usize {
        ((u128::from(self.next()) * n as u128) >> 64) as usize
    }

    fn shuffle<T>(&mut self, items: &mut [T]) {
        for last in (1..items.len()).rev() {
            items.swap(last, self.next_below(last + 1));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fish(n: usize) -> Vec<Candidate> {
        let one = |i: usize| Candidate {
            fish: format!("MH-{i:04}"),
            age: (!i.is_multiple_of(7)).then_some(i as u32 % 4),
            length: Some(Millimetres(100.0 + i as f64 * 5.0)),
            is_doubtful: i.is_multiple_of(5),
            known_age: (i % 10 == 3).then_some(2),
        };
        (1..=n).map(one).collect()
    }

    fn keys(candidates: &[Candidate], drawn: &[Drawn]) -> Vec<String> {
        drawn.iter().map(|place| candidates[place.candidate].fish.clone()).collect()
    }

    /// First output of SplitMix64 for seed 0, as widely printed (from memory).
    #[test]
    fn the_generator_is_the_published_one() {
        assert_eq!(Generator(0).next(), 0xE220_A839_7B1D_CDAF);
    }

    #[test]
    fn a_seed_gives_one_list_whatever_the_order_of_the_sheet() {
        let all = fish(60);
        let mut reversed = all.clone();
        reversed.reverse();
        let rule = BlindRule::Share(0.2);
        let (a, b) = (draw(&all, &rule, 2, 9).unwrap(), draw(&reversed, &rule, 2, 9).unwrap());
        assert_eq!(a.len(), 14);
        assert_eq!(keys(&all, &a), keys(&reversed, &b));
        assert_eq!(a.iter().filter(|place| place.is_reference).count(), 2);
        let other = draw(&all, &rule, 2, 10).unwrap();
        assert_ne!(keys(&all, &a), keys(&all, &other));
        assert!(a.iter().zip(&other).all(|(a, b)| a.tag != b.tag));
    }

    #[test]
    fn tags_are_letters_once_each_and_do_not_follow_the_fish() {
        let all = fish(200);
        let drawn = draw(&all, &BlindRule::All, 0, 4).unwrap();
        let tags: BTreeSet<&str> = drawn.iter().map(|place| place.tag.as_str()).collect();
        assert_eq!(tags.len(), 200);
        assert!(tags.iter().all(|tag| tag.bytes().all(|b| LETTERS.contains(&b))));
        // The same places of another survey get the same tags: they know the place, not the fish.
        let mut renamed = all.clone();
        for fish in &mut renamed {
            fish.fish = format!("other {}", fish.fish);
        }
        let other = draw(&renamed, &BlindRule::All, 0, 4).unwrap();
        assert!(drawn.iter().zip(&other).all(|(a, b)| a.tag == b.tag));
        let in_order = keys(&all, &drawn).windows(2).filter(|pair| pair[0] < pair[1]).count();
        assert!((70..130).contains(&in_order), "{in_order} of 199 in order");
    }

    #[test]
    fn rules_take_what_they_say() {
        let all = fish(60);
        let ages = draw(&all, &BlindRule::PerAge(3), 0, 1).unwrap();
        for age in 0..4 {
            let n = ages.iter().filter(|place| all[place.candidate].age == Some(age)).count();
            assert_eq!(n, 3, "age {age}");
        }
        let width = Millimetres(50.0);
        let lengths = draw(&all, &BlindRule::PerLength { n: 2, width }, 0, 1).unwrap();
        // 105 to 400 mm: groups from 100, 150, ... 350, and 400 with one fish.
        assert_eq!(lengths.len(), 13);
        let doubtful = draw(&all, &BlindRule::Doubtful, 0, 1).unwrap();
        assert_eq!(doubtful.len(), 12);
        let named = BlindRule::Fish(vec!["MH-0003".into(), "MH-0001".into()]);
        assert_eq!(draw(&all, &named, 0, 1).unwrap().len(), 2);
    }

    #[test]
    fn what_cannot_be_drawn_is_refused() {
        let all = fish(20);
        for share in [0.0, -0.1, 1.1, f64::NAN] {
            assert!(matches!(
                draw(&all, &BlindRule::Share(share), 0, 1),
                Err(BlindListError::BadShare { .. })
            ));
        }
        let groups = BlindRule::PerLength { n: 1, width: Millimetres(0.0) };
        assert!(matches!(draw(&all, &groups, 0, 1), Err(BlindListError::BadGroups { .. })));
        let unknown = BlindRule::Fish(vec!["MH-9999".into()]);
        assert!(matches!(draw(&all, &unknown, 0, 1), Err(BlindListError::UnknownFish { .. })));
        assert!(matches!(draw(&[], &BlindRule::All, 0, 1), Err(BlindListError::Empty { .. })));
        assert!(matches!(
            draw(&all, &BlindRule::All, 1, 1),
            Err(BlindListError::TooFewReferences { found: 0, .. })
        ));
        for bad in ["", "a.b", "a b", "con", "é", "../x"] {
            assert!(ListName::new(bad).is_err(), "{bad}");
        }
        assert_eq!(ListName::new("June-1").unwrap(), ListName::new("june-1").unwrap());
    }
}
