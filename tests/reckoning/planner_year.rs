//! A year of a made-up house of 1,500 animals, worked by the planner's duties alone. The truth (when each moults, what it
//! eats, when it threatens) is the simulation's and is known to the book only as far as somebody looked. What must
//! never happen is held against the fasts, intervals and hours as common practice has them, written out here again.

use chrono::{Datelike, Days, NaiveDate, TimeZone, Utc, Weekday};
use silkward::reckoning::hazard::ExposureTable;
use silkward::reckoning::planner::{AnimalFacts, Care, LastMeal, PlannedDuty, SiteRules, Subject, plan};
use silkward::reckoning::words::{DutyKind, LifeStage, MealOutcome, MoultState};
use std::collections::BTreeSet;

use super::on;
use super::subjects::juvenile;

const ANIMALS: i64 = 1_500;

/// A small generator of its own (splitmix64), so that the year is the same on every machine.
struct Chance(u64);

impl Chance {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    fn within(&mut self, least: u32, most: u32) -> u32 {
        least + (self.next() % u64::from(most - least + 1)) as u32
    }

    fn percent(&mut self, chance: u32) -> bool {
        self.next() % 100 < u64::from(chance)
    }
}

/// What is true of one animal, whether the book knows it or not.
struct Spider {
    facts: AnimalFacts,
    /// When it will moult, and from when it refuses food.
    moults_on: NaiveDate,
    refuses_from: NaiveDate,
    /// A moult that nobody has found yet.
    unseen: Option<NaiveDate>,
    /// The last day on which food could not be offered.
    barred: NaiveDate,
    guards_until: Option<NaiveDate>,
}

/// Days without food after a moult (the longer end), as common practice has them; no source.
fn fast(span_mm: u32) -> u64 {
    match span_mm {
        0..15 => 5,
        15..40 => 7,
        40..80 => 10,
        80..120 => 14,
        _ => 21,
    }
}

fn later(day: NaiveDate, days: u32) -> NaiveDate {
    day + Days::new(days.into())
}

/// Life stage, days between meals, days between moults, days between looks.
type Way = (LifeStage, (u32, u32), (u32, u32), u32);

/// Three ways to live.
const WAYS: [Way; 3] = [
    (LifeStage::Spiderling, (4, 6), (30, 60), 7),
    (LifeStage::Juvenile, (7, 10), (60, 150), 7),
    (LifeStage::Adult, (14, 21), (300, 500), 14),
];

fn spider(id: i64, first: NaiveDate, chance: &mut Chance) -> Spider {
    let (life_stage, (feed_min_days, feed_max_days), (moult_min_days, moult_max_days), moult_check_days) = WAYS[id as usize % 3];
    let span_mm = match life_stage {
        LifeStage::Spiderling => chance.within(8, 39),
        LifeStage::Juvenile => chance.within(40, 100),
        LifeStage::Adult => chance.within(100, 180),
    };
    let care = Care {
        feed_min_days,
        feed_max_days,
        moult_min_days,
        moult_max_days,
        moult_check_days,
        water_days: 7,
        clean_days: 30,
        ..super::subjects::care()
    };
    let fed = first - Days::new(chance.within(1, feed_min_days).into());
    let moulted = first - Days::new(chance.within(fast(span_mm) as u32 + 1, moult_min_days.max(30)).into());
    let moults_on = later(moulted, chance.within(moult_min_days, moult_max_days)).max(first);
    let facts = AnimalFacts {
        id,
        life_stage,
        care,
        span_mm: Some(span_mm),
        enclosure_length_mm: Some(span_mm * 4),
        started_on: moulted,
        last_meal: Some(LastMeal { day: fed, outcome: MealOutcome::Took }),
        last_moult: Some(moulted),
        last_moult_check: Some(first - Days::new(1)),
        last_water: Some(first - Days::new(chance.within(0, 6).into())),
        last_clean: Some(first - Days::new(chance.within(0, 29).into())),
        ..juvenile()
    };
    let refuses_from = moults_on - Days::new(chance.within(2, 12).into());
    Spider { facts, moults_on, refuses_from, unseen: None, barred: first - Days::new(1), guards_until: None }
}

impl Spider {
    /// What happens to it by itself.
    fn live(&mut self, day: NaiveDate, chance: &mut Chance) {
        if day >= self.moults_on && self.unseen.is_none() {
            self.unseen = Some(day);
        }
        if self.guards_until.is_some_and(|until| until < day) {
            self.guards_until = None;
        }
        let lays = self.facts.life_stage == LifeStage::Adult && self.facts.moult_state == MoultState::Normal;
        if lays && self.guards_until.is_none() && chance.next().is_multiple_of(4_000) {
            self.guards_until = Some(later(day, 32));
        }
        self.facts.guarding_sac = self.guards_until.is_some();
    }

