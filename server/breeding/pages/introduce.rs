//! Writing an introduction down, with the cautions of both animals before the button, and striking a slip out.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;

use crate::animals;
use crate::breeding::model::{Introduction, NewIntroduction, PairingRow};
use crate::breeding::store;
use crate::handling;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::{AnimalId, IntroductionId, MemberId, PairingId};
use crate::house::layout::{Choice, Layout, Section, choices, page, page_again};
use crate::house::{paths, text};
use crate::reckoning::breeding::{Insertion, IntroductionEnd};
use crate::reckoning::hazard::{Requirement, cautions_text, rehouse_checklist};
use crate::reckoning::who_may::Part;
use crate::rounds;
use crate::staff;
use crate::staff::passphrase;

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::breeding) struct IntroduceForm {
    day: String,
    time: String,
    insertion: String,
    outcome: String,
    second: String,
    pin: String,
    note: String,
}

impl IntroduceForm {
    fn check(&self, app: &App, pairing: PairingId) -> Result<NewIntroduction, Mistakes> {
        let mut check = Check::new();
        let day = check.day("day", &self.day, app.today());
        let began_at = day.and_then(|day| check.hour("time", &self.time, day, app.site().zone, app.now()));
        let insertion = check.choice::<Insertion>("insertion", &self.insertion);
        let outcome = check.choice::<IntroductionEnd>("outcome", &self.outcome);
        if outcome == Some(IntroductionEnd::Unknown) {
            check.add("outcome", "Choose one of the list.");
        }
        let second = check.optional_choice::<MemberId>("second", &self.second);
        let note = check.paragraphs("note", &self.note, 600);
        match (day, began_at, insertion, outcome, note) {
            (Some(day), Some(began_at), Some(insertion), Some(outcome), Some(note)) if check.ok() => {
                Ok(NewIntroduction { pairing, day, began_at, insertion, outcome, second, note })
            }
            _ => Err(check.mistakes()),
        }
    }
}

/// What to know of one of the two before its box is opened.
struct Risk {
    tag: String,
    band: i64,
    lines: Vec<String>,
    tools: Vec<&'static str>,
}

#[derive(Template)]
#[template(path = "breeding/introduce.html")]
struct IntroducePage {
    layout: Layout,
    pairing: PairingRow,
    risks: Vec<Risk>,
    tools: String,
    asked: Requirement,
    lacks: Option<String>,
    insertions: Vec<Choice>,
    outcomes: Vec<Choice>,
    seconds: Vec<Choice>,
    input: IntroduceForm,
    mistakes: Mistakes,
}

impl IntroducePage {
    async fn of(app: &App, me: &SignedIn, pairing: PairingRow, input: IntroduceForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let mut db = app.read().await?;
        let (_, asked) = store::asked_of_people(&mut db, pairing.dam_id, pairing.sire_id).await?;
        let mut risks = Vec::new();
        for (id, tag) in [(pairing.dam_id, &pairing.dam_tag), (pairing.sire_id, &pairing.sire_tag)] {
            risks.push(risk(&mut db, id, tag).await?);
        }
        let mut tools: Vec<&str> = Vec::new();
        for tool in risks.iter().flat_map(|risk| risk.tools.iter().copied()).filter(|tool| !tool.contains("enclosure")) {
            if !tools.contains(&tool) {
                tools.push(tool);
            }
        }
        let choose = || Choice::new("", "choose");
        let ends = IntroductionEnd::ALL.iter().filter(|end| **end != IntroductionEnd::Unknown);
        let team = staff::store::active(&mut db).await?;
        let able = team.iter().filter(|one| one.has_pin && one.id != me.id() && one.roles.looks_after());
        Ok(Self {
            lacks: handling::store::lacking(&mut db, me.id(), asked, Part::First, app.today()).await?,
            tools: tools.join("; "),
            insertions: std::iter::once(choose()).chain(choices(Insertion::ALL, Insertion::code)).collect(),
            outcomes: std::iter::once(choose()).chain(ends.map(|end| Choice::new(end.code(), end))).collect(),
            seconds: std::iter::once(choose()).chain(able.map(|one| Choice::new(one.id, &one.name))).collect(),
            layout: Layout::of(app, me, Section::Breeding).await?,
            pairing,
            risks,
            asked,
            input,
            mistakes,
        })
    }
}

async fn risk(db: &mut sqlx::SqliteConnection, id: AnimalId, tag: &str) -> Result<Risk, AppError> {
    let (facts, hazard) = animals::store::hazard(db, id).await?;
    let mut lines = cautions_text(&facts);
    lines.push(format!("Why this band: {}.", hazard.reasons.join("; ")));
    Ok(Risk { tag: tag.to_owned(), band: i64::from(hazard.band.level()), lines, tools: rehouse_checklist(&facts) })
}

