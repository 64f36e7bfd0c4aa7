use silkward::reckoning::moult::{fast_by_span, fast_of, feed_from, usual_interval, window};
use silkward::reckoning::words::{LifeStage, Pace};

use super::on;

// Worked value: arithmetic on the stated rule; common practice, no source.
#[test]
fn food_after_a_moult_by_size() {
    let moult = on("2026-03-01");
    assert_eq!(feed_from(moult, fast_by_span(12)), (on("2026-03-04"), on("2026-03-06")));
    assert_eq!(feed_from(moult, fast_by_span(140)), (on("2026-03-15"), on("2026-03-22")));
    let at_forty = fast_by_span(40);
    assert_eq!((at_forty.min_days, at_forty.max_days), (7, 10));
}

// Common practice, no source: each class includes its lower bound.
#[test]
fn every_bound_of_a_size_class_belongs_to_the_larger() {
    for (below, at, longest) in [(14, 15, 7), (39, 40, 10), (79, 80, 14), (119, 120, 21)] {
        assert!(fast_by_span(below).max_days < longest);
        assert_eq!(fast_by_span(at).max_days, longest);
    }
}

#[test]
fn an_unmeasured_animal_fasts_as_the_largest_of_its_stage() {
    assert_eq!(fast_of(None, LifeStage::Spiderling).max_days, 7);
    assert_eq!(fast_of(None, LifeStage::Juvenile).max_days, 10);
    assert_eq!(fast_of(None, LifeStage::Adult).max_days, 21);
    assert_eq!(fast_of(Some(12), LifeStage::Adult).max_days, 5);
}

// Common practice, no source.
#[test]
fn the_window_and_the_day_to_look_closer() {
    let usual = usual_interval(Pace::Medium, 30, false);
    assert_eq!(usual, (60, 120));
    let window = window(on("2026-01-01"), usual);
    assert_eq!((window.from, window.to), (on("2026-03-02"), on("2026-05-01")));
    assert_eq!(window.look_after, on("2026-06-30"));
    assert_eq!(usual_interval(Pace::Slow, 150, true), (365, 900));
    assert_eq!(usual_interval(Pace::Fast, 9, false), (14, 30));
}
