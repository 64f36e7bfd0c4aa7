//! Papers that somebody asks for: box labels, vial labels, rehouse cards, incident reports.

use chrono::NaiveDate;

use super::issue::{buyer_of, hazard_of};
use super::issued::{freeze, next_number};
use super::settings::{require_label_sheet, settings};
use crate::house::app::App;
use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, CohortId, HandoverId, IncidentId, LabelSheetId};
use crate::house::site::Site;
use crate::house::write::Write;
use crate::house::{paths, qr, text};
use crate::papers::box_label::BoxLabel;
use crate::papers::frame::Frame;
use crate::papers::incident_report::{Noted, Report};
use crate::papers::model::{About, Issued, Kin, NewPaper, PaperKind};
use crate::papers::rehouse_card::Card;
use crate::papers::vial_labels::Labels;
use crate::papers::{box_label, incident_report, rehouse_card, vial_labels};
use crate::reckoning::hazard::cautions_text;
use crate::reckoning::stage::Stage;
use crate::reckoning::words::World;
use crate::{animals, cohorts, handling, species};

/// The most labels that are issued at once.
pub const MOST_LABELS: i64 = 1000;

/// Which labels to print.
#[derive(Debug, Clone, Copy)]
pub struct NewLabels {
    /// The cohort.
    pub cohort: CohortId,
    /// The sheet.
    pub sheet: LabelSheetId,
    /// The first place of the first sheet that is still free, from 1.
    pub start: i64,
    /// How many; none: one for each that stands.
    pub count: Option<i64>,
    /// The stage that they say; none: as they stand.
    pub stage: Option<Stage>,
}

fn plain(kind: PaperKind, number: String, about: About, title: String, body: String) -> NewPaper {
    NewPaper { kind, number, about, profile: None, language: "en".to_owned(), title, body, person: None, link: false }
}

/// Issues labels for the vials of a cohort.
///
/// # Errors
/// A sheet that is not in use; a start that the sheet does not have; nothing to label.
pub async fn issue_vial_labels(write: &mut Write, app: &App, new: &NewLabels) -> Result<Issued, AppError> {
    let cohort = cohorts::store::require(write.db(), new.cohort).await?;
    let sheet = match require_label_sheet(write.db(), new.sheet).await {
        Err(AppError::NotFound) => return Err(AppError::refused("sheet", "This sheet is not in use. Choose one of the list.")),
        sheet => sheet?,
    };
    let grid = sheet.grid();
    if new.start > grid.on_a_page() {
        return Err(AppError::refused("start", format!("This sheet has {} places; start at one of them.", grid.on_a_page())));
    }
    let stages = label_stages(write, new).await?;
    let number = next_number(write, PaperKind::VialLabels).await?;
    let count = i64::try_from(stages.len()).unwrap_or(i64::MAX);
    let labels = Labels {
        house: Site::read(write.db()).await?.name,
        number: number.clone(),
        day: write.today,
        letters: cohorts::model::code_letters(&cohort.species),
        species: cohort.short_species(),
        address: format!("{}{}", app.config.public_url, paths::tag(&cohort.code)),
        code: cohort.code,
        stages,
        sheet: sheet.name,
        grid,
        start: new.start,
    };
    let title = format!("{} for vials of cohort {}", text::count(&count, "label", "labels"), labels.code);
    let about = About { cohort: Some(new.cohort), ..About::default() };
    let body = vial_labels::render(&labels)?;
    freeze(write, app, plain(PaperKind::VialLabels, number, about, title, body)).await
}

/// The stage that each label says.
async fn label_stages(write: &mut Write, new: &NewLabels) -> Result<Vec<String>, AppError> {
    let standing = cohorts::store::standing(write.db(), new.cohort).await?;
    let most = usize::try_from(MOST_LABELS).unwrap_or(usize::MAX);
    let each = standing.iter().flat_map(|count| (0..count.quantity).map(|_| count.stage.to_string()));
    let mut stages: Vec<String> = match (new.stage, new.count) {
        (Some(stage), count) => {
            let count = count.unwrap_or_else(|| standing.iter().filter(|of| of.stage == stage).map(|of| of.quantity).sum());
            vec![stage.to_string(); usize::try_from(count).unwrap_or(0).min(most)]
        }
        (None, _) => each.take(most).collect(),
    };
    if let (None, Some(count)) = (new.stage, new.count) {
        let last = stages
            .last()
            .cloned()
            .ok_or_else(|| AppError::refused("stage", "None of this cohort are alive. Choose the stage that the labels are to say."))?;
        stages.resize(usize::try_from(count).unwrap_or(0).min(most), last);
    }
    if stages.is_empty() {
        return Err(AppError::refused("count", "None of these stand in the cohort. Enter how many labels you want."));
    }
    Ok(stages)
}

