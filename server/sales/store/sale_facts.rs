//! What bears on a sale, read for one animal or lot or for the whole house by the same statements: the stock's page and the
//! handover never disagree, and a page of two thousand animals takes as many statements as one.

use std::collections::HashMap;

use chrono::{DateTime, Days, NaiveDate, TimeDelta, Utc};
use chrono_tz::Tz;
use sqlx::SqliteConnection;

use crate::handling;
use crate::handling::model::{Caution, Hold};
use crate::house::clock::local_date;
use crate::house::errors::AppError;
use crate::house::ids::{AnimalId, CohortId, SpeciesId};
use crate::papers;
use crate::papers::model::{Kin, lot_life_stage};
use crate::reckoning::calendar::{days_after, written};
use crate::reckoning::hazard::{Hazard, IndividualCaution, assess};
use crate::reckoning::moult::{FastClass, fast_in, span_or_largest};
use crate::reckoning::planner::HoldFacts;
use crate::reckoning::provenance::{Source, SourceCode};
use crate::reckoning::sale_readiness::{Lot as LotFacts, SaleFacts};
use crate::reckoning::stage::Stage;
use crate::reckoning::words::{LifeStage, MoultState, Sex, SexBasis};
use crate::sales::model::Keeper;
use crate::species;
use crate::species::model::Species;

/// An animal, or a cohort's stage, with what bears on its sale.
#[derive(Debug, Clone)]
pub struct Subject {
    /// The animal, if it is one.
    pub animal: Option<AnimalId>,
    /// The cohort, if it is a stage of one.
    pub cohort: Option<CohortId>,
    /// The tag or the cohort's code.
    pub label: String,
    /// Its species.
    pub species_id: SpeciesId,
    /// Its species' accepted name.
    pub species: String,
    /// Its sex.
    pub sex: Sex,
    /// Room, rack and shelf in words.
    pub place: Option<String>,
    /// The position on the shelf.
    pub position: Option<i64>,
    /// How many are alive at that stage; 1 for an animal.
    pub here: u32,
    /// What the readiness check weighs; of a lot, as if all that are free were asked for.
    pub facts: SaleFacts,
    /// Its hazard band with the reasons.
    pub hazard: Hazard,
}

/// What is the same for many subjects, read once.
pub(super) struct Book {
    now: DateTime<Utc>,
    zone: Tz,
    species: HashMap<SpeciesId, Species>,
    care: species::store::CareBook,
    holds: Vec<Hold>,
    cautions: Vec<Caution>,
}

impl Book {
    pub(super) async fn read(db: &mut SqliteConnection, now: DateTime<Utc>, zone: Tz) -> Result<Self, AppError> {
        let (first, last) = SpeciesId::range(None);
        let species = species::store::in_house(&mut *db).await?;
        Ok(Self {
            now,
            zone,
            species: species.into_iter().map(|kept| (kept.species.id, kept.species)).collect(),
            care: species::store::care_book(&mut *db, SpeciesId(first), SpeciesId(last)).await?,
            holds: handling::store::standing_holds(&mut *db, now).await?,
            cautions: handling::store::all_cautions(db).await?,
        })
    }

    pub(super) fn today(&self) -> NaiveDate {
        local_date(self.zone, self.now)
    }

    fn fast(&self, id: SpeciesId, stage: LifeStage) -> Result<Vec<FastClass>, AppError> {
        Ok(self.care.of(id, stage)?.fast)
    }

    fn species(&self, id: SpeciesId) -> Result<&Species, AppError> {
        self.species.get(&id).ok_or(AppError::NotFound)
    }

    /// Holds that stand now, in days. One that ends within a day still holds that day: nothing is packed an hour too soon.
    fn holds(&self, on: impl Fn(&Hold) -> bool) -> Vec<HoldFacts> {
        let facts = |hold: &Hold| HoldFacts {
            kind: hold.kind,
            from: local_date(self.zone, hold.from_at),
            blocks: hold.blocks,
            until: hold.until_at.map(|until| days_after(local_date(self.zone, until - TimeDelta::seconds(1)), 1)),
            reason: hold.reason.clone(),
        };
        self.holds.iter().filter(|hold| on(hold)).map(facts).collect()
    }
}

