//! Issues the receipt of a handover that has prices.

use super::sale_lines::sale_lines;
use super::terms::terms;
use super::{require_buyer, require_handover};
use crate::house::app::App;
use crate::house::errors::AppError;
use crate::house::forms::Mistakes;
use crate::house::ids::HandoverId;
use crate::house::site::Site;
use crate::house::write::Write;
use crate::papers;
use crate::papers::model::{About, Issued, NewPaper, PaperKind};
use crate::sales::model::{Sale, totals};
use crate::sales::receipt::{ReceiptFacts, render};

/// Issues the receipt when there are prices; nothing when there are none.
///
/// # Errors
/// Prices on some lines only; a total too large.
pub(super) async fn issue(write: &mut Write, app: &App, id: HandoverId) -> Result<Option<Issued>, AppError> {
    let lines = sale_lines(write.db(), Sale::Handover(id)).await?;
    if lines.iter().all(|line| line.unit_minor.is_none()) {
        return Ok(None);
    }
    let mut mistakes = Mistakes::none();
    for line in lines.iter().filter(|line| line.unit_minor.is_none()) {
        mistakes.add("price", format!("{} has no price, and others have. Enter one, 0 for what is given away.", line.words()));
    }
    if !mistakes.is_empty() {
        return Err(mistakes.into());
    }
    let terms = terms(write.db()).await?.ok_or_else(|| AppError::conflict("The house has no currency yet: an owner sets it first."))?;
    let totals = totals(&lines, &terms).map_err(|error| AppError::refused("price", crate::house::text::sentence(&error)))?;
    let totals = totals.ok_or(AppError::NotFound)?;
    let number = papers::store::next_number(write, PaperKind::Receipt).await?;
    let (handover, day) = (require_handover(write.db(), id).await?, write.today);
    let facts = ReceiptFacts {
        buyer: require_buyer(write.db(), handover.buyer_id).await?,
        site: Site::read(write.db()).await?,
        number: number.clone(),
        day,
        handover: id,
        order: handover.order_id,
        lines,
        terms,
        totals,
    };
    let (body, person) = render(&facts)?;
    let paper = NewPaper {
        kind: PaperKind::Receipt,
        number,
        about: About { handover: Some(id), buyer: Some(handover.buyer_id), ..About::default() },
        profile: None,
        language: "en".to_owned(),
        title: format!("Receipt for handover {id}"),
        body,
        person: Some(person),
        link: false,
    };
    papers::store::freeze(write, app, paper).await.map(Some)
}