/// Issues the label of a handover's box.
///
/// # Errors
/// [`AppError::NotFound`] when there is no such handover; a handover with nothing on it.
pub async fn issue_box_label(write: &mut Write, app: &App, handover: HandoverId) -> Result<Issued, AppError> {
    let buyer = buyer_of(write.db(), handover).await?;
    let rows: Vec<(String, u32, Option<AnimalId>, Option<CohortId>)> = sqlx::query_as(
        "SELECT species.accepted_name, line.quantity, line.animal_id, line.cohort_id FROM handover_line AS line
         LEFT JOIN animal ON animal.id = line.animal_id LEFT JOIN cohort ON cohort.id = line.cohort_id
         JOIN species ON species.id = COALESCE(animal.species_id, cohort.species_id)
         WHERE line.handover_id = ? ORDER BY species.accepted_name, line.id",
    )
    .bind(handover)
    .fetch_all(write.db())
    .await?;
    if rows.is_empty() {
        return Err(AppError::conflict("Nothing is on this handover, so there is nothing to put into a box."));
    }
    let mut inside: Vec<(String, u32, i64)> = Vec::new();
    for (name, quantity, animal, cohort) in rows {
        let (band, _) = hazard_of(write.db(), super::asked(animal, cohort)?).await?;
        match inside.last_mut().filter(|(known, _, _)| *known == name) {
            Some((_, count, highest)) => (*count, *highest) = (*count + quantity, band.max(*highest)),
            None => inside.push((name, quantity, band)),
        }
    }
    let number = next_number(write, PaperKind::BoxLabel).await?;
    let set = settings(write.db()).await?;
    let site = Site::read(write.db()).await?;
    let total: u32 = inside.iter().map(|(_, count, _)| count).sum();
    let title = format!("box of handover {handover}: {}", text::count(&i64::from(total), "animal", "animals"));
    let label = BoxLabel {
        frame: Frame::of(&site, PaperKind::BoxLabel, &number, write.today, format!("handover {handover}")),
        telephone: set.telephone,
        box_min_c: set.box_min_c,
        box_max_c: set.box_max_c,
        inside,
    };
    let (body, part) = box_label::render(&label, &buyer)?;
    let about = About { handover: Some(handover), ..About::default() };
    freeze(write, app, NewPaper { person: Some(part), ..plain(PaperKind::BoxLabel, number, about, title, body) }).await
}

/// Issues the card of an animal's enclosure.
///
/// # Errors
/// [`AppError::NotFound`] when there is no such animal; a conflict when it is not in the house.
pub async fn issue_rehouse_card(write: &mut Write, app: &App, id: AnimalId) -> Result<Issued, AppError> {
    let animal = animals::store::require(write.db(), id).await?;
    if !animal.is_alive() {
        return Err(AppError::conflict(format!("{} is not in the house, so it has no enclosure to hang a card at.", animal.tag)));
    }
    let (band, cautions) = hazard_of(write.db(), Kin::Animal(id)).await?;
    let last: Option<NaiveDate> =
        sqlx::query_scalar("SELECT MAX(day) FROM stock_move WHERE animal_id = ? AND rehoused = 1").bind(id).fetch_one(write.db()).await?;
    let due: Option<NaiveDate> =
        sqlx::query_scalar("SELECT MIN(due_on) FROM duty WHERE animal_id = ? AND kind = 'rehouse' AND state = 'open'")
            .bind(id)
            .fetch_one(write.db())
            .await?;
    let number = next_number(write, PaperKind::RehouseCard).await?;
    let site = Site::read(write.db()).await?;
    let address = format!("{}{}", app.config.public_url, paths::tag(&animal.tag));
    let place = animal.place.clone().unwrap_or_else(|| "no place".to_owned());
    let facts = vec![
        ("Place", animal.position.map_or_else(|| place.clone(), |position| format!("{place}, position {position}"))),
        ("Leg span (DLS)", animal.span_mm.map_or_else(|| "not measured".to_owned(), |span| text::length(&span))),
        ("Enclosure", enclosure(&animal)),
        (
            "Last rehouse",
            last.map_or_else(|| format!("none on record; here since {}", text::day(&animal.started_on)), |day| text::day(&day)),
        ),
        ("Next rehouse", next(&animal, due)),
        ("Last moult", animal.last_moult_on.map_or_else(|| "none on record".to_owned(), |day| text::day(&day))),
    ];
    let title = format!("{}, {}", animal.tag, animal.species_name);
    let card = Card {
        frame: Frame::of(&site, PaperKind::RehouseCard, &number, write.today, title.clone()),
        tag: animal.tag,
        species: animal.species_name,
        band,
        cautions,
        facts,
        code: qr::svg(&address)?,
        address,
    };
    let about = About { animal: Some(id), ..About::default() };
    let body = rehouse_card::render(&card)?;
    freeze(write, app, plain(PaperKind::RehouseCard, number, about, title, body)).await
}

