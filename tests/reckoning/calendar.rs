use chrono::{DateTime, TimeZone, Utc};
use silkward::reckoning::calendar::{CalendarError, days_after, days_between, local_date, local_day, written};

use super::on;
use super::oracles::{cases, expects_error, near};

// IANA time zone data, values by a reference library.
#[test]
fn every_reference_case_holds() {
    let mut ran = 0;
    for case in cases("calendar") {
        let text = |name: &str| case["input"][name].as_str().unwrap();
        let got = local_day(text("zone"), text("date"));
        if expects_error(&case) {
            assert!(got.is_err(), "{case}");
        } else {
            let day = got.unwrap();
            let start: DateTime<Utc> = case["expected"]["start_utc"].as_str().unwrap().parse().unwrap();
            assert_eq!(day.start, start, "{case}");
            assert!(near(&case, day.hours, case["expected"]["hours"].as_f64().unwrap()), "{case}");
        }
        ran += 1;
    }
    assert_eq!(ran, 134);
}

#[test]
fn the_start_of_a_day_has_that_local_date_and_the_second_before_has_not() {
    for zone in [chrono_tz::Europe::London, chrono_tz::America::Havana, chrono_tz::Asia::Beirut] {
        let mut day = on("2026-01-01");
        for _ in 0..730 {
            let start = local_day(zone.name(), &day.to_string()).unwrap().start;
            assert_eq!(local_date(zone, start), day);
            assert_ne!(local_date(zone, start - chrono::Duration::seconds(1)), day);
            day = days_after(day, 1);
        }
    }
}

#[test]
fn each_mistake_has_its_own_error() {
    assert_eq!(local_day("Pacific/Apia", "2011-12-30"), Err(CalendarError::Skipped(on("2011-12-30"))));
    assert!(matches!(local_day("Europe/London", "2027-02-29"), Err(CalendarError::NotADate(_))));
    assert!(matches!(local_day("Europe/Nowhere", "2027-03-01"), Err(CalendarError::UnknownZone(_))));
    assert!(local_day("Europe/London", "262142-12-31").is_err());
}

#[test]
fn days_are_counted_and_written() {
    assert_eq!(days_between(on("2026-03-01"), on("2026-03-06")), 5);
    assert_eq!(written(on("2026-03-06")), "6 March 2026");
    assert_eq!(days_after(chrono::NaiveDate::MAX, 9), chrono::NaiveDate::MAX);
    let late = Utc.with_ymd_and_hms(2026, 7, 1, 23, 30, 0).unwrap();
    assert_eq!(local_date(chrono_tz::Europe::London, late), on("2026-07-02"));
}
