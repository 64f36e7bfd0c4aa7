//! Whatever the day: the rules hold, small days are shared out best (against every way tried out), the order in which
//! people and duties are given does not matter, and a rota that is still good is kept.

use proptest::prelude::*;
use silkward::reckoning::rota::{Duty, Person, Rota, share_out, share_out_near};

use super::rota::{check_rules, people_of};

fn some_people(most: usize) -> impl Strategy<Value = Vec<Person>> {
    let one = (0_u8..4, 0_u32..90, prop::bool::weighted(0.85));
    prop::collection::vec(one, 0..=most).prop_map(|all| {
        let of = |(number, (clearance, minutes, present))| Person { id: format!("p{number}"), clearance, minutes, present };
        all.into_iter().enumerate().map(of).collect()
    })
}

/// Minutes, clearance, whether for two, rack, urgency, pin, whether in whole five minutes.
type GivenDuty = (u32, u8, bool, usize, u32, Option<usize>, bool);

fn some_duties(most: usize) -> impl Strategy<Value = Vec<Duty>> {
    let pin = prop::option::weighted(0.15, 0_usize..5);
    let one = (1_u32..30, 0_u8..4, prop::bool::weighted(0.2), 0_usize..4, 0_u32..4, pin, prop::bool::weighted(0.5));
    prop::collection::vec(one, 0..=most).prop_map(|all| {
        let of = |(number, given): (usize, GivenDuty)| {
            let (minutes, clearance, two, rack, urgency, pin, rounded) = given;
            Duty {
                id: format!("d{number:03}"),
                minutes: if rounded { minutes.next_multiple_of(5) } else { minutes },
                required_clearance: clearance,
                people: 1 + u8::from(two),
                rack: format!("r{rack}"),
                urgency,
                pinned_to: pin.map(|pin| format!("p{pin}")),
            }
        };
        all.into_iter().enumerate().map(of).collect()
    })
}

/// Every way to share out the duties from `at` on: the least weight, then the least greatest share.
fn every_way(people: &[&Person], duties: &[Duty], loads: &mut Vec<u32>, weight: u32) -> (u32, f64) {
    let Some((duty, rest)) = duties.split_first() else {
        let share = |(person, load): (&&Person, &u32)| if person.minutes == 0 { 0.0 } else { f64::from(*load) / f64::from(person.minutes) };
        return (weight, people.iter().zip(loads.iter()).map(share).fold(0.0, f64::max));
    };
    let mut best = every_way(people, rest, loads, weight + duty.urgency);
    for one in 0..people.len() {
        for other in one..people.len() {
            let crew: &[usize] = if duty.people == 1 { &[one] } else { &[one, other] };
            if (one == other) != (duty.people == 1) {
                continue;
            }
            let cleared = |least: u8| crew.iter().filter(|who| people[**who].clearance >= least).count();
            let pinned = duty.pinned_to.as_ref().is_none_or(|id| crew.iter().any(|who| people[*who].id == *id));
            let enough =
                cleared(duty.required_clearance) >= 1 && cleared(duty.required_clearance.saturating_sub(duty.people - 1)) == crew.len();
            if pinned && enough && crew.iter().all(|who| loads[*who] + duty.minutes <= people[*who].minutes) {
                crew.iter().for_each(|who| loads[*who] += duty.minutes);
                let found = every_way(people, rest, loads, weight);
                crew.iter().for_each(|who| loads[*who] -= duty.minutes);
                if found.0 < best.0 || (found.0 == best.0 && found.1 < best.1) {
                    best = found;
                }
            }
        }
    }
    best
}

/// Fewer tries than usual: each shares a longer day out twice or more.
fn fewer() -> ProptestConfig {
    let usual = ProptestConfig::default();
    ProptestConfig { cases: usual.cases.div_ceil(6), ..usual }
}

proptest! {
    #[test]
    fn small_days_are_as_good_as_the_best_of_every_way(people in some_people(3), duties in some_duties(6)) {
        let present: Vec<&Person> = people.iter().filter(|person| person.present).collect();
        let (weight, share) = every_way(&present, &duties, &mut vec![0; present.len()], 0);
        let rota = share_out(&people, &duties).unwrap();
        check_rules(&people, &duties, &rota);
        prop_assert_eq!(rota.unassigned_weight, u64::from(weight));
        prop_assert!((rota.max_load_share - share).abs() < 1e-12, "{} {}", rota.max_load_share, share);
        prop_assert!(rota.proven);
        prop_assert!((rota.lower_bound - share).abs() < 1e-12);
    }

}

proptest! {
    #![proptest_config(fewer())]

    #[test]
    fn rules_hold_in_any_order_and_a_rota_that_is_good_is_kept(people in some_people(7), duties in some_duties(45), turn in any::<prop::sample::Index>()) {
        let rota = share_out(&people, &duties).unwrap();
        check_rules(&people, &duties, &rota);
        let (mut turned_people, mut turned) = (people.clone(), duties.clone());
        turned_people.reverse();
        turned.rotate_left(turn.index(duties.len() + 1));
        prop_assert_eq!(&share_out(&turned_people, &turned).unwrap(), &rota);
        let before = people_of(&rota);
        let again = share_out_near(&people, &duties, &before).unwrap();
        prop_assert_eq!(people_of(&again), before);
        prop_assert_eq!(again.moved, 0);
    }

    #[test]
    fn a_changed_day_is_never_worse_for_staying_near(people in some_people(6), duties in some_duties(30), out in any::<prop::sample::Index>()) {
        let before = people_of(&share_out(&people, &duties).unwrap());
        let mut changed = people.clone();
        if let Some(person) = (!people.is_empty()).then(|| &mut changed[out.index(people.len())]) {
            person.present = !person.present;
        }
        let (near, fresh) = (share_out_near(&changed, &duties, &before).unwrap(), share_out(&changed, &duties).unwrap());
        check_rules(&changed, &duties, &near);
        prop_assert!(near.unassigned_weight <= fresh.unassigned_weight);
        prop_assert!(near.unassigned_weight < fresh.unassigned_weight || near.max_load_share <= fresh.max_load_share + 1e-12);
        let in_today = |id: &String| changed.iter().any(|person| person.id == *id && person.present);
        let could_stay = before.iter().filter(|(_, who)| who.iter().all(in_today));
        let moved = |rota: &Rota| {
            let now = people_of(rota);
            could_stay.clone().filter(|(duty, who)| now.get(*duty) != Some(*who)).count()
        };
        prop_assert_eq!(near.moved, moved(&near));
        prop_assert!(moved(&near) <= moved(&fresh), "{} {}", moved(&near), moved(&fresh));
    }
}
