//! The SQLite file: one writer connection, a pool of readers, and the settings that make a committed sign-off durable.

use std::fs::{self, File, TryLockError};
use std::io::{Read as _, Seek as _, Write as _};
use std::path::Path;
use std::time::Duration;

use anyhow::{Context as _, bail};
use sqlx::SqlitePool;
use sqlx::migrate::Migrator;
use sqlx::sqlite::{SqliteConnectOptions, SqliteJournalMode, SqlitePoolOptions, SqliteSynchronous};

/// The embedded migrations.
pub static MIGRATIONS: Migrator = sqlx::migrate!("./migrations");

/// Older libraries may corrupt a WAL database when a checkpoint resets it (sqlite.org/wal.html, "the WAL-reset bug").
const OLDEST_SQLITE: (u32, u32, u32) = (3, 51, 3);

/// Marks a file as ours (`PRAGMA application_id`): the letters "Silk".
const APPLICATION_ID: i64 = 0x5369_6c6b;

/// How hard a commit presses for the disk.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Durability {
    /// Every commit is on disk before it is answered.
    Full,
    /// For building throw-away data in one go, such as the demo's.
    Building,
}

/// The open database.
#[derive(Debug, Clone)]
pub struct Database {
    /// One connection: every write goes through it, one after another.
    pub writer: SqlitePool,
    /// Connections that can only read.
    pub reader: SqlitePool,
}

