//! Issues the papers that go with a handover: a statement of origin a line, a risk acknowledgement a risky species, and the note.

use std::collections::BTreeMap;

use chrono::{DateTime, NaiveDate, Utc};
use sqlx::SqliteConnection;

use super::chain::{own, provenance};
use super::documents::statement_for;
use super::facts;
use super::issued::{freeze, next_number, of_handover};
use super::settings::{law_places, risk_shown, risk_to_show, settings};
use crate::house::app::App;
use crate::house::errors::AppError;
use crate::house::ids::{HandoverId, SpeciesId};
use crate::house::site::Site;
use crate::house::text;
use crate::house::write::Write;
use crate::papers::frame::Frame;
use crate::papers::model::{
    About, ChainRow, Issued, Kin, NewPaper, NewSheet, PaperKind, PaperSettings, Provenance, SubjectFacts, source_code,
};
use crate::papers::note::{Note, NoteLine};
use crate::papers::origin::Statement;
use crate::papers::person::{self, Buyer};
use crate::papers::risk::Acknowledgement;
use crate::papers::{note, origin, risk};
use crate::reckoning::captive_code::generation_number;
use crate::reckoning::hazard::cautions_text;
use crate::reckoning::provenance::SourceCode;
use crate::reckoning::words::{Setae, Sex, World};
use crate::species::model::Species;
use crate::{animals, cohorts, species};

/// What every paper of one handover shares.
struct Desk {
    site: Site,
    settings: PaperSettings,
    handover: HandoverId,
    buyer: Buyer,
    way: String,
    day: NaiveDate,
    at: DateTime<Utc>,
}

/// A line with what the book knows of it.
struct Line {
    new: NewSheet,
    species: Species,
    facts: SubjectFacts,
}

/// Issues the papers of a handover that stand beside its care sheets, in the caller's transaction: before the handover is closed, and
/// after its care sheets.
///
/// # Errors
/// Animals of band 2 or 3 before their risk was shown: at the field `age_seen`. A line that has its paper already.
pub async fn issue_for_handover(write: &mut Write, app: &App, handover: HandoverId, lines: &[NewSheet]) -> Result<Vec<Issued>, AppError> {
    let desk = desk(write, handover).await?;
    let (at, zone) = (write.at, write.zone);
    let mut known = Vec::new();
    for new in lines {
        let (species, facts) = facts::subject(write.db(), new.subject, at, zone).await?;
        known.push(Line { new: *new, species, facts });
    }
    let mut issued = Vec::new();
    for line in &known {
        issued.push(statement(write, app, &desk, line).await?);
    }
    issued.extend(acknowledgements(write, app, &desk, &known).await?);
    issued.push(handover_note(write, app, &desk, &known).await?);
    Ok(issued)
}

async fn desk(write: &mut Write, handover: HandoverId) -> Result<Desk, AppError> {
    let (day, at) = (write.today, write.at);
    Ok(Desk {
        site: Site::read(write.db()).await?,
        settings: settings(write.db()).await?,
        buyer: buyer_of(write.db(), handover).await?,
        way: sqlx::query_scalar("SELECT way FROM handover WHERE id = ?").bind(handover).fetch_one(write.db()).await?,
        handover,
        day,
        at,
    })
}

/// The buyer of a handover, as its papers name them.
pub(super) async fn buyer_of(db: &mut SqliteConnection, handover: HandoverId) -> Result<Buyer, AppError> {
    Ok(sqlx::query_as(
        "SELECT buyer.name, buyer.contact, buyer.address FROM handover JOIN buyer ON buyer.id = handover.buyer_id WHERE handover.id = ?",
    )
    .bind(handover)
    .fetch_one(db)
    .await?)
}

impl Desk {
    fn about(&self) -> About {
        About { handover: Some(self.handover), ..About::default() }
    }

    /// A paper of this handover that names its buyer.
    fn paper(&self, kind: PaperKind, number: String, about: About, title: String, body: String) -> Result<NewPaper, AppError> {
        let person = Some(person::row(&self.buyer)?);
        Ok(NewPaper { kind, number, about, profile: None, language: "en".to_owned(), title, body, person, link: false })
    }
}

impl Line {
    fn kin(&self) -> Kin {
        self.new.subject.kin()
    }

    fn quantity(&self) -> u32 {
        self.facts.count.unwrap_or(1)
    }

    /// What leaves by it: `tag 0001K`, `40 of cohort BHAM-26-1, second instar`.
    fn words(&self) -> String {
        match self.facts.count {
            Some(count) => {
                format!("{count} of cohort {}{}", self.facts.label, self.stage().map_or_else(String::new, |stage| format!(", {stage}")))
            }
            None => format!("tag {}", self.facts.label),
        }
    }

    fn stage(&self) -> Option<String> {
        self.facts.stage.map(|stage| stage.to_string())
    }