#[derive(sqlx::FromRow)]
struct AnimalRow {
    id: AnimalId,
    tag: String,
    species_id: SpeciesId,
    species: String,
    adult_span_min_mm: u32,
    status: crate::animals::model::AnimalStatus,
    status_on: Option<NaiveDate>,
    sex: Sex,
    sex_basis: SexBasis,
    mature_on: Option<NaiveDate>,
    start_instar: Option<i64>,
    source_code: SourceCode,
    pre_convention: bool,
    place: Option<String>,
    position: Option<i64>,
    last_moult_on: Option<NaiveDate>,
    moults_since_start: i64,
    span_mm: Option<i64>,
    moult_state: MoultState,
    last_fed: Option<NaiveDate>,
    prey_left_in: bool,
    guarding_sac: bool,
    held_back: bool,
    listed: bool,
}

/// One animal whatever became of it, or every living one. Papers of a bred animal are its own, or those of its brood's origin.
pub(super) async fn animals(db: &mut SqliteConnection, of: Option<AnimalId>, book: &Book) -> Result<Vec<Subject>, AppError> {
    let (first, last) = of.map_or((i64::MIN, i64::MAX), |AnimalId(id)| (id, id));
    let rows: Vec<AnimalRow> = sqlx::query_as(
        "SELECT animal.id, animal.tag, animal.species_id, species.accepted_name AS species, species.adult_span_min_mm, animal.status,
                animal.status_on, animal.sex, animal.sex_basis, animal.mature_on, animal.start_instar, animal.source_code,
                animal.pre_convention, place.label AS place, animal.position, now.last_moult_on, now.span_mm,
                (SELECT COUNT(*) FROM moult_standing AS m WHERE m.animal_id = animal.id AND m.day >= animal.started_on) AS moults_since_start,
                COALESCE((SELECT s.state FROM moult_sign_standing AS s WHERE s.id = now.last_sign_id
                          AND s.day > COALESCE(now.last_moult_on, '')), 'normal') AS moult_state,
                (SELECT MAX(day) FROM meal_standing WHERE meal_standing.animal_id = animal.id AND outcome = 'took') AS last_fed,
                EXISTS (SELECT 1 FROM meal_standing WHERE meal_standing.animal_id = animal.id AND outcome = 'left-in') AS prey_left_in,
                EXISTS (SELECT 1 FROM sac WHERE sac.dam_id = animal.id AND sac.state = 'incubating'
                        AND sac.incubation = 'with-dam') AS guarding_sac,
                EXISTS (SELECT 1 FROM animal_held_back AS held WHERE held.animal_id = animal.id) AS held_back,
                EXISTS (SELECT 1 FROM species_listing WHERE species_listing.species_id = animal.species_id) AS listed
         FROM animal JOIN species ON species.id = animal.species_id JOIN animal_now AS now ON now.animal_id = animal.id
         LEFT JOIN place ON place.shelf_id = animal.shelf_id
         WHERE animal.id BETWEEN ?1 AND ?2 AND (animal.status = 'alive' OR ?1 = ?2)
         ORDER BY species.accepted_name, animal.tag",
    )
    .bind(first)
    .bind(last)
    .fetch_all(&mut *db)
    .await?;
    let subjects: Result<Vec<Subject>, AppError> = rows.into_iter().map(|row| row.subject(book)).collect();
    with_missing_papers(db, subjects?).await
}

impl AnimalRow {
    fn life_stage(&self) -> LifeStage {
        let mature = self.sex_basis == SexBasis::Mature || self.mature_on.is_some();
        species::model::life_stage(self.span_mm, mature, self.adult_span_min_mm)
    }

    fn not_available(&self) -> Option<String> {
        (self.status != crate::animals::model::AnimalStatus::Alive).then(|| match self.status_on {
            Some(day) => format!("{} on {}", self.status, written(day)),
            None => self.status.to_string(),
        })
    }

