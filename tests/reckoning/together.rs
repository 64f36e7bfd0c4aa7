//! When people are in together, held against counting minute by minute.

use proptest::prelude::*;
use silkward::reckoning::together::Span;

fn minutes(spans: &[Span]) -> Vec<u32> {
    spans.iter().flat_map(|span| span.from..span.to).collect()
}

#[test]
fn a_morning_with_two_reservations() {
    let morning = Span { from: 480, to: 720 };
    let taken = [Span { from: 600, to: 630 }, Span { from: 500, to: 520 }, Span { from: 900, to: 930 }];
    assert_eq!(morning.without(&taken, 30), [Span { from: 520, to: 600 }, Span { from: 630, to: 720 }]);
    assert_eq!(morning.common(Span { from: 700, to: 800 }), Some(Span { from: 700, to: 720 }));
    assert_eq!(morning.common(Span { from: 720, to: 800 }), None);
    assert!(morning.holds(Span { from: 480, to: 720 }) && !morning.holds(Span { from: 480, to: 721 }));
}

proptest! {
    #[test]
    fn what_is_left_is_what_no_minute_of_which_is_taken(
        hours in (0_u32..200, 0_u32..200), taken in prop::collection::vec((0_u32..200, 0_u32..200), 0..6), least in 1_u32..30,
    ) {
        let span = |(one, other): (u32, u32)| Span { from: one.min(other), to: one.max(other) };
        let (hours, taken) = (span(hours), taken.into_iter().map(span).collect::<Vec<_>>());
        let free: Vec<u32> = (hours.from..hours.to).filter(|minute| !minutes(&taken).contains(minute)).collect();
        prop_assert_eq!(minutes(&hours.without(&taken, 1)), free);
        for part in hours.without(&taken, least) {
            prop_assert!(part.minutes() >= least && hours.holds(part));
            prop_assert!(taken.iter().all(|other| part.common(*other).is_none()));
        }
    }
}
