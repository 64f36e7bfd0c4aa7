//! Putting a backup back, and erasing again whoever was erased after it was made.

use std::path::{Path, PathBuf};

use crate::house::app::App;
use crate::house::backup;
use crate::house::clock::Clock;
use crate::house::config::Config;
use crate::house::database::Durability;
use crate::house::erased;
use crate::sales;

/// Puts a backup into a data folder that holds no house yet, and erases again everybody whom a journal names: the folder's own, the
/// backup's, and those given, such as that of the folder which the restored one replaces.
///
/// # Errors
/// What [`backup::restore`] refuses; a journal that is not there or can't be read; a database that can't be brought up to date.
pub async fn run(config: &Config, file: &Path, journals: &[PathBuf]) -> anyhow::Result<String> {
    let mut erasures = std::collections::BTreeSet::new();
    for journal in journals {
        if !journal.exists() {
            anyhow::bail!("there is no journal of erasures at {}", journal.display());
        }
        erasures.extend(erased::read(journal)?);
    }
    let said = backup::restore(config, file).await?;
    erased::join(&config.data, &erasures)?;
    let app = App::open(config.clone(), Clock::System, Durability::Full).await?;
    let again = sales::replay(&app).await?;
    sales::finish(&app).await?;
    app.database.close().await;
    if again.is_empty() {
        return Ok(said);
    }
    Ok(format!("{said}\n{} buyer(s) who were erased after this backup was made were erased again.", again.len()))
}
