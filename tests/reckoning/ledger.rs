use std::collections::BTreeMap;

use silkward::reckoning::ledger::{
    Bucket, LedgerError, Line, LineKind, Movement, Stage, balance_at, held_and_free, middle_day, post, recount, replay, survival_to,
};
use silkward::reckoning::words::LossCause;

use super::on;

/// A line written as `bucket > bucket`.
pub fn line(id: i64, day: &str, kind: LineKind, movement: &str, quantity: u32) -> Line {
    let (from, to) = movement.split_once(" > ").unwrap();
    let cause = (kind == LineKind::Lost).then_some(LossCause::Unknown);
    let (from, to) = (from.parse().unwrap(), to.parse().unwrap());
    Line { id, day: on(day), from, to, quantity, kind, cause, reverses: None }
}

pub fn reversal(id: i64, day: &str, of: &Line) -> Line {
    Line { id, day: on(day), from: of.to, to: of.from, kind: LineKind::Reversal, reverses: Some(of.id), ..of.clone() }
}

/// A cohort from post-embryo to sale.
pub fn worked() -> Vec<Line> {
    let escaped = Line { cause: Some(LossCause::Escape), ..line(8, "2026-05-10", LineKind::Lost, "i2 > lost", 1) };
    vec![
        line(1, "2026-03-01", LineKind::Received, "in > ewl", 240),
        line(2, "2026-03-05", LineKind::Lost, "ewl > lost", 9),
        line(3, "2026-03-20", LineKind::Moulted, "ewl > i1", 231),
        line(4, "2026-04-01", LineKind::Lost, "i1 > lost", 12),
        line(5, "2026-04-10", LineKind::Moulted, "i1 > i2", 219),
        line(6, "2026-05-01", LineKind::Lost, "i2 > lost", 31),
        line(7, "2026-05-02", LineKind::Sold, "i2 > sold", 140),
        escaped,
        line(9, "2026-05-12", LineKind::Moved, "i2 > moved", 5),
    ]
}

// Worked value: arithmetic on the stated rule; common practice, no source. Of the 219 separated, 140 were sold, 31
// died, 1 escaped and 5 were traded.
#[test]
fn forty_two_on_hand_of_which_twenty_two_free() {
    let balance = replay(&worked()).unwrap();
    assert!(balance.conserved());
    assert_eq!(balance.came_in(), 240);
    assert_eq!(balance.of(Bucket::Lost), 9 + 12 + 31 + 1);
    assert_eq!(balance.lost_by_cause()[&LossCause::Escape], 1);
    assert_eq!(balance.alive(), 42);
    let split = held_and_free(balance.alive(), 20);
    assert_eq!((split.held, split.free), (20, 22));
    assert_eq!(held_and_free(12, 20).free, 0);
}

// Worked value: 219 of 240.
#[test]
fn survival_to_the_second_instar() {
    let reached = survival_to(&worked(), Stage::Instar(2));
    assert_eq!((reached.reached, reached.came_in), (219, 240));
    assert!((reached.ratio().unwrap() - 0.9125).abs() < 1e-12);
    assert_eq!(survival_to(&[], Stage::Egg).ratio(), None);
}

#[test]
fn survival_counts_neither_reversed_lines_nor_errors_of_counting() {
    let mut lines = worked();
    let mistaken = line(10, "2026-05-20", LineKind::Received, "in > i2", 7);
    lines.push(mistaken.clone());
    lines.push(reversal(11, "2026-05-21", &mistaken));
    assert_eq!(survival_to(&lines, Stage::Instar(2)).reached, 219);
    lines.push(line(12, "2026-05-22", LineKind::Recounted, "i2 > variance", 4));
    let reached = survival_to(&lines, Stage::Instar(2));
    assert_eq!((reached.reached, reached.came_in), (215, 236));
}

