//! Reconciling an outing: what was sold is known, what came back, died or is missing is counted.

use std::collections::BTreeMap;

use askama::Template;
use axum::extract::State;
use chrono::{Days, NaiveDate};
use serde::Deserialize;

use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::OutingId;
use crate::house::layout::{Choice, Layout, Section, page, page_again};
use crate::house::{paths, text};
use crate::reckoning::words::LossCause;
use crate::rounds;
use crate::sales::model::{Back, BackHome, Outing, OutingLine, OutingState};
use crate::sales::pages::road::{places, shelf};
use crate::sales::store::{outings, road};

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::sales) struct BackForm {
    line: Vec<String>,
    returned: Vec<String>,
    dead: Vec<String>,
    missing: Vec<String>,
    cause: String,
    until: String,
    shelf: String,
}

impl BackForm {
    /// What was typed of a line: how many came back, died, are missing.
    fn typed(&self, line: &OutingLine) -> [String; 3] {
        let place = self.line.iter().position(|id| *id == line.id.to_string());
        let of = |column: &[String]| place.and_then(|at| column.get(at)).cloned();
        let (start, none) = (if line.left() == 0 { "0" } else { "" }, "0");
        [(&self.returned, start), (&self.dead, none), (&self.missing, none)]
            .map(|(column, otherwise)| of(column).unwrap_or_else(|| otherwise.to_owned()))
    }

    fn check(&self, lines: &[OutingLine], today: NaiveDate, places: &[Choice]) -> Result<(Vec<Back>, BackHome), Mistakes> {
        let mut check = Check::new();
        let mut counted = Vec::new();
        for line in lines {
            let numbers = self.typed(line).map(|typed| typed.trim().parse::<u32>().ok().filter(|number| *number <= 3000));
            match numbers {
                [Some(returned), Some(dead), Some(missing)] => counted.push(Back { line: line.id, returned, dead, missing }),
                _ => {
                    check.add("counts", format!("{}: enter a whole number from 0 to 3000 in each field.", text::capitalised(&line.words())))
                }
            }
        }
        let cause = check.choice::<LossCause>("cause", &self.cause).filter(|cause| CAUSES.contains(cause));
        let until = check.coming_day("until", &self.until, today);
        let shelf = shelf(&mut check, &self.shelf, places);
        match (cause, until) {
            (Some(cause), Some(apart_until)) if check.ok() => Ok((counted, BackHome { cause, apart_until, shelf })),
            _ => Err(check.mistakes()),
        }
    }
}

/// What animals die of on the road; the likeliest first.
const CAUSES: [LossCause; 6] =
    [LossCause::Transport, LossCause::Climate, LossCause::Handling, LossCause::Fall, LossCause::FailedMoult, LossCause::Unknown];

/// A line of the form.
struct Row {
    line: OutingLine,
    typed: [String; 3],
}

#[derive(Template)]
#[template(path = "sales/outings/back.html")]
struct BackPage {
    layout: Layout,
    outing: Outing,
    rows: Vec<Row>,
    causes: Vec<Choice>,
    places: Vec<Choice>,
    input: BackForm,
    mistakes: Mistakes,
    days: i64,
}

impl BackPage {
    async fn read(app: &App, me: &SignedIn, id: OutingId, input: Option<BackForm>, mistakes: Mistakes) -> Result<Self, AppError> {
        let mut db = app.read().await?;
        let outing = outings::require_in(&mut db, id, OutingState::Out).await?;
        let lines = outings::lines(&mut db, id).await?;
        let days = road::rules(&mut db).await?.outing_hold_days;
        let last = app.today().checked_add_days(Days::new(u64::try_from(days).unwrap_or(0))).unwrap_or(app.today());
        let input = input.unwrap_or_else(|| BackForm {
            cause: LossCause::Transport.code().to_owned(),
            until: text::iso_day(&last),
            ..BackForm::default()
        });
        let rows = lines.into_iter().map(|line| Row { typed: input.typed(&line), line }).collect();
        let causes = CAUSES.iter().map(|cause| Choice::new(cause.code(), cause)).collect();
        let layout = Layout::of(app, me, Section::Sales).await?;
        Ok(Self { layout, outing, rows, causes, places: places(app, "where it stood before").await?, input, mistakes, days })
    }
}

pub(in crate::sales) async fn back(State(app): State<App>, me: SignedIn, Path(id): Path<OutingId>) -> Answer {
    page(&BackPage::read(&app, &me, id, None, Mistakes::none()).await?)
}

pub(in crate::sales) async fn reconcile(State(app): State<App>, me: SignedIn, Path(id): Path<OutingId>, form: Form<BackForm>) -> Answer {
    match save(&app, &me, id, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&BackPage::read(&app, &me, id, Some(form.input), mistakes).await?),
        answer => answer,
    }
}

async fn save(app: &App, me: &SignedIn, id: OutingId, form: &Form<BackForm>) -> Answer {
    let places = places(app, "").await?;
    let mut write = app.begin(me.id(), &form.once).await?;
    outings::require_in(write.db(), id, OutingState::Out).await?;
    let lines = outings::lines(write.db(), id).await?;
    let (counted, home) = form.input.check(&lines, write.today, &places)?;
    let done = outings::reconcile(&mut write, id, &counted, &home).await?;
    for animal in &done.animals {
        rounds::store::replan_animal(&mut write, *animal).await?;
    }
    for cohort in &done.cohorts {
        rounds::store::replan_cohort(&mut write, *cohort).await?;
    }
    let change = Change::new("outing.reconciled", format!("outing {id}"), in_brief(&lines, &counted, &done.total)).from("out");
    me.done(write, change, &paths::outing(&id), format!("Reconciled: {}.", done.total)).await
}

/// What became of each line, by numbers.
fn in_brief(lines: &[OutingLine], counted: &[Back], total: &str) -> String {
    let by_line: BTreeMap<_, _> = counted.iter().map(|back| (back.line, back)).collect();
    let told = lines.iter().filter_map(|line| {
        let back = by_line.get(&line.id)?;
        Some(format!(
            "{}: {} out, {} sold, {} back, {} dead, {} missing",
            line.words(),
            line.quantity,
            line.sold,
            back.returned,
            back.dead,
            back.missing
        ))
    });
    std::iter::once(total.to_owned()).chain(told).collect::<Vec<_>>().join("; ")
}
