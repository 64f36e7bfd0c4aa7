//! What a usual week, absences and the word of the day make of a day together.

use chrono::{Days, NaiveDate};
use serde_json::Value;
use silkward::house::audit::Change;
use silkward::house::errors::AppError;
use silkward::house::ids::{AbsenceId, MemberId, PatternId};
use silkward::reckoning::calendar;
use silkward::staff::model::OnDay;
use silkward::staff::model::rota::{
    Absence, AbsenceKind, Hours, NewAbsence, Said, Times, Week, WorkPattern, clock, clock_minutes, holding,
};
use silkward::staff::store::rota;

use crate::support::{TestHouse, noon, number};

/// A Wednesday.
fn wednesday() -> NaiveDate {
    day("2026-04-15")
}

fn day(iso: &str) -> NaiveDate {
    iso.parse().unwrap()
}

const EARLY: Hours = Hours { starts: 420, ends: 780, minutes: 300 };

/// Mornings from Monday to Friday.
fn weekdays(hours: Hours) -> Week {
    let mut week = [Some(hours); 7];
    week[5] = None;
    week[6] = None;
    week
}

fn pattern(id: i64, valid_from: &str, week: Week) -> WorkPattern {
    let (id, member, entered_by, entered_at) = (PatternId(id), MemberId(1), None, noon());
    WorkPattern { id, member, valid_from: day(valid_from), week, entered_by, entered_at }
}

fn absence(first: &str, last: &str, kind: AbsenceKind) -> Absence {
    Absence {
        id: AbsenceId(1),
        member_id: MemberId(1),
        first_day: day(first),
        last_day: day(last),
        kind,
        note: String::new(),
        entered_by: None,
        entered_at: noon(),
        cancelled_by: None,
        cancelled_at: None,
    }
}

fn on(times: &Times, day: NaiveDate, said: Option<Said>) -> OnDay {
    times.on((MemberId(1), "Bo"), day, said)
}

#[test]
fn without_a_week_somebody_is_in_from_eight_to_five_with_240_minutes() {
    let bo = on(&Times::default(), wednesday(), None);
    assert_eq!((bo.present, bo.minutes, bo.hours().as_str(), bo.why_not, bo.said), (true, 240, "08:00–17:00", None, false));
}

#[test]
fn the_week_that_began_last_holds_and_of_two_with_one_first_day_the_later_entry() {
    let patterns = [
        pattern(3, "2026-04-13", weekdays(EARLY)),
        pattern(1, "2026-01-01", [None; 7]),
        pattern(2, "2026-04-13", [None; 7]),
        pattern(9, "2026-04-16", [None; 7]),
    ];
    let id = |day: NaiveDate| holding(&patterns, day).map(|pattern| pattern.id.0);
    assert_eq!(id(day("2025-12-31")), None);
    assert_eq!(
        (id(day("2026-04-12")), id(day("2026-04-13")), id(wednesday()), id(day("2026-04-16"))),
        (Some(1), Some(3), Some(3), Some(9))
    );
}

#[test]
fn a_day_off_says_which_weekday_it_is() {
    let times = Times { patterns: vec![pattern(1, "2026-04-13", weekdays(EARLY))], absences: vec![] };
    let sunday = on(&times, day("2026-04-19"), None);
    assert_eq!((sunday.present, sunday.why_not.as_deref()), (false, Some("does not work on Sundays")));
    let monday = on(&times, day("2026-04-20"), None);
    assert_eq!((monday.present, monday.minutes, monday.starts, monday.ends), (true, 300, 420, 780));
    assert!(on(&times, day("2026-04-12"), None).present, "the Sunday before the week began");
}

#[test]
fn an_absence_outweighs_the_week_on_each_of_its_days_and_says_until_when() {
    let times = Times { patterns: vec![], absences: vec![absence("2026-04-14", "2026-04-16", AbsenceKind::Leave)] };
    let why = |at: &str| on(&times, day(at), None).why_not;
    assert_eq!((why("2026-04-13"), why("2026-04-17")), (None, None));
    assert_eq!(why("2026-04-14").as_deref(), Some("on leave until 16 April"));
    assert_eq!(why("2026-04-16").as_deref(), Some("on leave"));
    let times = Times { absences: vec![absence("2026-12-20", "2027-01-02", AbsenceKind::Ill)], ..times };
    assert_eq!(on(&times, day("2026-12-24"), None).why_not.as_deref(), Some("ill until 2 January 2027"));
}

#[test]
fn a_cancelled_absence_counts_no_longer() {
    let cancelled = Absence { cancelled_at: Some(noon()), ..absence("2026-04-14", "2026-04-16", AbsenceKind::Leave) };
    assert!(on(&Times { patterns: vec![], absences: vec![cancelled] }, wednesday(), None).present);
}

