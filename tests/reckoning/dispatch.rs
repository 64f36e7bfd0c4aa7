//! Common practice, no source, but for the units: NIST SP 811. Sellers' published limits are 40 °F (4.4 °C) and 80 to 90 °F.

use serde_json::{Value, json};
use silkward::reckoning::dispatch::{Forecast, HeatPack, Journey, Rules, bit, days, degrees, dispatch};
use silkward::reckoning::reckon;
use silkward::reckoning::units::{Unit, convert};

use super::on;

/// A journey on Monday 13 April 2026.
fn journey(unit: Unit, here: (i64, i64), there: (i64, i64)) -> Journey {
    let forecast = |(low, high)| Forecast { low, high };
    Journey { day: on("2026-04-13"), unit, here: forecast(here), there: forecast(there) }
}

fn goes(unit: Unit, here: (i64, i64), there: (i64, i64)) -> bool {
    dispatch(&journey(unit, here, there), &Rules::default()).unwrap().may_go
}

// 40 °F = 4.4 °C, 80 = 26.7, 85 = 29.4, 90 = 32.2.
#[test]
fn sellers_limits_convert() {
    for (fahrenheit, celsius) in [(40.0, 4.4), (80.0, 26.7), (85.0, 29.4), (90.0, 32.2)] {
        assert_eq!((convert(fahrenheit, Unit::Fahrenheit, Unit::Celsius).unwrap() * 10.0).round() / 10.0, celsius);
    }
    assert_eq!(degrees(400, Unit::Fahrenheit), "40.0 °F (4.4 °C)");
    assert_eq!(degrees(-45, Unit::Celsius), "−4.5 °C");
}

#[test]
fn either_end_stops_it_at_the_limits_and_not_on_them() {
    assert!(goes(Unit::Celsius, (50, 300), (50, 300)));
    assert!(!goes(Unit::Celsius, (49, 200), (100, 200)));
    assert!(!goes(Unit::Celsius, (100, 200), (49, 200)));
    assert!(!goes(Unit::Celsius, (100, 301), (100, 200)));
    assert!(!goes(Unit::Celsius, (100, 200), (100, 301)));
    // 41 °F is 5 °C and 86 °F is 30 °C exactly.
    assert!(goes(Unit::Fahrenheit, (410, 860), (410, 860)));
    assert!(!goes(Unit::Fahrenheit, (409, 860), (410, 860)));
    assert!(!goes(Unit::Fahrenheit, (410, 860), (410, 861)));
    // The sellers' own limits are outside the house's.
    assert!(!goes(Unit::Fahrenheit, (400, 700), (500, 700)));
    assert!(goes(Unit::Fahrenheit, (500, 850), (500, 700)));
    assert!(!goes(Unit::Fahrenheit, (500, 900), (500, 700)));
}

#[test]
fn parcels_go_from_monday_to_wednesday() {
    for (day, may) in [("2026-04-13", true), ("2026-04-14", true), ("2026-04-15", true), ("2026-04-16", false), ("2026-04-19", false)] {
        let on_day = Journey { day: on(day), ..journey(Unit::Celsius, (100, 200), (100, 200)) };
        assert_eq!(dispatch(&on_day, &Rules::default()).unwrap().may_go, may, "{day}");
    }
    assert_eq!(days(0b0000_0111), "Monday, Tuesday and Wednesday");
    assert_eq!(days(bit(chrono::Weekday::Sun)), "Sunday");
}

#[test]
fn the_coldest_end_asks_for_the_heat_pack() {
    let pack = |low| dispatch(&journey(Unit::Celsius, (low, 250), (200, 250)), &Rules::default()).unwrap().heat_pack;
    assert_eq!([pack(99), pack(100), pack(149), pack(150)], [HeatPack::Needed, HeatPack::Judge, HeatPack::Judge, HeatPack::None]);
    assert!(HeatPack::Needed.label().contains("never touching the vial"));
}

#[test]
fn nonsense_is_refused() {
    let length = Journey { unit: Unit::Inch, ..journey(Unit::Celsius, (100, 200), (100, 200)) };
    assert!(dispatch(&length, &Rules::default()).is_err());
    assert!(dispatch(&journey(Unit::Celsius, (200, 100), (100, 200)), &Rules::default()).is_err());
}

#[test]
fn it_can_be_asked_from_outside() {
    let ask = |input: Value| reckon("dispatch", &input.to_string()).map(|answer| serde_json::from_str::<Value>(&answer).unwrap());
    let given = |low: f64| json!({"day": "2026-04-13", "unit": "f", "here": {"low": low, "high": 61.5}, "there": {"low": 41, "high": 70}});
    let answer = ask(given(40.0)).unwrap();
    assert_eq!(answer["may_go"], false);
    assert_eq!(answer["findings"][0]["text"], "40.0 °F (4.4 °C) forecast here; no dispatch below 5.0 °C");
    assert_eq!(ask(given(41.0)).unwrap()["may_go"], true);
    let mut colder = given(40.0);
    colder["rules"] = json!({"lowest_c": 4.4, "weekdays": ["mon", "fri"]});
    assert_eq!(ask(colder.clone()).unwrap()["may_go"], true);
    colder["day"] = json!("2026-04-14");
    assert_eq!(ask(colder).unwrap()["may_go"], false);
    assert!(ask(given(40.05)).unwrap_err().to_string().contains("here.low: has more than one decimal place"));
    assert!(ask(given(1e300)).unwrap_err().to_string().starts_with("here.low"));
    assert!(ask(json!({"day": "2026-04-13", "unit": "cm", "here": {"low": 1, "high": 2}, "there": {"low": 1, "high": 2}})).is_err());
}
