//! What is looked at before a pairing, counts that are made twice, candidates for the sire, and the warmth of a sac. Figures are
//! common practice, no source, unless another is named.

use silkward::reckoning::breeding::check::{
    About, Female, Finding, Male, OneOfTwo, People, Planned, Related, Weight, blocked, look, mixed,
};
use silkward::reckoning::breeding::counts::{Settled, Tally, agree};
use silkward::reckoning::breeding::incubation::{Doubt, IncubationRules, warmth};
use silkward::reckoning::breeding::{Insertion, Pairing, SacGroup, candidates};
use silkward::reckoning::condition::{Condition, Scored};
use silkward::reckoning::hazard::Requirement;
use silkward::reckoning::words::{MoultState, Sex};

use super::on;

fn one(tag: &str, id: i64, sex: Sex) -> OneOfTwo {
    OneOfTwo {
        tag: tag.to_owned(),
        id,
        species: 4,
        species_name: "Brachypelma hamorii".to_owned(),
        line: "Colima".to_owned(),
        mixed: String::new(),
        sex,
        since: on("2024-01-01"),
        left: None,
        moult: MoultState::Normal,
        holds: Vec::new(),
    }
}

/// Two of whom nothing speaks against anything.
fn sound() -> Planned {
    Planned {
        day: on("2026-04-15"),
        dam: one("F-1", 1, Sex::Female),
        sire: one("M-2", 2, Sex::Male),
        female: Female {
            last_moult: Some(on("2026-01-10")),
            fed: Some((on("2026-01-24"), on("2026-04-10"))),
            meals: 9,
            scored: Some(Scored { condition: Condition::Good, day: on("2026-04-01") }),
            with_sac: false,
            next_moult: None,
        },
        male: Male { mature: true, mature_on: Some(on("2026-02-20")) },
        related: Some(Related { kinship: 0.0, words: "strangers".to_owned() }),
        days_to_sac: (90, 270),
        people: People {
            bands: (1, 1),
            asked: Some(Requirement { clearance: 1, persons: 1 }),
            lacks: None,
            first: vec!["Bo".to_owned()],
            second: Vec::new(),
        },
    }
}

fn of(found: &[Finding], weight: Weight) -> Vec<&str> {
    found.iter().filter(|finding| finding.weight == weight).map(|finding| finding.says.as_str()).collect()
}

#[test]
fn two_that_fit_have_nothing_against_them_and_every_look_is_told() {
    let found = look(&sound());
    assert!(found.iter().all(|finding| finding.weight == Weight::Fits), "{found:?}");
    for about in About::ALL {
        assert!(found.iter().any(|finding| finding.about == *about), "{about}");
    }
    assert!(!blocked(&found));
}