// The lower median by its definition: of 10 + 20 + 31 = 61 that came to the second instar, the 31st came on the third day,
// and of 10 + 20 + 30 = 60 the 30th on the second.
#[test]
fn the_middle_day_is_the_median_day_of_those_that_moulted_into_a_stage() {
    let came = |last: u32| {
        vec![
            line(1, "2026-03-01", LineKind::Received, "in > i1", 100),
            line(2, "2026-03-01", LineKind::Received, "in > i2", 500),
            line(3, "2026-03-09", LineKind::Moulted, "i1 > i2", 31),
            line(4, "2026-03-10", LineKind::Moulted, "i1 > i2", 10),
            line(5, "2026-03-15", LineKind::Moulted, "i1 > i2", 20),
            line(6, "2026-03-20", LineKind::Moulted, "i1 > i2", last),
        ]
    };
    let taken_back = |mut lines: Vec<Line>| {
        lines.push(reversal(7, "2026-03-21", &lines[2].clone()));
        lines
    };
    assert_eq!(middle_day(&taken_back(came(31)), Stage::Instar(2)), Some(on("2026-03-20")));
    assert_eq!(middle_day(&taken_back(came(30)), Stage::Instar(2)), Some(on("2026-03-15")));
    assert_eq!(middle_day(&came(30), Stage::Instar(2)), Some(on("2026-03-15")));
    assert_eq!(middle_day(&came(30), Stage::Instar(3)), None);
}

#[test]
fn the_balance_at_a_day_leaves_later_days_out() {
    let balance = balance_at(&worked(), on("2026-04-05")).unwrap();
    assert_eq!(balance.stages(), BTreeMap::from([(Stage::Instar(1), 219)]));
    assert!(balance.conserved());
    assert_eq!(balance_at(&worked(), on("2020-01-01")).unwrap().came_in(), 0);
}

#[test]
fn a_bucket_never_goes_below_zero_in_the_order_of_entry() {
    let too_many = line(10, "2026-06-01", LineKind::Sold, "i2 > sold", 43);
    let refused = post(&worked(), &too_many).unwrap_err();
    let LedgerError::Short { there, asked, bucket, .. } = &refused else { panic!("{refused}") };
    assert_eq!((*there, *asked, *bucket), (42, 43, Bucket::Stage(Stage::Instar(2))));
    assert!(refused.to_string().starts_with("only 42 in “second instar”"));
}

#[test]
fn a_bucket_never_goes_below_zero_at_the_end_of_a_day() {
    let before_the_moult = line(10, "2026-04-09", LineKind::Sold, "i2 > sold", 1);
    let refused = post(&worked(), &before_the_moult).unwrap_err();
    assert!(matches!(refused, LedgerError::ShortAtEndOfDay { missing: 1, .. }), "{refused}");
    // Entered late, but on the day itself, it stands.
    let same_day = line(10, "2026-04-10", LineKind::Sold, "i2 > sold", 1);
    assert!(post(&worked(), &same_day).is_ok());
}

#[test]
fn movements_that_a_kind_of_line_cannot_make_are_refused() {
    let wrong = [
        (LineKind::Moulted, "i2 > i2"),
        (LineKind::Moulted, "i2 > i1"),
        (LineKind::Moulted, "in > i2"),
        (LineKind::Received, "i2 > i3"),
        (LineKind::Received, "in > sold"),
        (LineKind::Sold, "i2 > lost"),
        (LineKind::Lost, "in > lost"),
        (LineKind::Tagged, "ewl > tagged"),
        (LineKind::Moved, "moved > i2"),
        (LineKind::Recounted, "i2 > in"),
        (LineKind::Recounted, "lost > i2"),
    ];
    for (kind, movement) in wrong {
        let refused = post(&worked(), &line(10, "2026-06-01", kind, movement, 1)).unwrap_err();
        assert!(matches!(refused, LedgerError::IllegalMove { .. }), "{kind} {movement}: {refused}");
    }
    let beyond = Line { to: Bucket::Stage(Stage::Instar(21)), ..line(10, "2026-06-01", LineKind::Moulted, "i2 > i3", 1) };
    assert!(matches!(post(&worked(), &beyond), Err(LedgerError::IllegalMove { .. })));
}

#[test]
fn causes_quantities_and_numbers_are_checked() {
    let sound = line(10, "2026-06-01", LineKind::Lost, "i2 > lost", 1);
    let refused = |line: Line| post(&worked(), &line).unwrap_err();
    assert_eq!(refused(Line { cause: None, ..sound.clone() }), LedgerError::CauseMissing);
    assert_eq!(refused(Line { quantity: 0, ..sound.clone() }), LedgerError::Nothing);
    assert_eq!(refused(Line { id: 3, ..sound.clone() }), LedgerError::DuplicateLine(3));
    assert_eq!(refused(Line { reverses: Some(3), ..sound }), LedgerError::ReversalLink);
    let sold = line(10, "2026-06-01", LineKind::Sold, "i2 > sold", 1);
    let caused = Line { cause: Some(LossCause::Mould), ..sold };
    assert_eq!(refused(caused), LedgerError::CauseMisplaced);
    let flood = line(10, "2026-06-01", LineKind::Received, "in > i2", u32::MAX);
    assert_eq!(refused(flood), LedgerError::TooMany);
}

