//! A small house with known animals, served on a port of its own: what the walks through the main jobs need, and no more.

use std::net::SocketAddr;

use chrono::{Days, NaiveDate};
use silkward::animals::model::{Enclosure, NewAnimal, NewMeal, NewMoult, NewOrigin, NewSpan};
use silkward::cohorts::model::{Housing, NewCohort, NewOrigin as CohortOrigin};
use silkward::handling::model::{AssessmentOutcome, NewAssessment, NewClearance};
use silkward::house::app::App;
use silkward::house::audit::Change;
use silkward::house::clock::Clock;
use silkward::house::config::Config;
use silkward::house::database::Durability;
use silkward::house::ids::{AnimalId, CohortId, MemberId, ShelfId, SpeciesId};
use silkward::house::serve;
use silkward::house::write::Write;
use silkward::reckoning::provenance::check_source;
use silkward::reckoning::stage::Stage;
use silkward::reckoning::words::{MealOutcome, SpanKind, SpanMethod};
use silkward::rooms::model::{NewRack, NewRoom};
use silkward::staff::model::{NewMember, Roles};
use silkward::{animals, cohorts, handling, rooms, rounds, species, staff};

/// Everybody's pass phrase in this house.
pub const PHRASE: &str = "three herons on one leg";
/// Everybody's PIN in this house.
pub const PIN: &str = "582914";

/// The running house.
pub struct Served {
    pub address: String,
    pub app: App,
    pub feeders: Vec<AnimalId>,
    pub risky: AnimalId,
    pub ready_for_sale: Vec<AnimalId>,
    pub cohort: CohortId,
    _folder: tempfile::TempDir,
}

/// The day on which the house stands.
pub fn today() -> NaiveDate {
    "2026-04-15".parse().unwrap()
}

fn days_ago(days: u64) -> NaiveDate {
    today().checked_sub_days(Days::new(days)).unwrap()
}

impl Served {
    pub async fn start() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let port = super::driver::free_port();
        let listen: SocketAddr = ([127, 0, 0, 1], port).into();
        Self::start_as(folder, listen, None).await
    }

    /// The same, reached at another address: through a wireless that a test can take away.
    pub async fn start_behind(public_url: &str, port: u16) -> Self {
        Self::start_as(tempfile::tempdir().unwrap(), ([127, 0, 0, 1], port).into(), Some(public_url)).await
    }

    async fn start_as(folder: tempfile::TempDir, listen: SocketAddr, public_url: Option<&str>) -> Self {
        let config = Config::new(folder.path().to_path_buf(), listen, public_url).unwrap();
        let clock = Clock::standing_at("2026-04-15T09:00:00Z".parse().unwrap());
        let app = App::open(config, clock, Durability::Full).await.unwrap();
        let mut house = furnish(app, folder).await;
        let listener = serve::listen(&house.app).await.unwrap();
        tokio::spawn(serve::run(house.app.clone(), listener, std::future::pending()));
        house.address = house.app.config.public_url.clone();
        house
    }

    /// Another rack with forty vials, all of which Kit feeds today.
    pub async fn forty_vials(&self, lead: MemberId) {
        let mut write = self.app.write(Some(lead)).await.unwrap();
        let room = rooms::store::rooms(write.db()).await.unwrap()[0].id;
        rooms::store::insert_rack(&mut write, room, &NewRack { name: "Rowan".to_owned(), walk_order: 2, shelves: 2 }).await.unwrap();
        let shelves: Vec<ShelfId> = rooms::store::shelves(write.db()).await.unwrap().iter().map(|shelf| shelf.shelf_id).collect();
        let mild = named(&mut write, "Tliltocatl albopilosus").await;
        for place in 0..40 {
            animal(&mut write, mild, shelves[3 + place / 20], (place % 20 + 1) as i64, 60, 320).await;
        }
        rounds::store::plan_house(&mut write).await.unwrap();
        write.commit(Change::new("house.furnished", "house", "forty vials"), "/").await.unwrap();
        let kit: MemberId =
            sqlx::query_scalar("SELECT id FROM member WHERE name = 'Kit'").fetch_one(&self.app.database.writer).await.unwrap();
        share_out(&self.app, lead, kit).await;
    }
}

async fn member(write: &mut Write, hashes: &(String, String), name: &str, roles: Roles) -> MemberId {
    let new = NewMember { name: name.to_owned(), sign_in_name: name.to_lowercase(), pass_hash: hashes.0.clone(), roles };
    let id = staff::store::insert_member(write, &new).await.unwrap();
    staff::store::set_pin_hash(write, id, &hashes.1).await.unwrap();
    id
}