    /// Somebody opens or looks and finds a skin: the book learns of it.
    fn found(&mut self, moulted: NaiveDate, day: NaiveDate, chance: &mut Chance) {
        let span = self.facts.span_mm.unwrap() * chance.within(108, 135) / 100;
        let care = &self.facts.care;
        self.moults_on = later(moulted, chance.within(care.moult_min_days, care.moult_max_days)).max(later(day, 1));
        self.refuses_from = self.moults_on - Days::new(chance.within(2, 12).into());
        self.unseen = None;
        self.facts.span_mm = Some(span.min(220));
        self.facts.span_on = Some(day);
        self.facts.last_moult = Some(moulted);
        self.facts.refusals_in_row = 0;
        self.facts.moult_state = MoultState::Normal;
        self.facts.moult_state_since = None;
        self.facts.last_moult_check = Some(day);
    }

    fn offered(&mut self, day: NaiveDate, chance: &mut Chance) {
        let facts = &mut self.facts;
        assert_eq!(facts.moult_state, MoultState::Normal, "{} fed in pre-moult on {day}", facts.id);
        let (moulted, rest) = (facts.last_moult.unwrap(), fast(facts.span_mm.unwrap()));
        assert!(day >= moulted + Days::new(rest), "{} fed on {day} inside the fast since {moulted}", facts.id);
        assert!(!facts.guarding_sac && facts.left_in_at.is_none(), "{} fed beside a sac or old prey", facts.id);
        // Whoever opens it sees a skin that lies there, and offers nothing.
        if let Some(moulted) = self.unseen {
            return self.found(moulted, day, chance);
        }
        let refuses = day >= self.refuses_from || chance.percent(6);
        let outcome = match (refuses, chance.percent(10)) {
            (_, true) => MealOutcome::LeftIn,
            (true, _) => MealOutcome::Refused,
            (false, _) => MealOutcome::Took,
        };
        facts.last_meal = Some(LastMeal { day, outcome });
        match outcome {
            MealOutcome::LeftIn => facts.left_in_at = Some(Utc.from_utc_datetime(&day.and_hms_opt(10, 0, 0).unwrap())),
            MealOutcome::Refused => facts.refusals_in_row += 1,
            MealOutcome::Took => facts.refusals_in_row = 0,
        }
        if chance.next().is_multiple_of(800) {
            facts.holds = SiteRules::default().agitation_holds(day, "stood up").to_vec();
        }
    }

    fn looked(&mut self, day: NaiveDate, chance: &mut Chance) {
        if let Some(moulted) = self.unseen {
            return self.found(moulted, day, chance);
        }
        self.facts.last_moult_check = Some(day);
        // Signs are missed at times, and seen at times where there are none.
        let seen = if day >= self.refuses_from { chance.percent(70) } else { chance.percent(1) };
        let state = if seen { MoultState::PreMoult } else { MoultState::Normal };
        if self.facts.moult_state != state {
            self.facts.moult_state_since = Some(day);
        }
        self.facts.moult_state = state;
    }

    fn work(&mut self, duty: &PlannedDuty, day: NaiveDate, chance: &mut Chance) {
        match duty.kind {
            DutyKind::Feed => self.offered(day, chance),
            DutyKind::MoultCheck => self.looked(day, chance),
            DutyKind::ClearUneaten => {
                let due = self.facts.left_in_at.unwrap() + chrono::TimeDelta::hours(24);
                assert_eq!(duty.due_at, Some(due), "prey comes out within 24 hours");
                let ate = chance.percent(40);
                self.facts.refusals_in_row = if ate { 0 } else { self.facts.refusals_in_row + 1 };
                let outcome = if ate { MealOutcome::Took } else { MealOutcome::Refused };
                self.facts.last_meal = self.facts.last_meal.map(|meal| LastMeal { outcome, ..meal });
                self.facts.left_in_at = None;
            }
            DutyKind::Water => self.facts.last_water = Some(day),
            DutyKind::SpotClean => self.facts.last_clean = Some(day),
            DutyKind::Rehouse => {
                let (moulted, fed) = (self.facts.last_moult.unwrap(), self.facts.last_meal.unwrap().day);
                assert!(day >= moulted + Days::new(fast(self.facts.span_mm.unwrap())) && day >= fed + Days::new(2));
                assert_eq!(self.facts.moult_state, MoultState::Normal);
                self.facts.enclosure_length_mm = self.facts.span_mm.map(|span| span * 4);
                self.facts.rehoused_on = Some(day);
            }
            other => panic!("an animal has no {other}"),
        }
    }

