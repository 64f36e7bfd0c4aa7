use silkward::reckoning::units::{Unit, UnitError, convert};

use super::oracles::{cases, expects_error, near};

// NIST SP 811.
#[test]
fn every_reference_case_holds() {
    let mut ran = 0;
    for case in cases("units") {
        let input = &case["input"];
        let unit = |name: &str| input[name].as_str().unwrap().parse::<Unit>();
        let got = match (unit("from"), unit("to")) {
            (Ok(from), Ok(to)) => convert(input["value"].as_f64().unwrap(), from, to).ok(),
            _ => None,
        };
        if expects_error(&case) {
            assert_eq!(got, None, "{case}");
        } else {
            let expected = case["expected"]["value"].as_f64().unwrap();
            assert!(near(&case, got.unwrap(), expected), "{case} gave {got:?}");
        }
        ran += 1;
    }
    assert_eq!(ran, 40);
}

// Worked value: NIST SP 811.
#[test]
fn temperatures_and_a_leg_span_come_out_as_worked() {
    for (fahrenheit, celsius) in [(40.0, 4.4), (80.0, 26.7), (85.0, 29.4), (90.0, 32.2)] {
        let got = convert(fahrenheit, Unit::Fahrenheit, Unit::Celsius).unwrap();
        assert!((got - celsius).abs() < 0.05, "{fahrenheit}");
    }
    let span = convert(2.6, Unit::Inch, Unit::Millimetre).unwrap();
    assert!((span - 66.0).abs() < 0.05);
}

#[test]
fn what_is_no_number_is_refused() {
    assert_eq!(convert(f64::NAN, Unit::Inch, Unit::Inch), Err(UnitError::NotANumber));
    let mixed = convert(1.0, Unit::Gram, Unit::Inch).unwrap_err();
    assert_eq!(mixed.to_string(), "g cannot be converted to inches");
}
