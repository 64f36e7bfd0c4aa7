//! Inbreeding and kinship against published values (Falconer & Mackay 1996, chapter 5; Mrode 2014, Table 2.1), the
//! reference file, and Henderson's tabular method written out plainly.

use std::collections::BTreeMap;

use proptest::prelude::*;
use serde_json::{Value, json};
use silkward::reckoning::pedigree::{Individual, Mismatch, Pedigree, PedigreeError, Side, is_close, mismatches};
use silkward::reckoning::reckon;

use super::oracles::{cases, expects_error, near};

/// An animal, as "animal", "animal dam sire"; "-" for a parent that is not known.
pub fn animal(words: &str) -> Individual<String> {
    let words: Vec<&str> = words.split_whitespace().collect();
    let parent = |at: usize| words.get(at).filter(|word| **word != "-").map(|word| (*word).to_owned());
    Individual { id: words[0].to_owned(), dam: parent(1), sire: parent(2) }
}

pub fn animals(list: &[&str]) -> Vec<Individual<String>> {
    list.iter().map(|words| animal(words)).collect()
}

fn kinship(list: &[&str], one: &str, other: &str) -> f64 {
    let pedigree = Pedigree::new(&animals(list)).unwrap();
    pedigree.inbreeding().unwrap().kinship(&one.to_owned(), &other.to_owned()).unwrap()
}

fn refusal(list: &[&str]) -> String {
    Pedigree::new(&animals(list)).unwrap_err().to_string()
}

#[test]
fn close_relatives_have_the_published_kinship() {
    // Falconer & Mackay 1996, chapter 5: coancestry of relatives.
    assert_eq!(kinship(&["x p q", "y p q", "p", "q"], "x", "y"), 0.25, "full sibs");
    assert_eq!(kinship(&["x p q", "y p r", "p", "q", "r"], "x", "y"), 0.125, "half sibs");
    assert_eq!(kinship(&["x p q", "p", "q"], "x", "p"), 0.25, "parent and offspring");
    assert_eq!(kinship(&["x m u", "y n v", "m g h", "n g h", "g", "h", "u", "v"], "x", "y"), 0.0625, "first cousins");
    assert_eq!(
        kinship(&["x m u", "y n v", "m g h", "n g h", "u j k", "v j k", "g", "h", "j", "k"], "x", "y"),
        0.125,
        "double first cousins"
    );
    assert_eq!(kinship(&["x m u", "m g h", "n g h", "g", "h", "u"], "n", "x"), 0.125, "aunt or uncle");
    assert_eq!(kinship(&["x p q", "p", "q"], "x", "x"), 0.5, "an animal with itself");
    assert_eq!(kinship(&["x p q", "p", "q"], "p", "q"), 0.0, "founders");
}

/// A line of brothers and sisters mated together; f0 and m0 are founders.
fn full_sib_line(generations: usize) -> Vec<Individual<String>> {
    let mut line = animals(&["f0", "m0"]);
    for generation in 1..=generations {
        let before = generation - 1;
        line.push(animal(&format!("f{generation} f{before} m{before}")));
        line.push(animal(&format!("m{generation} f{before} m{before}")));
    }
    line
}

#[test]
fn full_sib_mating_follows_the_published_series() {
    // Falconer & Mackay 1996, Table 5.1: generations 1 to 10.
    let published = [0.250, 0.375, 0.500, 0.594, 0.672, 0.734, 0.785, 0.826, 0.859, 0.886];
    let pedigree = Pedigree::new(&full_sib_line(11)).unwrap();
    let inbreeding = pedigree.inbreeding().unwrap();
    for (generation, published) in published.into_iter().enumerate() {
        let got = inbreeding.of(&format!("f{}", generation + 2)).unwrap();
        assert!((got - published).abs() < 0.0006, "generation {}: {got}", generation + 1);
    }
}

