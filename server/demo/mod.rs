//! The made-up house: 18 months of work, simulated from a seed through the same store functions that the pages use.

mod breeding;
mod brood;
mod buyers;
mod chance;
mod climate;
mod days;
mod life;
mod lineage;
mod nursery;
mod orders;
mod outings;
mod papers;
mod people;
mod places;
mod practice;
mod prey;
mod rota;
mod stock;
mod texts;
mod trade;

use std::net::SocketAddr;
use std::path::PathBuf;
use std::time::Instant;

use anyhow::{Context as _, bail};
use chrono::{DateTime, Days, NaiveDate, NaiveTime, TimeZone as _, Utc};
use chrono_tz::Tz;
use rand::SeedableRng as _;
use rand::rngs::StdRng;

use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::clock::Clock;
use crate::house::config::Config;
use crate::house::database::{Durability, FolderLock};
use crate::house::errors::AppError;
use crate::house::paths;
use crate::house::serve;
use crate::rounds;
use people::Person;

/// How many days of work are in the book.
const DAYS: u64 = 548;
/// Where the made-up house stands.
const ZONE: Tz = Tz::Europe__Berlin;

/// Builds the house in an empty folder (a temporary one if none is given), prints how to sign in, and serves it.
///
/// # Errors
/// A folder that holds a house already, or an address that is taken.
pub async fn run(data: Option<PathBuf>, listen: SocketAddr, seed: u64, build_only: bool) -> anyhow::Result<()> {
    let temporary = data.is_none().then(tempfile_folder).transpose()?;
    let folder = data.or_else(|| temporary.clone()).context("no folder to build in")?;
    let config = Config::new(folder, listen, None)?;
    let _lock = FolderLock::take(&config.data)?;
    if config.database_file().exists() {
        bail!("{} holds a house already: give the demo an empty folder", config.data.display());
    }
    let started = Instant::now();
    let staff = build(&config, seed, Clock::System.now()).await?;
    println!("Built {DAYS} days of work in {:.1} s.", started.elapsed().as_secs_f64());
    println!("\nSign in at {}/ as one of these (all made up):\n", config.public_url);
    for person in &staff {
        println!("  {:<8} {:<38} PIN {}   {}", person.sign_in_name, person.pass_phrase, person.pin, person.what);
    }
    if !build_only {
        let app = App::open(config, Clock::System, Durability::Full).await?;
        println!("{}", tablet(&app, &staff).await.map_err(|error| anyhow::anyhow!("no tablet: {error}"))?);
        println!("\nStop with Ctrl-C.");
        let listener = serve::listen(&app).await?;
        let keepers = [tokio::spawn(rounds::keep_planned(app.clone())), tokio::spawn(crate::sales::keep_buyers(app.clone()))];
        serve::run(app, listener, serve::stop_signal()).await?;
        keepers.iter().for_each(tokio::task::JoinHandle::abort);
    }
    if let Some(folder) = temporary.filter(|_| !build_only) {
        std::fs::remove_dir_all(&folder).with_context(|| format!("cannot remove {}", folder.display()))?;
    }
    Ok(())
}

/// Makes the tablet of the second room, and says how to open it.
async fn tablet(app: &App, staff: &[Person]) -> Result<String, AppError> {
    let lead = staff.iter().find(|person| person.sign_in_name == "tamsin").map(|person| person.id);
    let mut write = app.write(lead).await?;
    let rooms = crate::rooms::store::rooms(write.db()).await?;
    let Some(room) = rooms.get(1) else { return Ok(String::new()) };
    let made = crate::staff::store::devices::make(&mut write, "By the door", room.id).await?;
    write.commit(Change::new("tablet.made", format!("device {}", made.id), room.name.as_str()), paths::TABLETS).await?;
    let address = format!("{}{}", app.config.public_url, paths::tablet_link(&made.token));
    Ok(format!("\nThe tablet of the {}, in a browser of its own (a private window will do), once: {address}", room.name.to_lowercase()))
}

