//! Sharing the whole day out: who is in and for how long, what would come of it, and doing it.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;

use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Query, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::MemberId;
use crate::house::layout::{Layout, Section, page, page_again};
use crate::house::{paths, text};
use crate::rounds::model::Duty;
use crate::rounds::model::share::{AtWork, SharePlan};
use crate::rounds::store::share;

/// Who is in, as ticked and typed: members and minutes stand in the same order.
#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::rounds) struct ShareForm {
    member: Vec<MemberId>,
    minutes: Vec<String>,
    present: Vec<MemberId>,
    keep: String,
}

/// One person's line of the form.
struct PersonBox {
    person: AtWork,
    typed: String,
}

/// One person's day as it would be.
struct LoadLine {
    name: String,
    minutes: u64,
    of: u64,
    percent: String,
    racks: usize,
}

/// A duty that nobody would have.
struct Left {
    duty: Duty,
    why: String,
}

/// What would come of it.
struct Outcome {
    loads: Vec<LoadLine>,
    left: Vec<Left>,
    given: usize,
    verdict: String,
}

#[derive(Template)]
#[template(path = "rounds/share_out.html")]
struct SharePage {
    layout: Layout,
    boxes: Vec<PersonBox>,
    keep: bool,
    mistakes: Mistakes,
    outcome: Option<Outcome>,
}

impl ShareForm {
    /// Those who are in as the form says; the last said where the form says nothing.
    fn check(&self, known: &[AtWork]) -> Result<Vec<AtWork>, Mistakes> {
        let mut check = Check::new();
        let mut people = Vec::new();
        for person in known {
            let typed = self.typed(person);
            let minutes = check.whole("minutes", typed.trim(), 0..=1440);
            let present = self.is_asked_first() && person.present || self.present.contains(&person.member);
            people.extend(minutes.map(|minutes| AtWork { minutes, present, ..person.clone() }));
        }
        if check.ok() && !people.iter().any(|person| person.present) {
            check.add("present", "Tick at least one person who is in today.");
        }
        if check.ok() { Ok(people) } else { Err(check.mistakes()) }
    }

    fn is_asked_first(&self) -> bool {
        self.member.is_empty()
    }

    fn typed(&self, person: &AtWork) -> String {
        let place = self.member.iter().position(|member| *member == person.member);
        place.and_then(|place| self.minutes.get(place)).cloned().unwrap_or_else(|| person.minutes.to_string())
    }

    fn boxes(&self, known: &[AtWork]) -> Vec<PersonBox> {
        let ticked = |person: &AtWork| if self.is_asked_first() { person.present } else { self.present.contains(&person.member) };
        known
            .iter()
            .map(|person| PersonBox { typed: self.typed(person), person: AtWork { present: ticked(person), ..person.clone() } })
            .collect()
    }

    fn keeps(&self) -> bool {
        self.is_asked_first() || self.keep == "yes"
    }
}

/// The form; once it says who is in, also what would come of it. Nothing is changed.
pub(in crate::rounds) async fn propose(State(app): State<App>, me: SignedIn, Query(asked): Query<ShareForm>) -> Answer {
    let mut db = app.read().await?;
    let known = share::at_work(&mut db, app.today()).await?;
    let layout = Layout::of(&app, &me, Section::Today).await?;
    let (boxes, keep) = (asked.boxes(&known), asked.keeps());
    if asked.is_asked_first() {
        return page(&SharePage { layout, boxes, keep, mistakes: Mistakes::none(), outcome: None });
    }
    match asked.check(&known) {
        Err(mistakes) => page_again(&SharePage { layout, boxes, keep, mistakes, outcome: None }),
        Ok(people) => {
            let plan = share::plan(&mut db, app.today(), &people, keep).await?;
            page(&SharePage { layout, boxes, keep, mistakes: Mistakes::none(), outcome: Some(outcome(&plan, &people)) })
        }
    }
}

/// Shares the day out, as it stands now.
pub(in crate::rounds) async fn give_out(State(app): State<App>, me: SignedIn, form: Form<ShareForm>) -> Answer {
    let known = share::at_work(&mut *app.read().await?, app.today()).await?;
    match save(&app, &me, &known, &form).await {
        Err(AppError::Refused(mistakes)) => {
            let layout = Layout::of(&app, &me, Section::Today).await?;
            let (boxes, keep) = (form.input.boxes(&known), form.input.keeps());
            page_again(&SharePage { layout, boxes, keep, mistakes, outcome: None })
        }
        answer => answer,
    }
}

async fn save(app: &App, me: &SignedIn, known: &[AtWork], form: &Form<ShareForm>) -> Answer {
    let people = form.input.check(known)?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let today = write.today;
    let plan = share::plan(write.db(), today, &people, form.input.keeps()).await?;
    let moved = share::give_out(&mut write, &people, &plan).await?;
    let outcome = outcome(&plan, &people);
    let change = Change::new("day.shared_out", format!("day {today}"), format!("{moved} duties moved. {}", outcome.verdict));
    me.done(write, change, paths::TODAY, outcome.verdict).await
}

fn outcome(plan: &SharePlan, people: &[AtWork]) -> Outcome {
    let rota = &plan.rota;
    let name =
        |id: &str| people.iter().find(|person| person.member.to_string() == id).map_or_else(String::new, |person| person.name.clone());
    let loads = rota.loads.iter().map(|load| LoadLine {
        name: name(&load.person),
        minutes: load.minutes,
        of: load.of,
        percent: text::percent(&load.share),
        racks: load.racks.len(),
    });
    let left = rota
        .unassigned
        .iter()
        .filter_map(|unassigned| Some(Left { duty: plan.duty(&unassigned.duty)?.clone(), why: unassigned.reason.clone() }));
    Outcome { loads: loads.collect(), left: left.collect(), given: rota.assignments.len(), verdict: verdict(plan) }
}

fn verdict(plan: &SharePlan) -> String {
    let rota = &plan.rota;
    let given = text::count(&i64::try_from(rota.assignments.len()).unwrap_or(i64::MAX), "duty has", "duties have");
    let nobody = match rota.unassigned.len() {
        0 => String::new(),
        one => format!(" {one} with nobody."),
    };
    let fairness = if rota.proven {
        "; no sharing could make it smaller".to_owned()
    } else {
        format!("; no sharing could bring it below {}", text::percent(&rota.lower_bound))
    };
    format!("{given} somebody. The fullest day is {} of its minutes{fairness}.{nobody}", text::percent(&rota.max_load_share))
}