#[test]
fn the_six_calves_have_their_published_relationships() {
    // Mrode 2014, Table 2.1: the whole of A; F of 5 and 6 is 0.125.
    let calves = animals(&["5 3 4", "1", "4 - 1", "2", "6 2 5", "3 2 1"]);
    let published = [
        [1.0, 0.0, 0.5, 0.5, 0.5, 0.25],
        [0.0, 1.0, 0.5, 0.0, 0.25, 0.625],
        [0.5, 0.5, 1.0, 0.25, 0.625, 0.5625],
        [0.5, 0.0, 0.25, 1.0, 0.625, 0.3125],
        [0.5, 0.25, 0.625, 0.625, 1.125, 0.6875],
        [0.25, 0.625, 0.5625, 0.3125, 0.6875, 1.125],
    ];
    let pedigree = Pedigree::new(&calves).unwrap();
    let inbreeding = pedigree.inbreeding().unwrap();
    assert_eq!(inbreeding.of(&"6".to_owned()), Some(0.125));
    let pairs: Vec<(String, String)> = (1..=6).flat_map(|one| (1..=6).map(move |other| (one.to_string(), other.to_string()))).collect();
    for (kinship, published) in inbreeding.kinships(&pairs).unwrap().iter().zip(published.as_flattened()) {
        assert!((kinship.kinship - published / 2.0).abs() < 1e-12, "{kinship:?}");
        assert_eq!(kinship.offspring_inbreeding, kinship.kinship);
    }
}

#[test]
fn the_reference_file_is_met_from_outside() {
    for case in cases("pedigree") {
        let got = reckon("pedigree", &case["input"].to_string());
        assert_eq!(got.is_err(), expects_error(&case), "{} {got:?}", case["id"]);
        let Ok(got) = got else { continue };
        let got: Value = serde_json::from_str(&got).unwrap();
        let expected = &case["expected"];
        assert_eq!(got["inbreeding"].as_object().unwrap().len(), expected["inbreeding"].as_object().unwrap().len());
        for (id, of) in expected["inbreeding"].as_object().unwrap() {
            assert!(near(&case, got["inbreeding"][id].as_f64().unwrap(), of.as_f64().unwrap()), "{} {id}", case["id"]);
        }
        for (got, expected) in got["kinship"].as_array().unwrap().iter().zip(expected["kinship"].as_array().unwrap()) {
            assert_eq!(got["pair"], expected["pair"]);
            for field in ["kinship", "offspring_inbreeding"] {
                assert!(near(&case, got[field].as_f64().unwrap(), expected[field].as_f64().unwrap()), "{} {got}", case["id"]);
            }
        }
    }
}

#[test]
fn ids_are_text_or_whole_numbers() {
    let input = json!({"animals": [{"id": 3, "dam": 1, "sire": "2"}, {"id": 1}, {"id": "2"}, {"id": "04"}], "pairs": [[3, "1"]]});
    let got: Value = serde_json::from_str(&reckon("pedigree", &input.to_string()).unwrap()).unwrap();
    assert_eq!(got["kinship"], json!([{"pair": [3, "1"], "kinship": 0.25, "offspring_inbreeding": 0.25}]));
    assert_eq!(got["inbreeding"], json!({"1": 0.0, "2": 0.0, "3": 0.0, "04": 0.0}));
    let by_number = [Individual { id: 7, dam: None, sire: None }, Individual { id: 9, dam: Some(7), sire: Some(7) }];
    assert_eq!(Pedigree::new(&by_number).unwrap().inbreeding().unwrap().of(&9), Some(0.5), "self-fertilised");
}

#[test]
fn faults_name_the_animals() {
    assert_eq!(refusal(&["a", "b", "a b -"]), "a is listed twice; list each animal once");
    assert_eq!(refusal(&["a - a"]), "a is given as its own sire; correct its sire");
    assert_eq!(refusal(&["a b -"]), "b, the dam of a, is not listed; list it without parents, or leave the dam out");
    assert!(refusal(&["d c -", "a b -", "b c -", "c a -"]).starts_with("a circle of parents, each the offspring of the next: c, a, b;"));
    let long: Vec<String> = (0..40).map(|at| format!("c{at} - c{}", (at + 1) % 40)).collect();
    let long: Vec<&str> = long.iter().map(String::as_str).collect();
    assert!(refusal(&long).contains("c0, c1, c2, c3, c4, c5, c6, c7 and 32 more"), "{}", refusal(&long));
    let pedigree = Pedigree::new(&animals(&["a"])).unwrap();
    let asked = pedigree.inbreeding().unwrap().kinship(&"a".to_owned(), &"z\n".to_owned());
    assert_eq!(asked, Err(PedigreeError::NotListed("z ".to_owned())));
}

