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
use crate::rounds::model::share::{AtWork, Changes, SharePlan};
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
    minutes: u32,
    left: u32,
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
    changes: Changes,
    fullest: String,
    best: String,
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
    /// Those who are in as the form says; the rota where the form says nothing.
    fn check(&self, known: &[AtWork]) -> Result<Vec<AtWork>, Mistakes> {
        let mut check = Check::new();
        let mut people = Vec::new();
        for person in known {
            let typed = self.typed(person);
            let minutes = check.whole("minutes", typed.trim(), 0..=1440);
            let present = self.is_asked_first() && person.present || self.present.contains(&person.member);
            let unticked = || person.why_not.clone().unwrap_or_else(|| "not ticked".to_owned());
            let why_not = (!present).then(unticked);
            people.extend(minutes.map(|minutes| AtWork { minutes, present, why_not, ..person.clone() }));
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

/// Who is in, as the rota or the form says, and what would come of it. Nothing is changed.
pub(in crate::rounds) async fn propose(State(app): State<App>, me: SignedIn, Query(asked): Query<ShareForm>) -> Answer {
    let mut db = app.read().await?;
    let known = share::at_work(&mut db, app.today()).await?;
    let layout = Layout::of(&app, &me, Section::Today).await?;
    let (boxes, keep) = (asked.boxes(&known), asked.keeps());
    match asked.check(&known) {
        // Nobody is in by the rota: the form says so by itself.
        Err(_) if asked.is_asked_first() => page(&SharePage { layout, boxes, keep, mistakes: Mistakes::none(), outcome: None }),
        Err(mistakes) => page_again(&SharePage { layout, boxes, keep, mistakes, outcome: None }),
        Ok(people) => {
            let plan = share::plan(&mut db, app.today(), &people, keep).await?;
            page(&SharePage { layout, boxes, keep, mistakes: Mistakes::none(), outcome: Some(outcome(&plan, keep)) })
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
    let keep = form.input.keeps();
    let mut write = app.begin(me.id(), &form.once).await?;
    let today = write.today;
    let plan = share::plan(write.db(), today, &people, keep).await?;
    let changes = share::give_out(&mut write, known, &plan).await?;
    let said = format!("{} {changes}", verdict(&plan, keep));
    let change = Change::new("day.shared_out", format!("day {today}"), said.as_str());
    me.done(write, change, paths::TODAY, said).await
}

fn outcome(plan: &SharePlan, keep: bool) -> Outcome {
    let racks = |person: &AtWork| {
        let id = person.member.to_string();
        plan.rota.loads.iter().find(|load| load.person == id).map_or(0, |load| load.racks.len())
    };
    let loads = present(plan).map(|person| LoadLine {
        name: person.name.clone(),
        minutes: person.load,
        left: person.left(),
        percent: text::percent(&person.full()),
        racks: racks(person),
    });
    Outcome {
        loads: loads.collect(),
        left: plan.left().map(|(duty, why)| Left { duty: duty.clone(), why }).collect(),
        given: plan.hands.len(),
        changes: plan.changes(),
        fullest: text::percent(&fullest(plan)),
        best: text::percent(&plan.rota.lower_bound),
        verdict: verdict(plan, keep),
    }
}

fn present(plan: &SharePlan) -> impl Iterator<Item = &AtWork> {
    plan.people.iter().filter(|person| person.present)
}

fn fullest(plan: &SharePlan) -> f64 {
    present(plan).map(AtWork::full).fold(0.0, f64::max)
}

/// How it comes out, against the best that there can be, in words.
fn verdict(plan: &SharePlan, keep: bool) -> String {
    let rota = &plan.rota;
    let given = text::count(&i64::try_from(plan.hands.len()).unwrap_or(i64::MAX), "duty has", "duties have");
    let nobody = match plan.left().count() {
        0 => String::new(),
        one => format!(" {one} with nobody."),
    };
    let sharing = if keep { "no sharing that leaves people what they have" } else { "no sharing" };
    let over: Vec<String> = present(plan).filter(|person| person.load > person.left()).map(AtWork::day).collect();
    let fairness = if !over.is_empty() {
        format!(", since people keep what they have: {}", over.join(", "))
    } else if rota.proven {
        format!("; {sharing} could make it smaller")
    } else {
        let points = (fullest(plan) - rota.lower_bound).max(0.0);
        format!(
            "; {sharing} could bring it below {}, so at most {} more could be gained",
            text::percent(&rota.lower_bound),
            text::percent(&points)
        )
    };
    format!("{given} somebody. The fullest day is {} of the minutes that are left of it{fairness}.{nobody}", text::percent(&fullest(plan)))
}
