//! The house's currency and tax.

use sqlx::SqliteConnection;

use crate::house::errors::AppError;
use crate::house::write::Write;
use crate::sales::model::{NewTerms, Terms};

/// The terms of trade; nothing while no owner has set them, and then there are no prices.
///
/// # Errors
/// The database can't be read.
pub async fn terms(db: &mut SqliteConnection) -> Result<Option<Terms>, AppError> {
    Ok(sqlx::query_as(
        "SELECT currency, decimals, tax_name, tax_percent, prices_include_tax, rounding, tax_number, reserve_days, version
         FROM trade_terms WHERE id = 1",
    )
    .fetch_optional(db)
    .await?)
}

/// Sets the terms of trade. `version` is the one that was read; 0 when there were none.
///
/// # Errors
/// A conflict when somebody else set them meanwhile; another currency while something open has a price.
pub async fn set_terms(write: &mut Write, version: i64, new: &NewTerms) -> Result<(), AppError> {
    let now = terms(write.db()).await?;
    if now.as_ref().map_or(0, |terms| terms.version) != version {
        return Err(AppError::conflict("Somebody changed these settings since you opened the page."));
    }
    if now.is_some_and(|terms| terms.currency != new.currency.code) {
        other_currency(write).await?;
    }
    let (who, at) = (write.who, write.at);
    sqlx::query(
        "INSERT INTO trade_terms (id, currency, decimals, tax_name, tax_percent, prices_include_tax, rounding, tax_number, reserve_days,
                                  changed_by, changed_at)
         VALUES (1, ?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)
         ON CONFLICT (id) DO UPDATE SET currency = ?1, decimals = ?2, tax_name = ?3, tax_percent = ?4, prices_include_tax = ?5,
             rounding = ?6, tax_number = ?7, reserve_days = ?8, changed_by = ?9, changed_at = ?10, version = version + 1",
    )
    .bind(&new.currency.code)
    .bind(new.currency.decimals)
    .bind(&new.tax_name)
    .bind(new.tax.written())
    .bind(new.prices_include_tax)
    .bind(new.rounding)
    .bind(&new.tax_number)
    .bind(new.reserve_days)
    .bind(who)
    .bind(at)
    .execute(write.db())
    .await?;
    Ok(())
}

/// Prices on open orders and handovers are figures of the old currency.
async fn other_currency(write: &mut Write) -> Result<(), AppError> {
    let open: i64 = sqlx::query_scalar(
        "SELECT COUNT(*) FROM sale_line AS line
         LEFT JOIN sale_order ON sale_order.id = line.order_id LEFT JOIN handover ON handover.id = line.handover_id
         WHERE line.unit_minor IS NOT NULL AND COALESCE(handover.state, 'draft') = 'draft' AND COALESCE(sale_order.state, 'open') = 'open'",
    )
    .fetch_one(write.db())
    .await?;
    if open == 0 {
        return Ok(());
    }
    Err(AppError::refused(
        "currency",
        format!("{open} lines of open orders and handovers have prices in the present currency. Finish or cancel those first."),
    ))
}
