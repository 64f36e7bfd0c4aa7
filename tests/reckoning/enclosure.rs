use silkward::reckoning::enclosure::{needed_size, rehouse_due, settle_days, too_large_for_spiderling};
use silkward::reckoning::words::LifeStage;

// Worked value: arithmetic on the stated rule; common practice, no source.
#[test]
fn a_span_of_six_centimetres() {
    let needed = needed_size(60);
    assert_eq!((needed.length_mm, needed.width_mm, needed.fall_gap_mm), (180, 120, 90));
    assert!(rehouse_due(60, 150));
    assert!(!rehouse_due(60, 180));
    assert!(rehouse_due(61, 180));
}

// Common practice, no source.
#[test]
fn boxes_for_spiderlings_and_settling() {
    assert!(too_large_for_spiderling(10, 81));
    assert!(!too_large_for_spiderling(10, 80));
    assert_eq!(settle_days(LifeStage::Spiderling), (3, 7));
    assert_eq!(settle_days(LifeStage::Adult), (7, 14));
    assert!(rehouse_due(u32::MAX, u32::MAX));
}
