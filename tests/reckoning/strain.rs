//! Of which line young are.

use silkward::reckoning::strain::{Came, Member, Strains, strains, young};

fn name(line: i64) -> String {
    ["", "Colima", "Jalisco", "Coast"][usize::try_from(line).unwrap()].to_owned()
}

fn told(of: &Strains) -> String {
    of.told(name)
}

/// Common practice, no source.
#[test]
fn young_of_one_line_are_of_it_and_young_of_two_are_mixed() {
    let (colima, jalisco, coast) = (Strains::of_line(1), Strains::of_line(2), Strains::of_line(3));
    assert_eq!(young(Some(&colima), &[&colima]).pure(), Some(1));
    let mixed = young(Some(&colima), &[&jalisco]);
    assert_eq!((mixed.pure(), told(&mixed)), (None, "mixed of Colima and Jalisco".to_owned()));
    assert_eq!(told(&young(Some(&mixed), &[&coast])), "mixed of Colima, Jalisco and Coast");
    assert_eq!(told(&young(Some(&colima), &[])), "Colima in part, the rest of no line", "an unknown sire is of no line");
    assert_eq!(told(&young(None, &[&colima])), "Colima in part, the rest of no line");
    assert_eq!(told(&young(None, &[])), "no line");
    assert_eq!(young(Some(&colima), &[&colima, &colima]).pure(), Some(1), "whichever of the two it was");
    assert_eq!(told(&young(Some(&colima), &[&colima, &jalisco])), "mixed of Colima and Jalisco", "it may be either");
    assert_eq!(told(&young(Some(&mixed), &[])), "mixed of Colima and Jalisco, the rest of no line");
}

fn member(said: Option<Option<i64>>, came: Came) -> Member {
    Member { said, came }
}

#[test]
fn a_line_goes_down_through_sacs_splits_and_tags_until_somebody_says_otherwise() {
    let sac = |dam, sire| Came::Sac { dam: Some(dam), sires: vec![sire] };
    let members = [
        member(None, Came::OutOf(1)),          // 0: tagged out of a split
        member(None, Came::OutOf(2)),          // 1: split off a cohort
        member(None, sac(3, 4)),               // 2: cohort of two of Colima
        member(Some(Some(1)), Came::Outside),  // 3
        member(Some(Some(1)), Came::Outside),  // 4
        member(Some(None), Came::OutOf(2)),    // 5: said to be of none
        member(None, sac(0, 5)),               // 6
        member(Some(Some(2)), Came::OutOf(6)), // 7: said to be of Jalisco after all
        member(None, Came::Outside),           // 8
    ];
    let all: Vec<String> = strains(&members).iter().map(told).collect();
    let partly = "Colima in part, the rest of no line";
    assert_eq!(all, ["Colima", "Colima", "Colima", "Colima", "Colima", "no line", partly, "Jalisco", "no line"]);
}

#[test]
fn circles_and_places_that_are_not_there_end_in_no_line() {
    let circle = [member(None, Came::OutOf(1)), member(None, Came::Sac { dam: Some(0), sires: vec![1] }), member(None, Came::OutOf(99))];
    let all = strains(&circle);
    assert!(all.iter().all(|of| of.pure().is_none()), "{all:?}");
    // A long descent takes no deep stack.
    let long: Vec<Member> =
        (0..50_000).map(|at| if at == 49_999 { member(Some(Some(1)), Came::Outside) } else { member(None, Came::OutOf(at + 1)) }).collect();
    assert_eq!(strains(&long)[0].pure(), Some(1));
}
