//! Coming days shared out: the work adds up, nobody has more than their minutes, and work for two needs two who are in.

use proptest::prelude::*;
use silkward::reckoning::rota::{ComingWork, Person, share_coming};

fn person(id: &str, clearance: u8, minutes: u32, present: bool) -> Person {
    Person { id: id.to_owned(), clearance, minutes, present }
}

fn work(rack: &str, minutes: f64, required_clearance: u8, people: u8) -> ComingWork {
    ComingWork { label: format!("Rehouse {rack}"), rack: rack.to_owned(), minutes, required_clearance, people }
}

#[test]
fn a_day_within_capacity_is_done_and_shared_evenly() {
    let team = [person("a", 1, 60, true), person("b", 1, 60, true), person("c", 1, 60, false)];
    let day = share_coming(&team, &[work("1", 30.0, 0, 1), work("2", 30.0, 1, 1), work("2", 0.5, 1, 1)]).unwrap();
    assert_eq!((day.there, day.undone, day.needed), (120, 0, 60.5));
    assert_eq!(day.loads.iter().map(|load| load.minutes).sum::<u64>(), 61);
    assert!(day.loads.iter().all(|load| (20..=41).contains(&load.minutes)));
}

#[test]
fn what_is_over_capacity_or_clearance_is_left_with_its_minutes() {
    let day = share_coming(&[person("a", 1, 60, true)], &[work("1", 100.0, 0, 1), work("2", 30.0, 3, 1)]).unwrap();
    assert_eq!((day.there, day.undone), (60, 70));
    assert!(day.not_done.is_empty());
    let nobody = share_coming(&[], &[work("1", 100.0, 0, 1)]).unwrap();
    assert_eq!((nobody.there, nobody.undone), (0, 100));
}

#[test]
fn work_for_two_says_whether_the_two_are_ever_in_together() {
    let away = [person("a", 3, 60, true), person("b", 2, 60, false)];
    let day = share_coming(&away, &[work("1", 20.0, 3, 2)]).unwrap();
    assert_eq!((day.needed, day.undone), (40.0, 40));
    assert!(day.not_done[0].never_together && day.not_done[0].label == "Rehouse 1");
    let busy = [person("a", 3, 60, true), person("b", 2, 10, true)];
    let day = share_coming(&busy, &[work("1", 20.0, 3, 2)]).unwrap();
    assert!(!day.not_done[0].never_together && !day.not_done[0].reason.is_empty());
    let both = [person("a", 3, 60, true), person("b", 2, 60, true)];
    assert!(share_coming(&both, &[work("1", 20.0, 3, 2)]).unwrap().not_done.is_empty());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(120))]

    #[test]
    fn loads_and_what_is_left_are_all_the_work_and_nobody_is_over(
        team in prop::collection::vec((0_u8..4, 0_u32..120, any::<bool>()), 0..5),
        jobs in prop::collection::vec((0_usize..4, 0.0_f64..50.0, 0_u8..4, 1_u8..3), 0..12),
    ) {
        let team: Vec<Person> = team.iter().enumerate().map(|(at, (level, minutes, present))| person(&format!("p{at}"), *level, *minutes, *present)).collect();
        let jobs: Vec<ComingWork> = jobs.iter().map(|(rack, minutes, level, people)| work(&rack.to_string(), *minutes, *level, *people)).collect();
        let day = share_coming(&team, &jobs).unwrap();
        let done: u64 = day.loads.iter().map(|load| load.minutes).sum();
        let needed: f64 = jobs.iter().map(|job| job.minutes * f64::from(job.people)).sum();
        prop_assert!((day.needed - needed).abs() < 1e-6);
        // Rounded up once for each rack and clearance, and for each work for two.
        let together = (done + day.undone) as f64;
        prop_assert!(together >= needed - 1e-6 && together <= needed + 2.0 * jobs.len() as f64 + 1e-6, "{together} of {needed}");
        prop_assert!(day.loads.iter().all(|load| load.minutes <= load.of));
    }
}