#[test]
fn a_line_of_thirty_thousand_generations_is_reckoned() {
    let line: Vec<Individual<u32>> =
        (0..30_000_u32).rev().map(|id| Individual { id, dam: id.checked_sub(1), sire: id.checked_sub(1) }).collect();
    let pedigree = Pedigree::new(&line).unwrap();
    let inbreeding = pedigree.inbreeding().unwrap();
    assert_eq!(inbreeding.of(&10), Some(1.0 - 0.5_f64.powi(10)));
    assert_eq!(inbreeding.of(&29_999), Some(1.0));
    assert_eq!(inbreeding.kinship(&29_999, &0).unwrap(), 0.5);
    let pedigree = Pedigree::new(&full_sib_line(5_000)).unwrap();
    assert!(pedigree.inbreeding().unwrap().of(&"f5000".to_owned()).unwrap() > 0.999_999);
}

/// Animals whose parents are drawn from all animals before them: females have even ids.
fn scattered(count: u32, mut seed: u64) -> Vec<Individual<u32>> {
    let mut draw = |below: u32| {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (seed >> 33) as u32 % below.max(1)
    };
    let parents = |id: u32, draw: &mut dyn FnMut(u32) -> u32| (id >= 20).then(|| (draw(id / 2) * 2, draw(id / 2) * 2 + 1));
    let of = |id: u32| (id, parents(id, &mut draw));
    (0..count).map(of).map(|(id, parents)| Individual { id, dam: parents.map(|of| of.0), sire: parents.map(|of| of.1) }).collect()
}

#[test]
fn a_pedigree_too_wide_for_one_table_agrees_with_the_part_that_fits() {
    let all = scattered(12_000, 5);
    let (wide, part) = (Pedigree::new(&all).unwrap(), Pedigree::new(&all[..1_500]).unwrap());
    let (wide, part) = (wide.inbreeding().unwrap(), part.inbreeding().unwrap());
    let mut inbred = 0;
    for (id, of) in part.all() {
        assert!((wide.of(id).unwrap() - of).abs() < 1e-12, "{id}");
        inbred += usize::from(of > 0.0);
    }
    assert!(inbred > 1_000);
    for child in all.iter().rev().step_by(97).filter(|child| child.dam.is_some()) {
        let of_parents = wide.kinship(&child.dam.unwrap(), &child.sire.unwrap()).unwrap();
        assert!((wide.of(&child.id).unwrap() - of_parents).abs() < 1e-12);
    }
}

#[test]
fn a_deep_line_in_a_wide_pedigree_agrees_with_the_line_alone() {
    let mut all = full_sib_line(30);
    for pair in 0..2_200 {
        all.extend(animals(&[&format!("w{pair}"), &format!("v{pair}"), &format!("u{pair} w{pair} v{pair}")]));
    }
    let (wide, line) = (Pedigree::new(&all).unwrap(), Pedigree::new(&full_sib_line(30)).unwrap());
    let (wide, line) = (wide.inbreeding().unwrap(), line.inbreeding().unwrap());
    for (id, of) in line.all() {
        assert!((wide.of(id).unwrap() - of).abs() < 1e-12, "{id}");
    }
}

/// Random pedigrees: animals in order, each with parents among those before it or none.
pub fn some_animals() -> impl Strategy<Value = Vec<Individual<u32>>> {
    let parents = (prop::option::weighted(0.8, any::<prop::sample::Index>()), prop::option::weighted(0.8, any::<prop::sample::Index>()));
    prop::collection::vec(parents, 1..24).prop_map(|all| {
        let pick = |id: usize, of: Option<prop::sample::Index>| of.filter(|_| id > 0).map(|of| of.index(id) as u32);
        let of = |(id, (dam, sire))| Individual { id: id as u32, dam: pick(id, dam), sire: pick(id, sire) };
        all.into_iter().enumerate().map(of).collect()
    })
}