/// Holds the data folder for this process; another process is refused while it lives.
#[derive(Debug)]
pub struct FolderLock(#[expect(dead_code, reason = "held, not read: the lock ends when the file closes")] File);

impl FolderLock {
    /// Locks the folder, making it if need be.
    ///
    /// # Errors
    /// Another process holds it, or it can't be written.
    pub fn take(data: &Path) -> anyhow::Result<Self> {
        fs::create_dir_all(data).with_context(|| format!("cannot make the data folder {}", data.display()))?;
        let path = data.join("silkward.lock");
        let mut file = File::options()
            .read(true)
            .write(true)
            .create(true)
            .truncate(false)
            .open(&path)
            .with_context(|| format!("cannot write in the data folder {}: check who owns it", data.display()))?;
        match file.try_lock() {
            Ok(()) => {
                file.set_len(0)?;
                file.rewind()?;
                write!(file, "{}", std::process::id())?;
                Ok(Self(file))
            }
            Err(TryLockError::WouldBlock) => {
                let mut holder = String::new();
                file.read_to_string(&mut holder)?;
                bail!("the data folder {} is in use by process {holder}: stop that one first", data.display())
            }
            Err(TryLockError::Error(error)) => Err(error).context("cannot lock the data folder"),
        }
    }
}

impl Database {
    /// Opens the file, brings it up to date, and checks that every setting took.
    ///
    /// # Errors
    /// A file that is not ours or newer than this program, an SQLite library that is too old, or a disk that fails.
    pub async fn open(file: &Path, durability: Durability) -> anyhow::Result<Self> {
        let options = options(file, durability).create_if_missing(true);
        let writer = SqlitePoolOptions::new()
            .max_connections(1)
            .acquire_timeout(Duration::from_secs(20))
            .idle_timeout(None)
            .max_lifetime(None)
            .connect_with(options.clone())
            .await
            .with_context(|| format!("cannot open {}", file.display()))?;
        check_library(&writer).await?;
        claim(&writer, file).await?;
        MIGRATIONS
            .run(&writer)
            .await
            .with_context(|| format!("{} could not be brought up to date; is it from a newer Silkward?", file.display()))?;
        let reader = SqlitePoolOptions::new()
            .max_connections(6)
            .min_connections(1)
            .idle_timeout(None)
            .max_lifetime(None)
            .connect_with(options.create_if_missing(false).pragma("query_only", "ON"))
            .await?;
        let database = Self { writer, reader };
        database.check_settings(durability).await?;
        Ok(database)
    }

    /// Writes the log back into the main file and closes every connection.
    pub async fn close(&self) {
        self.reader.close().await;
        if let Err(error) = sqlx::query("PRAGMA wal_checkpoint(TRUNCATE)").execute(&self.writer).await {
            tracing::warn!(%error, "the log could not be written back; the next start will do it");
        }
        self.writer.close().await;
    }

    /// Writes the file anew from its rows, so that no free space of it holds what was erased, and empties the log.
    ///
    /// # Errors
    /// The disk fails, or the log is being read all the while: the caller tries again later.
    pub async fn wipe(&self) -> anyhow::Result<()> {
        sqlx::query("VACUUM").execute(&self.writer).await.context("the file could not be written anew")?;
        for _ in 0..20 {
            let busy: i64 = sqlx::query_scalar("PRAGMA wal_checkpoint(TRUNCATE)").fetch_one(&self.writer).await?;
            if busy == 0 {
                return Ok(());
            }
            tokio::time::sleep(Duration::from_millis(50)).await;
        }
        bail!("the log could not be emptied: it is being read")
    }

    /// Reads the settings back from a connection of each pool.
    async fn check_settings(&self, durability: Durability) -> anyhow::Result<()> {
        let wanted = if durability == Durability::Full { 2 } else { 0 };
        for pool in [&self.writer, &self.reader] {
            let journal: String = sqlx::query_scalar("PRAGMA journal_mode").fetch_one(pool).await?;
            let synchronous: i64 = sqlx::query_scalar("PRAGMA synchronous").fetch_one(pool).await?;
            let foreign_keys: i64 = sqlx::query_scalar("PRAGMA foreign_keys").fetch_one(pool).await?;
            let overwrites: i64 = sqlx::query_scalar("PRAGMA secure_delete").fetch_one(pool).await?;
            if journal != "wal" || synchronous != wanted || foreign_keys != 1 || overwrites != 1 {
                bail!(
                    "SQLite did not take its settings: journal {journal}, synchronous {synchronous}, foreign keys {foreign_keys}, secure delete {overwrites}"
                );
            }
        }
        Ok(())
    }
}

fn options(file: &Path, durability: Durability) -> SqliteConnectOptions {
    SqliteConnectOptions::new()
        .filename(file)
        .journal_mode(SqliteJournalMode::Wal)
        .synchronous(match durability {
            Durability::Full => SqliteSynchronous::Full,
            Durability::Building => SqliteSynchronous::Off,
        })
        .foreign_keys(true)
        .busy_timeout(Duration::from_secs(10))
        .pragma("trusted_schema", "OFF")
        .pragma("cell_size_check", "ON")
        // What is removed is overwritten: an erased person stays in no free page.
        .pragma("secure_delete", "ON")
        // So that replacing a row counts as removing it, for the triggers that keep rows.
        .pragma("recursive_triggers", "ON")
        .optimize_on_close(true, None)
}

async fn check_library(pool: &SqlitePool) -> anyhow::Result<()> {
    let version: String = sqlx::query_scalar("SELECT sqlite_version()").fetch_one(pool).await?;
    if !recent_enough(&version) {
        let (major, minor, patch) = OLDEST_SQLITE;
        bail!("SQLite {version} can corrupt its log: Silkward needs {major}.{minor}.{patch} or later");
    }
    Ok(())
}

/// Whether an SQLite version, such as `3.51.3`, has the repaired log.
#[must_use]
pub fn recent_enough(version: &str) -> bool {
    let mut parts = version.split('.').map(|part| part.parse::<u32>().unwrap_or(0));
    let mut next = || parts.next().unwrap_or(0);
    (next(), next(), next()) >= OLDEST_SQLITE
}

/// Refuses a file that some other program made.
async fn claim(pool: &SqlitePool, file: &Path) -> anyhow::Result<()> {
    let id: i64 = sqlx::query_scalar("PRAGMA application_id").fetch_one(pool).await?;
    let tables: i64 = sqlx::query_scalar("SELECT COUNT(*) FROM sqlite_schema").fetch_one(pool).await?;
    if id == 0 && tables == 0 {
        sqlx::query("PRAGMA application_id = 1399417963").execute(pool).await?;
    } else if id != APPLICATION_ID {
        bail!("{} is not a Silkward database", file.display());
    }
    Ok(())
}
