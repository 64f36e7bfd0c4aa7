//! The state that every handler shares.

use std::sync::atomic::AtomicBool;
use std::sync::{Arc, RwLock};

use anyhow::Context as _;
use chrono::{DateTime, NaiveDate, Utc};
use sqlx::Sqlite;
use sqlx::pool::PoolConnection;
use tokio::sync::Semaphore;

use super::clock::{Clock, local_date};
use super::config::Config;
use super::database::{Database, Durability};
use super::errors::AppError;
use super::secrets::LinkKey;
use super::site::Site;

/// The running house.
#[derive(Clone)]
pub struct App {
    /// The database.
    pub database: Database,
    /// The one clock.
    pub clock: Clock,
    /// How this process serves.
    pub config: Arc<Config>,
    /// The key of buyers' links.
    pub link_key: LinkKey,
    /// Whether the process is stopping: it then takes no new work.
    pub draining: Arc<AtomicBool>,
    /// How many pass phrases may be hashed at once: each takes 19 MiB.
    pub hashing: Arc<Semaphore>,
    site: Arc<RwLock<Arc<Site>>>,
}

impl App {
    /// Opens the data folder's database and reads the settings.
    ///
    /// # Errors
    /// The database or the link key can't be opened.
    pub async fn open(config: Config, clock: Clock, durability: Durability) -> anyhow::Result<Self> {
        std::fs::create_dir_all(&config.data).with_context(|| format!("cannot make the data folder {}", config.data.display()))?;
        let database = Database::open(&config.database_file(), durability).await?;
        let site = Site::read(&mut *database.reader.acquire().await?).await?;
        let link_key = LinkKey::open(&config.data)?;
        Ok(Self {
            database,
            clock,
            config: Arc::new(config),
            link_key,
            draining: Arc::default(),
            hashing: Arc::new(Semaphore::new(2)),
            site: Arc::new(RwLock::new(Arc::new(site))),
        })
    }

    /// The settings as they stand.
    #[must_use]
    pub fn site(&self) -> Arc<Site> {
        // A poisoned lock still holds whole settings: they are replaced in one step.
        self.site.read().unwrap_or_else(std::sync::PoisonError::into_inner).clone()
    }

    /// Reads the settings again after they were changed.
    ///
    /// # Errors
    /// The database can't be read.
    pub async fn refresh_site(&self) -> Result<(), AppError> {
        let site = Arc::new(Site::read(&mut *self.read().await?).await?);
        *self.site.write().unwrap_or_else(std::sync::PoisonError::into_inner) = site;
        Ok(())
    }

    /// A connection to read with.
    ///
    /// # Errors
    /// The database can't be read.
    pub async fn read(&self) -> Result<PoolConnection<Sqlite>, AppError> {
        Ok(self.database.reader.acquire().await?)
    }

    /// The current instant.
    #[must_use]
    pub fn now(&self) -> DateTime<Utc> {
        self.clock.now()
    }

    /// The local day at the site.
    #[must_use]
    pub fn today(&self) -> NaiveDate {
        local_date(self.site().zone, self.now())
    }
}
