//! The survival of a cohort out of its ledger: worked cohorts, each choice of day 0, tagged animals, and random
//! histories. Worked values are arithmetic on the stated rules; common practice, no source.

use chrono::{Days, NaiveDate};
use proptest::prelude::*;
use silkward::reckoning::calendar::days_between;
use silkward::reckoning::ledger::{Bucket, LedgerError, Line, LineKind, Stage, standing};
use silkward::reckoning::survival::{CohortError, CohortFollowed, Origin, OriginDays, TaggedEnd, followed_from_ledger, kaplan_meier};
use silkward::reckoning::words::LossCause;

use super::ledger::{line, reversal, worked};
use super::ledger_histories::any_ledger;
use super::on;

const TODAY: &str = "2026-06-01";

fn days() -> OriginDays {
    OriginDays { laid: Some(on("2026-01-20")), separated: Some(on("2026-04-12")) }
}

fn follow(lines: &[Line], tagged: &[TaggedEnd], origin: Origin) -> Result<CohortFollowed, CohortError> {
    followed_from_ledger(lines, tagged, origin, days(), on(TODAY))
}

fn alive(line: i64) -> TaggedEnd {
    TaggedEnd { line, died_on: None, left_on: None }
}

fn died(line: i64, day: &str, cause: LossCause) -> TaggedEnd {
    TaggedEnd { died_on: Some((on(day), cause)), ..alive(line) }
}

/// Lost, left, and followed.
fn counts(cohort: &CohortFollowed) -> (u32, u32, u32) {
    (cohort.lost, cohort.left, cohort.entered)
}

// Worked value: 240 post-embryos, 231 first instar, 219 second instar: 91.25 % live to second instar.
#[test]
fn survival_to_the_second_instar_from_the_first_count() {
    let cohort = follow(&worked(), &[], Origin::Laid).unwrap();
    assert_eq!(counts(&cohort), (52, 188, 240));
    assert_eq!((cohort.alive, cohort.escaped, cohort.day_zero), (42, 1, on("2026-01-20")));
    let curve = kaplan_meier(&cohort.followed, None).unwrap();
    // Laid on 20 January, first counted on 1 March: day 40. The moult to second instar was on 10 April: day 80.
    assert_eq!((curve.at_risk_on(39), curve.at_risk_on(40)), (0, 240));
    assert!((curve.at(80) - 0.9125).abs() < 1e-12, "{}", curve.at(80));
    assert_eq!(curve.times, [44, 71, 101]);
    assert_eq!(
        cohort.explanation,
        "day 0 is 20 January 2026, when the egg sac was laid; 240 followed, 52 lost, 146 left, 42 alive on 1 June 2026; \
         1 of those that left escaped"
    );
}

#[test]
fn from_second_instar_only_those_that_reached_it_are_followed() {
    let cohort = follow(&worked(), &[], Origin::SecondInstar).unwrap();
    assert_eq!((counts(&cohort), cohort.day_zero), ((31, 188, 219), on("2026-04-10")));
    assert!(cohort.explanation.starts_with("day 0 is 10 April 2026, when the first reached second instar; 219 followed, 31 lost, "));
    let first = follow(&worked(), &[], Origin::FirstInstar).unwrap();
    assert_eq!((counts(&first), first.day_zero), ((43, 188, 231), on("2026-03-20")));
    let separated = follow(&worked(), &[], Origin::Separation).unwrap();
    assert_eq!((counts(&separated), separated.day_zero), ((31, 188, 219), on("2026-04-12")));
    assert!(separated.explanation.starts_with("day 0 is 12 April 2026, the day of separation; "));
}

/// Moults over two days, a loss before the stage, some found again and some received later.
fn in_steps() -> Vec<Line> {
    vec![
        line(1, "2026-04-01", LineKind::Received, "in > i1", 100),
        line(2, "2026-04-05", LineKind::Lost, "i1 > lost", 7),
        line(3, "2026-04-10", LineKind::Moulted, "i1 > i2", 30),
        line(4, "2026-04-14", LineKind::Moulted, "i1 > i2", 50),
        line(5, "2026-04-14", LineKind::Lost, "i2 > lost", 8),
        line(6, "2026-04-16", LineKind::Lost, "i1 > lost", 3),
        line(7, "2026-04-18", LineKind::Recounted, "i2 > variance", 2),
        line(8, "2026-04-20", LineKind::Recounted, "variance > i2", 2),
        line(9, "2026-04-22", LineKind::Received, "in > i3", 10),
        line(10, "2026-04-25", LineKind::Lost, "i3 > lost", 4),
    ]
}