    fn sex(&self) -> String {
        match self.facts.sex {
            Sex::Unknown => "not sexed".to_owned(),
            sexed => format!("{sexed}; basis: {}", self.facts.sex_basis),
        }
    }
}

async fn statement(write: &mut Write, app: &App, desk: &Desk, line: &Line) -> Result<Issued, AppError> {
    let number = next_number(write, PaperKind::OriginStatement).await?;
    let chain = provenance(write.db(), line.kin()).await?;
    let facts = own(&chain)?;
    let stock = statement_for(write.db(), facts.species_id, &facts.locality).await?;
    let listed = !species::store::listings(write.db(), line.species.id).await?.is_empty();
    let (generation, reason) = chain.generation();
    let code = chain.stated(stock.as_ref().map(|stock| stock.grounds));
    let title = format!("{}, {}", line.species.accepted_name, line.words());
    let body = origin::render(&Statement {
        frame: Frame::of(&desk.site, PaperKind::OriginStatement, &number, desk.day, title.clone()),
        registration: desk.settings.registration.clone(),
        telephone: desk.settings.telephone.clone(),
        species: line.species.accepted_name.clone(),
        authority: line.species.authority.clone(),
        facts: told(line, &chain),
        code: source_code(code.source),
        meaning: code.source.code.to_string(),
        basis: code.basis,
        generation: generation.to_string(),
        generation_basis: text::sentence(&reason),
        stock: stock.filter(|_| code.source.code == SourceCode::Captive && generation_number(generation) == Some(1)),
        rows: as_stated(chain.rows(), &source_code(code.source)),
        missing: chain.chain.missing.iter().map(|gap| gap.text.clone()).collect(),
        listed,
    })?;
    let (animal, cohort) = line.kin().ids();
    let about = About { line: Some(line.new.line), animal, cohort, ..desk.about() };
    freeze(write, app, desk.paper(PaperKind::OriginStatement, number, about, title, body)?).await
}

/// The rows of the chain, in which these animals and what they came out of carry the code that the paper states, and the code that
/// was entered for them where it is another.
fn as_stated(mut rows: Vec<ChainRow>, stated: &str) -> Vec<ChainRow> {
    for row in rows.iter_mut().filter(|row| row.back == 0 && row.source != stated) {
        row.source = format!("{stated} (entered as {})", row.source);
    }
    rows
}

/// The facts of the animals: number, stage, sex, days, sac, cohort and parents.
fn told(line: &Line, chain: &Provenance) -> Vec<(&'static str, String)> {
    let mut facts = vec![("Which", line.words()), ("How many", line.quantity().to_string())];
    facts.push(("Stage", line.stage().unwrap_or_else(|| format!("{}; instar not known", line.facts.life_stage))));
    facts.push(("Sex", line.sex()));
    if !line.facts.locality.is_empty() {
        facts.push(("Locality or line", line.facts.locality.clone()));
    }
    let Some(root) = chain.root() else { return facts };
    if matches!(root.kin, Kin::Cohort(_)) {
        facts.push(("Cohort", root.label.clone()));
    }
    let Some(sac) = &root.sac else {
        facts.push(("Origin", format!("bought in; in this house since {}", text::day(&root.started_on))));
        facts.push(("Dam", "unknown to this house".to_owned()));
        facts.push(("Sire", "unknown to this house".to_owned()));
        return facts;
    };
    let day = |day: Option<NaiveDate>, otherwise: &str| day.map_or_else(|| otherwise.to_owned(), |day| text::day(&day));
    facts.push(("Egg sac", format!("sac {}, of this house", sac.id)));
    facts.push(("Laid", text::day(&sac.laid_on)));
    facts.push(("Pulled", day(sac.pulled_on, "left with the dam")));
    facts.push((
        "Hatched",
        day(sac.ended_on, "not recorded") + if sac.ended_on.is_some() { " (the sac was opened and counted)" } else { "" },
    ));
    let brood = chain.node(&root.kin.key()).and_then(|node| node.brood.as_ref());
    let names = |keys: &[String]| {
        let words: Vec<String> = keys
            .iter()
            .filter_map(|key| chain.node(key))
            .map(|node| format!("{}, source {}", node.name, source_code(node.source)))
            .collect();
        words.join("; ")
    };
    let dam = brood.and_then(|brood| brood.dam.clone()).map(|dam| names(&[dam]));
    facts.push(("Dam", with_note(dam, &sac.dam_note) + if sac.dam_wild_mated { "; mated in the wild" } else { "" }));
    let sires = brood.map(|brood| brood.sires.clone()).unwrap_or_default();
    let name = if sires.len() > 1 { "Possible sires" } else { "Sire" };
    facts.push((name, with_note((!sires.is_empty()).then(|| names(&sires)), &sac.sire_note)));
    facts
}

/// A parent by name, or what is stated of it, or that it is unknown.
fn with_note(known: Option<String>, note: &str) -> String {
    match (known, note.trim()) {
        (Some(known), _) => known,
        (None, "") => "unknown".to_owned(),
        (None, note) => format!("unknown to this house; stated: {note}"),
    }
}