#[test]
fn what_was_said_of_the_day_outweighs_both() {
    let times = Times {
        patterns: vec![pattern(1, "2026-01-01", weekdays(EARLY))],
        absences: vec![absence("2026-04-14", "2026-04-16", AbsenceKind::Training)],
    };
    let there = on(&times, wednesday(), Some(Said { present: true, minutes: 90 }));
    assert_eq!((there.present, there.minutes, there.why_not, there.said), (true, 90, None, true));
    let not = on(&times, wednesday(), Some(Said { present: false, minutes: 90 }));
    assert_eq!(not.why_not.as_deref(), Some("in training until 16 April"));
    let not = on(&times, day("2026-04-17"), Some(Said { present: false, minutes: 90 }));
    assert_eq!((not.present, not.why_not.as_deref()), (false, Some("said not to be in")));
    assert!(on(&times, day("2026-04-19"), Some(Said { present: true, minutes: 60 })).present, "in on a Sunday after all");
}

#[test]
fn a_span_overlaps_when_it_shares_a_single_day() {
    let away = absence("2026-04-14", "2026-04-16", AbsenceKind::Leave);
    let shares = |first: &str, last: &str| away.overlaps(day(first), day(last));
    assert!(shares("2026-04-10", "2026-04-14") && shares("2026-04-16", "2026-04-30") && shares("2026-04-15", "2026-04-15"));
    assert!(shares("2026-04-01", "2026-04-30"));
    assert!(!shares("2026-04-10", "2026-04-13") && !shares("2026-04-17", "2026-04-20"));
}

#[test]
fn clocks_are_read_as_they_are_shown() {
    for minutes in [0, 1, 59, 60, 485, 1439, 1440] {
        assert_eq!(clock_minutes(&clock(minutes)), Some(minutes));
    }
    assert_eq!((clock_minutes("8:05"), clock_minutes(" 08.05 ")), (Some(485), Some(485)));
    for wrong in ["25:00", "24:01", "8", "8:60", "-1:00", "8:-5", "+8:00", "008:00", "8:000", "", "noon", "8:0x"] {
        assert_eq!(clock_minutes(wrong), None, "{wrong}");
    }
}

/// Days and zones of `tests/oracles/calendar.json` (IANA time zone data by Python's zoneinfo).
#[test]
fn a_working_day_comes_once_for_each_local_day_whatever_the_clocks_do() {
    let file = std::fs::read_to_string("tests/oracles/calendar.json").unwrap();
    let cases: Value = serde_json::from_str(&file).unwrap();
    let week = pattern(1, "2000-01-01", [Some(EARLY); 7]);
    let times = Times { patterns: vec![week], absences: vec![] };
    let mut changes = 0;
    for case in cases["cases"].as_array().unwrap() {
        let Some(hours) = case["expected"]["hours"].as_f64() else { continue };
        let (zone, date) = (case["input"]["zone"].as_str().unwrap(), day(case["input"]["date"].as_str().unwrap()));
        changes += usize::from((hours - 24.0).abs() > 0.01);
        let start = calendar::local_day(zone, &date.to_string()).unwrap().start;
        let zone: chrono_tz::Tz = zone.parse().unwrap();
        // Every quarter of an hour of the day as long as the reference says it is.
        let quarters = (hours * 4.0).round() as i64;
        let seen: Vec<OnDay> = (0..quarters)
            .map(|quarter| calendar::local_date(zone, start + chrono::TimeDelta::minutes(15 * quarter)))
            .map(|local| on(&times, local, None))
            .collect();
        assert!(seen.iter().all(|here| *here == on(&times, date, None)), "{}", case["id"]);
        assert_eq!(on(&times, date, None).hours(), "07:00–13:00");
        for beside in [date - Days::new(1), date + Days::new(1)] {
            assert_eq!(on(&times, beside, None).minutes, 300, "{}", case["id"]);
        }
    }
    assert!(changes >= 6, "only {changes} clock changes are in the file");
}

async fn change<T>(
    house: &TestHouse,
    run: impl AsyncFnOnce(&mut silkward::house::write::Write) -> Result<T, AppError>,
) -> Result<T, AppError> {
    let mut write = house.app.write(None).await.unwrap();
    let done = run(&mut write).await?;
    write.commit(Change::new("test.changed", "rota", ""), "/").await.unwrap();
    Ok(done)
}

fn away(member: MemberId, first: &str, last: &str) -> NewAbsence {
    NewAbsence { member, first_day: day(first), last_day: day(last), kind: AbsenceKind::Leave, note: String::new() }
}

