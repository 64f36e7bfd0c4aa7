//! Choosing what of a cohort is held back for breeding: a proposal over sizes and sexes, and what somebody makes of it.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;
use sqlx::SqliteConnection;

use crate::animals;
use crate::cohorts::model::{Cohort, StageCount};
use crate::cohorts::store::{self, TaggedCandidate};
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, Query, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::CohortId;
use crate::house::layout::{Layout, Section, page, page_again};
use crate::house::{paths, text};
use crate::reckoning::holdback::{Candidate, Spread, USUAL_LEAST, USUAL_MOST, spread};
use crate::reckoning::stage::Stage;
use crate::reckoning::words::Sex;
use crate::rounds;

/// More than anybody holds back of one cohort.
const MOST_WANTED: u32 = 500;

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(in crate::cohorts) struct Asked {
    wanted: String,
}

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::cohorts) struct ChoiceForm {
    animal: Vec<String>,
    untagged: String,
    reason: String,
}

/// A tagged animal of the list.
struct Row {
    animal: TaggedCandidate,
    /// Why it is proposed, if it is.
    why: Option<String>,
    chosen: bool,
}

/// So many untagged at a stage.
struct Untagged {
    stage: Stage,
    count: u32,
    take: u32,
}

#[derive(Template)]
#[template(path = "cohorts/holdbacks.html")]
struct HoldbacksPage {
    layout: Layout,
    cohort: Cohort,
    wanted: String,
    asked: Mistakes,
    rows: Vec<Row>,
    untagged: Vec<Untagged>,
    held_untagged: i64,
    free_untagged: i64,
    spread: Spread,
    input: ChoiceForm,
    mistakes: Mistakes,
}

/// What can be held back of a cohort.
struct Stock {
    tagged: Vec<TaggedCandidate>,
    standing: Vec<StageCount>,
    alive: i64,
    held: i64,
}

impl Stock {
    async fn of(db: &mut SqliteConnection, id: CohortId) -> Result<Self, AppError> {
        let mut standing = store::standing(&mut *db, id).await?;
        // Nobody picks breeding stock among eggs and post-embryos.
        standing.retain(|count| count.stage >= Stage::Instar(1));
        Ok(Self {
            tagged: store::tagged_alive(&mut *db, id).await?,
            standing,
            alive: store::alive(&mut *db, id).await?,
            held: store::held_back(&mut *db, id).await?,
        })
    }

    /// The tagged ones, then the untagged by stage. Nobody wrote at which stages those stand that are held already: they are
    /// taken to be spread over the stages as their numbers are.
    fn candidates(&self) -> Vec<Candidate> {
        let whole = |number: Option<i64>| number.and_then(|number| u32::try_from(number).ok());
        let tagged = self.tagged.iter().map(|animal| Candidate {
            span_mm: whole(animal.span_mm),
            instar: whole(animal.instar),
            sex: animal.sex,
            count: 1,
            held: animal.held_for.is_some().into(),
        });
        let all: u64 = self.standing.iter().map(|count| u64::from(whole(Some(count.quantity)).unwrap_or(0))).sum();
        let (held, mut seen, mut given) = (u64::try_from(self.held).unwrap_or(0), 0, 0);
        let untagged = self.standing.iter().map(move |count| {
            let here = whole(Some(count.quantity)).unwrap_or(0);
            seen += u64::from(here);
            let so_far = (held * seen).checked_div(all).unwrap_or(0);
            let held = u32::try_from(so_far - given).unwrap_or(0).min(here);
            given = so_far;
            let instar = if let Stage::Instar(number) = count.stage { Some(u32::from(number)) } else { None };
            Candidate { span_mm: None, instar, sex: Sex::Unknown, count: here, held }
        });
        tagged.chain(untagged).collect()
    }

    /// As many as are usual: a sixteenth, from 5 to 20 (common practice, no source), and never fewer than are held.
    fn usual(&self) -> u32 {
        let there = u32::try_from(self.alive).unwrap_or(0) + u32::try_from(self.tagged.len()).unwrap_or(0);
        let held = u32::try_from(self.held).unwrap_or(0);
        let held = held + u32::try_from(self.tagged.iter().filter(|animal| animal.held_for.is_some()).count()).unwrap_or(0);
        (there / 16).clamp(USUAL_LEAST, USUAL_MOST).max(held)
    }
}

