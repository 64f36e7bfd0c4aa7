//! Pages of handovers and buyers.

mod add;
mod adding;
mod buyers;
mod finish;
mod line_table;
mod new;
pub(super) mod order;
pub(super) mod orders;
mod outings;
pub(super) mod pack;
pub(super) mod pick;
pub(super) mod price_list;
pub(super) mod prices;
mod recall;
pub(super) mod reservations;
mod road;
pub(super) mod stock;
pub(super) mod terms;

use askama::Template;
use axum::extract::State;
use axum::response::Response;
use chrono::NaiveDate;
use sqlx::SqliteConnection;

pub(super) use add::{add, change_prices, remove_line};
pub(super) use buyers::{
    buyer, change_buyer, change_rule, confirm_erasure, create_buyer, csv_of_person, edit_buyer, erase_buyer, inventory, json_of_person,
    keep_buyer, keep_longer, list_of_buyers, new_buyer, show_rule,
};
pub(super) use finish::{cancel, hand_over, papers};
pub(super) use new::{create_handover, new_handover};
pub(super) use outings::{
    back, begin_sale, cancel as cancel_outing, create as create_outing, go, list as outings, new as new_outing, pack as pack_outing,
    reconcile, scan, sell, show as outing, take_animal, take_lot, unpack,
};
pub(super) use recall::{create_recall, list_of_recalls, new_recall, note_outcome, show_recall, write_letters};
pub(super) use road::{
    arrival, change_rules, collect, credit, dispatch, issue_credit, journey, plan_journey, record_arrival, returned, rules, take_back,
};

use self::adding::{AddForm, lot_choices, pack_hint};
use self::line_table::{LineTable, LinesForm, refused};
use self::road::OnTheWay;
use super::model::{Buyer, CheckedLine, Handover, HandoverState, Item, Sale};
use super::store;
use crate::house::app::App;
use crate::house::errors::{Answer, AppError};
use crate::house::extract::{Path, SignedIn};
use crate::house::forms::Mistakes;
use crate::house::ids::HandoverId;
use crate::house::layout::{Choice, Layout, Section, page, page_again, page_overtaken};
use crate::house::paths;
use crate::papers::model::{PaperKind, PaperLine};
use crate::reckoning::sale_readiness::may_leave;

/// How many ended handovers the list shows.
const SHOWN: i64 = 100;

#[derive(Template)]
#[template(path = "sales/list.html")]
struct ListPage {
    layout: Layout,
    drafts: Vec<Handover>,
    done: Vec<Handover>,
    cancelled: Vec<Handover>,
}

pub(super) async fn list(State(app): State<App>, me: SignedIn) -> Answer {
    let mut db = app.read().await?;
    let drafts = store::handovers(&mut db, HandoverState::Draft, SHOWN).await?;
    let done = store::handovers(&mut db, HandoverState::Done, SHOWN).await?;
    let cancelled = store::handovers(&mut db, HandoverState::Cancelled, SHOWN).await?;
    page(&ListPage { layout: Layout::of(&app, &me, Section::Sales).await?, drafts, done, cancelled })
}

/// A paper of a handover with the address that opens it for the buyer.
struct ShownPaper {
    paper: PaperLine,
    link: Option<String>,
}

impl ShownPaper {
    /// Whether the buyer opens it by a link of their own, or did: care sheets have one from the first.
    fn has_link(&self) -> bool {
        self.link.is_some() || self.paper.kind == PaperKind::CareSheet
    }
}

/// What was typed into the forms of a handover's page.
#[derive(Debug, Default)]
struct Typed {
    add: AddForm,
    lines: LinesForm,
    override_reason: String,
    age_seen: String,
}

#[derive(Template)]
#[template(path = "sales/handover.html")]
struct HandoverPage {
    layout: Layout,
    handover: Handover,
    buyer: Buyer,
    lines: Vec<CheckedLine>,
    blocked: bool,
    impossible: bool,
    /// What is ticked before animals of band 2 or 3 leave.
    risk: Option<String>,
    papers: Vec<ShownPaper>,
    lots: Vec<Choice>,
    /// At a stall: the animals that are left there.
    tags: Option<Vec<Choice>>,
    way: OnTheWay,
    pack_hint: String,
    table: LineTable,
    unpacked: Vec<String>,
    typed: AddForm,
    override_reason: String,
    age_seen: String,
    mistakes: Mistakes,
    zone: chrono_tz::Tz,
    may_edit_packs: bool,
    lines_action: String,
    add_action: String,
}

