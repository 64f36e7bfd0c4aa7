//! Holds the whole book against what must always be true, for the command line.

use super::store::checks;
use crate::house::app::App;
use crate::house::audit;

/// What was found, and what an outside note of the book should keep.
#[derive(Debug, Clone)]
pub struct Report {
    /// One sentence for each thing that is wrong; empty when all holds.
    pub findings: Vec<String>,
    /// How many rows the audit trail has.
    pub audit_rows: i64,
    /// The seal of its newest row. A chain alone can't show that its newest rows were cut off: hold this against a copy kept elsewhere.
    pub audit_seal: String,
}

/// Looks at the file, its references, the audit trail, the count ledger, the book of prey, the tags and the issued papers.
///
/// # Errors
/// The database can't be read at all.
pub async fn run(app: &App) -> anyhow::Result<Report> {
    let mut db = app.database.reader.acquire().await?;
    let mut findings = checks::file(&mut db).await?;
    findings.extend(checks::references(&mut db).await?);
    if let Err(broken) = audit::verify(&mut db).await? {
        findings.push(broken);
    }
    findings.extend(checks::balances(&mut db).await?);
    findings.extend(checks::prey(&mut db).await?);
    findings.extend(checks::tags(&mut db).await?);
    findings.extend(checks::papers(&mut db).await?);
    let (audit_rows, audit_seal) = audit::head(&mut db).await?;
    Ok(Report { findings, audit_rows, audit_seal })
}