    fn subject(self, book: &Book) -> Result<Subject, AppError> {
        let life_stage = self.life_stage();
        let cautions: Vec<IndividualCaution> =
            book.cautions.iter().filter(|caution| caution.animal_id == self.id).map(Caution::individual).collect();
        let hazard = assess(&book.species(self.species_id)?.hazard_facts(life_stage, cautions));
        let instar = self.start_instar.map(|start| start + self.moults_since_start);
        let facts = SaleFacts {
            not_available: self.not_available(),
            stage: instar.and_then(|number| u8::try_from(number).ok()).map(Stage::Instar).filter(|stage| stage.is_counted()),
            life_stage,
            span_mm: self.span_mm.and_then(|span| u32::try_from(span).ok()),
            last_moult: self.last_moult_on,
            ate_since_moult: self.last_moult_on.is_none_or(|moulted| self.last_fed.is_some_and(|fed| fed > moulted)),
            moult_state: self.moult_state,
            holds: book.holds(|hold| hold.animal_id == Some(self.id)),
            guarding_sac: self.guarding_sac,
            held_back: self.held_back,
            listed: self.listed,
            source: Some(Source { code: self.source_code, pre_convention: self.pre_convention }),
            has_papers: true,
            missing_papers: Vec::new(),
            last_fed: self.last_fed,
            prey_left_in: self.prey_left_in,
            lot: None,
            fast: book.fast(self.species_id, life_stage)?,
        };
        Ok(Subject {
            animal: Some(self.id),
            cohort: None,
            label: self.tag,
            species_id: self.species_id,
            species: self.species,
            sex: self.sex,
            place: self.place,
            position: self.position,
            here: 1,
            facts,
            hazard,
        })
    }
}

#[derive(sqlx::FromRow)]
struct LotRow {
    id: CohortId,
    code: String,
    species_id: SpeciesId,
    species: String,
    stage: Stage,
    source_code: SourceCode,
    pre_convention: bool,
    span_mm: Option<i64>,
    place: Option<String>,
    position: Option<i64>,
    here: u32,
    last_fed: Option<NaiveDate>,
    prey_left_in: bool,
    listed: bool,
    free: u32,
}

/// One stage of one cohort, even when none stand there, or every stage at which any cohort has some. What is kept for `but_for`
/// counts as free.
pub(super) async fn lots(
    db: &mut SqliteConnection,
    of: Option<(CohortId, Stage)>,
    but_for: Keeper,
    book: &Book,
) -> Result<Vec<Subject>, AppError> {
    let (first, last) = of.map_or((i64::MIN, i64::MAX), |(CohortId(id), _)| (id, id));
    let rows: Vec<LotRow> = sqlx::query_as(
        "SELECT cohort.id, cohort.code, cohort.species_id, species.accepted_name AS species, bucket.code AS stage, cohort.source_code,
                cohort.pre_convention, cohort.span_mm, place.label AS place, cohort.position, COALESCE(balance.quantity, 0) AS here,
                (SELECT MAX(day) FROM cohort_meal_standing AS meal WHERE meal.cohort_id = cohort.id AND meal.took > 0) AS last_fed,
                EXISTS (SELECT 1 FROM cohort_meal_standing AS meal WHERE meal.cohort_id = cohort.id AND meal.left_in > 0) AS prey_left_in,
                EXISTS (SELECT 1 FROM species_listing WHERE species_listing.species_id = cohort.species_id) AS listed,
                MIN(COALESCE(balance.quantity, 0),
                    MAX((SELECT COALESCE(SUM(quantity), 0) FROM ledger_balance JOIN bucket AS any_stage ON any_stage.code = ledger_balance.bucket
                         WHERE ledger_balance.cohort_id = cohort.id AND any_stage.kind = 'stage')
                        - (SELECT COALESCE(SUM(quantity), 0) FROM holdback WHERE holdback.cohort_id = cohort.id)
                        - (SELECT COALESCE(SUM(quantity), 0) FROM reservation
                           WHERE reservation.cohort_id = cohort.id AND ended_as IS NULL AND until >= ?4
                             AND NOT (COALESCE(buyer_id = ?5, 0) OR COALESCE(order_id = ?6, 0) OR COALESCE(outing_id = ?7, 0))), 0)) AS free
         FROM cohort JOIN species ON species.id = cohort.species_id JOIN bucket ON bucket.kind = 'stage'
         LEFT JOIN ledger_balance AS balance ON balance.cohort_id = cohort.id AND balance.bucket = bucket.code
         LEFT JOIN place ON place.shelf_id = cohort.shelf_id
         WHERE cohort.id BETWEEN ?1 AND ?2 AND ((?3 IS NULL AND balance.quantity > 0) OR bucket.code = ?3)
         ORDER BY species.accepted_name, cohort.code, bucket.ordinal",
    )
    .bind(first)
    .bind(last)
    .bind(of.map(|(_, stage)| stage))
    .bind(book.today())
    .bind(but_for.buyer)
    .bind(but_for.order)
    .bind(but_for.outing)
    .fetch_all(&mut *db)
    .await?;
    let moults = moults(&mut *db, first, last).await?;
    let subjects: Result<Vec<Subject>, AppError> = rows.into_iter().map(|row| row.subject(book, &moults)).collect();
    with_missing_papers(db, subjects?).await
}

