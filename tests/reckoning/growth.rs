use silkward::reckoning::growth::{GrowthError, PRZIBRAM_RATIO, VACHONI_RATIO, after_moults, doubt, moults_to_reach};

// Worked value: arithmetic on the ratio of Grammostola vachoni (Zool. Anz. 293: 37-45, 2021).
#[test]
fn five_millimetres_after_three_moults() {
    let span = after_moults(5.0, VACHONI_RATIO, 3).unwrap();
    assert!((span - 13.14).abs() < 0.005, "{span}");
}

// Worked value: the same ratio, and Przibram's rule (Faber 1994).
#[test]
fn moults_from_six_to_sixty_millimetres() {
    assert_eq!(moults_to_reach(6.0, 60.0, VACHONI_RATIO), Ok(8));
    assert_eq!(moults_to_reach(6.0, 60.0, PRZIBRAM_RATIO), Ok(10));
}

#[test]
fn the_number_of_moults_is_the_least_that_reaches() {
    for target in [6.0, 6.1, 7.56, 20.0, 200.0] {
        let moults = moults_to_reach(6.0, target, PRZIBRAM_RATIO).unwrap();
        let reached = |count: u32| after_moults(6.0, PRZIBRAM_RATIO, count as u16).unwrap();
        assert!(reached(moults) >= target - 1e-6);
        assert!(moults == 0 || reached(moults - 1) < target);
    }
}

#[test]
fn lengths_and_ratios_that_cannot_be_are_refused() {
    assert_eq!(after_moults(0.0, 1.3, 1), Err(GrowthError::Length));
    assert_eq!(after_moults(f64::NAN, 1.3, 1), Err(GrowthError::Length));
    assert_eq!(moults_to_reach(5.0, 9.0, 1.0), Err(GrowthError::Ratio));
}

// Common practice, no source: 1.05 to 1.70 is plausible, bounds included.
#[test]
fn an_implausible_growth_asks_for_a_second_look() {
    assert_eq!(doubt(100, 105), None);
    assert_eq!(doubt(100, 170), None);
    assert!(doubt(100, 104).unwrap().contains("× 1.04"));
    assert!(doubt(100, 171).unwrap().starts_with("check the measurement"));
}