#[test]
fn each_comes_in_on_the_day_it_reaches_the_stage() {
    let cohort = follow(&in_steps(), &[], Origin::SecondInstar).unwrap();
    assert_eq!(counts(&cohort), (12, 80, 92));
    let entries: Vec<(u32, u32)> = cohort.followed.entries.iter().map(|entry| (entry.day, entry.count)).collect();
    assert_eq!(entries, [(0, 30), (4, 50), (10, 2), (12, 10)]);
    let curve = kaplan_meier(&cohort.followed, None).unwrap();
    // Those that moulted on 14 April are at risk on it: 8 of 80. On 25 April there are 72 - 2 + 2 + 10.
    assert_eq!((curve.times.as_slice(), curve.at_risk.as_slice()), (&[4, 15][..], &[80, 82][..]));
    // All that are alive are there at the end, but for the 10 still first instar.
    assert_eq!((cohort.alive, curve.at_risk_on(curve.last_day)), (78, 78));
}

#[test]
fn lines_that_were_taken_back_count_for_nothing() {
    let mut lines = in_steps();
    let plain = follow(&lines, &[], Origin::SecondInstar).unwrap();
    let early = line(20, "2026-04-02", LineKind::Moulted, "i1 > i2", 5);
    let sold = line(22, "2026-04-26", LineKind::Sold, "i2 > sold", 5);
    lines.extend([early.clone(), reversal(21, "2026-04-03", &early), sold.clone(), reversal(23, "2026-04-26", &sold)]);
    assert_eq!(follow(&lines, &[], Origin::SecondInstar).unwrap(), plain);
}

/// Twelve tagged out of a cohort that came in as second instars.
fn with_tags() -> Vec<Line> {
    vec![
        line(1, "2026-04-01", LineKind::Received, "in > i2", 60),
        line(2, "2026-04-10", LineKind::Tagged, "i2 > tagged", 12),
        line(3, "2026-04-20", LineKind::Lost, "i2 > lost", 6),
    ]
}

#[test]
fn tagged_animals_go_on_to_their_own_ends() {
    let mut tagged = vec![alive(2); 8];
    tagged.push(died(2, "2026-04-20", LossCause::FailedMoult));
    tagged.push(died(2, "2026-05-01", LossCause::Escape));
    tagged.push(TaggedEnd { left_on: Some(on("2026-05-11")), ..alive(2) });
    // Dated after today: still alive.
    tagged.push(died(2, "2026-06-02", LossCause::Mites));
    let cohort = follow(&with_tags(), &tagged, Origin::SecondInstar).unwrap();
    assert_eq!(counts(&cohort), (7, 53, 60));
    assert_eq!((cohort.tagged, cohort.escaped, cohort.alive), (12, 1, 42 + 9));
    let curve = kaplan_meier(&cohort.followed, None).unwrap();
    assert_eq!((curve.at_risk[0], curve.lost[0]), (60, 7));
    assert_eq!([29, 30, 31, 40, 41, 61].map(|day| curve.at_risk_on(day)), [53, 53, 52, 52, 51, 51]);
    assert!(cohort.explanation.ends_with("; 1 of those that left escaped; 12 tagged ones followed to their own ends"));
}

#[test]
fn a_tagged_animal_of_which_no_more_is_told_leaves_when_it_was_tagged() {
    let cohort = follow(&with_tags(), &[alive(2); 3], Origin::SecondInstar).unwrap();
    assert_eq!((counts(&cohort), cohort.tagged, cohort.alive), ((6, 54, 60), 3, 45));
    let curve = kaplan_meier(&cohort.followed, None).unwrap();
    assert_eq!((curve.at_risk_on(9), curve.at_risk_on(10)), (60, 51));
    assert!(cohort.explanation.contains("; 9 left when they were tagged, as no more is known of them"));
}

#[test]
fn animals_tagged_before_day_0_come_in_on_it_if_they_were_alive() {
    let tagged = [alive(2), died(2, "2026-04-11", LossCause::Mould), died(2, "2026-04-12", LossCause::Mould)];
    let cohort = follow(&with_tags(), &tagged, Origin::Separation).unwrap();
    // Separated on 12 April: the 48 left in the cohort, and two of the three tagged ones that are known of.
    assert_eq!((counts(&cohort), cohort.tagged), ((7, 43, 50), 2));
    assert_eq!(cohort.followed.entries.len(), 1);

    // All sold or dead before the separation, and others received after it.
    let mut lines = with_tags();
    lines.push(line(4, "2026-04-11", LineKind::Sold, "i2 > sold", 48));
    lines.retain(|line| line.id != 3);
    lines.push(line(5, "2026-04-20", LineKind::Received, "in > i2", 10));
    let dead = [died(2, "2026-04-11", LossCause::Mould); 12];
    let cohort = follow(&lines, &dead, Origin::Separation).unwrap();
    assert_eq!((counts(&cohort), cohort.tagged), ((0, 10, 10), 0));
    assert_eq!(kaplan_meier(&cohort.followed, None).unwrap().at_risk_on(8), 10);
}

