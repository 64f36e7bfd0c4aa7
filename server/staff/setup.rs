//! The first owner's link, for the command line.

use super::store;
use super::store::links;
use crate::house::app::App;
use crate::house::audit::Change;
use crate::house::errors::AppError;
use crate::house::paths;

/// Makes the one-time link by which the first owner is set up. It works for a day; an older one stops working.
///
/// # Errors
/// Somebody can sign in as an owner already, or the database can't be written.
pub async fn make_link(app: &App) -> anyhow::Result<String> {
    made(app).await.map_err(|error| match error {
        AppError::Conflict(why) => anyhow::anyhow!(why),
        AppError::Internal(error) => error,
        other => anyhow::anyhow!("no link was made: {other:?}"),
    })
}

async fn made(app: &App) -> Result<String, AppError> {
    let mut write = app.write(None).await?;
    if store::has_owner(write.db()).await? {
        return Err(AppError::conflict("this house has an owner: they can invite others, and renew a lost pass phrase, on the Staff page"));
    }
    let link = links::make_setup(&mut write).await?;
    let change = Change::new("setup.link_made", format!("link {}", link.id), format!("works until {}", link.expires_at.to_rfc3339()));
    let path = paths::setup(&link.token);
    write.commit(change, paths::SIGN_IN).await?;
    Ok(format!("{}{path}", app.config.public_url))
}