    /// Whether food can't be offered on a day, by what the book knows.
    fn is_barred(&self, day: NaiveDate) -> bool {
        let facts = &self.facts;
        let held = facts.holds.iter().any(|hold| hold.stops(silkward::reckoning::words::Exposure::Open, day));
        let settle = match facts.life_stage {
            LifeStage::Spiderling => 3,
            LifeStage::Juvenile => 5,
            LifeStage::Adult => 7,
        };
        let settling = facts.rehoused_on.is_some_and(|moved| day < moved + Days::new(settle));
        let fasts = facts.last_moult.is_some_and(|moult| day < moult + Days::new(fast(facts.span_mm.unwrap())));
        held || settling || fasts || facts.moult_state != MoultState::Normal || facts.guarding_sac || facts.left_in_at.is_some()
    }

    /// What must hold when the day's work is over. One day of slack: the house is shut on Sundays.
    fn check(&mut self, day: NaiveDate, staffed: bool) {
        let facts = &self.facts;
        let looked = facts.last_moult_check.unwrap();
        assert!(day <= later(looked, facts.care.moult_check_days + 1), "{} was last looked at on {looked}; it is {day}", facts.id);
        if staffed && let Some(left) = facts.left_in_at {
            let held = facts.holds.iter().any(|hold| hold.stops(silkward::reckoning::words::Exposure::Open, day));
            assert!(held || left.date_naive() >= day, "prey left in on {left} with {} is still in on {day}", facts.id);
        }
        if self.is_barred(day) {
            self.barred = day;
            return;
        }
        let offered = facts.last_meal.unwrap().day;
        let until = later(offered, facts.care.feed_max_days).max(later(self.barred, 1));
        assert!(day <= later(until, 1), "{} was last offered food on {offered}, free since {}; it is {day}", facts.id, self.barred);
    }
}

#[test]
fn a_year_of_1500_animals_forgets_nobody_and_feeds_nobody_too_soon() {
    let first = on("2026-01-01");
    let mut chance = Chance(20_260_101);
    let mut house: Vec<Spider> = (0..ANIMALS).map(|id| spider(id, first, &mut chance)).collect();
    let (rules, table) = (SiteRules::default(), ExposureTable::default());
    let (mut done, mut meals, mut moults) = (0, 0, 0);
    for day in first.iter_days().take(365) {
        for spider in &mut house {
            spider.live(day, &mut chance);
        }
        let staffed = day.weekday() != Weekday::Sun;
        let subjects: Vec<Subject> = house.iter().map(|spider| Subject::Animal(spider.facts.clone())).collect();
        let duties = plan(day, &subjects, &rules, &table);
        let keys: BTreeSet<_> = duties.iter().map(|duty| (duty.subject, duty.kind)).collect();
        assert_eq!(keys.len(), duties.len(), "one open duty for an animal and a kind");
        // Looks first: what is seen may forbid what was planned, and then it is planned again, as the book does.
        let mut worked = BTreeSet::new();
        let in_turn = |kind: DutyKind| usize::from(kind != DutyKind::MoultCheck);
        let mut turns: Vec<&PlannedDuty> = duties.iter().filter(|_| staffed).collect();
        turns.sort_by_key(|duty| (in_turn(duty.kind), duty.subject));
        for duty in turns {
            let spider = &mut house[duty.subject.id as usize];
            let touched = !worked.insert(duty.subject);
            let now = if touched { plan(day, &[spider.facts.clone().into()], &rules, &table) } else { vec![duty.clone()] };
            let Some(duty) = now.iter().find(|now| now.kind == duty.kind && now.held.is_none()) else { continue };
            let before = spider.facts.last_moult;
            spider.work(duty, day, &mut chance);
            done += 1;
            meals += usize::from(duty.kind == DutyKind::Feed);
            moults += usize::from(spider.facts.last_moult != before);
        }
        for spider in &mut house {
            spider.check(day, staffed);
        }
    }
    // The year was a year: nearly every spider was fed and looked at many times, and moults were found.
    assert!(meals > 25_000 && moults > 2_500 && done > 150_000, "{meals} meals, {moults} moults, {done} duties");
}
