//! Which prey is given and what is ordered. The rules of length are common practice, no source; the ranges are held against
//! tables of the binomial distribution.

use proptest::prelude::*;
use silkward::reckoning::prey::{
    Chosen, Eater, PlannedFeed, Policy, PreyKind, PreyRule, SizeClass, class_of, longest_mm, order, period_need, usual,
};
use silkward::reckoning::words::LifeStage;

use super::on;

fn eater(span: u32) -> Eater {
    Eater { span_mm: Some(span), life_stage: LifeStage::Juvenile, mature_male: false }
}

fn rules() -> Vec<PreyRule> {
    let rule = |class, most_percent, killed| PreyRule { class, most_percent, each: 1, killed };
    vec![
        rule(SizeClass::Small, 40, true),
        rule(SizeClass::Sling, 20, false),
        rule(SizeClass::Larger, 40, false),
        rule(SizeClass::MatureMale, 20, false),
    ]
}

fn kinds() -> Vec<PreyKind> {
    let kind = |id, length_mm, staple| PreyKind { id, length_mm, staple };
    vec![kind(1, 3, true), kind(2, 6, true), kind(3, 12, true), kind(4, 22, true), kind(5, 5, false), kind(6, 6, true)]
}

fn given(eater: Eater) -> Option<Chosen> {
    usual(eater, &rules(), &kinds())
}

#[test]
fn the_classes_begin_at_one_and_a_half_and_at_four_centimetres() {
    let class = |span| class_of(eater(span));
    assert_eq!([class(14), class(15), class(39), class(40)], [SizeClass::Small, SizeClass::Sling, SizeClass::Sling, SizeClass::Larger]);
    assert_eq!(class_of(Eater { mature_male: true, ..eater(120) }), SizeClass::MatureMale);
    // Nobody measured it: the smallest usual size, so that prey is not too long.
    let unknown = |life_stage| class_of(Eater { span_mm: None, life_stage, mature_male: false });
    assert_eq!([unknown(LifeStage::Spiderling), unknown(LifeStage::Juvenile)], [SizeClass::Small, SizeClass::Larger]);
}

#[test]
fn the_longest_staple_that_fits_is_given() {
    let chosen = given(eater(12)).unwrap();
    // 40 % of 12 mm are 4 mm: the body. It is pre-killed.
    assert_eq!((chosen.id, chosen.killed), (1, true));
    assert_eq!(chosen.why, "leg span 12 mm: prey up to 4 mm, pre-killed (spiderling below 1.5 cm)");
    // 20 % of 30 mm are 6 mm: the abdomen. Of two that are 6 mm long, the first.
    assert_eq!((given(eater(30)).unwrap().id, given(eater(30)).unwrap().killed), (2, false));
    assert_eq!(given(eater(50)).unwrap().id, 3);
    assert_eq!(given(eater(140)).unwrap().id, 4);
    // A mature male of 70 mm gets small prey, up to 14 mm.
    assert_eq!(given(Eater { mature_male: true, ..eater(70) }).unwrap().id, 3);
    assert!(given(eater(5)).is_none(), "everything is longer than 2 mm");
    assert!(usual(eater(50), &[], &kinds()).is_none() && usual(eater(50), &rules(), &[]).is_none());
}

proptest! {
    #[test]
    fn nothing_longer_than_its_rule_is_given(span in 1_u32..400, percent in 1_u32..200, lengths in prop::collection::vec((1_u32..100, any::<bool>()), 0..8)) {
        let rules: Vec<PreyRule> = rules().into_iter().map(|rule| PreyRule { most_percent: percent, ..rule }).collect();
        let kinds: Vec<PreyKind> = lengths.iter().zip(1..).map(|((length_mm, staple), id)| PreyKind { id, length_mm: *length_mm, staple: *staple }).collect();
        let most = longest_mm(eater(span), rules[0]);
        match usual(eater(span), &rules, &kinds) {
            Some(chosen) => {
                let kind = kinds.iter().find(|kind| kind.id == chosen.id).unwrap();
                prop_assert!(kind.staple && kind.length_mm <= most);
                prop_assert!(kinds.iter().all(|other| !other.staple || other.length_mm > most || other.length_mm <= kind.length_mm));
            }
            None => prop_assert!(kinds.iter().all(|kind| !kind.staple || kind.length_mm > most)),
        }
    }
}

/// Ten feeds of an even chance on each of so many days.
fn feeds(days: u64) -> Vec<PlannedFeed> {
    let feed = |day| PlannedFeed { day, kind: "cricket".to_owned(), size: "small".to_owned(), probability: 0.5, prey: 1, offered: 1 };
    (0..days).flat_map(|ahead| std::iter::repeat_n(feed(on("2026-03-01") + chrono::Days::new(ahead)), 10)).collect()
}

// Binomial(10, 1/2): P(X ≤ 2) = 0.0547, P(X ≤ 3) = 0.1719, P(X ≤ 6) = 0.8281, P(X ≤ 7) = 0.9453.
#[test]
fn the_range_of_eighty_percent_is_that_of_the_binomial_tables() {
    let need = &period_need(&feeds(1)).unwrap()[0];
    assert_eq!((need.p05, need.p10, need.p90, need.p95), (2, 3, 7, 8));
}

// Binomial(20, 1/2): P(X ≤ 12) = 0.8684, P(X ≤ 13) = 0.9423.
#[test]
fn an_order_lasts_through_its_days_at_the_upper_end_in_whole_packs() {
    let policy = Policy { lead_days: 1, cover_days: 1 };
    let made = order(on("2026-03-01"), 2, 4, &feeds(5), policy).unwrap();
    assert_eq!((made.upper, made.missing, made.packs), (13, 11, 3));
    // Two may be gone on the first day, so it is ordered at once.
    assert_eq!((made.order_by, made.summary.as_str()), (Some(on("2026-03-01")), "order 3 packs today"));
    let enough = order(on("2026-03-01"), 13, 4, &feeds(5), policy).unwrap();
    assert_eq!((enough.packs, enough.summary.as_str()), (0, "enough for 2 days"));
    let none = order(on("2026-03-01"), 0, 4, &[], policy).unwrap();
    assert_eq!((none.packs, none.order_by), (0, None));
    // 40 are gone on the fifth day at the earliest (50 feeds): a day earlier it must be ordered.
    let late = order(on("2026-03-01"), 30, 10, &feeds(5), Policy { lead_days: 1, cover_days: 4 }).unwrap();
    assert_eq!((late.upper, late.packs, late.order_by), (30, 0, Some(on("2026-03-04"))));
}