async fn furnish(app: App, folder: tempfile::TempDir) -> Served {
    let hashes = (staff::passphrase::hash(&app, PHRASE).await.unwrap(), staff::passphrase::hash(&app, PIN).await.unwrap());
    let mut write = app.write(None).await.unwrap();
    species::store::seed_library(&mut write).await.unwrap();
    let none = Roles { owner: false, lead: false, keeper: false, counter: false };
    let owner = member(&mut write, &hashes, "Olga", Roles { owner: true, lead: true, ..none }).await;
    let lead = member(&mut write, &hashes, "Lena", Roles { lead: true, keeper: true, ..none }).await;
    let keeper = member(&mut write, &hashes, "Kit", Roles { keeper: true, ..none }).await;
    let trainee = member(&mut write, &hashes, "Tove", Roles { keeper: true, ..none }).await;
    member(&mut write, &hashes, "Cass", Roles { counter: true, ..none }).await;
    write.commit(Change::new("house.furnished", "house", "people"), "/").await.unwrap();
    clear(&app, owner, lead, 3, "an assessor from outside").await;
    clear(&app, lead, keeper, 3, "").await;
    clear(&app, lead, trainee, 1, "").await;

    let mut write = app.write(Some(lead)).await.unwrap();
    let room = rooms::store::insert_room(&mut write, &NewRoom { name: "Quiet room".to_owned(), walk_order: 1 }).await.unwrap();
    rooms::store::insert_rack(&mut write, room, &NewRack { name: "Elm".to_owned(), walk_order: 1, shelves: 3 }).await.unwrap();
    let shelves = rooms::store::shelves(write.db()).await.unwrap();
    let (first, second, third) = (shelves[0].shelf_id, shelves[1].shelf_id, shelves[2].shelf_id);
    let mild = named(&mut write, "Tliltocatl albopilosus").await;
    let mut feeders = Vec::new();
    for position in 1..=6 {
        feeders.push(animal(&mut write, mild, first, position, 90, 320).await);
    }
    let regalis = named(&mut write, "Poecilotheria regalis").await;
    let risky = animal(&mut write, regalis, second, 1, 120, 200).await;
    let mut ready_for_sale = Vec::new();
    for position in 1..=3 {
        ready_for_sale.push(animal(&mut write, mild, third, position, 60, 250).await);
    }
    let cohort = brood(&mut write, mild, third).await;
    rounds::store::plan_house(&mut write).await.unwrap();
    write.commit(Change::new("house.furnished", "house", "stock"), "/").await.unwrap();
    share_out(&app, lead, keeper).await;
    Served { address: String::new(), app, feeders, risky, ready_for_sale, cohort, _folder: folder }
}

/// Everything that is due goes to the cleared keeper.
async fn share_out(app: &App, lead: MemberId, keeper: MemberId) {
    let mut write = app.write(Some(lead)).await.unwrap();
    let open: Vec<silkward::house::ids::DutyId> =
        sqlx::query_scalar("SELECT id FROM duty WHERE state = 'open'").fetch_all(write.db()).await.unwrap();
    for duty in open {
        rounds::store::assign(&mut write, duty, keeper).await.unwrap();
    }
    write.commit(Change::new("duties.assigned", "house", "all"), "/today").await.unwrap();
}

async fn clear(app: &App, by: MemberId, to: MemberId, level: i64, outside: &str) {
    if outside.is_empty() {
        practise(app, by, to, level).await;
    }
    let mut write = app.write(Some(by)).await.unwrap();
    let new = NewClearance {
        member: to,
        level,
        evidence: "Watched at work three times.".to_owned(),
        valid_from: days_ago(30),
        valid_until: today().checked_add_days(Days::new(300)).unwrap(),
        outside_assessor: outside.to_owned(),
    };
    handling::store::grant(&mut write, &new).await.unwrap();
    write.commit(Change::new("clearance.granted", "member", ""), "/").await.unwrap();
}

/// What a clearance takes: supervised rehouses, and reading.
async fn practise(app: &App, by: MemberId, to: MemberId, level: i64) {
    let mut write = app.write(Some(by)).await.unwrap();
    for _ in 0..3 {
        let new = NewAssessment {
            member: to,
            assessor: by,
            band: level,
            outcome: AssessmentOutcome::Passed,
            day: days_ago(30),
            note: "Watched at work.".to_owned(),
            signoff: None,
        };
        handling::store::record_assessment(&mut write, &new).await.unwrap();
    }
    write.commit(Change::new("assessment.recorded", "member", ""), "/").await.unwrap();
    let mut write = app.write(Some(to)).await.unwrap();
    handling::store::confirm_read(&mut write, 1).await.unwrap();
    write.commit(Change::new("safe-work.read", "member", ""), "/").await.unwrap();
}

async fn named(write: &mut Write, name: &str) -> SpeciesId {
    species::store::all(write.db()).await.unwrap().into_iter().find(|line| line.accepted_name == name).unwrap().id
}

/// An animal that moulted three months ago and was fed a month ago: a feed is due, and it may be sold.
async fn animal(write: &mut Write, species: SpeciesId, shelf: ShelfId, position: i64, span_mm: i64, box_mm: i64) -> AnimalId {
    let origin = NewOrigin::Bought { supplier: "A breeder".to_owned(), papers: "Declaration no. 7".to_owned() };
    let mut new = NewAnimal::new(species, origin, check_source("C").unwrap(), days_ago(200));
    new.span = Some(NewSpan { kind: SpanKind::LegSpan, mm: span_mm, method: SpanMethod::Measured });
    new.shelf = Some(shelf);
    new.position = Some(position);
    new.enclosure = Some(Enclosure { length_mm: box_mm, width_mm: Some(box_mm), fall_gap_mm: Some(80) });
    let id = animals::store::insert(write, &new).await.unwrap();
    let moult = NewMoult { day: days_ago(80), skin_kept: true, note: String::new(), span: None, signoff: None };
    animals::store::record_moult(write, id, &moult).await.unwrap();
    let meal = NewMeal { day: days_ago(30), prey: "cricket".to_owned(), outcome: MealOutcome::Took, signoff: None };
    animals::store::record_meal(write, id, &meal).await.unwrap();
    id
}

async fn brood(write: &mut Write, species: SpeciesId, shelf: ShelfId) -> CohortId {
    let new = NewCohort {
        code: Some("TALB26-1".to_owned()),
        species_id: species,
        origin: CohortOrigin::Bought { supplier: "A breeder".to_owned(), papers: "Declaration no. 8".to_owned() },
        source: check_source("C").unwrap(),
        locality: String::new(),
        started_on: days_ago(90),
        housing: Housing::Vials,
        shelf: Some(shelf),
        position: Some(9),
        span_mm: Some(14),
        note: String::new(),
        counts: vec![(Stage::Instar(3), 100)],
    };
    cohorts::store::insert(write, &new).await.unwrap()
}
