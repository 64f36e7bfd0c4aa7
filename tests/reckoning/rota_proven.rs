//! Days that are hard to share out: tight, with many pins and duties for two. Their best values were proved by a
//! constraint solver (CP-SAT of OR-Tools 9.15, one model for the weight and one for the share).

use silkward::reckoning::rota::{Duty, Person, share_out};

use super::rota::check_rules;

/// A made-up day: always the same for a seed.
fn day(seed: u64) -> (Vec<Person>, Vec<Duty>) {
    let mut state = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15);
    let mut draw = |below: u32| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) as u32 % below
    };
    let (count, crowd) = (8 + draw(12), 3 + draw(3));
    let duty = |number: u32| Duty {
        id: format!("d{number:02}"),
        minutes: 4 + draw(17),
        required_clearance: draw(4) as u8,
        people: 1 + u8::from(draw(3) == 0),
        rack: "r".to_owned(),
        urgency: 1 + draw(5),
        pinned_to: (draw(6) == 0).then(|| format!("p{}", draw(crowd))),
    };
    let duties: Vec<Duty> = (0..count).map(duty).collect();
    let minutes: u32 = duties.iter().map(|duty| duty.minutes * u32::from(duty.people)).sum();
    let person = |number: u32| Person {
        id: format!("p{number}"),
        clearance: (3 - number % 4) as u8,
        minutes: minutes / crowd * (8 + draw(5)) / 10,
        present: true,
    };
    ((0..crowd).map(person).collect(), duties)
}

/// Seed, least weight, least greatest share.
const PROVEN: [(u64, u64, f64); 20] = [
    (2, 9, 0.970_297_030),
    (4, 0, 1.0),
    (10, 3, 0.978_260_870),
    (11, 3, 0.921_052_632),
    (12, 2, 0.942_307_692),
    (13, 1, 0.875),
    (15, 2, 0.909_090_909),
    (19, 2, 0.983_333_333),
    (23, 5, 0.879_518_072),
    (24, 1, 0.894_736_842),
    (30, 1, 0.875),
    (32, 0, 0.976_190_476),
    (37, 2, 0.944_444_444),
    (39, 1, 0.902_439_024),
    // Seeds from 20,000 at which the search goes wrong if it forgets how much was left out, or who is pinned.
    (2_607, 5, 0.960_784_314),
    (6_943, 4, 0.954_022_989),
    (13_923, 2, 0.931_818_182),
    (14_284, 2, 0.906_25),
    (17_832, 5, 0.937_5),
    (19_735, 1, 0.975),
];

#[test]
fn hard_days_are_shared_out_as_well_as_was_proved_possible() {
    for (seed, weight, share) in PROVEN {
        let (people, duties) = day(seed);
        let rota = share_out(&people, &duties).unwrap();
        check_rules(&people, &duties, &rota);
        assert_eq!(rota.unassigned_weight, weight, "{seed}");
        assert!((rota.max_load_share - share).abs() < 1e-8, "{seed}: {}", rota.max_load_share);
        assert!(rota.proven, "{seed}");
    }
}