#[test]
fn animals_tagged_before_the_stage_are_not_followed() {
    let mut lines = in_steps();
    lines.push(line(11, "2026-04-08", LineKind::Tagged, "i1 > tagged", 4));
    let cohort = follow(&lines, &[alive(11), alive(11)], Origin::SecondInstar).unwrap();
    assert_eq!((cohort.entered, cohort.tagged), (92, 0));
    assert!(cohort.explanation.ends_with("; 4 tagged before that stage are not followed"));
    assert_eq!(follow(&lines, &[alive(11), alive(11)], Origin::FirstInstar).unwrap().tagged, 2);
}

#[test]
fn losses_on_the_day_of_separation_are_losses_on_day_0() {
    let days = OriginDays { separated: Some(on("2026-04-20")), laid: None };
    let cohort = followed_from_ledger(&with_tags(), &[], Origin::Separation, days, on(TODAY)).unwrap();
    let curve = kaplan_meier(&cohort.followed, None).unwrap();
    assert_eq!((curve.times.as_slice(), curve.at_risk.as_slice(), curve.lost.as_slice()), (&[0][..], &[48][..], &[6][..]));
}

#[test]
fn what_is_dated_after_today_has_not_happened() {
    let cohort = followed_from_ledger(&worked(), &[], Origin::SecondInstar, days(), on("2026-05-01")).unwrap();
    assert_eq!((counts(&cohort), cohort.alive), ((31, 188, 219), 188));
}

#[test]
fn a_day_0_that_is_not_known_is_refused() {
    let unknown = |lines: &[Line], origin, today| followed_from_ledger(lines, &[], origin, OriginDays::default(), on(today)).unwrap_err();
    assert_eq!(unknown(&worked(), Origin::Laid, TODAY), CohortError::LaidNotKnown);
    assert_eq!(unknown(&worked(), Origin::Separation, TODAY), CohortError::SeparationNotKnown);
    let early = unknown(&worked(), Origin::SecondInstar, "2026-04-09");
    assert_eq!(early.to_string(), "none had reached second instar by 9 April 2026; choose an earlier day 0");
    assert!(matches!(unknown(&[], Origin::FirstInstar, TODAY), CohortError::NotReached { .. }));

    let laid = |day: &str| OriginDays { laid: Some(on(day)), separated: None };
    let refused = |day: &str| followed_from_ledger(&worked(), &[], Origin::Laid, laid(day), on(TODAY)).unwrap_err();
    assert_eq!(refused("2026-06-02"), CohortError::StillToCome(on("2026-06-02")));
    assert_eq!(refused("2026-03-02"), CohortError::BeforeLaid { line: 1, laid: on("2026-03-02") });
    let counted_that_day = followed_from_ledger(&worked(), &[], Origin::Laid, laid("2026-03-01"), on(TODAY)).unwrap();
    assert_eq!((counted_that_day.entered, counted_that_day.followed.entries[0].day), (240, 0));
    assert_eq!(follow(&[], &[], Origin::Laid), Err(CohortError::Nobody));
    let gone = [line(1, "2026-03-01", LineKind::Received, "in > i1", 5), line(2, "2026-03-02", LineKind::Sold, "i1 > sold", 5)];
    assert_eq!(follow(&gone, &[], Origin::Separation), Err(CohortError::Nobody));
}

#[test]
fn tagged_animals_that_do_not_fit_the_ledger_are_refused() {
    let refused = |tagged: &[TaggedEnd]| follow(&with_tags(), tagged, Origin::SecondInstar).unwrap_err();
    assert_eq!(refused(&[alive(9)]), CohortError::NotATagging(9));
    assert_eq!(refused(&[alive(3)]), CohortError::NotATagging(3));
    assert_eq!(refused(&[alive(2); 13]), CohortError::TooManyTagged { line: 2, quantity: 12, given: 13 });
    let both = TaggedEnd { left_on: Some(on("2026-05-01")), ..died(2, "2026-05-01", LossCause::Fall) };
    assert_eq!(refused(&[both]), CohortError::TwoEnds(2));
    let early = died(2, "2026-04-09", LossCause::Fall);
    assert_eq!(refused(&[early]), CohortError::EndBeforeTagging { line: 2, day: on("2026-04-09") });
    let mut lines = with_tags();
    lines.push(reversal(4, "2026-04-10", &lines[1]));
    assert_eq!(follow(&lines, &[alive(2)], Origin::SecondInstar), Err(CohortError::NotATagging(2)));
}