#[tokio::test]
async fn the_book_gives_everybody_who_looks_after_animals_on_every_day_of_a_span() {
    let house = TestHouse::start().await;
    let (ada, bo) = (house.person("Ada", "owner").await.id(), house.person("Bo", "keeper").await.id());
    house.person("Cyprian", "counter").await;
    change(&house, async |write| {
        rota::set_week(write, bo, day("2026-04-01"), &weekdays(EARLY)).await?;
        rota::add_absence(write, &away(ada, "2026-04-16", "2026-04-17")).await?;
        rota::say(write, day("2026-04-17"), bo, Said { present: true, minutes: 60 }).await
    })
    .await
    .unwrap();
    let mut db = house.app.read().await.unwrap();
    let days = rota::between(&mut db, day("2026-04-15"), day("2026-04-19")).await.unwrap();
    assert_eq!(days.len(), 5);
    let in_on = |at: &str| days[&day(at)].iter().filter(|one| one.present).map(|one| (one.name.as_str(), one.minutes)).collect::<Vec<_>>();
    assert_eq!(in_on("2026-04-15"), [("Ada", 240), ("Bo", 300)]);
    assert_eq!(in_on("2026-04-16"), [("Bo", 300)]);
    assert_eq!(in_on("2026-04-17"), [("Bo", 60)]);
    assert_eq!(in_on("2026-04-19"), [("Ada", 240)]);
    let single = rota::on_day(&mut db, day("2026-04-17")).await.unwrap();
    assert_eq!(single, days[&day("2026-04-17")]);
    assert!(rota::between(&mut db, day("2026-04-19"), day("2026-04-15")).await.unwrap().is_empty());
}

#[tokio::test]
async fn a_new_absence_takes_the_place_of_what_was_said_of_its_days_but_not_of_days_gone_by() {
    let house = TestHouse::start().await;
    let bo = house.person("Bo", "keeper").await.id();
    let said = Said { present: true, minutes: 60 };
    change(&house, async |write| {
        for at in ["2026-04-14", "2026-04-15", "2026-04-16", "2026-04-20"] {
            rota::say(write, day(at), bo, said).await?;
        }
        rota::add_absence(write, &away(bo, "2026-04-13", "2026-04-17")).await
    })
    .await
    .unwrap();
    assert_eq!(number(&house, "SELECT COUNT(*) FROM at_work WHERE day IN ('2026-04-14', '2026-04-20')").await, 2);
    assert_eq!(number(&house, "SELECT COUNT(*) FROM at_work").await, 2);
}

#[tokio::test]
async fn overlapping_absences_are_refused_by_the_store_and_by_the_database() {
    let house = TestHouse::start().await;
    let (ada, bo) = (house.person("Ada", "lead").await.id(), house.person("Bo", "keeper").await.id());
    let first = change(&house, async |write| rota::add_absence(write, &away(bo, "2026-04-13", "2026-04-17")).await).await.unwrap();
    let refused = change(&house, async |write| rota::add_absence(write, &away(bo, "2026-04-17", "2026-04-20")).await).await.unwrap_err();
    assert!(refused.to_string().contains("on leave already, from 13 Apr 2026 to 17 Apr 2026"), "{refused}");
    let raw = "INSERT INTO absence (member_id, first_day, last_day, kind, entered_at) VALUES (2, '2026-04-10', '2026-04-13', 'ill', '2026-04-15T08:00:00+00:00')";
    let refused = AppError::from(sqlx::query(raw).execute(&house.app.database.writer).await.unwrap_err());
    assert!(matches!(&refused, AppError::Refused(_)) && refused.to_string().contains("away on some of these days already"), "{refused}");
    change(&house, async |write| rota::add_absence(write, &away(ada, "2026-04-17", "2026-04-20")).await).await.unwrap();
    change(&house, async |write| rota::cancel_absence(write, first).await).await.unwrap();
    change(&house, async |write| rota::add_absence(write, &away(bo, "2026-04-17", "2026-04-20")).await).await.unwrap();
    let twice = change(&house, async |write| rota::cancel_absence(write, first).await).await.unwrap_err();
    assert!(matches!(twice, AppError::Conflict(_)));
}

#[tokio::test]
async fn weeks_and_absences_are_never_changed_or_removed() {
    let house = TestHouse::start().await;
    let bo = house.person("Bo", "keeper").await.id();
    change(&house, async |write| {
        rota::set_week(write, bo, day("2026-04-01"), &weekdays(EARLY)).await?;
        rota::add_absence(write, &away(bo, "2026-04-13", "2026-04-17")).await
    })
    .await
    .unwrap();
    for (statement, allowed) in [
        ("UPDATE work_pattern SET valid_from = '2026-05-01'", false),
        ("DELETE FROM work_day", false),
        ("DELETE FROM work_pattern", false),
        ("UPDATE work_day SET minutes = 10", false),
        ("INSERT INTO work_day (pattern_id, weekday, starts, ends, minutes) VALUES (1, 6, 600, 660, 61)", false),
        ("INSERT INTO work_day (pattern_id, weekday, starts, ends, minutes) VALUES (1, 6, 600, 600, 0)", false),
        ("DELETE FROM absence", false),
        ("UPDATE absence SET last_day = '2026-04-18'", false),
        ("UPDATE absence SET last_day = '2026-04-18', cancelled_at = '2026-04-15T08:00:00+00:00'", false),
        ("UPDATE absence SET cancelled_at = '2026-04-15T08:00:00+00:00'", true),
        ("UPDATE absence SET cancelled_at = NULL", false),
    ] {
        let run = sqlx::query(statement).execute(&house.app.database.writer).await;
        assert_eq!(run.is_ok(), allowed, "{statement}");
    }
}