/// Names the papers that are missing in the descent of those whose species is on a list.
async fn with_missing_papers(db: &mut SqliteConnection, mut subjects: Vec<Subject>) -> Result<Vec<Subject>, AppError> {
    let kin = |subject: &Subject| papers::store::asked(subject.animal, subject.cohort);
    let listed: Result<Vec<Kin>, AppError> = subjects.iter().filter(|subject| subject.facts.listed).map(kin).collect();
    let missing = papers::store::missing_papers(db, &listed?).await?;
    for subject in subjects.iter_mut().filter(|subject| subject.facts.listed) {
        subject.facts.missing_papers = missing.get(&kin(subject)?).cloned().unwrap_or_default();
        subject.facts.has_papers = subject.facts.missing_papers.is_empty();
    }
    Ok(subjects)
}

/// The moults that brought some to a cohort's stage and were not taken back.
type Moults = HashMap<(CohortId, Stage), Vec<(NaiveDate, u32)>>;

async fn moults(db: &mut SqliteConnection, first: i64, last: i64) -> Result<Moults, AppError> {
    let rows: Vec<(CohortId, Stage, NaiveDate, u32)> = sqlx::query_as(
        "SELECT line.cohort_id, line.to_bucket, line.day, line.quantity FROM ledger_line AS line
         WHERE line.cohort_id BETWEEN ? AND ? AND line.kind = 'moulted'
           AND NOT EXISTS (SELECT 1 FROM ledger_line AS later WHERE later.reverses_id = line.id)",
    )
    .bind(first)
    .bind(last)
    .fetch_all(db)
    .await?;
    let mut moults = Moults::new();
    for (cohort, stage, day, quantity) in rows {
        moults.entry((cohort, stage)).or_default().push((day, quantity));
    }
    Ok(moults)
}

impl LotRow {
    fn subject(self, book: &Book, moults: &Moults) -> Result<Subject, AppError> {
        let species = book.species(self.species_id)?;
        let (life_stage, span_mm) = (lot_life_stage(species, self.span_mm), self.span_mm.and_then(|span| u32::try_from(span).ok()));
        // As the cohort's own page has it: spiderlings are taken as such until a span says otherwise.
        let hazard = assess(&species.hazard_facts(life_stage, Vec::new()));
        let fast = book.fast(self.species_id, life_stage)?;
        let own = moults.get(&(self.id, self.stage)).map_or(&[][..], Vec::as_slice);
        let rested_from = days_before(book.today(), fast_in(&fast, span_or_largest(span_mm, life_stage)).max_days);
        // Those that came by a moult lately, or have had no meal since theirs.
        let is_recent = |day: NaiveDate| day > rested_from || self.last_fed.is_none_or(|fed| day >= fed);
        let recent = own.iter().filter(|(day, _)| is_recent(*day)).map(|(_, quantity)| quantity).sum();
        let last_moult = own.iter().map(|(day, _)| *day).max();
        let facts = SaleFacts {
            not_available: None,
            stage: Some(self.stage),
            life_stage,
            span_mm,
            last_moult,
            ate_since_moult: last_moult.is_none_or(|moulted| self.last_fed.is_some_and(|fed| fed > moulted)),
            moult_state: MoultState::Normal,
            holds: book.holds(|hold| hold.cohort_id == Some(self.id)),
            guarding_sac: false,
            held_back: false,
            listed: self.listed,
            source: Some(Source { code: self.source_code, pre_convention: self.pre_convention }),
            has_papers: true,
            missing_papers: Vec::new(),
            last_fed: self.last_fed,
            prey_left_in: self.prey_left_in,
            lot: Some(LotFacts { asked: self.free, free: self.free, recent }),
            fast,
        };
        Ok(Subject {
            animal: None,
            cohort: Some(self.id),
            label: self.code,
            species_id: self.species_id,
            species: self.species,
            sex: Sex::Unknown,
            place: self.place,
            position: self.position,
            here: self.here,
            facts,
            hazard,
        })
    }
}

fn days_before(day: NaiveDate, days: u32) -> NaiveDate {
    day.checked_sub_days(Days::new(days.into())).unwrap_or(day)
}
