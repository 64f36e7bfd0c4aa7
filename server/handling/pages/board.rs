//! Every rehouse that is due: how dangerous, who could do it, and when they are in together.

use askama::Template;
use axum::extract::State;
use chrono::{Days, NaiveDate, TimeDelta};
use chrono_tz::Tz;

use crate::handling::model::week::{Moment, WeekAhead};
use crate::handling::model::{BrokenOff, DayTimes, Hold, PossibleTime, RehouseDuty, RehousePlan};
use crate::handling::store;
use crate::house::app::App;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::SignedIn;
use crate::house::layout::{Layout, Section, page};
use crate::house::paths;
use crate::reckoning::hazard::cautions_text;
use crate::reckoning::planner::{SubjectKey, SubjectKind};
use crate::reckoning::who_may::Part;
use crate::rounds;
use crate::staff::model::rota::clock;

/// How many days back the board tells of what was broken off and of plans that lapsed.
const DAYS_BACK: u64 = 14;

/// A plan, with what has come between.
struct Planned {
    plan: RehousePlan,
    doubts: Vec<String>,
}

/// A rehouse that is due.
pub(super) struct BoardLine {
    pub(super) duty: RehouseDuty,
    cautions: Vec<String>,
    firsts: Vec<String>,
    seconds: Vec<String>,
    days: Vec<DayTimes>,
    /// Why nobody can, when nobody can.
    nobody: Option<String>,
    plan: Option<Planned>,
}

impl BoardLine {
    /// Reserving exactly this time.
    fn plan_path(&self, day: &NaiveDate, time: &PossibleTime) -> String {
        let second = time.second.as_ref().map_or_else(String::new, |(id, _)| id.to_string());
        format!("{}?first={}&second={second}&day={day}&starts={}", paths::plan_rehouse(&self.duty.id), time.first.0, clock(time.span.from))
    }
}

/// The rehouses of one band.
struct BandLines {
    level: i64,
    lines: Vec<BoardLine>,
}

#[derive(Template)]
#[template(path = "handling/rehouses.html")]
struct BoardPage {
    layout: Layout,
    today: NaiveDate,
    zone: Tz,
    bands: Vec<BandLines>,
    planned: Vec<RehousePlan>,
    lapsed: Vec<RehousePlan>,
    broken_off: Vec<BrokenOff>,
}

/// The moment of a request.
pub(super) fn moment(app: &App) -> Moment {
    Moment { at: app.now(), today: app.today(), zone: app.site().zone }
}

pub(in crate::handling) async fn show(State(app): State<App>, me: SignedIn) -> Answer {
    let mut db = app.read().await?;
    let now = moment(&app);
    let week = store::week_ahead(&mut db, now).await?;
    let known = rounds::store::known(&mut db, now.at, now.zone).await?;
    let holds = store::standing_holds(&mut db, now.at).await?;
    let plans = store::standing_plans(&mut db).await?;
    let mut lines = Vec::new();
    for duty in store::rehouse_board(&mut db).await? {
        let key = SubjectKey { kind: SubjectKind::Animal, id: duty.animal_id.0 };
        let cautions = known.hazard(key).map(cautions_text).unwrap_or_default();
        let plan = match plans.iter().find(|plan| plan.duty_id == duty.id) {
            Some(plan) => Some(Planned { doubts: store::doubts(&mut db, &duty, plan, now).await?, plan: plan.clone() }),
            None => None,
        };
        lines.push(line(duty, cautions, plan, &week, &holds));
    }
    let since = now.today.checked_sub_days(Days::new(DAYS_BACK)).unwrap_or(now.today);
    let days_back = TimeDelta::days(i64::try_from(DAYS_BACK).unwrap_or(0));
    page(&BoardPage {
        layout: Layout::of(&app, &me, Section::Handling).await?,
        today: now.today,
        zone: now.zone,
        bands: by_band(lines),
        planned: plans.into_iter().filter(|plan| !plan.has_passed(&now.today)).collect(),
        lapsed: store::lapsed_plans(&mut db, since).await?,
        broken_off: store::broken_off(&mut db, now.at - days_back).await?,
    })
}

fn line(duty: RehouseDuty, cautions: Vec<String>, plan: Option<Planned>, week: &WeekAhead, holds: &[Hold]) -> BoardLine {
    let on_it: Vec<Hold> = holds.iter().filter(|hold| hold.animal_id == Some(duty.animal_id)).cloned().collect();
    let days = week.times(&duty, &on_it);
    let nobody = days.is_empty().then(|| week.nobody(&duty, &on_it));
    let (firsts, seconds) = (week.able(&duty, Part::First), week.able(&duty, Part::Second));
    BoardLine { cautions, firsts, seconds, days, nobody, plan, duty }
}

/// Band 3 first; within a band the longest due first, as they come.
fn by_band(lines: Vec<BoardLine>) -> Vec<BandLines> {
    let mut bands: Vec<BandLines> = Vec::new();
    for line in lines {
        match bands.last_mut().filter(|band| band.level == line.duty.band) {
            Some(band) => band.lines.push(line),
            None => bands.push(BandLines { level: line.duty.band, lines: vec![line] }),
        }
    }
    bands
}

/// One open rehouse.
///
/// # Errors
/// A conflict when it is no longer due.
pub(super) async fn open_rehouse(app: &App, id: crate::house::ids::DutyId) -> Result<RehouseDuty, AppError> {
    let mut db = app.read().await?;
    // An address that never was a duty is no page; one that was tells what became of it.
    let duty = rounds::store::require(&mut db, id).await?;
    let open = store::rehouse(&mut db, id).await?;
    open.ok_or_else(|| AppError::conflict(format!("{} is no longer due. Open the rehouse board again.", duty.name())))
}
