//! Which of a brood to hold back. That it is spread over size and balanced is common practice, no source.

use proptest::prelude::*;
use silkward::reckoning::holdback::{Candidate, Spread, spread};
use silkward::reckoning::words::Sex;

fn tagged(span: u32, sex: Sex) -> Candidate {
    Candidate { span_mm: Some(span), instar: None, sex, count: 1, held: 0 }
}

fn taken(found: &Spread) -> Vec<(usize, u32)> {
    found.choices.iter().map(|choice| (choice.candidate, choice.take)).collect()
}

#[test]
fn places_are_the_middles_of_equal_parts_from_small_to_large() {
    // Ten unsexed of 11 to 20 mm, five wanted: the middle of each pair of neighbours, never the ends alone.
    let ten: Vec<Candidate> = (0..10).map(|number| tagged(20 - number, Sex::Unknown)).collect();
    let found = spread(&ten, 5);
    let spans: Vec<u32> = found.choices.iter().map(|choice| ten[choice.candidate].span_mm.unwrap()).collect();
    assert_eq!(spans, [20, 18, 16, 14, 12], "in the order of the list");
    assert!(found.notes[0].contains("none is sexed"), "{:?}", found.notes);
    assert!(found.choices[4].reason.contains("12 mm: from the smallest of the unsexed"), "{}", found.choices[4].reason);
    assert!(found.choices[0].reason.contains("20 mm: from the largest of the unsexed"), "{}", found.choices[0].reason);
}

#[test]
fn half_are_females_and_half_males_as_far_as_they_are_known() {
    let mut all: Vec<Candidate> = (0..8).map(|number| tagged(30 + number, Sex::Female)).collect();
    all.extend((0..8).map(|number| tagged(30 + number, Sex::Male)));
    let of_sex = |all: &[Candidate], found: &Spread, sex| {
        found.choices.iter().filter(|choice| all[choice.candidate].sex == sex).map(|choice| choice.take).sum::<u32>()
    };
    let found = spread(&all, 7);
    assert_eq!((of_sex(&all, &found, Sex::Female), of_sex(&all, &found, Sex::Male)), (4, 3));
    assert_eq!(found.notes[0], "4 females, 3 males and 0 unsexed");
    all.truncate(10);
    let found = spread(&all, 8);
    assert_eq!((of_sex(&all, &found, Sex::Female), of_sex(&all, &found, Sex::Male)), (6, 2), "two males are all there are");
    assert!(found.notes[0].contains("fewer males are known than would balance them"));
}

#[test]
fn those_held_already_fill_the_places_nearest_to_them() {
    let mut six: Vec<Candidate> = (1..=6).map(|number| tagged(10 * number, Sex::Unknown)).collect();
    six[5].held = 1;
    let found = spread(&six, 3);
    assert_eq!((found.held, taken(&found)), (1, vec![(1, 1), (3, 1)]), "the place of the largest is filled");
    assert_eq!(taken(&spread(&six, 1)), vec![], "one is held, one is wanted");
    assert_eq!(spread(&six, 9).missing, 3);
}

#[test]
fn many_of_a_cohort_are_taken_by_their_instar() {
    let stages = [(3_u32, 20_u32), (4, 60), (5, 20)];
    let cohort: Vec<Candidate> =
        stages.map(|(instar, count)| Candidate { span_mm: None, instar: Some(instar), sex: Sex::Unknown, count, held: 0 }).to_vec();
    let found = spread(&cohort, 10);
    assert_eq!(taken(&found), [(0, 2), (1, 6), (2, 2)], "as many of each as there are");
    assert!(found.notes.iter().any(|note| note.contains("100 have no leg span")), "{:?}", found.notes);
}

fn candidate() -> impl Strategy<Value = Candidate> {
    let sex = prop_oneof![Just(Sex::Female), Just(Sex::Male), Just(Sex::Unknown)];
    (prop::option::of(5_u32..200), prop::option::of(1_u32..15), sex, 0_u32..6, 0_u32..8)
        .prop_map(|(span_mm, instar, sex, count, held)| Candidate { span_mm, instar, sex, count, held: held.min(count) })
}

proptest! {
    #[test]
    fn exactly_as_many_as_wanted_are_held_or_all_there_are(all in prop::collection::vec(candidate(), 0..40), wanted in 0_u32..60) {
        let found = spread(&all, wanted);
        let (there, held): (u32, u32) = (all.iter().map(|of| of.count).sum(), all.iter().map(|of| of.held).sum());
        let take: u32 = found.choices.iter().map(|choice| choice.take).sum();
        prop_assert_eq!(found.held, held);
        prop_assert_eq!(held + take, wanted.max(held).min(there));
        prop_assert_eq!(found.missing, wanted.saturating_sub(there));
        for choice in &found.choices {
            let of = &all[choice.candidate];
            prop_assert!(choice.take >= 1 && choice.take <= of.count - of.held, "{:?} of {:?}", choice, of);
        }
        let places: Vec<usize> = found.choices.iter().map(|choice| choice.candidate).collect();
        prop_assert!(places.windows(2).all(|two| two[0] < two[1]), "each once, in order");
    }

    #[test]
    fn the_sexes_are_balanced_where_there_are_enough_of_both(females in 5_u32..20, males in 5_u32..20, wanted in 1_u32..10) {
        let of = |sex, count| Candidate { span_mm: Some(40), instar: None, sex, count, held: 0 };
        let found = spread(&[of(Sex::Female, females), of(Sex::Male, males), of(Sex::Unknown, 30)], wanted);
        let take = |place| found.choices.iter().find(|choice| choice.candidate == place).map_or(0, |choice| choice.take);
        prop_assert_eq!((take(0), take(1), take(2)), (wanted.div_ceil(2), wanted / 2, 0));
    }

    #[test]
    fn no_half_of_the_sizes_is_left_out(spans in prop::collection::vec(5_u32..200, 4..40), wanted in 2_u32..12) {
        let mut spans = spans;
        spans.sort_unstable();
        let all: Vec<Candidate> = spans.iter().map(|span| tagged(*span, Sex::Unknown)).collect();
        let chosen: Vec<usize> = spread(&all, wanted).choices.iter().map(|choice| choice.candidate).collect();
        let half = all.len() / 2;
        prop_assert!(chosen.iter().any(|place| *place < half) && chosen.iter().any(|place| *place >= half), "{:?} of {}", chosen, all.len());
    }
}
