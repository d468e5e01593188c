//! Which ages and years hang together: effects can be compared only within a piece.

use std::collections::BTreeMap;

use super::Increment;

/// Splits increments into pieces: ages and years are joined by each observed pair of them. Largest piece first.
pub fn connected_pieces(increments: &[Increment]) -> Vec<Vec<Increment>> {
    let mut nodes: BTreeMap<(bool, i64), usize> = BTreeMap::new();
    let mut parents: Vec<usize> = Vec::new();
    for increment in increments {
        let ends =
            [(false, i64::from(increment.age)), (true, i64::from(increment.year))].map(|key| {
                *nodes.entry(key).or_insert_with(|| {
                    parents.push(parents.len());
                    parents.len() - 1
                })
            });
        let (a, b) = (root(&mut parents, ends[0]), root(&mut parents, ends[1]));
        if let Some(parent) = parents.get_mut(a) {
            *parent = b;
        }
    }
    let mut pieces: BTreeMap<usize, Vec<Increment>> = BTreeMap::new();
    for increment in increments {
        let node = nodes.get(&(false, i64::from(increment.age))).copied().unwrap_or(0);
        pieces.entry(root(&mut parents, node)).or_default().push(*increment);
    }
    let mut pieces: Vec<Vec<Increment>> = pieces.into_values().collect();
    pieces.sort_by_key(|piece| std::cmp::Reverse(piece.len()));
    pieces
}

fn root(parents: &mut [usize], mut node: usize) -> usize {
    while let Some(&parent) = parents.get(node) {
        if parent == node {
            break;
        }
        // Halving the path keeps later walks short.
        let above = parents.get(parent).copied().unwrap_or(parent);
        if let Some(slot) = parents.get_mut(node) {
            *slot = above;
        }
        node = above;
    }
    node
}

#[cfg(test)]
mod tests {
    use super::*;

    fn increment(age: u32, year: i32) -> Increment {
        Increment { fish: 0, age, year, size: 10.0 }
    }

    #[test]
    fn two_islands_are_found() {
        let pieces = connected_pieces(&[
            increment(1, 2010),
            increment(2, 2011),
            increment(1, 2012),
            increment(2, 2010),
            increment(5, 2020),
            increment(6, 2021),
        ]);
        let sizes: Vec<usize> = pieces.iter().map(Vec::len).collect();
        assert_eq!(sizes, [4, 1, 1]);
    }
}
