//! What is usual for a cohort is added up once for each species and stage. Here it is added up anew for every cohort, from
//! all others of its species, and every verdict and every sentence must come out the same.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{Days, NaiveDate};
use rand::rngs::StdRng;
use rand::{RngExt, SeedableRng};
use silkward::cohorts::model::losses::{Kept, Losses};
use silkward::house::ids::{CohortId, RackId, RoomId, SpeciesId};
use silkward::reckoning::ledger::{Bucket, Line, LineKind};
use silkward::reckoning::loss_alarm::{
    Among, Baseline, Elsewhere, Evidence, Group, Level, Series, Stratum, Tally, Usual, Verdict, Watched, days_of_ledger, judge,
    seen_before, what_differs,
};
use silkward::reckoning::stage::Stage;
use silkward::reckoning::words::LossCause;
use silkward::rooms::model::Rack;
use silkward::species::model::climate::RackClimate;

use super::stock::april;

const STAGES: [Stage; 3] = [Stage::Instar(1), Stage::Instar(2), Stage::Instar(3)];

fn before(days: u64) -> NaiveDate {
    april(15) - Days::new(days)
}

fn line(id: usize, days: u64, movement: (Bucket, Bucket), kind: LineKind, quantity: u32) -> Line {
    let cause = (kind == LineKind::Lost).then_some(LossCause::Unknown);
    Line { id: id as i64, day: before(days), from: movement.0, to: movement.1, quantity, kind, cause, reverses: None }
}

/// A cohort that loses a few, or in the last weeks many, and moults once.
fn any_cohort(id: i64, rng: &mut StdRng) -> Kept {
    let stage = rng.random_range(0..2);
    let (first, next) = (Bucket::Stage(STAGES[stage]), Bucket::Stage(STAGES[stage + 1]));
    let (came, moulted) = (rng.random_range(60..300), rng.random_range(20..70_u64));
    let mut lines = vec![line(1, 90, (Bucket::In, first), LineKind::Received, came)];
    let mut left = came;
    for days in (1..80_u64).rev() {
        if days == moulted {
            lines.push(line(lines.len() + 1, days, (first, next), LineKind::Moulted, left));
        }
        let hard = id % 3 == 0 && days < 20;
        if left > 10 && rng.random_bool(if hard { 0.5 } else { 0.05 }) {
            let lost = rng.random_range(1..if hard { 6 } else { 3 });
            let at = if days <= moulted { next } else { first };
            lines.push(line(lines.len() + 1, days, (at, Bucket::Lost), LineKind::Lost, lost));
            left -= lost;
        }
    }
    Kept {
        id: CohortId(id),
        code: format!("C-{id}"),
        species_id: SpeciesId(rng.random_range(1..4)),
        species: "Brachypelma hamorii".to_owned(),
        root: CohortId(1 + (id - 1) / 3 * 3),
        rack: Some(RackId(rng.random_range(1..4))),
        started_on: before(90),
        lines,
        fed: BTreeSet::new(),
        looks: BTreeSet::new(),
        looked_into: None,
        feed_max_days: None,
    }
}

fn rack(id: i64) -> RackClimate {
    let rack = Rack {
        id: RackId(id),
        room_id: RoomId(1),
        room_name: "Quiet room".to_owned(),
        name: format!("R{id}"),
        shelves: 3,
        animals: 0,
        cohorts: 0,
    };
    RackClimate { rack, needed: None, readings: Vec::new(), state: None }
}

fn series(cohort: &Kept) -> BTreeMap<Stage, Series> {
    let at = |stage: Stage| Series::new(days_of_ledger(&cohort.lines, Among::Stage(stage), before(90), april(15))).unwrap();
    let came_to = |stage: &Stage| cohort.lines.iter().any(|line| line.to == Bucket::Stage(*stage));
    STAGES.into_iter().filter(came_to).map(|stage| (stage, at(stage))).collect()
}

fn strata(all: &[Kept], cohort: &Kept) -> Vec<Stratum> {
    let others: Vec<_> = all.iter().filter(|other| other.species_id == cohort.species_id && other.id != cohort.id).map(series).collect();
    let stratum = |(stage, days): (Stage, Series)| {
        let seen = others.iter().filter_map(|of| of.get(&stage)).map(|days| days.tally(before(90), april(15)));
        let baseline = Baseline::new(stage, seen_before(&days, seen.fold(Tally::default(), Tally::and), april(15)));
        Stratum { stage, days, baseline }
    };
    series(cohort).into_iter().map(stratum).collect()
}

fn group(all: &[Kept], cohort: &Kept, name: String, shares: impl Fn(&Kept) -> bool) -> Option<Group> {
    let (mut inside, mut outside): (Option<(u64, Usual)>, (u64, f64)) = (None, (0, 0.0));
    for other in all.iter().filter(|other| other.id != cohort.id) {
        for stratum in strata(all, other) {
            let tally = stratum.days.tally(before(27), april(15));
            let usual = stratum.baseline.usual(tally.exposure);
            match inside {
                _ if tally.exposure == 0 => {}
                Some((lost, so_far)) if shares(other) => inside = Some((lost + tally.lost, so_far.and(usual))),
                None if shares(other) => inside = Some((tally.lost, usual)),
                _ => outside = (outside.0 + tally.lost, outside.1 + usual.mean),
            }
        }
    }
    let elsewhere = (outside.1 > 0.0).then_some(Elsewhere { lost: outside.0 as u32, usual: outside.1 });
    inside.map(|(lost, usual)| Group { name, lost: lost as u32, usual, elsewhere })
}

fn plainly(all: &[Kept], cohort: &Kept) -> (Verdict, Vec<String>) {
    let strata = strata(all, cohort);
    let verdict = judge(&Watched { strata: &strata, looks: &[], looked_into: None }, april(15));
    let rack = format!("rack R{}", cohort.rack.unwrap().0);
    let evidence = Evidence {
        rack: group(all, cohort, rack, |other| other.rack == cohort.rack),
        sac: group(all, cohort, "the same sac or batch".to_owned(), |other| other.root == cohort.root),
        ..Evidence::default()
    };
    let differs = if verdict.level == Level::Quiet { Vec::new() } else { what_differs(&evidence) };
    (verdict, differs)
}

#[test]
fn what_is_usual_is_the_same_however_it_is_added_up() {
    let (racks, mut alarmed, mut differing) = ([1, 2, 3].map(rack), 0, 0);
    for seed in 0..12 {
        let mut rng = StdRng::seed_from_u64(seed);
        let count = rng.random_range(2..14);
        let all: Vec<Kept> = (1..=count).map(|id| any_cohort(id, &mut rng)).collect();
        let losses = Losses::new(&all, april(15));
        for cohort in &all {
            let got = losses.judge(cohort.id, &racks).unwrap();
            let (verdict, differs) = plainly(&all, cohort);
            assert_eq!((&got.verdict, &got.differs), (&verdict, &differs), "{} of house {seed}", cohort.code);
            alarmed += usize::from(verdict.level > Level::Quiet);
            differing += differs.len();
        }
    }
    assert!(alarmed > 15 && differing > 3, "{alarmed} alarms and {differing} sentences were compared");
}