#[test]
fn ledgers_that_do_not_add_up_are_refused() {
    let mut lines = with_tags();
    lines.push(line(4, "2026-05-01", LineKind::Sold, "i2 > sold", 43));
    assert!(matches!(follow(&lines, &[], Origin::SecondInstar), Err(CohortError::Ledger(LedgerError::Short { .. }))));
    // Ten came in by mistake, five of them were sold before the mistake was seen, and others came in meanwhile.
    let mistaken = line(1, "2026-04-01", LineKind::Received, "in > i2", 10);
    let lines = [
        mistaken.clone(),
        line(2, "2026-04-02", LineKind::Sold, "i2 > sold", 5),
        line(3, "2026-04-04", LineKind::Received, "in > i2", 10),
        reversal(4, "2026-04-05", &mistaken),
    ];
    let refused = follow(&lines, &[], Origin::FirstInstar).unwrap_err();
    assert_eq!(refused, CohortError::Short(on("2026-04-02")));
    assert!(refused.to_string().contains("more had gone by 2 April 2026 than came in"));
}

#[test]
fn counts_beyond_the_book_are_refused() {
    let mut lines = vec![line(1, "2026-04-01", LineKind::Received, "in > i2", u32::MAX)];
    lines.push(line(2, "2026-04-02", LineKind::Recounted, "i2 > variance", u32::MAX));
    lines.push(line(3, "2026-04-03", LineKind::Recounted, "variance > i2", u32::MAX));
    assert_eq!(follow(&lines, &[], Origin::SecondInstar), Err(CohortError::TooMany));
}

/// Ends for some of the animals that a ledger tagged.
fn ends_for(lines: &[Line], choices: &[(u8, u64)]) -> Vec<TaggedEnd> {
    let tagging = standing(lines).into_iter().filter(|line| line.kind == LineKind::Tagged);
    let animals = tagging.flat_map(|line| (0..line.quantity).map(move |_| line));
    let end = |(line, (choice, after)): (&Line, &(u8, u64))| {
        let day = line.day + Days::new(*after);
        match choice {
            0 => alive(line.id),
            1 => TaggedEnd { died_on: Some((day, LossCause::Mites)), ..alive(line.id) },
            2 => TaggedEnd { died_on: Some((day, LossCause::Escape)), ..alive(line.id) },
            _ => TaggedEnd { left_on: Some(day), ..alive(line.id) },
        }
    };
    animals.zip(choices).map(end).collect()
}

/// How many were at risk on a day, from second instar on, counted afresh from the lines.
fn at_risk(lines: &[Line], ends: &[TaggedEnd], day: NaiveDate) -> i64 {
    let followed = |bucket: Bucket| matches!(bucket, Bucket::Stage(stage) if stage >= Stage::Instar(2));
    let own_end = |end: &TaggedEnd| end.died_on.map(|(day, _)| day).or(end.left_on).unwrap_or(NaiveDate::MAX);
    let from_line = |line: &Line| {
        let quantity = i64::from(line.quantity);
        let still = |end: &&TaggedEnd| end.line == line.id && day <= own_end(end);
        match (followed(line.from), followed(line.to)) {
            (false, true) if line.day <= day => quantity,
            (true, false) if line.day < day => ends.iter().filter(still).count() as i64 - quantity,
            _ => 0,
        }
    };
    standing(lines).into_iter().map(from_line).sum()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn whatever_the_history_all_that_came_in_are_lost_or_left(
        lines in any_ledger(),
        choices in prop::collection::vec((0_u8..4, 0_u64..60), 0..200),
        today in 0_u64..80,
    ) {
        let ends = ends_for(&lines, &choices);
        let today = on("2026-01-01") + Days::new(today);
        let days = OriginDays { laid: Some(on("2025-12-01")), separated: Some(on("2026-01-10")) };
        for origin in Origin::ALL {
            let cohort = match followed_from_ledger(&lines, &ends, *origin, days, today) {
                Ok(cohort) => cohort,
                Err(CohortError::NotReached { .. } | CohortError::Nobody | CohortError::Short(_) | CohortError::StillToCome(_)) => continue,
                Err(error) => return Err(TestCaseError::fail(error.to_string())),
            };
            prop_assert_eq!(cohort.entered, cohort.lost + cohort.left);
            prop_assert!(cohort.alive + cohort.escaped <= cohort.left && cohort.tagged as usize <= ends.len());
            let curve = kaplan_meier(&cohort.followed, None).unwrap();
            prop_assert_eq!((curve.entered, curve.total_lost, curve.total_left), (cohort.entered, cohort.lost, cohort.left));
            prop_assert!(days_between(cohort.day_zero, today) >= i64::from(curve.last_day));
            if *origin == Origin::SecondInstar {
                for day in 0..=u64::try_from(days_between(cohort.day_zero, today)).unwrap() {
                    let expected = at_risk(&lines, &ends, cohort.day_zero + Days::new(day));
                    prop_assert_eq!(i64::from(curve.at_risk_on(day as u32)), expected, "day {}", day);
                }
            }
        }
    }
}
