//! Common ancestors: path counting (Wright 1922) against paths that are written out one by one.

use std::collections::BTreeMap;

use proptest::prelude::*;
use serde_json::{Value, json};
use silkward::reckoning::pedigree::{CommonAncestors, Individual, Pedigree, Tie};
use silkward::reckoning::reckon;

use super::pedigree::{animals, some_animals};

fn common(list: &[&str], dam: &str, sire: &str) -> CommonAncestors<String> {
    let pedigree = Pedigree::new(&animals(list)).unwrap();
    pedigree.inbreeding().unwrap().common_ancestors(&dam.to_owned(), &sire.to_owned(), 10).unwrap()
}

fn words(list: &[&str], dam: &str, sire: &str) -> String {
    common(list, dam, sire).relationship.sentence
}

#[test]
fn first_cousins_meet_in_two_grandparents() {
    // Wright 1922: each grandparent adds (1/2)^(2 + 2 + 1) = 1/32.
    let found = common(&["x m u", "y v n", "m g h", "n g h", "g", "h", "u", "v"], "x", "y");
    assert_eq!(found.kinship, 1.0 / 16.0);
    let told: Vec<(&str, f64, u64)> = found.ancestors.iter().map(|of| (of.id.as_str(), of.contribution, of.paths)).collect();
    assert_eq!(told, [("g", 1.0 / 32.0, 1), ("h", 1.0 / 32.0, 1)]);
    assert_eq!(found.ancestors[0].nearest_path_dam_side, ["x", "m", "g"]);
    assert_eq!(found.ancestors[0].nearest_path_sire_side, ["y", "n", "g"]);
    assert!(found.complete && found.more == 0 && found.and_more.is_empty());
}

#[test]
fn an_inbred_ancestor_adds_more_and_a_parent_is_its_own_ancestor() {
    // The dam a is inbred (F = 1/4), so that her own offspring x shares 1/4 (1 + 1/4) with her.
    let found = common(&["x a s", "a p q", "p g h", "q g h", "g", "h", "s"], "x", "a");
    let a = &found.ancestors[0];
    assert_eq!((a.id.as_str(), a.inbreeding, a.contribution, found.ancestors.len()), ("a", 0.25, 0.25 * 1.25, 1));
    assert_eq!(
        (&a.nearest_path_dam_side[..], &a.nearest_path_sire_side[..]),
        (&["x".to_owned(), "a".to_owned()][..], &["a".to_owned()][..])
    );
    assert_eq!(found.kinship, a.contribution);
}

#[test]
fn the_closest_tie_is_said_in_words() {
    let family = ["x d s", "y d s", "z d t", "w e s", "c x t", "k y r", "d o p", "o", "p", "e", "s", "t", "r", "u m n", "m", "n"];
    assert_eq!(words(&family, "x", "x"), "one animal, x");
    assert_eq!(words(&family, "x", "d"), "parent and offspring: d is the dam of x");
    assert_eq!(words(&family, "s", "x"), "parent and offspring: s is the sire of x");
    assert_eq!(words(&family, "x", "y"), "full sibs: both from dam d and sire s");
    assert_eq!(words(&family, "x", "z"), "half sibs: both from dam d");
    assert_eq!(words(&family, "w", "x"), "half sibs: both from sire s");
    assert_eq!(words(&family, "x", "o"), "grandparent and grandoffspring: o is a parent of d, a parent of x");
    assert_eq!(words(&family, "c", "y"), "aunt or uncle, and niece or nephew: y is a full sib of x, a parent of c");
    assert_eq!(words(&family, "c", "k"), "first cousins: their parents x and y are full sibs");
    assert_eq!(words(&family, "w", "c"), "related, most through s");
    assert_eq!(words(&family, "u", "x"), "no common ancestor on record");
    let double = ["x m u", "y n v", "m g h", "n g h", "u j k", "v j k", "g", "h", "j", "k"];
    assert_eq!(words(&double, "x", "y"), "double first cousins: their parents m and n are full sibs, and so are u and v");
    assert_eq!(common(&double, "x", "y").relationship.tie, Some(Tie::DoubleFirstCousins));
    // Two with both parents unknown are not full sibs for that.
    assert_eq!(common(&family, "o", "p").relationship.tie, None);
}

#[test]
fn what_is_not_listed_is_counted() {
    let mut line = vec!["f0".to_owned(), "m0".to_owned()];
    for to in 1..=4 {
        let from = to - 1;
        line.push(format!("f{to} f{from} m{from}"));
        line.push(format!("m{to} f{from} m{from}"));
    }
    let line: Vec<&str> = line.iter().map(String::as_str).collect();
    let pedigree = Pedigree::new(&animals(&line)).unwrap();
    let inbreeding = pedigree.inbreeding().unwrap();
    let few = inbreeding.common_ancestors(&"f4".to_owned(), &"m4".to_owned(), 2).unwrap();
    assert_eq!((few.ancestors.len(), few.more, few.complete), (2, 6, true));
    let listed: f64 = few.ancestors.iter().map(|of| of.contribution).sum();
    assert!((listed + few.more_contribution - few.kinship).abs() < 1e-15);
    assert!(few.and_more.starts_with("and 6 more ancestors, which add 0.2"), "{}", few.and_more);
}