fn enclosure(animal: &animals::model::Animal) -> String {
    let Some(length) = animal.enclosure_length_mm else { return "not measured".to_owned() };
    let width = animal.enclosure_width_mm.map_or_else(String::new, |width| format!(" × {}", text::length(&width)));
    let gap = animal.fall_gap_mm.map_or_else(String::new, |gap| format!(", {} from ground to lid", text::length(&gap)));
    format!("{}{width}{gap}", text::length(&length))
}

fn next(animal: &animals::model::Animal, due: Option<NaiveDate>) -> String {
    match (due, animal.rehouse_note.is_empty()) {
        (Some(day), true) => format!("due {}", text::day(&day)),
        (Some(day), false) => format!("due {}: {}", text::day(&day), animal.rehouse_note),
        (None, false) => format!("needed: {}", animal.rehouse_note),
        (None, true) => "not due yet; when it outgrows this enclosure".to_owned(),
    }
}

/// Issues the report of an incident as it stands now.
///
/// # Errors
/// [`AppError::NotFound`] when there is no such incident.
pub async fn issue_incident_report(write: &mut Write, app: &App, id: IncidentId) -> Result<Issued, AppError> {
    let incident = handling::store::require_incident(write.db(), id).await?;
    let notes = handling::store::notes_of(write.db(), id).await?;
    let facts = match (incident.animal_id, incident.cohort_id) {
        (Some(animal), _) => Some(animals::store::hazard(write.db(), animal).await?),
        (None, Some(cohort)) => Some(cohorts::store::hazard(write.db(), cohort).await?),
        (None, None) => None,
    };
    let number = next_number(write, PaperKind::IncidentReport).await?;
    let site = Site::read(write.db()).await?;
    let zone = site.zone;
    let title = format!("{} of {}", incident.kind, text::day(&incident.day));
    let report = Report {
        frame: Frame::of(&site, PaperKind::IncidentReport, &number, write.today, incident.species.clone().unwrap_or_default()),
        kind: incident.kind.to_string(),
        person: incident.member_name,
        at: text::instant(&incident.at, &zone),
        label: incident.label,
        species: incident.species,
        old_world: incident.world == Some(World::Old),
        venom: incident.venom.map(|venom| venom.to_string()),
        hazard: facts.map(|(facts, hazard)| (i64::from(hazard.band.level()), cautions_text(&facts))),
        notes: notes
            .into_iter()
            .map(|note| Noted { at: text::instant(&note.at, &zone), topic: note.topic.to_string(), text: note.text, by: note.member_name })
            .collect(),
        review: incident
            .reviewed_at
            .map(|at| format!("Reviewed {} by {}.", text::instant(&at, &zone), incident.reviewed_by_name.unwrap_or_default())),
        emergency: site.emergency.lines().filter(|line| !line.trim().is_empty()).map(str::to_owned).collect(),
    };
    let about = About { animal: incident.animal_id, cohort: incident.cohort_id, incident: Some(id), ..About::default() };
    let body = incident_report::render(&report)?;
    freeze(write, app, plain(PaperKind::IncidentReport, number, about, title, body)).await
}

/// Whether a species stands on a list of protected species in the house's book.
///
/// # Errors
/// The database can't be read.
pub async fn is_listed(db: &mut sqlx::SqliteConnection, id: crate::house::ids::SpeciesId) -> Result<bool, AppError> {
    Ok(!species::store::listings(db, id).await?.is_empty())
}
