//! The check of what is packed: scan each tag, see what is missing.

use askama::Template;
use axum::extract::State;
use serde::Deserialize;

use super::line_table::refused;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::{Check, Form, Mistakes};
use crate::house::ids::{HandoverId, MemberId};
use crate::house::layout::{Choice, Layout, Section, page, page_again, page_overtaken};
use crate::house::paths;
use crate::reckoning::hazard::Band;
use crate::sales::model::{CheckedLine, Handover, NewPacking, PackLine};
use crate::sales::store::{self, packing, pick};
use crate::staff;
use crate::staff::passphrase;

#[derive(Debug, Default, Clone, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(in crate::sales) struct PackForm {
    code: String,
    count: String,
    packer: String,
    second: String,
    /// The PIN of whoever packed, when that is not the one who is signed in.
    pin: String,
    second_pin: String,
    /// `out` takes it out of the box again.
    deed: String,
}

/// A line with its band and who may pack it.
struct Shown {
    line: PackLine,
    band: i64,
    who_may: String,
}

#[derive(Template)]
#[template(path = "sales/pack.html")]
struct PackPage {
    layout: Layout,
    handover: Handover,
    shown: Vec<Shown>,
    /// How many are in the box, and how many go.
    packed: u32,
    go: u32,
    people: Vec<Choice>,
    seconds: Vec<Choice>,
    /// Whether something takes a clearance or two people, so that PINs are asked for.
    risky: bool,
    input: PackForm,
    mistakes: Mistakes,
}

impl PackPage {
    async fn read(app: &App, me: &SignedIn, id: HandoverId, mut input: PackForm, mistakes: Mistakes) -> Result<Self, AppError> {
        let mut db = app.read().await?;
        let handover = store::require_draft(&mut db, id).await?;
        let lines = packing::pack_lines(&mut db, id).await?;
        let checked = store::checked_lines(&mut db, id, app.now(), app.site().zone).await?;
        let mut shown = Vec::with_capacity(lines.len());
        for line in lines {
            let band = checked.iter().find(|checked| same(checked, &line)).and_then(|checked| checked.band).unwrap_or(3);
            shown.push(Shown { who_may: pick::who_may(&mut db, Band::at(band), app.today()).await?, band, line });
        }
        let team = staff::store::active(&mut db).await?;
        let may = |roles: staff::model::Roles| roles.looks_after();
        let people: Vec<Choice> =
            team.iter().filter(|member| may(member.roles)).map(|member| Choice::new(member.id, &member.name)).collect();
        let me_packs = people.iter().any(|person| person.code == me.id().to_string());
        if input.packer.is_empty() && me_packs {
            input.packer = me.id().to_string();
        }
        let with_none = |label: &str, rest: &[Choice]| std::iter::once(Choice::new("", label)).chain(rest.iter().cloned()).collect();
        Ok(Self {
            layout: Layout::of(app, me, Section::Sales).await?,
            packed: shown.iter().map(|shown| shown.line.packed.min(shown.line.quantity)).sum(),
            go: shown.iter().map(|shown| shown.line.quantity).sum(),
            risky: shown.iter().any(|shown| shown.band > 0),
            seconds: with_none("nobody", &people),
            people: with_none("choose", &people),
            handover,
            shown,
            input,
            mistakes,
        })
    }
}

fn same(checked: &CheckedLine, line: &PackLine) -> bool {
    (checked.line.animal_id, checked.line.cohort_id, checked.line.stage) == (line.animal_id, line.cohort_id, line.stage)
}

pub(in crate::sales) async fn show(State(app): State<App>, me: SignedIn, Path(id): Path<HandoverId>) -> Answer {
    page(&PackPage::read(&app, &me, id, PackForm::default(), Mistakes::none()).await?)
}

pub(in crate::sales) async fn scan(State(app): State<App>, me: SignedIn, Path(id): Path<HandoverId>, form: Form<PackForm>) -> Answer {
    let answer = save(&app, &me, id, &form).await;
    let error = match answer {
        Ok(response) => return Ok(response),
        Err(error) => error,
    };
    let (status, mistakes) = refused(error)?;
    let input = PackForm { pin: String::new(), second_pin: String::new(), ..form.input };
    let shown = PackPage::read(&app, &me, id, input, mistakes).await?;
    if status == 409 { page_overtaken(&shown) } else { page_again(&shown) }
}

