//! A checked copy of the house in one file, and its way back. Beside the copy stand its checksum, the link key and the journal
//! of erasures.

use std::fs::{self, File};
use std::path::{Path, PathBuf};

use anyhow::{Context as _, bail};
use sqlx::sqlite::{SqliteConnectOptions, SqlitePoolOptions};

use super::audit;
use super::config::Config;
use super::database::{Database, Durability, FolderLock};
use super::erased;
use super::secrets::sha256_hex;

fn beside(file: &Path, ending: &str) -> PathBuf {
    let mut name = file.as_os_str().to_owned();
    name.push(ending);
    PathBuf::from(name)
}

/// Copies the database in one consistent state, also while it is served, and checks the copy.
///
/// # Errors
/// A file that is there already, a database that can't be read, a disk that fails, or a copy that does not hold.
pub async fn write(config: &Config, file: &Path) -> anyhow::Result<String> {
    if file.exists() {
        bail!("{} is there already: choose another name, so that no backup is lost", file.display());
    }
    if !config.database_file().exists() {
        bail!("there is no house in {}", config.data.display());
    }
    let database = Database::open(&config.database_file(), Durability::Full).await?;
    let target = file.to_str().context("the file's name must be plain text")?;
    sqlx::query("VACUUM INTO ?").bind(target).execute(&database.writer).await.context("the copy could not be written")?;
    database.close().await;
    File::open(file)?.sync_all()?;
    let (rows, seal) = check(file).await?;
    let sum = sha256_hex(&fs::read(file)?);
    fs::write(beside(file, ".sha256"), format!("{sum}\n"))?;
    fs::copy(config.data.join("link.key"), beside(file, ".link-key")).context("the link key could not be copied")?;
    let journal = erased::file(&config.data);
    if journal.exists() {
        fs::copy(journal, erased::beside_backup(file)).context("the journal of erasures could not be copied")?;
    }
    Ok(format!("{} holds the house. SHA-256 {sum}; {rows} audit rows, newest seal {seal}", file.display()))
}

/// Puts a backup into a data folder that holds no house yet. The backup's journal of erasures joins the folder's before the
/// house arrives, so that whoever opens the folder erases those persons again.
///
/// # Errors
/// A folder in use, a checksum that does not match, a copy that does not hold: nothing is written then.
pub async fn restore(config: &Config, file: &Path) -> anyhow::Result<String> {
    let target = config.database_file();
    if target.exists() {
        bail!("{} holds a house already: restore into an empty folder, then swap the folders", config.data.display());
    }
    let written = fs::read_to_string(beside(file, ".sha256")).with_context(|| format!("the checksum of {} is missing", file.display()))?;
    let sum = sha256_hex(&fs::read(file).with_context(|| format!("cannot read {}", file.display()))?);
    if written.trim() != sum {
        bail!("{} does not match its checksum: it was damaged or changed", file.display());
    }
    let (rows, seal) = check(file).await?;
    let _lock = FolderLock::take(&config.data)?;
    let arriving = config.data.join("arriving.sqlite");
    fs::copy(file, &arriving)?;
    File::open(&arriving)?.sync_all()?;
    fs::copy(beside(file, ".link-key"), config.data.join("link.key")).context("the link key could not be copied")?;
    erased::join(&config.data, &erased::read(&erased::beside_backup(file))?)?;
    fs::rename(&arriving, &target)?;
    File::open(&config.data)?.sync_all()?;
    Ok(format!("The house is in {}: {rows} audit rows, newest seal {seal}", config.data.display()))
}

/// Opens a copy for reading and checks its structure, its references and its audit chain.
async fn check(file: &Path) -> anyhow::Result<(i64, String)> {
    let options = SqliteConnectOptions::new().filename(file).read_only(true).immutable(true);
    let pool = SqlitePoolOptions::new().max_connections(1).connect_with(options).await?;
    let sound: String = sqlx::query_scalar("PRAGMA integrity_check").fetch_one(&pool).await?;
    let dangling = sqlx::query("PRAGMA foreign_key_check").fetch_all(&pool).await?.len();
    if sound != "ok" || dangling > 0 {
        bail!("{} is damaged: {sound}, {dangling} dangling references", file.display());
    }
    let mut db = pool.acquire().await?;
    if let Err(finding) = audit::verify(&mut db).await? {
        bail!("{}: {finding}", file.display());
    }
    let head = audit::head(&mut db).await?;
    drop(db);
    pool.close().await;
    Ok(head)
}
