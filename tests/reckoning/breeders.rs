//! Breeders of a species: kinship of all pairs, the best pairs, founders.

use proptest::prelude::*;
use silkward::reckoning::pedigree::{Individual, Pedigree};

fn animal(id: &str, dam: Option<&str>, sire: Option<&str>) -> Individual<String> {
    Individual { id: id.to_owned(), dam: dam.map(str::to_owned), sire: sire.map(str::to_owned) }
}

fn names(ids: &[&str]) -> Vec<String> {
    ids.iter().map(|id| (*id).to_owned()).collect()
}

/// p × q gave full sibs x and y; p × r gave h; u is a stranger.
fn family() -> Pedigree<String> {
    let parents = [("x", "p", "q"), ("y", "p", "q"), ("h", "p", "r")];
    let mut all: Vec<Individual<String>> = ["p", "q", "r", "u"].map(|id| animal(id, None, None)).to_vec();
    all.extend(parents.map(|(id, dam, sire)| animal(id, Some(dam), Some(sire))));
    Pedigree::new(&all).unwrap()
}

/// Falconer & Mackay 1996, chapter 5: full sibs 1/4, half sibs 1/8, parent and offspring 1/4, strangers 0.
#[test]
fn the_table_holds_the_textbook_values_and_the_least_related_pair_comes_first() {
    let pedigree = family();
    let inbreeding = pedigree.inbreeding().unwrap();
    let table = inbreeding.breeders(&names(&["p", "x"]), &names(&["y", "h", "u"])).unwrap();
    assert_eq!(table.kinship, [[0.25, 0.25, 0.0], [0.25, 0.125, 0.0]]);
    // Mean kinship of u: 1/2 with itself, 0 with four others. Of p: 1/2, and 1/4 with x, y and h.
    assert!((table.mean_of_males[2] - 0.1).abs() < 1e-12);
    assert!((table.mean_of_females[0] - 1.25 / 5.0).abs() < 1e-12);
    // x: 1/2 with itself, 1/4 with p and y, 1/8 with h.
    assert!((table.mean_of_females[1] - 1.125 / 5.0).abs() < 1e-12);
    let best: Vec<String> = table.best_pairs().iter().map(|pair| format!("{}{} {:.3}", pair.female, pair.male, pair.inbreeding)).collect();
    // p with h and x with y have the same mean, 0.225: by tag.
    assert_eq!(best, ["xu 0.000", "pu 0.000", "xh 0.125", "ph 0.250", "xy 0.250", "py 0.250"]);
}

#[test]
fn equal_pairs_are_ordered_by_tag() {
    let pedigree = Pedigree::new(&["b", "a", "d", "c"].map(|id| animal(id, None, None))).unwrap();
    let inbreeding = pedigree.inbreeding().unwrap();
    let table = inbreeding.breeders(&names(&["b", "a"]), &names(&["d", "c"])).unwrap();
    let best: Vec<String> = table.best_pairs().iter().map(|pair| format!("{}{}", pair.female, pair.male)).collect();
    assert_eq!(best, ["ac", "ad", "bc", "bd"]);
    assert!(inbreeding.breeders(&names(&["z"]), &[]).is_err());
    assert!(inbreeding.breeders(&[], &[]).unwrap().best_pairs().is_empty());
}

/// By hand: x has half of p and half of q, h half of p and half of r; x alone with a stranger's half counts as unknown.
#[test]
fn founders_share_the_genes_of_a_group() {
    let found = family().founders(&names(&["x", "h"])).unwrap();
    assert_eq!(found.shares, [("p".to_owned(), 0.5), ("q".to_owned(), 0.25), ("r".to_owned(), 0.25)]);
    assert_eq!((found.unknown, found.equivalents), (0.0, Some(1.0 / 0.375)));
    let half = Pedigree::new(&[animal("p", None, None), animal("z", Some("p"), None)]).unwrap();
    let found = half.founders(&names(&["z"])).unwrap();
    assert_eq!((found.shares, found.unknown), (vec![("p".to_owned(), 0.5)], 0.5));
    assert_eq!(half.founders(&[]).unwrap().equivalents, None);
    assert_eq!(half.founders(&names(&["p"])).unwrap().shares, [("p".to_owned(), 1.0)], "a founder is its own");
}

proptest! {
    #[test]
    fn every_cell_is_the_kinship_of_the_pair_and_shares_add_up(parents in prop::collection::vec((0_usize..40, 0_usize..40), 1..40)) {
        let all: Vec<Individual<usize>> = parents
            .iter()
            .enumerate()
            .map(|(id, (dam, sire))| Individual { id, dam: Some(*dam).filter(|dam| *dam < id), sire: Some(*sire).filter(|sire| *sire < id) })
            .collect();
        let pedigree = Pedigree::new(&all).unwrap();
        let inbreeding = pedigree.inbreeding().unwrap();
        let (females, males): (Vec<usize>, Vec<usize>) = (0..all.len()).partition(|id| id % 2 == 0);
        let table = inbreeding.breeders(&females, &males).unwrap();
        for (female, row) in females.iter().zip(&table.kinship) {
            for (male, cell) in males.iter().zip(row) {
                prop_assert!((inbreeding.kinship(female, male).unwrap() - cell).abs() < 1e-12);
            }
        }
        let best = table.best_pairs();
        prop_assert_eq!(best.len(), females.len() * males.len());
        prop_assert!(best.windows(2).all(|two| two[0].inbreeding <= two[1].inbreeding + 1e-9));
        let found = pedigree.founders(&females).unwrap();
        let sum: f64 = found.shares.iter().map(|(_, share)| share).sum();
        prop_assert!((sum + found.unknown - 1.0).abs() < 1e-9);
    }
}

/// Five thousand animals and sixty breeders of either sex: within a second even without optimising.
#[test]
fn a_large_house_is_quick() {
    let all: Vec<Individual<u32>> = (0..5000_u32)
        .map(|id| {
            let of = |step: u32| (id >= 120).then(|| (id - 120) / 2 + (id * step) % 60);
            Individual { id, dam: of(7), sire: of(11) }
        })
        .collect();
    let pedigree = Pedigree::new(&all).unwrap();
    let started = std::time::Instant::now();
    let inbreeding = pedigree.inbreeding().unwrap();
    let (females, males): (Vec<u32>, Vec<u32>) = (4880..5000).partition(|id| id % 2 == 0);
    let table = inbreeding.breeders(&females, &males).unwrap();
    assert_eq!(table.best_pairs().len(), 3600);
    let took = started.elapsed();
    println!("5,000 animals, 60 x 60 pairs: {took:?}");
    assert!(took.as_secs() < 5, "{took:?}");
}