impl PackForm {
    fn check(&self) -> Result<NewPacking, Mistakes> {
        let mut check = Check::new();
        let typed = check.paragraphs("code", &self.code, 8000).unwrap_or_default();
        let codes: Vec<String> = typed.split([' ', '\n', '\t', ',', ';']).filter(|code| !code.is_empty()).map(str::to_owned).collect();
        if codes.is_empty() && check.ok() {
            check.add("code", "Scan or type the tag, or the cohort's code.");
        }
        if codes.len() > 200 {
            check.add("code", format!("These are {} codes; at most 200 are taken at once.", codes.len()));
        }
        let count = check.optional_whole("count", &self.count, 1..=3000);
        let packer = check.choice("packer", &self.packer);
        let second = check.optional_choice("second", &self.second);
        match packer {
            Some(packer) if check.ok() => Ok(NewPacking { codes, count, packer, second }),
            _ => Err(check.mistakes()),
        }
    }
}

/// People other than the one who is signed in confirm with their PIN what asks for a clearance or for two.
async fn confirm(app: &App, me: &SignedIn, new: &NewPacking, form: &PackForm) -> Result<(), AppError> {
    let mut mistakes = Mistakes::none();
    let asked: [(Option<MemberId>, &str, &'static str); 2] =
        [(Some(new.packer), &form.pin, "pin"), (new.second, &form.second_pin, "second_pin")];
    for (who, pin, field) in asked {
        let Some(who) = who.filter(|who| *who != me.id()) else { continue };
        match passphrase::verify_pin(app, who, pin).await {
            Ok(true) => {}
            Ok(false) => mistakes.add(field, "This is not their PIN. They enter it themselves."),
            Err(AppError::TooMany(why)) => mistakes.add(field, why),
            Err(other) => return Err(other),
        }
    }
    if mistakes.is_empty() { Ok(()) } else { Err(mistakes.into()) }
}

async fn save(app: &App, me: &SignedIn, id: HandoverId, form: &Form<PackForm>) -> Answer {
    let new = form.input.check()?;
    if needs_pins(app, id, &new).await? {
        confirm(app, me, &new, &form.input).await?;
    }
    let mut write = app.begin(me.id(), &form.once).await?;
    let people = new.second.map_or_else(|| new.packer.to_string(), |second| format!("{} and {second}", new.packer));
    if form.input.deed == "out" {
        let code = new.codes.first().map(|code| packing::scanned(code).to_uppercase()).unwrap_or_default();
        let words = packing::unpack(&mut write, id, &code, &new).await?;
        let change = Change::new("handover.unpacked", format!("handover {id}"), format!("{words}; by member {people}"));
        return me.done(write, change, &paths::pack(&id), format!("Taken out of the box: {words}.")).await;
    }
    let told = packing::pack(&mut write, id, &new).await?.join(", ");
    let missing = packing::missing(write.db(), id).await?;
    let change = Change::new("handover.packed", format!("handover {id}"), format!("{told}; by member {people}"));
    let rest = if missing.is_empty() { "All is packed.".to_owned() } else { format!("Missing: {}.", missing.join(", ")) };
    me.done(write, change, &paths::pack(&id), format!("In the box: {told}. {rest}")).await
}

/// Whether one of the codes names something of a band that asks for a clearance.
async fn needs_pins(app: &App, id: HandoverId, new: &NewPacking) -> Result<bool, AppError> {
    let mut db = app.read().await?;
    let checked = store::checked_lines(&mut db, id, app.now(), app.site().zone).await?;
    let codes: Vec<String> = new.codes.iter().map(|code| crate::reckoning::tag::normalise(&packing::scanned(code))).collect();
    for line in checked.iter().filter(|line| codes.contains(&crate::reckoning::tag::normalise(&line.line.label))) {
        let asked = packing::asked(&mut db, Band::at(line.band.unwrap_or(3))).await?;
        if asked.clearance > 0 || asked.persons > 1 {
            return Ok(true);
        }
    }
    Ok(false)
}