impl HandoverPage {
    async fn read(app: &App, me: &SignedIn, id: HandoverId, typed: Typed, mistakes: Mistakes) -> Result<Self, AppError> {
        let zone = app.site().zone;
        let mut db = app.read().await?;
        let handover = store::require_handover(&mut db, id).await?;
        let draft = handover.state == HandoverState::Draft;
        let lines = if draft { store::checked_lines(&mut db, id, app.now(), zone).await? } else { ended_lines(&mut db, id).await? };
        let (lots, tags) = if draft { choices(&mut db, id, app.today()).await? } else { (Vec::new(), None) };
        let way = OnTheWay::read(&mut db, &handover, app.today()).await?;
        let sold = store::sale_lines::sale_lines(&mut db, Sale::Handover(id)).await?;
        let terms = store::terms::terms(&mut db).await?;
        let unpacked = if draft && handover.order_id.is_some() { store::packing::missing(&mut db, id).await? } else { Vec::new() };
        Ok(Self {
            buyer: store::require_buyer(&mut db, handover.buyer_id).await?,
            papers: shown_papers(app, crate::papers::store::of_handover(&mut db, id).await?),
            blocked: !unpacked.is_empty() || lines.iter().any(CheckedLine::blocked) || !may_leave(&way.against),
            impossible: lines.iter().any(|line| line.impossible.is_some()),
            risk: risk_tick(&mut db, &lines).await?,
            layout: Layout::of(app, me, Section::Sales).await?,
            pack_hint: pack_hint(&mut db, app.today()).await?,
            table: LineTable::of(sold, terms, &typed.lines),
            may_edit_packs: false,
            lines_action: if draft { format!("{}/prices", paths::handover(&id)) } else { String::new() },
            add_action: format!("{}/add", paths::handover(&id)),
            typed: typed.add,
            override_reason: typed.override_reason,
            age_seen: typed.age_seen,
            handover,
            lines,
            unpacked,
            lots,
            tags,
            way,
            mistakes,
            zone,
        })
    }
}

/// What a counter ticks before animals of band 2 or 3 leave; nothing when none is on the list.
async fn risk_tick(db: &mut sqlx::SqliteConnection, lines: &[CheckedLine]) -> Result<Option<String>, AppError> {
    let band = store::highest_band(lines);
    let least_age = crate::papers::store::settings(db).await?.least_age(band);
    Ok((band >= 2).then(|| match least_age {
        0 => "The buyer was shown the cautions".to_owned(),
        age => format!("The buyer was shown the cautions; age seen: at least {age}"),
    }))
}

/// What has left is not checked again.
async fn ended_lines(db: &mut SqliteConnection, id: HandoverId) -> Result<Vec<CheckedLine>, AppError> {
    let lines = store::lines(db, id).await?;
    Ok(lines.into_iter().map(|line| CheckedLine { line, findings: Vec::new(), band: None, impossible: None }).collect())
}

/// What may be put on a draft: the lots to choose from, and at a stall the animals, which are then the outing's only.
async fn choices(db: &mut SqliteConnection, id: HandoverId, today: NaiveDate) -> Result<(Vec<Choice>, Option<Vec<Choice>>), AppError> {
    let Some(stall) = store::outings::left_at_stall(&mut *db, id).await? else {
        let keeper = store::reserved::keeper_of(&mut *db, id).await?;
        return Ok((lot_choices(&store::offers(db, today, keeper).await?), None));
    };
    let (mut lots, mut tags) = (vec![Choice::new("", "choose a cohort and stage")], vec![Choice::new("", "choose a tag")]);
    for line in stall.iter().filter(|line| line.left() > 0) {
        match line.item(line.left()) {
            Some(Item::Animal(_)) => tags.push(Choice::new(&line.label, format!("{} · {}", line.label, line.species))),
            Some(Item::Lot(lot)) => {
                let label = format!("{} · {} · {} · {} left", line.species, line.label, lot.stage, lot.quantity);
                lots.push(Choice::new(format!("{}-{}", lot.cohort, lot.stage.code()), label));
            }
            None => {}
        }
    }
    Ok((lots, Some(tags)))
}

fn shown_papers(app: &App, papers: Vec<PaperLine>) -> Vec<ShownPaper> {
    let link = |paper: &PaperLine| {
        let nonce = paper.nonce.as_deref()?;
        Some(format!("{}{}", paper.link_base, crate::house::paths::sheet(&app.link_key.token(nonce))))
    };
    papers.into_iter().map(|paper| ShownPaper { link: link(&paper), paper }).collect()
}

pub(super) async fn handover(State(app): State<App>, me: SignedIn, Path(id): Path<HandoverId>) -> Answer {
    page(&HandoverPage::read(&app, &me, id, Typed::default(), Mistakes::none()).await?)
}

/// The handover's page again, with what was typed: 422 for what to mend, 409 when somebody was faster.
async fn again(app: &App, me: &SignedIn, id: HandoverId, answer: Answer, typed: Typed) -> Result<Response, AppError> {
    let error = match answer {
        Ok(response) => return Ok(response),
        Err(error) => error,
    };
    let (status, mistakes) = refused(error)?;
    let shown = HandoverPage::read(app, me, id, typed, mistakes).await?;
    if status == 409 { page_overtaken(&shown) } else { page_again(&shown) }
}