async fn acknowledgements(write: &mut Write, app: &App, desk: &Desk, lines: &[Line]) -> Result<Vec<Issued>, AppError> {
    let mut risky: BTreeMap<SpeciesId, Vec<&Line>> = BTreeMap::new();
    for line in lines.iter().filter(|line| line.facts.hazard.band.level() >= 2) {
        risky.entry(line.species.id).or_default().push(line);
    }
    if risky.is_empty() {
        return Ok(Vec::new());
    }
    let band = lines.iter().map(|line| i64::from(line.facts.hazard.band.level())).max().unwrap_or(0);
    if let Some(risk) = risk_to_show(write.db(), desk.handover, band).await? {
        return Err(AppError::refused("age_seen", risk));
    }
    let least_age = risk_shown(write.db(), desk.handover).await?.unwrap_or(0);
    let mut issued = Vec::new();
    for of in risky.into_values() {
        issued.push(acknowledgement(write, app, desk, &of, least_age).await?);
    }
    Ok(issued)
}

async fn acknowledgement(write: &mut Write, app: &App, desk: &Desk, lines: &[&Line], least_age: i64) -> Result<Issued, AppError> {
    let number = next_number(write, PaperKind::RiskAcknowledgement).await?;
    let worst = lines.iter().max_by_key(|line| line.facts.hazard.band).ok_or(AppError::NotFound)?;
    let species = &worst.species;
    let band = i64::from(worst.facts.hazard.band.level());
    let mut cautions: Vec<String> = Vec::new();
    for line in lines {
        let told = cautions_text(&line.facts.risk);
        cautions.extend(told.into_iter().filter(|caution| !cautions.contains(caution)).collect::<Vec<_>>());
    }
    let body = risk::render(&Acknowledgement {
        frame: Frame::of(&desk.site, PaperKind::RiskAcknowledgement, &number, desk.day, species.accepted_name.clone()),
        species: species.accepted_name.clone(),
        authority: species.authority.clone(),
        band,
        reasons: worst.facts.hazard.reasons.clone(),
        cautions,
        items: lines.iter().map(|line| line.words()).collect(),
        venom: species.venom,
        venom_basis: species.venom_basis.clone(),
        old_world: species.world == World::Old,
        setae: species.setae != Setae::None,
        least_age: desk.settings.least_age(band).min(least_age),
        law_note: species.law_note.clone(),
        places: law_places(write.db()).await?,
    })?;
    let title = format!("{}, band {band}", species.accepted_name);
    freeze(write, app, desk.paper(PaperKind::RiskAcknowledgement, number, desk.about(), title, body)?).await
}

async fn handover_note(write: &mut Write, app: &App, desk: &Desk, lines: &[Line]) -> Result<Issued, AppError> {
    let number = next_number(write, PaperKind::HandoverNote).await?;
    let who = write.who;
    let by: String = sqlx::query_scalar("SELECT name FROM member WHERE id = ?").bind(who).fetch_one(write.db()).await?;
    let papers = of_handover(write.db(), desk.handover).await?;
    let total = lines.iter().map(Line::quantity).sum();
    let of = |line: &Line| NoteLine { species: line.species.accepted_name.clone(), quantity: line.quantity(), what: line.words() };
    let body = note::render(&Note {
        frame: Frame::of(&desk.site, PaperKind::HandoverNote, &number, desk.day, format!("handover {}", desk.handover)),
        telephone: desk.settings.telephone.clone(),
        handover: desk.handover.0,
        by,
        at: text::instant(&desk.at, &desk.site.zone),
        way: way_in_words(&desk.way),
        lines: lines.iter().map(of).collect(),
        total,
        terms: desk.settings.arrival_terms.clone(),
        papers: papers.into_iter().map(|paper| (paper.number, paper.kind.to_string(), paper.title)).collect(),
    })?;
    let title = format!("handover {}: {}", desk.handover, text::count(&i64::from(total), "animal", "animals"));
    freeze(write, app, desk.paper(PaperKind::HandoverNote, number, desk.about(), title, body)?).await
}

fn way_in_words(way: &str) -> &'static str {
    match way {
        "dispatch" => "sent",
        "outing" => "handed over away from the house",
        _ => "collected",
    }
}

/// What bears on people's safety with an animal or cohort: its band, and what to know before opening.
///
/// # Errors
/// [`AppError::NotFound`] when there is no such animal or cohort.
pub(super) async fn hazard_of(db: &mut SqliteConnection, kin: Kin) -> Result<(i64, Vec<String>), AppError> {
    let (facts, hazard) = match kin {
        Kin::Animal(id) => animals::store::hazard(db, id).await?,
        Kin::Cohort(id) => cohorts::store::hazard(db, id).await?,
    };
    Ok((i64::from(hazard.band.level()), cautions_text(&facts)))
}
