//! Random histories: whatever is tried, what the ledger accepts is conserved and never below zero.

use chrono::Days;
use proptest::prelude::*;
use silkward::reckoning::ledger::{Bucket, Line, LineKind, Stage, balance_at, post, recount, replay, survival_to};
use silkward::reckoning::words::LossCause;

use super::on;

fn any_bucket() -> impl Strategy<Value = Bucket> {
    prop_oneof![
        3 => (0_usize..6).prop_map(|at| Bucket::Stage(Stage::all().nth(at).unwrap())),
        1 => prop::sample::select(vec![
            Bucket::In, Bucket::Lost, Bucket::Sold, Bucket::Tagged, Bucket::Moved, Bucket::Variance,
        ]),
    ]
}

/// Any line at all, mostly of a shape that its kind could have.
fn any_line() -> impl Strategy<Value = Line> {
    let kind = prop::sample::select(LineKind::ALL.to_vec());
    let cause = prop::option::weighted(0.9, prop::sample::select(LossCause::ALL.to_vec()));
    let parts = (kind, any_bucket(), any_bucket(), 0_u32..60, 0_u64..20, cause, 0_i64..40, any::<bool>());
    parts.prop_map(|(kind, from, to, quantity, day, cause, reverses, tidy)| {
        let (from, to) = if tidy { usual_ends(kind, from, to) } else { (from, to) };
        Line {
            id: 0,
            day: on("2026-01-01") + Days::new(day),
            from,
            to,
            quantity,
            kind,
            cause: cause.filter(|_| !tidy || kind == LineKind::Lost),
            reverses: (kind == LineKind::Reversal).then_some(reverses),
        }
    })
}

fn usual_ends(kind: LineKind, from: Bucket, to: Bucket) -> (Bucket, Bucket) {
    match kind {
        LineKind::Received => (Bucket::In, to),
        LineKind::Moulted => (from.min(to), from.max(to)),
        LineKind::Lost => (from, Bucket::Lost),
        LineKind::Tagged => (from, Bucket::Tagged),
        LineKind::Sold => (from, Bucket::Sold),
        LineKind::Moved => (from, Bucket::Moved),
        LineKind::Recounted | LineKind::Reversal => (from, to),
    }
}

/// Enters what the ledger accepts, and turns reversals into true mirror images so that some are.
fn enter(tries: Vec<Line>) -> Vec<Line> {
    let mut lines: Vec<Line> = Vec::new();
    for (id, mut tried) in tries.into_iter().enumerate() {
        tried.id = id as i64;
        let original = tried.reverses.and_then(|of| lines.iter().find(|line| line.id == of));
        if let Some(of) = original.filter(|_| tried.kind == LineKind::Reversal) {
            tried = Line { from: of.to, to: of.from, quantity: of.quantity, cause: of.cause, day: of.day.max(tried.day), ..tried };
        }
        if post(&lines, &tried).is_ok() {
            lines.push(tried);
        }
    }
    lines
}

/// Any ledger that was accepted.
pub fn any_ledger() -> impl Strategy<Value = Vec<Line>> {
    prop::collection::vec(any_line(), 1..70).prop_map(enter)
}

/// An independent sum, straight from the lines.
fn sum(lines: &[Line], bucket: Bucket) -> i64 {
    lines
        .iter()
        .map(|line| {
            let quantity = i64::from(line.quantity);
            i64::from(line.to == bucket) * quantity - i64::from(line.from == bucket) * quantity
        })
        .sum()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn whatever_is_accepted_is_conserved(tries in prop::collection::vec(any_line(), 1..70)) {
        let lines = enter(tries);
        for end in 0..=lines.len() {
            let balance = replay(&lines[..end]).unwrap();
            prop_assert!(balance.conserved());
            for bucket in balance.stages().keys().map(|stage| Bucket::Stage(*stage)) {
                prop_assert_eq!(i64::from(balance.of(bucket)), sum(&lines[..end], bucket));
            }
            prop_assert_eq!(-i64::from(balance.came_in()), sum(&lines[..end], Bucket::In));
        }
        for day in 0..40 {
            let balance = balance_at(&lines, on("2026-01-01") + Days::new(day)).unwrap();
            prop_assert!(balance.conserved());
        }
    }

    #[test]
    fn no_more_reach_a_stage_than_came_in(tries in prop::collection::vec(any_line(), 1..70)) {
        let lines = enter(tries);
        let mut earlier = u32::MAX;
        for stage in Stage::all() {
            let reached = survival_to(&lines, stage);
            prop_assert!(reached.reached <= reached.came_in);
            prop_assert!(reached.reached <= earlier);
            earlier = reached.reached;
        }
    }

    #[test]
    fn a_recount_brings_the_book_to_the_count(
        tries in prop::collection::vec(any_line(), 1..50),
        counts in prop::collection::btree_map((0_usize..6).prop_map(|at| Stage::all().nth(at).unwrap()), 0_u32..90, 0..6),
    ) {
        let mut lines = enter(tries);
        let book = replay(&lines).unwrap();
        for movement in recount(&book, &counts) {
            lines.push(Line {
                id: 1000 + lines.len() as i64,
                day: on("2026-12-31"),
                from: movement.from,
                to: movement.to,
                quantity: movement.quantity,
                kind: LineKind::Recounted,
                cause: None,
                reverses: None,
            });
        }
        let after = replay(&lines).unwrap();
        for (stage, count) in counts {
            prop_assert_eq!(after.of(Bucket::Stage(stage)), count);
        }
    }
}