#[test]
fn a_line_is_taken_back_by_its_mirror_image() {
    let loss = worked()[3].clone();
    let back = reversal(10, "2026-06-01", &loss);
    let balance = post(&worked(), &back).unwrap();
    assert_eq!(balance.of(Bucket::Lost), 41);
    assert!(balance.conserved());

    let refused = |line: Line| post(&worked(), &line).unwrap_err();
    let off_by_one = Line { quantity: 11, ..back.clone() };
    assert_eq!(refused(off_by_one), LedgerError::NotAMirror(4));
    let without_cause = Line { cause: None, ..back.clone() };
    assert_eq!(refused(without_cause), LedgerError::NotAMirror(4));
    let of_nothing = Line { reverses: None, ..back.clone() };
    assert_eq!(refused(of_nothing), LedgerError::ReversalLink);
    let of_a_stranger = Line { reverses: Some(99), ..back };
    assert_eq!(refused(of_a_stranger), LedgerError::NoSuchLine(99));
    let too_early = reversal(10, "2026-03-31", &loss);
    assert_eq!(refused(too_early), LedgerError::ReversedTooEarly(4));
}

#[test]
fn a_line_is_taken_back_once() {
    let mut lines = worked();
    let back = reversal(10, "2026-06-01", &lines[3]);
    lines.push(back.clone());
    let again = Line { id: 11, ..back.clone() };
    assert_eq!(post(&lines, &again), Err(LedgerError::AlreadyReversed(4)));
    let back_and_forth = reversal(11, "2026-06-02", &back);
    assert_eq!(post(&lines, &back_and_forth), Err(LedgerError::ReversalOfReversal(10)));
}

#[test]
fn taking_back_what_has_moved_on_is_refused() {
    let arrival = worked()[0].clone();
    let refused = post(&worked(), &reversal(10, "2026-06-01", &arrival)).unwrap_err();
    assert!(matches!(refused, LedgerError::Short { there: 0, .. }), "{refused}");
}

#[test]
fn a_recount_uses_variance_before_taking_more_as_come_in() {
    let book = replay(&worked()).unwrap();
    let i2 = Bucket::Stage(Stage::Instar(2));
    let short = recount(&book, &BTreeMap::from([(Stage::Instar(2), 39)]));
    assert_eq!(short, [Movement { from: i2, to: Bucket::Variance, quantity: 3 }]);

    let mut lines = worked();
    lines.push(line(10, "2026-06-01", LineKind::Recounted, "i2 > variance", 3));
    let book = replay(&lines).unwrap();
    let surplus = recount(&book, &BTreeMap::from([(Stage::Instar(2), 44)]));
    assert_eq!(surplus, [Movement { from: Bucket::Variance, to: i2, quantity: 3 }, Movement { from: Bucket::In, to: i2, quantity: 2 },]);
    assert_eq!(recount(&book, &BTreeMap::from([(Stage::Instar(2), 39)])), []);
}

#[test]
fn stages_and_buckets_read_and_write_their_codes() {
    for stage in Stage::all() {
        assert_eq!(stage.code().parse(), Ok(stage));
        assert_eq!(stage.code().parse(), Ok(Bucket::Stage(stage)));
    }
    let labels = ["egg", "ewl", "i1", "i2", "i3", "i4", "i20"].map(|code| code.parse::<Stage>().unwrap().label());
    let expected = ["egg", "post-embryo", "first instar", "second instar", "third instar", "4th instar", "20th instar"];
    assert_eq!(labels, expected);
    for wrong in ["", "i0", "i21", "i02", "L1"] {
        assert!(wrong.parse::<Stage>().is_err(), "{wrong}");
    }
    assert_eq!(Stage::Instar(20).next(), None);
    assert_eq!(Stage::PostEmbryo.next(), Some(Stage::Instar(1)));
}