impl HoldbacksPage {
    async fn of(
        app: &App,
        me: &SignedIn,
        id: CohortId,
        wanted: &str,
        input: Option<ChoiceForm>,
        mistakes: Mistakes,
    ) -> Result<Self, AppError> {
        let mut db = app.read().await?;
        let cohort = store::require(&mut db, id).await?;
        let stock = Stock::of(&mut db, id).await?;
        let mut check = Check::new();
        let asked = check.optional_whole("wanted", wanted, 1..=MOST_WANTED);
        let wanted = if check.ok() { asked.unwrap_or_else(|| stock.usual()).to_string() } else { wanted.to_owned() };
        let spread = spread(&stock.candidates(), asked.unwrap_or_else(|| stock.usual()));
        let tagged = stock.tagged.len();
        let choice = |place: usize| spread.choices.iter().find(|choice| choice.candidate == place);
        let untagged: Vec<Untagged> = stock
            .standing
            .iter()
            .enumerate()
            .map(|(number, count)| Untagged {
                stage: count.stage,
                count: u32::try_from(count.quantity).unwrap_or(0),
                take: choice(tagged + number).map_or(0, |choice| choice.take),
            })
            .collect();
        let row = |(place, animal): (usize, TaggedCandidate)| {
            let why = choice(place).map(|choice| choice.reason.clone());
            let chosen = input.as_ref().map_or(why.is_some(), |typed| typed.animal.iter().any(|id| *id == animal.id.to_string()));
            Row { animal, why, chosen }
        };
        Ok(Self {
            layout: Layout::of(app, me, Section::Cohorts).await?,
            rows: stock.tagged.into_iter().enumerate().map(row).collect(),
            input: input.unwrap_or_else(|| ChoiceForm {
                untagged: untagged.iter().map(|of| of.take).sum::<u32>().to_string(),
                ..ChoiceForm::default()
            }),
            untagged,
            held_untagged: stock.held,
            free_untagged: stock.alive - stock.held,
            cohort,
            wanted,
            asked: check.mistakes(),
            spread,
            mistakes,
        })
    }

    /// How many are proposed beside those that are held already.
    fn proposed(&self) -> u32 {
        self.spread.choices.iter().map(|choice| choice.take).sum()
    }
}

pub(in crate::cohorts) async fn show(State(app): State<App>, me: SignedIn, Path(id): Path<CohortId>, Query(asked): Query<Asked>) -> Answer {
    page(&HoldbacksPage::of(&app, &me, id, &asked.wanted, None, Mistakes::none()).await?)
}

pub(in crate::cohorts) async fn save(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<CohortId>,
    Query(asked): Query<Asked>,
    form: Form<ChoiceForm>,
) -> Answer {
    let cohort = store::require(&mut *app.read().await?, id).await?;
    match hold(&app, &me, &cohort, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&HoldbacksPage::of(&app, &me, id, &asked.wanted, Some(form.input), mistakes).await?),
        answer => answer,
    }
}

/// What was chosen, checked against what stands there.
struct Chosen {
    tagged: Vec<TaggedCandidate>,
    untagged: u32,
    reason: String,
}

impl ChoiceForm {
    fn check(&self, stock: &Stock) -> Result<Chosen, Mistakes> {
        let mut check = Check::new();
        let mut tagged = Vec::new();
        for typed in &self.animal {
            match stock.tagged.iter().find(|animal| animal.id.to_string() == typed.trim()) {
                None => check.add("animal", "One of the ticked animals is not of this cohort, or has left. Look at the list again."),
                Some(animal) if animal.held_for.is_some() => {
                    check.add("animal", format!("{} is held back already.", animal.tag));
                }
                Some(animal) if !tagged.iter().any(|one: &TaggedCandidate| one.id == animal.id) => tagged.push(animal.clone()),
                Some(_) => {}
            }
        }
        let free = u32::try_from(stock.alive - stock.held).unwrap_or(0);
        let untagged = check.optional_whole("untagged", &self.untagged, 0..=100_000_u32).unwrap_or(0);
        if untagged > free {
            check.add("untagged", format!("Only {free} untagged ones are free to hold back."));
        }
        let reason = check.text("reason", &self.reason, 400);
        if check.ok() && tagged.is_empty() && untagged == 0 {
            check.add("animal", "Nothing is chosen. Tick an animal, or enter how many of the untagged.");
        }
        match reason {
            Some(reason) if check.ok() => Ok(Chosen { tagged, untagged, reason }),
            _ => Err(check.mistakes()),
        }
    }
}

async fn hold(app: &App, me: &SignedIn, cohort: &Cohort, form: &Form<ChoiceForm>) -> Answer {
    let mut write = app.begin(me.id(), &form.once).await?;
    let stock = Stock::of(write.db(), cohort.id).await?;
    let chosen = form.input.check(&stock)?;
    for animal in &chosen.tagged {
        animals::store::hold_back(&mut write, animal.id, &chosen.reason).await?;
    }
    if chosen.untagged > 0 {
        let today = write.today;
        store::hold_back(&mut write, cohort.id, today, chosen.untagged.into(), &chosen.reason).await?;
    }
    rounds::store::replan_cohort(&mut write, cohort.id).await?;
    let mut what: Vec<String> = chosen.tagged.iter().map(|animal| animal.tag.clone()).collect();
    if chosen.untagged > 0 {
        what.push(format!("{} untagged of {}", chosen.untagged, cohort.code));
    }
    let say = format!("Held back for breeding: {}.", what.join(", "));
    let change = Change::new("cohort.holdbacks", format!("cohort {}", cohort.id), format!("{say} {}", chosen.reason));
    me.done(write, change, &paths::holdbacks(&cohort.id), say).await
}