fn tempfile_folder() -> anyhow::Result<PathBuf> {
    let folder = std::env::temp_dir().join(format!("silkward-demo-{}", std::process::id()));
    std::fs::create_dir_all(&folder)?;
    Ok(folder)
}

/// The house under construction.
struct Building {
    app: App,
    rng: StdRng,
    first: NaiveDate,
    day: NaiveDate,
    staff: Vec<Person>,
}

impl Building {
    /// Sets the clock to an hour of the simulated day.
    fn at(&self, hour: u32) {
        self.app.clock.set(instant(self.day, hour));
    }
}

/// An hour of a day in the house's zone; in the hour that a clock change skips, an hour later.
fn instant(day: NaiveDate, hour: u32) -> DateTime<Utc> {
    let wanted = day.and_time(NaiveTime::from_hms_opt(hour, 0, 0).unwrap_or(NaiveTime::MIN));
    ZONE.from_local_datetime(&wanted).earliest().map_or_else(|| wanted.and_utc(), |local| local.to_utc())
}

/// Builds the house up to `now` and leaves the file closed.
///
/// # Errors
/// The file can't be written, or a rule of the house refuses what the simulation does.
pub async fn build(config: &Config, seed: u64, now: DateTime<Utc>) -> anyhow::Result<Vec<Person>> {
    let config = config.clone();
    let (finished, result) = tokio::sync::oneshot::channel();
    std::thread::spawn(move || {
        // Every statement hops to SQLite's own thread and back. Half a million hops take half as long when both threads
        // share a processor, so this thread, and those that it starts, keep to one.
        if let Some(processor) = core_affinity::get_core_ids().and_then(|ids| ids.last().copied()) {
            core_affinity::set_for_current(processor);
        }
        let built = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .build()
            .map_err(anyhow::Error::from)
            .and_then(|runtime| runtime.block_on(build_here(&config, seed, now)));
        // Nobody waits any more when the command was ended meanwhile.
        let _ = finished.send(built);
    });
    result.await?
}

async fn build_here(config: &Config, seed: u64, now: DateTime<Utc>) -> anyhow::Result<Vec<Person>> {
    let today = now.with_timezone(&ZONE).date_naive();
    let first = today.checked_sub_days(Days::new(DAYS)).context("the calendar ends")?;
    let app = App::open(config.clone(), Clock::standing_at(instant(first, 8)), Durability::Building).await?;
    let mut building = Building { app, rng: StdRng::seed_from_u64(seed), first, day: first, staff: Vec::new() };
    let made = make(&mut building, today, now).await;
    building.app.database.close().await;
    made.map_err(|error| anyhow::anyhow!("on {}: {error:?}", building.day))?;
    Ok(building.staff)
}

async fn make(building: &mut Building, today: NaiveDate, now: DateTime<Utc>) -> Result<(), AppError> {
    let mut write = building.app.write(None).await?;
    let species = crate::species::store::seed_library(&mut write).await?;
    write.commit(Change::new("species.seeded", "house", format!("{species} species")), "/species").await?;
    people::settle(building).await?;
    texts::begin(building).await?;
    prey::begin(building).await?;
    orders::begin(building).await?;
    rota::weeks(building, today).await?;
    let places = places::furnish(building).await?;
    let mut stock = stock::Stock::gather(building, places).await?;
    papers::settle(building, &stock).await?;
    let mut nursery = nursery::Nursery::plan(building);
    while building.day < today {
        days::work(building, &mut stock, &mut nursery, today).await?;
        let Some(next) = building.day.succ_opt() else { break };
        building.day = next;
    }
    rota::absences(building, today).await?;
    building.day = today;
    lineage::remember(building, &stock).await?;
    papers::finish(building, &stock).await?;
    days::open_today(building, now).await?;
    texts::open_today(building).await?;
    buyers::settle(building).await?;
    outings::out_and_back(building, today).await?;
    orders::open_today(building).await?;
    practice::open_today(building).await
}