/// A change to two that fit, how much it then weighs, and what is said of it.
type Changed = (fn(&mut Planned), Weight, &'static str);

#[test]
fn each_thing_that_speaks_against_a_pairing_is_found_with_its_weight() {
    let changes: [Changed; 26] = [
        (|two| two.sire.id = 1, Weight::Blocks, "A pairing needs two animals"),
        (|two| two.sire.species = 9, Weight::Blocks, "These are two species"),
        (|two| two.dam.sex = Sex::Male, Weight::Blocks, "F-1 is known as a male"),
        (|two| two.sire.sex = Sex::Female, Weight::Blocks, "M-2 is known as a female"),
        (|two| two.dam.left = Some((on("2026-04-14"), "dead".to_owned())), Weight::Blocks, "F-1 is dead since 14 April 2026"),
        (|two| two.sire.since = on("2026-04-16"), Weight::Blocks, "after that day"),
        (|two| two.sire.holds = vec!["agitated until tomorrow".to_owned()], Weight::Blocks, "M-2 is held: agitated"),
        (|two| two.dam.moult = MoultState::Moulting, Weight::Blocks, "F-1 is moulting"),
        (|two| two.dam.moult = MoultState::PreMoult, Weight::Warns, "pre-moult"),
        (|two| two.dam.sex = Sex::Unknown, Weight::Warns, "F-1 is not sexed"),
        (|two| two.sire.line = String::new(), Weight::Warns, "differ (Colima and not known)"),
        (|two| two.sire.mixed = "A and B".to_owned(), Weight::Warns, "M-2 is itself of mixed lines (A and B)"),
        (
            |two| two.related = Some(Related { kinship: 0.125, words: "half sibs".to_owned() }),
            Weight::Warns,
            "Half sibs; inbreeding of the young 0.1250",
        ),
        (|two| two.female.last_moult = None, Weight::Warns, "No moult of F-1"),
        (|two| two.female.fed = None, Weight::Warns, "has taken nothing since"),
        (|two| two.female.fed = Some((on("2026-03-19"), on("2026-04-10"))), Weight::Warns, "fed for 27 days since"),
        (|two| two.female.scored = None, Weight::Warns, "never scored"),
        (|two| two.female.scored = Some(Scored { condition: Condition::Lean, day: on("2026-04-01") }), Weight::Warns, "feed her up"),
        (|two| two.female.scored = Some(Scored { condition: Condition::Good, day: on("2026-02-13") }), Weight::Warns, "long ago"),
        (|two| two.female.with_sac = true, Weight::Warns, "with a sac"),
        (
            |two| two.female.next_moult = Some((on("2026-06-01"), on("2026-08-01"))),
            Weight::Warns,
            "A moult before it makes the pairing void",
        ),
        (|two| two.male = Male { mature: false, mature_on: None }, Weight::Warns, "not known to be mature"),
        (|two| two.male.mature_on = Some(on("2026-04-02")), Weight::Warns, "may not have charged"),
        (|two| two.male.mature_on = Some(on("2025-10-16")), Weight::Warns, "useful period may be over"),
        (|two| two.people.first.clear(), Weight::Warns, "Nobody is cleared"),
        (|two| two.people.lacks = Some("Bo holds none".to_owned()), Weight::Warns, "You can plan it, but not do it: Bo holds none"),
    ];
    for (change, weight, says) in changes {
        let mut two = sound();
        change(&mut two);
        let found = look(&two);
        let told = of(&found, weight);
        assert!(told.iter().any(|words| words.contains(says)), "{says}: {found:?}");
        assert_eq!(blocked(&found), weight == Weight::Blocks, "{says}");
    }
}

#[test]
fn limits_belong_to_what_is_still_right() {
    let mut two = sound();
    two.female.fed = Some((on("2026-03-18"), on("2026-04-10")));
    two.male.mature_on = Some(on("2025-10-17"));
    two.female.scored = Some(Scored { condition: Condition::Heavy, day: on("2026-02-14") });
    assert!(of(&look(&two), Weight::Warns).is_empty(), "28 days of feeding, 180 days mature, a score of 60 days ago");
    two.male.mature_on = Some(on("2026-04-01"));
    assert!(of(&look(&two), Weight::Warns).is_empty(), "14 days mature");
}

#[test]
fn what_is_mixed_is_told_for_the_young() {
    let (dam, mut sire) = (one("F-1", 1, Sex::Female), one("M-2", 2, Sex::Male));
    assert_eq!(mixed(&dam, &sire), "");
    sire.line = "Jalisco".to_owned();
    assert_eq!(mixed(&dam, &sire), "Colima and Jalisco");
    sire.line = "Colima".to_owned();
    sire.mixed = "Colima and Jalisco".to_owned();
    assert_eq!(mixed(&dam, &sire), "M-2 is itself of mixed lines (Colima and Jalisco)");
}

// Two counts; a difference of over 2 % or of over 3 means a recount: common practice, no source.
#[test]
fn two_counts_agree_within_two_percent_and_three() {
    for (first, second, agrees) in [
        (150, 147, true), // 3, exactly 2 %
        (147, 150, true),
        (150, 146, false),  // 4, and over 2 %
        (1000, 996, false), // 0.4 %, but 4
        (1000, 997, true),
        (100, 98, true),  // exactly 2 %
        (100, 97, false), // 3, but 3 %
        (20, 19, false),  // 1, but 5 %
        (50, 49, true),   // 1 of 50
        (0, 0, true),
        (1, 0, false),
        (3000, 3000, true),
        (u32::MAX, u32::MAX - 3, true),
    ] {
        assert_eq!(agree(first, second), agrees, "{first} and {second}");
    }
}

#[test]
fn the_last_count_is_taken_when_it_agrees_with_one_before() {
    let tally = |first, second, third| Tally { first, second, third };
    assert_eq!(tally(240, 238, None).settled(), Settled::Accepted { count: 238, difference: 2 });
    assert_eq!(tally(240, 230, None).settled(), Settled::CountAgain { difference: 10 });
    assert!(tally(240, 230, None).ask().unwrap().contains("differ by 10 (240 and 230)"));
    assert_eq!(tally(240, 230, Some(239)).settled(), Settled::Accepted { count: 239, difference: 1 });
    assert_eq!(tally(240, 230, Some(231)).settled(), Settled::Accepted { count: 231, difference: 1 });
    assert_eq!(tally(240, 230, Some(235)).settled(), Settled::CountAgain { difference: 5 });
    assert!(tally(240, 230, Some(235)).ask().unwrap().contains("agrees with neither 240 nor 230"));
    assert_eq!(tally(240, 240, None).ask(), None);
}

#[test]
fn every_male_since_the_moult_is_a_candidate_and_marked_by_what_was_seen() {
    let put = |id, sire, day: &str, seen| (Pairing { id, sire, on: on(day) }, seen);
    let all = [
        put(1, 7, "2026-01-10", Insertion::Seen),
        put(2, 8, "2026-02-01", Insertion::None),
        put(3, 9, "2026-02-05", Insertion::Unknown),
        put(4, 8, "2026-02-07", Insertion::Unknown),
        put(5, 9, "2026-03-01", Insertion::Seen),
        put(6, 10, "2026-05-01", Insertion::Seen),
    ];
    let found = candidates(&all, &[on("2026-01-20")], on("2026-04-01"));
    let told: Vec<(i64, &str, Insertion)> =
        found.iter().map(|one| (one.sire, if one.first_on == on("2026-02-01") { "first" } else { "later" }, one.insertion)).collect();
    assert_eq!(told, [(8, "first", Insertion::Unknown), (9, "later", Insertion::Seen)]);
}

// The longest and shortest ranges of the table of groups; months counted as 30 days.
#[test]
fn days_to_a_sac_are_those_of_the_group_unless_the_house_says_otherwise() {
    let usual = IncubationRules::default();
    assert_eq!(usual.days_to_sac(Some(SacGroup::NewWorldSlow)), (90, 270));
    assert_eq!(usual.days_to_sac(SacGroup::of_genus("Pterinochilus")), (45, 150));
    assert_eq!(usual.days_to_sac(SacGroup::of_genus("Nobodyelma")), (30, 360));
    let own = IncubationRules { sac_after: Some((20, 25)), ..usual };
    assert_eq!(own.days_to_sac(Some(SacGroup::Dwarf)), (20, 25));
}

#[test]
fn temperatures_are_judged_by_their_limits_which_are_right_themselves() {
    let usual = IncubationRules::default();
    for (decicelsius, doubt) in
        [(249, Some(Doubt::Cool)), (250, None), (280, None), (281, Some(Doubt::Warm)), (300, Some(Doubt::Warm)), (301, Some(Doubt::Risky))]
    {
        assert_eq!(usual.doubt(decicelsius), doubt, "{decicelsius}");
    }
    let own = IncubationRules { min_c: Some(22), max_c: Some(24), risky_c: Some(26), ..usual };
    assert_eq!((own.doubt(230), own.doubt(255), own.doubt(261)), (None, Some(Doubt::Warm), Some(Doubt::Risky)));
}

// Arithmetic: with one temperature a day, a day at 26 °C is 11 degree-days above 15 °C (Baskerville & Emin 1969).
#[test]
fn warmth_is_summed_from_laying_and_gaps_are_filled_from_the_day_before() {
    let readings = [(on("2026-04-03"), 26.0), (on("2026-04-05"), 24.0)];
    let told = warmth(&readings, on("2026-04-01"), on("2026-04-06"), 15.0).unwrap().unwrap();
    // 1 to 4 April at 26, 5 and 6 April at 24.
    assert!((told.total - (4.0 * 11.0 + 2.0 * 9.0)).abs() < 1e-9, "{}", told.total);
    assert_eq!((told.read, told.by_day.len()), (2, 6));
    assert!((told.by_day[2].1 - 33.0).abs() < 1e-9);
    let swings = [(on("2026-04-01"), 20.0), (on("2026-04-01"), 30.0)];
    let day = warmth(&swings, on("2026-04-01"), on("2026-04-01"), 15.0).unwrap().unwrap();
    assert!((day.total - 10.0).abs() < 1e-9, "a sine from 20 to 30 above 15 has its mean less 15");
    assert_eq!(warmth(&[], on("2026-04-01"), on("2026-04-06"), 15.0).unwrap(), None);
    assert_eq!(warmth(&readings, on("2026-04-01"), on("2026-04-02"), 15.0).unwrap(), None, "readings after the last day do not count");
    assert_eq!(warmth(&readings, on("2026-04-10"), on("2026-04-02"), 15.0).unwrap(), None);
}
