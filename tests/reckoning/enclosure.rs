use silkward::reckoning::enclosure::{
    Measure, NewBox, Occupant, check_size, needed_size, rehouse_due, settle_days, too_large_for_spiderling,
};
use silkward::reckoning::words::{Habit, LifeStage};

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

fn occupant(span_mm: u32, life_stage: LifeStage, habit: Habit) -> Occupant {
    Occupant { span_mm, life_stage, habit }
}

fn broken(length_mm: u32, width_mm: u32, fall_gap_mm: u32, who: Occupant) -> Vec<Measure> {
    let new = NewBox { length_mm, width_mm: Some(width_mm), fall_gap_mm: Some(fall_gap_mm) };
    let check = check_size(&new, who);
    assert_eq!(check.impossible, [], "{new:?}");
    check.broken.into_iter().map(|remark| remark.measure).collect()
}

// Worked value: a span of 6 cm asks for 18 × 12 cm and a gap of 9 cm at the most; common practice, no source.
#[test]
fn a_new_box_is_held_against_the_rules_of_size() {
    let ground = occupant(60, LifeStage::Juvenile, Habit::Terrestrial);
    assert_eq!(broken(180, 120, 90, ground), []);
    assert_eq!(broken(179, 120, 90, ground), [Measure::Length]);
    assert_eq!(broken(180, 119, 90, ground), [Measure::Width]);
    assert_eq!(broken(180, 120, 91, ground), [Measure::FallGap]);
    assert_eq!(broken(150, 100, 200, ground), [Measure::Length, Measure::Width, Measure::FallGap]);
    // Those that climb, or dig, or are as light as spiderlings, may have any gap.
    assert_eq!(broken(180, 120, 400, occupant(60, LifeStage::Juvenile, Habit::Arboreal)), []);
    assert_eq!(broken(60, 40, 400, occupant(15, LifeStage::Spiderling, Habit::Terrestrial)), []);
    // Only a spiderling loses its prey in a large box.
    assert_eq!(broken(121, 40, 20, occupant(15, LifeStage::Spiderling, Habit::Terrestrial)), [Measure::Length]);
    assert_eq!(broken(120, 40, 20, occupant(15, LifeStage::Spiderling, Habit::Terrestrial)), []);
    assert_eq!(broken(900, 400, 60, ground), []);
}

// Common practice, no source.
#[test]
fn a_box_that_can_not_be_is_refused() {
    let ground = occupant(60, LifeStage::Adult, Habit::Terrestrial);
    let refused = |length_mm, width_mm, fall_gap_mm| -> Vec<Measure> {
        check_size(&NewBox { length_mm, width_mm, fall_gap_mm }, ground).impossible.into_iter().map(|remark| remark.measure).collect()
    };
    assert_eq!(refused(59, Some(50), Some(50)), [Measure::Length]);
    assert_eq!(refused(200, Some(201), Some(50)), [Measure::Width]);
    assert_eq!(refused(200, None, None), [Measure::Width, Measure::FallGap]);
    assert_eq!(refused(200, Some(150), Some(50)), []);
    let said = check_size(&NewBox { length_mm: 150, width_mm: Some(120), fall_gap_mm: Some(90) }, ground).broken;
    assert_eq!(said[0].says, "150 mm long; a span of 60 mm wants 180 mm (three times the span).");
}