#[test]
fn work_is_bounded_where_paths_are_without_number() {
    // 40 generations of 60 animals, each with parents on both sides of its place: pairs of ancestors without end.
    let id = |generation: u32, place: u32| generation * 60 + place % 60;
    let of = |generation: u32, place: u32| Individual {
        id: id(generation, place),
        dam: (generation > 0).then(|| id(generation - 1, place * 7 + 1)),
        sire: (generation > 0).then(|| id(generation - 1, place * 11 + 2)),
    };
    let all: Vec<Individual<u32>> = (0..400).flat_map(|generation| (0..60).map(move |place| of(generation, place))).collect();
    let pedigree = Pedigree::new(&all).unwrap();
    let inbreeding = pedigree.inbreeding().unwrap();
    let found = inbreeding.common_ancestors(&id(399, 0), &id(399, 1), 3).unwrap();
    assert!(!found.complete && found.ancestors.len() == 3);
    assert!(found.and_more.starts_with("and more ancestors further back"), "{}", found.and_more);
    let listed: f64 = found.ancestors.iter().map(|of| of.contribution).sum();
    assert!(listed <= found.kinship);
}

#[test]
fn the_outside_entry_tells_the_same() {
    let input = json!({"animals": [{"id": 1}, {"id": 2, "dam": 1}, {"id": 3, "dam": 1}], "dam": 2, "sire": 3});
    let got: Value = serde_json::from_str(&reckon("common_ancestors", &input.to_string()).unwrap()).unwrap();
    assert_eq!(got["kinship"], 0.125);
    assert_eq!(got["relationship"], "half sibs: both from dam 1");
    assert_eq!(got["ancestors"][0]["nearest_path_dam_side"], json!([2, 1]));
    assert_eq!(got["complete"], true);
    let mut unknown = input;
    unknown["sire"] = json!("9");
    assert_eq!(reckon("common_ancestors", &unknown.to_string()).unwrap_err().to_string(), "sire: is not among the animals");
}

/// Every path from an animal up, written out.
fn paths_up(animals: &[Individual<u32>], from: u32) -> Vec<Vec<u32>> {
    let mut paths = vec![vec![from]];
    let animal = &animals[from as usize];
    for parent in [animal.dam, animal.sire].into_iter().flatten() {
        paths.extend(paths_up(animals, parent).into_iter().map(|path| [vec![from], path].concat()));
    }
    paths
}

proptest! {
    #[test]
    fn contributions_are_those_of_the_paths_written_out(all in some_animals(), one: prop::sample::Index, other: prop::sample::Index) {
        let all = &all[..all.len().min(11)];
        let (dam, sire) = (one.index(all.len()) as u32, other.index(all.len()) as u32);
        let pedigree = Pedigree::new(all).unwrap();
        let inbreeding = pedigree.inbreeding().unwrap();
        let found = inbreeding.common_ancestors(&dam, &sire, 100).unwrap();
        let mut expected: BTreeMap<u32, (f64, u64, usize)> = BTreeMap::new();
        for up in paths_up(all, dam) {
            for other in paths_up(all, sire) {
                let end = *up.last().unwrap();
                let apart = up[..up.len() - 1].iter().all(|id| !other.contains(id)) && !up[..up.len() - 1].contains(&end);
                if other.last() == Some(&end) && apart && other[..other.len() - 1].iter().all(|id| !up.contains(id)) {
                    let steps = up.len() + other.len() - 2;
                    let entry = expected.entry(end).or_insert((0.0, 0, usize::MAX));
                    entry.0 += 0.5_f64.powi(steps as i32 + 1) * (1.0 + inbreeding.of(&end).unwrap());
                    entry.1 += 1;
                    entry.2 = entry.2.min(steps);
                }
            }
        }
        prop_assert_eq!(found.ancestors.len(), expected.len());
        for of in &found.ancestors {
            let (contribution, paths, steps) = expected[&of.id];
            prop_assert!((of.contribution - contribution).abs() < 1e-12, "{:?} {}", of, contribution);
            prop_assert_eq!(of.paths, paths);
            prop_assert_eq!(of.nearest_path_dam_side.len() + of.nearest_path_sire_side.len() - 2, steps);
            prop_assert_eq!((of.nearest_path_dam_side[0], of.nearest_path_sire_side[0]), (dam, sire));
            prop_assert_eq!((of.nearest_path_dam_side.last(), of.nearest_path_sire_side.last()), (Some(&of.id), Some(&of.id)));
        }
        let sum: f64 = found.ancestors.iter().map(|of| of.contribution).sum();
        prop_assert!((sum - found.kinship).abs() < 1e-12, "{} {}", sum, found.kinship);
        prop_assert!(found.ancestors.is_sorted_by(|one, other| one.contribution >= other.contribution));
    }
}