/// A by the tabular method as it is written (Henderson 1976).
fn relationships(animals: &[Individual<u32>]) -> Vec<Vec<f64>> {
    let mut table = vec![vec![0.0; animals.len()]; animals.len()];
    let with = |table: &[Vec<f64>], parent: Option<u32>, other: usize| parent.map_or(0.0, |parent| table[parent as usize][other]);
    for (row, animal) in animals.iter().enumerate() {
        let means: Vec<f64> = (0..row).map(|other| (with(&table, animal.dam, other) + with(&table, animal.sire, other)) / 2.0).collect();
        for (other, mean) in means.into_iter().enumerate() {
            table[row][other] = mean;
            table[other][row] = mean;
        }
        let of_parents = animal.sire.map_or(0.0, |sire| with(&table, animal.dam, sire as usize));
        table[row][row] = 1.0 + of_parents / 2.0;
    }
    table
}

proptest! {
    #[test]
    fn any_pedigree_in_any_order_agrees_with_the_tabular_method(all in some_animals(), shuffled in any::<u64>()) {
        let table = relationships(&all);
        let mut given = all.clone();
        given.sort_by_key(|animal| (u64::from(animal.id) + 1).wrapping_mul(shuffled | 1));
        let pedigree = Pedigree::new(&given).unwrap();
        let inbreeding = pedigree.inbreeding().unwrap();
        let order: Vec<u32> = inbreeding.all().map(|(id, _)| *id).collect();
        prop_assert_eq!(order, given.iter().map(|animal| animal.id).collect::<Vec<u32>>());
        let ids = || all.iter().map(|animal| animal.id);
        let pairs: Vec<(u32, u32)> = ids().flat_map(|one| ids().map(move |other| (one, other))).collect();
        let kinships: BTreeMap<(u32, u32), f64> = inbreeding.kinships(&pairs).unwrap().into_iter().map(|of| (of.pair, of.kinship)).collect();
        for (one, row) in table.iter().enumerate() {
            prop_assert!((inbreeding.of(&(one as u32)).unwrap() - (row[one] - 1.0)).abs() < 1e-12);
            for (other, related) in row.iter().enumerate() {
                prop_assert!((kinships[&(one as u32, other as u32)] - related / 2.0).abs() < 1e-12);
            }
        }
    }
}

// Falconer & Mackay 1996, chapter 5: 1/4 for young of full sibs, 1/8 of half sibs, 1/16 of first cousins. That a pairing is
// warned of from half sibs on: common practice, no source.
#[test]
fn half_sibs_are_close_and_first_cousins_are_not() {
    let half = kinship(&["x p q", "y p r", "p", "q", "r"], "x", "y");
    let cousins = kinship(&["x a c", "y b d", "a p q", "b p q", "c", "d", "p", "q"], "x", "y");
    assert_eq!((half, cousins), (0.125, 0.0625));
    assert!(is_close(half) && is_close(0.25) && !is_close(cousins) && !is_close(0.0));
    assert!(!is_close(half.next_down()));
}

// Common practice, no source.
#[test]
fn two_of_one_species_and_locality_belong_together() {
    let side = |species, locality| Side { species, locality };
    assert_eq!(mismatches(&side(1, "Colima"), &side(1, "Colima")), []);
    assert_eq!(mismatches(&side(1, ""), &side(1, "")), []);
    assert_eq!(mismatches(&side(1, ""), &side(2, "")), [Mismatch::Species]);
    let both = [Mismatch::Species, Mismatch::Locality("Colima", "")];
    assert_eq!(mismatches(&side(1, "Colima"), &side(2, "")), both);
    assert_eq!(both[1].to_string(), "Their localities or lines differ (Colima and not known): the young would belong to neither.");
    assert!(both[0].to_string().contains("hybrids"));
}