pub(in crate::breeding) async fn show(State(app): State<App>, me: SignedIn, Path(id): Path<PairingId>) -> Answer {
    let pairing = store::require_pairing(&mut *app.read().await?, id).await?;
    let (day, time) = (text::iso_day(&app.today()), text::hour(&app.now(), &app.site().zone));
    let input = IntroduceForm { day, time, ..IntroduceForm::default() };
    page(&IntroducePage::of(&app, &me, pairing, input, Mistakes::none()).await?)
}

pub(in crate::breeding) async fn save(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<PairingId>,
    form: Form<IntroduceForm>,
) -> Answer {
    let pairing = store::require_pairing(&mut *app.read().await?, id).await?;
    match introduce(&app, &me, &pairing, &form).await {
        Err(AppError::Refused(mistakes)) => page_again(&IntroducePage::of(&app, &me, pairing, form.input, mistakes).await?),
        answer => answer,
    }
}

async fn introduce(app: &App, me: &SignedIn, pairing: &PairingRow, form: &Form<IntroduceForm>) -> Answer {
    let new = form.input.check(app, pairing.id)?;
    let pin = confirmed(app, pairing, &new, &form.input.pin).await?;
    let mut write = app.begin(me.id(), &form.once).await?;
    let written = store::introduce(&mut write, &new).await;
    if let Some(wrong) = pin {
        // The store tells what else is wrong; nothing of it stays, as the change is not committed.
        let mut mistakes = match written {
            Err(AppError::Refused(mistakes)) => mistakes,
            Err(other) => return Err(other),
            Ok(_) => Mistakes::none(),
        };
        mistakes.add("pin", wrong);
        return Err(mistakes.into());
    }
    let id = written?;
    for animal in [pairing.dam_id, pairing.sire_id] {
        rounds::store::replan_animal(&mut write, animal).await?;
    }
    let lost = if new.outcome == IntroductionEnd::Lost { format!(" {} is in the book as dead.", pairing.sire_tag) } else { String::new() };
    let words =
        format!("{} was put to {} on {}: {}, {}.", pairing.sire_tag, pairing.dam_tag, text::day(&new.day), new.insertion, new.outcome);
    let change = Change::new("pairing.introduced", format!("introduction {id}"), words.as_str());
    me.done(write, change, &paths::pairing(&pairing.id), format!("{words}{lost}")).await
}

/// What is wrong with the second person's PIN, where two are asked and somebody was chosen; they type it on this screen.
async fn confirmed(app: &App, pairing: &PairingRow, new: &NewIntroduction, pin: &str) -> Result<Option<String>, AppError> {
    let (_, asked) = store::asked_of_people(&mut *app.read().await?, pairing.dam_id, pairing.sire_id).await?;
    let Some(second) = new.second.filter(|_| asked.persons >= 2) else { return Ok(None) };
    match passphrase::verify_pin(app, second, pin).await {
        Ok(true) => Ok(None),
        Ok(false) => Ok(Some("This is not the second person's PIN. They enter it themselves.".to_owned())),
        Err(AppError::TooMany(why)) => Ok(Some(why)),
        Err(other) => Err(other),
    }
}

#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::breeding) struct StrikeForm {
    why: String,
}

#[derive(Template)]
#[template(path = "breeding/strike.html")]
struct StrikePage {
    layout: Layout,
    one: Introduction,
    input: StrikeForm,
    mistakes: Mistakes,
}

pub(in crate::breeding) async fn confirm(State(app): State<App>, me: SignedIn, Path(id): Path<IntroductionId>) -> Answer {
    let one = store::require_introduction(&mut *app.read().await?, id).await?;
    let layout = Layout::of(&app, &me, Section::Breeding).await?;
    page(&StrikePage { layout, one, input: StrikeForm::default(), mistakes: Mistakes::none() })
}

pub(in crate::breeding) async fn strike(
    State(app): State<App>,
    me: SignedIn,
    Path(id): Path<IntroductionId>,
    form: Form<StrikeForm>,
) -> Answer {
    let one = store::require_introduction(&mut *app.read().await?, id).await?;
    match struck(&app, &me, &one, &form).await {
        Err(AppError::Refused(mistakes)) => {
            let layout = Layout::of(&app, &me, Section::Breeding).await?;
            page_again(&StrikePage { layout, one, input: form.input, mistakes })
        }
        answer => answer,
    }
}

async fn struck(app: &App, me: &SignedIn, one: &Introduction, form: &Form<StrikeForm>) -> Answer {
    let mut check = Check::new();
    let Some(why) = check.text("why", &form.input.why, 300) else { return Err(check.mistakes().into()) };
    let mut write = app.begin(me.id(), &form.once).await?;
    store::strike_introduction(&mut write, one.id, &why).await?;
    let before = format!("{}: {}, {}", text::day(&one.day), one.insertion, one.outcome);
    let change = Change::new("introduction.struck_out", format!("introduction {}", one.id), why).from(before);
    me.done(write, change, &paths::pairing(&one.pairing_id), "The introduction is struck out and counts no more.").await
}
