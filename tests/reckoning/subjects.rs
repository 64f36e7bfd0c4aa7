//! Invented animals, cohorts and sacs for the planner's tests.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use silkward::reckoning::breeding::PullWindow;
use silkward::reckoning::hazard::{ExposureTable, HazardFacts};
use silkward::reckoning::planner::{AnimalFacts, Care, CohortFacts, LastMeal, PlannedDuty, SacFacts, SiteRules, Subject, plan};
use silkward::reckoning::stage::Stage;
use silkward::reckoning::words::{DutyKind, LifeStage, MealOutcome, MoultState, Setae, Venom};

use super::on;

pub fn care() -> Care {
    Care {
        feed_min_days: 7,
        feed_max_days: 10,
        uneaten_hours: 24,
        moult_min_days: 60,
        moult_max_days: 150,
        moult_check_days: 7,
        water_days: 7,
        clean_days: 30,
        count_days: 30,
        rules: None,
        fast: Vec::new(),
    }
}

pub fn hazard(venom: Venom, life_stage: LifeStage) -> HazardFacts {
    HazardFacts { venom, setae: Setae::None, defensive: false, very_fast: false, adult_span_max_mm: 150, life_stage, cautions: Vec::new() }
}

/// A juvenile of 50 mm that took a meal on 1 March 2026 and needs nothing for months but food.
pub fn juvenile() -> AnimalFacts {
    AnimalFacts {
        id: 1,
        life_stage: LifeStage::Juvenile,
        span_mm: Some(50),
        span_on: Some(on("2026-02-01")),
        hazard: hazard(Venom::Mild, LifeStage::Juvenile),
        care: Care { water_days: 900, clean_days: 900, moult_check_days: 900, ..care() },
        enclosure_length_mm: Some(200),
        started_on: on("2026-01-01"),
        last_meal: Some(LastMeal { day: on("2026-03-01"), outcome: MealOutcome::Took }),
        refusals_in_row: 0,
        left_in_at: None,
        last_moult: None,
        expected_moult: None,
        moult_state: MoultState::Normal,
        moult_state_since: None,
        last_moult_check: None,
        last_water: None,
        last_clean: None,
        rehoused_on: None,
        needs_rehouse: None,
        guarding_sac: false,
        holds: Vec::new(),
        condition: None,
        apart: Vec::new(),
    }
}

/// The juvenile after so many refusals in a row, the last on this day.
pub fn refused(day: &str, in_row: u32) -> AnimalFacts {
    AnimalFacts { last_meal: Some(LastMeal { day: on(day), outcome: MealOutcome::Refused }), refusals_in_row: in_row, ..juvenile() }
}

/// 90 second instars in vials, fed on 1 March 2026.
pub fn vials() -> CohortFacts {
    CohortFacts {
        id: 2,
        in_vials: true,
        counts: BTreeMap::from([(Stage::Instar(2), 90)]),
        hazard: hazard(Venom::Mild, LifeStage::Spiderling),
        care: Care {
            feed_min_days: 4,
            feed_max_days: 6,
            water_days: 900,
            clean_days: 900,
            moult_check_days: 900,
            count_days: 900,
            ..care()
        },
        span_mm: Some(9),
        started_on: on("2026-01-01"),
        last_meal: Some(LastMeal { day: on("2026-03-01"), outcome: MealOutcome::Took }),
        left_in_at: None,
        last_moult: None,
        moulted_then: 0,
        last_moult_check: None,
        last_water: None,
        last_clean: None,
        last_count: None,
        holds: Vec::new(),
        count_off: None,
        apart: Vec::new(),
    }
}

/// A sac of 1 April 2026, with its dam, of a species of significant venom.
pub fn sac() -> SacFacts {
    SacFacts {
        id: 3,
        laid_on: on("2026-04-01"),
        pulled_on: None,
        with_dam: true,
        last_check: None,
        pull: Some(PullWindow::default()),
        opened: false,
        hazard: hazard(Venom::Significant, LifeStage::Adult),
        legs_out: false,
        last_turn: None,
        rules: None,
    }
}

/// The duties of one subject on a day, with the default rules and table.
pub fn planned(subject: impl Into<Subject>, day: &str) -> Vec<PlannedDuty> {
    plan(on(day), &[subject.into()], &SiteRules::default(), &ExposureTable::default())
}

/// The one duty of a kind on a day, if it is due.
pub fn duty(subject: impl Into<Subject>, kind: DutyKind, day: &str) -> Option<PlannedDuty> {
    let mut found = planned(subject, day).into_iter().filter(|duty| duty.kind == kind);
    let first = found.next();
    assert!(found.next().is_none(), "two duties of one kind");
    first
}

/// The day on which a duty falls due, within two years.
pub fn due_on(subject: impl Into<Subject>, kind: DutyKind) -> Option<NaiveDate> {
    duty(subject, kind, "2028-01-01").map(|duty| duty.due_on)
}
